//! Natural frequency and Q: the poles of the part of the circuit that holds a stage.
//!
//! Poles are the roots of the circuit's determinant ([`pencil::roots`]). A pair at a ± jb has the natural frequency
//! √(a² + b²)/2π and Q = √(a² + b²)/(−2a).

use std::collections::BTreeSet;
use std::f64::consts::TAU;
use std::sync::Arc;

use circuit::{Circuit, Name, PartKind, StageId};
use num_complex::Complex64;
use pencil::{Alone, Root, Roots, Unsure};
use quantity::{Style, Unit};
use rustc_hash::FxHashMap;

use super::{Bench, Found, Whole};
use crate::network::{Quality, Shape};
use crate::positions::Stand;
use crate::print::hertz;

/// A real part below this share of the modulus is on the axis, as far as figures of parts can tell.
pub(crate) const ON_AXIS: f64 = 1e-9;
/// Poles that a working lists.
const LISTED: usize = 6;
/// A stage whose parts move a pole at least so much, relative to the stage whose parts move it most, has it for its own.
const OWN: f64 = 0.5;
/// Below this share of all that moves a pole a stage has no say in it.
const SAY: f64 = 0.01;
/// A pole is the amplifiers' own where capacitors and inductors are less than this share of what stores anything in it.
const STORED: f64 = 0.25;
/// Resistors that move an amplifier's own pole at least so much set it.
const SET: f64 = 0.1;
/// So many values of one block are kept.
const MOST: usize = 256;

/// The poles of each block by the bits of its own values. A lookup borrows the bits, and what is found is shared: a key looks up hundreds.
pub(crate) type Kept = Vec<FxHashMap<Box<[u64]>, Made>>;

/// The poles of a block of the topology, which values that are 0 may have taken apart, or why they are not known.
pub(crate) type Made = Result<Arc<[Roots]>, Arc<str>>;

/// Two poles that belong together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Pair {
    /// In rad/s, the one with the positive imaginary part, or the slower of two real ones, first.
    pub poles: [Complex64; 2],
    /// How well the worse of the two is known, relative.
    pub error: f64,
}

impl Pair {
    /// In rad/s.
    pub fn omega(&self) -> f64 {
        self.poles[0].norm().sqrt() * self.poles[1].norm().sqrt()
    }

    /// Below 0: it grows. Infinite: neither.
    pub fn q(&self) -> f64 {
        let sum = self.poles[0].re + self.poles[1].re;
        if sum.abs() <= 2.0 * ON_AXIS * self.omega() { f64::INFINITY } else { -self.omega() / sum }
    }

    fn complex(&self) -> bool {
        self.poles[0].im != 0.0
    }
}

/// The pairs among some poles: those that are conjugates, and, where there is none, real neighbours on the same side.
pub(crate) fn pairs(roots: &[Root]) -> Vec<Pair> {
    let complex: Vec<Pair> =
        roots.iter().filter(|r| r.s.im > 0.0).map(|r| Pair { poles: [r.s, r.s.conj()], error: r.error }).collect();
    if !complex.is_empty() {
        return complex;
    }
    // Roots stand by rising modulus. As a complex pair meets on the axis and parts again its Q goes on through ½ downwards.
    let real: Vec<&Root> = roots.iter().filter(|r| r.s.re != 0.0).collect();
    let side = |r: &Root| r.s.re.signum();
    let mut found = Vec::new();
    for sign in [-1.0, 1.0] {
        let all: Vec<&&Root> = real.iter().filter(|r| side(r) == sign).collect();
        found.extend(all.windows(2).map(|w| Pair { poles: [w[0].s, w[1].s], error: w[0].error.max(w[1].error) }));
    }
    found
}

/// The pair with the highest |Q|; of several the slowest.
pub(crate) fn sharpest(pairs: &[Pair]) -> Option<Pair> {
    pairs.iter().copied().reduce(|a, b| if b.q().abs() > a.q().abs() { b } else { a })
}

