//! A part that is compensated for a minimum gain only, in a loop whose noise gain is lower.

use super::Finding;
use super::say::{at, below, say};
use quantity::{Style, Unit};

/// The rule.
pub const ID: &str = "below-minimum-gain";
/// How far below its minimum gain a part may be used: a share of it. The maker's figure is a limit; 2 % is for rounding.
pub const SLACK: f64 = 0.98;

/// Where a decompensated part's loop crosses 1.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Its type.
    pub kind: &'a str,
    /// Where the controls stand.
    pub position: &'a str,
    /// The noise gain at the crossing.
    pub noise_gain: f64,
    /// In hertz.
    pub crossing: f64,
    /// The least noise gain that the sheet allows.
    pub minimum: f64,
    /// A capacitor from the output straight to the − input.
    pub capacitor: Option<&'a str>,
}

/// Holds the noise gain against the sheet's minimum.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !below(f.noise_gain, SLACK * f.minimum) {
        return None;
    }
    let times = |x: f64| quantity::ratio(x, Style::default()).unwrap_or_default();
    let mut names = vec![f.amplifier];
    let cause = match f.capacitor {
        Some(c) => {
            names.push(c);
            format!("{c} takes it down at high frequencies: without it, or with a resistor in series")
        }
        None => "a type that is stable as a follower, or a resistor across the inputs".to_string(),
    };
    let tail = if f.capacitor.is_some() { ", the noise gain would stay up" } else { ", is the usual way out" };
    let message = format!(
        "{}, a {}, is made for noise gains from {} on, and its loop crosses 1 at {}{} with a noise gain of {}: it rings or oscillates. {}{tail}.",
        f.amplifier,
        f.kind,
        times(f.minimum),
        say(f.crossing, Unit::Hertz),
        at(f.position),
        times(f.noise_gain),
        capital(&cause),
    );
    Some(Finding::new(ID, message, &names))
}

/// A sentence's first letter; names have theirs already.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + chars.as_str())
}
