//! Branches of exactly 0 Ω that tie what is held already: two voltages on one node.
//!
//! A contact is closed, a wiper stands at its end, a link is fitted: where such branches close a loop with drivers
//! (sources, rails, outputs of amplifiers), nothing tells which of the voltages holds. A question's own
//! equations need not say so, since an ideal source does not feel what shorts it. So the loops are found in the topology, once
//! and for all positions that the controls can take together; at a position a reading asks only whether the branches of a loop are
//! 0 Ω there.

mod branches;
mod search;
mod told;

use circuit::{Circuit, Name, PartId, PartKind, Position};
use pencil::Structure;

use crate::network::{Network, Quality};
use crate::values::{Number, number};

pub(crate) use branches::{grounded, joined, links};

/// A loop without resistance that holds a driver.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clash {
    /// The parameters that are all exactly 0 where the loop is closed; none where it is closed at every position.
    pub zero: Vec<u32>,
    /// The laws of its branches.
    pub laws: Vec<u32>,
    /// The parts that close it.
    pub parts: Vec<PartId>,
    /// Who holds what, and what joins them: a clause.
    pub clause: Name,
    /// All names in it.
    pub names: Vec<String>,
    /// An output in it gives way, with all the current that it can: there is an answer, and hardly one that was meant.
    pub soft: bool,
}

impl Clash {
    /// Whether it has a say in any of these unknowns: one flag an unknown, with all that acts on the ones that are asked for.
    pub fn felt(&self, structure: &Structure, needed: &[bool]) -> bool {
        !self.soft && self.laws.iter().any(|law| needed[structure.unknown_of(*law) as usize])
    }

    /// Whether a hand can bring it about, or what is set once does: a preset is no control.
    pub fn reachable(&self, network: &Network, circuit: &Circuit) -> bool {
        let rest: Vec<Position> = circuit.controls.iter().map(|c| c.rest).collect();
        let preset = |p: &&u32| {
            let part = network.parameters[**p as usize].0;
            network.pieces[part.at()].control.is_some_and(|c| circuit.controls[c.at()].preset)
        };
        let set = self.zero.iter().filter(preset).copied().collect();
        let set = Clash { zero: set, ..self.clone() };
        set.watched(network, circuit).at(&rest).is_some()
    }

    /// What it needs of the circuit's numbers.
    pub fn watched(&self, network: &Network, circuit: &Circuit) -> Watched {
        let number = |p: &u32| {
            let (part, quality) = network.parameters[*p as usize];
            let part = &circuit.parts[part.at()];
            match &part.kind {
                // Where the wiper stands at an end is a matter of the travel alone, be the track's value known or not.
                PartKind::Variable { taper, control, .. } => {
                    Number::Track(1.0, *taper, control.at(), quality == Quality::HighTrack)
                }
                _ => number(part, quality),
            }
        };
        Watched { zero: self.zero.iter().map(number).collect(), clause: self.clause.clone() }
    }
}

/// A clash with what tells the positions at which it comes about.
#[derive(Clone, Debug, PartialEq)]
pub struct Watched {
    zero: Vec<Number>,
    clause: Name,
}

impl Watched {
    /// Why nothing that feels it is known at these positions: it is there, or it is not known how a switch stands that would
    /// bring it about.
    pub fn at(&self, positions: &[Position]) -> Option<&str> {
        let mut unread = None;
        for number in &self.zero {
            match number {
                Number::Unknown(why) => unread = Some(&**why),
                known if known.at(positions) != 0.0 => return None,
                _ => {}
            }
        }
        Some(unread.unwrap_or(&self.clause))
    }
}

/// Every clash of a network, with some branches lifted.
pub fn clashes(network: &Network, lifted: &[u32]) -> Vec<Clash> {
    let mut edges = branches::joints(network);
    if edges.is_empty() {
        return Vec::new();
    }
    edges.extend(branches::holders(network, lifted));
    search::loops(network, edges)
}
