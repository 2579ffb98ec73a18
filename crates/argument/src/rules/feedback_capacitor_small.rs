//! A feedback capacitor no larger than what the board adds.

use super::Finding;
use super::Mend;
use super::say::{below, say, written};
use quantity::Unit;

/// The rule.
pub const ID: &str = "feedback-capacitor-small";
/// What is no more than strays: 2 pF. A resistor's own ends and the board between two pins make about 0.5 to 2 pF. Common
/// practice, no source.
pub const LEAST: f64 = 2e-12;
/// The least that a board keeps to.
pub const KEPT: f64 = 2.2e-12;

/// A capacitor from an output to the − input.
pub struct Figures<'a> {
    /// The capacitor.
    pub capacitor: &'a str,
    /// In farads.
    pub farads: f64,
    /// The amplifier.
    pub amplifier: &'a str,
    /// What a board keeps would not cut into the band.
    pub kept: bool,
}

/// Holds the capacitance against the strays.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !below(f.farads, LEAST) {
        return None;
    }
    let message = format!(
        "{} ({}) across {}'s feedback is no more than the board's own capacitance there: what comes out is decided by the layout. {} and more, with lower resistances if the pole must stay, is a value that a board keeps.",
        f.capacitor,
        say(f.farads, Unit::Farad),
        f.amplifier,
        say(KEPT, Unit::Farad),
    );
    let finding = Finding::new(ID, message, &[f.capacitor, f.amplifier]);
    // Another value alone is no way out where the next rule would take it back.
    Some(if f.kept {
        finding.mend(Mend::Value { part: f.capacitor.into(), value: written(KEPT, Unit::Farad) })
    } else {
        finding
    })
}
