//! Quantities that are read off the response: delay, flatness, level, balance and rejection.

use std::f64::consts::TAU;

use circuit::{Point, SourceId};
use num_complex::Complex64;
use quantity::{Style, Unit, db};

use super::{Bench, Found};
use crate::extreme;
use crate::network::Network;
use crate::positions::Stand;
use crate::reading::Place;

fn hertz(f: f64) -> String {
    crate::print::hertz(f)
}

fn decibels(x: f64) -> String {
    quantity::decibels(x, Style::default()).unwrap_or_default()
}

/// −dφ/dω, from the equations and their derivative; over a band from the least to the greatest.
pub(super) fn delay(bench: &Bench, stand: &Stand, a: &Point, b: &Point) -> Result<Found, String> {
    const HOW: &str = "−dφ/dω, from the equations and their derivative by ω";
    let (low, high) = match bench.place {
        Place::At(f) | Place::Against(f) => {
            let mut found = Found::of(bench.delays(stand, a, b, &[f])?[0]);
            found.working = vec![format!("at {}: {HOW}", hertz(f))];
            return Ok(found);
        }
        Place::Over(low, high) => (low, high),
    };
    let marks = bench.marks(stand, a, b)?;
    if let Some(f) = marks.null(low, high) {
        return Err(format!("at {} nothing arrives, and the phase jumps there", hertz(f)));
    }
    if let Some(f) = marks.unbounded(low, high) {
        return Err(format!("at {} nothing bounds the gain, and the phase jumps there", hertz(f)));
    }
    let ends = extreme::ends(low, high, &marks, &mut |fs| bench.delays(stand, a, b, fs))?;
    let mut found = Found::between(ends);
    found.working = vec![format!("over {} … {}: {HOW}", hertz(low), hertz(high))];
    Ok(found)
}

/// The greatest absolute difference in decibels from the gain at the reference, or from a curve that agrees there.
pub(super) fn flatness(bench: &Bench, stand: &Stand, a: &Point, b: &Point) -> Result<Found, String> {
    let Place::Over(low, high) = bench.place else { return Err("it is taken over a band".into()) };
    let reference = bench.query.against.unwrap_or(bench.circuit.reference);
    let curve = |f: f64| -> Result<f64, String> {
        let Some(name) = &bench.query.curve else { return Ok(1.0) };
        let s = Complex64::new(0.0, TAU * f);
        let found = bench.circuit.lets.iter().find(|l| l.name == *name);
        let expr = &found.ok_or_else(|| format!("{name} has no value"))?.expr;
        let term =
            circuit::expr::evaluate(expr, &**bench.circuit, Some(s)).map_err(|_| format!("{name} has no value"))?;
        if term.dimension.is_none() {
            Ok(term.value.norm())
        } else {
            Err(format!("{name} is in {}, and no ratio", term.dimension.name()))
        }
    };
    let size = |fs: &[f64]| -> Result<Vec<f64>, String> {
        let gains = bench.gains(stand, a, b, fs)?;
        gains.iter().zip(fs).map(|(g, f)| Ok(g.norm() / curve(*f)?)).collect()
    };
    let level = size(&[reference])?[0];
    if level == 0.0 && size(&[low, high, (low * high).sqrt()])?.iter().all(|x| *x == 0.0) {
        return Ok(Found::silent(format!("nothing of {} arrives at {}", a.name, b.name)));
    }
    if !(level > 0.0 && level.is_finite()) {
        return Err(format!("there is no gain at {}", hertz(reference)));
    }
    let mut apart = |fs: &[f64]| -> Result<Vec<f64>, String> {
        Ok(size(fs)?.into_iter().map(|x| if x > 0.0 { db(x / level).abs() } else { f64::MAX }).collect())
    };
    let marks = bench.marks(stand, a, b)?;
    if let Some(f) = marks.unbounded(low, high) {
        return Err(format!("at {} nothing bounds the gain: what resonates there has no loss", hertz(f)));
    }
    let [_, most] = extreme::ends(low, high, &marks, &mut apart)?;
    if most == f64::MAX || marks.null(low, high).is_some() {
        return Err("somewhere in the band nothing arrives at all".into());
    }
    let mut found = Found::of(most);
    let against = match &bench.query.curve {
        Some(name) => format!("{name}, which agrees at {}", hertz(reference)),
        None => format!("the gain at {}", hertz(reference)),
    };
    found.working = vec![
        format!("over {} … {}, against {against}", hertz(low), hertz(high)),
        format!("greatest difference {}", decibels(most)),
    ];
    Ok(found)
}

/// The voltage of each source at a point, rms, at each frequency: a row a frequency.
pub(super) fn voltages(bench: &Bench, stand: &Stand, point: &Point, hertz: &[f64]) -> Result<Vec<Vec<f64>>, String> {
    let values = bench.values(stand)?;
    let wanted = [bench.voltage(point)];
    let mut rows = vec![Vec::new(); hertz.len()];
    for (source, level) in bench.levels()? {
        let excitation = bench.excitation(&bench.whole.network.excitation(SourceId(source as u32)));
        for (row, x) in rows.iter_mut().zip(bench.solve(&values, hertz, &excitation, &wanted)?) {
            row.push(x[0].norm() * level);
        }
    }
    Ok(rows)
}

fn power_sum(all: &[f64]) -> f64 {
    all.iter().map(|x| x * x).sum::<f64>().sqrt()
}

