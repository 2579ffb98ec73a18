//! An amplifier's loop as the reviewer's rules ask for it: what is left of its gain at a frequency, and where it crosses 1.
//!
//! The loop is the one of [`super::margin`], with the same equations. There every crossing is found; here the highest one is,
//! which takes far less where everything hangs together: it is looked for from far above on, where every loop has less than 1.

use std::f64::consts::{PI, TAU};
use std::sync::Arc;

use circuit::{Circuit, ControlId, Measure, Name, PartId, Quantity, Query};
use num_complex::Complex64;
use pencil::{Column, Excitation, Excited, Functional, Lane, Order, Solver, Structure, restrict};

use super::margin::{Amplifier, lacking};
use super::{Bench, Whole};
use crate::positions::Hands;
use crate::reading::Place;
use crate::values::typical;

/// Positions of the controls in the loop that are looked at.
const POSITIONS: usize = 27;
/// A loop is looked at from this multiple of the gain-bandwidth product on downwards.
const ABOVE: f64 = 4.0;
/// … down to this share of it: below lie loops with a noise gain of a hundred thousand.
const BELOW: f64 = 1e-5;
/// Places in that span, at equal ratios.
const PLACES: usize = 48;
/// A crossing is narrowed down this many times, to an eighth each time.
const NARROWER: usize = 5;

/// A loop at one position of the controls that move it.
#[derive(Clone, Debug, PartialEq)]
pub struct Loop {
    /// The position; empty at rest.
    pub position: Name,
    /// |T| at the frequency asked for.
    pub left: f64,
    /// The highest crossing of |T| = 1.
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
    let query = Query::of(Quantity::Measure(Measure::PhaseMargin(part)));
    let bench = Bench { whole, circuit, query: &query, place: Place::At(circuit.reference), pulse };
    let amplifier = Amplifier::of(&bench, part)?;
    if let Some(why) = lacking(&bench, part, &amplifier) {
        return Err(why);
    }
    let sheet = bench.sheet(part);
    let ohms = sheet.output_resistance.nominal().unwrap_or(0.0);
    let bandwidth = sheet.datum("gain bandwidth", &sheet.gain_bandwidth)?;
    let minimum = sheet.minimum_gain.nominal().filter(|_| amplifier.known.second);
    let second = minimum.map_or(0.0, |n| crate::values::second_delay(n, bandwidth));
    let probe = Probe::of(&bench, &amplifier, ohms).ok_or("it has no loop")?;
    let hands = Hands::of(circuit);
    let mut found = Vec::new();
    for stand in hands.examined(&within(whole, &amplifier), POSITIONS) {
        pulse();
        if let Some(why) = &stand.unknown {
            return Err(why.to_string());
        }
        let values = bench.values(&stand)?;
        let [inverse_gain, inverse_bandwidth] = amplifier.own(&bench, &values);
        let t = |hertz: &[f64]| -> Result<Vec<Complex64>, String> {
            pulse();
            let rows = probe.ratio(whole, &values, hertz)?;
            let one = |(x, f): (Complex64, &f64)| -x / Complex64::new(inverse_gain, TAU * f * inverse_bandwidth);
            Ok(rows.into_iter().zip(hertz).map(one).collect())
        };
        let left = t(&[hertz])?[0].norm();
        let crossing = crossing(bandwidth, &t)?.map(|(hertz, value)| {
            let angle = value.arg();
            let apart = if angle > 0.0 { angle - PI } else { angle + PI };
            let own = inverse_gain.hypot(TAU * hertz * inverse_bandwidth) * 1f64.hypot(TAU * hertz * second);
            Crossing { hertz, margin: apart.to_degrees().abs(), noise_gain: 1.0 / own }
        });
        found.push(Loop { position: stand.name, left, crossing });
    }
    Ok(found)
}

/// What comes back for what an amplifier's gain makes, solved in the part of the circuit that is in the loop.
struct Probe {
    solver: Solver,
    excitation: Excitation,
    wanted: [Functional; 2],
}

