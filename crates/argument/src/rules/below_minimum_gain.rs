//! A part that is compensated for a minimum gain only, in a loop whose noise gain is lower.

use super::Finding;
use super::say::{at, below, say};
use quantity::{Style, Unit};

/// The rule.
pub const ID: &str = "below-minimum-gain";
/// How far below its minimum gain a part may be used: a share of it. The maker's figure is a limit; 2 % is for rounding.
pub const SLACK: f64 = 0.98;

/// Where a decompensated part's loop crosses 1.
#[derive(Clone, Copy, Debug)]
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
    /// The node of the − input, where that of the + input stands still: what stands from there to gnd leaves the gain alone.
    pub summing: Option<&'a str>,
    /// The output is the − input: nothing is there against which a resistor between the inputs could work.
    pub follower: bool,
}

impl Figures<'_> {
    /// Whether the noise gain is under the sheet's minimum.
    pub fn low(&self) -> bool {
        below(self.noise_gain, SLACK * self.minimum)
    }

    /// What would keep the noise gain up, as a sentence.
    pub fn way(&self) -> String {
        let ways = match (self.capacitor, self.summing) {
            (Some(c), _) => {
                format!("{c} takes it down at high frequencies: without it, or with a resistor in series, it would stay up")
            }
            (None, _) if self.follower => {
                "A follower's noise gain is 1: with a resistor in its feedback and another between its inputs, or a resistor and a capacitor in series there, it would be more"
                    .to_string()
            }
            (None, Some(node)) => format!(
                "More noise gain is the way out: a resistor from {node} to gnd, or a resistor and a capacitor in series, raises it and leaves the gain alone"
            ),
            (None, None) => {
                "More noise gain is the way out: a resistor between its inputs, or a resistor and a capacitor in series, raises it and leaves the gain alone"
                    .to_string()
            }
        };
        format!("{ways}; or a type that is stable at this gain")
    }
}

fn times(x: f64) -> String {
    quantity::ratio(x, Style::default()).unwrap_or_default()
}

/// Holds the noise gain against the sheet's minimum.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !f.low() {
        return None;
    }
    let names: Vec<&str> = std::iter::once(f.amplifier).chain(f.capacitor).collect();
    let message = format!(
        "{} ({}) is made for noise gains from {} on, and its loop crosses 1 at {}{} with a noise gain of {}: by its sheet it may ring or oscillate. {}.",
        f.amplifier,
        f.kind,
        times(f.minimum),
        say(f.crossing, Unit::Hertz),
        at(f.position),
        times(f.noise_gain),
        f.way(),
    );
    Some(Finding::new(ID, message, &names))
}
