//! What changed of the parts: values, types, ends, and what stands behind the value.

use circuit::{Circuit, Part, PartKind, Taper};

use crate::part_words;

use super::named::{Renamed, joined};

/// A change of one part, in words.
#[derive(Clone, Debug, PartialEq)]
pub struct PartChange {
    /// Its name now; of one that is gone, its old name.
    pub name: String,
    /// `R4 10 kΩ → 12 kΩ`
    pub said: String,
    /// It is the same part at the same place, with other words behind its name.
    pub in_place: bool,
    /// Where it stands among the old circuit's parts, and among the new one's.
    pub at: (Option<usize>, Option<usize>),
}

/// The changes of the parts, in the order of the new text; what is gone comes last.
pub fn changes(old: &Circuit, new: &Circuit, renamed: &Renamed) -> Vec<PartChange> {
    let mut found = Vec::new();
    for (at, part) in new.parts.iter().enumerate() {
        let before = old.parts.iter().position(|p| renamed.part(&p.name) == &*part.name);
        match before {
            Some(was) => found.extend(changed(old, new, renamed, (was, at))),
            None => {
                let value = described(part);
                let ends = quantity::list(&joined(new, part, None), "and");
                found.push(PartChange {
                    name: part.name.to_string(),
                    said: format!("{}{value} is new, at {ends}", part.name),
                    in_place: false,
                    at: (None, Some(at)),
                });
            }
        }
    }
    for (at, part) in old.parts.iter().enumerate() {
        if !new.parts.iter().any(|p| renamed.part(&part.name) == &*p.name) {
            let ends = quantity::list(&joined(old, part, Some(renamed)), "and");
            found.push(PartChange {
                name: part.name.to_string(),
                said: format!("{}{} is gone, from {ends}", part.name, described(part)),
                in_place: false,
                at: (Some(at), None),
            });
        }
    }
    found
}

fn changed(old: &Circuit, new: &Circuit, renamed: &Renamed, (was, is): (usize, usize)) -> Option<PartChange> {
    let (a, b) = (&old.parts[was], &new.parts[is]);
    let (ends_a, ends_b) = (joined(old, a, Some(renamed)), joined(new, b, None));
    let mut said = Vec::new();
    let mut turn = |what: &str, a: String, b: String| {
        if a != b {
            let blank = |text: String| if text.is_empty() { "not stated".to_string() } else { text };
            let what = if what.is_empty() { String::new() } else { format!("{what} ") };
            said.push(format!("{what}{} → {}", blank(a), blank(b)));
        }
    };
    turn("", valued(a), valued(b));
    turn("tolerance", part_words::tolerance(a), part_words::tolerance(b));
    turn("rating", part_words::rating(a), part_words::rating(b));
    turn("made of", made(a), made(b));
    turn("order code", part_words::note(a), part_words::note(b));
    let in_place = ends_a == ends_b && a.unfitted == b.unfitted && a.external == b.external;
    turn("joins", quantity::list(&ends_a, "and"), quantity::list(&ends_b, "and"));
    turn("", fitted(a).into(), fitted(b).into());
    let stages = (&old.stages[a.stage.at()].name, &new.stages[b.stage.at()].name);
    let moved = renamed.stages.get(stages.0).unwrap_or(stages.0) != stages.1;
    if moved {
        said.push(format!("stage {} → {}", stages.0, stages.1));
    }
    (!said.is_empty()).then(|| PartChange {
        name: b.name.to_string(),
        said: format!("{} {}", b.name, said.join(", ")),
        in_place: in_place && !moved,
        at: (Some(was), Some(is)),
    })
}

/// A part's value or type in words, a track's law with it, a switch's contacts.
pub fn valued(part: &Part) -> String {
    match &part.kind {
        PartKind::Variable { taper: Taper::Linear, .. } => format!("{} lin", part_words::value(part)),
        PartKind::Variable { taper: taper @ (Taper::Log(half) | Taper::ReverseLog(half)), .. } => {
            format!("{} {} ({} at half)", part_words::value(part), part_words::law(taper), part_words::share(*half))
        }
        PartKind::Switch { contacts, .. } => format!("{} contacts", contacts.len()),
        _ => part_words::value(part),
    }
}

fn described(part: &Part) -> String {
    let value = valued(part);
    if value.is_empty() { value } else { format!(" {value}") }
}

fn made(part: &Part) -> String {
    part.made_of.iter().map(|w| &**w).collect::<Vec<_>>().join(" ")
}

fn fitted(part: &Part) -> &'static str {
    match (part.unfitted, part.external) {
        (true, _) => "unfitted",
        (false, true) => "external",
        (false, false) => "fitted",
    }
}
