//! The rules about what stages do to one another: sources and loads, corners, offset and noise on the way.

use std::collections::BTreeSet;

use analysis::measure;
use analysis::positions::{GLANCE, Look, Stand};
use analysis::{Reading, Status};
use argument::rules::Finding;
use argument::rules::{
    corner_moves, corners_add_up, feedback_lost, offset_beyond_rails, offset_large, resistor_noise, source_in_gain,
    source_loaded,
};
use circuit::{GROUND, Measure, NodeId, PartId, PartKind, Point, Quantity, Query, SourceKind, StageId};
use num_complex::Complex64;

use super::scene::{Amplifier, Branch, BranchKind, HIGH, LOW, REFERENCE, Scene};
use super::{At, Noted};
use crate::database::{Asked, Desk, Document, WayKey, network, planned, query, reading, stage_quantities, way};

pub(super) fn review(db: &dyn Desk, document: Document, scene: &Scene, found: &mut Vec<Noted>) {
    offsets(scene, found);
    sources(scene, found);
    if scene.banded {
        moving(db, document, scene, found);
        adding(scene, found);
    }
    noise(scene, found);
}

/// An output's offset at the position that makes it largest.
fn offsets(scene: &Scene, found: &mut Vec<Noted>) {
    if scene.resting.is_none() {
        return;
    }
    let asked = |a: &Amplifier| {
        (scene.pulse)();
        let query = Query::of(Quantity::Measure(Measure::Offset(Point::node(scene.circuit, a.out))));
        measure::answer(scene.whole, scene.circuit, &query, scene.pulse)
    };
    // Without feedback at some position every offset is too much there: that is told as such.
    let told: Vec<PartId> = found
        .iter()
        .filter_map(|n| match n.at {
            At::Part(part) if n.finding.rule == feedback_lost::ID => Some(part),
            _ => None,
        })
        .collect();
    let lost = |a: &Amplifier| told.contains(&a.part);
    let reads: Vec<(&Amplifier, Reading)> = scene.amplifiers.iter().map(|a| (a, asked(a))).collect();
    let adrift = reads.iter().filter(|(a, _)| !lost(a));
    let adrift: Vec<(&Amplifier, Finding)> =
        adrift.filter_map(|(a, read)| Some((*a, adrift_at(scene, a, read)?))).collect();
    // What follows one that stands at a rail is no cause of its own.
    let behind = |a: &Amplifier| adrift.iter().any(|(b, _)| a.part != b.part && super::levels::follows(scene, a, b));
    for (amplifier, finding) in adrift.iter().filter(|(a, _)| !behind(a)) {
        found.push(Noted { at: At::Part(amplifier.part), finding: finding.clone() });
    }
    for (amplifier, read) in &reads {
        if adrift.iter().any(|(a, _)| a.part == amplifier.part) || behind(amplifier) {
            continue;
        }
        let Some(room) = scene.views.iter().find_map(|v| super::levels::room(scene, v, amplifier)) else { continue };
        let beyond = || (!lost(amplifier)).then(|| drifting(scene, amplifier.out)).flatten();
        let Some((offset, position)) = most(read).or_else(beyond) else { continue };
        let finding = offset_large::judge(&offset_large::Figures {
            amplifier: amplifier.name,
            position: &position,
            offset,
            room,
            follower: amplifier.minus == amplifier.out,
        });
        found.extend(finding.map(|finding| Noted { at: At::Part(amplifier.part), finding }));
    }
}

