//! What stands behind a part's designator, in the words in which it is bought.

use circuit::{Given, Part, PartKind, Taper, Tolerance};
use quantity::{Style, Unit};

/// The unit of a part's value; `One` of a part that has none.
pub(crate) fn unit(part: &Part) -> Unit {
    match part.kind {
        PartKind::Resistor { .. } | PartKind::Variable { .. } => Unit::Ohm,
        PartKind::Capacitor { .. } => Unit::Farad,
        PartKind::Inductor { .. } => Unit::Henry,
        PartKind::Switch { .. } | PartKind::Amplifier { .. } => Unit::One,
    }
}

/// A part's value as it is written, an amplifier's type, nothing of a switch. What is not known cannot be bought.
pub(crate) fn value(part: &Part) -> String {
    match &part.kind {
        PartKind::Amplifier { sheet, .. } => sheet.name.to_string(),
        PartKind::Switch { .. } => String::new(),
        kind => match kind.value().and_then(Given::number) {
            Some(x) => exact(x, unit(part)),
            None => "unknown".into(),
        },
    }
}

/// How a track's resistance follows the travel.
pub(crate) fn law(taper: &Taper) -> &'static str {
    match taper {
        Taper::Linear => "lin",
        Taper::Log(_) => "log",
        Taper::ReverseLog(_) => "revlog",
    }
}

/// The tolerance that is written at the part: `1 %`, `±0.25 pF`; nothing where none is.
pub(crate) fn tolerance(part: &Part) -> String {
    match part.tolerance {
        Some(Tolerance::Share(x)) => share(x),
        Some(Tolerance::Absolute(x)) => format!("±{}", exact(x, unit(part))),
        Some(Tolerance::Unknown | Tolerance::Two) => "unknown".into(),
        None => String::new(),
    }
}

/// A share as someone writes it: rounding has not been at it.
pub(crate) fn share(x: f64) -> String {
    format!("{} %", (x * 1e8).round() / 1e6)
}

/// What it may be put to: `63 V, 0.25 W`; nothing where nothing is written.
pub(crate) fn rating(part: &Part) -> String {
    let r = &part.ratings;
    let all = [(r.volts, Unit::Volt), (r.watts, Unit::Watt), (r.amperes, Unit::Ampere), (r.celsius, Unit::Celsius)];
    all.into_iter().filter_map(|(x, unit)| Some(exact(x?, unit))).collect::<Vec<_>>().join(", ")
}

/// The order code or another quoted note.
pub(crate) fn note(part: &Part) -> String {
    part.note.as_ref().map(|n| n.to_string()).unwrap_or_default()
}

fn exact(x: f64, unit: Unit) -> String {
    quantity::exact(x, unit, Style::default()).unwrap_or_default()
}