/// The poles of a circuit at some values, block by block, or why they are not known. A block whose own values were asked about lately is not
/// worked out again: an edit moves the poles of one.
pub(crate) fn of(whole: &Whole, values: &[f64]) -> Result<Vec<Arc<[Roots]>>, String> {
    let alone = whole.alone.get_or_init(|| pencil::alone(&whole.sound.pencil, &whole.sound.structure));
    let mut bits = Vec::new();
    let known: Vec<Option<Made>> = {
        let mut kept = whole.poles();
        kept.resize_with(alone.len(), Default::default);
        let one = |(kept, alone): (&FxHashMap<Box<[u64]>, Made>, &Alone)| {
            own(alone, values, &mut bits);
            kept.get(&bits[..]).cloned()
        };
        kept.iter().zip(alone).map(one).collect()
    };
    let mut found = Vec::with_capacity(alone.len());
    for (k, (known, alone)) in known.into_iter().zip(alone).enumerate() {
        let made = known.unwrap_or_else(|| {
            let made = of_block(whole, alone, values).map(Arc::from).map_err(Arc::from);
            own(alone, values, &mut bits);
            let kept = &mut whole.poles()[k];
            if kept.len() >= MOST {
                kept.clear();
            }
            kept.insert(bits[..].into(), made.clone());
            made
        });
        found.push(made.map_err(|why: Arc<str>| why.to_string())?);
    }
    Ok(found)
}

/// The bits of a block's own values.
fn own(alone: &Alone, values: &[f64], bits: &mut Vec<u64>) {
    bits.clear();
    bits.extend(alone.parameters.iter().map(|p| values[*p as usize].to_bits()));
}

/// The poles of one block of the topology, which values that are 0 may take apart further.
fn of_block(whole: &Whole, alone: &Alone, values: &[f64]) -> Result<Vec<Roots>, String> {
    let mut found = pencil::roots(&alone.pencil, values).map_err(|why| match why {
        Unsure::Singular { mut unknowns } => {
            unknowns.iter_mut().for_each(|u| *u = alone.block.unknowns[*u as usize]);
            whole.reason(&Unsure::Singular { unknowns })
        }
        other => crate::factored::reason(&other),
    })?;
    for Roots { block, .. } in &mut found {
        block.unknowns.iter_mut().for_each(|u| *u = alone.block.unknowns[*u as usize]);
        block.equations.iter_mut().for_each(|e| *e = alone.block.equations[*e as usize]);
    }
    Ok(found)
}

/// Whether a block holds a part of a stage: one of its own numbers stands in it.
fn holds(whole: &Whole, values: &[f64], roots: &Roots, stage: StageId) -> bool {
    whole.sound.pencil.stamps().iter().any(|s| {
        let Some(p) = s.value.parameter() else { return false };
        let (part, _) = whole.network.parameters[p.0 as usize];
        whole.network.pieces[part.at()].stage == stage
            && values[p.0 as usize] != 0.0
            && s.rows.iter().any(|(r, _)| roots.block.equations.contains(r))
            && s.columns
                .iter()
                .any(|(c, _)| matches!(c, pencil::Column::Unknown(u) if roots.block.unknowns.contains(u)))
    })
}

/// The poles of one block that belong to a stage.
struct Own {
    roots: Roots,
    says: Vec<Say>,
}

/// How much of a pole is a stage's.
struct Say {
    /// Relative to the stage that moves it most.
    against: f64,
    /// Of all that moves it.
    share: f64,
    /// Capacitors and inductors have a say in it.
    stored: bool,
    /// Of what moves it, what the stage's own parts but the amplifiers have.
    parts: f64,
}

impl Say {
    fn of(whole: &Whole, moves: &[(pencil::Parameter, f64)], stage: StageId) -> Say {
        let mut stages: FxHashMap<StageId, f64> = FxHashMap::default();
        let (mut stored, mut amplifiers, mut parts) = (0.0, 0.0, 0.0);
        for (p, by) in moves {
            let (part, quality) = whole.network.parameters[p.0 as usize];
            let piece = &whole.network.pieces[part.at()];
            *stages.entry(piece.stage).or_default() += by;
            if piece.stage == stage && !matches!(piece.shape, Shape::Amplifier { .. }) {
                parts += by;
            }
            match quality {
                Quality::Capacitance | Quality::Inductance => stored += by,
                Quality::InverseBandwidth
                | Quality::OutputOverBandwidth
                | Quality::SecondDelay
                | Quality::OutputTimesSecond
                | Quality::InputCapacitance
                | Quality::DifferentialCapacitance => amplifiers += by,
                _ => {}
            }
        }
        let own = stages.get(&stage).copied().unwrap_or(0.0);
        let (most, all) = stages.values().fold((0.0f64, 0.0), |(m, a), x| (m.max(*x), a + x));
        // At the origin nothing moves a pole by a share of where it is.
        let of = |whole: f64| if whole > 0.0 { own / whole } else { 1.0 };
        let parts = if all > 0.0 { parts / all } else { 1.0 };
        Say { against: of(most), share: of(all), stored: stored >= STORED * (stored + amplifiers), parts }
    }
}

