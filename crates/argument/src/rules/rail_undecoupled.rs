//! A rail behind a resistance with nothing, or next to nothing, to hold it for fast currents.

use super::Finding;
use super::Mend;
use super::say::{below, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "rail-undecoupled";

/// The least that decouples, 10 nF: makers ask for 0.01 µF to 0.1 µF at the pins (Toshiba Electronic Devices & Storage, frequently asked
/// questions on linear operational amplifiers, "Is it necessary to connect bypass capacitors to the power supply terminal of an op-amp?").
pub const LEAST: f64 = 10e-9;

/// An amplifier's rail that the file models.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// The rail's node.
    pub rail: &'a str,
    /// The part between it and the supply.
    pub series: &'a str,
    /// What decouples it, all together, in farads.
    pub farads: f64,
    /// The largest of the capacitors that do.
    pub capacitor: Option<&'a str>,
}

/// Holds what decouples it against the least, and says what would.
pub fn judge(f: &Figures) -> Option<Finding> {
    // What stands in a file as 10 nF is 10 nF, whatever its last digit became on the way.
    if !below(f.farads, LEAST * (1.0 - 1e-9)) {
        return None;
    }
    let lacks = match f.capacitor {
        Some(capacitor) => format!(
            "{} of {capacitor} are all that decouples {}, and less than {} does next to nothing",
            say(f.farads, Unit::Farad),
            f.rail,
            say(LEAST, Unit::Farad),
        ),
        None => format!("nothing decouples {}", f.rail),
    };
    let would = match f.capacitor {
        Some(capacitor) => format!("100 nF as {capacitor}"),
        None => format!("100 nF from {} to gnd", f.rail),
    };
    let message = format!(
        "{} is fed through {} and {lacks}: its own current moves its rail, and the loop closes over the supply. {would}, at the pins, would hold it.",
        f.amplifier, f.series,
    );
    let entry = format!("{} -- {{}} 100n -- gnd", f.rail);
    let mend = match f.capacitor {
        Some(capacitor) => Mend::Value { part: capacitor.into(), value: "100n".into() },
        None => Mend::Part { class: "C", entry },
    };
    Some(Finding::new(ID, message, &[f.amplifier, f.rail]).mend(mend))
}
