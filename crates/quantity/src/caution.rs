//! Values that are read, and that are so far from the everyday that a slip of the prefix is likelier.

use crate::decimal::Decimal;
use crate::print::canonical;
use crate::{Prefix, Unit, Want};

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
    let written_out = format!("{number} {}{}", prefix.symbol(true), unit.symbol(true));
    let first = format!("{text} is {number} {}", unit.prefixed_name(prefix));
    let other = other_prefix(prefix, want).and_then(|other| {
        let value = decimal.value(other.power());
        (low..=high).contains(&value).then(|| {
            (
                format!("{number} {}", unit.prefixed_name(other)),
                value,
                other,
            )
        })
    });
    Some(match other {
        Some((words, _, other)) => {
            let fix = format!("{number}{}", other.symbol(true));
            Caution {
                message: format!("{first}. {} is {fix}.", capital(&words)),
                fixes: vec![fix, written_out],
            }
        }
        None => {
            let plain =
                canonical(value, unit).filter(|_| prefix != Prefix::Unity || decimal.has_exponent);
            let plain = plain.map(|plain| format!(", {plain}")).unwrap_or_default();
            let why = if value < low {
                "less than such a part has"
            } else {
                "more than such a part has"
            };
            Caution {
                message: format!("{first}{plain}: {why}. If it is meant, write {written_out}."),
                fixes: vec![written_out],
            }
        }
    })
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

/// A figure at the beginning of a sentence stays as it is; a word gets its capital.
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}
