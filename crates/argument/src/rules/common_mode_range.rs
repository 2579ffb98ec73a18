//! An input that leaves the range in which the amplifier's first stage works.

use super::Finding;
use super::say::{above, at, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "common-mode-range";
/// How far outside of its range an input may go, as a share of the range: rounding only.
pub const SLACK: f64 = 1e-6;

/// An input with its range.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// `+` or `−`.
    pub input: &'a str,
    /// Where the controls stand.
    pub position: &'a str,
    /// Direct volts at the input.
    pub rest: f64,
    /// Peak volts of the signal there.
    pub peak: f64,
    /// The range, in volts.
    pub range: [f64; 2],
}

/// Holds the input's reach against its range.
pub fn judge(f: &Figures) -> Option<Finding> {
    let [low, high] = f.range;
    let slack = SLACK * (high - low).abs();
    let (under, over) = (low - (f.rest - f.peak), (f.rest + f.peak) - high);
    if !above(under.max(over), slack) {
        return None;
    }
    let goes = if f.peak > 0.0 {
        format!("rests at {} and swings {}", say(f.rest, Unit::Volt), say(f.peak, Unit::Volt))
    } else {
        format!("rests at {}", say(f.rest, Unit::Volt))
    };
    let (end, by) = if under > over { ("low", under) } else { ("high", over) };
    let message = format!(
        "{}'s {} input {goes}{}, {} beyond the {end} end of its range of {} … {}: its first stage no longer works there, and some types turn the output over. A bias {} {}, an inverting stage, or a type whose inputs reach that rail would do.",
        f.amplifier,
        f.input,
        at(f.position),
        say(by, Unit::Volt),
        say(low, Unit::Volt),
        say(high, Unit::Volt),
        say(by, Unit::Volt),
        if under > over { "higher" } else { "lower" },
    );
    Some(Finding::new(ID, message, &[f.amplifier]))
}
