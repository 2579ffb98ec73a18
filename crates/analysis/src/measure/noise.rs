//! Noise: its density and its sum over a band at a point, and both referred to an input.
//!
//! Every resistor makes 4kTR (Nyquist, Phys. Rev. 32, 1928), every amplifier a voltage noise in front of its + input and a
//! current noise at each input, all independent. One transposed solution a frequency tells what each of them is at the
//! point (Rohrer, Nagel, Meyer and Weber, IEEE J. Solid-State Circuits 6, 1971); powers add.

use std::collections::BTreeSet;
use std::f64::consts::TAU;

use circuit::{
    Circuit, Figure, GROUND, Measure, Name, NodeId, PartKind, Point, Sheet, SourceId, SourceKind, Weighting,
};
use num_complex::Complex64;
use pencil::{Injection, Lane};
use quantity::{Style, Unit};

use super::integrate::integrate;
use super::weighting::ratio;
use super::{Bench, Found};
use crate::network::{Network, Quality, Shape};
use crate::positions::Stand;
use crate::reading::{Kind, Place, Reading};

/// In J/K, exact: the SI since 2019.
const BOLTZMANN: f64 = 1.380_649e-23;
/// 0 °C in kelvins.
const ZERO_CELSIUS: f64 = 273.15;
/// Lines of the working for the largest shares.
const NAMED: usize = 8;

/// One thing that makes noise, independent of all others.
struct Maker {
    /// `R1`, `U1a's voltage noise`.
    name: String,
    injection: Injection,
    /// White density squared, V²/Hz or A²/Hz.
    white: f64,
    /// In hertz: the density squared is white·(1 + corner/f). 0 without a corner.
    corner: f64,
    /// What it makes by itself, in words.
    words: String,
}

/// All makers with a way to the point, and what they rest on.
struct Makers {
    all: Vec<Maker>,
    typical: BTreeSet<Name>,
    notes: Vec<String>,
}

fn say(x: f64, unit: Unit) -> String {
    quantity::computed(x, unit, Style::default()).unwrap_or_else(|| "0".into())
}

/// A datum that may be left out, and then is 0; one that is written and cannot be read is missing.
fn optional(sheet: &Sheet, words: &str, figure: &Figure) -> Result<f64, String> {
    match sheet.torn(words, figure) {
        Some(why) => Err(why),
        None => Ok(figure.nominal().unwrap_or(0.0)),
    }
}

