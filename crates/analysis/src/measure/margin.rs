//! Phase and gain margin: the loop around one amplifier, opened at its own gain with everything else in place.
//!
//! An amplifier's law is a·x − (v₊ − v₋) = 0 with x the voltage that its gain makes, in front of its output resistance. With
//! a source of 1 in that law, T = −(v₊ − v₋)/(a·x): what comes back for one volt in (the return ratio; Bode, *Network
//! Analysis and Feedback Amplifier Design*, 1945). Its zeros are those of v₊ − v₋, its poles those of a and the zeros of x;
//! from them every crossing is found.

use std::f64::consts::{PI, TAU};

use circuit::{NodeId, PartId, PartKind};
use num_complex::Complex64;
use pencil::{Column, Excitation, Excited, Functional, restrict};
use quantity::{Style, Unit};

use super::{Bench, Found, poles};
use crate::factored::{self, Factored};
use crate::network::{Known, Network, Quality, Shape};
use crate::positions::Stand;
use crate::print::hertz;

/// Crossings that a working lists.
const LISTED: usize = 5;

/// The amplifier in question: its law's equation, its terminals, which of its data are known.
pub(super) struct Amplifier {
    pub law: u32,
    plus: NodeId,
    minus: NodeId,
    out: NodeId,
    pub known: Known,
}

impl Amplifier {
    pub fn of(bench: &Bench, part: PartId) -> Result<Amplifier, String> {
        let piece = &bench.whole.network.pieces[part.at()];
        match (&piece.shape, piece.branch) {
            (&Shape::Amplifier { plus, minus, out, known }, Some(law)) => {
                Ok(Amplifier { law, plus, minus, out, known })
            }
            (Shape::Absent(_), _) => Err(format!("{} is not fitted", piece.name)),
            _ => Err(format!("{} is no amplifier", piece.name)),
        }
    }

    /// 1/A₀ and 1/(2π·GBW), each 0 where the sheet has none.
    pub fn own(&self, bench: &Bench, values: &[f64]) -> [f64; 2] {
        let network = &bench.whole.network;
        [Quality::InverseGain, Quality::InverseBandwidth].map(|quality| {
            let own = |(p, q): &(PartId, Quality)| *q == quality && network.pieces[p.at()].branch == Some(self.law);
            network.parameters.iter().position(own).map_or(0.0, |i| values[i])
        })
    }

    /// v₊ − v₋
    pub fn difference(&self) -> Vec<(u32, f64)> {
        Network::injection(self.plus, self.minus)
    }

    /// What its gain makes, in front of the output resistance.
    pub fn made(&self, ohms: f64) -> Vec<(u32, f64)> {
        if self.known.second {
            return vec![(self.law + 1, 1.0)];
        }
        let mut terms = Network::injection(self.out, circuit::GROUND);
        if ohms != 0.0 {
            terms.push((self.law, ohms));
        }
        terms
    }
}

/// Why an amplifier of this loop has no margin, if so.
pub(super) fn lacking(bench: &Bench, part: PartId, amplifier: &Amplifier) -> Option<String> {
    let name = &bench.circuit.parts[part.at()].name;
    let sheet = bench.sheet(part);
    if sheet.ideal {
        return Some(format!(
            "{name} is ideal and has no margin to speak of: a type, as in `{name} fet_dual: …`, would give it one"
        ));
    }
    if let Some(why) = &sheet.unknown {
        return Some(why.to_string());
    }
    // Every amplifier in the loop counts; those that only stand beside it do not.
    let structure = &bench.whole.sound.structure;
    let block = structure.blocks().iter().find(|b| b.equations.contains(&amplifier.law));
    let within = |id: &PartId| {
        let law = bench.whole.network.pieces[id.at()].branch;
        *id == part || law.is_some_and(|l| block.is_some_and(|b| b.equations.contains(&l)))
    };
    bench.amplifiers().into_iter().map(|(id, _)| id).filter(within).find_map(|id| {
        let sheet = bench.sheet(id);
        (!sheet.ideal).then(|| sheet.datum("gain bandwidth", &sheet.gain_bandwidth).err()).flatten()
    })
}

/// The loop gain by its zeros and poles.
fn loop_gain(bench: &Bench, values: &[f64], amplifier: &Amplifier, ohms: f64) -> Result<Option<Factored>, String> {
    let sound = &bench.whole.sound;
    let [inverse_gain, inverse_bandwidth] = amplifier.own(bench, values);
    let (back, made) = (amplifier.difference(), amplifier.made(ohms));
    let wanted: Vec<u32> = back.iter().chain(&made).map(|t| t.0).collect();
    let part = restrict(&sound.pencil, &sound.structure, Excited { equations: &[amplifier.law], givens: &[] }, &wanted);
    let Some(law) = part.equation(amplifier.law) else { return Ok(None) };
    let zeros = |terms: &[(u32, f64)]| {
        let terms = terms.iter().filter_map(|(u, c)| Some((Column::Unknown(part.unknown(*u)?), *c)));
        factored::zeros(&part.pencil, values, &Excitation::equation(law), &Functional { terms: terms.collect() })
    };
    let Some(of_back) = zeros(&back)? else { return Ok(None) };
    let Some(mut of_made) = zeros(&made)? else { return Err("its output is held by something else".into()) };
    // The amplifier's own pole, at GBW/A₀; the origin where its gain at rest has no limit.
    of_made.push(Complex64::new(-inverse_gain / inverse_bandwidth, 0.0));
    let wanted = [bench.functional(&back), bench.functional(&made)];
    let excitation = bench.excitation(&[(amplifier.law, 1.0)]);
    let found = Factored::fitted(of_back, of_made, |omegas| {
        let hertz: Vec<f64> = omegas.iter().map(|w| w / TAU).collect();
        let rows = bench.solve(values, &hertz, &excitation, &wanted)?;
        let one = |(row, omega): (&Vec<Complex64>, &f64)| {
            -row[0] / (Complex64::new(inverse_gain, omega * inverse_bandwidth) * row[1])
        };
        Ok(rows.iter().zip(omegas).map(one).collect())
    })?;
    Ok((found.gain != 0.0).then_some(found))
}

