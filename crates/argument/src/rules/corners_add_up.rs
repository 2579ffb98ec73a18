//! Stages that keep to the band one by one and not together.

use super::Finding;
use super::say::{above, db, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "corners-add-up";
/// What a chain may lose at an edge of the band against the reference, 3 dB: the corner's own definition.
pub const MOST: f64 = std::f64::consts::SQRT_2;
/// A stage that loses more than this by itself, 3 dB, is no matter of adding up.
pub const ALONE: f64 = std::f64::consts::SQRT_2;
/// A stage that loses more than this, 0.5 dB, has a share in it.
pub const SHARE: f64 = 1.059_253_725_177_29;

/// A chain at an edge of the band.
pub struct Figures<'a> {
    /// Where it ends.
    pub output: &'a str,
    /// The edge, in hertz.
    pub edge: f64,
    /// What each stage loses there against the reference, as a ratio above 1, by its name.
    pub losses: &'a [(String, f64)],
    /// What all of them lose together.
    pub together: f64,
}

/// Holds the sum against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    let having: Vec<&(String, f64)> = f.losses.iter().filter(|l| l.1 > SHARE).collect();
    if !above(f.together, MOST) || having.len() < 2 || f.losses.iter().any(|l| l.1 > ALONE) {
        return None;
    }
    let each: Vec<String> = having.iter().map(|l| format!("{} {}", l.0, db(l.1))).collect();
    let message = format!(
        "At {}, the band's edge, {} is down by {} though no stage loses 3 dB: {} add up. Corners {:.1} times as far out, stage by stage, would leave 1 dB in all.",
        say(f.edge, Unit::Hertz),
        f.output,
        db(f.together),
        each.join(", "),
        // n equal corners a factor x out lose n·10 log(1 + 1/x²); x for 1 dB in all.
        (10f64.powf(0.1 / having.len() as f64) - 1.0).sqrt().recip()
            / (f.together.powf(2.0 / having.len() as f64) - 1.0).sqrt().recip(),
    );
    let mut names = vec![f.output];
    names.extend(having.iter().map(|l| l.0.as_str()));
    Some(Finding::new(ID, message, &names))
}
