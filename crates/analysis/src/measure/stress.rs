//! What a part has to bear: its power, the voltage across it and the current through it.

use std::collections::BTreeSet;

use circuit::{Name, NodeId, PartId, PartKind, SourceId};
use num_complex::Complex64;
use pencil::{Column, Excited, Functional};
use quantity::{Unit, peak_of_rms};

use super::dc::say;
use super::{Bench, Found};
use crate::extreme;
use crate::network::{Network, Quality, Shape};
use crate::positions::Stand;
use crate::print::hertz;
use crate::reading::Place;
use crate::values::{Number, number};

/// A way through a part: between what, and how its current is told.
struct Way {
    ends: [NodeId; 2],
    current: Through,
    /// In ohms, of a way that makes heat.
    ohms: Option<f64>,
}

/// How a current is told.
enum Through {
    /// By this unknown.
    Branch(u32),
    /// The voltage across over a resistance.
    Resistance(f64),
    /// The voltage across times `s` and a capacitance.
    Capacitance(f64),
    /// Not at all: the ends of a track together.
    None,
}

/// The unknowns that a part's stress is read off.
pub(super) fn unknowns(bench: &Bench, part: PartId) -> Vec<u32> {
    let piece = &bench.whole.network.pieces[part.at()];
    let ends = bench.circuit.parts[part.at()].ends();
    let count = match &piece.shape {
        Shape::Variable { ccw, cw, .. } => u32::from(ccw.is_some()) + u32::from(cw.is_some()),
        Shape::Switch(contacts) => contacts.len() as u32,
        _ => 1,
    };
    let branches = piece.branch.into_iter().flat_map(|b| b..b + count);
    ends.iter().filter_map(|n| Network::row(*n)).chain(branches).collect()
}

fn ways(bench: &Bench, stand: &Stand, id: PartId, valued: bool) -> Result<Vec<Way>, String> {
    let (part, piece) = (&bench.circuit.parts[id.at()], &bench.whole.network.pieces[id.at()]);
    let value = |quality| match number(part, quality) {
        // A voltage needs no value of the part itself, beyond what the circuit needs.
        Number::Unknown(_) if !valued => Ok(1.0),
        Number::Unknown(why) => Err(why.to_string()),
        known => Ok(known.at(&stand.positions)),
    };
    let branch = piece.branch.unwrap_or(u32::MAX);
    Ok(match &piece.shape {
        Shape::Absent(_) => return Err(format!("{} is not fitted", part.name)),
        Shape::Resistor(ends) => {
            let ohms = value(Quality::Resistance)?;
            vec![Way { ends: *ends, current: Through::Resistance(ohms), ohms: Some(ohms) }]
        }
        Shape::Link(ends) => vec![Way { ends: *ends, current: Through::Branch(branch), ohms: Some(0.0) }],
        Shape::Capacitor(ends) => {
            vec![Way { ends: *ends, current: Through::Capacitance(value(Quality::Capacitance)?), ohms: None }]
        }
        Shape::Inductor(ends) => vec![Way { ends: *ends, current: Through::Branch(branch), ohms: None }],
        Shape::Variable { ccw, wiper, cw } => {
            let mut all = Vec::new();
            for (end, quality) in [(ccw, Quality::LowTrack), (cw, Quality::HighTrack)] {
                if let Some(end) = end {
                    let current = Through::Branch(branch + all.len() as u32);
                    all.push(Way { ends: [*end, *wiper], current, ohms: Some(value(quality)?) });
                }
            }
            if let (Some(ccw), Some(cw)) = (ccw, cw) {
                all.push(Way { ends: [*cw, *ccw], current: Through::None, ohms: None });
            }
            all
        }
        Shape::Switch(contacts) => contacts
            .iter()
            .enumerate()
            .map(|(k, c)| Way { ends: c.1, current: Through::Branch(branch + k as u32), ohms: None })
            .collect(),
        Shape::Amplifier { .. } => return Err(format!("{} is an amplifier", part.name)),
    })
}

