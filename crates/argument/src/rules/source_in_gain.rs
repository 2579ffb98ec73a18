//! A source whose own resistance is part of an inverting stage's gain.

use super::Finding;
use super::say::{above, percent, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "source-in-gain";
/// The share of an inverting stage's input resistance that the source may add: 5 % is 0.4 dB, the spread of a class of
/// resistors. Common practice, no source.
pub const MOST: f64 = 0.05;

/// An inverting stage behind a source.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// The source's own resistor.
    pub own: &'a str,
    /// In ohms.
    pub ohms: f64,
    /// The stage's input resistor.
    pub input: &'a str,
    /// In ohms.
    pub input_ohms: f64,
}

/// Holds the source's share against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    let share = f.ohms / f.input_ohms;
    if !above(share, MOST) {
        return None;
    }
    let less = f.ohms / (f.ohms + f.input_ohms);
    let message = format!(
        "{}, the source's own {}, is in series with {}: the gain of {} is {} less than {} alone sets, and moves with the source. A follower in front, or {} of {} and more with the feedback raised alike, would keep it.",
        f.own,
        say(f.ohms, Unit::Ohm),
        f.input,
        f.amplifier,
        percent(less),
        f.input,
        f.input,
        say(super::say::at_least(quantity::Series::E12, f.ohms / MOST), Unit::Ohm),
    );
    Some(Finding::new(ID, message, &[f.amplifier, f.own, f.input]))
}