/// Both margins hang on one loop gain; this is which of them is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Which {
    Phase,
    Gain,
}

/// In degrees: the least of |180° + arg T| where |T| = 1. In decibels: the least of |20 log |T|| where arg T = 180°. Infinite
/// where there is no crossing; below every number where the circuit has a pole in the right half plane.
pub(super) fn margin(bench: &Bench, stand: &Stand, part: PartId, which: Which) -> Result<Found, String> {
    let name = bench.circuit.parts[part.at()].name.clone();
    let amplifier = Amplifier::of(bench, part)?;
    if let Some(why) = lacking(bench, part, &amplifier) {
        return Err(why);
    }
    let values = bench.values(stand)?;
    let sheet = bench.sheet(part);
    let ohms = sheet.output_resistance.nominal().unwrap_or(0.0);
    let mut found = Found::default();
    found.working.push(format!("the loop is opened at {name}'s own gain, everything else in place"));
    if let (true, Some(gain), Some(f)) =
        (amplifier.known.second, sheet.minimum_gain.nominal(), sheet.gain_bandwidth.nominal())
    {
        let second = hertz(1.0 / (TAU * crate::values::second_delay(gain, f)));
        let times = quantity::ratio(gain, Style::default()).unwrap_or_default();
        found.working.push(format!(
            "{} is for noise gains from {times} on: a second pole at {second}, which leaves 45° there (common practice)",
            sheet.name
        ));
    }
    let factored = loop_gain(bench, &values, &amplifier, ohms).map_err(|why| format!("{name}: {why}"))?;
    match &factored {
        None => {
            found.value = f64::INFINITY;
            found.working.push(format!("nothing leads from {name}'s output back to its inputs: there is no loop"));
        }
        Some(t) => {
            found.value = f64::INFINITY;
            let at = match which {
                Which::Phase => t.unity(),
                Which::Gain => t.reversal(),
            };
            for (k, omega) in at.map_err(|why| format!("{name}: {why}"))?.into_iter().enumerate() {
                let (margin, line) = crossing(t, omega, which);
                if k < LISTED {
                    found.working.push(line);
                }
                found.value = found.value.min(margin);
            }
            if found.value == f64::INFINITY {
                found.working.push(match which {
                    Which::Phase => "|T| is never 1: unconditional".into(),
                    Which::Gain => "arg T is never 180°: unconditional".into(),
                });
            }
        }
    }
    let all = poles::of(bench.whole, &values)?;
    let growing: Vec<pencil::Root> = all
        .iter()
        .flat_map(|block| block.iter())
        .flat_map(|b| &b.roots)
        .filter(|r| r.s.re > poles::ON_AXIS * r.s.norm() && r.s.im >= 0.0)
        .copied()
        .collect();
    if !growing.is_empty() {
        found.value = f64::NEG_INFINITY;
        let said = poles::told(&growing);
        found.working.push(format!(
            "the circuit grows by itself, poles in the right half plane at {}: whatever the margins, none holds",
            said[..said.len().min(LISTED)].join(", ")
        ));
    }
    let structure = &bench.whole.sound.structure;
    let block = structure.blocks().iter().find(|b| b.equations.contains(&amplifier.law));
    for (id, _) in bench.amplifiers() {
        let law = bench.whole.network.pieces[id.at()].branch;
        let within = id == part || law.is_some_and(|l| block.is_some_and(|b| b.equations.contains(&l)));
        let PartKind::Amplifier { sheet, .. } = &bench.circuit.parts[id.at()].kind else { continue };
        let figures = [
            sheet.gain_bandwidth,
            sheet.open_loop_gain,
            sheet.output_resistance,
            sheet.input_capacitance,
            sheet.differential_capacitance,
            sheet.minimum_gain,
        ];
        if within && figures.iter().any(|f| f.typical.is_some()) {
            found.typical.insert(sheet.name.clone());
        }
    }
    Ok(found)
}

/// The margin at one crossing, and how it is told.
fn crossing(t: &Factored, omega: f64, which: Which) -> (f64, String) {
    let value = t.at(omega);
    let f = hertz(omega / TAU);
    match which {
        Which::Phase => {
            let angle = value.arg();
            // 180° + arg T, in the turn around 0.
            let apart = (if angle > 0.0 { angle - PI } else { angle + PI }).to_degrees().abs();
            let degrees = |x: f64| quantity::degrees(x, Style::default()).unwrap_or_default();
            let told = angle.to_degrees();
            (apart, format!("|T| = 1 at {f}: arg T = {}, |180° + arg T| = {}", degrees(told), degrees(apart)))
        }
        Which::Gain => {
            let db = quantity::db(value.norm());
            let text = quantity::computed(db, Unit::Decibel, Style::default()).unwrap_or_else(|| "no gain".into());
            (db.abs(), format!("arg T = 180° at {f}: |T| = {text}"))
        }
    }
}
