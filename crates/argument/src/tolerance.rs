//! Requirements over tolerance: whether a limit holds in every build that was found, and in how many.

use analysis::tolerance::share::Share;
use analysis::tolerance::{Extreme, Study, Weight};
use analysis::{Kind, Reading};
use circuit::LimitPiece;

use crate::require::{Verdict, in_turn, in_unit, inside, margin};

/// What was decided over tolerance.
#[derive(Clone, Debug, PartialEq)]
pub struct Over {
    /// The verdict: it holds where the worst that was found keeps to the limit.
    pub verdict: Verdict,
    /// The worst that was found, in the limit's unit.
    pub value: f64,
    /// How far inside the limit that is (below 0: outside), in the limit's unit.
    pub margin: f64,
    /// The limit's end that it is nearest to.
    pub limit: f64,
    /// Lowest and highest that was found, in the limit's unit.
    pub range: [f64; 2],
    /// Where the worst was found.
    pub worst: Extreme,
    /// The builds that keep to the limit; one that cannot be read does not.
    pub share: Share,
    /// The parts that matter most for the worst, largest first.
    pub weights: Vec<Weight>,
    /// What was found keeps to the limit; the verdict is another where some builds cannot be read.
    pub kept: bool,
    /// How many of the drawn builds cannot be read, as where a preset does not reach its goal, and why the first of them cannot.
    pub unread: Option<(usize, String)>,
}

/// Holds a study against a limit.
pub fn over(study: &Study, reading: &Reading, limit: &LimitPiece) -> Over {
    let unit = |x: f64| in_unit(reading.kind, x, limit);
    // Angles are wrapped together, so that no turn falls between the ends of one build.
    let both = |[a, b]: [f64; 2]| match reading.kind {
        Kind::Phase => in_turn([a, b], limit),
        _ => [unit(a), unit(b)],
    };
    let range = both([study.low.value, study.high.value]);
    let [low, high] = range.map(|x| margin(x, limit));
    let (value, (margin_found, end), worst, weights) = if low.0 <= high.0 {
        (range[0], low, &study.low, &study.low_weights)
    } else {
        (range[1], high, &study.high, &study.high_weights)
    };
    let keeps = |x: f64| {
        let (margin, end) = margin(x, limit);
        inside(x, margin, end, limit)
    };
    let good = study.seen.iter().filter(|ends| both(**ends).into_iter().all(keeps)).count();
    let kept = keeps(range[0]) && keeps(range[1]);
    Over {
        verdict: if kept && study.unread.is_none() { Verdict::Holds } else { Verdict::Fails },
        value,
        margin: margin_found,
        limit: end,
        range,
        worst: worst.clone(),
        share: Share::of(good, study.builds),
        weights: weights.clone(),
        kept,
        unread: study.unread.clone(),
    }
}
