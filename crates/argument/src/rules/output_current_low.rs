//! A load that asks for more current than the amplifier gives.

use super::Finding;
use super::say::{above, at, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "output-current-low";
/// How much of its output current a part may be asked for: all of it.
pub const MOST: f64 = 1.0;
/// From this share of it on, what flows at rest is told beside the signal.
const TOLD: f64 = 0.05;
/// A load of less than this, in ohms, is none that anybody would make larger.
const LEAST_LOAD: f64 = 1e-3;

/// What an output is asked for.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Where the controls stand.
    pub position: &'a str,
    /// Amperes at rest, without a sign.
    pub rest: f64,
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
    if !above(f.rest + f.peak, MOST * f.most) {
        return None;
    }
    let amperes = |x: f64| say(x, Unit::Ampere);
    // What flows at rest alone may be too much; a part of it that matters is told beside the signal.
    let message = if f.rest > MOST * f.most {
        format!(
            "{} would have to give {} at rest{} and gives {}: its output leaves its place before any signal comes. More resistance between its output and where that current goes, a capacitor in its way, or a type that gives more, would do.",
            f.amplifier,
            amperes(f.rest),
            at(f.position),
            amperes(f.most),
        )
    } else if f.rest > TOLD * f.most {
        format!(
            "{} would have to give {} at rest and {} peak more at {}{}, together {}, and gives {}: it runs out of current before it runs out of voltage. A load of more ohms, a capacitor in the way of the direct current, or a type that gives more, would do.",
            f.amplifier,
            amperes(f.rest),
            amperes(f.peak),
            say(f.hertz, Unit::Hertz),
            at(f.position),
            amperes(f.rest + f.peak),
            amperes(f.most),
        )
    } else if f.volts / f.most < LEAST_LOAD {
        // Next to no voltage stands there: it is no load that takes the current, but what shorts the output.
        format!(
            "{} would have to give {} peak at {}{} and gives {}: next to no voltage stands at its output, which something shorts. A resistance in the way of that current would do.",
            f.amplifier,
            amperes(f.peak),
            say(f.hertz, Unit::Hertz),
            at(f.position),
            amperes(f.most),
        )
    } else {
        format!(
            "{} would have to give {} peak at {}{} and gives {}: it runs out of current before it runs out of voltage. A load of {} and more, or a type that gives more, would do.",
            f.amplifier,
            amperes(f.peak),
            say(f.hertz, Unit::Hertz),
            at(f.position),
            amperes(f.most),
            say(f.volts / f.most, Unit::Ohm),
        )
    };
    Some(Finding::new(ID, message, &[f.amplifier]))
}
