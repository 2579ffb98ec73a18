//! A bias divider that hands the supply's ripple on.

use super::Finding;
use super::Mend;
use super::say::{above, at_least, db, say, written};
use quantity::{Series, Unit};

/// The rule.
pub const ID: &str = "half-rail-unfiltered";
/// What of a rail's ripple may arrive at the divider's middle: a tenth, 20 dB down. Common practice, no source.
pub const MOST: f64 = 0.1;
/// Where ripple is looked at: twice a mains frequency of 50 Hz, in hertz.
pub const RIPPLE: f64 = 100.0;
/// The corner that the divider should have with its capacitor, in hertz.
pub const CORNER: f64 = 2.0;

/// A divider's middle.
pub struct Figures<'a> {
    /// The middle's node.
    pub middle: &'a str,
    /// The rail.
    pub rail: &'a str,
    /// What of the rail's ripple arrives.
    pub share: f64,
    /// The divider's two resistances side by side, in ohms.
    pub ohms: f64,
    /// The amplifier that is biased by it.
    pub amplifier: &'a str,
    /// The signal comes in here, so that a capacitor to gnd would short it.
    pub signal: bool,
}

/// Holds what arrives against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.share, MOST) {
        return None;
    }
    let farads = at_least(Series::E6, 1.0 / (std::f64::consts::TAU * f.ohms * CORNER)).max(1e-6);
    let down = if f.share < 0.999 { format!("only {} down", db(1.0 / f.share)) } else { "in full".into() };
    let mend = if f.signal {
        format!(
            "A divider of its own, {} from its middle to gnd, and a resistor from there to {} would keep it out",
            say(farads, Unit::Farad),
            f.middle
        )
    } else {
        format!("{} from {} to gnd would keep it out", say(farads, Unit::Farad), f.middle)
    };
    let message = format!(
        "Ripple on {} arrives at {} {down} at {}, and {} takes it for signal: a divider divides what changes, too. {mend}.",
        f.rail,
        f.middle,
        say(RIPPLE, Unit::Hertz),
        f.amplifier,
    );
    let finding = Finding::new(ID, message, &[f.middle, f.rail, f.amplifier]);
    if f.signal {
        return Some(finding);
    }
    let entry = format!("{} -- {{}} {} polar -- gnd", f.middle, written(farads, Unit::Farad));
    Some(finding.mend(Mend::Part { class: "C", entry }))
}
