//! A taper that does its work at one end of the travel.

use super::Finding;
use super::Mend;
use super::say::db;

/// The rule.
pub const ID: &str = "taper-unsuited";
/// The share of the range in decibels that half the travel should do, at the least and at the most. Common practice, no source.
pub const HALF: [f64; 2] = [0.2, 0.8];
/// What a control that goes down to nothing should take away at half travel, at the least: 10 dB; a linear one takes 6 dB, the
/// trade's logarithmic one 20 dB. Common practice, no source.
pub const MUTED: f64 = 10.0;
/// What the logarithmic one takes.
const USUAL: f64 = 20.0;
/// Less range than this, in decibels, is no matter of a taper.
pub const RANGE: f64 = 12.0;
/// A ratio below this is nothing: the control goes down to no signal.
pub const NOTHING: f64 = 1e-4;

/// What a control does to the level behind it.
pub struct Figures<'a> {
    /// The control.
    pub control: &'a str,
    /// The taper's word: `lin`, `log15`.
    pub taper: &'a str,
    /// The level at 0 %, 50 % and 100 % of the travel.
    pub level: [f64; 3],
    /// The level at half travel with each of the trade's laws.
    pub laws: [(&'a str, f64); 3],
}

/// Holds the middle of the travel against the limits.
pub fn judge(f: &Figures) -> Option<Finding> {
    let [start, middle, end] = f.level;
    let (least, most) = (start.min(end), start.max(end));
    if !(most > 0.0 && middle > 0.0) {
        return None;
    }
    // How far a law's middle is from where it should be, and whether that is far enough.
    let muted = least < NOTHING * most;
    let range = quantity::db(end / start);
    let miss = |middle: f64| {
        let below = quantity::db(most / middle);
        let share = quantity::db(middle / start) / range;
        if muted {
            ((below - USUAL).abs(), below < MUTED)
        } else {
            ((share - 0.5).abs(), !(HALF[0]..=HALF[1]).contains(&share))
        }
    };
    if !miss(middle).1 || (!muted && range.abs() < RANGE) {
        return None;
    }
    let best = f.laws.into_iter().reduce(|a, b| if miss(b.1).0 < miss(a.1).0 { b } else { a })?;
    if best.0 == f.taper || miss(best.1).0 >= miss(middle).0 {
        return None;
    }
    let what = if muted {
        let silent = if end >= start { "0 %" } else { "100 %" };
        format!("takes away {} at half travel and everything at {silent}", db(most / middle))
    } else {
        format!(
            "does {} of its {} in the first half of its travel",
            db(middle.max(start) / middle.min(start)),
            db(most / least)
        )
    };
    let message = format!(
        "{} ({}) {what}: the ear hears in ratios, and the control is crowded at one end. A {} track would spread it.",
        f.control, f.taper, best.0
    );
    let mend = Mend::Word { part: f.control.into(), from: f.taper.into(), to: best.0.into() };
    Some(Finding::new(ID, message, &[f.control]).mend(mend))
}
