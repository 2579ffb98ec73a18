//! The parts of a design as a buyer sees them.

use circuit::{Circuit, Part, PartKind};
use report::parts::{Class, Item, List};

use crate::database::circuit_of;
use crate::{Snapshot, part_words};

impl Snapshot {
    /// The parts list of a file; `None` where it is not open. What is `external` is not bought.
    pub fn parts_list(&self, path: &str) -> Option<List> {
        let circuit = circuit_of(&self.database, self.document(path)?);
        let items: Vec<Item> = circuit.parts.iter().filter(|p| !p.external).map(|p| item(&circuit, p)).collect();
        let mut list = report::parts::list(&items);
        list.notes.extend(matched(&circuit));
        Some(list)
    }
}

fn item(circuit: &Circuit, part: &Part) -> Item {
    let class = match &part.kind {
        PartKind::Resistor { .. } => Class::Resistor,
        PartKind::Variable { .. } => Class::Variable,
        PartKind::Capacitor { .. } => Class::Capacitor,
        PartKind::Inductor { .. } => Class::Inductor,
        PartKind::Switch { .. } => Class::Switch,
        PartKind::Amplifier { .. } => Class::Amplifier,
    };
    let mut made: Vec<String> = part.made_of.iter().map(|w| w.to_string()).collect();
    match &part.kind {
        PartKind::Variable { taper, control, .. } => {
            made.insert(0, part_words::law(taper).into());
            if circuit.controls.get(control.at()).is_some_and(|c| c.preset) {
                made.push("preset".into());
            }
        }
        PartKind::Switch { contacts, .. } => made.insert(0, throws(contacts)),
        _ => {}
    }
    // What the design says of the class holds for each of its parts that say nothing else.
    let of_class = circuit.tolerances.iter().find(|t| *t.0 == *part.kind.class()).and_then(|t| t.1.number());
    let tolerance = match (part_words::tolerance(part), of_class) {
        (stated, Some(x)) if stated.is_empty() => part_words::share(x),
        (stated, _) => stated,
    };
    let device = part.device();
    let in_package = match &part.kind {
        PartKind::Amplifier { sheet, .. } => sheet.in_package.nominal().map(|n| n.round() as u32),
        _ => None,
    };
    Item {
        device: device.to_string(),
        unit: part.name[device.len()..].chars().next(),
        class,
        size: part.kind.value().and_then(circuit::Given::number).unwrap_or(0.0),
        value: part_words::value(part),
        made,
        tolerance,
        rating: part_words::rating(part),
        code: part_words::note(part),
        fitted: !part.unfitted,
        in_package,
    }
}

/// What is to be picked to go together.
fn matched(circuit: &Circuit) -> Vec<String> {
    let one = |group: &circuit::Matched| {
        let names: Vec<String> = group.parts.iter().map(|p| circuit.parts[p.at()].name.to_string()).collect();
        let share = group.share.number().map_or("as stated".into(), |x| format!("within {}", part_words::share(x)));
        format!("{} are matched {share}.", quantity::list(&names, "and"))
    };
    circuit.matched.iter().map(one).collect()
}

/// How many positions a switch joins something in.
fn throws(contacts: &[(u32, [circuit::NodeId; 2])]) -> String {
    match contacts.len() {
        0 | 1 => "on and off".into(),
        n => format!("{n} positions"),
    }
}
