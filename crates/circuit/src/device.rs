//! Parts with named terminals: amplifiers, dividers, selector switches.

use notation::tree::{Device, Fault, Pin, Span, Terminal, Word};

use crate::element::{Class, Elem, element};
use crate::piece::{Reader, fault};

/// A device as its entry gives it.
#[derive(Clone, Debug, PartialEq)]
pub struct DevicePiece {
    /// The part.
    pub elem: Elem,
    /// Named terminals: `plus`, `minus`, `out`, `cw`, `wiper`, `ccw`, `pole`, and the rails `supply+`, `supply-`.
    pub pins: Vec<(&'static str, Word)>,
    /// A selector's positions.
    pub positions: Vec<(u32, Word)>,
}

impl DevicePiece {
    /// The node at a terminal.
    pub fn pin(&self, name: &str) -> Option<&Word> {
        self.pins.iter().find(|(n, _)| *n == name).map(|(_, w)| w)
    }
}

/// Reads a device.
pub(crate) fn device(reader: &mut Reader, d: &Device) -> DevicePiece {
    let mut elem = element(reader, &d.element);
    // A type that cannot be read is not the ideal amplifier.
    let before = d.terminals.first().map_or(u32::MAX, |t| t.span.start);
    if elem.class == Class::Amplifier && elem.kind.is_none() && reader.trouble.is_some_and(|t| t.start < before) {
        elem.doubt = Some(format!("{}'s type cannot be read", elem.name).into());
    }
    let mut piece = DevicePiece { elem, pins: Vec::new(), positions: Vec::new() };
    for t in &d.terminals {
        terminal(reader, t, &mut piece);
    }
    let end = d.terminals.last().map_or(d.element.span.end, |t| t.span.end);
    complete(reader, &piece, Span { start: end, end });
    piece
}

fn terminal(reader: &mut Reader, t: &Terminal, piece: &mut DevicePiece) {
    let class = piece.elem.class;
    let (name, node) = (piece.elem.name.clone(), t.nodes.first());
    let pin = match (&t.pin, class) {
        (Pin::Plus(_), Class::Amplifier) => "plus",
        (Pin::Minus(_), Class::Amplifier) => "minus",
        (Pin::Word(w), _) => match (class, &*w.text) {
            (Class::Amplifier, "out") => "out",
            (Class::Amplifier, "supply") => {
                piece.pins.extend(t.nodes.first().map(|n| ("supply+", n.clone())));
                piece.pins.extend(t.nodes.get(1).map(|n| ("supply-", n.clone())));
                if t.nodes.len() == 1 {
                    reader.open(fault(
                        "one-rail",
                        t.span,
                        format!("`supply` names two rails, the positive one first: `supply {} gnd`", t.nodes[0].text),
                    ));
                }
                return;
            }
            (Class::Variable, "cw") => "cw",
            (Class::Variable, "wiper") => "wiper",
            (Class::Variable, "ccw") => "ccw",
            (Class::Switch, "pole") => "pole",
            (_, other) => return reader.torn(unknown_pin(&name, class, other, t.span)),
        },
        (Pin::Position(figure), Class::Switch) => {
            match (figure.text.parse::<u32>(), node) {
                (Ok(n), Some(node)) if figure.unit.is_none() => {
                    if piece.positions.iter().any(|(m, _)| *m == n) {
                        reader.open(fault("repeated-position", t.span, format!("{name} has two positions {n}")));
                    } else {
                        piece.positions.push((n, node.clone()));
                    }
                }
                (Err(_), _) => reader.torn(fault(
                    "unknown-terminal",
                    figure.span,
                    format!("{name}'s positions are whole numbers: `1 {}`", node.map_or("t1", |n| &n.text)),
                )),
                _ => {}
            }
            return;
        }
        (Pin::Plus(s), _) => return reader.torn(unknown_pin(&name, class, "+", *s)),
        (Pin::Minus(s), _) => return reader.torn(unknown_pin(&name, class, "-", *s)),
        (Pin::Position(f), _) => return reader.torn(unknown_pin(&name, class, &f.text, f.span)),
        (Pin::Missing(_), _) => return,
    };
    let Some(node) = node else { return };
    if piece.pin(pin).is_some() {
        let said = pin_in_text(pin);
        reader.open(fault("repeated-terminal", t.span, format!("{name} has two {said} terminals")));
    } else {
        piece.pins.push((pin, node.clone()));
    }
}

/// How a person writes a terminal.
fn pin_in_text(pin: &str) -> &str {
    match pin {
        "plus" => "+",
        "minus" => "-",
        other => other,
    }
}

fn unknown_pin(name: &str, class: Class, pin: &str, span: Span) -> Fault {
    let message = match class {
        Class::Amplifier => format!("{name} has no terminal `{pin}`: an amplifier has +, -, out and supply"),
        Class::Variable => format!("{name} has no terminal `{pin}`: a variable resistor has cw, wiper and ccw"),
        Class::Switch => format!("{name} has no terminal `{pin}`: a switch has pole and its numbered positions"),
        _ => format!("{name} has two ends and stands in a path: `a -- {name} … -- b`"),
    };
    fault("unknown-terminal", span, message)
}

/// Every device needs its terminals; one that is missing leaves the entry torn.
fn complete(reader: &mut Reader, piece: &DevicePiece, end: Span) {
    if reader.grade == notation::tree::Grade::Torn {
        return;
    }
    let name = &piece.elem.name;
    let unfinished =
        |message: String| Fault { id: "terminal-missing", span: end, message, unfinished: true, fixes: Vec::new() };
    let missing: Vec<&str> = match piece.elem.class {
        Class::Amplifier => {
            ["plus", "minus", "out"].into_iter().filter(|p| piece.pin(p).is_none()).map(pin_in_text).collect()
        }
        Class::Variable if piece.pin("wiper").is_none() => vec!["wiper"],
        Class::Variable if piece.pin("cw").is_none() && piece.pin("ccw").is_none() => vec!["cw", "ccw"],
        Class::Switch if piece.pin("pole").is_none() => vec!["pole"],
        Class::Switch if piece.positions.is_empty() => vec!["1"],
        Class::Variable | Class::Switch => return,
        _ => {
            reader.torn(fault(
                "terminals-of-two-ended-part",
                end,
                format!("{name} has two ends and stands in a path: `a -- {name} … -- b`"),
            ));
            return;
        }
    };
    if !missing.is_empty() {
        reader.torn(unfinished(format!("{name} is unfinished: {} and its node", missing.join(" or "))));
    }
}
