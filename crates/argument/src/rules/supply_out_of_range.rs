//! Rails that a part is not made for.

use super::Finding;
use super::say::say;
use quantity::Unit;

/// The rule.
pub const ID: &str = "supply-out-of-range";

/// An amplifier between its rails.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Its type.
    pub kind: &'a str,
    /// Between its rails, in volts.
    pub volts: f64,
    /// What the sheet allows, in volts.
    pub least: Option<f64>,
    /// What the sheet allows, in volts.
    pub most: Option<f64>,
}

/// Holds the supply against the sheet.
pub fn judge(f: &Figures) -> Option<Finding> {
    let under = f.least.filter(|x| f.volts < x * (1.0 - 1e-9));
    let over = f.most.filter(|x| f.volts > x * (1.0 + 1e-9));
    let (bound, what) = match (under, over) {
        (Some(x), _) => (x, "needs at least"),
        (None, Some(x)) => (x, "stands at most"),
        (None, None) => return None,
    };
    let why = if under.is_some() {
        "with less its stages have no room to work"
    } else {
        "beyond that its junctions break down"
    };
    let message = format!(
        "{} has {} between its rails, and {} {} {what} {}: {why}. Other rails, or a type for these, would do.",
        f.amplifier,
        say(f.volts, Unit::Volt),
        if f.kind.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" },
        f.kind,
        say(bound, Unit::Volt),
    );
    Some(Finding::new(ID, message, &[f.amplifier]))
}
