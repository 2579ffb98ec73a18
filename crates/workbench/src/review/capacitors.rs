//! The rules about capacitors, and what any part is put to.

use std::sync::Arc;

use analysis::measure::{View, survey};
use analysis::positions::Stand;
use argument::rules::{
    capacitor_reversed, electrolytic_in_filter, feedback_capacitor_large, feedback_capacitor_small,
    half_rail_unfiltered, output_without_bleed, over_power, over_voltage,
};
use circuit::{GROUND, Given, NodeId, PartId, PartKind};

use super::scene::{Amplifier, Branch, BranchKind, LOW, REFERENCE, Scene};
use super::{At, Noted};

/// A capacitor this many times as large as another has nothing to do with its pole.
const COUPLING: f64 = 100.0;
/// A stage that carries less than this of its source's voltage carries nothing.
const SILENCE: f64 = 1e-6;
/// From this share of what a part bears on, the signal's part in it is told with its frequency.
const SIGNAL_TOLD: f64 = 0.05;
/// A capacitor this many times as large is a short in any band.
const MUCH: f64 = 1e6;
/// What changes an output by less than this, a tenth of a decibel, changes nothing.
const UNCHANGED: f64 = 0.0115;
/// A pole within this factor of a corner that is asked for has to do with it.
const ASKED: f64 = 1.5;
/// From this share of a source's voltage on, a signal comes in at a node.
const SIGNAL: f64 = 0.05;

pub(super) fn review(scene: &Scene, corners: &[f64], found: &mut Vec<Noted>) {
    for branch in &scene.branches {
        stress(scene, branch, found);
        if let BranchKind::Capacitor(farads) = branch.kind {
            polar(scene, branch, found);
            filters(scene, branch, farads, found);
            feedback(scene, branch, farads, corners, found);
            bleed(scene, branch, found);
        }
    }
    half_rails(scene, found);
}

fn note(found: &mut Vec<Noted>, part: PartId, finding: Option<argument::rules::Finding>) {
    found.extend(finding.map(|finding| Noted { at: At::Part(part), finding }));
}

/// The direct voltage across a branch.
fn rest(view: &View, [a, b]: [NodeId; 2]) -> Option<f64> {
    Some(view.rest[a.at()]? - view.rest[b.at()]?)
}

fn stress(scene: &Scene, branch: &Branch, found: &mut Vec<Noted>) {
    let ratings = scene.circuit.parts[branch.part.at()].ratings;
    let name = scene.name(branch.part);
    if let Some(rated) = ratings.volts.filter(|r| *r > 0.0) {
        let at = |v: &View| {
            let rest = rest(v, branch.ends)?;
            let (peak, hertz) = scene.greatest(v, branch.ends);
            let sum = rest.abs() + peak;
            Some((sum, rest, Some(hertz).filter(|_| peak > SIGNAL_TOLD * sum)))
        };
        let all = scene.views.iter().filter_map(|v| Some((at(v)?, v)));
        if let Some(((volts, rest, hertz), view)) = all.reduce(|a, b| if b.0.0 > a.0.0 { b } else { a }) {
            let written = format!("{rated}V");
            let (written, position) = (Some(&*written), &*view.name);
            let figures = over_voltage::Figures { part: name, volts, rest, rated, written, position, hertz };
            note(found, branch.part, over_voltage::judge(&figures));
        }
    }
    if let (Some(rated), BranchKind::Resistor(ohms)) = (ratings.watts.filter(|r| *r > 0.0), branch.kind) {
        let at = |v: &View| {
            let (peak, hertz) = scene.greatest(v, branch.ends);
            let sine = quantity::rms_of_peak(peak).powi(2);
            let sum = rest(v, branch.ends)?.powi(2) + sine;
            Some((sum / ohms, Some(hertz).filter(|_| sine > SIGNAL_TOLD * sum)))
        };
        let all = scene.views.iter().filter_map(|v| Some((at(v)?, v))).filter(|a| a.0.0.is_finite());
        if let Some(((watts, hertz), view)) = all.reduce(|a, b| if b.0.0 > a.0.0 { b } else { a }) {
            let figures = over_power::Figures { part: name, watts, rated, position: &view.name, hertz };
            note(found, branch.part, over_power::judge(&figures));
        }
    }
}

