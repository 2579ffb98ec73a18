//! A stage as a network to work out by hand: neglects made, switches standing somewhere, what 0 Ω joins one node.

use circuit::{Circuit, GROUND, Given, NodeId, Part, PartKind, Position, SourceKind, StageId};
use derivation::{Amplifier, Kind, Network};

use super::around::{ends, holder};

/// A stage's network, with the circuit's node behind each of its nodes.
pub struct Taken {
    /// The network.
    pub network: Network,
    /// By its nodes: the circuit's.
    pub nodes: Vec<NodeId>,
    /// Outputs that are one node with an input, or with another output: each with that.
    pub joined: Vec<[NodeId; 2]>,
    /// Outputs that no signal moves.
    pub still: Vec<NodeId>,
}

/// The parts of a stage that are in the circuit.
pub fn parts(circuit: &Circuit, stage: StageId) -> impl Iterator<Item = &Part> {
    circuit.parts.iter().filter(move |p| p.stage == stage && !p.unfitted)
}

/// Nodes that no signal moves: the reference and the rails.
pub fn still(circuit: &Circuit, node: NodeId) -> bool {
    node == GROUND || circuit.supplies.iter().flat_map(|s| &s.rails).any(|r| r.0 == node)
}

/// The nodes from which a stage of a circuit that is steadied is driven: its input ports, sources' nodes that stand in it, and nodes in it
/// that another stage's amplifier holds.
pub fn inputs(circuit: &Circuit, stage: StageId) -> Vec<NodeId> {
    let mut found: Vec<NodeId> = circuit.stages[stage.at()].inputs.clone();
    let ends = ends(circuit, stage);
    found.extend(circuit.sources.iter().flat_map(|s| [s.plus, s.minus]).filter(|n| ends.contains(n)));
    let foreign = |n: &NodeId| holder(circuit, *n).is_some_and(|id| circuit.parts[id.at()].stage != stage);
    found.extend(ends.iter().copied().filter(foreign));
    let mut seen = Vec::new();
    found.retain(|n| {
        !still(circuit, *n) && !seen.contains(n) && {
            seen.push(*n);
            true
        }
    });
    found
}

/// The nodes among a stage's inputs into which a current source of the file drives, from `gnd`.
pub fn currents(circuit: &Circuit, stage: StageId) -> Vec<NodeId> {
    let own = |n: NodeId| {
        let mut at = circuit.sources.iter().filter(|s| s.plus == n || s.minus == n);
        let only = at.next().filter(|_| at.next().is_none());
        only.is_some_and(|s| s.kind == SourceKind::Current && s.plus == n && s.minus == GROUND)
    };
    inputs(circuit, stage).into_iter().filter(|n| own(*n)).collect()
}