/// The poles that belong to a stage, of the blocks that hold it: those that its own parts move about as much as any other stage's do; in a loop
/// over several stages that is each of them. Where it has none of these, those in which it has a say at all.
fn own_poles(whole: &Whole, blocks: &[Roots], stage: StageId) -> Vec<Own> {
    let says: Vec<Vec<Say>> =
        blocks.iter().map(|b| b.moved_by.iter().map(|m| Say::of(whole, m, stage)).collect()).collect();
    // Equal shares may differ by rounding.
    let chief = |s: &Say| s.against >= OWN * (1.0 - 1e-6);
    let any = says.iter().flatten().any(|s| chief(s) && s.stored);
    let keeps = |s: &Say| if any { chief(s) } else { s.share >= SAY };
    let one = |(block, says): (&Roots, Vec<Say>)| {
        let kept: Vec<usize> = (0..says.len()).filter(|i| keeps(&says[*i])).collect();
        let says = says.into_iter().filter(keeps).collect();
        Own {
            roots: Roots {
                roots: kept.iter().map(|i| block.roots[*i]).collect(),
                moved_by: kept.iter().map(|i| block.moved_by[*i].clone()).collect(),
                ..block.clone()
            },
            says,
        }
    };
    blocks.iter().zip(says).map(one).collect()
}

/// The stages whose parts act in a block.
fn stages(bench: &Bench, values: &[f64], roots: &Roots) -> Vec<Name> {
    let all = bench.circuit.stages.iter().enumerate();
    all.filter(|(i, _)| holds(bench.whole, values, roots, StageId(*i as u32))).map(|(_, s)| s.name.clone()).collect()
}

/// Poles in words: `1.02 kHz with Q 0.707`, `159 Hz`, the origin.
pub(crate) fn told(roots: &[Root]) -> Vec<String> {
    let one = |r: &Root| {
        let f = hertz(r.s.norm() / TAU);
        let grows = if r.s.re > ON_AXIS * r.s.norm() { ", growing" } else { "" };
        if r.s.norm() == 0.0 {
            "one at the origin".to_string()
        } else if r.s.im == 0.0 {
            format!("{f} real{grows}")
        } else {
            format!("{f} with Q {}{grows}", q_text(Pair { poles: [r.s, r.s.conj()], error: r.error }.q()))
        }
    };
    roots.iter().filter(|r| r.s.im >= 0.0).map(one).collect()
}

pub(crate) fn q_text(q: f64) -> String {
    quantity::computed(q, Unit::One, Style::default()).unwrap_or_else(|| "without limit".into())
}

/// A pole as a place in the plane, in hertz.
fn place(s: Complex64) -> String {
    let size = |x: f64| quantity::computed(x, Unit::Hertz, Style::default()).unwrap_or_else(|| "0 Hz".into());
    if s.im == 0.0 { size(s.re / TAU) } else { format!("{} ± j·{}", size(s.re / TAU), size(s.im / TAU)) }
}

/// The blocks that hold a stage, at some values.
fn blocks(bench: &Bench, values: &[f64], stage: StageId) -> Result<Vec<Roots>, String> {
    let all = of(bench.whole, values)?;
    Ok(all.iter().flat_map(|b| b.iter()).filter(|b| holds(bench.whole, values, b, stage)).cloned().collect())
}

/// The sharpest pair of the poles that belong to a stage, or why there is none.
fn pair(bench: &Bench, own: &[Own], stage: StageId) -> Result<Pair, String> {
    let name = &bench.circuit.stages[stage.at()].name;
    // Where nothing but its amplifiers stores anything the pair of a loop counts that its resistors set.
    let any = own.iter().flat_map(|o| &o.says).any(|s| s.stored);
    let counts = |s: &Say| if any { s.stored } else { s.parts >= SET };
    let stored = |o: &Own| -> Vec<Root> {
        o.roots.roots.iter().zip(&o.says).filter(|(_, say)| counts(say)).map(|(r, _)| *r).collect()
    };
    let found: Vec<Pair> = own.iter().flat_map(|o| pairs(&stored(o))).collect();
    // Conjugates anywhere go before real neighbours.
    let complex: Vec<Pair> = found.iter().copied().filter(Pair::complex).collect();
    let best = sharpest(if complex.is_empty() { &found } else { &complex });
    best.ok_or_else(|| {
        let all: Vec<Root> = own.iter().flat_map(stored).collect();
        let amplifiers = own.iter().flat_map(|o| &o.says).any(|s| !counts(s));
        match &told(&all)[..] {
            [] if amplifiers => format!(
                "{name} has no pair of poles but its amplifiers' own, which their gain bandwidth makes: `phase margin` tells how they are damped"
            ),
            [] => format!("{name} has no pole: no capacitor or inductor acts in it"),
            [one] => format!("{name} has one pole only, {one}: it takes two to make a pair"),
            many => format!("{name} has no pair of poles: {}", many.join(", ")),
        }
    })
}

