//! The rules about an amplifier's loop.

use analysis::measure::{self, Growth, Loop};
use argument::rules::{below_minimum_gain, loop_gain_low, no_end_stop, phase_margin_low};
use circuit::{Circuit, GROUND, NodeId, PartId, PartKind};

use super::scene::{Amplifier, BranchKind, Scene};
use super::{At, Noted};

/// What usually keeps a cable's capacitance out of a loop, in ohms. Common practice, no source.
const BUILD_OUT: f64 = 47.0;

pub(super) fn review(scene: &Scene, growing: &[Growth], found: &mut Vec<Noted>) {
    let edge = scene.circuit.band.1;
    if !edge.is_finite() {
        return;
    }
    for amplifier in &scene.amplifiers {
        // What a control without an end stop does to the loop is told of the control, and what grows is told as such.
        let stop =
            |n: &Noted| n.finding.rule == no_end_stop::ID && n.finding.names.iter().any(|name| name == amplifier.name);
        let grows = growing.iter().any(|g| g.amplifiers.contains(&amplifier.part));
        if grows || found.iter().any(stop) {
            continue;
        }
        // A loop without feedback is told by the drawing.
        let Ok(loops) = measure::loops(scene.whole, scene.circuit, amplifier.part, edge, scene.pulse) else { continue };
        one(scene, amplifier, &loops, edge, found);
    }
}

fn one(scene: &Scene, amplifier: &Amplifier, loops: &[Loop], edge: f64, found: &mut Vec<Noted>) {
    let sheet = amplifier.sheet;
    let mut note = |finding: Option<argument::rules::Finding>| {
        found.extend(finding.map(|finding| Noted { at: At::Part(amplifier.part), finding }));
    };
    // At the highest gain the least of the loop is left.
    // A loop that nothing closes has none: that is told as such.
    let least = loops.iter().filter(|l| l.left > 0.0).reduce(|a, b| if b.left < a.left { b } else { a });
    if let (Some(at), Some(bandwidth)) = (least.filter(|_| scene.banded), sheet.gain_bandwidth.nominal()) {
        let (amplifier, position) = (amplifier.name, &*at.position);
        note(loop_gain_low::judge(&loop_gain_low::Figures { amplifier, position, left: at.left, edge, bandwidth }));
    }
    let crossings = loops.iter().filter_map(|l| Some((&*l.position, l.crossing?)));
    let worst = crossings.clone().reduce(|a, b| if b.1.margin < a.1.margin { b } else { a });
    let Some((position, crossing)) = worst else { return };
    let to = |a, b| {
        let between =
            scene.around(a).find(|(branch, other)| *other == b && matches!(branch.kind, BranchKind::Capacitor(_)));
        between.map(|(branch, _)| scene.name(branch.part))
    };
    // A capacitance behind a resistor that does not keep it out of the loop.
    let behind = scene.around(amplifier.out).find_map(|(branch, node)| match branch.kind {
        BranchKind::Resistor(ohms) if ohms < BUILD_OUT && !scene.stiff(node) => {
            Some((to(node, GROUND)?, (scene.name(branch.part), ohms)))
        }
        _ => None,
    });
    // A capacitor behind which a track is run down to gnd, as the position says.
    let down = |b: &super::scene::Branch| {
        matches!(b.kind, BranchKind::Track(_)) && position.contains(&format!("{} 0 %", scene.name(b.part)))
    };
    let run_down = scene.around(amplifier.out).find_map(|(branch, node)| {
        let capacitor = matches!(branch.kind, BranchKind::Capacitor(_)) && !scene.stiff(node);
        let reaches = scene.around(node).any(|(b, other)| other == GROUND && down(b));
        (capacitor && reaches).then(|| scene.name(branch.part))
    });
    if let Some(finding) = starved(scene.circuit, amplifier.part, loops).and_then(|s| below_minimum_gain::judge(&s)) {
        return note(Some(finding));
    }
    note(phase_margin_low::judge(&phase_margin_low::Figures {
        amplifier: amplifier.name,
        position,
        margin: crossing.margin,
        decompensated: sheet.minimum_gain.nominal().is_some_and(|m| m > 1.0),
        crossing: crossing.hertz,
        at_input: to(amplifier.minus, GROUND),
        at_output: to(amplifier.out, GROUND).or(behind.map(|b| b.0)).or(run_down),
        build_out: behind.map(|b| b.1).filter(|_| to(amplifier.out, GROUND).is_none()),
        follower: amplifier.minus == amplifier.out,
    }));
}

/// What is to be said of the noise gain of a type with a minimum, where its loop crosses 1: at the position at which that is lowest.
pub(crate) fn starved<'a>(
    circuit: &'a Circuit,
    part: PartId,
    loops: &'a [Loop],
) -> Option<below_minimum_gain::Figures<'a>> {
    let amplifier = &circuit.parts[part.at()];
    let PartKind::Amplifier { sheet, plus, minus, out, .. } = &amplifier.kind else { return None };
    let minimum = sheet.minimum_gain.nominal().filter(|m| *m > 1.0)?;
    let crossings = loops.iter().filter_map(|l| Some((&*l.position, l.crossing?)));
    let (position, crossing) = crossings.reduce(|a, b| if b.1.noise_gain < a.1.noise_gain { b } else { a })?;
    let mut fitted = circuit.parts.iter().filter(|p| !p.unfitted);
    let across = |ends: &[NodeId; 2]| *ends == [*minus, *out] || *ends == [*out, *minus];
    let capacitor = fitted.find(|p| matches!(&p.kind, PartKind::Capacitor { ends, .. } if across(ends)));
    let rail = circuit.supplies.iter().flat_map(|s| &s.rails).any(|r| r.0 == *plus);
    let node = &circuit.nodes[minus.at()];
    let summing = ((*plus == GROUND || rail) && !node.unnamed).then_some(&*node.name);
    Some(below_minimum_gain::Figures {
        amplifier: &amplifier.name,
        kind: &sheet.name,
        position,
        noise_gain: crossing.noise_gain,
        crossing: crossing.hertz,
        minimum,
        capacitor: capacitor.map(|p| &*p.name),
        summing,
        follower: minus == out,
    })
}
