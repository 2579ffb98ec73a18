//! Quantities that take the circuit as a whole: sources with their levels, amplifiers with all their data.
//!
//! Each has a file and one function that gives it at one position of the controls. What is common stands here: the positions
//! examined, the range over them, what a reading rests on, and the equations of the whole circuit with numbers.

mod clip;
mod curves;
mod dc;
mod drawn;
mod ideal;
mod integrate;
mod loops;
mod margin;
mod noise;
mod poles;
mod rest;
mod stress;
mod supply;
mod survey;
mod unstable;
mod weighting;

pub(crate) use curves::rejected;
pub use dc::{Swamped, swamped};
pub use loops::{Crossing, Loop, loops};
pub use noise::{Spectrum, noise_makers, spectrum};
pub(crate) use poles::ON_AXIS;
pub use poles::poles_of;
pub use rest::cut_at_rest;
pub use survey::{Moved, View, amplifiers, drift, makers, resonances, ripple, survey};
pub use unstable::{Growth, unstable};

use std::collections::{BTreeSet, HashMap};
use std::f64::consts::TAU;
use std::sync::{Arc, Mutex, OnceLock};

use circuit::{
    Circuit, ControlId, Measure, Name, NodeId, PartId, PartKind, Point, Position, Quantity, Query, SourceKind,
};
use num_complex::Complex64;
use pencil::{Alone, Column, Excitation, Functional, Lane, Order, Parameter, Pencil, Solver, Structure, Unsure};
use quantity::{Style, Unit};

use crate::landmarks::Landmarks;
use crate::network::{Network, Shape};
use crate::positions::{Hands, MOST, Stand};
use crate::reading::{End, Inverts, Kind, Place, Range, Reading, Status, Value};
use crate::response::Response;
use crate::soundness::Sound;
use crate::values::{Number, number, typical};

/// A curve that gets so many times greater beside a resonance without loss, a hundredth as far away or from a millionth on, grows without bound.
const UNBOUNDED: f64 = 10.0;

/// The equations of a whole circuit, ordered.
#[derive(Debug)]
pub struct Whole {
    /// The topology.
    pub network: Arc<Network>,
    /// Its structure and flaws.
    pub sound: Arc<Sound>,
    /// The kept order of the mended equations.
    pub order: Order,
    /// The equations at rest, by the parameters of contacts that are 0, made when they are asked for.
    rest: Mutex<HashMap<Vec<Parameter>, rest::Made>>,
    /// What acts on what on the way forward: see [`clip`].
    forward: OnceLock<Structure>,
    /// The blocks that have poles, made when they are asked for.
    alone: OnceLock<Vec<Alone>>,
    /// The poles of single blocks: an edit moves those of one, and the others need not be found again.
    poles: Mutex<poles::Kept>,
    /// The amplifiers' loops: an edit outside of one leaves it alone.
    loops: Mutex<loops::Loops>,
    /// The plans of gains that measures ask for on their way.
    ways: Mutex<HashMap<Way, Arc<crate::Plan>>>,
}

/// A gain by its ends and who drives.
type Way = (Point, Point, Option<circuit::SourceId>);

impl Whole {
    /// Orders the equations.
    pub fn of(network: &Arc<Network>, sound: &Arc<Sound>) -> Whole {
        let order = Order::compile(&sound.pencil, &sound.structure, &typical(network));
        Whole {
            network: network.clone(),
            sound: sound.clone(),
            order,
            rest: Mutex::default(),
            forward: OnceLock::new(),
            alone: OnceLock::new(),
            poles: Mutex::default(),
            loops: Mutex::default(),
            ways: Mutex::default(),
        }
    }

    /// The kept poles; a thread that fell over while it held them left no half of an entry.
    pub(crate) fn poles(&self) -> std::sync::MutexGuard<'_, poles::Kept> {
        self.poles.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    /// Why an answer is not known, with the names of what is left open: a clause.
    pub(crate) fn reason(&self, why: &Unsure) -> String {
        match why {
            Unsure::Singular { unknowns } => {
                crate::soundness::unsettled(unknowns.iter().map(|u| self.network.unknown_name(*u).to_string()))
            }
            other => other.to_string(),
        }
    }
}

