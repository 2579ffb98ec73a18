//! The circuit as the rules look at it: every node at every position that is examined, and who stands where.

use std::collections::BTreeSet;
use std::sync::Arc;

use analysis::measure::{self, Moved, View, Whole};
use analysis::positions::{Hands, SOUGHT, Stand};
use circuit::{Circuit, ControlId, Figure, GROUND, NodeId, PartId, PartKind, Position, Sheet, SourceKind};

/// With more sources than these their figures are not asked for one by one: a file of loose pieces has no signal path.
const SOURCES: usize = 16;

/// Between the band's edges so many frequencies a decade are looked at, at rest: what is not sharp is no further than a seventh part of a
/// decade from one of them.
const A_DECADE: f64 = 6.0;
/// So many of the sharpest resonances are looked at besides.
const RESONANCES: usize = 16;
/// From this factor on something is worse at such a frequency than at the edges and the reference …
const WORSE: f64 = 1.02;
/// … and so many of these are looked at everywhere.
const WORST: usize = 6;

/// Where in the band a view is taken; behind these stand the frequencies at which something is worse at rest.
pub(super) const LOW: usize = 0;
pub(super) const REFERENCE: usize = 1;
pub(super) const HIGH: usize = 2;

/// An amplifier with its nodes.
pub(super) struct Amplifier<'a> {
    pub part: PartId,
    pub name: &'a str,
    pub sheet: &'a Sheet,
    pub plus: NodeId,
    pub minus: NodeId,
    pub out: NodeId,
    /// Among the amplifiers, as the views count them.
    pub index: usize,
    /// Its rails as nodes, if the file says which.
    pub rails: Option<[NodeId; 2]>,
}

/// A two-ended part, or one side of a track.
pub(super) struct Branch {
    pub part: PartId,
    pub ends: [NodeId; 2],
    pub kind: BranchKind,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum BranchKind {
    Resistor(f64),
    Capacitor(f64),
    /// Its henries.
    Inductor(f64),
    /// One side of a track: its whole resistance.
    Track(f64),
    /// The position at which it is closed.
    Contact(u32),
}

pub(super) struct Scene<'a> {
    pub whole: &'a Whole,
    pub circuit: &'a Arc<Circuit>,
    pub hands: Hands,
    /// The file says what its band is.
    pub banded: bool,
    pub pulse: &'a dyn Fn(),
    /// The band's edges and the reference between them, in hertz; then the frequencies at which something is worse.
    pub hertz: Vec<f64>,
    /// At every position that is looked at; empty where the figures are not known.
    pub views: Vec<View>,
    /// The same at rest.
    pub resting: Option<View>,
    pub amplifiers: Vec<Amplifier<'a>>,
    pub branches: Vec<Branch>,
    /// By node: the branches that end there.
    pub at: Vec<Vec<usize>>,
    /// The outputs that leave the circuit: of a stage, and no input of another one that has parts of its own.
    pub outputs: Vec<NodeId>,
}

