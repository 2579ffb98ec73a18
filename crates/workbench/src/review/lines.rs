//! The rules about lines that leave the circuit, about rails, and about amplifiers that stand idle.

use argument::rules::{
    extra_low_voltage, hot_leg_inverted, legs_unequal, line_without_build_out, rail_undecoupled, supply_out_of_range,
    unused_amplifier,
};
use circuit::{GROUND, NodeId, Point, Quantity, SourceKind};

use super::scene::{BranchKind, REFERENCE, Scene};
use super::{At, Noted};
use crate::database::{Desk, Document, query};

pub(super) fn review(db: &dyn Desk, document: Document, scene: &Scene, found: &mut Vec<Noted>) {
    for pair in scene.circuit.pairs.iter().filter(|p| scene.outputs.contains(&p.hot) && scene.outputs.contains(&p.cold))
    {
        legs(db, document, scene, pair, found);
        polarity(scene, pair, found);
    }
    lines(scene, found);
    rails(scene, found);
    voltages(scene, found);
    idle(scene, found);
}

fn legs(db: &dyn Desk, document: Document, scene: &Scene, pair: &circuit::Pair, found: &mut Vec<Noted>) {
    let impedance = |node: NodeId| {
        let question = query(Quantity::Impedance(Point::node(scene.circuit, node)), None, None);
        crate::ask::answer(db, document, &question).filter(|r| r.unknown().is_none())?.magnitude()
    };
    let (Some(hot), Some(cold)) = (impedance(pair.hot), impedance(pair.cold)) else { return };
    let finding = legs_unequal::judge(&legs_unequal::Figures {
        pair: &pair.name,
        nodes: [scene.node(pair.hot), scene.node(pair.cold)],
        ohms: [hot, cold],
        hertz: scene.hertz[REFERENCE],
    });
    found.extend(finding.map(|finding| Noted { at: At::Node(pair.hot), finding }));
}

fn polarity(scene: &Scene, pair: &circuit::Pair, found: &mut Vec<Noted>) {
    for (i, source) in scene.circuit.sources.iter().enumerate() {
        let gains: Vec<_> = scene
            .views
            .iter()
            .map(|v| &v.sources[i][REFERENCE].nodes)
            .map(|n| n[pair.hot.at()] - n[pair.cold.at()])
            .collect();
        // A voltage source and everywhere well within 45° of upside down: less is phase, and not polarity.
        let over = |g: &&num_complex::Complex64| g.re < 0.0 && g.im.abs() < -g.re;
        if source.kind != SourceKind::Voltage || gains.is_empty() || gains.iter().filter(over).count() < gains.len() {
            continue;
        }
        let virtual_earth = |a: &&super::scene::Amplifier| a.plus == GROUND || scene.is_rail(a.plus);
        let inverting: Vec<String> =
            scene.amplifiers.iter().filter(virtual_earth).map(|a| a.name.to_string()).collect();
        let finding = hot_leg_inverted::judge(&hot_leg_inverted::Figures {
            pair: &pair.name,
            nodes: [scene.node(pair.hot), scene.node(pair.cold)],
            source: &source.name,
            gain: gains[0].re,
            inverting: if inverting.len() <= 3 { &inverting } else { &[] },
        });
        found.extend(finding.map(|finding| Noted { at: At::Node(pair.hot), finding }));
        return;
    }
}

fn lines(scene: &Scene, found: &mut Vec<Noted>) {
    for amplifier in &scene.amplifiers {
        let cable = scene.around(amplifier.out).find_map(|(b, _)| match b.kind {
            BranchKind::Capacitor(farads) if scene.external(b.part) => Some((b.part, farads)),
            _ => None,
        });
        let leg = |p: &&circuit::Pair| p.hot == amplifier.out || p.cold == amplifier.out;
        // What is drawn as outside of the board, and is no capacitance, is a load and no cable: a pair by itself is none either.
        let loaded = scene.around(amplifier.out).any(|(b, _)| scene.external(b.part));
        let pair = scene.circuit.pairs.iter().find(leg).filter(|_| scene.outputs.contains(&amplifier.out) && !loaded);
        let (line, farads) = match (cable, pair) {
            (Some((part, farads)), _) => (scene.name(part), Some(farads)),
            (None, Some(pair)) => (&*pair.name, None),
            (None, None) => continue,
        };
        let finding = line_without_build_out::judge(&line_without_build_out::Figures {
            amplifier: amplifier.name,
            output: scene.node(amplifier.out),
            line,
            farads,
        });
        found.extend(finding.map(|finding| Noted { at: At::Part(amplifier.part), finding }));
    }
}

