//! An odd number of inversions between the source and the hot leg.

use super::Finding;
use super::Mend;
use super::say::below;
use quantity::Style;

/// The rule.
pub const ID: &str = "hot-leg-inverted";

/// A pair's hot leg.
pub struct Figures<'a> {
    /// The pair.
    pub pair: &'a str,
    /// Its nodes.
    pub nodes: [&'a str; 2],
    /// The source.
    pub source: &'a str,
    /// The gain from the source to hot minus cold at the reference, real part.
    pub gain: f64,
    /// The amplifiers on the way that turn the signal over.
    pub inverting: &'a [String],
}

/// Says which leg is which.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !below(f.gain, 0.0) {
        return None;
    }
    let by = match f.inverting {
        [] => String::new(),
        [one] => format!(", turned over by {one}"),
        [head @ .., last] => format!(", turned over by {} and {last} an odd number of times", head.join(", ")),
    };
    let message = format!(
        "{}'s hot leg, {}, falls where {} rises{by} (gain −{}): a recording from here and one from elsewhere cancel where they should add. With {} as hot and {} as cold the pair is right.",
        f.pair,
        f.nodes[0],
        f.source,
        quantity::ratio(-f.gain, Style::default()).unwrap_or_default().trim_start_matches('×'),
        f.nodes[1],
        f.nodes[0],
    );
    Some(Finding::new(ID, message, &[f.pair, f.nodes[0]]).mend(Mend::Swap { pair: f.pair.into() }))
}
