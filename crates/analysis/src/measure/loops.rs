//! An amplifier's loop as the reviewer's rules ask for it: what is left of its gain at a frequency, and where it crosses 1.
//!
//! The loop is the one of [`super::margin`], with the same equations. There every crossing is found; here the highest one is,
//! which takes far less where everything hangs together: it is looked for from far above on, where every loop has less than 1.

use std::f64::consts::{PI, TAU};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use circuit::{Circuit, ControlId, Measure, Name, PartId, Quantity, Query};
use num_complex::Complex64;
use pencil::{Column, Excitation, Excited, Functional, Lane, Order, Solver, Structure, restrict};
use rustc_hash::FxHashMap;

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
/// Frequencies that the solver takes together.
const LANES: usize = 8;
/// A crossing is narrowed down this many times, to an eighth each time.
const NARROWER: usize = 5;

/// A loop at one position of the controls that move it.
#[derive(Clone, Debug, PartialEq)]
pub struct Loop {
    /// The position; empty at rest.
    pub position: Name,
    /// |T| at the frequency asked for.
    pub left: f64,
    /// The noise gain there: the amplifier's own gain over what is left of it.
    pub noise_gain: f64,
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
    let kept = kept(&bench, &amplifier, part, ohms);
    let probe = kept.probe.as_ref().ok_or("it has no loop")?;
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
        let own = [hertz, bandwidth, second, inverse_gain, inverse_bandwidth];
        let inverse = inverse_gain.hypot(TAU * hertz * inverse_bandwidth) * 1f64.hypot(TAU * hertz * second);
        let key = kept.parameters.as_ref().map(|all| -> Box<[u64]> {
            let values = all.iter().map(|p| values[*p as usize]);
            own.into_iter().chain(values).map(f64::to_bits).collect()
        });
        if let Some((left, crossing)) = key.as_ref().and_then(|k| kept.known().get(k).copied()) {
            found.push(Loop { position: stand.name, left, noise_gain: 1.0 / (inverse * left), crossing });
            continue;
        }
        let left = t(&[hertz])?[0].norm();
        let crossing = crossing(bandwidth, &t)?.map(|(hertz, value)| {
            let angle = value.arg();
            let apart = if angle > 0.0 { angle - PI } else { angle + PI };
            let own = inverse_gain.hypot(TAU * hertz * inverse_bandwidth) * 1f64.hypot(TAU * hertz * second);
            Crossing { hertz, margin: apart.to_degrees().abs(), noise_gain: 1.0 / own }
        });
        if let Some(key) = key {
            let mut known = kept.known();
            if known.len() >= KEPT {
                known.clear();
            }
            known.insert(key, (left, crossing));
        }
        found.push(Loop { position: stand.name, left, noise_gain: 1.0 / (inverse * left), crossing });
    }
    Ok(found)
}

/// So many loops of one amplifier are kept: some edits of each position of its controls.
const KEPT: usize = 4 * POSITIONS;
/// A loop with more parameters than these hangs on nearly all there is, and is found anew with every edit.
const LOCAL: usize = 256;

/// By the bits of the numbers in a loop: what it has left, and where it crosses.
type Known = FxHashMap<Box<[u64]>, (f64, Option<Crossing>)>;

/// What is kept of an amplifier's loop: its equations, which hang on the topology, and what it came to with the numbers in them. An edit that
/// moves none of these leaves it alone.
pub(crate) struct Kept {
    /// None where nothing leads from the output back to the inputs.
    probe: Option<Probe>,
    /// The parameters in its equations; none where they are too many to be kept by.
    parameters: Option<Vec<u32>>,
    known: Mutex<Known>,
}

impl Kept {
    fn known(&self) -> MutexGuard<'_, Known> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl std::fmt::Debug for Kept {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        f.debug_struct("Kept").field("parameters", &self.parameters).finish_non_exhaustive()
    }
}

/// The loops of a circuit, by the amplifier and the bits of its output resistance.
pub(crate) type Loops = FxHashMap<(PartId, u64), Arc<Kept>>;

fn kept(bench: &Bench, amplifier: &Amplifier, part: PartId, ohms: f64) -> Arc<Kept> {
    let key = (part, ohms.to_bits());
    let mut all = bench.whole.loops.lock().unwrap_or_else(PoisonError::into_inner);
    let make = || {
        let (probe, parameters) = match Probe::of(bench, amplifier, ohms) {
            Some((probe, parameters)) => (Some(probe), Some(parameters).filter(|p| p.len() <= LOCAL)),
            None => (None, None),
        };
        Arc::new(Kept { probe, parameters, known: Mutex::default() })
    };
    all.entry(key).or_insert_with(make).clone()
}

/// What comes back for what an amplifier's gain makes, solved in the part of the circuit that is in the loop.
struct Probe {
    solver: Solver,
    excitation: Excitation,
    wanted: [Functional; 2],
}

impl Probe {
    /// With the parameters in its equations; `None` where nothing leads from the output back to the inputs.
    fn of(bench: &Bench, amplifier: &Amplifier, ohms: f64) -> Option<(Probe, Vec<u32>)> {
        let sound = &bench.whole.sound;
        let terms = [amplifier.difference(), amplifier.made(ohms)];
        let rows: Vec<u32> = terms.iter().flatten().map(|t| t.0).collect();
        let excited = Excited { equations: &[amplifier.law], givens: &[] };
        let part = restrict(&sound.pencil, &sound.structure, excited, &rows);
        let law = part.equation(amplifier.law)?;
        let mut parameters: Vec<u32> =
            part.pencil.stamps().iter().filter_map(|s| s.value.parameter()).map(|p| p.0).collect();
        parameters.sort_unstable();
        parameters.dedup();
        // Where the loop is most of the circuit, the order of the whole is there already.
        if 2 * part.pencil.unknowns() as usize > sound.structure.size() {
            let wanted = terms.map(|t| bench.functional(&t));
            let excitation = bench.excitation(&[(amplifier.law, 1.0)]);
            return Some((Probe { solver: bench.solver(), excitation, wanted }, parameters));
        }
        let structure = Structure::of(&part.pencil).ok()?;
        let order = Order::compile(&part.pencil, &structure, &typical(&bench.whole.network));
        let functional = |terms: Vec<(u32, f64)>| {
            let terms = terms.into_iter().filter_map(|(u, c)| Some((Column::Unknown(part.unknown(u)?), c)));
            Functional { terms: terms.collect() }
        };
        let excitation = Excitation::equation(law);
        Some((Probe { solver: Solver::new(&order), excitation, wanted: terms.map(functional) }, parameters))
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
    // From above on: the first place at which the loop has 1 and more. Most loops cross close below their bandwidth, so the places are
    // taken a few at a time, as many as the solver takes together.
    let places = span(BELOW * bandwidth, ABOVE * bandwidth, PLACES);
    let mut first = None;
    for (k, some) in places.chunks(LANES).enumerate() {
        if let Some(at) = t(some)?.iter().position(|g| g.norm() >= 1.0) {
            first = Some(k * LANES + at);
            break;
        }
    }
    let Some(k) = first.filter(|k| *k > 0) else { return Ok(None) };
    let (mut low, mut high) = (places[k], places[k - 1]);
    for _ in 1..NARROWER {
        // Both ends are known: the lower has 1 and more.
        let places = span(low, high, LANES);
        let inner = &places[1..LANES];
        let k = t(inner)?.iter().position(|g| g.norm() >= 1.0).map_or(LANES, |k| k + 1);
        (low, high) = (places[k], places[k - 1]);
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
