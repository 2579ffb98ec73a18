//! What stands around a stage that is worked out by itself: what is held still there, what drives it besides its inputs, and what loads it.

use circuit::{Circuit, Given, Name, Neglect, NodeId, Part, PartId, PartKind, StageId, Supply};

use super::taken::{inputs, parts, still};

/// The surroundings of a stage.
#[derive(Default)]
pub struct Around {
    /// Parts of other stages that load a node of the stage which nothing holds, where they are all that hangs there and lead to `gnd` or a
    /// rail; each with the node.
    pub loads: Vec<(NodeId, PartId)>,
    /// Nodes of other stages at which such parts end and which an amplifier there holds at `gnd`, each with the amplifier.
    pub earths: Vec<(NodeId, PartId)>,
    /// Stages whose loads of an output are more than that.
    pub left: Vec<StageId>,
    /// A node inside the stage at which another stage's part does more than load it: the stage's part, the node, the other part.
    pub entangled: Option<(Name, NodeId, PartId)>,
}

/// A circuit in which the nodes at which a stage's parts end, and which an amplifier of another stage holds where no signal moves it (a
/// half-rail, a bias, be it a port or not), are rails; and those nodes with their amplifiers.
pub fn steadied(circuit: &Circuit, stage: StageId) -> (Circuit, Vec<(NodeId, PartId)>) {
    let moved = moved(circuit, stage);
    let foreign = |n: NodeId| holder(circuit, n).filter(|id| circuit.parts[id.at()].stage != stage).map(|id| (n, id));
    let still = |n: &NodeId| !moved[n.at()] && !still(circuit, *n);
    let held: Vec<(NodeId, PartId)> = ends(circuit, stage).into_iter().filter(still).filter_map(foreign).collect();
    let mut steady = circuit.clone();
    lay(&mut steady, held.iter().map(|(node, _)| *node));
    (steady, held)
}

/// Makes rails of nodes. What a node is held at makes no difference to a signal.
pub fn lay(circuit: &mut Circuit, nodes: impl Iterator<Item = NodeId>) {
    let rails: Vec<(NodeId, Given)> = nodes.map(|node| (node, Given::Number(0.0))).collect();
    if !rails.is_empty() {
        circuit.supplies.push(Supply { rails, slack: Vec::new() });
    }
}

