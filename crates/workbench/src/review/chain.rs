//! The rules about what stages do to one another: sources and loads, corners, offset and noise on the way.

use std::collections::BTreeSet;

use analysis::measure;
use analysis::positions::Stand;
use analysis::{Reading, Status};
use argument::rules::Finding;
use argument::rules::{
    corner_moves, corners_add_up, offset_beyond_rails, offset_large, resistor_noise, source_in_gain, source_loaded,
};
use circuit::{GROUND, Measure, NodeId, PartKind, Point, Quantity, Query, SourceKind, StageId};

use super::scene::{Amplifier, Branch, BranchKind, HIGH, LOW, REFERENCE, Scene};
use super::{At, Noted};
use crate::database::{Asked, Desk, Document, reading, stage_quantities};

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
    let reads: Vec<(&Amplifier, Reading)> = scene.amplifiers.iter().map(|a| (a, asked(a))).collect();
    let swamped: Vec<(&Amplifier, Finding)> =
        reads.iter().filter_map(|(a, read)| Some((*a, swamped(scene, a, read)?))).collect();
    // What follows one that stands at a rail is no cause of its own.
    let behind = |a: &Amplifier| swamped.iter().any(|(b, _)| a.part != b.part && super::levels::follows(scene, a, b));
    for (amplifier, finding) in swamped.iter().filter(|(a, _)| !behind(a)) {
        found.push(Noted { at: At::Part(amplifier.part), finding: finding.clone() });
    }
    for (amplifier, read) in &reads {
        if swamped.iter().any(|(a, _)| a.part == amplifier.part) {
            continue;
        }
        let Some(room) = scene.views.iter().find_map(|v| super::levels::room(scene, v, amplifier)) else { continue };
        let Some((offset, position)) = most(read) else { continue };
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

/// An output whose offset passes what lies between its rails at some position.
fn swamped(scene: &Scene, amplifier: &Amplifier, read: &Reading) -> Option<Finding> {
    // What is known at every position is beyond the rails at none.
    if read.unknown().is_none() && read.gap.is_none() {
        return None;
    }
    scene.resting.iter().chain(&scene.views).find_map(|view| {
        (scene.pulse)();
        let stand = Stand { name: view.name.clone(), positions: view.positions.clone(), unknown: None };
        let found = measure::swamped(scene.whole, scene.circuit, amplifier.part, &stand)?;
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
            direct: back(&closed),
            contacts: &contacts,
        })
    })
}

/// The greatest value of a reading, with its position.
fn most(read: &Reading) -> Option<(f64, String)> {
    if matches!(read.status, Status::Unknown(_)) {
        return None;
    }
    let ends = read.range.iter().flat_map(|r| &r.ends).filter_map(|e| Some((e.value?, e.position.to_string())));
    let rest = read.magnitude().map(|x| (x, String::new()));
    rest.into_iter().chain(ends).reduce(|a, b| if b.0 > a.0 { b } else { a })
}

/// Sources behind an impedance of their own: one external part between the source's node and the circuit.
fn sources(scene: &Scene, found: &mut Vec<Noted>) {
    let Some(view) = &scene.resting else { return };
    for (i, source) in scene.circuit.sources.iter().enumerate() {
        if source.kind != SourceKind::Voltage || source.minus != GROUND {
            continue;
        }
        let mut own = scene.around(source.plus);
        let (Some((branch, node)), None) = (own.next(), own.next()) else { continue };
        if !scene.external(branch.part) || scene.stiff(node) {
            continue;
        }
        let reference = scene.hertz[REFERENCE];
        let (ohms, resistive) = match branch.kind {
            BranchKind::Resistor(ohms) => (ohms, true),
            BranchKind::Capacitor(farads) => (1.0 / (std::f64::consts::TAU * reference * farads), false),
            _ => continue,
        };
        if held(scene, node) {
            continue;
        }
        let arrives = view.sources[i][REFERENCE].nodes[node.at()].norm();
        let name = scene.name(branch.part);
        if let (true, Some((amplifier, input, input_ohms))) = (resistive, inverting(scene, node)) {
            let finding = source_in_gain::judge(&source_in_gain::Figures {
                amplifier: scene.amplifiers[amplifier].name,
                own: name,
                ohms,
                input: scene.name(input),
                input_ohms,
            });
            found.extend(finding.map(|finding| Noted { at: At::Part(scene.amplifiers[amplifier].part), finding }));
            continue;
        }
        let finding = source_loaded::judge(&source_loaded::Figures {
            source: &source.name,
            own: name,
            ohms,
            arrives,
            hertz: reference,
            resistive,
        });
        found.extend(finding.map(|finding| Noted { at: At::Part(branch.part), finding }));
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
fn inverting(scene: &Scene, node: NodeId) -> Option<(usize, circuit::PartId, f64)> {
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
        let Some(corner) = (ratio > corner_moves::GAIN).then(|| ask(low)).flatten() else { continue };
        let Some(corners) = corner.range.as_ref().filter(|_| corner.gap.is_none()) else { continue };
        // No corner is one that lies below every frequency.
        let mut ends = corners.ends.each_ref().map(|e| (e.value.unwrap_or(0.0), &*e.position));
        ends.sort_by(|a, b| a.0.total_cmp(&b.0));
        let [outside, inside] = ends;
        let finding = corner_moves::judge(&corner_moves::Figures {
            stage: &scene.circuit.stages[s as usize].name,
            outside,
            inside,
            edge: scene.hertz[LOW],
            gain: ratio,
        });
        found.extend(finding.map(|finding| Noted { at: At::Stage(StageId(s)), finding }));
    }
}

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
            found.push(Noted { at: At::Part(circuit::PartId(id as u32)), finding });
        }
    }
}