/// An output without feedback at rest whose offset passes what lies between its rails at some position.
fn adrift_at(scene: &Scene, amplifier: &Amplifier, read: &Reading) -> Option<Finding> {
    // What is known at every position is beyond the rails at none.
    if read.unknown().is_none() && read.gap.is_none() {
        return None;
    }
    scene.resting.iter().chain(&scene.views).find_map(|view| {
        (scene.pulse)();
        let back = |goes: &dyn Fn(&Branch) -> bool| {
            let reached = scene.reach(amplifier.out, goes);
            let inputs = [amplifier.plus, amplifier.minus];
            inputs.iter().any(|n| *n != GROUND && !scene.is_rail(*n) && reached.contains(n))
        };
        let closed = |b: &Branch| match b.kind {
            BranchKind::Capacitor(_) => false,
            BranchKind::Contact(_) => scene.closed(b, &view.positions),
            _ => true,
        };
        // Too much gain at rest is another matter.
        if back(&closed) {
            return None;
        }
        let stand = Stand { name: view.name.clone(), positions: view.positions.clone(), unknown: None };
        let found = measure::swamped(scene.whole, scene.circuit, amplifier.part, &stand)?;
        let contacts: Vec<&str> = scene
            .branches
            .iter()
            .filter(|b| matches!(b.kind, BranchKind::Contact(_)) && !closed(b))
            .filter(|b| back(&|other| closed(other) || std::ptr::eq(*b, other)))
            .map(|b| scene.name(b.part))
            .collect();
        offset_beyond_rails::judge(&offset_beyond_rails::Figures {
            amplifier: amplifier.name,
            out: scene.node(amplifier.out),
            position: &view.name,
            offset: found.volts,
            between: found.between,
            contacts: &contacts,
        })
    })
}

/// Where offsets come to more than the rails allow there is no reading; what they would come to tells how far it is too much.
fn drifting(scene: &Scene, node: NodeId) -> Option<(f64, String)> {
    let at = |view: &measure::View| {
        (scene.pulse)();
        let stand = Stand { name: view.name.clone(), positions: view.positions.clone(), unknown: None };
        Some((measure::drift(scene.whole, scene.circuit, node, &stand)?, view.name.to_string()))
    };
    scene.views.iter().filter_map(at).reduce(|a, b| if b.0 > a.0 { b } else { a })
}

/// The greatest value of a reading, with its position.
fn most(read: &Reading) -> Option<(f64, String)> {
    if matches!(read.status, Status::Unknown(_)) || read.gap.is_some() {
        return None;
    }
    let ends = read.range.iter().flat_map(|r| &r.ends).filter_map(|e| Some((e.value?, e.position.to_string())));
    let rest = read.magnitude().map(|x| (x, String::new()));
    rest.into_iter().chain(ends).reduce(|a, b| if b.0 > a.0 { b } else { a })
}

/// The external parts in a row between a source's end and the circuit, with the node behind them.
struct Own {
    parts: Vec<(PartId, BranchKind)>,
    node: NodeId,
}

impl Own {
    /// From an end of a source on, as long as nothing else hangs in between; a coil is drawn as its resistance and its inductance in a row.
    fn of(scene: &Scene, end: NodeId) -> Own {
        let mut own = Own { parts: Vec::new(), node: end };
        loop {
            let mut next = scene.around(own.node).filter(|(b, _)| own.parts.iter().all(|p| p.0 != b.part));
            let (Some((branch, node)), None) = (next.next(), next.next()) else { break };
            let port = |s: &circuit::Stage| s.inputs.contains(&own.node) || s.outputs.contains(&own.node);
            // A node that has a name as a port, or at which an amplifier listens, is one of the circuit.
            let listens = scene.amplifiers.iter().any(|a| [a.plus, a.minus, a.out].contains(&own.node));
            let inside = own.node != end && (listens || scene.circuit.stages.iter().any(port));
            let passive =
                matches!(branch.kind, BranchKind::Resistor(_) | BranchKind::Capacitor(_) | BranchKind::Inductor(_));
            if inside || !passive || !scene.external(branch.part) || node == GROUND || scene.is_rail(node) {
                break;
            }
            own.parts.push((branch.part, branch.kind));
            own.node = node;
        }
        own
    }

    fn impedance(&self, hertz: f64) -> Complex64 {
        let omega = std::f64::consts::TAU * hertz;
        let one = |kind: &BranchKind| match kind {
            BranchKind::Resistor(ohms) => Complex64::new(*ohms, 0.0),
            BranchKind::Capacitor(farads) => Complex64::new(0.0, -1.0 / (omega * farads)),
            BranchKind::Inductor(henries) => Complex64::new(0.0, omega * henries),
            _ => Complex64::default(),
        };
        self.parts.iter().map(|p| one(&p.1)).sum()
    }
}

