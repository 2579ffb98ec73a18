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
    /// Another rail of the same supply, if it is the voltage between the two.
    pub to: Option<&'a str>,
    /// In volts from gnd or from the other rail; of a source rms.
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
    let (what, where_) = match f.to {
        None => (format!("from {}", f.name), "it is at"),
        Some(other) => (format!("between {} and {other}", f.name), "they differ by"),
    };
    let message = format!(
        "A shock {what} can injure or kill: {where_} {}, and bare contacts may be touched up to {} {kind} in dry places (IEC 61140), less in wet ones. Insulation, discharge of what stays charged, and a fuse are part of the design; local rules and a licensed practitioner decide.",
        say(f.volts, Unit::Volt),
        say(limit, Unit::Volt),
    );
    let names: Vec<&str> = std::iter::once(f.name).chain(f.to).collect();
    Some(Finding::new(ID, message, &names))
}
