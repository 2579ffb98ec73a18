//! The rules about what a hand moves.

use analysis::measure;
use analysis::positions::{SOUGHT, Stand};
use argument::rules::{direct_current_in_track, feedback_lost, no_end_stop, taper_unsuited, wiper_opens_loop};
use circuit::{ControlId, GROUND, NodeId, Part, PartId, PartKind, Position, SourceKind, Taper};

use super::scene::{Amplifier, Branch, BranchKind, REFERENCE, Scene};
use super::{At, Noted};

/// A resistor under this, in ohms, stops nothing.
const LINK: f64 = 1.0;
/// A signal of this share of its source is none.
const NO_SIGNAL: f64 = 1e-4;

/// Outputs that change by this factor in opposite directions are a pan control's.
const OPPOSITE: f64 = 1.5;

/// A variable resistor that a hand moves, with its terminals.
struct Control<'a> {
    id: PartId,
    part: &'a Part,
    control: ControlId,
    ohms: f64,
    taper: Taper,
    ccw: Option<NodeId>,
    wiper: NodeId,
    cw: Option<NodeId>,
}

fn controls<'a>(scene: &'a Scene) -> impl Iterator<Item = Control<'a>> {
    scene.circuit.parts.iter().enumerate().filter(|(_, p)| !p.unfitted).filter_map(|(i, part)| match &part.kind {
        PartKind::Variable { control, ohms, taper, ccw, wiper, cw } => {
            let preset = scene.circuit.controls[control.at()].preset;
            let ohms = ohms.number().filter(|_| !preset)?;
            let (control, taper, ccw, wiper, cw) = (*control, *taper, *ccw, *wiper, *cw);
            Some(Control { id: PartId(i as u32), part, control, ohms, taper, ccw, wiper, cw })
        }
        _ => None,
    })
}

pub(super) fn review(scene: &Scene, found: &mut Vec<Noted>) {
    lost(scene, found);
    for amplifier in &scene.amplifiers {
        end_stop(scene, amplifier, found);
        for control in controls(scene) {
            opens(scene, amplifier, &control, found);
        }
    }
    for control in controls(scene) {
        (scene.pulse)();
        direct(scene, &control, found);
        let first = controls(scene).find(|c| c.control == control.control).map(|c| c.id);
        if scene.banded && first == Some(control.id) {
            taper(scene, &control, found);
        }
    }
}

/// Amplifiers whose feedback is gone at some positions of the switches.
fn lost(scene: &Scene, found: &mut Vec<Noted>) {
    let held = scene.circuit.parts.iter().filter(|p| !p.unfitted);
    let mut switches: Vec<(ControlId, &str)> = Vec::new();
    for part in held {
        if let PartKind::Switch { control, .. } = part.kind {
            switches.push((control, &part.name));
        }
    }
    if switches.is_empty() {
        return;
    }
    let controls: Vec<ControlId> = switches.iter().map(|s| s.0).collect();
    let stands = scene.hands.examined(&controls, SOUGHT);
    for amplifier in &scene.amplifiers {
        (scene.pulse)();
        // Without feedback at any position the drawing says so.
        if !leads_back(scene, amplifier, &|_| true) {
            continue;
        }
        let goes = |positions: &[Position], b: &Branch| match b.kind {
            BranchKind::Contact(_) => scene.closed(b, positions),
            _ => true,
        };
        // The switches without which it would be there: all of the others closed, it is gone at some position of this one.
        let takes = |own: &&(ControlId, &str)| {
            stands.iter().any(|s| {
                let others = |b: &Branch| {
                    let mine = matches!(&scene.circuit.parts[b.part.at()].kind, PartKind::Switch { control, .. } if *control == own.0);
                    !mine || goes(&s.positions, b)
                };
                !leads_back(scene, amplifier, &others)
            })
        };
        let mut taking: Vec<(ControlId, &str)> = switches.iter().filter(takes).copied().collect();
        if taking.is_empty() {
            taking = switches.clone();
        }
        // Named by these alone, whatever the others do.
        let own: Vec<ControlId> = taking.iter().map(|s| s.0).collect();
        let stands = scene.hands.examined(&own, SOUGHT);
        let gone = |s: &&Stand| s.unknown.is_none() && !leads_back(scene, amplifier, &|b| goes(&s.positions, b));
        let positions = stands.iter().filter(gone).map(|s| s.name.to_string()).filter(|n| !n.is_empty());
        let positions: Vec<String> = positions.collect();
        let names: Vec<&str> = taking.iter().map(|s| s.1).collect();
        let finding = feedback_lost::judge(&feedback_lost::Figures {
            amplifier: amplifier.name,
            out: scene.node(amplifier.out),
            positions: &positions,
            switches: &names,
        });
        found.extend(finding.map(|finding| Noted { at: At::Part(amplifier.part), finding }));
    }
}

