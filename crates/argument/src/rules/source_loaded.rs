//! A source that loses much of its voltage in its own impedance.

use super::Finding;
use super::say::{below, db, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "source-loaded";
/// How many times the source's own impedance a stage should be at the least. Five times cost 1.6 dB; the trade's bridging
/// inputs are ten times and more. Common practice, no source.
pub const LEAST: f64 = 5.0;
/// A source that gives up half its voltage is matched on purpose, within this share.
pub const MATCHED: f64 = 0.02;

/// A source with what it drives.
pub struct Figures<'a> {
    /// The source.
    pub source: &'a str,
    /// The parts that are its own impedance.
    pub own: &'a [&'a str],
    /// That impedance at the reference, in ohms.
    pub ohms: f64,
    /// The share of the source's voltage that arrives behind it.
    pub arrives: f64,
    /// The frequency, in hertz.
    pub hertz: f64,
    /// Resistors both: only then is a half a match.
    pub resistive: bool,
}

/// Holds what arrives against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    let limit = LEAST / (1.0 + LEAST);
    let matched = f.resistive && (f.arrives - 0.5).abs() < MATCHED;
    if !below(f.arrives, limit) || matched {
        return None;
    }
    let message = format!(
        "{} loses {} at {} in {}, its own {}: the stage loads it with less than {LEAST:.0} times that. An input of {} and more would cost less than 0.9 dB.",
        f.source,
        db(1.0 / f.arrives),
        say(f.hertz, Unit::Hertz),
        quantity::list(&f.own.iter().map(|n| n.to_string()).collect::<Vec<_>>(), "and"),
        say(f.ohms, Unit::Ohm),
        say(10.0 * f.ohms, Unit::Ohm),
    );
    Some(Finding::new(ID, message, &[&[f.source], f.own].concat()))
}
