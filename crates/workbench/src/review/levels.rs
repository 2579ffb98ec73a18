//! The rules about levels, at rest and with the sources at work.

use analysis::measure::View;
use argument::rules::{
    clips_at_least_gain, common_mode_range, input_beyond_rails, output_current_low, rests_beyond_rails, slew_rate_low,
};
use circuit::{GROUND, NodeId};

use super::scene::{Amplifier, BranchKind, REFERENCE, Scene, greatest, least};
use super::{At, Noted};

/// From this share of a source's voltage on, a signal comes to an output.
const SIGNAL: f64 = 1e-4;

pub(super) fn review(scene: &Scene, found: &mut Vec<Noted>) {
    let stuck: Vec<(&Amplifier, argument::rules::Finding)> =
        scene.amplifiers.iter().filter_map(|a| Some((a, stuck(scene, a)?))).collect();
    for amplifier in &scene.amplifiers {
        (scene.pulse)();
        let mut note = |finding: Option<argument::rules::Finding>| {
            let finding = finding.map(|finding| Noted { at: At::Part(amplifier.part), finding });
            let any = finding.is_some();
            found.extend(finding);
            any
        };
        // What follows an output that is at a rail has other voltages than the resistances alone would give it.
        if stuck.iter().any(|(other, _)| other.part != amplifier.part && follows(scene, amplifier, other)) {
            continue;
        }
        if note(beyond(scene, amplifier)) {
            continue;
        }
        let own = stuck.iter().find(|(a, _)| a.part == amplifier.part);
        if note(own.map(|(_, finding)| finding.clone())) {
            continue;
        }
        // An input out of its range is the cause of much else.
        if note(common_mode(scene, amplifier)) {
            continue;
        }
        note(clips(scene, amplifier));
        note(slews(scene, amplifier));
        note(gives(scene, amplifier));
    }
}

/// The room on the nearer side of where an output rests, in volts.
pub(super) fn room(scene: &Scene, view: &View, amplifier: &Amplifier) -> Option<f64> {
    let [low, high] = scene.swing(view, amplifier)?;
    let rest = view.rest[amplifier.out.at()]?;
    Some((high - rest).min(rest - low)).filter(|x| *x > 0.0)
}

/// A terminal that rests beyond its own rails.
fn beyond(scene: &Scene, amplifier: &Amplifier) -> Option<argument::rules::Finding> {
    for view in &scene.views {
        let rails = scene.rails(view, amplifier)?;
        for (terminal, node) in [("+ input", amplifier.plus), ("− input", amplifier.minus)] {
            let Some(volts) = view.rest[node.at()] else { continue };
            // What an output beyond its rails would bring is not what comes.
            if scene.amplifiers.iter().any(|o| o.part != amplifier.part && follows_beyond(scene, view, node, o)) {
                continue;
            }
            // The rail that it hangs on: the one beyond its own that direct current comes from.
            let direct = |b: &super::scene::Branch| !matches!(b.kind, BranchKind::Capacitor(_));
            let over =
                |n: &NodeId| scene.is_rail(*n) && view.rest[n.at()].is_some_and(|v| v > rails[1] || v < rails[0]);
            let from = scene.reach(node, direct).into_iter().find(over).map(|n| scene.node(n));
            let finding = input_beyond_rails::judge(&input_beyond_rails::Figures {
                amplifier: amplifier.name,
                terminal,
                node: scene.node(node),
                volts,
                rails,
                from,
            });
            if finding.is_some() {
                return finding;
            }
        }
    }
    None
}

/// Whether direct current comes to a node from an output that the resistances would put beyond its rails.
fn follows_beyond(scene: &Scene, view: &View, node: NodeId, other: &Amplifier) -> bool {
    let Some([low, high]) = scene.rails(view, other) else { return false };
    let beyond = view.rest[other.out.at()].is_some_and(|v| v < low || v > high);
    beyond && scene.reach(node, |b| !matches!(b.kind, BranchKind::Capacitor(_))).contains(&other.out)
}

