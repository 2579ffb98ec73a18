//! A gain control that carries a corner into the band.

use super::say::{say, written};
use super::{Finding, Mend};
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
    /// The controls that move it.
    pub controls: &'a [&'a str],
    /// The capacitor that would keep the corner out of the band, if one of the stage's does by itself.
    pub larger: Option<Larger<'a>>,
}

/// A capacitor with a value that keeps the corner out of the band at every position.
#[derive(Clone, Copy, Debug)]
pub struct Larger<'a> {
    /// The capacitor.
    pub part: &'a str,
    /// As it is, in farads.
    pub now: f64,
    /// As it should be, in farads.
    pub then: f64,
    /// The highest corner then, in hertz.
    pub hertz: f64,
}

/// Holds the corner's ends against the band.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !(f.gain > GAIN && f.inside.0 > f.edge && f.outside.0 <= f.edge) {
        return None;
    }
    let (sees, way) = match f.larger {
        Some(l) => (
            l.part,
            format!(
                "{} instead of {} puts it at {} and below",
                say(l.then, Unit::Farad),
                say(l.now, Unit::Farad),
                say(l.hertz, Unit::Hertz)
            ),
        ),
        None => (
            "the capacitor",
            "No larger one mends it alone; a control that is not in series with a capacitor does".to_string(),
        ),
    };
    let with = match f.controls {
        [] => "the gain".to_string(),
        all => quantity::list(all, "and"),
    };
    let message = format!(
        "{}'s low corner moves with {with}, from {} at {} to {} at {}, and the band begins at {}: {sees} sees another resistance at each position. {way}.",
        f.stage,
        say(f.outside.0, Unit::Hertz),
        f.outside.1,
        say(f.inside.0, Unit::Hertz),
        f.inside.1,
        say(f.edge, Unit::Hertz),
    );
    let finding = Finding::new(ID, message, &[f.stage]);
    Some(match f.larger {
        Some(l) => finding.mend(Mend::Value { part: l.part.into(), value: written(l.then, Unit::Farad) }),
        None => finding,
    })
}
