//! TeX of every derivation of the shipped and the published designs, read by a small reader that takes nothing for granted: braces, pairs of
//! `\left` and `\right`, environments, two arguments of each fraction, one exponent and one index a symbol, macros that amsmath has.

use std::path::Path;

use workbench::{Workbench, page};

/// A reader of what the derivations print.
struct Reader<'t> {
    text: &'t str,
    at: usize,
}

type Read<T> = Result<T, String>;

impl<'t> Reader<'t> {
    fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }

    fn fault<T>(&self, what: &str) -> Read<T> {
        let from = self.text[..self.at].char_indices().rev().nth(40).map_or(0, |c| c.0);
        Err(format!("{what} behind `{}`", &self.text[from..self.at]))
    }

    fn eat(&mut self, what: &str) -> bool {
        let there = self.rest().starts_with(what);
        self.at += if there { what.len() } else { 0 };
        there
    }

    fn want(&mut self, what: &str) -> Read<()> {
        if self.eat(what) { Ok(()) } else { self.fault(&format!("`{what}` is missing")) }
    }

    /// A macro's name without its backslash, which has been read.
    fn word(&mut self) -> &'t str {
        let rest = self.rest();
        let letters = rest.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(rest.len());
        // A macro of one sign.
        let end = if letters == 0 { rest.chars().next().map_or(0, char::len_utf8) } else { letters };
        self.at += end;
        &rest[..end]
    }

    /// Text up to the end, or to the brace that closes it. Returns whether there was any.
    fn prose(&mut self, inner: bool) -> Read<bool> {
        let mut any = false;
        while let Some(c) = self.rest().chars().next() {
            match c {
                '}' if inner => return Ok(any),
                '\\' => {
                    self.at += 1;
                    match self.word() {
                        "section" | "subsection" if !inner => {
                            self.want("*{")?;
                            if !self.prose(true)? {
                                return self.fault("a heading is empty");
                            }
                            self.want("}")?;
                        }
                        // What stands in the notation, in letters of one width.
                        "texttt" => {
                            self.want("{")?;
                            if !self.prose(true)? {
                                return self.fault("letters of one width are missing");
                            }
                            self.want("}")?;
                        }
                        "begin" if !inner => self.environment()?,
                        "_" | "%" | "#" | "&" | "$" | "{" | "}" => {}
                        "textbackslash" | "textasciitilde" | "textasciicircum" | "dots" => self.want("{}")?,
                        other => return self.fault(&format!("`\\{other}` is no macro of a text")),
                    }
                }
                '$' => {
                    self.at += 1;
                    if !self.math(&["$"])? {
                        return self.fault("a formula is empty");
                    }
                    self.want("$")?;
                }
                '_' | '^' | '&' | '#' | '%' | '~' | '{' | '}' => return self.fault(&format!("a bare `{c}` in a text")),
                // Curled quotes and dashes would need an input encoding.
                c if !c.is_ascii() && !matches!(c, 'ä' | 'ö' | 'ü') => {
                    return self.fault(&format!("`{c}` is not ASCII"));
                }
                c => self.at += c.len_utf8(),
            }
            any = true;
        }
        if inner { self.fault("a brace is not closed") } else { Ok(any) }
    }

    fn environment(&mut self) -> Read<()> {
        if self.eat("{verbatim}") {
            let Some(end) = self.rest().find("\\end{verbatim}") else { return self.fault("`verbatim` has no end") };
            self.at += end + "\\end{verbatim}".len();
            return Ok(());
        }
        self.want("{align*}")?;
        loop {
            // The left side, and one right side a line.
            self.math(&["&", "\\end"])?;
            if !self.eat("&") {
                break;
            }
            self.want("=")?;
            if !self.math(&["\\\\", "\\end"])? {
                return self.fault("a side is empty");
            }
            if !self.eat("\\\\") {
                break;
            }
        }
        self.want("\\end{align*}")
    }

    /// A formula up to one of some ends, which is left. Returns whether there was any.
    fn math(&mut self, ends: &[&str]) -> Read<bool> {
        // What a base has already: an exponent, an index.
        // An empty base takes a script where a formula begins: a degree sign behind a text.
        let (mut any, mut base, mut scripts) = (false, false, [false; 2]);
        loop {
            let rest = self.rest();
            if ends.iter().any(|e| rest.starts_with(e)) {
                return Ok(any);
            }
            let Some(c) = rest.chars().next() else { return self.fault("a formula has no end") };
            self.at += c.len_utf8();
            match c {
                ' ' | '\n' => continue,
                '^' | '_' => {
                    let which = usize::from(c == '_');
                    if (any && !base && !scripts.contains(&true)) || scripts[which] {
                        return self.fault(&format!("`{c}` without a base, or twice"));
                    }
                    scripts[which] = true;
                    any = true;
                    self.group()?;
                    continue;
                }
                '\\' => match self.word() {
                    "frac" => {
                        self.group()?;
                        self.group()?;
                    }
                    // Upright letters are still a formula's, an escaped sign among them.
                    "sqrt" | "mathrm" => self.group()?,
                    "_" | "%" | "#" | "&" => {}
                    "text" => {
                        self.want("{")?;
                        // A name: what is escaped in a text is escaped in it.
                        if !self.name()? {
                            return self.fault("a name is empty");
                        }
                    }
                    "left" => {
                        self.want("(")?;
                        if !self.math(&["\\right"])? {
                            return self.fault("a bracket is empty");
                        }
                        self.want("\\right)")?;
                    }
                    "pi" | "Pi" | "Omega" | "mu" | "infty" | "circ" => {}
                    "parallel" | "cdot" | "times" | "pm" | "approx" | "rightarrow" | "surd" | "," => {}
                    other => return self.fault(&format!("`\\{other}` is no macro of a formula")),
                },
                c if c.is_ascii_alphanumeric() || "+-=/().,':|".contains(c) => {}
                c => return self.fault(&format!("`{c}` in a formula")),
            }
            (any, base, scripts) = (true, true, [false; 2]);
        }
    }

    fn group(&mut self) -> Read<()> {
        self.want("{")?;
        if !self.math(&["}"])? {
            return self.fault("a group is empty");
        }
        self.want("}")
    }

    fn name(&mut self) -> Read<bool> {
        let any = self.prose(true)?;
        self.want("}")?;
        Ok(any)
    }
}