/// Sources behind an impedance of their own: external parts between the source's node, or the two of a pair, and the circuit.
fn sources(scene: &Scene, found: &mut Vec<Noted>) {
    let Some(view) = &scene.resting else { return };
    for (i, source) in scene.circuit.sources.iter().enumerate().filter(|s| s.1.kind == SourceKind::Voltage) {
        let mut ends = vec![Own::of(scene, source.plus)];
        if source.minus != GROUND {
            ends.push(Own::of(scene, source.minus));
        }
        let parts: Vec<(PartId, BranchKind)> = ends.iter().flat_map(|e| e.parts.iter().copied()).collect();
        let Some((first, kind)) = parts.first().copied() else { continue };
        if ends.iter().any(|e| (!e.parts.is_empty() && scene.stiff(e.node)) || held(scene, e.node)) {
            continue;
        }
        if let ([only], [_], BranchKind::Resistor(ohms)) = (&ends[..], &parts[..], kind)
            && let Some((amplifier, input, input_ohms)) = inverting(scene, only.node)
        {
            let finding = source_in_gain::judge(&source_in_gain::Figures {
                amplifier: scene.amplifiers[amplifier].name,
                own: scene.name(first),
                ohms,
                input: scene.name(input),
                input_ohms,
            });
            found.extend(finding.map(|finding| Noted { at: At::Part(scene.amplifiers[amplifier].part), finding }));
            continue;
        }
        let hertz = scene.hertz[REFERENCE];
        let nodes = &view.sources[i][REFERENCE].nodes;
        let cold = ends.get(1).map_or(GROUND, |e| e.node);
        let names: Vec<&str> = parts.iter().map(|p| scene.name(p.0)).collect();
        let finding = source_loaded::judge(&source_loaded::Figures {
            source: &source.name,
            own: &names,
            ohms: ends.iter().map(|e| e.impedance(hertz)).sum::<Complex64>().norm(),
            arrives: (nodes[ends[0].node.at()] - nodes[cold.at()]).norm(),
            hertz,
            resistive: parts.iter().all(|p| matches!(p.1, BranchKind::Resistor(_))),
        });
        found.extend(finding.map(|finding| Noted { at: At::Part(first), finding }));
    }
}

/// Whether an amplifier's feedback holds a node where it is: what comes in goes on as current, and no voltage is meant to arrive.
fn held(scene: &Scene, node: NodeId) -> bool {
    let straight = scene.reach(node, |b| matches!(b.kind, BranchKind::Contact(_) | BranchKind::Capacitor(_)));
    scene.amplifiers.iter().any(|a| {
        // Behind the output nothing is the input's any more.
        a.minus != a.out && straight.contains(&a.minus) && scene.reach(a.minus, |_| true).contains(&a.out)
    })
}

/// The amplifier whose − input a node leads to through one resistor (and coupling capacitors) with the + input held, and that
/// resistor.
fn inverting(scene: &Scene, node: NodeId) -> Option<(usize, PartId, f64)> {
    let coupled = scene.reach(node, |b| matches!(b.kind, BranchKind::Capacitor(_)));
    // Behind an output stand feedback parts, no input's.
    for near in coupled.into_iter().filter(|n| *n == node || !scene.stiff(*n)) {
        for (branch, other) in scene.around(near) {
            let BranchKind::Resistor(ohms) = branch.kind else { continue };
            let virtual_earth =
                |a: &&super::scene::Amplifier| a.minus == other && (a.plus == GROUND || scene.is_rail(a.plus));
            if let Some(at) =
                scene.amplifiers.iter().position(|a| virtual_earth(&a)).filter(|_| !scene.external(branch.part))
            {
                return Some((at, branch.part, ohms));
            }
        }
    }
    None
}