/// Whether something leads from an output back to its amplifier's inputs by branches that pass a test, over other amplifiers too.
fn leads_back(scene: &Scene, amplifier: &Amplifier, goes: &dyn Fn(&Branch) -> bool) -> bool {
    let still = |n: NodeId| {
        let source = |s: &circuit::Source| s.kind == SourceKind::Voltage && (s.plus == n || s.minus == n);
        n == GROUND || scene.is_rail(n) || scene.circuit.sources.iter().any(source)
    };
    let inputs = [amplifier.plus, amplifier.minus].map(|n| (!still(n)).then_some(n));
    let (mut seen, mut open) = (vec![amplifier.out], vec![amplifier.out]);
    while let Some(node) = open.pop() {
        if inputs.contains(&Some(node)) {
            return true;
        }
        let beside = scene.around(node).filter(|(b, _)| goes(b)).map(|(_, other)| other);
        let behind = scene.amplifiers.iter().filter(|a| a.plus == node || a.minus == node).map(|a| a.out);
        for next in beside.chain(behind).collect::<Vec<_>>() {
            if !still(next) && !seen.contains(&next) {
                seen.push(next);
                open.push(next);
            }
        }
    }
    false
}

/// From the − input on, everything that can be 0 Ω, to what is held: a control on the way has nothing in series.
fn end_stop(scene: &Scene, amplifier: &Amplifier, found: &mut Vec<Noted>) {
    let goes = |b: &Branch| match b.kind {
        BranchKind::Resistor(ohms) => ohms < LINK,
        _ => true,
    };
    // A node with the sides of tracks on the way there.
    let mut open: Vec<(NodeId, Vec<PartId>)> = vec![(amplifier.minus, Vec::new())];
    let mut seen = vec![amplifier.minus];
    while let Some((node, way)) = open.pop() {
        if node != amplifier.minus && scene.stiff(node) {
            if node == amplifier.out {
                continue;
            }
            let Some(&control) = way.first() else { continue };
            let PartKind::Variable { ohms, control: shaft, .. } = &scene.circuit.parts[control.at()].kind else {
                continue;
            };
            if scene.circuit.controls[shaft.at()].preset {
                continue;
            }
            let across = scene.around(amplifier.minus).find_map(|(b, other)| match b.kind {
                BranchKind::Resistor(r) if other == amplifier.out => Some(r),
                _ => None,
            });
            let feedback = across.or(ohms.number()).unwrap_or(f64::NAN);
            let finding = no_end_stop::judge(&no_end_stop::Figures {
                control: scene.name(control),
                amplifier: amplifier.name,
                to: scene.node(node),
                feedback,
            });
            let told = |n: &Noted| n.at == At::Part(control) && n.finding.rule == no_end_stop::ID;
            if !found.iter().any(told) {
                found.extend(finding.map(|finding| Noted { at: At::Part(control), finding }));
            }
            continue;
        }
        for (branch, other) in scene.around(node).filter(|(b, _)| goes(b)) {
            let track = matches!(branch.kind, BranchKind::Track(_));
            // Both sides of one track are never 0 Ω at once.
            if seen.contains(&other) && !scene.stiff(other) || (track && way.contains(&branch.part)) {
                continue;
            }
            seen.push(other);
            let mut way = way.clone();
            way.extend(track.then_some(branch.part));
            open.push((other, way));
        }
    }
}

/// Whether nothing but this control leads from the output to the − input.
fn opens(scene: &Scene, amplifier: &Amplifier, control: &Control, found: &mut Vec<Noted>) {
    if amplifier.minus == amplifier.out || !scene.reach(amplifier.minus, |_| true).contains(&amplifier.out) {
        return;
    }
    let without = |from: NodeId| scene.reach(from, |b| b.part != control.id);
    let mut reached = without(amplifier.minus);
    // The track from end to end stays when the wiper lifts.
    if let (Some(a), Some(b)) = (control.ccw, control.cw) {
        if reached.contains(&a) && !scene.stiff(a) {
            reached.extend(without(b));
        } else if reached.contains(&b) && !scene.stiff(b) {
            reached.extend(without(a));
        }
    }
    if reached.contains(&amplifier.out) {
        return;
    }
    let finding = wiper_opens_loop::judge(&wiper_opens_loop::Figures {
        control: &control.part.name,
        track: control.ohms,
        amplifier: amplifier.name,
        out: scene.node(amplifier.out),
        minus: scene.node(amplifier.minus),
    });
    found.extend(finding.map(|finding| Noted { at: At::Part(control.id), finding }));
}

