//! A rail behind a resistance with nothing to hold it for fast currents.

use super::Finding;
use super::Mend;

/// The rule.
pub const ID: &str = "rail-undecoupled";

/// An amplifier's rail that the file models.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// The rail's node.
    pub rail: &'a str,
    /// The part between it and the supply.
    pub series: &'a str,
}

/// Says what would hold it.
pub fn judge(f: &Figures) -> Option<Finding> {
    let message = format!(
        "{} is fed through {} and nothing decouples {}: its own current moves its rail, and the loop closes over the supply. 100 nF from {} to gnd, at the pins, would hold it.",
        f.amplifier, f.series, f.rail, f.rail,
    );
    let entry = format!("{} -- {{}} 100n -- gnd", f.rail);
    Some(Finding::new(ID, message, &[f.amplifier, f.rail]).mend(Mend::Part { class: "C", entry }))
}