fn polar(scene: &Scene, branch: &Branch, found: &mut Vec<Noted>) {
    let part = &scene.circuit.parts[branch.part.at()];
    if !matches!(part.kind, PartKind::Capacitor { polar: true, .. }) {
        return;
    }
    let all = scene.views.iter().filter_map(|v| Some((rest(v, branch.ends)?, v)));
    if let Some((volts, view)) = all.reduce(|a, b| if b.0 < a.0 { b } else { a }) {
        let figures = capacitor_reversed::Figures {
            capacitor: &part.name,
            plus: scene.node(branch.ends[0]),
            minus: scene.node(branch.ends[1]),
            volts,
            position: &view.name,
        };
        note(found, branch.part, capacitor_reversed::judge(&figures));
    }
}

/// An electrolytic capacitor that the signal stands across.
fn filters(scene: &Scene, branch: &Branch, farads: f64, found: &mut Vec<Noted>) {
    let part = &scene.circuit.parts[branch.part.at()];
    if !matches!(part.kind, PartKind::Capacitor { electrolytic: true, .. }) {
        return;
    }
    // The largest signal in its stage, of each source, wherever the controls stand.
    let own = scene.circuit.parts.iter().filter(|p| p.stage == part.stage).flat_map(|p| p.ends());
    let nodes: Vec<NodeId> = own.collect();
    let share = |view: &View, place: usize| {
        let of = |source: &Vec<analysis::measure::Moved>| {
            let at = &source[place].nodes;
            let most = nodes.iter().map(|n| at[n.at()].norm()).fold(0.0, f64::max);
            if most > SILENCE { (at[branch.ends[0].at()] - at[branch.ends[1].at()]).norm() / most } else { 0.0 }
        };
        view.sources.iter().map(of).fold(0.0, f64::max)
    };
    let worst = |places: &[usize]| {
        let all = scene.views.iter().flat_map(|v| places.iter().map(move |p| (share(v, *p), scene.hertz[*p], v)));
        all.reduce(|a, b| if b.0 > a.0 { b } else { a })
    };
    // What couples has a good part of the signal across it where the band begins; what has most of it there has its corner in the band.
    let places: Vec<usize> = (0..scene.hertz.len()).filter(|k| scene.hertz[*k] >= scene.hertz[REFERENCE]).collect();
    let judged = |corner: bool| {
        let (share, hertz, view) = worst(if corner { &[LOW] } else { &places })?;
        let (capacitor, position) = (&*part.name, &*view.name);
        let figures = electrolytic_in_filter::Figures { capacitor, farads, share, hertz, position, corner };
        Some((electrolytic_in_filter::judge(&figures)?, view))
    };
    let above = judged(false);
    let below = || scene.banded.then(|| judged(true)).flatten();
    let finding = above.or_else(below).filter(|(_, view)| !holds_still(scene, branch, farads, view));
    note(found, branch.part, finding.map(|f| f.0));
}

/// Whether a capacitor to gnd or to a rail only keeps its node still, as at half a rail or behind a resistor in a supply: made much larger it
/// changes nothing of what comes out of the circuit. What filters a signal takes it away then.
fn holds_still(scene: &Scene, branch: &Branch, farads: f64, view: &View) -> bool {
    let still = |n: NodeId| n == GROUND || scene.is_rail(n);
    let outputs: Vec<NodeId> = match &scene.outputs[..] {
        [] => scene.amplifiers.iter().map(|a| a.out).collect(),
        some => some.to_vec(),
    };
    // An output that is one end of it is filtered by it, whatever the sources are.
    if !branch.ends.iter().any(|n| still(*n)) || outputs.is_empty() || branch.ends.iter().any(|n| outputs.contains(n)) {
        return false;
    }
    let mut larger = (**scene.circuit).clone();
    larger.parts[branch.part.at()].kind.set_value(MUCH * farads);
    let stand = Stand { name: view.name.clone(), positions: view.positions.clone(), unknown: None };
    let looked = survey(scene.whole, &Arc::new(larger), &[stand], &scene.hertz, scene.pulse);
    let Some(then) = looked.ok().and_then(|mut all| all.pop()) else { return false };
    let each = view.sources.iter().zip(&then.sources).flat_map(|(a, b)| a.iter().zip(b));
    let mut pairs = each.flat_map(|(a, b)| outputs.iter().map(|n| (a.nodes[n.at()], b.nodes[n.at()])));
    pairs.all(|(a, b)| (a.norm() - b.norm()).abs() <= UNCHANGED * a.norm().max(SILENCE))
}

