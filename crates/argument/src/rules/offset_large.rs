//! An offset that eats the swing at the highest gain.

use super::Finding;
use super::say::{above, at, percent, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "offset-large";
/// The share of the swing on one side that an offset may take: a quarter costs 2.5 dB of headroom. Common practice, no source.
pub const MOST: f64 = 0.25;

/// An output's offset beside its room.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Where the controls make it largest.
    pub position: &'a str,
    /// In volts, magnitudes added.
    pub offset: f64,
    /// From rest to the nearer end of the swing, in volts.
    pub room: f64,
    /// The output is the − input: the gain is 1.
    pub follower: bool,
}

/// Holds the offset against the room.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.offset, MOST * f.room) {
        return None;
    }
    let why = if f.follower {
        "a follower has no gain to blame, but its bias current times the resistance that its + input sees comes out, as does what stands before it. A lower resistance there, or a type of less bias current, helps."
    } else {
        "the same gain serves signal and offset. A capacitor in series with the leg to gnd takes the gain at rest down to 1; equal resistances at both inputs, or a type of less offset, help too."
    };
    // Beyond its rails it does not go: it stands at one of them.
    let stands = if f.offset > f.room { "it may stand at a rail and pass nothing; " } else { "" };
    let message = format!(
        "{}'s offsets and bias currents may move its output by {}{}, {} the {} that it can swing: {stands}{why}",
        f.amplifier,
        say(f.offset, Unit::Volt),
        at(f.position),
        if f.offset <= f.room { percent(f.offset / f.room) + " of" } else { percent(f.offset / f.room) },
        say(f.room, Unit::Volt),
    );
    Some(Finding::new(ID, message, &[f.amplifier]))
}
