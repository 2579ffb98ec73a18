//! An amplifier of a package that is named and left hanging.

use super::Finding;

/// The rule.
pub const ID: &str = "unused-amplifier";

/// An amplifier that nothing else stands at.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Its nodes: + input, − input, output.
    pub nodes: [&'a str; 3],
}

/// Says how it is put to rest.
pub fn judge(f: &Figures) -> Option<Finding> {
    let [plus, minus, out] = f.nodes;
    let message = format!(
        "{} is named and not used, and its inputs hang in the air: it swings from rail to rail with whatever it picks up, and its neighbour in the package hears it. As a follower of gnd it is quiet: `+ gnd, - {out}, out {out}`.",
        f.amplifier,
    );
    Some(Finding::new(ID, message, &[f.amplifier, plus, minus, out]))
}
