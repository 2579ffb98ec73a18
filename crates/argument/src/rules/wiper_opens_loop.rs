//! A wiper that is the only way of the feedback.

use super::Finding;
use super::Mend;
use super::say::{at_least, say, written};
use quantity::{Series, Unit};

/// The rule.
pub const ID: &str = "wiper-opens-loop";
/// How many times the track a resistor beside it is: ten, which moves the control's law by a tenth at its end. Common
/// practice, no source.
pub const TIMES: f64 = 10.0;

/// A control in a feedback path.
pub struct Figures<'a> {
    /// The control.
    pub control: &'a str,
    /// Its track, in ohms.
    pub track: f64,
    /// The amplifier.
    pub amplifier: &'a str,
    /// Its output's node.
    pub out: &'a str,
    /// Its − input's node.
    pub minus: &'a str,
}

/// Says what would keep the loop closed.
pub fn judge(f: &Figures) -> Option<Finding> {
    let beside = at_least(Series::E12, TIMES * f.track);
    let message = format!(
        "{}'s loop is closed by the wiper of {} alone: where that lifts off its track for a moment, as a worn one does, the output jumps to a rail. {} from {} to {} would hold it.",
        f.amplifier,
        f.control,
        say(beside, Unit::Ohm),
        f.out,
        f.minus,
    );
    let entry = format!("{} -- {{}} {} -- {}", f.out, written(beside, Unit::Ohm), f.minus);
    Some(Finding::new(ID, message, &[f.control, f.amplifier]).mend(Mend::Part { class: "R", entry }))
}