/// What both quantities share: the pair, its working, and the types whose typical figures it rests on.
fn measured(bench: &Bench, stand: &Stand, stage: StageId) -> Result<(Pair, Found), String> {
    let values = bench.values(stand)?;
    let blocks = blocks(bench, &values, stage)?;
    let own = own_poles(bench.whole, &blocks, stage);
    let pair = pair(bench, &own, stage)?;
    let mut found = Found::default();
    for (block, own) in blocks.iter().zip(&own) {
        let names = stages(bench, &values, block);
        let poles = told(&own.roots.roots);
        if poles.is_empty() {
            continue;
        }
        let shown = poles[..poles.len().min(LISTED)].join(", ");
        let more = if poles.len() > LISTED { format!(" and {} more", poles.len() - LISTED) } else { String::new() };
        let who = if names.len() > 1 {
            format!("{} act on one another, order {}", crate::soundness::and(&said(&names)), block.roots.len())
        } else {
            format!("order {}", block.roots.len())
        };
        let whose = if own.roots.roots.len() < block.roots.len() {
            format!("; {}'s own", bench.circuit.stages[stage.at()].name)
        } else {
            String::new()
        };
        found.working.push(format!("{who}{whose}: poles at {shown}{more}"));
    }
    let (omega, q) = (pair.omega(), pair.q());
    if pair.complex() {
        let a = pair.poles[0].re;
        found.working.push(format!("the sharpest pair stands at {}", place(pair.poles[0])));
        found.working.push(format!(
            "f₀ = √(({})² + ({})²) = {}",
            hertz(a.abs() / TAU),
            hertz(pair.poles[0].im / TAU),
            hertz(omega / TAU)
        ));
        if q.is_finite() {
            let side = if a > 0.0 { "−" } else { "" };
            found.working.push(format!(
                "Q = {} / ({side}2 · {}) = {}",
                hertz(omega / TAU),
                hertz(a.abs() / TAU),
                q_text(q)
            ));
        } else {
            found.working.push("it stands on the axis: it neither decays nor grows".into());
        }
    } else {
        let [a, b] = pair.poles.map(|p| hertz(p.re.abs() / TAU));
        found.working.push(format!("both real, the two that lie closest: {a} and {b}"));
        found.working.push(format!("f₀ = √({a} · {b}) = {}", hertz(omega / TAU)));
        found.working.push(format!("Q = {} / ({a} + {b}) = {}", hertz(omega / TAU), q_text(q)));
    }
    if q < 0.0 {
        found.working.push("Q is below 0: it grows by itself".into());
    }
    amplifiers(bench, &values, &blocks, stage, pair, &mut found);
    Ok((pair, found))
}

fn said(names: &[Name]) -> Vec<String> {
    names.iter().map(|n| n.to_string()).collect()
}