fn feedback(scene: &Scene, branch: &Branch, farads: f64, corners: &[f64], found: &mut Vec<Noted>) {
    if scene.external(branch.part) {
        return;
    }
    let stands = |a: &&Amplifier| branch.ends == [a.minus, a.out] || branch.ends == [a.out, a.minus];
    let Some(amplifier) = scene.amplifiers.iter().find(stands) else { return };
    let capacitor = scene.name(branch.part);
    let edge = scene.circuit.band.1;
    let cuts = |farads: f64| {
        let ohms = beside(scene, branch, farads, amplifier)?;
        // A pole about where the file wants a high corner to be is meant.
        let pole = 1.0 / (std::f64::consts::TAU * ohms * farads);
        if corners.iter().any(|most| pole < ASKED * most && most < &(ASKED * pole)) {
            return None;
        }
        let figures = feedback_capacitor_large::Figures { capacitor, farads, ohms, amplifier: amplifier.name, edge };
        feedback_capacitor_large::judge(&figures)
    };
    let kept = cuts(feedback_capacitor_small::KEPT).is_none();
    let figures = feedback_capacitor_small::Figures { capacitor, farads, amplifier: amplifier.name, kept };
    note(found, branch.part, feedback_capacitor_small::judge(&figures));
    note(found, branch.part, cuts(farads));
}

/// The resistance beside a feedback capacitor with which it makes a pole by itself, if the file says what its band is.
fn beside(scene: &Scene, branch: &Branch, farads: f64, amplifier: &Amplifier) -> Option<f64> {
    if !scene.banded {
        return None;
    }
    // Of several capacitors around one input each has a say, and which of them is meant to is not known.
    let region = scene.reach(amplifier.minus, |_| true);
    let near = region.iter().filter(|n| !scene.stiff(**n)).flat_map(|n| scene.around(*n));
    let others = near.filter(|(b, _)| b.part != branch.part && !scene.external(b.part));
    let mut others = others.filter_map(|(b, _)| if let BranchKind::Capacitor(c) = b.kind { Some(c) } else { None });
    if others.any(|c| c < COUPLING * farads) {
        return None;
    }
    let across = scene.around(amplifier.minus).filter_map(|(b, other)| match b.kind {
        BranchKind::Resistor(ohms) if other == amplifier.out && ohms > 0.0 => Some(1.0 / ohms),
        _ => None,
    });
    let siemens: f64 = across.sum();
    (siemens > 0.0 && !in_filter_loop(scene, farads, amplifier)).then(|| 1.0 / siemens)
}

/// Whether an amplifier stands in a loop with another one that has a capacitor of the same order across it: two integrators that feed each
/// other make a filter, and a resistor across one of them its damping.
fn in_filter_loop(scene: &Scene, farads: f64, amplifier: &Amplifier) -> bool {
    let feeds = |from: &Amplifier| -> Vec<usize> {
        // At a − input the current goes on to that amplifier's own output, and to nobody else's input.
        let earth = |n: NodeId| scene.amplifiers.iter().any(|a| a.minus == n && a.minus != a.out);
        let (mut reached, mut open) = (vec![from.out], vec![from.out]);
        while let Some(node) = open.pop() {
            if node != from.out && (scene.stiff(node) || earth(node)) {
                continue;
            }
            for (_, other) in scene.around(node) {
                if !reached.contains(&other) {
                    reached.push(other);
                    open.push(other);
                }
            }
        }
        let all = scene.amplifiers.iter().enumerate();
        all.filter(|(_, a)| reached.contains(&a.minus) || reached.contains(&a.plus)).map(|(i, _)| i).collect()
    };
    let next: Vec<Vec<usize>> = scene.amplifiers.iter().map(feeds).collect();
    let behind = |start: usize| {
        let (mut seen, mut open) = (Vec::new(), vec![start]);
        while let Some(at) = open.pop() {
            for other in &next[at] {
                if !seen.contains(other) {
                    seen.push(*other);
                    open.push(*other);
                }
            }
        }
        seen
    };
    let Some(own) = scene.amplifiers.iter().position(|a| a.part == amplifier.part) else { return false };
    let integrates = |a: &Amplifier| {
        scene.around(a.minus).any(|(b, other)| {
            let like = |c: f64| c < COUPLING * farads && farads < COUPLING * c;
            other == a.out && matches!(b.kind, BranchKind::Capacitor(c) if like(c))
        })
    };
    let others = behind(own).into_iter().filter(|i| *i != own && integrates(&scene.amplifiers[*i]));
    others.into_iter().any(|i| behind(i).contains(&own))
}

