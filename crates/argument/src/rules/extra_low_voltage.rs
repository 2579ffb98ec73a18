//! A voltage that is not safe to touch.

use super::Finding;
use super::say::{above, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "extra-low-voltage";
/// The direct voltage, without ripple, up to which bare contacts may be touched in dry places: 60 V (IEC 61140).
pub const DIRECT: f64 = 60.0;
/// The same for alternating voltage, rms: 25 V (IEC 61140).
pub const ALTERNATING: f64 = 25.0;

/// A rail or a source.
pub struct Figures<'a> {
    /// Its name.
    pub name: &'a str,
    /// In volts from gnd; of a source rms.
    pub volts: f64,
    /// It is a source.
    pub alternating: bool,
}

/// Holds the voltage against the standard's.
pub fn judge(f: &Figures) -> Option<Finding> {
    let (limit, kind) = if f.alternating { (ALTERNATING, "alternating") } else { (DIRECT, "direct") };
    if !above(f.volts.abs(), limit) {
        return None;
    }
    let message = format!(
        "A shock from {} can injure or kill: it is at {}, and bare contacts may be touched up to {} {kind} in dry places (IEC 61140), less in wet ones. Insulation, discharge of what stays charged, and a fuse are part of the design; local rules and a licensed practitioner decide.",
        f.name,
        say(f.volts, Unit::Volt),
        say(limit, Unit::Volt),
    );
    Some(Finding::new(ID, message, &[f.name]))
}
