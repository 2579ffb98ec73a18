//! An amplifier's terminal that rests beyond its own rails: a phantom supply that reaches a part, say.

use super::Finding;
use super::say::{above, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "input-beyond-rails";
/// How far beyond a rail a terminal may rest, 0.3 V: there the junctions to the substrate begin to conduct. From memory; it is the
/// usual line of a sheet's absolute ratings.
pub const MOST: f64 = 0.3;
/// From here on a voltage is a phantom supply's, 44 V: IEC 61938 gives 48 V within 4 V. From memory.
pub const PHANTOM: f64 = 44.0;

/// A terminal at rest.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// `+ input`, `− input`.
    pub terminal: &'a str,
    /// The node.
    pub node: &'a str,
    /// Volts at rest.
    pub volts: f64,
    /// Its rails, the lower first.
    pub rails: [f64; 2],
    /// The rail that the voltage comes from.
    pub from: Option<&'a str>,
}

/// Holds the voltage against the rails.
pub fn judge(f: &Figures) -> Option<Finding> {
    let [low, high] = f.rails;
    let beyond = (low - f.volts).max(f.volts - high);
    if !above(beyond, MOST) {
        return None;
    }
    let from = f.from.map_or_else(String::new, |r| format!(" from {r}"));
    let phantom = if f.volts.abs() > PHANTOM {
        " A coupling capacitor rated for it, and diodes to the rails for the charge when it is plugged, stand between a phantom supply and a part; switch it off before plugging."
    } else {
        " A capacitor in between, or a divider, keeps it inside."
    };
    let message = format!(
        "{}'s {} at {} rests at {}{from}, {} beyond its rails of {} … {}: current flows into the part where none should, and destroys it.{phantom}",
        f.amplifier,
        f.terminal,
        f.node,
        say(f.volts, Unit::Volt),
        say(beyond, Unit::Volt),
        say(low, Unit::Volt),
        say(high, Unit::Volt),
    );
    Some(Finding::new(ID, message, &[f.amplifier, f.node]))
}
