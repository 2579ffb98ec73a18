//! An amplifier's output straight at a cable.

use super::say::say;
use super::{Finding, Mend};
use quantity::Unit;

/// The rule.
pub const ID: &str = "line-without-build-out";
/// The capacitance that counts as a cable, 100 pF: about a metre. Common practice, no source.
pub const LEAST: f64 = 100e-12;

/// An output at a line.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Its output's node.
    pub output: &'a str,
    /// What the line is: an external capacitor with its value, or a pair.
    pub line: &'a str,
    /// Its capacitance, in farads, where it is drawn.
    pub farads: Option<f64>,
}

/// Says what would stand between.
pub fn judge(f: &Figures) -> Option<Finding> {
    if f.farads.is_some_and(|c| c < LEAST) {
        return None;
    }
    let line = match f.farads {
        Some(c) => format!("{} ({})", f.line, say(c, Unit::Farad)),
        None => f.line.to_string(),
    };
    let message = format!(
        "{}'s output stands straight at the line, {line}, at {}: the cable's capacitance takes phase from its loop, and a short outside is a short at its output. 47 Ω in between, the feedback taken before it, keep both away.",
        f.amplifier, f.output,
    );
    let mend = Mend::BuildOut { amplifier: f.amplifier.into(), node: f.output.into(), value: "47".into() };
    Some(Finding::new(ID, message, &[f.amplifier, f.output, f.line]).mend(mend))
}
