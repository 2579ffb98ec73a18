//! The text of a sheet, element by element.

use std::fmt::Write;

use super::colour::{Colours, Role};
use crate::data::Dash;

/// Which end of a text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// A sheet that is being written.
pub(crate) struct Paper {
    pub body: String,
    pub colours: Colours,
}

/// A number of a place: to a tenth of a pixel, without noise.
pub(crate) fn place(x: f64) -> String {
    let text = format!("{:.1}", x + 0.0);
    let text = text.strip_suffix(".0").unwrap_or(&text);
    if text == "-0" { "0".into() } else { text.into() }
}

/// A text in XML; what XML has no place for falls out.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // XML 1.0 (W3C, fifth edition), production 2.
            '\u{0}'..='\u{8}' | '\u{b}' | '\u{c}' | '\u{e}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => {}
            c => out.push(c),
        }
    }
    out
}

/// The numbers of a path.
pub(crate) fn path(points: &[(f64, f64)]) -> String {
    let mut out = String::new();
    let mut last = None;
    for (i, (x, y)) in points.iter().enumerate() {
        let here = (place(*x), place(*y));
        if last.as_ref() != Some(&here) {
            let _ = write!(out, "{}{} {}", if i == 0 { "M" } else { "L" }, here.0, here.1);
            last = Some(here);
        }
    }
    out
}

impl Paper {
    pub fn new(colours: Colours) -> Paper {
        Paper { body: String::new(), colours }
    }

    /// Opens a group of elements.
    pub fn open(&mut self, class: &str) {
        let _ = writeln!(self.body, "<g class=\"{class}\">");
    }

    pub fn close(&mut self) {
        self.body.push_str("</g>\n");
    }

    /// A broken line, or several in one element.
    pub fn line(&mut self, paths: &str, role: Role, width: f64, dash: Dash) {
        let dash = match dash {
            Dash::Solid => "",
            Dash::Dashed => " stroke-dasharray=\"7 4\"",
            Dash::Dotted => " stroke-dasharray=\"1.5 3\"",
        };
        let colour = self.colours.of(role);
        let _ = writeln!(
            self.body,
            "<path d=\"{paths}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\" stroke-linejoin=\"round\"{dash}/>",
            place(width)
        );
    }

    /// A filled shape.
    pub fn fill(&mut self, path: &str, role: Role, opacity: f64) {
        let colour = self.colours.of(role);
        let _ = writeln!(self.body, "<path d=\"{path}Z\" fill=\"{colour}\" fill-opacity=\"{opacity}\"/>");
    }

    /// A dot.
    pub fn dot(&mut self, (x, y): (f64, f64), radius: f64, role: Role) {
        let (colour, paper) = (self.colours.of(role), self.colours.of(Role::Paper));
        let _ = writeln!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{colour}\" stroke=\"{paper}\" stroke-width=\"1\"/>",
            place(x),
            place(y),
            place(radius)
        );
    }

    /// A text on its base line; lines under it keep away from its letters.
    pub fn text(&mut self, (x, y): (f64, f64), text: &str, size: f64, anchor: Anchor, bold: bool) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = if bold { " font-weight=\"600\"" } else { "" };
        let (ink, paper) = (self.colours.of(Role::Ink), self.colours.of(Role::Paper));
        let _ = writeln!(
            self.body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{anchor}{weight} fill=\"{ink}\" stroke=\"{paper}\" stroke-width=\"3\" \
             stroke-linejoin=\"round\" paint-order=\"stroke\">{}</text>",
            place(x),
            place(y),
            place(size),
            escape(text)
        );
    }
}