impl Probe {
    /// `None` where nothing leads from the output back to the inputs.
    fn of(bench: &Bench, amplifier: &Amplifier, ohms: f64) -> Option<Probe> {
        let sound = &bench.whole.sound;
        let terms = [amplifier.difference(), amplifier.made(ohms)];
        let rows: Vec<u32> = terms.iter().flatten().map(|t| t.0).collect();
        let excited = Excited { equations: &[amplifier.law], givens: &[] };
        let part = restrict(&sound.pencil, &sound.structure, excited, &rows);
        let law = part.equation(amplifier.law)?;
        // Where the loop is most of the circuit, the order of the whole is there already.
        if 2 * part.pencil.unknowns() as usize > sound.structure.size() {
            let wanted = terms.map(|t| bench.functional(&t));
            return Some(Probe {
                solver: bench.solver(),
                excitation: bench.excitation(&[(amplifier.law, 1.0)]),
                wanted,
            });
        }
        let structure = Structure::of(&part.pencil).ok()?;
        let order = Order::compile(&part.pencil, &structure, &typical(&bench.whole.network));
        let functional = |terms: Vec<(u32, f64)>| {
            let terms = terms.into_iter().filter_map(|(u, c)| Some((Column::Unknown(part.unknown(u)?), c)));
            Functional { terms: terms.collect() }
        };
        Some(Probe {
            solver: Solver::new(&order),
            excitation: Excitation::equation(law),
            wanted: terms.map(functional),
        })
    }

    /// (v₊ − v₋)/x at each frequency.
    fn ratio(&self, whole: &Whole, values: &[f64], hertz: &[f64]) -> Result<Vec<Complex64>, String> {
        let lanes: Vec<Lane> = hertz.iter().map(|f| Lane { s: Complex64::new(0.0, TAU * f), values }).collect();
        let all = self.solver.solve(&lanes, &self.excitation, &self.wanted);
        let all: Result<Vec<Complex64>, String> =
            all.into_iter().map(|x| x.map_err(|why| whole.reason(&why))).collect();
        Ok(all?.chunks(2).map(|row| row[0] / row[1]).collect())
    }
}

/// A loop's gain at frequencies.
type Gain<'a> = &'a dyn Fn(&[f64]) -> Result<Vec<Complex64>, String>;

/// The highest crossing of |T| = 1 below a multiple of the gain-bandwidth product, with T there.
fn crossing(bandwidth: f64, t: Gain) -> Result<Option<(f64, Complex64)>, String> {
    let span = |low: f64, high: f64, count: usize| -> Vec<f64> {
        (0..=count).map(|k| high * (low / high).powf(k as f64 / count as f64)).collect()
    };
    let (mut low, mut high) = (BELOW * bandwidth, ABOVE * bandwidth);
    let mut count = PLACES;
    for _ in 0..NARROWER {
        let places = span(low, high, count);
        let gains = t(&places)?;
        // From above on: the first place at which the loop has 1 and more.
        let Some(k) = gains.iter().position(|g| g.norm() >= 1.0) else { return Ok(None) };
        if k == 0 {
            return Ok(None);
        }
        (low, high) = (places[k], places[k - 1]);
        count = 8;
    }
    let at = low.sqrt() * high.sqrt();
    Ok(Some((at, t(&[at])?[0])))
}

/// The controls whose numbers stand in an amplifier's own block.
fn within(whole: &Whole, amplifier: &Amplifier) -> Vec<ControlId> {
    let sound = &whole.sound;
    let Some(block) = sound.structure.blocks().iter().find(|b| b.equations.contains(&amplifier.law)) else {
        return Vec::new();
    };
    let mut inside = vec![false; sound.structure.size()];
    block.equations.iter().for_each(|e| inside[*e as usize] = true);
    let here = |s: &&pencil::Stamp| s.rows.iter().any(|(r, _)| inside[*r as usize]);
    let parts = sound.pencil.stamps().iter().filter(here).filter_map(|s| s.value.parameter());
    let mut found: Vec<ControlId> =
        parts.filter_map(|p| whole.network.pieces[whole.network.parameters[p.0 as usize].0.at()].control).collect();
    found.sort();
    found.dedup();
    found
}