fn makers(bench: &Bench, values: &[f64], point: &Point) -> Result<Makers, String> {
    let (network, sound) = (&bench.whole.network, &bench.whole.sound);
    let unknowns: Vec<u32> = point.terms.iter().filter_map(|(_, n)| Network::row(*n)).collect();
    let relevant = sound.structure.influencing(&unknowns);
    let heard = |row: u32| relevant[sound.structure.unknown_of(row) as usize];
    let kelvin = bench.circuit.temperature + ZERO_CELSIUS;
    if kelvin.is_nan() {
        return Err("the temperature cannot be read".into());
    }
    let mut found = Makers { all: Vec::new(), typical: BTreeSet::new(), notes: Vec::new() };
    let mut thermal = |name: &str, rows: Vec<(u32, f64)>, ohms: f64, current: bool| -> Result<(), String> {
        if !rows.iter().any(|(r, _)| heard(*r)) || ohms == 0.0 {
            return Ok(());
        }
        if !(ohms > 0.0 && ohms.is_finite()) {
            return Err(format!("{name} is {}, which makes no thermal noise that is known", say(ohms, Unit::Ohm)));
        }
        let square = 4.0 * BOLTZMANN * kelvin * ohms;
        found.all.push(Maker {
            name: name.into(),
            injection: Injection { equations: rows, givens: Vec::new() },
            white: if current { square / (ohms * ohms) } else { square },
            corner: 0.0,
            words: format!("{} makes {}", say(ohms, Unit::Ohm), say(square.sqrt(), Unit::VoltPerRootHertz)),
        });
        Ok(())
    };
    for (k, &(part, quality)) in network.parameters.iter().enumerate() {
        let piece = &network.pieces[part.at()];
        match (&piece.shape, quality) {
            (Shape::Resistor([a, b]), Quality::Resistance) => {
                thermal(&piece.name, Network::injection(*a, *b), values[k], true)?;
            }
            (Shape::Variable { ccw, cw, .. }, Quality::LowTrack | Quality::HighTrack) => {
                // Each branch has a law of its own, v(a) − v(b) − r·i = e.
                let high = quality == Quality::HighTrack;
                let branch = piece.branch.unwrap_or(u32::MAX) + u32::from(high && ccw.is_some());
                let both = ccw.is_some() && cw.is_some();
                let side = if !both {
                    ""
                } else if high {
                    " above its wiper"
                } else {
                    " below its wiper"
                };
                thermal(&format!("{}{side}", piece.name), vec![(branch, 1.0)], values[k], false)?;
            }
            _ => {}
        }
    }
    for (part, [plus, minus, _]) in bench.amplifiers() {
        let (piece, PartKind::Amplifier { sheet, .. }) =
            (&network.pieces[part.at()], &bench.circuit.parts[part.at()].kind)
        else {
            continue;
        };
        let branch = piece.branch.unwrap_or(u32::MAX);
        let at = |node: NodeId| Network::injection(node, GROUND);
        if !heard(branch) && ![plus, minus].into_iter().flat_map(at).any(|(r, _)| heard(r)) {
            continue;
        }
        amplifier(&mut found, &piece.name, sheet, branch, [at(plus), at(minus)])?;
    }
    found.all.retain(|m| m.white > 0.0 && m.injection.equations.iter().any(|(r, _)| heard(*r)));
    Ok(found)
}

fn amplifier(
    found: &mut Makers,
    name: &str,
    sheet: &Sheet,
    branch: u32,
    inputs: [Vec<(u32, f64)>; 2],
) -> Result<(), String> {
    if sheet.ideal {
        return Err(format!(
            "{name} is ideal and has no noise to speak of: a type with voltage noise and current noise would give it some"
        ));
    }
    if let Some(why) = &sheet.unknown {
        return Err(why.to_string());
    }
    let volts = sheet.datum("voltage noise", &sheet.voltage_noise)?;
    let amperes = sheet.datum("current noise", &sheet.current_noise)?;
    let volts_corner = optional(sheet, "voltage noise corner", &sheet.voltage_noise_corner)?;
    let amperes_corner = optional(sheet, "current noise corner", &sheet.current_noise_corner)?;
    let rests = [
        sheet.voltage_noise,
        sheet.current_noise,
        sheet.voltage_noise_corner,
        sheet.current_noise_corner,
        sheet.gain_bandwidth,
        sheet.open_loop_gain,
    ];
    if rests.iter().any(|f| f.typical.is_some()) {
        found.typical.insert(sheet.name.clone());
    }
    if sheet.gain_bandwidth.nominal().is_none() {
        let note = format!("{} has no gain bandwidth: its gain is taken as the same at every frequency", sheet.name);
        if !found.notes.contains(&note) {
            found.notes.push(note);
        }
    }
    let mut push = |what: &str, rows: Vec<(u32, f64)>, density: f64, corner: f64, unit: Unit| {
        let rise = if corner > 0.0 { format!(", 1/f below {}", crate::print::hertz(corner)) } else { String::new() };
        found.all.push(Maker {
            name: format!("{name}'s {what}"),
            injection: Injection { equations: rows, givens: Vec::new() },
            white: density * density,
            corner,
            words: format!("{}{rise}", say(density, unit)),
        });
    };
    let [plus, minus] = inputs;
    push("voltage noise", vec![(branch, 1.0)], volts, volts_corner, Unit::VoltPerRootHertz);
    push("current noise at +", plus, amperes, amperes_corner, Unit::AmperePerRootHertz);
    push("current noise at −", minus, amperes, amperes_corner, Unit::AmperePerRootHertz);
    Ok(())
}

