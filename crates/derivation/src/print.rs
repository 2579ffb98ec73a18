//! Expressions and lines in text, in Markdown, in TeX, and in the notation's own syntax.

use crate::document::Piece;
use crate::expr::Expr;

/// How it is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// Plain text with the trade's signs: `1/(1 + s·R5·C4)`.
    Text,
    /// As an expression of the notation: `1 / (1 + s * R5 * C4)`.
    Notation,
    /// TeX, to stand between dollars.
    Tex,
}

/// How tightly an expression holds together.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Hold {
    Parallel,
    Sum,
    Quotient,
    Product,
    Atom,
}

/// An expression; `name` gives what stands for a part, where something else does: its value with its unit.
pub fn expr(e: &Expr, manner: Manner, name: &dyn Fn(&str) -> Option<String>) -> String {
    Writer { manner, name }.expr(e).0
}

/// An expression with the parts' own names.
pub fn plain(e: &Expr, manner: Manner) -> String {
    expr(e, manner, &|_| None)
}

struct Writer<'a> {
    manner: Manner,
    name: &'a dyn Fn(&str) -> Option<String>,
}

impl Writer<'_> {
    fn expr(&self, e: &Expr) -> (String, Hold) {
        let tex = self.manner == Manner::Tex;
        let minus = if self.manner == Manner::Text { "−" } else { "-" };
        match e {
            Expr::Integer(n) if *n < 0 => (format!("{minus}{}", n.unsigned_abs()), Hold::Sum),
            Expr::Integer(n) => (n.to_string(), Hold::Atom),
            Expr::Part(part) => match (self.name)(part) {
                Some(value) => (value, Hold::Atom),
                None if tex => (tex_name(part), Hold::Atom),
                None => (part.clone(), Hold::Atom),
            },
            Expr::Voltage(node) if tex => (format!("V_{{\\mathrm{{{}}}}}", escaped(node)), Hold::Atom),
            Expr::Voltage(node) => (format!("V({node})"), Hold::Atom),
            Expr::Current(node) if tex => (format!("I_{{\\mathrm{{{}}}}}", escaped(node)), Hold::Atom),
            Expr::Current(node) => (format!("I({node})"), Hold::Atom),
            Expr::Symbol("π") => (
                if tex {
                    "\\pi"
                } else if self.manner == Manner::Notation {
                    "pi"
                } else {
                    "π"
                }
                .into(),
                Hold::Atom,
            ),
            Expr::Symbol(name) if tex && name.len() > 1 => {
                (format!("{}_{{{}}}", &name[..1], name[1..].replace('∞', "\\infty")), Hold::Atom)
            }
            Expr::Symbol(name) => ((*name).into(), Hold::Atom),
            Expr::S => ("s".into(), Hold::Atom),
            Expr::Sum(terms) => {
                let mut out = String::new();
                for (k, (negative, term)) in terms.iter().enumerate() {
                    // Behind a minus a sum needs its bracket; so does a negative term behind a sign.
                    let text =
                        if *negative || k > 0 { self.held(term, Hold::Quotient) } else { self.held(term, Hold::Sum) };
                    match (k, negative) {
                        (0, true) => out.push_str(minus),
                        (0, false) => {}
                        (_, true) => out.push_str(&format!(" {minus} ")),
                        (_, false) => out.push_str(" + "),
                    }
                    out.push_str(&text);
                }
                (out, Hold::Sum)
            }
            Expr::Product(all) => {
                let joint = match self.manner {
                    Manner::Text => "·",
                    Manner::Notation => "*",
                    Manner::Tex => " ",
                };
                // The last factor needs no bracket on paper: `(R5/R4)·1/(1 + s·R5·C4)`.
                let last = all.len() - 1;
                let loose = |k: usize, f: &Expr| {
                    k == last
                        && self.manner == Manner::Text
                        && matches!(f, Expr::Quotient(one, _) if **one == Expr::ONE)
                };
                let hold = if loose(last, &all[last]) { Hold::Quotient } else { Hold::Product };
                let least = |k: usize, f: &Expr| if loose(k, f) { Hold::Quotient } else { Hold::Atom };
                let factors: Vec<String> = all.iter().enumerate().map(|(k, f)| self.held(f, least(k, f))).collect();
                // Side by side symbols are a product; a figure behind anything, or anything with a unit in front, is not.
                let figures = self.manner == Manner::Tex
                    && (all.iter().any(|f| self.has_value(f))
                        || factors[1..].iter().any(|f| f.starts_with(|c: char| c.is_ascii_digit())));
                (factors.join(if figures { " \\cdot " } else { joint }), hold)
            }
            Expr::Quotient(a, b) if tex => (format!("\\frac{{{}}}{{{}}}", self.expr(a).0, self.expr(b).0), Hold::Atom),
            Expr::Quotient(a, b) => {
                let (above, below) = (self.held(a, Hold::Product), self.held(b, Hold::Atom));
                // Behind a line drawn flat a product is one thing only in brackets.
                let joint = if self.manner == Manner::Notation { " / " } else { "/" };
                (format!("{above}{joint}{below}"), Hold::Quotient)
            }
            Expr::Power(a, n) => {
                let base = self.held(a, Hold::Atom);
                let text = match self.manner {
                    Manner::Text => format!("{base}{}", raised(*n)),
                    Manner::Notation => format!("{base}^{n}"),
                    Manner::Tex => format!("{base}^{{{n}}}"),
                };
                (text, Hold::Atom)
            }
            Expr::Root(a) => {
                let inner = self.expr(a).0;
                let text = match self.manner {
                    Manner::Text => format!("√({inner})"),
                    Manner::Notation => format!("sqrt({inner})"),
                    Manner::Tex => format!("\\sqrt{{{inner}}}"),
                };
                (text, Hold::Atom)
            }
            Expr::Parallel(all) => {
                let least = if self.manner == Manner::Notation { Hold::Product } else { Hold::Quotient };
                let each: Vec<String> = all.iter().map(|e| self.held(e, least)).collect();
                (each.join(if tex { " \\parallel " } else { " || " }), Hold::Parallel)
            }
        }
    }

    /// Whether a value stands in it for a part.
    fn has_value(&self, e: &Expr) -> bool {
        let mut found = false;
        e.walk(&mut |e| found |= matches!(e, Expr::Part(part) if (self.name)(part).is_some()));
        found
    }

    /// With brackets, where it holds together less than that.
    fn held(&self, e: &Expr, least: Hold) -> String {
        let (text, hold) = self.expr(e);
        match (hold >= least, self.manner) {
            (true, _) => text,
            (false, Manner::Tex) => format!("\\left({text}\\right)"),
            (false, _) => format!("({text})"),
        }
    }
}

