//! A gain control that carries a corner into the band.

use super::Finding;
use super::say::say;
use quantity::Unit;

/// The rule.
pub const ID: &str = "corner-moves";
/// How far a control moves the gain before it counts as a gain control, 3 dB: less is a trim or a tone control's side effect.
pub const GAIN: f64 = 1.412_537_544_622_75;

/// A stage's low corner over a gain control.
pub struct Figures<'a> {
    /// The stage.
    pub stage: &'a str,
    /// The corner that is out of the band, in hertz, and where.
    pub outside: (f64, &'a str),
    /// The one that is inside.
    pub inside: (f64, &'a str),
    /// The band's lower edge, in hertz.
    pub edge: f64,
    /// Greatest over least gain at the reference.
    pub gain: f64,
}

/// Holds the corner's ends against the band.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !(f.gain > GAIN && f.inside.0 > f.edge && f.outside.0 <= f.edge) {
        return None;
    }
    let message = format!(
        "{}'s low corner moves with the gain, from {} at {} to {} at {}, and the band begins at {}: the capacitor sees another resistance at each position. A capacitor {:.1} times as large keeps it out of the band everywhere.",
        f.stage,
        say(f.outside.0, Unit::Hertz),
        f.outside.1,
        say(f.inside.0, Unit::Hertz),
        f.inside.1,
        say(f.edge, Unit::Hertz),
        f.inside.0 / f.edge,
    );
    Some(Finding::new(ID, message, &[f.stage]))
}
