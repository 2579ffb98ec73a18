//! A stage that clips the source's level however the controls stand.

use super::Finding;
use super::say::{above, at, db, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "clips-at-least-gain";
/// How much of the room an output may be asked for at the least gain: all of it.
pub const MOST: f64 = 1.0;

/// What an output is asked for where the controls ask for least.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Where the controls ask for least; empty without controls that matter.
    pub position: &'a str,
    /// The source or sources with their level, in words.
    pub drive: &'a str,
    /// Peak volts that a linear stage would have at the output.
    pub peak: f64,
    /// Volts between rest and the nearer end of the swing.
    pub room: f64,
    /// In hertz, where in the band that is.
    pub hertz: f64,
}

/// Holds the peak against the room.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.peak, MOST * f.room) {
        return None;
    }
    let lowest = if f.position.is_empty() {
        String::new()
    } else {
        format!(", the least gain that there is,{}", at(f.position))
    };
    let message = format!(
        "{} would need {} peak at {} for {}{lowest} and has {} of swing: it clips by {}. That much less gain in front of it or in it, or higher rails, would pass the source.",
        f.amplifier,
        say(f.peak, Unit::Volt),
        say(f.hertz, Unit::Hertz),
        f.drive,
        say(f.room, Unit::Volt),
        db(f.peak / f.room),
    );
    Some(Finding::new(ID, message, &[f.amplifier]))
}