/// Whether a branch carries direct current.
fn carries(b: &Branch) -> bool {
    matches!(b.kind, BranchKind::Resistor(_) | BranchKind::Inductor(_) | BranchKind::Track(_))
}

fn bleed(scene: &Scene, branch: &Branch, found: &mut Vec<Noted>) {
    let Some(view) = scene.resting.as_ref().filter(|_| !scene.external(branch.part)) else { return };
    for [outer, inside] in [branch.ends, [branch.ends[1], branch.ends[0]]] {
        let own = |b: &Branch| carries(b) && !scene.external(b.part);
        let behind = scene.reach(outer, own);
        let held = |nodes: &[NodeId]| nodes.iter().any(|n| *n != outer && scene.stiff(*n));
        // The output may stand behind a build-out resistor.
        let Some(output) = behind.iter().copied().find(|n| scene.outputs.contains(n)) else { continue };
        let input = scene.amplifiers.iter().any(|a| behind.contains(&a.plus) || behind.contains(&a.minus));
        // With nothing outside either nothing holds it, and the drawing's own rule says so.
        if scene.stiff(outer) || input || held(&behind) || !held(&scene.reach(outer, carries)) {
            continue;
        }
        let Some(volts) = rest(view, [inside, outer]) else { continue };
        let figures =
            output_without_bleed::Figures { capacitor: scene.name(branch.part), output: scene.node(output), volts };
        note(found, branch.part, output_without_bleed::judge(&figures));
    }
}

/// Dividers from a rail that bias an amplifier.
fn half_rails(scene: &Scene, found: &mut Vec<Noted>) {
    let (Some(view), rest) = (&scene.resting, scene.hands.rest()) else { return };
    for (rail, volts) in scene.circuit.supplies.iter().flat_map(|s| &s.rails) {
        if *rail == GROUND || !matches!(volts, Given::Number(v) if *v != 0.0) {
            continue;
        }
        let mut ripple = None;
        for (branch, middle) in scene.around(*rail) {
            let BranchKind::Resistor(upper) = branch.kind else { continue };
            if scene.stiff(middle) || scene.circuit.nodes[middle.at()].unnamed {
                continue;
            }
            let down = scene.around(middle).find_map(|(b, other)| match b.kind {
                BranchKind::Resistor(ohms) if other == GROUND => Some(ohms),
                _ => None,
            });
            let Some(lower) = down else { continue };
            // A bridge's two middles share the ripple, and a pair is told by its difference.
            if scene.circuit.pairs.iter().any(|p| p.hot == middle || p.cold == middle) {
                continue;
            }
            let biased = scene.reach(middle, carries);
            let all = ripple.get_or_insert_with(|| {
                let hertz = half_rail_unfiltered::RIPPLE;
                analysis::measure::ripple(scene.whole, scene.circuit, *rail, &rest, hertz).unwrap_or_default()
            });
            let at = scene.amplifiers.iter().filter(|a| biased.contains(&a.plus) && !scene.stiff(a.plus));
            // What stands at both inputs alike comes to nothing at the output, as in a difference amplifier.
            let handed_on =
                |a: &&Amplifier| all.get(a.out.at()).is_none_or(|out| out.norm() > half_rail_unfiltered::MOST);
            let at = at.filter(handed_on).filter_map(|a| Some((all.get(a.plus.at())?.norm(), a)));
            let Some((share, amplifier)) = at.reduce(|a, b| if b.0 > a.0 { b } else { a }) else { continue };
            let moved = |s: &Vec<analysis::measure::Moved>| s[REFERENCE].nodes[middle.at()].norm();
            let figures = half_rail_unfiltered::Figures {
                middle: scene.node(middle),
                rail: scene.node(*rail),
                share,
                ohms: upper * lower / (upper + lower),
                amplifier: amplifier.name,
                signal: view.sources.iter().map(moved).fold(0.0, f64::max) > SIGNAL,
            };
            note(found, branch.part, half_rail_unfiltered::judge(&figures));
        }
    }
}
