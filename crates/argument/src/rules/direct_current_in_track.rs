//! A control in the signal's way that carries direct current too.

use super::Finding;
use super::say::{above, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "direct-current-in-track";
/// The direct voltage across a track that may be, 50 mV: a wiper's resistance varies by a per cent or so of the track as it
/// moves, which is heard from half a millivolt on. Common practice, no source.
pub const MOST: f64 = 0.05;

/// A control with what stands across it.
pub struct Figures<'a> {
    /// The control.
    pub control: &'a str,
    /// Direct volts across the track, or across the side of it that is in use.
    pub volts: f64,
    /// Amperes through it.
    pub amperes: f64,
    /// Its ends.
    pub ends: [&'a str; 2],
}

/// Holds the direct voltage against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.volts.abs(), MOST) {
        return None;
    }
    let message = format!(
        "{} has {} of direct voltage between {} and {} ({}): each time the wiper moves, its contact modulates that current, and it scratches. A capacitor in series, with the same direct voltage on both sides of the control, keeps it out.",
        f.control,
        say(f.volts.abs(), Unit::Volt),
        f.ends[0],
        f.ends[1],
        say(f.amperes.abs(), Unit::Ampere),
    );
    Some(Finding::new(ID, message, &[f.control, f.ends[0], f.ends[1]]))
}