/// The nodes at which a stage's parts end, each once.
pub fn ends(circuit: &Circuit, stage: StageId) -> Vec<NodeId> {
    let mut all: Vec<NodeId> = parts(circuit, stage).flat_map(Part::ends).collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// Looks around a stage of a circuit that is steadied.
pub fn around(circuit: &Circuit, stage: StageId, open: &[Neglect]) -> Around {
    let (own_inputs, outputs) = (inputs(circuit, stage), &circuit.stages[stage.at()].outputs);
    let mut found = Around::default();
    let own_ends = ends(circuit, stage);
    let moved = moved(circuit, stage);
    let earth = |n: NodeId| virtual_earth(circuit, n, &moved);
    let inside = own_ends.iter().copied().filter(|n| !outputs.contains(n));
    for node in outputs.iter().copied().chain(inside) {
        // What an amplifier holds nothing loads.
        if still(circuit, node) || own_inputs.contains(&node) || holder(circuit, node).is_some() {
            continue;
        }
        let hangs = |part: &Part| {
            let own = part.stage == stage || part.unfitted || open.contains(&Neglect::Undrawn(part.stage));
            // An amplifier's inputs draw nothing.
            !own && !matches!(part.kind, PartKind::Amplifier { .. }) && part.ends().contains(&node)
        };
        let ids = (0..circuit.parts.len()).filter(|i| hangs(&circuit.parts[*i])).map(|i| PartId(i as u32));
        let all: Vec<PartId> = ids.collect();
        let shunt = |id: &PartId| {
            let part = &circuit.parts[id.at()];
            let two =
                matches!(part.kind, PartKind::Resistor { .. } | PartKind::Capacitor { .. } | PartKind::Inductor { .. });
            let foot = |n: NodeId| n == node || still(circuit, n) || (!own_ends.contains(&n) && earth(n).is_some());
            two && part.ends().iter().all(|n| foot(*n))
        };
        match all.iter().find(|id| !shunt(id)) {
            None => {
                found.loads.extend(all.iter().map(|id| (node, *id)));
                let ends = all.iter().flat_map(|id| circuit.parts[id.at()].ends());
                let feet = ends.filter(|n| *n != node && !still(circuit, *n));
                found.earths.extend(feet.filter_map(|n| Some((n, earth(n)?))));
            }
            Some(_) if outputs.contains(&node) => {
                found.left.extend(all.iter().map(|id| circuit.parts[id.at()].stage));
            }
            Some(id) => {
                let meets = parts(circuit, stage).find(|p| p.ends().contains(&node));
                found.entangled = found.entangled.or(meets.map(|p| (p.name.clone(), node, *id)));
            }
        }
    }
    found.left.sort_unstable();
    found.left.dedup();
    found.earths.sort_unstable();
    found.earths.dedup();
    found
}

/// The amplifier that holds a node.
pub fn holder(circuit: &Circuit, node: NodeId) -> Option<PartId> {
    let holds = |p: &Part| !p.unfitted && matches!(p.kind, PartKind::Amplifier { out, .. } if out == node);
    circuit.parts.iter().position(holds).map(|i| PartId(i as u32))
}

/// The amplifier whose − input a node is, its + input held still and its feedback leading there through parts: for a signal the node lies at
/// `gnd`, and what ends there leads to `gnd`.
fn virtual_earth(circuit: &Circuit, node: NodeId, moved: &[bool]) -> Option<PartId> {
    let at = circuit.parts.iter().position(|p| {
        let PartKind::Amplifier { plus, minus, out, .. } = p.kind else { return false };
        !p.unfitted
            && minus == node
            && holder(circuit, node).is_none()
            && (still(circuit, plus) || !moved[plus.at()])
            && led_back(circuit, out, node)
    })?;
    Some(PartId(at as u32))
}

/// Whether parts lead from an amplifier's output to a node, by way of nodes that nothing holds.
fn led_back(circuit: &Circuit, out: NodeId, to: NodeId) -> bool {
    let mut reached = vec![out];
    let mut next = vec![out];
    while let Some(at) = next.pop() {
        for part in circuit.parts.iter().filter(|p| !p.unfitted) {
            let ends = part.ends();
            if matches!(part.kind, PartKind::Amplifier { .. } | PartKind::Switch { .. }) || !ends.contains(&at) {
                continue;
            }
            if ends.contains(&to) {
                return true;
            }
            for end in ends {
                if !reached.contains(&end) && !still(circuit, end) && holder(circuit, end).is_none() {
                    reached.push(end);
                    next.push(end);
                }
            }
        }
    }
    false
}

/// By nodes: whether a signal may move it. It spreads from the sources and from the inputs of stages through parts, and by an amplifier from
/// its inputs to its output; what an amplifier or a supply holds is moved by no part that ends there.
fn moved(circuit: &Circuit, stage: StageId) -> Vec<bool> {
    let mut moved = vec![false; circuit.nodes.len()];
    let held: Vec<bool> = (0..circuit.nodes.len()).map(|n| holder(circuit, NodeId(n as u32)).is_some()).collect();
    // What an amplifier holds moves as that does, a port too; but the stage's own amplifier may stand behind it.
    let own = |n: NodeId| holder(circuit, n).is_some_and(|id| circuit.parts[id.at()].stage == stage);
    let port = |s: StageId, n: NodeId| !held[n.at()] || (s == stage && own(n));
    let stages = (0..circuit.stages.len()).map(|i| StageId(i as u32));
    let ports = stages.flat_map(|s| circuit.stages[s.at()].inputs.iter().copied().filter(move |n| port(s, *n)));
    for node in circuit.sources.iter().flat_map(|s| [s.plus, s.minus]).chain(ports).filter(|n| !still(circuit, *n)) {
        moved[node.at()] = true;
    }
    loop {
        let before = moved.iter().filter(|m| **m).count();
        for part in circuit.parts.iter().filter(|p| !p.unfitted) {
            if let PartKind::Amplifier { plus, minus, out, .. } = part.kind {
                moved[out.at()] |= moved[plus.at()] || moved[minus.at()];
                continue;
            }
            let ends = part.ends();
            if ends.iter().any(|n| moved[n.at()]) {
                ends.iter().filter(|n| !held[n.at()] && !still(circuit, **n)).for_each(|n| moved[n.at()] = true);
            }
        }
        if moved.iter().filter(|m| **m).count() == before {
            return moved;
        }
    }
}
