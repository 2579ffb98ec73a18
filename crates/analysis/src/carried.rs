//! Where parts lead a signal, by the drawing alone.

use circuit::{GROUND, NodeId};

use crate::network::{Network, Piece, Shape};

/// The nodes to which parts and amplifiers lead from some others, by their numbers. What is held (by a supply, a source, an amplifier's output)
/// hands on nothing that comes to it through a part.
///
/// The equations may know no way to such a node all the same: an ideal amplifier's feedback holds its virtual earth at exactly 0.
pub(crate) fn carried(network: &Network, from: Vec<NodeId>) -> Vec<bool> {
    carried_without(network, from, &|_| false)
}

/// The same without some of the parts, which carry nothing.
pub(crate) fn carried_without(network: &Network, from: Vec<NodeId>, without: &dyn Fn(&Piece) -> bool) -> Vec<bool> {
    let count = network.nodes.len();
    let mut next: Vec<Vec<NodeId>> = vec![Vec::new(); count];
    let mut held = vec![false; count];
    let mut join = |a: NodeId, b: NodeId| {
        next[a.0 as usize].push(b);
        next[b.0 as usize].push(a);
    };
    for feed in network.feeds.iter().chain(&network.rails).filter(|f| f.branch.is_some()) {
        match (feed.plus, feed.minus) {
            (one, GROUND) | (GROUND, one) => held[one.0 as usize] = true,
            (plus, minus) => join(plus, minus),
        }
    }
    for piece in network.pieces.iter().filter(|p| !without(p)) {
        match &piece.shape {
            Shape::Resistor([a, b]) | Shape::Link([a, b]) | Shape::Capacitor([a, b]) | Shape::Inductor([a, b]) => {
                join(*a, *b);
            }
            Shape::Variable { ccw, wiper, cw } => [ccw, cw].into_iter().flatten().for_each(|end| join(*end, *wiper)),
            Shape::Switch(contacts) => contacts.iter().for_each(|(_, [a, b])| join(*a, *b)),
            Shape::Amplifier { .. } | Shape::Absent(_) => {}
        }
    }
    held[GROUND.0 as usize] = true;
    let mut ahead: Vec<Vec<NodeId>> = vec![Vec::new(); count];
    for piece in &network.pieces {
        if let Shape::Amplifier { plus, minus, out, .. } = piece.shape {
            held[out.0 as usize] = true;
            if !without(piece) {
                [plus, minus].into_iter().filter(|n| *n != GROUND).for_each(|n| ahead[n.0 as usize].push(out));
            }
        }
    }
    let mut found = vec![false; count];
    let mut open: Vec<NodeId> = from.into_iter().filter(|n| *n != GROUND).collect();
    open.iter().for_each(|n| found[n.0 as usize] = true);
    while let Some(at) = open.pop() {
        let through = next[at.0 as usize].iter().filter(|n| !held[n.0 as usize]);
        let reached: Vec<NodeId> = through.chain(&ahead[at.0 as usize]).copied().collect();
        for node in reached {
            if node != GROUND && !std::mem::replace(&mut found[node.0 as usize], true) {
                open.push(node);
            }
        }
    }
    found
}