/// Notes what the sheets leave out, and marks the types whose typical figures move the pair.
fn amplifiers(bench: &Bench, values: &[f64], blocks: &[Roots], stage: StageId, pair: Pair, found: &mut Found) {
    let mut types: BTreeSet<Name> = BTreeSet::new();
    let mut ideal = values.to_vec();
    for (value, (part, quality)) in ideal.iter_mut().zip(&bench.whole.network.parameters) {
        let amplifier = matches!(bench.whole.network.pieces[part.at()].shape, Shape::Amplifier { .. });
        if amplifier && *quality != Quality::OutputResistance {
            *value = 0.0;
        }
    }
    for (id, _) in bench.amplifiers() {
        let law = bench.whole.network.pieces[id.at()].branch;
        let PartKind::Amplifier { sheet, .. } = &bench.circuit.parts[id.at()].kind else { continue };
        if sheet.ideal || !law.is_some_and(|l| blocks.iter().any(|b| b.block.equations.contains(&l))) {
            continue;
        }
        if sheet.gain_bandwidth.nominal().is_none() {
            let note =
                format!("{} has no gain bandwidth: its gain is taken as the same at every frequency", sheet.name);
            if !found.working.contains(&note) {
                found.working.push(note);
            }
        }
        types.insert(sheet.name.clone());
    }
    if types.is_empty() {
        return;
    }
    let without =
        self::blocks(bench, &ideal, stage).and_then(|b| self::pair(bench, &own_poles(bench.whole, &b, stage), stage));
    let near = |a: f64, b: f64| (a - b).abs() <= 5e-4 * b.abs() || (a.is_infinite() && b.is_infinite());
    let same = without.is_ok_and(|w| near(w.omega(), pair.omega()) && near(w.q(), pair.q()));
    if !same {
        found.typical = types;
    }
}

/// The poles that belong to a stage, in one line, at rest, `order 2, poles at 1.02 kHz with Q 0.707`, and those that act in it and are another
/// stage's, in rad/s. `None`
/// where there are none, where a value is missing, where the circuit has no unique answer, or where it latches.
pub fn poles_of(whole: &Whole, circuit: &Arc<Circuit>, stage: StageId) -> Option<(String, Vec<Complex64>)> {
    if whole.sound.fault().is_some() {
        return None;
    }
    let rest = crate::positions::Hands::of(circuit).rest();
    let mask = stage_unknowns(whole, stage);
    let latches = |b: &Arc<crate::latching::Balance>| {
        b.felt(&mask) && b.weighed(&whole.network, circuit).at(&rest.positions).is_some()
    };
    if whole.sound.balances.iter().any(latches) {
        return None;
    }
    let values = super::numbers(whole, circuit, &rest, &whole.sound.pencil, &whole.sound.structure, &mask).ok()?;
    let all = of(whole, &values).ok()?;
    let blocks: Vec<Roots> =
        all.iter().flat_map(|b| b.iter()).filter(|b| holds(whole, &values, b, stage)).cloned().collect();
    let own: Vec<Root> = own_poles(whole, &blocks, stage).into_iter().flat_map(|o| o.roots.roots).collect();
    let others = blocks.iter().flat_map(|b| &b.roots).filter(|r| !own.contains(r)).map(|r| r.s).collect();
    let told = told(&own);
    if told.is_empty() {
        return None;
    }
    let more = if told.len() > LISTED { format!(" and {} more", told.len() - LISTED) } else { String::new() };
    let noun = if own.len() == 1 { "pole" } else { "poles" };
    Some((format!("order {}, {noun} at {}{more}", own.len(), told[..told.len().min(LISTED)].join(", ")), others))
}

/// In hertz.
pub(super) fn natural_frequency(bench: &Bench, stand: &Stand, stage: StageId) -> Result<Found, String> {
    let (pair, found) = measured(bench, stand, stage)?;
    Ok(Found { value: pair.omega() / TAU, ..found })
}

/// Below 0 where the pair grows, without limit where it stands on the axis.
pub(super) fn q(bench: &Bench, stand: &Stand, stage: StageId) -> Result<Found, String> {
    let (pair, found) = measured(bench, stand, stage)?;
    Ok(Found { value: pair.q(), ..found })
}

/// The unknowns of the blocks that a stage's parts act in, by topology alone.
pub(super) fn stage_unknowns(whole: &Whole, stage: StageId) -> Vec<bool> {
    let mut mask = vec![false; whole.sound.structure.size()];
    let ones = vec![1.0; whole.network.parameters.len()];
    for block in whole.sound.structure.blocks() {
        // A part of the circuit in which nothing stores anything has no poles, and no say in any.
        let stores = |s: &pencil::Stamp| {
            s.domain == pencil::Domain::Dynamic
                && s.rows.iter().any(|(r, _)| block.equations.contains(r))
                && s.columns.iter().any(|(c, _)| matches!(c, pencil::Column::Unknown(u) if block.unknowns.contains(u)))
        };
        if !whole.sound.pencil.stamps().iter().any(stores) {
            continue;
        }
        let roots = Roots { block: block.clone(), roots: Vec::new(), moved_by: Vec::new(), infinite: 0 };
        if holds(whole, &ones, &roots, stage) {
            block.unknowns.iter().for_each(|u| mask[*u as usize] = true);
        }
    }
    mask
}