/// What one position gives.
#[derive(Clone, Debug, Default)]
pub(crate) struct Found {
    /// The value; `f64::INFINITY` where there is no limit to tell (a margin without a crossing). Of what is told from the least to the greatest
    /// of a band, the greatest.
    pub value: f64,
    /// The least, where the least and the greatest of a band are told.
    pub least: Option<f64>,
    /// How it was had, line by line.
    pub working: Vec<String>,
    /// The types of amplifiers on whose typical figures it rests.
    pub typical: BTreeSet<Name>,
    /// Why there is nothing to read at this position, though the quantity has a meaning: no signal arrives. A clause.
    pub silent: Option<String>,
}

impl Found {
    /// Where no signal arrives.
    pub fn silent(why: String) -> Found {
        Found { value: f64::NAN, silent: Some(why), ..Found::default() }
    }

    /// A value that follows from the text.
    pub fn of(value: f64) -> Found {
        Found { value, ..Found::default() }
    }

    /// What goes from a least to a greatest over a band.
    pub fn between([least, most]: [f64; 2]) -> Found {
        Found { value: most, least: Some(least), ..Found::default() }
    }

    /// The least and the greatest, which are the same where there is one value.
    pub fn ends(&self) -> [f64; 2] {
        [self.least.unwrap_or(self.value), self.value]
    }
}

/// Answers a question about the whole circuit. `pulse` is called now and then: it may unwind.
pub fn answer(whole: &Whole, circuit: &Arc<Circuit>, query: &Query, pulse: &dyn Fn()) -> Reading {
    let Quantity::Measure(measure) = &query.quantity else { unreachable!("asked for measures only") };
    let place = place(measure, circuit, query);
    let mut reading = Reading {
        phrase: query.phrase.clone(),
        kind: kind(measure),
        value: Value::None,
        unit: unit(measure),
        setting: query.when.as_ref().map(|w| w.name.clone()),
        place,
        status: Status::Exact,
        range: None,
        gap: None,
        working: Vec::new(),
    };
    noise::unit(circuit, measure, &mut reading);
    let bench = Bench { whole, circuit, query, place, pulse };
    if let Err(why) = bench.fill(measure, &mut reading) {
        reading.working = vec![format!("unknown: {why}")];
        reading.status = Status::Unknown(why);
        reading.value = Value::None;
        reading.range = None;
    }
    reading
}

/// Where a question is read.
fn place(measure: &Measure, circuit: &Circuit, query: &Query) -> Place {
    match (query.over, query.at) {
        (Some((a, b)), _) => Place::Over(a, b),
        (None, Some(f)) => Place::At(f),
        (None, None) if over_band(measure) => Place::Over(circuit.band.0, circuit.band.1),
        (None, None) => Place::At(circuit.reference),
    }
}

/// The least and the greatest of a quantity of the whole circuit at one position; most have one value.
///
/// # Errors
/// Why it is not known there.
pub(crate) fn ends(whole: &Whole, circuit: &Arc<Circuit>, query: &Query, stand: &Stand) -> Result<[f64; 2], String> {
    let Quantity::Measure(measure) = &query.quantity else { unreachable!("asked for measures only") };
    let bench = Bench { whole, circuit, query, place: place(measure, circuit, query), pulse: &|| {} };
    bench.at(measure, stand).and_then(|found| match &found.silent {
        Some(why) => Err(why.clone()),
        None => Ok(found.ends()),
    })
}

/// The parts whose values have a say in a quantity of the whole circuit.
pub(crate) fn parts(whole: &Whole, circuit: &Arc<Circuit>, query: &Query) -> Vec<PartId> {
    let Quantity::Measure(measure) = &query.quantity else { unreachable!("asked for measures only") };
    let bench = Bench { whole, circuit, query, place: place(measure, circuit, query), pulse: &|| {} };
    bench.parts(measure).into_iter().collect()
}

/// The controls that move a quantity of the whole circuit.
pub(crate) fn controls(whole: &Whole, circuit: &Arc<Circuit>, query: &Query) -> Vec<ControlId> {
    let Quantity::Measure(measure) = &query.quantity else { unreachable!("asked for measures only") };
    Bench { whole, circuit, query, place: place(measure, circuit, query), pulse: &|| {} }.controls(measure)
}

