//! A load that asks for more current than the amplifier gives.

use super::Finding;
use super::say::{above, at, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "output-current-low";
/// How much of its output current a part may be asked for: all of it.
pub const MOST: f64 = 1.0;

/// What an output is asked for.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Where the controls stand.
    pub position: &'a str,
    /// Peak amperes at the source's level.
    pub peak: f64,
    /// What the sheet is sure of, in amperes.
    pub most: f64,
    /// In hertz.
    pub hertz: f64,
    /// Peak volts at the output, for the resistance that the load comes to.
    pub volts: f64,
}

/// Holds the current against the sheet.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.peak, MOST * f.most) {
        return None;
    }
    let message = format!(
        "{} would have to give {} peak at {}{} and gives {}: it runs out of current before it runs out of voltage. A load of {} and more, or a type that gives more, would do.",
        f.amplifier,
        say(f.peak, Unit::Ampere),
        say(f.hertz, Unit::Hertz),
        at(f.position),
        say(f.most, Unit::Ampere),
        say(f.volts / f.most, Unit::Ohm),
    );
    Some(Finding::new(ID, message, &[f.amplifier]))
}
