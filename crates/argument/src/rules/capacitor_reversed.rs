//! A polar capacitor that stands the wrong way round.

use super::Finding;
use super::Mend;
use super::say::{above, at, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "capacitor-reversed";
/// The reverse direct voltage that may be, 0.2 V: an aluminium capacitor stands about 1 V for a while, a tantalum one a tenth of
/// its rating at most and less when warm. From memory; the makers' application notes agree.
pub const MOST: f64 = 0.2;

/// A polar capacitor at rest.
pub struct Figures<'a> {
    /// The capacitor.
    pub capacitor: &'a str,
    /// The node that is called positive.
    pub plus: &'a str,
    /// The other one.
    pub minus: &'a str,
    /// The voltage from plus to minus at rest.
    pub volts: f64,
    /// Where the controls stand.
    pub position: &'a str,
}

/// Holds the reverse voltage against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(-f.volts, MOST) {
        return None;
    }
    let message = format!(
        "Reversed, {} may heat, vent or burst: {} is called positive and rests {} below {}{}. The oxide that insulates it grows in one direction only. Turned round it is right; a bipolar one stands both ways.",
        f.capacitor,
        f.plus,
        say(-f.volts, Unit::Volt),
        f.minus,
        at(f.position),
    );
    Some(Finding::new(ID, message, &[f.capacitor]).mend(Mend::Turn { part: f.capacitor.into() }))
}