/// Low corners that a gain control carries into the band.
fn moving(db: &dyn Desk, document: Document, scene: &Scene, found: &mut Vec<Noted>) {
    // A corner takes a search: only those stages are asked that have a control of their own which moves the gain.
    let held =
        |p: &&circuit::Part| !p.unfitted && matches!(p.kind, PartKind::Variable { .. } | PartKind::Switch { .. });
    let stages: BTreeSet<u32> = scene.circuit.parts.iter().filter(held).map(|p| p.stage.0).collect();
    for s in stages {
        (scene.pulse)();
        let (Some([gain, low, _]), _) = stage_quantities(scene.circuit, StageId(s)) else { continue };
        let ask = |q: Quantity| reading(db, document, Asked::new(db, q, None)).filter(|r| r.unknown().is_none());
        let gains = ask(gain).and_then(|g| Some(g.range.as_ref()?.ends.each_ref().map(|e| e.value)));
        let Some([Some(a), Some(b)]) = gains else { continue };
        let ratio = a.max(b) / a.min(b);
        let Some(corner) = (ratio > corner_moves::GAIN).then(|| ask(low.clone())).flatten() else { continue };
        let Some(corners) = corner.range.as_ref().filter(|_| corner.gap.is_none()) else { continue };
        // No corner is one that lies below every frequency.
        let mut ends = corners.ends.each_ref().map(|e| (e.value.unwrap_or(0.0), &*e.position));
        ends.sort_by(|a, b| a.0.total_cmp(&b.0));
        let [outside, inside] = ends;
        let edge = scene.hertz[LOW];
        let moves = inside.0 > edge && outside.0 <= edge;
        let larger = moves.then(|| larger(db, document, scene, StageId(s), &low, edge)).flatten();
        let controls: Vec<&str> = corners.controls.iter().map(|c| &**c).collect();
        let finding = corner_moves::judge(&corner_moves::Figures {
            stage: &scene.circuit.stages[s as usize].name,
            outside,
            inside,
            edge,
            gain: ratio,
            controls: &controls,
            larger,
        });
        found.extend(finding.map(|finding| Noted { at: At::Stage(StageId(s)), finding }));
    }
}

/// The capacitor of a stage that keeps its low corner under the band's edge at every position with the least more of it, and the least
/// value of its series that does.
fn larger<'a>(
    db: &dyn Desk,
    document: Document,
    scene: &Scene<'a>,
    stage: StageId,
    low: &Quantity,
    edge: f64,
) -> Option<corner_moves::Larger<'a>> {
    let key = WayKey::new(db, way(db, document, low, None));
    let (plan, network) = (planned(db, document, key)?, network(db, document));
    let question = query(low.clone(), None, None);
    let look = Look { most: GLANCE, pulse: scene.pulse };
    let own = scene.circuit.parts.iter().enumerate().filter(|(_, p)| p.stage == stage && !p.unfitted && !p.external);
    let mut best: Option<corner_moves::Larger> = None;
    for (index, part) in own {
        let PartKind::Capacitor { farads, .. } = &part.kind else { continue };
        let Some(now) = farads.number().filter(|c| *c > 0.0) else { continue };
        // The highest corner with another value; no corner lies below every frequency.
        let corner = |farads: f64| -> Option<f64> {
            let mut circuit = (**scene.circuit).clone();
            circuit.parts[index].kind.set_value(farads);
            let inputs = analysis::Inputs::of(plan.local(), &network, &circuit);
            let read = analysis::answer(&plan, &inputs, &question, &look);
            if read.unknown().is_some() || read.gap.is_some() {
                return None;
            }
            Some(most(&read).map_or(0.0, |m| m.0))
        };
        let keeps = |farads: f64| corner(farads).is_some_and(|f| f <= edge);
        let mut values = Vec::new();
        let mut last = now;
        while last < LARGEST * now && values.len() < 64 {
            // A little beyond a member its neighbours are itself and the next.
            let Some((_, above)) = quantity::Series::E6.neighbours(last * 1.0001) else { break };
            values.push(above);
            last = above;
        }
        if !values.last().is_some_and(|v| keeps(*v)) {
            continue;
        }
        let first = values.partition_point(|v| !keeps(*v));
        let Some((then, hertz)) = values.get(first).and_then(|v| Some((*v, corner(*v).filter(|f| *f <= edge)?))) else {
            continue;
        };
        if best.as_ref().is_none_or(|b| then / now < b.then / b.now) {
            best = Some(corner_moves::Larger { part: &part.name, now, then, hertz });
        }
    }
    best
}

