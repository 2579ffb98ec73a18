//! An amplifier's output that would rest beyond what it can reach: it stays at a rail, and no signal moves it.

use super::Finding;
use super::say::{at, say};
use quantity::Unit;

/// The rule.
pub const ID: &str = "rests-beyond-rails";
/// How far outside of its reach an output may rest, as a share of the reach: rounding only.
pub const SLACK: f64 = 1e-6;

/// Where an output would rest.
pub struct Figures<'a> {
    /// The amplifier.
    pub amplifier: &'a str,
    /// Where the controls stand.
    pub position: &'a str,
    /// Volts at the output, as the resistances would have it.
    pub volts: f64,
    /// Its rails, the lower first.
    pub rails: [f64; 2],
    /// How far the output goes: the rails without what the sheet takes off.
    pub swing: [f64; 2],
    /// A signal comes to the output: one that is meant to stand still may stand at the end of its swing.
    pub signal: bool,
    /// Volts at the + input.
    pub input: f64,
    /// A resistor from the − input to a fixed voltage through which direct current flows, and where it ends.
    pub leg: Option<(&'a str, &'a str)>,
}

/// Holds where the output would rest against its rails, and with a signal against its swing.
pub fn judge(f: &Figures) -> Option<Finding> {
    let ([low, high], [least, most]) = (f.rails, f.swing);
    let slack = SLACK * (high - low);
    let beyond = f.volts > high + slack || f.volts < low - slack;
    let tight = f.signal && (f.volts >= most - slack || f.volts <= least + slack);
    if !(beyond || tight) {
        return None;
    }
    let rails = format!("{} … {}", say(low, Unit::Volt), say(high, Unit::Volt));
    let (stands, so) = if beyond {
        (
            format!(
                "would have to rest at {}{}, beyond its rails of {rails}",
                say(f.volts, Unit::Volt),
                at(f.position)
            ),
            "it stays at a rail, and no signal comes through",
        )
    } else {
        (
            format!(
                "rests at {}{}, where its output, which goes from {} to {} on rails of {rails}, has no room",
                say(f.volts, Unit::Volt),
                at(f.position),
                say(least, Unit::Volt),
                say(most, Unit::Volt),
            ),
            "half of a signal is cut off",
        )
    };
    let bias = if low < 0.0 && high > 0.0 {
        "a bias of 0 V there (a resistor to gnd)".to_string()
    } else {
        let middle = say(0.5 * (low + high), Unit::Volt);
        format!(
            "a bias of half the supply there, {middle} (two equal resistors between the rails, a capacitor across the lower)"
        )
    };
    let mut names = vec![f.amplifier];
    let inside = f.input > least + slack && f.input < most - slack;
    let why = match f.leg {
        // Without direct current in the leg the − input and with it the output rest where the + input does.
        Some((leg, to)) if inside => {
            names.push(leg);
            let input = say(f.input, Unit::Volt);
            format!(
                "The gain at rest multiplies what its + input, at {input}, is away from {to}: a capacitor in series with {leg} brings the gain at rest to 1, and the output to {input}."
            )
        }
        None if inside => {
            let input = say(f.input, Unit::Volt);
            format!(
                "Direct current into its − input does that: a capacitor where the signal comes in there keeps the output at {input}, where the + input is."
            )
        }
        _ => {
            let leg = f.leg.map_or_else(String::new, |(leg, _)| {
                names.push(leg);
                format!(" and a capacitor in series with {leg}")
            });
            format!("Its + input is at {}: {bias}{leg} puts the output in the middle.", say(f.input, Unit::Volt))
        }
    };
    Some(Finding::new(ID, format!("{} {stands}: {so}. {why}", f.amplifier), &names))
}
