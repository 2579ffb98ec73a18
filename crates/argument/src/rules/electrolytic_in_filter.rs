//! An electrolytic capacitor that sets a response.

use super::Finding;
use super::say::{above, percent, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "electrolytic-in-filter";
/// The share of the stage's signal that may stand across an electrolytic capacitor at the reference: a tenth. A capacitor that
/// only couples has next to nothing across it there. Common practice, no source.
pub const MOST: f64 = 0.1;

/// An electrolytic capacitor in a signal's way.
pub struct Figures<'a> {
    /// The capacitor.
    pub capacitor: &'a str,
    /// In farads.
    pub farads: f64,
    /// What stands across it at the reference, as a share of the largest signal in its stage.
    pub share: f64,
    /// The reference, in hertz.
    pub hertz: f64,
}

/// Holds the voltage across it against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.share, MOST) {
        return None;
    }
    let message = format!(
        "{} ({}) is electrolytic and has {} of its stage's signal across it at {}: there it sets the response, and its value is 20 % off, falls with age and bends with the voltage. A film capacitor of less, with the resistors raised alike, holds its value.",
        f.capacitor,
        say(f.farads, Unit::Farad),
        percent(f.share),
        say(f.hertz, Unit::Hertz),
    );
    Some(Finding::new(ID, message, &[f.capacitor]))
}