/// Density squared (V²/Hz) of each maker at the point, by frequency.
fn densities(
    bench: &Bench,
    values: &[f64],
    point: &Point,
    makers: &[Maker],
    hertz: &[f64],
) -> Result<Vec<f64>, String> {
    let injections: Vec<Injection> = makers.iter().map(|m| m.injection.clone()).collect();
    let lanes: Vec<Lane> = hertz.iter().map(|f| Lane { s: Complex64::new(0.0, TAU * f), values }).collect();
    let answers = bench.solver().adjoint(&lanes, &bench.voltage(point), &injections);
    let one = |(i, h): (usize, Result<Complex64, pencil::Unsure>)| -> Result<f64, String> {
        let (m, f) = (&makers[i % makers.len()], hertz[i / makers.len()]);
        let rise = if m.corner > 0.0 { 1.0 + m.corner / f } else { 1.0 };
        Ok(h.map_err(|why| bench.whole.reason(&why))?.norm_sqr() * m.white * rise)
    };
    answers.into_iter().enumerate().map(one).collect()
}

/// The lines that tell who makes how much, largest first.
fn shares(makers: &[Maker], powers: &[f64], point: &Point, unit: Unit) -> Vec<String> {
    let total: f64 = powers.iter().sum();
    let mut order: Vec<usize> = (0..makers.len()).filter(|i| powers[*i] > 0.0).collect();
    order.sort_by(|a, b| powers[*b].total_cmp(&powers[*a]));
    let share = |p: f64| quantity::share(p / total).unwrap_or_default();
    let line = |i: &usize| {
        let (m, p) = (&makers[*i], powers[*i]);
        format!("{}: {}; {} at {}, {} of the power", m.name, m.words, say(p.sqrt(), unit), point.name, share(p))
    };
    // A rest of one is named like the others.
    let named = if order.len() == NAMED + 1 { NAMED + 1 } else { NAMED.min(order.len()) };
    let mut lines: Vec<String> = order[..named].iter().map(line).collect();
    if let [_, ..] = &order[named..] {
        let rest: f64 = order[named..].iter().map(|i| powers[*i]).sum();
        lines.push(format!("the rest, {} more: {} of the power", order.len() - named, share(rest)));
    }
    if lines.is_empty() {
        lines.push(format!("nothing that makes noise has a way to {}", point.name));
    } else {
        lines.push(format!("power sum {} at {}", say(total.sqrt(), unit), point.name));
    }
    lines
}

