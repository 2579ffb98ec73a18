//! A sheet as an SVG picture: no scripts, no fonts from outside, coordinates as they are.

use std::fmt::Write;

use crate::geometry::Point;
use crate::model::Circuit;
use crate::sheet::Sheet;
use crate::symbol::{Anchor, Label, Shape, Stands, Symbol, width};

/// How the picture looks on light ground and in print.
const STYLE: &str = "
.circuit text { font-family: 'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif; font-size: 11px; }
.circuit .sheet, .circuit .body { fill: #ffffff; }
.circuit .frame { fill: none; stroke: #b4b9c0; stroke-width: 1; stroke-dasharray: 6 4; }
.circuit .wire, .circuit .lead { fill: none; stroke: #1b1b1b; stroke-width: 1.4; stroke-linecap: round; stroke-linejoin: round; }
.circuit .line { fill: none; stroke: #1b1b1b; stroke-width: 1.5; stroke-linecap: round; stroke-linejoin: round; }
.circuit .body { stroke: #1b1b1b; stroke-width: 1.5; stroke-linejoin: round; }
.circuit .dot, .circuit .solid, .circuit .title, .circuit .name { fill: #1b1b1b; }
.circuit .external .line, .circuit .external .body { stroke: #5f656d; stroke-dasharray: 3.5 2.5; }
.circuit .unfitted .line, .circuit .unfitted .body { stroke: #5f656d; }
.circuit .value { fill: #333333; font-weight: normal; }
.circuit .node { fill: #1f4e8c; }
.circuit .stage, .circuit .note, .circuit .mark { fill: #5f656d; }
.circuit .name, .circuit .stage, .circuit .title { font-weight: bold; }
.circuit .stage { font-size: 12px; }
.circuit .title { font-size: 15px; }
";

/// What is otherwise on a dark screen.
const DARK: &str = "@media screen and (prefers-color-scheme: dark) {
.circuit .sheet, .circuit .body { fill: #17191c; }
.circuit .frame { stroke: #565b63; }
.circuit .wire, .circuit .lead, .circuit .line, .circuit .body { stroke: #e8e8e6; }
.circuit .dot, .circuit .solid, .circuit .title, .circuit .name { fill: #e8e8e6; }
.circuit .external .line, .circuit .external .body, .circuit .unfitted .line, .circuit .unfitted .body { stroke: #a6acb4; }
.circuit .value { fill: #c9c9c6; }
.circuit .node { fill: #9cc3f5; }
.circuit .stage, .circuit .note, .circuit .mark { fill: #a6acb4; }
}
";

/// The picture, on the ground that its reader has set.
pub fn svg(circuit: &Circuit, sheet: &Sheet) -> String {
    picture(circuit, sheet, DARK)
}

/// The picture on white ground wherever it is shown.
pub fn svg_on_white(circuit: &Circuit, sheet: &Sheet) -> String {
    picture(circuit, sheet, "")
}

fn picture(circuit: &Circuit, sheet: &Sheet, dark: &str) -> String {
    let mut out = String::new();
    let (w, h) = (sheet.width, sheet.height);
    let title = circuit.title.as_deref().unwrap_or("Circuit");
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"circuit\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" role=\"img\" aria-labelledby=\"title desc\">"
    );
    let _ = writeln!(out, "<title id=\"title\">{}</title>", escaped(title));
    let _ = writeln!(out, "<desc id=\"desc\">{}</desc>", escaped(&described(circuit, sheet)));
    let _ = writeln!(out, "<style>{STYLE}{dark}</style>");
    let _ = writeln!(out, "<rect class=\"sheet\" width=\"{w}\" height=\"{h}\"/>");
    let _ = writeln!(out, "<text class=\"title\" x=\"30\" y=\"30\">{}</text>", escaped(title));
    for frame in &sheet.frames {
        let a = frame.area;
        let stage = &circuit.stages[frame.stage];
        let _ = writeln!(
            out,
            "<g id=\"stage-{}\"><rect class=\"frame\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"6\"/><text class=\"stage\" x=\"{}\" y=\"{}\">{}</text></g>",
            ident(&stage.name),
            a.x0,
            a.y0,
            a.x1 - a.x0,
            a.y1 - a.y0,
            a.x0 + 8,
            a.y0 + 16,
            escaped(&stage.name)
        );
    }
    for (i, node) in sheet.nodes.iter().enumerate() {
        let symbols: Vec<&Symbol> = sheet.symbols.iter().filter(|s| s.of == Stands::Node(i)).collect();
        if node.lines.is_empty() && symbols.is_empty() && node.names.is_empty() && !touched(sheet, i) {
            continue;
        }
        let name = &circuit.nodes[i].name;
        let _ = write!(out, "<g id=\"node-{}\"><title>{}</title>", ident(name), escaped(name));
        if !node.lines.is_empty() {
            let path: Vec<String> =
                node.lines.iter().map(|l| way(l.iter().map(|p| (f64::from(p.x), f64::from(p.y))))).collect();
            let _ = write!(out, "<path class=\"wire\" d=\"{}\"/>", path.join(" "));
        }
        for Point { x, y } in &node.dots {
            let _ = write!(out, "<circle class=\"dot\" cx=\"{x}\" cy=\"{y}\" r=\"2.6\"/>");
        }
        for symbol in symbols {
            shapes(&mut out, symbol);
            for l in symbol.labels() {
                label(&mut out, &l);
            }
        }
        for l in &node.names {
            label(&mut out, l);
        }
        out.push_str("</g>\n");
    }
    for symbol in &sheet.symbols {
        let (id, name, class) = match symbol.of {
            Stands::Node(_) => continue,
            Stands::Part(_) if symbol.external => {
                (format!("part-{}", ident(&symbol.name)), &symbol.name, "part external")
            }
            Stands::Part(_) if symbol.unfitted => {
                (format!("part-{}", ident(&symbol.name)), &symbol.name, "part unfitted")
            }
            Stands::Part(_) => (format!("part-{}", ident(&symbol.name)), &symbol.name, "part"),
            Stands::Source(_) => (format!("source-{}", ident(&symbol.name)), &symbol.name, "part"),
        };
        let said = format!("{name} {}", symbol.value);
        let _ = write!(out, "<g id=\"{id}\" class=\"{class}\"><title>{}</title>", escaped(said.trim()));
        shapes(&mut out, symbol);
        for l in symbol.labels() {
            label(&mut out, &l);
        }
        out.push_str("</g>\n");
    }
    for (i, note) in circuit.notes.iter().enumerate() {
        let y = h - 16 - 16 * (circuit.notes.len() - 1 - i) as i32;
        let _ = writeln!(out, "<text class=\"note\" x=\"30\" y=\"{y}\">{}</text>", escaped(note));
    }
    out.push_str("</svg>\n");
    out
}

fn touched(sheet: &Sheet, node: usize) -> bool {
    sheet.symbols.iter().flat_map(|s| &s.pins).any(|p| p.node == node)
}

fn described(circuit: &Circuit, sheet: &Sheet) -> String {
    let stages: Vec<&str> = sheet.frames.iter().map(|f| circuit.stages[f.stage].name.as_str()).collect();
    let parts = sheet.symbols.iter().filter(|s| matches!(s.of, Stands::Part(_))).count();
    format!("Circuit drawing with {parts} parts, signal from left to right. Stages: {}.", stages.join(", "))
}

fn shapes(out: &mut String, symbol: &Symbol) {
    for shape in symbol.shapes() {
        let _ = match shape {
            Shape::Line(points) => write!(out, "<path class=\"line\" d=\"{}\"/>", way(points.into_iter())),
            Shape::Lead(points) => write!(out, "<path class=\"lead\" d=\"{}\"/>", way(points.into_iter())),
            Shape::Outline(points) => write!(out, "<path class=\"body\" d=\"{}Z\"/>", way(points.into_iter())),
            Shape::Solid(points) => write!(out, "<path class=\"solid\" d=\"{}Z\"/>", way(points.into_iter())),
            Shape::Circle(x, y, r) => write!(out, "<circle class=\"body\" cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>"),
            Shape::Arcs(a, b, n, over) => {
                let mut d = format!("M{} {}", a.0, a.1);
                let r = ((b.0 - a.0).abs() + (b.1 - a.1).abs()) / n as f64 / 2.0;
                for k in 1..=n {
                    let t = k as f64 / n as f64;
                    let (x, y) = (a.0 + (b.0 - a.0) * t, a.1 + (b.1 - a.1) * t);
                    let _ = write!(d, "A{r} {r} 0 0 {} {x} {y}", u8::from(!over));
                }
                write!(out, "<path class=\"line\" d=\"{d}\"/>")
            }
        };
    }
}

fn way(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut d = String::new();
    for (k, (x, y)) in points.enumerate() {
        let _ = write!(d, "{}{x} {y}", if k == 0 { "M" } else { "L" });
    }
    d
}

fn label(out: &mut String, l: &Label) {
    if l.text.is_empty() && l.more.is_empty() {
        return;
    }
    let anchor = match l.anchor {
        Anchor::Start => "",
        Anchor::Middle => " text-anchor=\"middle\"",
        Anchor::End => " text-anchor=\"end\"",
    };
    let size = if l.size == 11 { String::new() } else { format!(" style=\"font-size:{}px\"", l.size) };
    // A text that is longer than the room kept for it is set closer.
    let chars = l.text.chars().count() + if l.more.is_empty() { 0 } else { l.more.chars().count() + 1 };
    let room = l.room.x1 - l.room.x0;
    let fitted = if width(chars, l.size) > room {
        format!(" textLength=\"{room}\" lengthAdjust=\"spacingAndGlyphs\"")
    } else {
        String::new()
    };
    let more =
        if l.more.is_empty() { String::new() } else { format!(" <tspan class=\"value\">{}</tspan>", escaped(&l.more)) };
    let _ = write!(
        out,
        "<text class=\"{}\" x=\"{}\" y=\"{}\"{anchor}{size}{fitted}>{}{more}</text>",
        l.class,
        l.place.x,
        l.place.y,
        escaped(&l.text)
    );
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// A name as part of an `id`: what an `id` cannot hold is written by its number.
fn ident(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars() {
        if c.is_ascii_alphanumeric() || matches!(c, '_' | '.' | '-') {
            out.push(c);
        } else {
            let _ = write!(out, "_{:x}_", c as u32);
        }
    }
    out
}
