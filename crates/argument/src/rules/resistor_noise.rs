//! A resistor that makes most of the noise.

use super::Finding;
use super::say::{percent, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "resistor-noise";
/// The share of the noise power at the output that one resistor may make. Common practice, no source.
pub const MOST: f64 = 0.6;
/// Noise this far below the source's level, 100 dB, troubles nobody.
pub const QUIET: f64 = 1e-5;

/// What makes the noise at an output.
pub struct Figures<'a> {
    /// The resistor.
    pub resistor: &'a str,
    /// In ohms.
    pub ohms: f64,
    /// Where it is heard.
    pub output: &'a str,
    /// Its share of the power.
    pub share: f64,
    /// The share of all amplifiers.
    pub amplifiers: f64,
    /// The noise at the output, in volts rms.
    pub noise: f64,
    /// The signal there at the source's level, in volts rms.
    pub signal: f64,
}

/// Holds the resistor's share against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !(f.share > MOST && f.amplifiers > 0.0) || f.noise < QUIET * f.signal {
        return None;
    }
    let message = format!(
        "{} ({}) makes {} of the noise at {}, all amplifiers together {}: a quieter type would change nothing. A lower resistance there would make less, with the feedback lowered alike where it sets a gain.",
        f.resistor,
        say(f.ohms, Unit::Ohm),
        percent(f.share),
        f.output,
        percent(f.amplifiers),
    );
    Some(Finding::new(ID, message, &[f.resistor, f.output]))
}