/// Volts rms over a band, or V/√Hz at a frequency.
pub(super) fn noise(bench: &Bench, stand: &Stand, point: &Point) -> Result<Found, String> {
    let values = bench.values(stand)?;
    let makers = makers(bench, &values, point)?;
    let (all, weighting) = (&makers.all, bench.query.weighting);
    let celsius = quantity::computed(bench.circuit.temperature, Unit::Celsius, Style::default()).unwrap_or_default();
    if !all.is_empty() {
        bench.bounded(&values, &mut |fs| {
            let rows = densities(bench, &values, point, all, fs)?;
            Ok(rows.chunks(all.len()).map(|row| row.iter().sum()).collect())
        })?;
    }
    let (powers, unit, place) = match bench.place {
        Place::Over(low, high) => {
            if let (Some(m), true) = (all.iter().find(|m| m.corner > 0.0), low <= 0.0) {
                return Err(format!(
                    "{} rises as 1/f, and the band reaches 0 Hz: `over 0.1 Hz .. …` has an end",
                    m.name
                ));
            }
            let weight = |f: f64| weighting.map_or(1.0, |w| ratio(w, f).powi(2));
            let mut curve = |fs: &[f64]| -> Result<Vec<f64>, String> {
                let mut rows = densities(bench, &values, point, all, fs)?;
                for (row, f) in rows.chunks_mut(all.len()).zip(fs) {
                    row.iter_mut().for_each(|x| *x *= weight(*f));
                }
                Ok(rows)
            };
            let powers = if all.is_empty() {
                Vec::new()
            } else {
                integrate(low, high, &bench.poles(&values), all.len(), &mut curve)?
            };
            let place = format!("over {} … {}", crate::print::hertz(low), crate::print::hertz(high));
            (powers, Unit::Volt, place)
        }
        Place::At(f) | Place::Against(f) => {
            let powers = if all.is_empty() { Vec::new() } else { densities(bench, &values, point, all, &[f])? };
            (powers, Unit::VoltPerRootHertz, format!("at {}", crate::print::hertz(f)))
        }
    };
    let mut found = Found::of(powers.iter().sum::<f64>().sqrt());
    found.working.push(format!("{place}, resistors at {celsius}"));
    match weighting {
        Some(Weighting::A) => found.working.push("A-weighted, IEC 61672-1".into()),
        Some(Weighting::Itu468) => {
            found.working.push(
                "weighted by ITU-R BS.468, as rms: the recommendation's meter shows quasi-peaks, which are more".into(),
            );
        }
        None => {}
    }
    found.working.extend(shares(all, &powers, point, unit));
    found.working.extend(makers.notes);
    found.typical = makers.typical;
    Ok(found)
}

/// The noise at a point over the design's band at rest, by who makes it: volts squared.
///
/// # Errors
/// Names the datum or the value that is missing.
pub fn noise_makers(
    whole: &super::Whole,
    circuit: &std::sync::Arc<Circuit>,
    point: &Point,
    pulse: &dyn Fn(),
) -> Result<Vec<(String, f64)>, String> {
    let query = circuit::Query::of(circuit::Quantity::Measure(Measure::Noise(point.clone())));
    let (low, high) = circuit.band;
    let bench = Bench { whole, circuit, query: &query, place: Place::Over(low, high), pulse };
    if low <= 0.0 {
        return Err("the band reaches 0 Hz".into());
    }
    let values = bench.values(&crate::positions::Hands::of(circuit).rest())?;
    let all = makers(&bench, &values, point)?.all;
    if all.is_empty() {
        return Ok(Vec::new());
    }
    let mut curve = |fs: &[f64]| densities(&bench, &values, point, &all, fs);
    let powers = integrate(low, high, &bench.poles(&values), all.len(), &mut curve)?;
    Ok(all.into_iter().map(|m| m.name).zip(powers).collect())
}

/// A noise density along a band, by who makes it.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// In hertz, rising.
    pub hertz: Vec<f64>,
    /// Name and V²/Hz at each frequency, from the one that makes most over the band to the one that makes least.
    pub makers: Vec<(String, Vec<f64>)>,
    /// The types of amplifiers on whose typical figures it rests.
    pub typical: Vec<Name>,
}

/// The noise density at a point along a band at one position.
///
/// # Errors
/// Names the datum or the value that is missing.
pub fn spectrum(
    whole: &super::Whole,
    circuit: &std::sync::Arc<Circuit>,
    point: &Point,
    stand: &Stand,
    (low, high): (f64, f64),
) -> Result<Spectrum, String> {
    if let Some(why) = whole.sound.fight().or(whole.sound.fault()) {
        return Err(why.to_string());
    }
    let measure = Measure::NoiseDensity(point.clone());
    let query = circuit::Query::of(circuit::Quantity::Measure(measure.clone()));
    let bench = Bench { whole, circuit, query: &query, place: Place::Over(low, high), pulse: &|| {} };
    bench.unclashed(&measure, stand)?;
    if let Some(why) = &stand.unknown {
        return Err(why.to_string());
    }
    let values = bench.values(stand)?;
    let found = makers(&bench, &values, point)?;
    let hertz = crate::sweep::grid(low, high, &bench.sharp(stand, None)?);
    let n = found.all.len();
    let rows = if n == 0 { Vec::new() } else { densities(&bench, &values, point, &found.all, &hertz)? };
    let of = |k: usize| (found.all[k].name.clone(), rows.iter().skip(k).step_by(n).copied().collect::<Vec<f64>>());
    let mut makers: Vec<(String, Vec<f64>)> = (0..n).map(of).collect();
    let size = |row: &[f64]| -> f64 {
        row.windows(2).zip(hertz.windows(2)).map(|(p, f)| 0.5 * (p[0] + p[1]) * (f[1] - f[0])).sum()
    };
    makers.sort_by(|a, b| size(&b.1).total_cmp(&size(&a.1)));
    Ok(Spectrum { hertz, makers, typical: found.typical.into_iter().collect() })
}

