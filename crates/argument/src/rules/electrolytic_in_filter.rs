//! An electrolytic capacitor that sets a response.

use super::Finding;
use super::say::{above, at, percent, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "electrolytic-in-filter";
/// The share of the stage's signal that may stand across an electrolytic capacitor at the reference: a tenth. A capacitor that
/// only couples has next to nothing across it there. Common practice, no source.
pub const MOST: f64 = 0.1;

/// The share that may stand across it where the band begins: 1/√2, from where on its corner lies inside the band.
pub const CORNER: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// An electrolytic capacitor in a signal's way.
pub struct Figures<'a> {
    /// The capacitor.
    pub capacitor: &'a str,
    /// In farads.
    pub farads: f64,
    /// What stands across it, as a share of the largest signal in its stage.
    pub share: f64,
    /// Where in the band, in hertz.
    pub hertz: f64,
    /// Where the controls stand.
    pub position: &'a str,
    /// It is the band's lower edge, where what couples has a share of the signal.
    pub corner: bool,
}

/// Holds the voltage across it against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.share, if f.corner { CORNER } else { MOST }) {
        return None;
    }
    let sets = if f.corner { "its corner lies inside the band" } else { "there it sets the response" };
    let message = format!(
        "{} ({}) is electrolytic and has {} of its stage's signal across it at {}{}: {sets}, and its value is 20 % off, falls with age and bends with the voltage. A film capacitor of less, with the resistors raised alike, holds its value.",
        f.capacitor,
        say(f.farads, Unit::Farad),
        percent(f.share),
        say(f.hertz, Unit::Hertz),
        at(f.position),
    );
    Some(Finding::new(ID, message, &[f.capacitor]))
}
