//! A loop that is short of phase where its gain is 1.

use super::Finding;
use super::say::{at, below, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "phase-margin-low";
/// The least phase margin in degrees. 45° rings by about a quarter of a step; common practice, no source.
pub const LEAST: f64 = 45.0;
/// The same for a type with a minimum gain: its second pole is put where 45° are left at that gain, which is a guess of the sheet's
/// meaning, so 10° are given away. Common practice, no source.
pub const GUESSED: f64 = 35.0;

/// Where a loop crosses 1.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Where the controls stand.
    pub position: &'a str,
    /// In degrees.
    pub margin: f64,
    /// The type has a minimum gain.
    pub decompensated: bool,
    /// In hertz.
    pub crossing: f64,
    /// A capacitance at the − input that is no feedback, by its part.
    pub at_input: Option<&'a str>,
    /// A capacitance at the output, by its part.
    pub at_output: Option<&'a str>,
    /// A resistor between the output and that capacitance, too small to keep it out of the loop, with its ohms.
    pub build_out: Option<(&'a str, f64)>,
    /// The output is the − input: there is no feedback resistor.
    pub follower: bool,
}

/// Holds the margin against the limit.
pub fn judge(f: &Figures) -> Option<Finding> {
    let least = if f.decompensated { GUESSED } else { LEAST };
    if !below(f.margin, least) {
        return None;
    }
    let mut names = vec![f.amplifier];
    let larger;
    let (cause, mend) = match (f.at_output, f.at_input) {
        (Some(c), _) => {
            names.push(c);
            match f.build_out {
                Some((resistor, ohms)) => {
                    names.push(resistor);
                    larger = format!("{resistor} of 47 Ω or more would take it out of the loop");
                    (format!(": {c} behind {resistor} ({}) turns the loop back", say(ohms, Unit::Ohm)), &*larger)
                }
                None => (
                    format!(": {c} at its output turns the loop back"),
                    "47 Ω in front of it, the feedback taken before, would take it out of the loop",
                ),
            }
        }
        (None, Some(c)) => {
            names.push(c);
            (
                format!(": {c} at its − input turns the loop back"),
                "a small capacitor across the feedback resistor would turn it forward again",
            )
        }
        (None, None) if f.follower => (
            ": what its output drives turns the loop back".into(),
            "47 Ω between the output and what it drives, the feedback taken before, would turn it forward again",
        ),
        (None, None) => (
            ": the loop is turned back by what lies around it".into(),
            "a small capacitor across the feedback resistor, or lower resistances there, would turn it forward again",
        ),
    };
    // Beside the limit a tenth tells on which side it is.
    let digits = usize::from(least - f.margin < 1.0);
    let margin = format!("{:.digits$}", f.margin);
    let message = format!(
        "{} has {margin}° of phase margin at {}{}{cause}. Under {least:.0}° it rings; {mend}.",
        f.amplifier,
        say(f.crossing, Unit::Hertz),
        at(f.position),
    );
    Some(Finding::new(ID, message, &names))
}
