//! Names in algebra: parts, `let` names, functions, the variables that every expression has.

use notation::token::TokenKind;
use notation::word::FUNCTIONS;
use quantity::Want;

use super::basket::{stop, text};
use super::cursor::behind;
use super::{Basket, CompletionKind, Scene, parts, units};

/// What can stand where an operand is wanted; nothing behind one but a unit.
pub(crate) fn operand(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    let last = c.last();
    let wanted = last.is_none_or(|t| {
        matches!(
            t.kind,
            TokenKind::Open
                | TokenKind::Plus
                | TokenKind::Minus
                | TokenKind::Times
                | TokenKind::Divide
                | TokenKind::Power
                | TokenKind::Parallel
                | TokenKind::Comma
                | TokenKind::Equal
        )
    });
    if !wanted {
        // A unit is followed by an operator.
        let operand =
            |k| matches!(k, TokenKind::Name | TokenKind::Part | TokenKind::Figure | TokenKind::Open | TokenKind::Unit);
        let free = !c.after.first().is_some_and(|t| operand(t.kind));
        if let Some(figure) = last.filter(|t| t.kind == TokenKind::Figure && free) {
            units::behind_figure(scene, out, figure, Want::Any, 0);
        }
        return;
    }
    if !c.naming() {
        return units::behind_word(scene, out, Want::Any);
    }
    // Behind `Z(`, `cw(` and `ccw(` stands a part.
    let (open, _) = behind(&c.before, &[TokenKind::Open]);
    let function = open.and_then(|_| {
        let at = c.parenthesis()?;
        (at + 1 == c.before.len()).then(|| at.checked_sub(1).map(|i| c.before[i].text))?
    });
    match function {
        Some("Z") => return parts::known(scene, out, 0, &["R", "C", "L", "VR"]),
        Some("cw" | "ccw") => return parts::known(scene, out, 0, &["VR"]),
        _ => {}
    }
    // In front of a unit stands a figure.
    if c.after.first().is_some_and(|t| t.kind == TokenKind::Percent || notation::word::is_unit_symbol(t.text)) {
        return;
    }
    // In front of a parenthesis stands a function of one value.
    if c.after.first().is_some_and(|t| t.kind == TokenKind::Open) {
        for function in FUNCTIONS.iter().filter(|f| !matches!(**f, "Z" | "cw" | "ccw" | "min" | "max")) {
            out.put(0, CompletionKind::Function, *function).page(function);
        }
        return;
    }
    parts::known(scene, out, 1, &["R", "C", "L", "VR"]);
    for name in scene.known.lets().filter(|n| ***n != *c.before.first().map_or("", |t| t.text)) {
        out.put(0, CompletionKind::Let, &**name).page("let");
    }
    for (name, what) in [
        ("pi", "3.14159…"),
        ("s", "the Laplace variable, j·2·pi·f"),
        ("f", "the frequency"),
        ("w", "the angular frequency, 2·pi·f"),
    ] {
        // A variable makes a curve: what has one value has no use for it.
        let curve = name != "pi";
        if !curve
            || matches!(c.kind, Some(notation::tree::BlockKind::Formula | notation::tree::BlockKind::Let))
                && c.is_algebra()
        {
            out.put(3, CompletionKind::Let, name).detail(what).page(name);
        }
    }
    for function in FUNCTIONS {
        let (detail, first) = match *function {
            "Z" => ("a part's impedance", part(scene, &["C", "L", "R"])),
            "cw" => ("from the wiper to the clockwise end", part(scene, &["VR"])),
            "ccw" => ("from the wiper to the anticlockwise end", part(scene, &["VR"])),
            "min" | "max" => ("of two", Some("1, 2".to_string())),
            _ => ("", Some("1".to_string())),
        };
        // Without a part of its kind it has nothing to be of.
        let Some(first) = first else { continue };
        let insert = vec![text(format!("{function}(")), stop(1, first), text(")")];
        out.put(4, CompletionKind::Function, *function).detail(detail).page(function).insert(insert);
    }
}

/// The first part of the file of one of some classes.
fn part(scene: &Scene, classes: &[&str]) -> Option<String> {
    let all = scene.known.all_parts();
    classes.iter().find_map(|class| all.iter().find(|(_, p, _)| *p.class == **class)).map(|(name, ..)| name.clone())
}

impl super::Cursor<'_> {
    /// Whether the expression is an entry's own, and not an amount in parentheses.
    pub(crate) fn is_algebra(&self) -> bool {
        self.before.iter().any(|t| t.kind == TokenKind::Equal)
    }
}