/// Whether a quantity is read off the circuit at rest, or beside it.
pub(crate) fn at_rest(measure: &Measure) -> bool {
    use Measure::*;
    matches!(
        measure,
        Dc(_) | ClipLevel(_) | Headroom(_) | Power(_) | Voltage(_) | Current(_) | SupplyCurrent(_) | Dissipation(..)
    )
}

/// Whether a quantity is taken over the design's band where nothing else is said.
fn over_band(measure: &Measure) -> bool {
    use Measure::*;
    matches!(
        measure,
        Flatness(..) | ClipLevel(_) | Headroom(_) | Noise(_) | InputNoise(..) | Power(_) | Voltage(_) | Current(_)
    )
}

/// Names, as far as a line holds them.
fn some_of(names: &[Name]) -> String {
    let first: Vec<&str> = names.iter().take(3).map(|n| &**n).collect();
    match names.len().saturating_sub(3) {
        0 => first.join("; "),
        more => format!("{} and {more} more positions", first.join("; ")),
    }
}

/// Whether a quantity is a response of the circuit, so that amplifiers have a say in it by their gain, and by nothing else that is
/// looked at on its own.
fn rests_on_gain(measure: &Measure) -> bool {
    use Measure::*;
    matches!(measure, Delay(..) | Flatness(..) | Level(_) | Balance(_) | Power(_) | Voltage(_) | Current(_))
}

fn kind(measure: &Measure) -> Kind {
    use Measure::*;
    match measure {
        Level(_) | ClipLevel(_) | Noise(_) | InputNoise(..) => Kind::Level,
        PhaseMargin(_) | GainMargin(_) => Kind::Margin,
        _ => Kind::Plain,
    }
}

fn unit(measure: &Measure) -> Unit {
    use Measure::*;
    match measure {
        Delay(..) => Unit::Second,
        Flatness(..) | Headroom(_) | GainMargin(_) | Rejection(..) | Balance(_) => Unit::Decibel,
        Level(_) | ClipLevel(_) | Noise(_) | InputNoise(..) | Offset(_) | Dc(_) | Voltage(_) => Unit::Volt,
        NoiseDensity(_) | InputNoiseDensity(..) => Unit::VoltPerRootHertz,
        PhaseMargin(_) => Unit::Degree,
        NaturalFrequency(_) => Unit::Hertz,
        Q(_) => Unit::One,
        Power(_) | Dissipation(..) => Unit::Watt,
        Current(_) | SupplyCurrent(_) => Unit::Ampere,
    }
}

/// A value of a quantity of the whole circuit as a person reads it.
pub fn text(measure: &Measure, value: f64, style: quantity::Style) -> String {
    crate::print::value(kind(measure), unit(measure), value, style)
}

/// The number of every parameter at a position, of equations of the same parameters.
///
/// # Errors
/// Names the part whose value is missing; parts that only act on unknowns that do not matter may lack theirs.
fn numbers(
    whole: &Whole,
    circuit: &Circuit,
    stand: &Stand,
    pencil: &Pencil,
    structure: &Structure,
    relevant: &[bool],
) -> Result<Vec<f64>, String> {
    let mut needed = vec![false; whole.network.parameters.len()];
    for stamp in pencil.stamps() {
        if let Some(p) = stamp.value.parameter()
            && stamp.rows.iter().any(|(r, _)| relevant[structure.unknown_of(*r) as usize])
        {
            needed[p.0 as usize] = true;
        }
    }
    let one = |(i, (part, quality)): (usize, &(PartId, crate::network::Quality))| {
        let part = &circuit.parts[part.at()];
        if let (PartKind::Amplifier { sheet, .. }, true) = (&part.kind, needed[i])
            && let Some(why) = &sheet.unknown
        {
            return Err(why.to_string());
        }
        match number(part, *quality) {
            Number::Unknown(why) if needed[i] => Err(why.to_string()),
            Number::Unknown(_) => Ok(1.0),
            number => Ok(number.at(&stand.positions)),
        }
    };
    whole.network.parameters.iter().enumerate().map(one).collect()
}

/// A question with the circuit that it is asked of.
pub(crate) struct Bench<'a> {
    pub whole: &'a Whole,
    pub circuit: &'a Arc<Circuit>,
    pub query: &'a Query,
    pub place: Place,
    /// Called now and then: it may unwind.
    pub pulse: &'a dyn Fn(),
}