/// The current source that stands at a point, if one does.
fn current_at(circuit: &Circuit, a: &Point) -> Option<usize> {
    let at = |s: &circuit::Source| s.kind == SourceKind::Current && a.ends() == Some((s.plus, s.minus));
    circuit.sources.iter().position(at)
}

/// Noise at B over the gain from A, at the reference or, of a density, at its frequency.
pub(super) fn input_noise(bench: &Bench, stand: &Stand, a: &Point, b: &Point) -> Result<Found, String> {
    let mut found = noise(bench, stand, b)?;
    let (f, density) = match bench.place {
        Place::At(f) | Place::Against(f) => (f, true),
        Place::Over(..) => (bench.circuit.reference, false),
    };
    let place = crate::print::hertz(f);
    let (gain, unit) = match current_at(bench.circuit, a) {
        Some(source) => {
            let values = bench.values(stand)?;
            let excitation = bench.excitation(&bench.whole.network.excitation(SourceId(source as u32)));
            let ohms = bench.solve(&values, &[f], &excitation, &[bench.voltage(b)])?[0][0].norm();
            found.working.push(format!("transimpedance {} -> {} at {place}: {}", a.name, b.name, say(ohms, Unit::Ohm)));
            (ohms, if density { Unit::AmperePerRootHertz } else { Unit::Ampere })
        }
        None => {
            let gain = bench.gains(stand, a, b, &[f])?[0].norm();
            let text = quantity::ratio_with_decibels(gain, Style::default()).unwrap_or_else(|| "none".into());
            found.working.push(format!("gain {} -> {} at {place}: {text}", a.name, b.name));
            (gain, if density { Unit::VoltPerRootHertz } else { Unit::Volt })
        }
    };
    if !(gain > 0.0 && gain.is_finite()) {
        let why = format!("nothing of {} arrives at {} at {place}, so the noise has no size there", a.name, b.name);
        // A position that lets nothing through at any frequency is no place for the signal, and asks nothing of the noise.
        let (low, high) = bench.circuit.band;
        let everywhere = [low, (low * high).sqrt(), high];
        let quiet = |gains: Vec<f64>| gains.iter().all(|g| *g == 0.0);
        let silent = current_at(bench.circuit, a).is_none()
            && gain == 0.0
            && quiet(bench.gains(stand, a, b, &everywhere)?.iter().map(|g| g.norm()).collect());
        return if silent { Ok(Found::silent(why)) } else { Err(why) };
    }
    found.value /= gain;
    found.working.push(format!("at {}: {}", a.name, say(found.value, unit)));
    Ok(found)
}

/// Gives a reading the unit of its input: amperes where a current source drives.
pub(super) fn unit(circuit: &Circuit, measure: &Measure, reading: &mut Reading) {
    let (a, unit) = match measure {
        Measure::InputNoise(a, _) => (a, Unit::Ampere),
        Measure::InputNoiseDensity(a, _) => (a, Unit::AmperePerRootHertz),
        _ => return,
    };
    if current_at(circuit, a).is_some() {
        (reading.unit, reading.kind) = (unit, Kind::Plain);
    }
}
