//! The branches without resistance: what joins, and what holds.

use std::collections::HashMap;

use circuit::{ControlId, GROUND, NodeId, PartId};

use crate::network::{Network, Quality, Shape};

/// What a branch without resistance is.
pub(super) enum Kind {
    /// The source of this number.
    Source(usize),
    /// The rail of this number.
    Rail(usize),
    /// The output of the amplifier of this number.
    Output(usize),
    /// A part that joins its ends: always, or where a control stands so that a parameter is 0.
    Joint(PartId, Option<(u32, ControlId, Stop)>),
}

/// Where a control stands that makes a branch 0 Ω.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Stop {
    Step(u32),
    Low,
    High,
}

pub(super) struct Edge {
    pub ends: [NodeId; 2],
    /// The equation of the branch.
    pub law: u32,
    pub kind: Kind,
    /// It gives way: an output with a resistance of its own and a gain that ends.
    pub soft: bool,
}

impl Edge {
    /// A driver, which holds its ends apart.
    pub fn holds(&self) -> bool {
        !matches!(self.kind, Kind::Joint(..))
    }

    /// Where a control has to stand for it to be 0 Ω.
    pub fn stop(&self) -> Option<(ControlId, Stop)> {
        match self.kind {
            Kind::Joint(_, Some((_, control, stop))) => Some((control, stop)),
            _ => None,
        }
    }

    /// 0 Ω at every position.
    pub fn fixed(&self) -> bool {
        matches!(self.kind, Kind::Joint(_, None))
    }
}

/// The branches that are, or can be, 0 Ω.
pub(super) fn joints(network: &Network) -> Vec<Edge> {
    let mut all = Vec::new();
    // Which parameter it is that makes a branch 0 Ω: those of a part come in the order of its branches.
    let mut zeros: HashMap<PartId, Vec<u32>> = HashMap::new();
    for (i, (part, quality)) in network.parameters.iter().enumerate() {
        if matches!(quality, Quality::LowTrack | Quality::HighTrack | Quality::Open(_)) {
            zeros.entry(*part).or_default().push(i as u32);
        }
    }
    for (i, piece) in network.pieces.iter().enumerate() {
        let (id, Some(branch)) = (PartId(i as u32), piece.branch) else { continue };
        let branches: Vec<([NodeId; 2], Option<Stop>)> = match &piece.shape {
            Shape::Link(ends) => vec![(*ends, None)],
            Shape::Inductor(ends) if piece.short => vec![(*ends, None)],
            Shape::Variable { ccw, wiper, cw } => {
                let ends = [(ccw, Stop::Low), (cw, Stop::High)].into_iter();
                ends.filter_map(|(end, stop)| Some(([(*end)?, *wiper], Some(stop)))).collect()
            }
            Shape::Switch(contacts) => contacts.iter().map(|(step, ends)| (*ends, Some(Stop::Step(*step)))).collect(),
            _ => continue,
        };
        for (k, (ends, stop)) in branches.into_iter().enumerate() {
            let zero = || Some(*zeros.get(&id)?.get(k)?);
            let moved = stop.filter(|_| !piece.short).and_then(|stop| Some((zero()?, piece.control?, stop)));
            all.push(Edge { ends, law: branch + k as u32, kind: Kind::Joint(id, moved), soft: false });
        }
    }
    all.retain(|e| e.ends[0] != e.ends[1]);
    all
}

/// What holds nodes, but for lifted branches: sources, rails, and the outputs of amplifiers.
pub(super) fn holders(network: &Network, lifted: &[u32]) -> Vec<Edge> {
    let mut all = Vec::new();
    for (i, f) in network.feeds.iter().enumerate() {
        all.extend(f.branch.map(|law| Edge { ends: [f.plus, f.minus], law, kind: Kind::Source(i), soft: false }));
    }
    for (i, r) in network.rails.iter().enumerate() {
        all.extend(r.branch.map(|law| Edge { ends: [r.plus, r.minus], law, kind: Kind::Rail(i), soft: false }));
    }
    for (i, p) in network.pieces.iter().enumerate() {
        if let (Shape::Amplifier { out, known, .. }, Some(law)) = (&p.shape, p.branch) {
            // With an unbounded gain the feedback makes up for an output resistance too.
            let soft = known.resistance && (known.gain || known.bandwidth);
            all.push(Edge { ends: [*out, GROUND], law, kind: Kind::Output(i), soft });
        }
    }
    all.retain(|e| e.ends[0] != e.ends[1] && !lifted.contains(&e.law));
    all
}

/// Whether branches that are always 0 Ω lead from a node to `gnd`.
pub(crate) fn grounded(network: &Network, node: NodeId) -> bool {
    let fixed: Vec<Edge> = joints(network).into_iter().filter(Edge::fixed).collect();
    Groups::of(network, &fixed).joined(node, GROUND)
}

/// Of each node the least of those that branches of always 0 Ω make one with it.
pub(crate) fn joined(network: &Network) -> Vec<NodeId> {
    let fixed: Vec<Edge> = joints(network).into_iter().filter(Edge::fixed).collect();
    let groups = Groups::of(network, &fixed);
    (0..network.nodes.len() as u32).map(|n| NodeId(groups.root(NodeId(n)))).collect()
}

/// The parts that are always 0 Ω, each with its ends.
pub(crate) fn links(network: &Network) -> Vec<(PartId, [NodeId; 2])> {
    let part = |e: Edge| match e.kind {
        Kind::Joint(part, None) => Some((part, e.ends)),
        _ => None,
    };
    joints(network).into_iter().filter_map(part).collect()
}

/// Nodes that branches of always 0 Ω make one.
pub(super) struct Groups(Vec<u32>);

impl Groups {
    pub fn of(network: &Network, edges: &[Edge]) -> Groups {
        let mut groups = Groups((0..network.nodes.len() as u32).collect());
        for e in edges.iter().filter(|e| e.fixed()) {
            let (a, b) = (groups.lead(e.ends[0]), groups.lead(e.ends[1]));
            groups.0[a.max(b) as usize] = a.min(b);
        }
        for n in 0..groups.0.len() as u32 {
            groups.0[n as usize] = groups.root(NodeId(n));
        }
        groups
    }

    /// The least of a node's group, while the groups grow: the way there is halved.
    fn lead(&mut self, n: NodeId) -> u32 {
        let mut at = n.0;
        while self.0[at as usize] != at {
            let up = self.0[self.0[at as usize] as usize];
            self.0[at as usize] = up;
            at = up;
        }
        at
    }

    /// The least of a node's group.
    pub fn root(&self, n: NodeId) -> u32 {
        let mut at = n.0;
        while self.0[at as usize] != at {
            at = self.0[at as usize];
        }
        at
    }

    fn joined(&self, a: NodeId, b: NodeId) -> bool {
        self.root(a) == self.root(b)
    }
}
