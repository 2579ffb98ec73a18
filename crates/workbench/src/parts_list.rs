//! The parts of a design as a buyer sees them.

use circuit::{Circuit, Part, PartKind, Taper, Tolerance};
use quantity::{Style, Unit};
use report::parts::{Class, Item, List};

use crate::Snapshot;
use crate::database::circuit_of;

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
    let (class, unit) = match &part.kind {
        PartKind::Resistor { .. } => (Class::Resistor, Unit::Ohm),
        PartKind::Variable { .. } => (Class::Variable, Unit::Ohm),
        PartKind::Capacitor { .. } => (Class::Capacitor, Unit::Farad),
        PartKind::Inductor { .. } => (Class::Inductor, Unit::Henry),
        PartKind::Switch { .. } => (Class::Switch, Unit::One),
        PartKind::Amplifier { .. } => (Class::Amplifier, Unit::One),
    };
    let known = part.kind.value().and_then(circuit::Given::number);
    let exact = |x: f64, unit: Unit| quantity::exact(x, unit, Style::default()).unwrap_or_default();
    let value = match &part.kind {
        PartKind::Amplifier { sheet, .. } => sheet.name.to_string(),
        PartKind::Switch { .. } => String::new(),
        // What is not known cannot be bought.
        _ => known.map_or("unknown".into(), |x| exact(x, unit)),
    };
    let mut made: Vec<String> = part.made_of.iter().map(|w| w.to_string()).collect();
    match &part.kind {
        PartKind::Variable { taper, control, .. } => {
            made.insert(0, taper_of(taper).into());
            if circuit.controls.get(control.at()).is_some_and(|c| c.preset) {
                made.push("preset".into());
            }
        }
        PartKind::Switch { contacts, .. } => made.insert(0, throws(contacts)),
        _ => {}
    }
    let stated = match part.tolerance {
        Some(Tolerance::Share(x)) => format!("{} %", written(x * 100.0)),
        Some(Tolerance::Absolute(x)) => format!("±{}", exact(x, unit)),
        Some(Tolerance::Unknown | Tolerance::Two) => "unknown".into(),
        None => String::new(),
    };
    // What the design says of the class holds for each of its parts.
    let of_class = circuit.tolerances.iter().find(|t| *t.0 == *part.kind.class()).and_then(|t| t.1.number());
    let tolerance = match of_class {
        Some(x) if stated.is_empty() => format!("{} %", written(x * 100.0)),
        _ => stated,
    };
    let r = &part.ratings;
    let rated = [(r.volts, Unit::Volt), (r.watts, Unit::Watt), (r.amperes, Unit::Ampere), (r.celsius, Unit::Celsius)];
    let rating: Vec<String> = rated.into_iter().filter_map(|(x, unit)| x.map(|x| exact(x, unit))).collect();
    let (device, letter) = device(&part.name);
    let in_package = match &part.kind {
        PartKind::Amplifier { sheet, .. } => sheet.in_package.nominal().map(|n| n.round() as u32),
        _ => None,
    };
    Item {
        device,
        unit: letter,
        class,
        size: known.unwrap_or(0.0),
        value,
        made,
        tolerance,
        rating: rating.join(", "),
        code: part.note.as_ref().map(|n| n.to_string()).unwrap_or_default(),
        fitted: !part.unfitted,
        in_package,
    }
}

/// What is to be picked to go together.
fn matched(circuit: &Circuit) -> Vec<String> {
    let one = |group: &circuit::Matched| {
        let names: Vec<String> = group.parts.iter().map(|p| circuit.parts[p.at()].name.to_string()).collect();
        let share = group.share.number().map_or("as stated".into(), |x| format!("within {} %", written(x * 100.0)));
        format!("{} are matched {share}.", quantity::list(&names, "and"))
    };
    circuit.matched.iter().map(one).collect()
}

/// A share as someone writes it: rounding has not been at it.
fn written(percent: f64) -> String {
    format!("{}", (percent * 1e6).round() / 1e6)
}

fn taper_of(taper: &Taper) -> &'static str {
    match taper {
        Taper::Linear => "lin",
        Taper::Log(_) => "log",
        Taper::ReverseLog(_) => "revlog",
    }
}

/// How many positions a switch joins something in.
fn throws(contacts: &[(u32, [circuit::NodeId; 2])]) -> String {
    match contacts.len() {
        0 | 1 => "on and off".into(),
        n => format!("{n} positions"),
    }
}

/// The device of a part, and which unit of it the part is.
fn device(name: &str) -> (String, Option<char>) {
    match name.chars().last() {
        Some(c) if c.is_ascii_lowercase() => (name[..name.len() - 1].to_string(), Some(c)),
        _ => (name.to_string(), None),
    }
}
