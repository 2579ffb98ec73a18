//! A signal that is steeper somewhere in the band than the amplifier's output can be.

use super::Finding;
use super::say::{above, at, round_up, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "slew-rate-low";
/// How much of its slew rate a part may be asked for: all of it. Above, a sine becomes a triangle.
pub const MOST: f64 = 1.0;

/// What an output is asked for.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Where the controls stand.
    pub position: &'a str,
    /// Peak volts at the output where it is steepest.
    pub peak: f64,
    /// Where in the band that is, in hertz.
    pub hertz: f64,
    /// The slew rate that is sure, in volts a second.
    pub slew: f64,
}

/// Holds 2πf·V against the slew rate.
pub fn judge(f: &Figures) -> Option<Finding> {
    let asked = std::f64::consts::TAU * f.hertz * f.peak;
    if !above(asked, MOST * f.slew) {
        return None;
    }
    let message = format!(
        "{} has {} peak at {}{}, which is {} at its steepest, and its sheet gives {}: beyond that a sine becomes a triangle. A type of {} and more, or less level there, would follow.",
        f.amplifier,
        say(f.peak, Unit::Volt),
        say(f.hertz, Unit::Hertz),
        at(f.position),
        say(asked, Unit::VoltPerSecond),
        say(f.slew, Unit::VoltPerSecond),
        say(round_up(asked), Unit::VoltPerSecond),
    );
    Some(Finding::new(ID, message, &[f.amplifier]))
}