/// Whether direct current of another one's output has a say in what an amplifier's inputs rest at.
pub(super) fn follows(scene: &Scene, amplifier: &Amplifier, other: &Amplifier) -> bool {
    let direct = |b: &super::scene::Branch| !matches!(b.kind, BranchKind::Capacitor(_));
    [amplifier.plus, amplifier.minus].iter().any(|n| scene.reach(*n, direct).contains(&other.out))
}

/// An output that would rest beyond its rails, or with a signal beyond its swing.
fn stuck(scene: &Scene, amplifier: &Amplifier) -> Option<argument::rules::Finding> {
    // An open loop has no rest that its resistances set: the drawing's own rule says so.
    let open = |f: &analysis::soundness::Flaw| f.id == "no-feedback" && f.part == Some(amplifier.part);
    if scene.whole.sound.flaws.iter().any(open) {
        return None;
    }
    // What drives a port may well bring the right direct voltage; nothing between the rails does where + is at one of them.
    let guess = [amplifier.plus, amplifier.minus].iter().any(|n| scene.rests_on_guess(*n));
    if guess && !amplifier.rails?.contains(&amplifier.plus) {
        return None;
    }
    let carries = |b: &BranchKind| matches!(b, BranchKind::Resistor(_));
    let fixed = |n: NodeId| n != amplifier.out && (n == GROUND || scene.is_rail(n));
    let leg = scene.around(amplifier.minus).find(|(b, n)| carries(&b.kind) && fixed(*n));
    let leg = leg.map(|(b, n)| (scene.name(b.part), scene.node(n)));
    // A preset is there to be turned until it is right.
    let rest = scene.hands.rest();
    let presets = |view: &&View| {
        let mut all = scene.circuit.controls.iter().zip(view.positions.iter().zip(&rest.positions));
        all.all(|(control, (a, b))| !control.preset || a == b)
    };
    let at_rest = scene.resting.iter();
    at_rest.chain(scene.views.iter().filter(presets)).find_map(|view| {
        let rails = scene.rails(view, amplifier)?;
        let moved = view.sources.iter().map(|s| s[REFERENCE].nodes[amplifier.out.at()].norm()).fold(0.0, f64::max);
        rests_beyond_rails::judge(&rests_beyond_rails::Figures {
            amplifier: amplifier.name,
            position: &view.name,
            volts: view.rest[amplifier.out.at()]?,
            rails,
            swing: scene.swing(view, amplifier).filter(|s| s[0] < s[1]).unwrap_or(rails),
            signal: moved > SIGNAL,
            input: view.rest[amplifier.plus.at()]?,
            leg,
        })
    })
}

fn common_mode(scene: &Scene, amplifier: &Amplifier) -> Option<argument::rules::Finding> {
    let (low, high) = (greatest(&amplifier.sheet.range_low)?, greatest(&amplifier.sheet.range_high)?);
    let mut mildest: Option<(f64, argument::rules::Finding)> = None;
    for view in &scene.views {
        let [below, above] = scene.rails(view, amplifier)?;
        let range = [below + low, above - high];
        if range[0] >= range[1] {
            return None;
        }
        // Beyond its output's swing the loop is open, and an input that the output drives follows no more; what comes to one from elsewhere does.
        let share = |a: &Amplifier| match room(scene, view, a) {
            Some(room) => (room / scene.greatest(view, [a.out, GROUND]).0).min(1.0),
            None => 1.0,
        };
        let share = |node: NodeId| {
            let driven = if scene.stiff(node) { vec![node] } else { scene.reach(node, |_| true) };
            let drivers = scene.amplifiers.iter().filter(|a| driven.contains(&a.out));
            drivers.map(share).fold(1.0, f64::min)
        };
        let mut here: Option<(f64, argument::rules::Finding)> = None;
        for (input, node) in [("+", amplifier.plus), ("−", amplifier.minus)] {
            // Where the direct voltage comes from is not drawn: what drives the port may well bring the right one.
            if scene.rests_on_guess(node) {
                continue;
            }
            let rest = view.rest[node.at()]?;
            let peak = share(node) * scene.greatest(view, [node, GROUND]).0;
            let by = (range[0] - rest + peak).max(rest + peak - range[1]);
            let finding = common_mode_range::judge(&common_mode_range::Figures {
                amplifier: amplifier.name,
                input,
                position: &view.name,
                rest,
                peak,
                range,
            });
            if let Some(finding) = finding.filter(|_| here.as_ref().is_none_or(|h| by > h.0)) {
                here = Some((by, finding));
            }
        }
        // Where some position of the controls keeps it inside, a hand can.
        let here = here?;
        if mildest.as_ref().is_none_or(|m| here.0 < m.0) {
            mildest = Some(here);
        }
    }
    mildest.map(|m| m.1)
}

