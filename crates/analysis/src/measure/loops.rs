//! An amplifier's loop as the reviewer's rules ask for it: what is left of its gain at a frequency, and where it crosses 1.

use std::f64::consts::{PI, TAU};
use std::sync::Arc;

use circuit::{Circuit, ControlId, Measure, Name, PartId, Quantity, Query};

use super::margin::{Amplifier, lacking, loop_gain};
use super::{Bench, Whole};
use crate::positions::Hands;
use crate::reading::Place;

/// Positions of the controls in the loop that are looked at.
const POSITIONS: usize = 27;

/// A loop at one position of the controls that move it.
#[derive(Clone, Debug, PartialEq)]
pub struct Loop {
    /// The position; empty at rest.
    pub position: Name,
    /// |T| at the frequency asked for.
    pub left: f64,
    /// The crossing of |T| = 1 with the least margin.
    pub crossing: Option<Crossing>,
}

/// Where a loop's gain is 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// In hertz.
    pub hertz: f64,
    /// In degrees.
    pub margin: f64,
    /// The amplifier's own gain there, which is the noise gain.
    pub noise_gain: f64,
}

/// An amplifier's loop at rest and at the positions of the controls in it.
///
/// # Errors
/// Why it is not known: the amplifier is ideal, or its sheet lacks what a loop needs.
pub fn loops(
    whole: &Whole,
    circuit: &Arc<Circuit>,
    part: PartId,
    hertz: f64,
    pulse: &dyn Fn(),
) -> Result<Vec<Loop>, String> {
    let query = Query {
        phrase: "".into(),
        quantity: Quantity::Measure(Measure::PhaseMargin(part)),
        at: None,
        over: None,
        when: None,
        from: None,
        against: None,
        curve: None,
        weighting: None,
    };
    let bench = Bench { whole, circuit, query: &query, place: Place::At(circuit.reference), pulse };
    let amplifier = Amplifier::of(&bench, part)?;
    if let Some(why) = lacking(&bench, part, &amplifier) {
        return Err(why);
    }
    let sheet = bench.sheet(part);
    let ohms = sheet.output_resistance.nominal().unwrap_or(0.0);
    let (gain, bandwidth) = (sheet.open_loop_gain.nominal(), sheet.gain_bandwidth.nominal());
    let delay = |n: f64| bandwidth.map(|b| crate::values::second_delay(n, b));
    let second = sheet.minimum_gain.nominal().filter(|_| amplifier.known.second).and_then(delay);
    let own = |f: f64| {
        let [a, b] = [gain.map_or(0.0, |a| 1.0 / a), bandwidth.map_or(0.0, |b| f / b)];
        let second = TAU * f * second.unwrap_or(0.0);
        1.0 / (a.hypot(b) * 1f64.hypot(second))
    };
    let hands = Hands::of(circuit);
    let mut found = Vec::new();
    for stand in hands.examined(&within(whole, &amplifier), POSITIONS) {
        pulse();
        if let Some(why) = &stand.unknown {
            return Err(why.to_string());
        }
        let Some(t) = loop_gain(&bench, &bench.values(&stand)?, &amplifier, ohms)? else {
            return Err("it has no loop".into());
        };
        let apart = |omega: f64| {
            let angle = t.at(omega).arg();
            (if angle > 0.0 { angle - PI } else { angle + PI }).to_degrees().abs()
        };
        let crossings = t.unity()?.into_iter().map(|w| (w / TAU, apart(w)));
        let worst = crossings.reduce(|a, b| if b.1 < a.1 { b } else { a });
        let crossing = worst.map(|(hertz, margin)| Crossing { hertz, margin, noise_gain: own(hertz) });
        found.push(Loop { position: stand.name, left: t.at(TAU * hertz).norm(), crossing });
    }
    Ok(found)
}

/// The controls whose numbers stand in an amplifier's own block.
fn within(whole: &Whole, amplifier: &Amplifier) -> Vec<ControlId> {
    let sound = &whole.sound;
    let Some(block) = sound.structure.blocks().iter().find(|b| b.equations.contains(&amplifier.law)) else {
        return Vec::new();
    };
    let here = |s: &&pencil::Stamp| s.rows.iter().any(|(r, _)| block.equations.contains(r));
    let parts = sound.pencil.stamps().iter().filter(here).filter_map(|s| s.value.parameter());
    let mut found: Vec<ControlId> =
        parts.filter_map(|p| whole.network.pieces[whole.network.parameters[p.0 as usize].0.at()].control).collect();
    found.sort();
    found.dedup();
    found
}
