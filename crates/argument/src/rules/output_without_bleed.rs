//! An output capacitor whose far side rests at nothing of the stage's own.

use super::Finding;
use super::Mend;
use super::say::{above, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "output-without-bleed";
/// The direct voltage behind the capacitor from which plugging in is heard, 0.1 V. Common practice, no source.
pub const LEAST: f64 = 0.1;

/// An output behind a capacitor.
pub struct Figures<'a> {
    /// The capacitor.
    pub capacitor: &'a str,
    /// The output's node.
    pub output: &'a str,
    /// The direct voltage on the stage's side.
    pub volts: f64,
}

/// Says what would hold the output at 0 V.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.volts.abs(), LEAST) {
        return None;
    }
    let message = format!(
        "{} is held at 0 V by what is plugged in alone: unplugged, {} leaks until {} stands at it, and the next plug discharges that with a thump. 100 kΩ from {} to gnd would bleed it.",
        f.output,
        f.capacitor,
        say(f.volts.abs(), Unit::Volt),
        f.output,
    );
    let entry = format!("{} -- {{}} 100k -- gnd", f.output);
    Some(Finding::new(ID, message, &[f.output, f.capacitor]).mend(Mend::Part { class: "R", entry }))
}
