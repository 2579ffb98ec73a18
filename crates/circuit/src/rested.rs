//! Values and rest positions that are taken away again, each with the clause that says why.

use notation::Name;
use std::sync::Arc;

use rustc_hash::FxHashSet;

use crate::assemble::Assembly;
use crate::circuit::{Control, ControlId, ControlKind, Given, Part, PartKind, Sheet};
use crate::piece::Weight;

/// Takes a part's value away, for a reason.
pub(crate) fn make_unknown(kind: &mut PartKind, why: &Name) {
    match kind {
        PartKind::Resistor { ohms: given, .. }
        | PartKind::Capacitor { farads: given, .. }
        | PartKind::Inductor { henries: given, .. }
        | PartKind::Variable { ohms: given, .. } => *given = Given::Unknown(why.clone()),
        PartKind::Amplifier { sheet, .. } => {
            *sheet = Arc::new(Sheet { unknown: Some(why.clone()), ideal: false, ..(**sheet).clone() });
        }
        PartKind::Switch { unknown, .. } => drop(unknown.get_or_insert(why.clone())),
    }
}

/// Takes the value from all that moves with a control.
pub(crate) fn unset(a: &mut Assembly, control: ControlId, why: &Name) {
    for part in &mut a.circuit.parts {
        if let PartKind::Variable { control: c, .. } | PartKind::Switch { control: c, .. } = part.kind
            && c == control
        {
            make_unknown(&mut part.kind, why);
        }
    }
}

/// Where shafts and spindles rest, as far as their units say.
#[derive(Default)]
pub(crate) struct Rested {
    /// Those for which it is written.
    pub(crate) written: FxHashSet<Name>,
    /// Those for which it cannot be read, with a clause that says so.
    pub(crate) unknown: Vec<(Name, Name)>,
}

impl Rested {
    /// Takes the value from what moves with a control of which nobody knows where it rests, and tells of switches that say
    /// neither.
    pub(crate) fn settle(mut self, a: &mut Assembly) {
        let stateless = |c: &Control| {
            matches!(c.kind, ControlKind::Steps { plain: true, .. })
                && !self.written.contains(&c.name)
                && !self.unknown.iter().any(|u| u.0 == c.name)
        };
        let silent: Vec<Name> = a.circuit.controls.iter().filter(|c| stateless(c)).map(|c| c.name.clone()).collect();
        for shaft in silent {
            self.unknown.push((shaft.clone(), format!("{shaft} is neither open nor closed").into()));
            let moves = |p: &Part| matches!(&p.kind, PartKind::Switch { control, .. } if a.circuit.controls[control.at()].name == shaft);
            let Some(i) = a.circuit.parts.iter().position(moves) else { continue };
            // In a copy it is as it is in the pattern, where it is said.
            let own = a.circuit.parts[i].copy_of.as_ref();
            if own.is_some_and(|pattern| a.circuit.parts.iter().any(|p| p.name == *pattern)) {
                continue;
            }
            let name = a.circuit.parts[i].name.to_string();
            let message =
                format!("how does {name} rest? `{name} open` or `{name} closed` says so, and a setting moves it");
            let place = a.places.part_names[i];
            a.find(Weight::Error, place, "switch-without-state", message, &[&name]);
        }
        for (shaft, why) in &self.unknown {
            if let Some(i) = a.circuit.controls.iter().position(|c| c.name == *shaft) {
                unset(a, ControlId(i as u32), why);
            }
        }
    }
}
