//! Ideal amplifiers that latch: equations alone would let such a part stand at the one voltage where it balances, which nothing holds it at.

mod balance;
mod sign;

pub use balance::{Amplifier, Balance, Latched, Weighed};
pub use sign::{outweighing, sign};

pub(crate) use balance::balances;

use circuit::{NodeId, PartId};
use pencil::{Excited, Structure};

use crate::network::{Network, Shape};
use crate::soundness::{Flaw, leads_back};

/// The open-loop gain that an ideal amplifier is given to see which way its loop tips: 100 dB, of the order of what amplifiers have. A balance
/// closer than its reciprocal is none that an amplifier would feel.
pub const GAIN: f64 = 1e5;
/// Close to rest is this share of the band's lower end.
pub const REST: f64 = 1e-6;
/// Far up is this many times the band's upper end.
pub const HIGH: f64 = 1e6;

/// Ideal amplifiers whose only feedback goes to their + input, and through parts that turn nothing over: with the law and the output's
/// voltage to replace. With a gain and a bandwidth the growth itself tells of it; an ideal one has neither.
pub(crate) fn latching(network: &Network, structure: &Structure, known: &[Flaw]) -> Vec<(u32, u32, Flaw)> {
    let reached = |law: u32| structure.influenced_by(Excited { equations: &[law], givens: &[] });
    let moves = |moved: &[bool], n: NodeId| Network::row(n).is_some_and(|v| moved[v as usize]);
    let amplifiers: Vec<(usize, u32, [NodeId; 3])> = network
        .pieces
        .iter()
        .enumerate()
        .filter_map(|(i, p)| match (&p.shape, p.branch) {
            (Shape::Amplifier { plus, minus, out, .. }, Some(law)) => Some((i, law, [*plus, *minus, *out])),
            _ => None,
        })
        .collect();
    let mut found = Vec::new();
    for &(i, law, [plus, minus, out]) in &amplifiers {
        let p = &network.pieces[i];
        let ideal = matches!(&p.shape, Shape::Amplifier { known, .. } if !known.gain && !known.bandwidth);
        let id = PartId(i as u32);
        let Some(column) = Network::row(out).filter(|_| ideal && !known.iter().any(|f| f.part == Some(id))) else {
            continue;
        };
        if plus != out && !leads_back(network, out, [plus, plus]) {
            continue;
        }
        let moved = reached(law);
        // Another amplifier on the way may turn the sign over, and then it is no fault.
        let other = |(k, _, [.., driven]): &(usize, u32, [NodeId; 3])| {
            *k != i && moves(&moved, *driven) && (*driven == plus || leads_back(network, *driven, [plus, plus]))
        };
        if !moves(&moved, plus) || moves(&moved, minus) || amplifiers.iter().any(other) {
            continue;
        }
        let (name, node) = (p.name.to_string(), network.nodes[out.at()].to_string());
        let flaw = Flaw {
            id: "latching",
            grave: true,
            message: format!(
                "{name}'s feedback goes to its + input and none to its - input: whatever moves {node} is driven further, and it latches at a rail. With + and - exchanged the loop holds."
            ),
            clause: format!("{name}'s only feedback goes to its + input, so it latches at a rail"),
            part: Some(id),
            node: None,
            names: vec![name, node],
        };
        found.push((law, column, flaw));
    }
    found
}