/// Takes a stage out of a circuit in which the neglects are made; at some of its inputs a current drives, at the others a voltage.
///
/// # Errors
/// A clause: what keeps it from being worked out.
pub fn taken(circuit: &Circuit, stage: StageId, positions: &[Position], currents: &[NodeId]) -> Result<Taken, String> {
    let mut same: Vec<usize> = (0..circuit.nodes.len()).collect();
    let mut join = |a: NodeId, b: NodeId| {
        let (a, b) = (same[a.at()], same[b.at()]);
        same.iter_mut().filter(|n| **n == b).for_each(|n| *n = a);
    };
    for rail in circuit.supplies.iter().flat_map(|s| &s.rails) {
        join(GROUND, rail.0);
    }
    let nothing = |value: &Given| value.number() == Some(0.0);
    for part in parts(circuit, stage) {
        match &part.kind {
            PartKind::Resistor { ends, ohms } if nothing(ohms) => join(ends[0], ends[1]),
            PartKind::Inductor { ends, henries } if nothing(henries) => join(ends[0], ends[1]),
            PartKind::Variable { ohms, ccw, wiper, cw, .. } if nothing(ohms) => {
                [ccw, cw].into_iter().flatten().for_each(|n| join(*wiper, *n));
            }
            PartKind::Switch { control, contacts, unknown } => {
                if let Some(why) = unknown {
                    return Err(why.to_string());
                }
                for (position, ends) in contacts {
                    if positions[control.at()] == Position::Step(*position) {
                        join(ends[0], ends[1]);
                    }
                }
            }
            _ => {}
        }
    }
    let (inputs, outputs) = (inputs(circuit, stage), &circuit.stages[stage.at()].outputs);
    let mut made = Making { circuit, same, inputs: &inputs, outputs, nodes: vec![GROUND], names: vec!["gnd".into()] };
    let mut network = Network::default();
    for part in parts(circuit, stage) {
        let known = |g: &Given| match g {
            Given::Number(x) => Ok(*x),
            Given::Unknown(why) => Err(why.to_string()),
        };
        let mut put = |made: &mut Making, name: String, kind: Kind, ends: [NodeId; 2]| {
            let ends = ends.map(|n| made.node(n));
            network.parts.push(derivation::Part { name, kind, ends });
        };
        let name = part.name.to_string();
        match &part.kind {
            PartKind::Resistor { ends, ohms } if known(ohms)? != 0.0 => put(&mut made, name, Kind::R, *ends),
            PartKind::Capacitor { ends, farads, .. } if known(farads)? != 0.0 => put(&mut made, name, Kind::C, *ends),
            PartKind::Inductor { ends, henries } if known(henries)? != 0.0 => put(&mut made, name, Kind::L, *ends),
            PartKind::Variable { ohms, ccw, wiper, cw, .. } if known(ohms)? != 0.0 => match (ccw, cw) {
                (Some(a), Some(b)) => {
                    put(&mut made, format!("cw({name})"), Kind::R, [*wiper, *b]);
                    put(&mut made, format!("ccw({name})"), Kind::R, [*a, *wiper]);
                }
                (Some(one), None) | (None, Some(one)) => put(&mut made, name, Kind::R, [*one, *wiper]),
                (None, None) => {}
            },
            PartKind::Amplifier { plus, minus, out, .. } => {
                let [plus, minus, out] = [*plus, *minus, *out].map(|n| made.node(n));
                network.amplifiers.push(Amplifier { name, plus, minus, out });
            }
            _ => {}
        }
    }
    for node in &inputs {
        let at = made.node(*node);
        if at != 0 && currents.contains(node) {
            let input = made.current(*node);
            network.inputs.push(input);
            network.currents.push([input, at]);
        } else if at != 0 && !network.inputs.contains(&at) {
            network.inputs.push(at);
        }
    }
    let (mut joined, mut still) = (Vec::new(), Vec::new());
    for node in outputs {
        let at = made.node(*node);
        if at == 0 {
            still.push(*node);
        } else if network.inputs.contains(&at) || network.outputs.contains(&at) {
            joined.push([*node, made.nodes[at]]);
        } else {
            network.outputs.push(at);
        }
    }
    network.nodes = made.names;
    Ok(Taken { network, nodes: made.nodes, joined, still })
}

struct Making<'a> {
    circuit: &'a Circuit,
    same: Vec<usize>,
    inputs: &'a [NodeId],
    outputs: &'a [NodeId],
    nodes: Vec<NodeId>,
    names: Vec<String>,
}

impl Making<'_> {
    /// A node of the network for the current into a node.
    fn current(&mut self, node: NodeId) -> usize {
        self.nodes.push(node);
        self.names.push(self.circuit.node_name(node).to_string());
        self.nodes.len() - 1
    }

    /// The network's node of a node. Several that are joined are called after a port, else after the first that has a name.
    fn node(&mut self, node: NodeId) -> usize {
        let group = self.same[node.at()];
        if group == self.same[GROUND.at()] {
            return 0;
        }
        let rank = |n: &usize| {
            let id = NodeId(*n as u32);
            (!self.inputs.contains(&id), !self.outputs.contains(&id), self.circuit.nodes[*n].unnamed, *n)
        };
        let named = (0..self.same.len()).filter(|n| self.same[*n] == group).min_by_key(rank).unwrap_or(group);
        let named = NodeId(named as u32);
        self.nodes.iter().position(|n| *n == named).unwrap_or_else(|| {
            self.nodes.push(named);
            self.names.push(self.circuit.node_name(named).to_string());
            self.nodes.len() - 1
        })
    }
}
