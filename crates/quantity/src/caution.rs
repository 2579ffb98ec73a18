//! Values that are read, and that are so far from the everyday that a slip of the prefix is likelier.

use crate::decimal::Decimal;
use crate::words::sentence;
use crate::{Prefix, Style, Unit, Want, canonical, exact};

/// A remark on a figure that is read: its value is outside of what such parts have, and another reading is likely.
/// Writing the unit out (`10 mohm`) answers it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Caution {
    /// Both readings, in a sentence or two that begin with the figure.
    pub message: String,
    /// Replacements for the figure and its unit: the other reading first, then this one with its unit written out.
    pub fixes: Vec<String>,
}

/// What is outside of the everyday for a part: under the first or over the second, in base units.
fn limits(want: Want) -> Option<(f64, f64)> {
    match want {
        // A tenth of an ohm to a gigohm; a tenth of a picofarad to a tenth of a farad.
        Want::ResistorValue => Some((0.1, 1e9)),
        Want::CapacitorValue => Some((0.1e-12, 0.1)),
        // Common practice, no source: a tenth of a nanohenry is less than a millimetre of wire, and the largest chokes
        // have some hundreds of henries.
        Want::InductorValue => Some((0.1e-9, 1e3)),
        _ => None,
    }
}

/// The caution for a value whose unit was not written, if it is outside of its limits. Zero is no slip of a prefix.
pub(crate) fn caution(
    text: &str,
    decimal: &Decimal,
    prefix: Prefix,
    value: f64,
    unit: Unit,
    want: Want,
) -> Option<Caution> {
    let (low, high) = limits(want)?;
    if value == 0.0 || (low..=high).contains(&value) {
        return None;
    }
    let number = decimal.text();
    let words = |prefix| format!("{number} {}", unit.prefixed_name(prefix));
    let other = other_prefix(prefix, want).filter(|other| (low..=high).contains(&decimal.value(other.power())));
    if let Some(other) = other {
        let fix = format!("{number}{}", other.symbol(true));
        let written_out = format!("{number} {}{}", prefix.symbol(true), unit.symbol(true));
        return Some(Caution {
            message: format!("{text} is {}. {} is {fix}.", words(prefix), sentence(&words(other))),
            fixes: vec![fix, written_out],
        });
    }
    // Where no slip of one letter explains it, the value in its everyday prefix lets a person see its size.
    let written_out = canonical(value, unit)?;
    let said = exact(value, unit, Style::default())?;
    let size = if value < low { "less" } else { "more" };
    let mut message = format!("{text} is {said}, {size} than {} usually is.", want.words());
    if want == Want::ResistorValue && prefix < Prefix::Milli {
        message = format!("{message} A capacitance belongs to a C.");
    }
    message = format!("{message} If it is meant: {written_out}.");
    Some(Caution { message, fixes: vec![written_out] })
}

/// The prefix that is mistaken for this one.
fn other_prefix(prefix: Prefix, want: Want) -> Option<Prefix> {
    match (want, prefix) {
        (Want::ResistorValue, Prefix::Milli) => Some(Prefix::Mega),
        (Want::ResistorValue, Prefix::Giga) => Some(Prefix::Mega),
        (Want::ResistorValue, Prefix::Tera) => Some(Prefix::Giga),
        (Want::CapacitorValue, Prefix::Milli) => Some(Prefix::Micro),
        // Old drawings have M for microfarad, and k for a thousand picofarad.
        (Want::CapacitorValue, Prefix::Mega) => Some(Prefix::Micro),
        (Want::CapacitorValue, Prefix::Kilo) => Some(Prefix::Nano),
        (Want::CapacitorValue, Prefix::Femto) => Some(Prefix::Pico),
        (Want::CapacitorValue, Prefix::Pico) => Some(Prefix::Micro),
        (Want::CapacitorValue, Prefix::Micro) => Some(Prefix::Pico),
        (Want::InductorValue, Prefix::Mega) => Some(Prefix::Milli),
        (Want::InductorValue, Prefix::Kilo) => Some(Prefix::Milli),
        (Want::InductorValue, Prefix::Femto | Prefix::Pico) => Some(Prefix::Micro),
        _ => None,
    }
}
