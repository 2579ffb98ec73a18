//! What stands around a stage that is worked out by itself: what is held still there, what drives it besides its inputs, and what loads it.

use circuit::{Circuit, Given, Name, Neglect, NodeId, Part, PartId, PartKind, StageId, Supply};

use super::taken::{inputs, parts, still};

/// The surroundings of a stage.
#[derive(Default)]
pub struct Around {
    /// Parts of other stages that load a node of the stage which nothing holds, where they are all that hangs there and lead to `gnd` or a
    /// rail; each with the node.
    pub loads: Vec<(NodeId, PartId)>,
    /// Stages whose loads of an output are more than that.
    pub left: Vec<StageId>,
    /// A node inside the stage at which another stage's part does more than load it: the stage's part, the node, the other part.
    pub entangled: Option<(Name, NodeId, PartId)>,
}

/// A circuit in which the nodes at which a stage's parts end, and which an amplifier of another stage holds where no signal moves it (a
/// half-rail, a bias), are rails; and those nodes with their amplifiers.
pub fn steadied(circuit: &Circuit, stage: StageId) -> (Circuit, Vec<(NodeId, PartId)>) {
    let moved = moved(circuit, stage);
    let foreign = |n: NodeId| holder(circuit, n).filter(|id| circuit.parts[id.at()].stage != stage).map(|id| (n, id));
    let still = |n: &NodeId| !moved[n.at()] && !still(circuit, *n);
    let held: Vec<(NodeId, PartId)> = ends(circuit, stage).into_iter().filter(still).filter_map(foreign).collect();
    let mut steady = circuit.clone();
    // What it is held at makes no difference to a signal.
    let rails = held.iter().map(|(node, _)| (*node, Given::Number(0.0))).collect::<Vec<_>>();
    if !rails.is_empty() {
        steady.supplies.push(Supply { rails, slack: Vec::new() });
    }
    (steady, held)
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
    let inside = ends(circuit, stage).into_iter().filter(|n| !outputs.contains(n));
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
            two && part.ends().iter().all(|n| *n == node || still(circuit, *n))
        };
        match all.iter().find(|id| !shunt(id)) {
            None => found.loads.extend(all.iter().map(|id| (node, *id))),
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
    found
}

/// The amplifier that holds a node.
pub fn holder(circuit: &Circuit, node: NodeId) -> Option<PartId> {
    let holds = |p: &Part| !p.unfitted && matches!(p.kind, PartKind::Amplifier { out, .. } if out == node);
    circuit.parts.iter().position(holds).map(|i| PartId(i as u32))
}

/// By nodes: whether a signal may move it. It spreads from the sources and from the stage's inputs through parts, and by an amplifier from
/// its inputs to its output; what an amplifier or a supply holds is moved by no part that ends there.
fn moved(circuit: &Circuit, stage: StageId) -> Vec<bool> {
    let mut moved = vec![false; circuit.nodes.len()];
    let ports = circuit.stages[stage.at()].inputs.iter().copied();
    for node in circuit.sources.iter().flat_map(|s| [s.plus, s.minus]).chain(ports).filter(|n| !still(circuit, *n)) {
        moved[node.at()] = true;
    }
    let held: Vec<bool> = (0..circuit.nodes.len()).map(|n| holder(circuit, NodeId(n as u32)).is_some()).collect();
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
