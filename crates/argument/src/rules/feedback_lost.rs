//! Feedback that a switch takes away at some of its positions.

use super::Finding;

/// The rule.
pub const ID: &str = "feedback-lost";

/// An amplifier whose feedback goes through a switch.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Its output's node.
    pub out: &'a str,
    /// The positions at which nothing leads back, of all that were looked at.
    pub positions: &'a [String],
    /// The switches that take it away.
    pub switches: &'a [&'a str],
}

/// Says at which positions it is gone, and what would keep it.
pub fn judge(f: &Figures) -> Option<Finding> {
    let [first, rest @ ..] = f.positions else { return None };
    let more = match rest {
        [] => String::new(),
        [one] => format!(" and at {one}"),
        many => format!(" and at {} more positions", many.len()),
    };
    let message = format!(
        "{} has no feedback at {first}{more}: there nothing leads from {} back to its inputs, and the least offset drives it to a rail. A resistance from {} to its - input that stays when {} moves, or another way back at that position, would hold it.",
        f.amplifier,
        f.out,
        f.out,
        quantity::list(&f.switches.iter().map(|n| n.to_string()).collect::<Vec<_>>(), "or"),
    );
    Some(Finding::new(ID, message, &[&[f.amplifier], f.switches].concat()))
}
