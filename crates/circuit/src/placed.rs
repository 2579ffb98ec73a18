//! Positions of controls as settings and `when` write them.

use notation::tree::{Fault, Fix, PartRef, Word};

use crate::circuit::{Circuit, Control, ControlId, Position};
use crate::design::fit;
use crate::piece::{StatePiece, fault};

/// The controls that a name means: its own, and with `all` those of its copies, which may be all there are.
pub(crate) fn controls(circuit: &Circuit, part: &PartRef) -> Vec<ControlId> {
    let text = &*part.part.text;
    let mut all: Vec<ControlId> = circuit.control(text).into_iter().collect();
    if part.all {
        let shaft = notation::device_of(text);
        let copied = |c: &Control| c.name.rsplit_once('.').is_some_and(|(_, own)| own == text || own == shaft);
        for (i, _) in circuit.controls.iter().enumerate().filter(|(_, c)| copied(c)) {
            let id = ControlId(i as u32);
            if !all.contains(&id) {
                all.push(id);
            }
        }
    }
    all
}

/// The controls that a state sets, each with its position. Empty while the position is not written.
pub(crate) fn placed(circuit: &Circuit, state: &StatePiece) -> Result<Vec<(ControlId, Position)>, Fault> {
    let part = &state.part.part;
    let all = controls(circuit, &state.part);
    if all.is_empty() {
        let fixed = !crate::design::parts_of(circuit, &state.part).is_empty();
        let word = Word { text: part.text.clone(), span: part.span };
        return Err(if fixed {
            fault(
                "fixed-part-set",
                part.span,
                format!("{} is fixed: a setting names variable resistors and switches", part.text),
            )
        } else if let Some(wrong) = in_copies_only(circuit, &word) {
            wrong
        } else {
            unknown(&word, "control", circuit.controls.iter().map(|c| &*c.name))
        });
    }
    let mut found = Vec::new();
    for control in all {
        let name = &circuit.controls[control.at()].name;
        // Of one that stands alone its own word is said, a unit's letter with it.
        let name = if name.contains('.') { name } else { &part.text };
        if circuit.controls[control.at()].preset {
            let message = format!("{name} is a preset: its trim sets it, and nothing else moves it");
            return Err(fault("preset-set", part.span, message));
        }
        let Some(written) = state.position else { continue };
        match fit(&circuit.controls[control.at()].kind, written) {
            Ok(position) => found.push((control, position)),
            Err(can) => return Err(fault("unknown-position", part.span, format!("{name} {can}"))),
        }
    }
    Ok(found)
}

/// What to say of a name that only parts of copies have.
pub(crate) fn in_copies_only(circuit: &Circuit, word: &Word) -> Option<Fault> {
    let name = &word.text;
    let shaft = |own: &str| notation::device_of(own) == &**name;
    let is = |own: &str| own == &**name || shaft(own);
    let mut copies = circuit.parts.iter().filter(|p| p.copy_of.as_deref().is_some_and(is)).map(|p| &*p.name);
    let first = copies.next()?;
    let message = match copies.next() {
        None => format!("there is no {name} but in a copy: {first}"),
        Some(_) => format!("there is no {name} but in copies: {first} is one of them, and `all {name}` means them all"),
    };
    let mut wrong = fault("unknown-name", word.span, message);
    for text in [first.to_string(), format!("all {name}")] {
        wrong.fixes.push(Fix { title: format!("write {text}"), edits: vec![(word.span, text)] });
    }
    Some(wrong)
}

/// A control that is set to two positions at once.
pub(crate) fn set_twice(circuit: &Circuit, state: &StatePiece, first: Position, second: Position) -> Fault {
    let part = &state.part.part;
    let control = controls(circuit, &state.part).first().copied();
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
