//! More heat in a resistor than it is made for.

use super::Finding;
use super::say::{above, at, say, where_in_band};
use quantity::Unit;

/// The rule.
pub const ID: &str = "over-power";
/// How much of its rated power a part may turn to heat: all of it, which it bears at 70 °C (IEC 60115-1, from memory).
pub const MOST: f64 = 1.0;

/// A part with its rating.
pub struct Figures<'a> {
    /// The part.
    pub part: &'a str,
    /// Watts.
    pub watts: f64,
    /// The rating.
    pub rated: f64,
    /// Where the controls stand.
    pub position: &'a str,
    /// Where in the band the signal makes it so, in hertz; none where it has no part in it.
    pub hertz: Option<f64>,
}

/// Holds the power against the rating.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.watts, MOST * f.rated) {
        return None;
    }
    let message = format!(
        "Over its rating {} burns the board before it burns itself: it turns {}{}{} into heat and is rated {}. Twice the heat, {}, is a usual rating to choose.",
        f.part,
        say(f.watts, Unit::Watt),
        where_in_band(f.hertz),
        at(f.position),
        say(f.rated, Unit::Watt),
        say(2.0 * f.watts, Unit::Watt),
    );
    Some(Finding::new(ID, message, &[f.part]))
}