fn clips(scene: &Scene, amplifier: &Amplifier) -> Option<argument::rules::Finding> {
    let drive = scene.drive();
    let mut least: Option<(f64, f64, f64, &View)> = None;
    let mut moves = false;
    for view in &scene.views {
        let room = room(scene, view, amplifier)?;
        let (peak, hertz) = scene.greatest(view, [amplifier.out, GROUND]);
        moves |= least.is_some_and(|l| (l.0 / l.1 - peak / room).abs() > 1e-6 * peak / room);
        if least.is_none_or(|l| peak / room < l.0 / l.1) {
            least = Some((peak, room, hertz, view));
        }
    }
    let (peak, room, hertz, view) = least?;
    let position = if moves { &*view.name } else { "" };
    clips_at_least_gain::judge(&clips_at_least_gain::Figures {
        amplifier: amplifier.name,
        position,
        drive: &drive,
        peak,
        room,
        hertz,
    })
}

fn slews(scene: &Scene, amplifier: &Amplifier) -> Option<argument::rules::Finding> {
    let slew = least(&amplifier.sheet.slew_rate).filter(|_| scene.banded)?;
    // By frequency times peak: the slope, but for 2π.
    let mut worst: Option<(f64, f64, f64, &View)> = None;
    for view in &scene.views {
        let room = room(scene, view, amplifier);
        for (place, hertz) in scene.hertz.iter().enumerate() {
            let peak = scene.peak(view, place, [amplifier.out, GROUND]);
            // What clips is no steeper than its swing allows.
            let peak = room.map_or(peak, |room| peak.min(room));
            if worst.is_none_or(|w| hertz * peak > w.0) {
                worst = Some((hertz * peak, peak, *hertz, view));
            }
        }
    }
    let (_, peak, hertz, view) = worst?;
    let position = &view.name;
    slew_rate_low::judge(&slew_rate_low::Figures { amplifier: amplifier.name, position, peak, hertz, slew })
}

fn gives(scene: &Scene, amplifier: &Amplifier) -> Option<argument::rules::Finding> {
    let most = least(&amplifier.sheet.output_current)?;
    // What flows at rest, and the peak of the signal on top of it.
    let mut worst: Option<([f64; 2], f64, f64, &View)> = None;
    for view in &scene.views {
        let rest = view.flows.get(amplifier.index).copied().flatten().unwrap_or(0.0).abs();
        for place in 0..scene.hertz.len() {
            let volts = scene.peak(view, place, [amplifier.out, GROUND]);
            let share = room(scene, view, amplifier).filter(|room| volts > *room).map_or(1.0, |room| room / volts);
            let peak = share * scene.current(view, place, amplifier.index);
            if worst.is_none_or(|w| rest + peak > w.0[0] + w.0[1]) {
                worst = Some(([rest, peak], share * volts, scene.hertz[place], view));
            }
        }
    }
    let ([rest, peak], volts, hertz, view) = worst?;
    output_current_low::judge(&output_current_low::Figures {
        amplifier: amplifier.name,
        position: &view.name,
        rest,
        peak,
        most,
        hertz,
        volts,
    })
}