/// Which of a way's quantities is meant.
#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Voltage,
    Current,
}

fn across(bench: &Bench, [a, b]: [NodeId; 2]) -> Functional {
    bench.functional(&Network::injection(a, b))
}

/// A part with the sources that reach it.
struct Case<'a> {
    bench: &'a Bench<'a>,
    stand: &'a Stand,
    unknowns: Vec<u32>,
    values: Vec<f64>,
    /// Each with its level.
    sources: Vec<(usize, f64)>,
    /// What amplifiers draw by way of it at rest, line by line, and the types on whose typical figures that rests.
    drawn: (Vec<String>, BTreeSet<Name>),
}

impl<'a> Case<'a> {
    fn of(bench: &'a Bench<'a>, stand: &'a Stand, part: PartId) -> Result<Case<'a>, String> {
        let unknowns = unknowns(bench, part);
        let values = bench.values(stand)?;
        let sources = reaching(bench, &unknowns)?;
        for (id, _) in bench.amplifiers() {
            let law = bench.whole.network.pieces[id.at()].branch;
            if law.is_some_and(|law| super::clip::carries(bench, &unknowns, law)) {
                bench.shorted(id)?;
            }
        }
        let mut drawn = Default::default();
        // What cannot be solved at rest is told where it is asked for.
        if let Ok(still) = bench.still(stand, &unknowns) {
            bench.stands(stand, &still, &unknowns)?;
            drawn = (still.drawn.told.clone(), still.drawn.typical.clone());
        }
        Ok(Case { bench, stand, unknowns, values, sources, drawn })
    }

    fn wanted(&self, way: &Way, kind: Kind) -> Option<(Functional, f64, bool)> {
        match (kind, &way.current) {
            (Kind::Voltage, _) => Some((across(self.bench, way.ends), 1.0, false)),
            (Kind::Current, Through::Branch(b)) => {
                Some((Functional { terms: vec![(Column::Unknown(*b), 1.0)] }, 1.0, false))
            }
            (Kind::Current, Through::Resistance(ohms)) => Some((across(self.bench, way.ends), 1.0 / ohms, false)),
            (Kind::Current, Through::Capacitance(farads)) => Some((across(self.bench, way.ends), *farads, true)),
            (Kind::Current, Through::None) => None,
        }
    }

    /// The direct voltage or current of a way.
    fn rest(&self, way: &Way, kind: Kind) -> Result<f64, String> {
        let Some((functional, factor, dynamic)) = self.wanted(way, kind) else { return Ok(0.0) };
        // No direct current flows through a capacitor, whatever stands across it.
        if dynamic {
            return Ok(0.0);
        }
        Ok(self.bench.still(self.stand, &self.unknowns)?.solve(&[functional])?[0] * factor)
    }

    /// What a way bears of each source, rms: a row a frequency.
    fn borne(&self, way: &Way, kind: Kind, fs: &[f64]) -> Result<Vec<Vec<f64>>, String> {
        let mut sines = vec![Vec::new(); fs.len()];
        if let Some((functional, factor, dynamic)) = self.wanted(way, kind) {
            for (source, level) in &self.sources {
                let drive = self.bench.excitation(&self.bench.whole.network.excitation(SourceId(*source as u32)));
                let all = self.bench.solve(&self.values, fs, &drive, std::slice::from_ref(&functional))?;
                for ((row, x), f) in sines.iter_mut().zip(all).zip(fs) {
                    let s = if dynamic { std::f64::consts::TAU * f } else { 1.0 };
                    row.push((x[0] * Complex64::new(factor * s * level, 0.0)).norm());
                }
            }
        }
        Ok(sines)
    }

    /// The greatest of a curve over the place of the question, with the frequency.
    fn greatest(&self, curve: &mut extreme::Curve) -> Result<(f64, f64), String> {
        if !self.sources.is_empty() {
            self.bench.bounded(&self.values, curve)?;
        }
        match self.bench.place {
            Place::Over(low, high) => {
                let mut below = |fs: &[f64]| Ok(curve(fs)?.iter().map(|x| -x).collect());
                extreme::least(low, high, &self.bench.sharp(self.stand, None)?, &mut below).map(|(x, f)| (-x, f))
            }
            Place::At(f) | Place::Against(f) => Ok((curve(&[f])?[0], f)),
        }
    }

    /// Tells what amplifiers draw by way of the part.
    fn tell_drawn(&self, found: &mut Found) {
        found.working.extend(self.drawn.0.iter().cloned());
        found.typical.extend(self.drawn.1.iter().cloned());
        if !self.drawn.0.is_empty() && !self.sources.is_empty() {
            found.working.push("what they draw for a signal is not in the circuit".into());
        }
    }

    fn drive(&self) -> String {
        let one = |(i, level): &(usize, f64)| {
            let unit = if self.bench.is_current(*i) { Unit::Ampere } else { Unit::Volt };
            format!("{} {}", self.bench.circuit.sources[*i].name, say(*level, unit))
        };
        self.sources.iter().map(one).collect::<Vec<_>>().join(", ")
    }
}

/// The sources with a way to these unknowns, each with its level.
///
/// # Errors
/// Names one that has none.
pub(super) fn reaching(bench: &Bench, unknowns: &[u32]) -> Result<Vec<(usize, f64)>, String> {
    let reaches = |source: usize| {
        let rows: Vec<u32> =
            bench.whole.network.excitation(SourceId(source as u32)).into_iter().map(|(r, _)| r).collect();
        let reached = bench.whole.sound.structure.influenced_by(Excited { equations: &rows, givens: &[] });
        unknowns.iter().any(|u| reached[*u as usize])
    };
    let all = bench.circuit.sources.iter().enumerate();
    let all = all.filter(|(i, _)| bench.query.from.is_none_or(|f| f.at() == *i) && reaches(*i));
    all.map(|(i, s)| {
        let level = s.sized()?;
        Ok((i, level.abs()))
    })
    .collect()
}

/// Direct power plus the mean power of the sines.
pub(super) fn power(bench: &Bench, stand: &Stand, id: PartId) -> Result<Found, String> {
    let part = &bench.circuit.parts[id.at()];
    let ways = ways(bench, stand, id, true)?;
    match part.kind {
        PartKind::Capacitor { .. } | PartKind::Inductor { .. } => {
            return Err(format!("what heats {} is its own series resistance, which is not in the circuit", part.name));
        }
        PartKind::Switch { .. } => {
            return Err(format!("{} has no contact resistance in the circuit to make heat in", part.name));
        }
        _ => {}
    }
    let case = Case::of(bench, stand, id)?;
    // A resistance is read by its voltage; a track may be 0 Ω long and is read by its current.
    let heat = |way: &Way, x: f64| match (&way.current, way.ohms) {
        (Through::Resistance(ohms), _) => x * x / ohms,
        (_, Some(ohms)) => x * x * ohms,
        _ => 0.0,
    };
    let kind = |way: &Way| if matches!(way.current, Through::Resistance(_)) { Kind::Voltage } else { Kind::Current };
    let mut rests = Vec::new();
    for way in &ways {
        rests.push(case.rest(way, kind(way))?);
    }
    let still: f64 = ways.iter().zip(&rests).map(|(w, x)| heat(w, *x)).sum();
    let (sine, f) = case.greatest(&mut |fs| {
        let mut sums = vec![0.0; fs.len()];
        for way in &ways {
            let borne = case.borne(way, kind(way), fs)?;
            for (sum, row) in sums.iter_mut().zip(&borne) {
                *sum += row.iter().map(|x| heat(way, *x)).sum::<f64>();
            }
        }
        Ok(sums)
    })?;
    let mut found = Found::of(still + sine);
    found.working.push(format!("at rest {}", say(still, Unit::Watt)));
    case.tell_drawn(&mut found);
    if !case.sources.is_empty() {
        found.working.push(format!("with {}: {} more, at {}", case.drive(), say(sine, Unit::Watt), hertz(f)));
    }
    rated(&mut found, part.ratings.watts, Unit::Watt);
    Ok(found)
}

/// |DC| plus the sine's peak across a part.
pub(super) fn voltage(bench: &Bench, stand: &Stand, id: PartId) -> Result<Found, String> {
    let (mut found, rest, peak) = bear(bench, stand, id, Kind::Voltage)?;
    let part = &bench.circuit.parts[id.at()];
    rated(&mut found, part.ratings.volts, Unit::Volt);
    if let PartKind::Capacitor { polar: true, ends, .. } = part.kind {
        let plus = bench.circuit.node_name(ends[0]);
        found.working.push(if rest - peak < 0.0 {
            format!(
                "polar, {plus} positive: it goes {} the wrong way round, for which a polar capacitor is not made",
                say(peak - rest, Unit::Volt)
            )
        } else {
            format!("polar, {plus} positive: never less than {} the right way round", say(rest - peak, Unit::Volt))
        });
    }
    Ok(found)
}

/// |DC| plus the sine's peak through a part.
pub(super) fn current(bench: &Bench, stand: &Stand, id: PartId) -> Result<Found, String> {
    let (mut found, ..) = bear(bench, stand, id, Kind::Current)?;
    rated(&mut found, bench.circuit.parts[id.at()].ratings.amperes, Unit::Ampere);
    Ok(found)
}

/// The greatest of |DC| plus peak over a part's ways, with the DC (signed) and the peak that it is made of.
fn bear(bench: &Bench, stand: &Stand, id: PartId, kind: Kind) -> Result<(Found, f64, f64), String> {
    let ways = ways(bench, stand, id, kind == Kind::Current)?;
    let case = Case::of(bench, stand, id)?;
    let unit = if kind == Kind::Voltage { Unit::Volt } else { Unit::Ampere };
    let mut best: Option<(Found, f64, f64)> = None;
    for way in &ways {
        if kind == Kind::Current && matches!(way.current, Through::None) {
            continue;
        }
        let rest = case.rest(way, kind)?;
        // Several sources are in phase at some moment.
        let (peak, f) = case.greatest(&mut |fs| {
            let borne = case.borne(way, kind, fs)?;
            Ok(borne.iter().map(|row| peak_of_rms(row.iter().sum())).collect())
        })?;
        let peak = if case.sources.is_empty() { 0.0 } else { peak };
        let mut found = Found::of(rest.abs() + peak);
        if ways.len() > 1 {
            let [a, b] = way.ends.map(|n| bench.circuit.node_name(n));
            found.working.push(format!("the most is between {a} and {b}"));
        }
        found.working.push(format!("at rest {}", say(rest, unit)));
        case.tell_drawn(&mut found);
        if !case.sources.is_empty() {
            found.working.push(format!("with {}: {} peak, at {}", case.drive(), say(peak, unit), hertz(f)));
        }
        if best.as_ref().is_none_or(|b| found.value > b.0.value) {
            best = Some((found, rest, peak));
        }
    }
    best.ok_or_else(|| format!("{} connects nothing", bench.circuit.parts[id.at()].name))
}

/// Compares with a rating.
fn rated(found: &mut Found, rating: Option<f64>, unit: Unit) {
    let Some(rating) = rating.filter(|r| *r > 0.0) else { return };
    let share = found.value / rating;
    let percent = quantity::share(share).unwrap_or_else(|| "an unknown share".into());
    found.working.push(if share > 1.0 {
        format!("over its rating of {}: {percent} of it", say(rating, unit))
    } else {
        format!("{percent} of its rating of {}", say(rating, unit))
    });
}