impl<'a> Scene<'a> {
    pub fn of(whole: &'a Whole, circuit: &'a Arc<Circuit>, banded: bool, pulse: &'a dyn Fn()) -> Scene<'a> {
        let hands = Hands::of(circuit);
        let all: Vec<ControlId> = (0..circuit.controls.len() as u32).map(ControlId).collect();
        let stands = hands.examined(&all, SOUGHT);
        let low = circuit.band.0;
        let sound = whole.sound.fault().is_none() && whole.sound.fight().is_none();
        let knowable = sound && circuit.sources.len() <= SOURCES && low > 0.0;
        let order = measure::amplifiers(whole);
        let amplifiers = order.iter().enumerate().filter_map(|(index, id)| {
            let part = &circuit.parts[id.at()];
            let PartKind::Amplifier { sheet, plus, minus, out, .. } = &part.kind else { return None };
            let rails = circuit.rails_of(part);
            Some(Amplifier { part: *id, name: &part.name, sheet, plus: *plus, minus: *minus, out: *out, index, rails })
        });
        let amplifiers: Vec<Amplifier> = amplifiers.collect();
        let branches = branches(circuit);
        let (hertz, resting, views) =
            looked_at(whole, circuit, knowable, &stands, &hands, (&amplifiers, &branches), pulse);
        let mut at = vec![Vec::new(); circuit.nodes.len()];
        for (i, branch) in branches.iter().enumerate() {
            for end in branch.ends {
                at[end.at()].push(i);
            }
        }
        Scene {
            whole,
            circuit,
            hands,
            banded,
            pulse,
            hertz,
            views,
            resting,
            amplifiers,
            branches,
            at,
            outputs: outputs(circuit),
        }
    }

    pub fn name(&self, part: PartId) -> &str {
        &self.circuit.parts[part.at()].name
    }

    /// Whether a contact is closed with the controls at these positions.
    pub fn closed(&self, branch: &Branch, positions: &[Position]) -> bool {
        match (&self.circuit.parts[branch.part.at()].kind, branch.kind) {
            (PartKind::Switch { control, .. }, BranchKind::Contact(n)) => positions[control.at()] == Position::Step(n),
            _ => false,
        }
    }

    pub fn external(&self, part: PartId) -> bool {
        self.circuit.parts[part.at()].external
    }

    pub fn node(&self, node: NodeId) -> &str {
        self.circuit.node_name(node)
    }

    /// The written sources with their level.
    pub fn levels(&self) -> Vec<(usize, f64)> {
        levels(self.circuit)
    }

    /// The sources with their level, in words.
    pub fn drive(&self) -> String {
        let one = |(i, level): &(usize, f64)| {
            let source = &self.circuit.sources[*i];
            let unit = match source.kind {
                SourceKind::Voltage => quantity::Unit::Volt,
                SourceKind::Current => quantity::Unit::Ampere,
            };
            let text = quantity::computed(*level, unit, quantity::Style::default()).unwrap_or_default();
            format!("{text} at {}", source.name)
        };
        self.levels().iter().map(one).collect::<Vec<_>>().join(" and ")
    }

    /// The peak of the signal between two nodes at a view's place in the band, sources in phase at their levels.
    pub fn peak(&self, view: &View, place: usize, [a, b]: [NodeId; 2]) -> f64 {
        let one = |(i, level): &(usize, f64)| {
            let nodes = &view.sources[*i][place].nodes;
            quantity::peak_of_rms((nodes[a.at()] - nodes[b.at()]).norm() * level)
        };
        self.levels().iter().map(one).sum()
    }

    /// The greatest peak between two nodes over the places in the band, with the frequency.
    pub fn greatest(&self, view: &View, ends: [NodeId; 2]) -> (f64, f64) {
        let all = (0..self.hertz.len()).map(|place| (self.peak(view, place, ends), self.hertz[place]));
        all.reduce(|a, b| if b.0 > a.0 { b } else { a }).unwrap_or_default()
    }

    /// The peak of the current out of an amplifier.
    pub fn current(&self, view: &View, place: usize, amplifier: usize) -> f64 {
        let one = |(i, level): &(usize, f64)| {
            quantity::peak_of_rms(view.sources[*i][place].currents[amplifier].norm() * level)
        };
        self.levels().iter().map(one).sum()
    }

    /// An amplifier's rails at rest, the lower first.
    pub fn rails(&self, view: &View, amplifier: &Amplifier) -> Option<[f64; 2]> {
        let [a, b] = amplifier.rails?;
        let (a, b) = (view.rest[a.at()]?, view.rest[b.at()]?);
        (a != b).then_some([a.min(b), a.max(b)])
    }

    /// How far an amplifier's output may go, in volts.
    pub fn swing(&self, view: &View, amplifier: &Amplifier) -> Option<[f64; 2]> {
        let [low, high] = self.rails(view, amplifier)?;
        Some([low + greatest(&amplifier.sheet.swing_low)?, high - greatest(&amplifier.sheet.swing_high)?])
    }

    /// The fitted branches at a node with their other ends.
    pub fn around(&self, node: NodeId) -> impl Iterator<Item = (&Branch, NodeId)> {
        self.at[node.at()].iter().map(move |i| {
            let branch = &self.branches[*i];
            (branch, if branch.ends[0] == node { branch.ends[1] } else { branch.ends[0] })
        })
    }

    /// Whether a node's voltage is given: `gnd`, a rail, a voltage source's node, an amplifier's output.
    pub fn stiff(&self, node: NodeId) -> bool {
        node == GROUND
            || self.is_rail(node)
            || self.amplifiers.iter().any(|a| a.out == node)
            || self.circuit.sources.iter().any(|s| s.kind == SourceKind::Voltage && (s.plus == node || s.minus == node))
    }

    pub fn is_rail(&self, node: NodeId) -> bool {
        node != GROUND && self.circuit.supplies.iter().flat_map(|s| &s.rails).any(|r| r.0 == node)
    }

    /// Whether a node's direct voltage comes from a port that nothing drives and no source is written for.
    pub fn rests_on_guess(&self, node: NodeId) -> bool {
        let guessed =
            |n: NodeId| self.circuit.sources.iter().any(|s| s.implied && (s.plus == n || s.minus == n && n != GROUND));
        let (mut seen, mut open) = (vec![node], vec![node]);
        while let Some(node) = open.pop() {
            if guessed(node) {
                return true;
            }
            let behind = self.amplifiers.iter().filter(|a| a.out == node).map(|a| a.plus);
            let beside =
                self.around(node).filter(|(b, _)| !self.stiff(node) && !matches!(b.kind, BranchKind::Capacitor(_)));
            let next: Vec<NodeId> = behind.chain(beside.map(|(_, other)| other)).collect();
            for n in next.into_iter().filter(|n| *n != GROUND && !self.is_rail(*n)) {
                if !seen.contains(&n) {
                    seen.push(n);
                    open.push(n);
                }
            }
        }
        false
    }

    /// The nodes that can be had from one by branches that pass a test, without going through what is stiff.
    pub fn reach(&self, from: NodeId, goes: impl Fn(&Branch) -> bool) -> Vec<NodeId> {
        let mut seen = vec![from];
        let mut open = vec![from];
        while let Some(node) = open.pop() {
            if node != from && self.stiff(node) {
                continue;
            }
            for (branch, other) in self.around(node) {
                if goes(branch) && !seen.contains(&other) {
                    seen.push(other);
                    open.push(other);
                }
            }
        }
        seen
    }
}

/// The written sources with their level.
fn levels(circuit: &Circuit) -> Vec<(usize, f64)> {
    let all = circuit.sources.iter().enumerate();
    all.filter_map(|(i, s)| Some((i, s.level?.abs()))).filter(|s| s.1 > 0.0).collect()
}

/// The frequencies that are looked at, what stands where at rest, and the same at every position; nothing of it where the figures are not
/// known. A peak between the edges and the reference, of a resonance or of a band-pass, is looked for at rest.
fn looked_at(
    whole: &Whole,
    circuit: &Arc<Circuit>,
    knowable: bool,
    stands: &[Stand],
    hands: &Hands,
    (amplifiers, branches): (&[Amplifier], &[Branch]),
    pulse: &dyn Fn(),
) -> (Vec<f64>, Option<View>, Vec<View>) {
    let (low, high) = circuit.band;
    let mut hertz = vec![low, circuit.reference, high];
    if !knowable {
        return (hertz, None, Vec::new());
    }
    let rest = hands.rest();
    if !levels(circuit).is_empty() && high.is_finite() {
        let steps = (A_DECADE * (high / low).log10()).ceil().clamp(1.0, 60.0);
        hertz.extend((1..steps as usize).map(|k| low * (high / low).powf(k as f64 / steps)));
        hertz.extend(measure::resonances(whole, circuit, &rest, low, high).into_iter().take(RESONANCES));
    }
    let Some(mut resting) =
        measure::survey(whole, circuit, std::slice::from_ref(&rest), &hertz, pulse).ok().and_then(|mut all| all.pop())
    else {
        return (hertz, None, Vec::new());
    };
    let kept = worse(circuit, amplifiers, branches, &resting, &hertz);
    hertz = kept.iter().map(|k| hertz[*k]).collect();
    for source in &mut resting.sources {
        *source = kept.iter().map(|k| source[*k].clone()).collect();
    }
    // Without controls there is one position, which was looked at.
    let views = match stands {
        [one] if one.positions == rest.positions && one.unknown.is_none() => {
            vec![View { name: one.name.clone(), ..resting.clone() }]
        }
        _ => measure::survey(whole, circuit, stands, &hertz, pulse).unwrap_or_default(),
    };
    if views.is_empty() { (hertz, None, views) } else { (hertz, Some(resting), views) }
}

/// The first three frequencies, and those of the others at which an amplifier's output, its current or its slope, or what stands across a
/// part with a rating is worst: the furthest from the three first.
fn worse(circuit: &Circuit, amplifiers: &[Amplifier], branches: &[Branch], view: &View, hertz: &[f64]) -> Vec<usize> {
    let levels = levels(circuit);
    let sum =
        |of: &dyn Fn(&Moved) -> f64, k: usize| levels.iter().map(|(i, x)| of(&view.sources[*i][k]) * x).sum::<f64>();
    let mut found: Vec<(f64, usize)> = Vec::new();
    let mut look = |of: &dyn Fn(&Moved) -> f64, slope: bool| {
        let at = |k: usize| sum(of, k) * if slope { hertz[k] } else { 1.0 };
        let known = (0..3).map(at).fold(0.0, f64::max);
        let others = (3..hertz.len()).map(|k| (at(k), k)).filter(|x| x.0.is_finite());
        let Some((most, k)) = others.reduce(|a, b| if b.0 > a.0 { b } else { a }) else { return };
        if known > 0.0 && most > WORSE * known {
            found.push((most / known, k));
        }
    };
    for a in amplifiers {
        let volts = |m: &Moved| m.nodes[a.out.at()].norm();
        look(&volts, false);
        look(&volts, true);
        look(&|m| m.currents[a.index].norm(), false);
    }
    let rated = |b: &&Branch| {
        let ratings = circuit.parts[b.part.at()].ratings;
        ratings.volts.is_some() || ratings.watts.is_some()
    };
    for b in branches.iter().filter(rated) {
        look(&|m| (m.nodes[b.ends[0].at()] - m.nodes[b.ends[1].at()]).norm(), false);
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut kept = vec![LOW, REFERENCE, HIGH];
    for (_, k) in found {
        let near = |o: &usize| (hertz[*o] / hertz[k] - 1.0).abs() < 1e-6;
        if kept.len() < 3 + WORST && !kept.iter().any(near) {
            kept.push(k);
        }
    }
    kept
}

/// The greatest that a datum may be.
pub(super) fn greatest(figure: &Figure) -> Option<f64> {
    figure.max.or(figure.nominal())
}

/// The least that a datum may be.
pub(super) fn least(figure: &Figure) -> Option<f64> {
    figure.min.or(figure.nominal())
}

fn branches(circuit: &Circuit) -> Vec<Branch> {
    let mut all = Vec::new();
    for (i, part) in circuit.parts.iter().enumerate().filter(|(_, p)| !p.unfitted) {
        let id = PartId(i as u32);
        let mut add = |ends: [NodeId; 2], kind| all.push(Branch { part: id, ends, kind });
        match &part.kind {
            PartKind::Resistor { ends, ohms } => add(*ends, BranchKind::Resistor(ohms.number().unwrap_or(f64::NAN))),
            PartKind::Capacitor { ends, farads, .. } => {
                add(*ends, BranchKind::Capacitor(farads.number().unwrap_or(f64::NAN)));
            }
            PartKind::Inductor { ends, henries } => {
                add(*ends, BranchKind::Inductor(henries.number().unwrap_or(f64::NAN)));
            }
            PartKind::Variable { ohms, ccw, wiper, cw, .. } => {
                let kind = BranchKind::Track(ohms.number().unwrap_or(f64::NAN));
                [ccw, cw].into_iter().flatten().for_each(|end| add([*end, *wiper], kind));
            }
            PartKind::Switch { contacts, .. } => contacts.iter().for_each(|c| add(c.1, BranchKind::Contact(c.0))),
            PartKind::Amplifier { .. } => {}
        }
    }
    all
}

fn outputs(circuit: &Circuit) -> Vec<NodeId> {
    let mut own = vec![false; circuit.stages.len()];
    circuit.parts.iter().filter(|p| !p.external).for_each(|p| own[p.stage.at()] = true);
    let busy = circuit.stages.iter().zip(&own).filter(|(_, own)| **own);
    let taken: BTreeSet<NodeId> = busy.flat_map(|(s, _)| s.inputs.iter().copied()).collect();
    let all = circuit.stages.iter().flat_map(|s| &s.outputs).copied();
    let left: BTreeSet<NodeId> = all.filter(|n| *n != GROUND && !taken.contains(n)).collect();
    left.into_iter().collect()
}