fn raised(n: u32) -> String {
    n.to_string().chars().filter_map(|c| "⁰¹²³⁴⁵⁶⁷⁸⁹".chars().nth(c.to_digit(10)? as usize)).collect()
}

/// `R_{12}`, `\mathrm{VR}_{1a}`, `R_{\mathrm{low.}1}`.
fn tex_name(part: &str) -> String {
    if let Some((side, control)) = part.strip_suffix(')').and_then(|p| p.split_once('(')) {
        return format!("{}^{{\\mathrm{{{side}}}}}", tex_name(control));
    }
    let (front, own) = part.rsplit_once('.').map_or((None, part), |(front, own)| (Some(front), own));
    let at = own.find(|c: char| c.is_ascii_digit()).unwrap_or(own.len());
    let (class, number) = own.split_at(at);
    let class = if class.chars().count() > 1 { format!("\\mathrm{{{class}}}") } else { class.to_string() };
    match front {
        Some(front) => format!("{class}_{{\\mathrm{{{}.{number}}}}}", escaped(front)),
        None => format!("{class}_{{{number}}}"),
    }
}

/// A text in TeX.
pub fn escaped(text: &str) -> String {
    let mut out = String::new();
    let mut quoted = false;
    for c in text.chars() {
        match c {
            // What stands between backticks is text of a file.
            '`' => {
                quoted = !quoted;
                out.push_str(if quoted { "\\texttt{" } else { "}" });
            }
            '_' | '%' | '#' | '&' | '$' | '{' | '}' => out.extend(['\\', c]),
            '\\' => out.push_str("\\textbackslash{}"),
            '~' => out.push_str("\\textasciitilde{}"),
            '^' => out.push_str("\\textasciicircum{}"),
            '−' => out.push_str("$-$"),
            '±' => out.push_str("$\\pm$"),
            '×' => out.push_str("$\\times$"),
            '≈' => out.push_str("$\\approx$"),
            '→' => out.push_str("$\\rightarrow$"),
            '·' => out.push_str("$\\cdot$"),
            'Ω' => out.push_str("$\\Omega$"),
            'π' => out.push_str("$\\pi$"),
            'Π' => out.push_str("$\\Pi$"),
            '½' => out.push_str("$1/2$"),
            '∞' => out.push_str("$\\infty$"),
            'µ' => out.push_str("$\\mu$"),
            '√' => out.push_str("$\\surd$"),
            '°' => out.push_str("$^{\\circ}$"),
            '²' => out.push_str("$^{2}$"),
            '…' => out.push_str("\\dots{}"),
            c => out.push(c),
        }
    }
    if quoted {
        out.push('}');
    }
    out
}

/// A sentence; in TeX with its symbols between dollars.
pub fn sentence(pieces: &[Piece], manner: Manner) -> String {
    let each = pieces.iter().map(|piece| match (piece, manner) {
        (Piece::Text(text), Manner::Tex) => escaped(text),
        (Piece::Text(text), _) => text.clone(),
        (Piece::Math(e), Manner::Tex) => format!("${}$", plain(e, manner)),
        (Piece::Math(e), _) => plain(e, manner),
    });
    each.collect()
}

/// The sides of an equation, without what a manner puts around it.
pub fn equation(sides: &[Expr], manner: Manner) -> String {
    sides.iter().map(|e| plain(e, manner)).collect::<Vec<_>>().join(" = ")
}
