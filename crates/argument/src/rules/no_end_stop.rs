//! A control that can be turned until nothing limits the gain.

use super::say::{at_least, say, written};
use super::{Finding, Mend};
use quantity::{Series, Unit};

/// The rule.
pub const ID: &str = "no-end-stop";
/// What the whole track should leave standing at its end: a hundredth of the feedback resistance, 40 dB of gain. Common
/// practice, no source.
pub const SHARE: f64 = 0.01;

/// A control between an inverting input and what is held.
pub struct Figures<'a> {
    /// The control.
    pub control: &'a str,
    /// The amplifier.
    pub amplifier: &'a str,
    /// What its other end comes to.
    pub to: &'a str,
    /// The feedback resistance, or the track where there is none, in ohms.
    pub feedback: f64,
}

/// Says what an end stop would be.
pub fn judge(f: &Figures) -> Option<Finding> {
    let stop = at_least(Series::E12, SHARE * f.feedback);
    let message = format!(
        "{} goes down to 0 Ω between {}'s − input and {} with nothing in series: at that end only the amplifier's own gain is left, with its offset and its noise. {} in series would be an end stop at about 40 dB.",
        f.control,
        f.amplifier,
        f.to,
        say(stop, Unit::Ohm),
    );
    let mend = Mend::Series { part: f.control.into(), value: written(stop, Unit::Ohm) };
    Some(Finding::new(ID, message, &[f.control, f.amplifier]).mend(mend))
}