/// Volts rms with the sources at their levels, as a power sum over them.
pub(super) fn level(bench: &Bench, stand: &Stand, point: &Point) -> Result<Found, String> {
    let volts = |fs: &[f64]| -> Result<Vec<f64>, String> {
        Ok(voltages(bench, stand, point, fs)?.iter().map(|row| power_sum(row)).collect())
    };
    bench.bounded(&bench.values(stand)?, &mut |fs| volts(fs))?;
    let mut found = match bench.place {
        Place::Over(a, b) => {
            let [_, most] = extreme::ends(a, b, &bench.sharp(stand, None)?, &mut |fs| volts(fs))?;
            let mut found = Found::of(most);
            found.working.push(format!("the greatest over {} … {}", hertz(a), hertz(b)));
            found
        }
        Place::At(f) | Place::Against(f) => {
            let mut found = Found::of(volts(&[f])?[0]);
            found.working.push(format!("at {}", hertz(f)));
            found
        }
    };
    for (source, level) in bench.levels()? {
        let (name, current) = (&bench.circuit.sources[source].name, bench.is_current(source));
        let unit = if current { Unit::Ampere } else { Unit::Volt };
        let text = quantity::computed(level, unit, Style::default()).unwrap_or_default();
        found.working.push(format!("{name} gives {text}"));
    }
    Ok(found)
}

/// 20 log of |V(hot) − V(cold)| over |V(hot) + V(cold)|/2.
pub(super) fn balance(bench: &Bench, stand: &Stand, pair: &Point) -> Result<Found, String> {
    let (Some((hot, cold)), Place::At(f)) = (pair.ends(), bench.place) else {
        return Err(format!("{} is no pair, or no frequency is meant", pair.name));
    };
    let (Some(h), Some(c)) = (Network::row(hot), Network::row(cold)) else {
        return Err(format!("{} is no pair of two nodes beside gnd", pair.name));
    };
    let values = bench.values(stand)?;
    let wanted = [bench.functional(&[(h, 1.0), (c, -1.0)]), bench.functional(&[(h, 0.5), (c, 0.5)])];
    // One source decides the ratio; several must be told apart.
    let reaching: Vec<usize> =
        (0..bench.circuit.sources.len()).filter(|i| bench.query.from.is_none_or(|from| from.at() == *i)).collect();
    let mut ratio: Option<f64> = None;
    let mut drive = String::new();
    for source in reaching {
        let excitation = bench.excitation(&bench.whole.network.excitation(SourceId(source as u32)));
        let row = &bench.solve(&values, &[f], &excitation, &wanted)?[0];
        if row[0].norm() == 0.0 && row[1].norm() == 0.0 {
            continue;
        }
        let one = row[0].norm() / row[1].norm();
        if ratio.is_some_and(|r: f64| (r / one - 1.0).abs() > 1e-9) {
            return Err(format!(
                "several sources reach {} and give different figures: say which, `from {}`",
                pair.name, bench.circuit.sources[source].name
            ));
        }
        ratio = Some(one);
        drive = format!("{} drives, at {}", bench.circuit.sources[source].name, hertz(f));
    }
    let ratio = ratio.ok_or_else(|| format!("no source reaches {}", pair.name))?;
    let mut found = Found::of(if ratio.is_finite() { db(ratio) } else { f64::INFINITY });
    found.working = vec![
        drive,
        format!(
            "|hot − cold| is {} of their mean",
            quantity::ratio(ratio, Style::default()).unwrap_or_else(|| "any multiple".into())
        ),
    ];
    Ok(found)
}

/// Below this share of the difference what comes through of a common mode is rounding of the parts' own figures, and where a preset nulls
/// it, of the place that it is set to: 200 dB.
const NULL: f64 = 1e-10;

/// In decibels, from the gain of a common mode over that of a difference; without limit where nothing but rounding comes through.
pub(crate) fn rejected(share: Complex64) -> f64 {
    if share.norm() < NULL { f64::INFINITY } else { -db(share.norm()) }
}

/// 20 log of the differential over the common gain; ideal sources replace what drives the pair.
pub(super) fn rejection(bench: &Bench, stand: &Stand, pair: &Point, to: &Point) -> Result<Found, String> {
    let (Some((hot, cold)), Place::At(f)) = (pair.ends(), bench.place) else {
        return Err(format!("{} is no pair, or no frequency is meant", pair.name));
    };
    if Network::row(hot).is_none() || Network::row(cold).is_none() {
        return Err(format!("{} is no pair of two nodes beside gnd", pair.name));
    }
    let [differential, common] = crate::plan::pair_gains(&bench.whole.network, &bench.whole.sound, hot, cold, to)?;
    let at = |local: &crate::plan::Local| -> Result<Complex64, String> {
        let inputs = crate::Inputs::of(Some(local), &bench.whole.network, bench.circuit);
        if let Some(why) = inputs.missing() {
            return Err(why.to_string());
        }
        let response = crate::response::Response::new(local, &inputs);
        Ok(response.at(&response.values(stand), &[f]).remove(0)?[0])
    };
    let (d, c) = (at(&differential)?, at(&common)?);
    if d.norm() == 0.0 {
        return Ok(Found::silent(format!("nothing of the difference arrives at {}", to.name)));
    }
    let mut found = Found::of(rejected(c / d));
    found.working = vec![
        format!("at {}, ideal sources at {}: ±½ for the difference, both 1 for the common mode", hertz(f), pair.name),
        format!(
            "differential gain {}, common gain {}",
            decibels(db(d.norm())),
            if c.norm() > 0.0 { decibels(db(c.norm())) } else { "none".into() }
        ),
    ];
    Ok(found)
}
