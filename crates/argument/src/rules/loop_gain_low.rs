//! An amplifier that has too little loop gain left where the band ends.

use super::Finding;
use super::say::{at, below, db, round_up, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "loop-gain-low";
/// The least loop gain at the band's upper edge, 10 dB: below it the closed loop is down by 0.4 dB or more and errors are
/// divided by 3 at most. Common practice, no source.
pub const LEAST: f64 = 3.162_277_660_168_38;

/// What a loop has left.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Where the controls stand.
    pub position: &'a str,
    /// |T| at the band's upper edge.
    pub left: f64,
    /// The band's upper edge, in hertz.
    pub edge: f64,
    /// The gain-bandwidth product, in hertz.
    pub bandwidth: f64,
}

/// Holds the loop gain against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !below(f.left, LEAST) {
        return None;
    }
    let wanted = round_up(f.bandwidth * LEAST / f.left);
    let message = format!(
        "{} has {} of loop gain left at {}{}: its errors are divided by {:.1} there, and the closed loop follows its own roll-off. A type of {} instead of {}, or the gain shared between two stages, would leave {} and more.",
        f.amplifier,
        db(f.left),
        say(f.edge, Unit::Hertz),
        at(f.position),
        1.0 + f.left,
        say(wanted, Unit::Hertz),
        say(f.bandwidth, Unit::Hertz),
        db(LEAST),
    );
    Some(Finding::new(ID, message, &[f.amplifier]))
}