/// So many times as large as it is a capacitor is tried.
const LARGEST: f64 = 100.0;

/// What the stages between a source and the last output lose at the band's edges.
fn adding(scene: &Scene, found: &mut Vec<Noted>) {
    let Some(view) = &scene.resting else { return };
    let stages = &scene.circuit.stages;
    for (i, source) in scene.circuit.sources.iter().enumerate() {
        for place in [LOW, HIGH] {
            let lost = |a: NodeId, b: NodeId| -> Option<f64> {
                let at = |p: usize, n: NodeId| view.sources[i][p].nodes[n.at()].norm();
                let own = |p: usize| if a == source.plus { 1.0 } else { at(p, a) };
                let ratio = (at(REFERENCE, b) / own(REFERENCE)) / (at(place, b) / own(place));
                ratio.is_finite().then_some(ratio)
            };
            // Stage by stage from the source on, as long as one leads to the next alone.
            let (mut node, mut losses, mut seen) = (source.plus, Vec::new(), Vec::new());
            while let Some(s) = stages.iter().position(|s| s.inputs.first() == Some(&node) && !s.outputs.is_empty()) {
                if seen.contains(&s) {
                    break;
                }
                seen.push(s);
                let out = stages[s].outputs[0];
                let Some(loss) = lost(node, out) else { break };
                losses.push((stages[s].name.to_string(), loss));
                node = out;
            }
            let Some(together) = lost(source.plus, node).filter(|_| node != source.plus) else { continue };
            let finding = corners_add_up::judge(&corners_add_up::Figures {
                output: scene.node(node),
                edge: scene.hertz[place],
                losses: &losses,
                together,
            });
            found.extend(finding.map(|finding| Noted { at: At::Node(node), finding }));
        }
    }
}

/// Who makes the noise at the outputs that leave the circuit.
fn noise(scene: &Scene, found: &mut Vec<Noted>) {
    let Some(view) = &scene.resting else { return };
    let mut told = Vec::new();
    for node in scene.outputs.iter().copied() {
        (scene.pulse)();
        let point = Point::node(scene.circuit, node);
        let Ok(makers) = measure::noise_makers(scene.whole, scene.circuit, &point, scene.pulse) else { continue };
        let total: f64 = makers.iter().map(|m| m.1).sum();
        if total <= 0.0 {
            continue;
        }
        let amplifiers = makers.iter().filter(|m| m.0.contains('\'')).map(|m| m.1).sum::<f64>() / total;
        let Some(most) = makers.iter().reduce(|a, b| if b.1 > a.1 { b } else { a }) else { continue };
        let is = |p: &&circuit::Part| *p.name == most.0 && !p.external;
        let Some(part) = scene.circuit.parts.iter().find(is).filter(|p| !told.contains(&p.name)) else { continue };
        let PartKind::Resistor { ohms, .. } = &part.kind else { continue };
        // Without a signal there is nothing that a noise is much or little beside; a current source's own load makes less of it the
        // larger it is.
        let current = scene.circuit.sources.iter().any(|s| s.kind == SourceKind::Current);
        let signal = quantity::rms_of_peak(scene.peak(view, REFERENCE, [node, GROUND]));
        if current || signal == 0.0 {
            return;
        }
        let finding = resistor_noise::judge(&resistor_noise::Figures {
            resistor: &part.name,
            ohms: ohms.number().unwrap_or(0.0),
            output: scene.node(node),
            share: most.1 / total,
            amplifiers,
            noise: total.sqrt(),
            signal,
        });
        if let Some(finding) = finding {
            told.push(part.name.clone());
            let id = scene.circuit.parts.iter().position(|p| p.name == part.name).unwrap_or_default();
            found.push(Noted { at: At::Part(PartId(id as u32)), finding });
        }
    }
}