fn read(tex: &str) -> Read<()> {
    Reader { text: tex, at: 0 }.prose(false).map(drop)
}

#[test]
fn every_derivation_is_well_formed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let (mut count, mut failures) = (0, Vec::new());
    for folder in ["examples", "tests/outside"] {
        let mut files: Vec<_> =
            std::fs::read_dir(root.join(folder)).expect("it is there").flatten().map(|f| f.path()).collect();
        files.sort();
        for file in files.iter().filter(|f| f.extension().is_some_and(|e| e == "stage")) {
            let mut bench = Workbench::new();
            bench.set_text("a", std::fs::read_to_string(file).expect("UTF-8"));
            let snapshot = bench.snapshot();
            for (i, stage) in snapshot.stages("a").iter().enumerate() {
                let Some(derivation) = snapshot.derivation("a", i) else { continue };
                count += 1;
                if let Err(why) = read(&page::tex(&derivation.page)) {
                    failures.push(format!("{}, {stage}: {why}", file.display()));
                }
            }
        }
    }
    assert!(count > 60, "{count} derivations were read");
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

/// Names with what TeX takes for its own, a copy's parts, and a control.
#[test]
fn names_are_escaped() {
    let text = "design\n  supply v_p +12 V, v_n -12 V\nstage a_1: in_x -> out_y\n  in_x -- VR1a 10k lin -- s_1\n  U1a ideal: + gnd, - s_1, out out_y\n  s_1 -- R2 10k || C1 1u -- out_y\n  out_y -- R7 1k -- q\n  q -- R8 1k -- gnd\n  VR1b 10k lin: cw q, wiper w_w, ccw gnd\nuse a_1 as left: out_y -> far\nstage tail: far, w_w -> end\n  far -- R9 1k -- end\n  w_w -- R10 1k -- end\n";
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    let snapshot = bench.snapshot();
    for i in 0..snapshot.stages("a").len() {
        let page = &snapshot.derivation("a", i).expect("derived").page;
        read(&page::tex(page)).unwrap_or_else(|why| panic!("{why}\n{}", page::tex(page)));
    }
}

#[test]
fn the_reader_takes_nothing_for_granted() {
    for good in [
        "a $V_{\\mathrm{in}} = \\frac{1}{2}$.",
        "\\begin{align*}\n  a &= b \\\\\n  &= \\left(c\\right)^{2}\n\\end{align*}\n",
    ] {
        assert_eq!(read(good), Ok(()), "{good}");
    }
    let bad = [
        "$\\frac{1}$",
        "$a^{2}^{3}$",
        "$\\left(a$",
        "a_1",
        "$\\fraction{1}{2}$",
        "$a",
        "\\begin{align*} a &= \\end{align*}",
        "$Ω$",
        "50 %",
        "${a$",
        "$\\sqrt{}$",
    ];
    for bad in bad {
        assert!(read(bad).is_err(), "{bad}");
    }
}
