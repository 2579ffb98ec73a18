//! A balanced line whose legs have unequal impedances.

use super::Finding;
use super::say::{above, percent, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "legs-unequal";
/// By how much the legs' impedances may differ, as a share of the larger: 5 %, which is what two resistors of 2 % may come to and
/// leave 60 dB at a receiver of 10 kΩ behind 50 Ω. Common practice, no source.
pub const MOST: f64 = 0.05;

/// A difference below this, in ohms, is none: beside a receiver's 10 kΩ to gnd 0.1 Ω leaves 100 dB, which no receiver's own parts reach.
pub const NONE: f64 = 0.1;

/// A pair's legs.
pub struct Figures<'a> {
    /// The pair.
    pub pair: &'a str,
    /// The legs' nodes.
    pub nodes: [&'a str; 2],
    /// Their impedances at the reference, in ohms.
    pub ohms: [f64; 2],
    /// The reference, in hertz.
    pub hertz: f64,
}

/// Holds the difference against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    let [a, b] = f.ohms;
    let (small, large) = (a.min(b), a.max(b));
    if !above(large - small, MOST * large) || large - small < NONE {
        return None;
    }
    let message = format!(
        "{} has {} at {} and {} at {} for {}, {} apart: what the cable picks up alike turns into a difference. Equal impedances, signal or not, are what balance is; the leg with less wants {} more.",
        f.pair,
        say(a, Unit::Ohm),
        f.nodes[0],
        say(b, Unit::Ohm),
        f.nodes[1],
        say(f.hertz, Unit::Hertz),
        percent((large - small) / large),
        say(large - small, Unit::Ohm),
    );
    Some(Finding::new(ID, message, &[f.pair, f.nodes[0], f.nodes[1]]))
}
