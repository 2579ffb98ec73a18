//! Pages in text, Markdown and TeX.

pub use crate::document::Page;
use crate::document::{Figures, Line};
use crate::expr::Expr;
use crate::print::{Manner, equation, escaped, expr, plain, sentence};

/// A line as plain text: an equation is indented.
pub fn line(line: &Line) -> String {
    match line {
        Line::Prose(pieces) => sentence(pieces, Manner::Text),
        Line::Equation(sides) => format!("  {}", equation(sides, Manner::Text)),
        Line::Figures(figures) => format!("  {}", figures_text(figures)),
        Line::Notation(text) => format!("  {text}"),
    }
}

/// A page as plain text.
pub fn text(page: &Page) -> String {
    let mut out = format!("{}\n", page.title);
    for section in &page.sections {
        out.push_str(&format!("\n{}\n", section.head));
        for one in &section.lines {
            out.push_str(&format!("  {}\n", line(one)));
        }
    }
    out
}

fn figures_text(figures: &Figures) -> String {
    let mut sides = vec![plain(&figures.what, Manner::Text)];
    sides.extend(figures.symbols.as_ref().map(|e| plain(e, Manner::Text)));
    sides.extend(figures.put_in.as_ref().map(|(e, values)| expr(e, Manner::Text, &|name| value(values, name))));
    sides.push(figures.result.clone());
    let at = if figures.at.is_empty() { String::new() } else { format!("{}: ", figures.at) };
    format!("{at}{}", sides.join(" = "))
}

fn value(values: &[(String, String)], name: &str) -> Option<String> {
    values.iter().find(|v| v.0 == name).map(|v| v.1.clone())
}

/// A page in Markdown: sentences as such, equations as code, since not every reader sets formulas.
pub fn markdown(page: &Page) -> String {
    let mut out = format!("## {}\n", page.title);
    for section in &page.sections {
        out.push_str(&format!("\n### {}\n", section.head));
        let mut inside = false;
        for one in &section.lines {
            let prose = matches!(one, Line::Prose(_));
            match (prose, inside) {
                (false, false) => out.push_str("\n```text\n"),
                (true, true) => out.push_str("```\n\n"),
                (true, false) => out.push('\n'),
                (false, true) => {}
            }
            inside = !prose;
            out.push_str(line(one).trim_start());
            out.push('\n');
        }
        if inside {
            out.push_str("```\n");
        }
    }
    out
}

/// A page in TeX, a piece of a document that uses the package amsmath.
pub fn tex(page: &Page) -> String {
    let mut out = format!("\\section*{{{}}}\n", escaped(&page.title));
    for section in &page.sections {
        out.push_str(&format!("\n\\subsection*{{{}}}\n", escaped(&section.head)));
        for one in &section.lines {
            match one {
                Line::Prose(pieces) => out.push_str(&format!("\n{}\n", sentence(pieces, Manner::Tex))),
                Line::Equation(sides) => out.push_str(&aligned(&sides.iter().map(side).collect::<Vec<_>>())),
                Line::Figures(figures) => {
                    if !figures.at.is_empty() {
                        out.push_str(&format!("\n{}:\n", escaped(&figures.at)));
                    }
                    let mut sides = vec![side(&figures.what)];
                    sides.extend(figures.symbols.as_ref().map(side));
                    sides.extend(figures.put_in.as_ref().map(|(e, values)| {
                        let amount = |name: &str| value(values, name).map(|v| amount(&v));
                        expr(e, Manner::Tex, &amount)
                    }));
                    sides.push(format!("\\text{{{}}}", escaped(&figures.result)));
                    out.push_str(&aligned(&sides));
                }
                Line::Notation(text) => out.push_str(&format!("\n\\begin{{verbatim}}\n{text}\n\\end{{verbatim}}\n")),
            }
        }
    }
    out
}

/// The whole document around pieces.
pub fn tex_document(pages: &[Page]) -> String {
    let body: Vec<String> = pages.iter().map(tex).collect();
    format!(
        "\\documentclass{{article}}\n\\usepackage[a4paper,margin=2cm]{{geometry}}\n\\usepackage{{amsmath}}\n\\begin{{document}}\n\n{}\n\\end{{document}}\n",
        body.join("\n")
    )
}

fn side(e: &Expr) -> String {
    plain(e, Manner::Tex)
}

/// The sides of an equation below each other.
fn aligned(sides: &[String]) -> String {
    let first = sides.first().cloned().unwrap_or_default();
    let rest = sides[1.min(sides.len())..].iter().map(|s| format!("&= {s}")).collect::<Vec<_>>().join(" \\\\\n  ");
    format!("\\begin{{align*}}\n  {first} {rest}\n\\end{{align*}}\n")
}

/// A figure with its unit.
fn amount(text: &str) -> String {
    match text.split_once(' ') {
        Some((figure, unit)) => {
            format!("{figure}\\,\\mathrm{{{}}}", unit.replace('Ω', "\\Omega ").replace('µ', "\\mu "))
        }
        None => text.to_string(),
    }
}
