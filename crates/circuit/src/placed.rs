//! Positions of controls as settings and `when` write them.

use notation::tree::{Fault, Fix, Word};

use crate::circuit::{Circuit, ControlId, PartKind, Position};
use crate::design::fit;
use crate::piece::{StatePiece, fault};

/// The controls that a state sets: one, or with `all` those of all copies too. Empty while the position is not written.
pub(crate) fn placed(circuit: &Circuit, state: &StatePiece) -> Result<Vec<(ControlId, Position)>, Fault> {
    let Some((control, position)) = position(circuit, state)? else { return Ok(Vec::new()) };
    let mut all = vec![(control, position)];
    if state.part.all {
        for id in crate::design::parts_of(circuit, &state.part) {
            let (PartKind::Variable { control, .. } | PartKind::Switch { control, .. }) = circuit.parts[id.at()].kind
            else {
                continue;
            };
            if !all.iter().any(|a| a.0 == control) {
                all.push((control, position));
            }
        }
    }
    Ok(all)
}

/// A position with its control, `None` where it is not written yet, or what the control can be set to.
pub(crate) fn position(circuit: &Circuit, state: &StatePiece) -> Result<Option<(ControlId, Position)>, Fault> {
    let part = &state.part.part;
    let Some(control) = circuit.control(&part.text) else {
        let fixed = circuit.parts.iter().any(|p| *p.name == *part.text);
        let word = Word { text: part.text.clone(), span: part.span };
        return Err(if fixed {
            fault(
                "fixed-part-set",
                part.span,
                format!("{} is fixed: a setting names variable resistors and switches", part.text),
            )
        } else {
            unknown(&word, "control", circuit.controls.iter().map(|c| &*c.name))
        });
    };
    if circuit.controls[control.at()].preset {
        let message = format!("{} is a preset: its trim sets it, and nothing else moves it", part.text);
        return Err(fault("preset-set", part.span, message));
    }
    let Some(written) = state.position else { return Ok(None) };
    match fit(&circuit.controls[control.at()].kind, written) {
        Ok(position) => Ok(Some((control, position))),
        Err(can) => Err(fault("unknown-position", part.span, format!("{} {can}", part.text))),
    }
}

/// A control that is set to two positions at once.
pub(crate) fn set_twice(circuit: &Circuit, state: &StatePiece, first: Position, second: Position) -> Fault {
    let part = &state.part.part;
    let control = circuit.control(&part.text);
    let say = |p| control.map_or_else(String::new, |c| circuit.say(c, p));
    fault("set-twice", part.span, format!("{} is set twice, to {} and to {}", part.text, say(first), say(second)))
}

/// Sets a control in a list of positions; the later word counts.
pub(crate) fn set(positions: &mut Vec<(ControlId, Position)>, control: ControlId, position: Position) {
    positions.retain(|p| p.0 != control);
    positions.push((control, position));
}

/// The one name that begins like a word, or lies a slip away from one of two letters: `o` and `ot` for `out`. Of several such
/// names none is likelier than the others.
fn the_only_one<'n>(word: &str, names: &[&'n str]) -> Option<&'n str> {
    let mut longer = notation::near::beginning_with(word, names.iter().copied());
    if longer.is_empty() && word.len() == 2 {
        longer = names.iter().copied().filter(|n| n.len() == 3 && notation::near::one_slip(word, n)).collect();
    }
    longer.dedup();
    if let [one] = longer[..] { Some(one) } else { None }
}

/// What to say of a word that names no such thing, with the name that it may have been meant to be.
pub(crate) fn unknown<'a>(word: &Word, kind: &str, names: impl Iterator<Item = &'a str>) -> Fault {
    let names: Vec<&str> = names.collect();
    let near = notation::near::nearest(&word.text, names.iter().copied());
    let near = near.or_else(|| the_only_one(&word.text, &names)).map(str::to_string);
    let hint = near.as_ref().map_or_else(String::new, |n| format!(": did you mean {n}"));
    let mut f = fault("unknown-name", word.span, format!("there is no {kind} called {}{hint}", word.text));
    if let Some(n) = near {
        f.fixes.push(Fix { title: format!("write {n}"), edits: vec![(word.span, n)] });
    }
    f
}