/// Direct voltage across a track in the signal's way.
fn direct(scene: &Scene, control: &Control, found: &mut Vec<Noted>) {
    let ends: Vec<[NodeId; 2]> = match (control.ccw, control.cw) {
        (Some(a), Some(b)) => vec![[a, b], [a, control.wiper], [b, control.wiper]],
        (Some(a), None) | (None, Some(a)) => vec![[a, control.wiper]],
        (None, None) => return,
    };
    let moved = |view: &measure::View, [a, b]: [NodeId; 2]| {
        let apart = |s: &Vec<measure::Moved>| (s[REFERENCE].nodes[a.at()] - s[REFERENCE].nodes[b.at()]).norm();
        view.sources.iter().map(apart).fold(0.0, f64::max)
    };
    let mut worst: Option<(f64, [NodeId; 2])> = None;
    let mut signal = false;
    for view in &scene.views {
        for &[a, b] in &ends {
            signal |= moved(view, [a, b]) > NO_SIGNAL;
            let (Some(x), Some(y)) = (view.rest[a.at()], view.rest[b.at()]) else { continue };
            if worst.is_none_or(|w| (x - y).abs() > w.0) {
                worst = Some(((x - y).abs(), [a, b]));
            }
        }
    }
    let Some((volts, [a, b])) = worst.filter(|_| signal) else { return };
    let finding = direct_current_in_track::judge(&direct_current_in_track::Figures {
        control: &control.part.name,
        volts,
        amperes: volts / control.ohms,
        ends: [scene.node(a), scene.node(b)],
    });
    found.extend(finding.map(|finding| Noted { at: At::Part(control.id), finding }));
}

/// What a control does to its stage's output over the travel, with the laws that the trade has.
fn taper(scene: &Scene, control: &Control, found: &mut Vec<Noted>) {
    if scene.resting.is_none() {
        return;
    }
    let Some(&out) = scene.circuit.stages[control.part.stage.at()].outputs.first() else { return };
    let travels = [0.0, 0.5, 1.0].into_iter().chain([0.1, 0.5, 0.9].map(|share| travel(control.taper, share)));
    let stands: Vec<_> = travels
        .map(|p| {
            let mut stand = scene.hands.rest();
            stand.positions[control.control.at()] = Position::Travel(p);
            stand
        })
        .collect();
    let reference = [scene.circuit.reference];
    let Ok(views) = measure::survey(scene.whole, scene.circuit, &stands, &reference, scene.pulse) else { return };
    let level = |view: &measure::View, source: usize| view.sources[source][0].nodes[out.at()].norm();
    let loudest = (0..scene.circuit.sources.len()).max_by(|a, b| level(&views[2], *a).total_cmp(&level(&views[2], *b)));
    let Some(source) = loudest else { return };
    let all: Vec<f64> = views.iter().map(|v| level(v, source)).collect();
    if blends(scene, control, &views[1]) || pans(scene, out, [&views[0], &views[2]], source) {
        return;
    }
    let percent = |m: f64| (m * 100.0).round() as u32;
    let word = match control.taper {
        Taper::Linear => "lin".to_string(),
        Taper::Log(m) if percent(m) == 10 => "log".into(),
        Taper::Log(m) => format!("log{}", percent(m)),
        Taper::ReverseLog(m) if percent(m) == 10 => "revlog".into(),
        Taper::ReverseLog(m) => format!("revlog{}", percent(m)),
    };
    let finding = taper_unsuited::judge(&taper_unsuited::Figures {
        control: &control.part.name,
        taper: &word,
        level: [all[0], all[1], all[2]],
        laws: [("log", all[3]), ("lin", all[4]), ("revlog", all[5])],
    });
    found.extend(finding.map(|finding| Noted { at: At::Part(control.id), finding }));
}

/// Whether a signal comes to both ends of a track from outside of it: between two signals the middle is the middle.
fn blends(scene: &Scene, control: &Control, view: &measure::View) -> bool {
    let (Some(ccw), Some(cw)) = (control.ccw, control.cw) else { return false };
    if control.wiper == ccw || control.wiper == cw {
        return false;
    }
    let moves = |n: NodeId| view.sources.iter().any(|s| s[0].nodes[n.at()].norm() > NO_SIGNAL);
    let fed = |end: NodeId| {
        let others = scene.reach(end, |b| b.part != control.id);
        !others.contains(&control.wiper) && others.into_iter().any(|n| scene.stiff(n) && moves(n))
    };
    fed(ccw) && fed(cw)
}

/// Whether another output rises as this one falls.
fn pans(scene: &Scene, out: NodeId, [start, end]: [&measure::View; 2], source: usize) -> bool {
    let level = |view: &measure::View, n: NodeId| view.sources[source][0].nodes[n.at()].norm();
    let louder = |n: NodeId, a, b| level(b, n) > NO_SIGNAL && level(b, n) > OPPOSITE * level(a, n);
    let others = scene.circuit.stages.iter().flat_map(|s| &s.outputs).copied().filter(|n| *n != out);
    let mut others = others.collect::<Vec<_>>().into_iter();
    others.any(|n| {
        (louder(out, start, end) && louder(n, end, start)) || (louder(out, end, start) && louder(n, start, end))
    })
}

/// The travel at which a taper has this share of its track, by halving.
fn travel(taper: Taper, share: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if taper.share(middle) < share {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