fn rails(scene: &Scene, found: &mut Vec<Noted>) {
    let mut told = Vec::new();
    for amplifier in &scene.amplifiers {
        for rail in amplifier.rails.into_iter().flatten().filter(|r| !scene.stiff(*r)) {
            // A capacitor decouples where it ends at something that holds still, or at the amplifier's other rail.
            let still = |n: NodeId| n == GROUND || scene.is_rail(n) || amplifier.rails.is_some_and(|r| r.contains(&n));
            let held = scene.around(rail).filter_map(|(b, other)| match b.kind {
                BranchKind::Capacitor(farads) if still(other) => Some((farads, scene.name(b.part))),
                _ => None,
            });
            let held: Vec<(f64, &str)> = held.collect();
            let series =
                scene.around(rail).find(|(b, _)| matches!(b.kind, BranchKind::Resistor(_) | BranchKind::Inductor(_)));
            let Some((series, _)) = series.filter(|_| !told.contains(&rail)) else { continue };
            told.push(rail);
            let finding = rail_undecoupled::judge(&rail_undecoupled::Figures {
                amplifier: amplifier.name,
                rail: scene.node(rail),
                series: scene.name(series.part),
                farads: held.iter().map(|h| h.0).sum(),
                capacitor: held.iter().copied().reduce(|a, b| if b.0 > a.0 { b } else { a }).map(|h| h.1),
            });
            found.extend(finding.map(|finding| Noted { at: At::Part(series.part), finding }));
        }
        let Some([low, high]) = scene.resting.as_ref().and_then(|v| scene.rails(v, amplifier)) else { continue };
        let finding = supply_out_of_range::judge(&supply_out_of_range::Figures {
            amplifier: amplifier.name,
            kind: &amplifier.sheet.name,
            volts: high - low,
            least: amplifier.sheet.supply_range.min,
            most: amplifier.sheet.supply_range.max,
        });
        found.extend(finding.map(|finding| Noted { at: At::Part(amplifier.part), finding }));
    }
}

fn voltages(scene: &Scene, found: &mut Vec<Noted>) {
    let mut judge = |node: NodeId, figures: &extra_low_voltage::Figures| {
        let finding = extra_low_voltage::judge(figures);
        found.extend(finding.map(|finding| Noted { at: At::Node(node), finding }));
    };
    for supply in &scene.circuit.supplies {
        let rails = supply.rails.iter().map(|(rail, volts)| (*rail, volts.number().unwrap_or(0.0)));
        for (rail, volts) in rails.clone() {
            judge(rail, &extra_low_voltage::Figures { name: scene.node(rail), to: None, volts, alternating: false });
        }
        // Each of the two that feed amplifiers may be harmless by itself, and between them they are not.
        if let [(one, Some(a)), (other, Some(b)), ..] =
            supply.rails.iter().map(|(rail, volts)| (*rail, volts.number())).collect::<Vec<_>>()[..]
            && a.abs().max(b.abs()) <= extra_low_voltage::DIRECT
        {
            let (name, to) = (scene.node(one), Some(scene.node(other)));
            judge(one, &extra_low_voltage::Figures { name, to, volts: (a - b).abs(), alternating: false });
        }
    }
    for source in scene.circuit.sources.iter().filter(|s| s.kind == SourceKind::Voltage) {
        let (name, volts) = (&*source.name, source.level.unwrap_or(0.0));
        judge(source.plus, &extra_low_voltage::Figures { name, to: None, volts, alternating: true });
    }
}

/// Amplifiers whose nodes have nobody else.
fn idle(scene: &Scene, found: &mut Vec<Noted>) {
    for amplifier in &scene.amplifiers {
        let nodes = [amplifier.plus, amplifier.minus, amplifier.out];
        let port = |n: &NodeId| scene.circuit.stages.iter().any(|s| s.inputs.contains(n) || s.outputs.contains(n));
        let shared = |n: &NodeId| {
            let own = nodes.iter().filter(|m| *m == n).count();
            let all = scene.amplifiers.iter().flat_map(|a| [a.plus, a.minus, a.out]).filter(|m| m == n).count();
            all > own
        };
        let alone = |n: &NodeId| scene.at[n.at()].is_empty() && !shared(n) && !port(n) && !scene.is_rail(*n);
        let hangs = |n: &NodeId| alone(n) && *n != GROUND && *n != amplifier.out;
        if !(alone(&amplifier.out) && nodes[..2].iter().any(hangs)) {
            continue;
        }
        let finding = unused_amplifier::judge(&unused_amplifier::Figures {
            amplifier: amplifier.name,
            nodes: nodes.map(|n| scene.node(n)),
        });
        found.extend(finding.map(|finding| Noted { at: At::Part(amplifier.part), finding }));
    }
}