/// A range over positions, what gave its ends, each with the number of its position, and the positions without a signal.
type Ranged = (Range, [(Found, usize); 2], Vec<Name>);

impl Bench<'_> {
    fn fill(&self, measure: &Measure, reading: &mut Reading) -> Result<(), String> {
        let own = match measure {
            Measure::PhaseMargin(_) | Measure::GainMargin(_) => Some("a margin is found at the loop's own crossings"),
            Measure::NaturalFrequency(_) | Measure::Q(_) => Some("poles are the circuit's own"),
            _ => None,
        };
        let query = self.query;
        if let (Some(why), true) =
            (own, query.at.is_some() || query.over.is_some() || query.against.is_some() || query.from.is_some())
        {
            return Err(format!("{why}: no frequency, band or source is chosen for it"));
        }
        if let Some(why) = self.whole.sound.fight() {
            return Err(why.to_string());
        }
        if let Some(why) = self.whole.sound.fault() {
            // A flaw may leave the quantity alone; that is told by its own unknowns only, below.
            let unknowns = self.unknowns(measure);
            if unknowns.is_empty() || self.whole.sound.broken(&unknowns).is_some() {
                return Err(self.whole.sound.broken(&unknowns).unwrap_or(why).to_string());
            }
        }
        let hands = Hands::of(self.circuit);
        let stand = match &self.query.when {
            Some(when) => hands.when(when, &self.controls(measure)),
            None => hands.rest(),
        };
        let on = hands.moved(&self.controls(measure));
        let stands = if self.query.when.is_some() { vec![stand.clone()] } else { hands.examined(&on, MOST) };
        if let Some(why) = stands.iter().find_map(|s| s.unknown.as_ref()) {
            return Err(why.to_string());
        }
        let mut found = self.at(measure, &stand)?;
        // A sum of nothing is −0 in floating point, and who reads the figure by a program would get to see it.
        if found.least.is_none() {
            reading.value = Value::Real(found.value + 0.0);
        }
        reading.working = found.working.clone();
        if found.silent.is_some() {
            reading.value = Value::None;
        }
        if let (Some(why), 1) = (&found.silent, stands.len()) {
            return Err(why.clone());
        }
        let mut looked_at: Vec<_> = found.silent.is_none().then(|| (found.ends(), &stand)).into_iter().collect();
        if stands.len() > 1 || found.least.is_some() {
            match self.range(measure, &stands, &on, &hands) {
                Ok((range, ends, silent)) => {
                    if !silent.is_empty() {
                        reading.working.push(format!("no signal at {}: nothing to read there", some_of(&silent)));
                    }
                    reading.range = Some(range);
                    for (end, i) in ends {
                        looked_at.push((end.ends(), &stands[i]));
                        // An end of the range may rest on what the value at rest does not rest on.
                        found.typical.extend(end.typical);
                    }
                }
                // Of a band there is no one value that would stand by itself, and of silence none.
                Err(why) if found.least.is_some() || found.silent.is_some() => return Err(why),
                Err(why) => reading.gap = Some(why),
            }
        }
        if let (Some(_), Some(range)) = (found.least, &reading.range) {
            let [least, most] = range.ends.each_ref().map(|end| reading.end_text(end, Style::default()));
            reading.working.push(format!("least {least}, greatest {most}"));
        }
        if rests_on_gain(measure) {
            found.typical.extend(ideal::types(self, measure, &looked_at));
        }
        if !found.typical.is_empty() {
            reading.status = Status::Typical(found.typical.iter().cloned().collect());
        }
        if let Status::Typical(sheets) = &reading.status {
            reading.working.push(format!("rests on typical figures of {}", sheets.join(", ")));
        }
        Ok(())
    }

    /// The range over positions, what gave its ends, each with the number of its position, and the positions at which no signal arrives,
    /// which limit nothing.
    fn range(&self, measure: &Measure, stands: &[Stand], on: &[ControlId], hands: &Hands) -> Result<Ranged, String> {
        let (mut silent, mut quiet) = (Vec::new(), None);
        let mut all: Vec<(Found, usize)> = Vec::new();
        for (i, stand) in stands.iter().enumerate() {
            (self.pulse)();
            let named = |why: String| if stand.name.is_empty() { why } else { format!("at {}: {why}", stand.name) };
            let found = self.at(measure, stand).map_err(named)?;
            match &found.silent {
                Some(why) => {
                    silent.push(stand.name.clone());
                    quiet = Some(why.clone());
                }
                None => all.push((found, i)),
            }
        }
        let ends = |end: usize| all.iter().enumerate().map(move |(k, (found, i))| (found.ends()[end], *i, k));
        let least = ends(0).reduce(|a, b| if b.0 < a.0 { b } else { a });
        let most = ends(1).reduce(|a, b| if b.0 > a.0 { b } else { a });
        let (Some(mut first), Some(mut last)) = (least, most) else {
            return Err(quiet.unwrap_or_else(|| "no position was examined".into()));
        };
        // What goes over a band at each position has its least first.
        if let ([control], true) = (on, all.iter().all(|(found, _)| found.least.is_none())) {
            let travel = |i: usize| match stands[i].positions[control.at()] {
                Position::Travel(p) => p,
                Position::Step(n) => f64::from(n),
            };
            if travel(first.1) > travel(last.1) {
                (first, last) = (last, first);
            }
        }
        // That a margin is unconditional, or that none holds, is something to tell.
        let margin = kind(measure) == Kind::Margin;
        let end = |(value, i, _): (f64, usize, usize)| End {
            value: (value.is_finite() || margin).then_some(value),
            position: stands[i].name.clone(),
        };
        let range = Range {
            ends: [end(first), end(last)],
            controls: if stands.len() > 1 {
                on.iter().map(|c| hands.controls[c.at()].name.clone()).collect()
            } else {
                Vec::new()
            },
            examined: stands.len(),
            combinations: hands.count(on),
            ratio: None,
            inverts: Inverts::Nowhere,
            angles: Vec::new(),
        };
        Ok((range, [first, last].map(|(_, i, k)| (all[k].0.clone(), i)), silent))
    }

    /// A quantity at one position.
    fn at(&self, measure: &Measure, stand: &Stand) -> Result<Found, String> {
        self.unclashed(measure, stand)?;
        match measure {
            Measure::Delay(a, b) => curves::delay(self, stand, a, b),
            Measure::Flatness(a, b) => curves::flatness(self, stand, a, b),
            Measure::Balance(p) => curves::balance(self, stand, p),
            Measure::Rejection(a, b) => curves::rejection(self, stand, a, b),
            Measure::Level(p) => curves::level(self, stand, p),
            Measure::Dc(p) => dc::dc(self, stand, p),
            Measure::Offset(p) => dc::offset(self, stand, p),
            Measure::ClipLevel(p) => clip::clip_level(self, stand, p),
            Measure::Headroom(p) => clip::headroom(self, stand, p),
            Measure::Power(p) => stress::power(self, stand, *p),
            Measure::Voltage(p) => stress::voltage(self, stand, *p),
            Measure::Current(p) => stress::current(self, stand, *p),
            Measure::SupplyCurrent(rail) => supply::current(self, stand, *rail),
            Measure::Dissipation(name, parts) => supply::dissipation(self, stand, name, parts),
            Measure::Noise(p) | Measure::NoiseDensity(p) => noise::noise(self, stand, p),
            Measure::InputNoise(a, b) | Measure::InputNoiseDensity(a, b) => noise::input_noise(self, stand, a, b),
            Measure::PhaseMargin(p) => margin::margin(self, stand, *p, margin::Which::Phase),
            Measure::GainMargin(p) => margin::margin(self, stand, *p, margin::Which::Gain),
            Measure::NaturalFrequency(s) => poles::natural_frequency(self, stand, *s),
            Measure::Q(s) => poles::q(self, stand, *s),
        }
    }

    /// Whether no two voltages stand on a node that has a say in a quantity, and no loop that has one latches.
    ///
    /// # Errors
    /// Who holds it, and what joins them; or who latches.
    fn unclashed(&self, measure: &Measure, stand: &Stand) -> Result<(), String> {
        let mut relevant = None;
        for clash in &self.whole.sound.clashes {
            if let Some(why) = clash.watched(&self.whole.network, self.circuit).at(&stand.positions)
                && clash.felt(&self.whole.sound.structure, relevant.get_or_insert_with(|| self.relevant(measure)))
            {
                return Err(why.to_string());
            }
        }
        for balance in &self.whole.sound.balances {
            if balance.felt(relevant.get_or_insert_with(|| self.relevant(measure)))
                && let Some(latched) = balance.weighed(&self.whole.network, self.circuit).at(&stand.positions)
            {
                return Err(latched.clause.to_string());
            }
        }
        Ok(())
    }

    /// The unknowns that a quantity is read off.
    fn unknowns(&self, measure: &Measure) -> Vec<u32> {
        use Measure::*;
        let of = |points: &[&Point]| -> Vec<u32> {
            points.iter().flat_map(|p| p.terms.iter()).filter_map(|(_, n)| Network::row(*n)).collect()
        };
        match measure {
            Delay(a, b) | Flatness(a, b) | InputNoise(a, b) | InputNoiseDensity(a, b) | Rejection(a, b) => of(&[a, b]),
            Level(p) | Noise(p) | NoiseDensity(p) | Offset(p) | Dc(p) | Balance(p) => of(&[p]),
            ClipLevel(p) | Headroom(p) => clip::unknowns(self, p),
            Power(p) | Voltage(p) | Current(p) => stress::unknowns(self, *p),
            SupplyCurrent(rail) => supply::unknowns_of_rail(self, *rail),
            Dissipation(_, parts) => supply::unknowns(self, parts),
            PhaseMargin(p) | GainMargin(p) => {
                self.circuit.parts[p.at()].ends().iter().filter_map(|n| Network::row(*n)).collect()
            }
            NaturalFrequency(s) | Q(s) => {
                let own = self.circuit.parts.iter().filter(|p| p.stage == *s);
                own.flat_map(|p| p.ends()).filter_map(Network::row).collect()
            }
        }
    }

    /// Which unknowns have a say in a quantity: those of its own that it is read off, and what acts on them.
    fn relevant(&self, measure: &Measure) -> Vec<bool> {
        match measure {
            // A pole anywhere on the right decides.
            Measure::PhaseMargin(_) | Measure::GainMargin(_) => return vec![true; self.whole.sound.structure.size()],
            Measure::NaturalFrequency(s) | Measure::Q(s) => return poles::stage_unknowns(self.whole, *s),
            _ => {}
        }
        // At rest it counts as well what amplifiers draw by way of parts.
        if at_rest(measure) {
            return self.drawing(&self.whole.sound.structure, &self.unknowns(measure)).0;
        }
        self.whole.sound.structure.influencing(&self.unknowns(measure))
    }

    /// The parts that have a say in a quantity.
    fn parts(&self, measure: &Measure) -> BTreeSet<PartId> {
        let relevant = self.relevant(measure);
        let pencil = &self.whole.sound.pencil;
        pencil
            .stamps()
            .iter()
            .filter(|s| s.rows.iter().any(|(r, _)| relevant[self.whole.sound.structure.unknown_of(*r) as usize]))
            .filter_map(|s| Some(self.whole.network.parameters[s.value.parameter()?.0 as usize].0))
            .collect()
    }

    /// The controls that move a quantity.
    fn controls(&self, measure: &Measure) -> Vec<ControlId> {
        let mut parts = self.parts(measure);
        let sound = &self.whole.sound;
        if !sound.clashes.is_empty() {
            let relevant = self.relevant(measure);
            let felt = sound.clashes.iter().filter(|c| c.felt(&sound.structure, &relevant));
            parts.extend(felt.flat_map(|c| &c.zero).map(|p| self.whole.network.parameters[*p as usize].0));
        }
        if !sound.balances.is_empty() {
            let relevant = self.relevant(measure);
            let felt = sound.balances.iter().filter(|b| b.felt(&relevant));
            parts.extend(felt.flat_map(|b| b.parts(&self.whole.network)));
        }
        let controls: BTreeSet<ControlId> =
            parts.iter().filter_map(|p| self.whole.network.pieces[p.at()].control).collect();
        controls.into_iter().collect()
    }

    /// The number of every parameter at a position.
    ///
    /// # Errors
    /// Names the part whose value is missing; parts that have no say in the quantity may lack theirs.
    pub fn values(&self, stand: &Stand) -> Result<Vec<f64>, String> {
        let Quantity::Measure(measure) = &self.query.quantity else { unreachable!("asked for measures only") };
        let relevant = self.relevant(measure);
        self.values_in(stand, &self.whole.sound.pencil, &self.whole.sound.structure, &relevant)
    }

    /// As [`Bench::values`], with the unknowns that matter in equations of the same parameters.
    pub fn values_in(
        &self,
        stand: &Stand,
        pencil: &Pencil,
        structure: &Structure,
        relevant: &[bool],
    ) -> Result<Vec<f64>, String> {
        numbers(self.whole, self.circuit, stand, pencil, structure, relevant)
    }

    /// A solver of the whole circuit.
    pub fn solver(&self) -> Solver {
        Solver::new(&self.whole.order)
    }

    /// What is wanted of the solution: a sum of unknowns.
    pub fn functional(&self, terms: &[(u32, f64)]) -> Functional {
        Functional { terms: terms.iter().map(|(u, c)| (Column::Unknown(*u), *c)).collect() }
    }

    /// A point's voltage.
    pub fn voltage(&self, point: &Point) -> Functional {
        let terms: Vec<(u32, f64)> =
            point.terms.iter().filter_map(|(sign, n)| Some((Network::row(*n)?, f64::from(*sign)))).collect();
        self.functional(&terms)
    }

    /// Equations with the weight of what drives them.
    pub fn excitation(&self, rows: &[(u32, f64)]) -> Excitation {
        Excitation {
            equations: rows.iter().map(|(r, c)| (*r, Complex64::new(*c, 0.0))).collect(),
            givens: vec![Complex64::new(0.0, 0.0); self.whole.sound.pencil.givens() as usize],
        }
    }

    /// Functionals at frequencies (in hertz) for one excitation: a row a frequency.
    pub fn solve(
        &self,
        values: &[f64],
        hertz: &[f64],
        excitation: &Excitation,
        wanted: &[Functional],
    ) -> Result<Vec<Vec<Complex64>>, String> {
        let lanes: Vec<Lane> = hertz.iter().map(|f| Lane { s: Complex64::new(0.0, TAU * f), values }).collect();
        let all = self.solver().solve(&lanes, excitation, wanted);
        let all: Result<Vec<Complex64>, String> =
            all.into_iter().map(|x| x.map_err(|why| self.whole.reason(&why))).collect();
        Ok(all?.chunks(wanted.len().max(1)).map(<[_]>::to_vec).collect())
    }

    /// V(B)/V(A) by the driving rule, at each frequency; per ampere where A is a current source's own.
    pub fn gains(&self, stand: &Stand, a: &Point, b: &Point, hertz: &[f64]) -> Result<Vec<Complex64>, String> {
        let one = vec![Complex64::new(1.0, 0.0); hertz.len()];
        self.along(stand, a, b, one, |plan, response, values| response.along(plan, values, hertz).into_iter().collect())
    }

    /// −dφ/dω of V(B)/V(A) at each frequency, in seconds.
    pub fn delays(&self, stand: &Stand, a: &Point, b: &Point, hertz: &[f64]) -> Result<Vec<f64>, String> {
        let none = vec![0.0; hertz.len()];
        self.along(stand, a, b, none, |plan, response, values| response.delays(plan, values, hertz))
    }

    /// Where V(B)/V(A) may be sharp.
    pub fn marks(&self, stand: &Stand, a: &Point, b: &Point) -> Result<Arc<Landmarks>, String> {
        self.along(stand, a, b, Arc::default(), |plan, response, values| Ok(response.landmarks(plan, values)))
    }

    /// What the equations of a gain's plan give; `one` where A and B are one place.
    fn along<T>(
        &self,
        stand: &Stand,
        a: &Point,
        b: &Point,
        one: T,
        take: impl FnOnce(&crate::Plan, &Response, &crate::response::Values) -> Result<T, String>,
    ) -> Result<T, String> {
        let plan = self.way(a, b);
        use crate::plan::{Gain, Impedance, Plan};
        let local = match &*plan {
            Plan::Gain(Gain::Unknown(why)) | Plan::Impedance(Impedance::Unknown(why)) => return Err(why.clone()),
            Plan::Gain(Gain::Way { local, .. }) | Plan::Impedance(Impedance::Way { local, .. }) => local,
            Plan::Gain(Gain::One) | Plan::Measure => return Ok(one),
        };
        let inputs = crate::Inputs::of(Some(local), &self.whole.network, self.circuit);
        if let Some(why) = inputs.missing() {
            return Err(why.to_string());
        }
        let response = Response::new(local, &inputs);
        take(&plan, &response, &response.values(stand))
    }

    /// Where what is read off the circuit may be sharp: beside its poles, and beside the zeros of a functional where one is asked about. What
    /// is greatest somewhere is so beside a pole, or where it is not sharp at all.
    pub fn sharp(&self, stand: &Stand, of: Option<(&Excitation, &Functional)>) -> Result<Landmarks, String> {
        if matches!(self.place, Place::At(_) | Place::Against(_)) {
            return Ok(Landmarks::default());
        }
        let values = self.values(stand)?;
        let poles = self.poles(&values);
        let zeros = of.and_then(|(drive, wanted)| {
            crate::factored::zeros(&self.whole.sound.pencil, &values, drive, wanted).ok().flatten()
        });
        Ok(Landmarks::of(&zeros.unwrap_or_default(), &poles))
    }

    /// Whether a curve that is read off the circuit is bounded where the question is asked: beside a resonance without loss it grows as fast as
    /// one comes near, unless that has no way into it.
    ///
    /// # Errors
    /// Says where nothing bounds it: a clause.
    pub fn bounded(&self, values: &[f64], curve: &mut crate::extreme::Curve) -> Result<(), String> {
        let mut grows = |f: f64, [near, far]: [f64; 2]| -> Result<bool, String> {
            let found = curve(&[f * (1.0 + near), f * (1.0 + far)])?;
            Ok(found[0] > UNBOUNDED * found[1])
        };
        let at = match self.place {
            // Nothing that is built gets so much higher within a millionth of a frequency.
            Place::At(f) | Place::Against(f) => grows(f, [0.0, 1e-6])?.then_some(f),
            Place::Over(low, high) => {
                let marks = Landmarks::of(&[], &self.poles(values));
                let mut first = None;
                for f in marks.all_unbounded(low, high) {
                    if first.is_none() && grows(f, [1e-8, 1e-6])? {
                        first = Some(f);
                    }
                }
                first
            }
        };
        match at {
            Some(f) => {
                Err(format!("at {} nothing bounds it: what resonates there has no loss", crate::print::hertz(f)))
            }
            None => Ok(()),
        }
    }

    /// The circuit's poles with these numbers, in rad/s; where they are not known, none: what looks for sharp places is left to its grid.
    pub fn poles(&self, values: &[f64]) -> Vec<Complex64> {
        let blocks = poles::of(self.whole, values).unwrap_or_default();
        blocks.iter().flat_map(|b| b.iter()).flat_map(|r| &r.roots).map(|r| r.s).collect()
    }

    /// The plan of a gain, made once.
    fn way(&self, a: &Point, b: &Point) -> Arc<crate::Plan> {
        let key = (a.clone(), b.clone(), self.query.from);
        let mut ways = self.whole.ways.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let make = || {
            let quantity = self.whole.network.response(a, b);
            let gain = Query { quantity, from: self.query.from, ..self.query.clone() };
            Arc::new(crate::plan::plan(&self.whole.network, &self.whole.sound, &gain))
        };
        ways.entry(key).or_insert_with(make).clone()
    }

    /// The sources that are written, with their level: volts or amperes rms.
    ///
    /// # Errors
    /// Names a source without a level; one that is implied has none.
    pub fn levels(&self) -> Result<Vec<(usize, f64)>, String> {
        let all = self.circuit.sources.iter().enumerate().filter(|(i, _)| self.query.from.is_none_or(|f| f.at() == *i));
        all.map(|(i, s)| Ok((i, s.sized()?))).collect()
    }

    /// Whether a source is a current.
    pub fn is_current(&self, source: usize) -> bool {
        self.circuit.sources[source].kind == SourceKind::Current
    }

    /// The amplifiers of the circuit that are fitted: part, inputs and output.
    pub fn amplifiers(&self) -> Vec<(PartId, [NodeId; 3])> {
        let all = self.whole.network.pieces.iter().enumerate();
        all.filter_map(|(i, p)| match p.shape {
            Shape::Amplifier { plus, minus, out, .. } => Some((PartId(i as u32), [plus, minus, out])),
            _ => None,
        })
        .collect()
    }
}
