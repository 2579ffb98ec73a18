//! What amplifiers draw at rest from nodes that no supply holds: a rail behind a filter, or another amplifier's output.
//!
//! The equations have no supply pins. What an amplifier takes of its own is a current from its higher rail to its lower one. What its output
//! gives comes from the higher rail, and what it takes goes into the lower one: a current that is one of the unknowns, so that as long as it
//! is known which rail gives, the equations stay linear. Rails that a supply holds stay where they are; what they give is `supply current`.

use std::collections::BTreeSet;

use circuit::{GROUND, Name, NodeId, PartId};
use pencil::{Injection, Structure};
use quantity::Unit;

use super::Bench;
use super::dc::say;
use super::rest::Still;
use super::supply::{quiescent, spare};
use crate::network::Network;
use crate::small::solved;

/// Outputs that give and take by turns are given up after so many looks.
const LOOKS: usize = 50;

/// Where less than this is left of an ampere, what is drawn feeds itself and has no answer.
const LEAST: f64 = 1e-12;

/// An amplifier with a rail that no supply holds.
#[derive(Clone, Copy)]
pub(super) struct Behind {
    pub id: PartId,
    /// Once it is known, the higher one first.
    pub rails: [NodeId; 2],
    /// Its output's current.
    law: u32,
}

/// What amplifiers draw, found out.
#[derive(Default)]
pub(super) struct Drawn {
    all: Vec<Behind>,
    /// Which of its rails each output's current comes from or goes to, as the equation that it stands in.
    sides: Vec<Option<u32>>,
    /// What one ampere that each output gives does to each of them by way of the rails, taken from 1: by row.
    coupling: Vec<Vec<f64>>,
    /// The types of amplifiers on whose typical figures it rests.
    pub typical: BTreeSet<Name>,
    /// Line by line.
    pub told: Vec<String>,
}

impl Bench<'_> {
    /// Whether nothing but parts or an amplifier sets a node's voltage.
    fn free(&self, node: NodeId) -> bool {
        node != GROUND && !self.whole.network.rails.iter().any(|r| r.plus == node)
    }

    /// The amplifiers with a rail that no supply holds.
    pub(super) fn behind(&self) -> Vec<Behind> {
        let one = |(id, _): (PartId, _)| {
            let rails = self.circuit.rails_of(&self.circuit.parts[id.at()])?;
            let law = self.whole.network.pieces[id.at()].branch?;
            rails.iter().any(|n| self.free(*n)).then_some(Behind { id, rails, law })
        };
        self.amplifiers().into_iter().filter_map(one).collect()
    }

    /// The unknowns that have a say in some, and the amplifiers that have one by what they draw.
    pub(super) fn drawing(&self, structure: &Structure, unknowns: &[u32]) -> (Vec<bool>, Vec<Behind>) {
        let mut rest = self.behind();
        let (mut wanted, mut found) = (unknowns.to_vec(), Vec::new());
        loop {
            let needed = structure.influencing(&wanted);
            let felt = |n: &NodeId| {
                self.free(*n) && Network::row(*n).is_some_and(|r| needed[structure.unknown_of(r) as usize])
            };
            let (more, others): (Vec<Behind>, _) = rest.into_iter().partition(|b| b.rails.iter().any(felt));
            if more.is_empty() {
                return (needed, found);
            }
            for b in &more {
                wanted.extend(b.rails.iter().filter_map(|n| Network::row(*n)).chain([b.law]));
            }
            found.extend(more);
            rest = others;
        }
    }

    /// The equation of a rail that draws on it move.
    fn drawn_from(&self, rail: NodeId) -> Option<u32> {
        Network::row(rail).filter(|_| self.free(rail))
    }

    /// Lets amplifiers draw.
    ///
    /// # Errors
    /// Names one of which it is not known what it draws, or that nothing is left to stand on: a clause.
    pub(super) fn draw(&self, still: &mut Still, mut all: Vec<Behind>) -> Result<(), String> {
        let name = |b: &Behind| &self.circuit.parts[b.id.at()].name;
        let nodes = |b: &Behind| {
            let free: Vec<&str> =
                b.rails.iter().filter(|n| self.free(**n)).map(|n| self.circuit.node_name(*n)).collect();
            free.join(" and ")
        };
        let mut drawn = Drawn::default();
        let mut own: Vec<f64> = Vec::new();
        for b in &all {
            if let Some(why) = self.at_a_rail(b.id) {
                return Err(why);
            }
            self.shorted(b.id)?;
            let (one, typical) = quiescent(self, b.id)
                .map_err(|why| format!("{} draws from {}, which no supply holds, and {why}", name(b), nodes(b)))?;
            if typical {
                drawn.typical.insert(self.sheet(b.id).name.clone());
            }
            own.push(one * (1 + spare(self, b.id).len()) as f64);
        }
        let volts = |all: &[Behind]| -> Vec<_> { all.iter().flat_map(|b| b.rails.map(|n| self.node(n))).collect() };
        // Which rail is the higher one stands before anything is drawn; what is drawn must leave it so.
        let before = still.solve(&volts(&all))?;
        for (b, x) in all.iter_mut().zip(before.chunks(2)) {
            if x[0] < x[1] {
                b.rails.reverse();
            }
        }
        for (b, own) in all.iter().zip(&own) {
            let ends = [(b.rails[0], -own), (b.rails[1], *own)];
            still.push(ends.into_iter().filter_map(|(n, x)| Some((self.drawn_from(n)?, x))));
        }
        let laws: Vec<_> = all.iter().map(|b| self.functional(&[(b.law, 1.0)])).collect();
        let alone = still.solve(&laws)?;
        let mut flows = alone.clone();
        let mut settled = false;
        for _ in 0..LOOKS {
            let side = |(b, flow): (&Behind, &f64)| self.drawn_from(b.rails[usize::from(*flow < 0.0)]);
            let sides: Vec<Option<u32>> = all.iter().zip(&flows).map(side).collect();
            let injections: Vec<Injection> = sides.iter().map(|s| drain(*s)).collect();
            drawn.coupling.clear();
            for (k, law) in laws.iter().enumerate() {
                let mut row: Vec<f64> = still.adjoint(law, &injections)?.into_iter().map(|x| -x).collect();
                row[k] += 1.0;
                drawn.coupling.push(row);
            }
            let Some(next) = solved(drawn.coupling.clone(), alone.clone(), LEAST) else { break };
            let again: Vec<Option<u32>> = all.iter().zip(&next).map(side).collect();
            // Where an output gives next to nothing, it does not matter which rail that comes from.
            let idle = |x: f64| x.abs() <= 1e-15;
            settled = sides.iter().zip(&again).zip(&next).all(|((a, b), x)| a == b || idle(*x));
            drawn.sides = sides;
            flows = next;
            if settled {
                break;
            }
        }
        if !settled {
            let names: Vec<&str> = all.iter().map(|b| &**name(b)).take(4).collect();
            return Err(format!("what {} and the parts at their rails draw does not settle", names.join(", ")));
        }
        still.push(drawn.sides.iter().zip(&flows).filter_map(|(row, flow)| Some(((*row)?, -flow))));
        for (b, x) in all.iter().zip(still.solve(&volts(&all))?.chunks(2)) {
            if x[0] <= x[1] {
                return Err(format!("what is drawn from {} leaves {} nothing between its rails", nodes(b), name(b)));
            }
        }
        for ((b, own), flow) in all.iter().zip(&own).zip(&flows) {
            let others = match &spare(self, b.id)[..] {
                [] => String::new(),
                all => {
                    let theirs = own * all.len() as f64 / (1 + all.len()) as f64;
                    format!(", {} for {}, which the text does not name", say(theirs, Unit::Ampere), all.join(", "))
                }
            };
            let load = match flow.abs() {
                x if x <= 1e-15 => String::new(),
                x => format!(", {} for its load", say(x, Unit::Ampere)),
            };
            let own = own / (1 + spare(self, b.id).len()) as f64;
            let (own, sheet) = (say(own, Unit::Ampere), &self.sheet(b.id).name);
            drawn.told.push(format!("{} draws from {}: {own} of its own ({sheet}){others}{load}", name(b), nodes(b)));
        }
        drawn.all = all;
        still.drawn = drawn;
        Ok(())
    }
}

impl Drawn {
    /// Whether nobody draws.
    pub fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    /// What injections do to a sum of unknowns by way of what outputs draw, on top of what they do by themselves. `adjoint` gives the latter.
    pub fn by_way(
        &self,
        by_itself: impl Fn(Option<u32>, &[Injection]) -> Result<Vec<f64>, String>,
        injections: &[Injection],
    ) -> Result<Vec<f64>, String> {
        let drains: Vec<Injection> = self.sides.iter().map(|s| drain(*s)).collect();
        let weights = by_itself(None, &drains)?;
        let mut moved = Vec::new();
        for b in &self.all {
            moved.push(by_itself(Some(b.law), injections)?);
        }
        let one = |i: usize| {
            let alone: Vec<f64> = moved.iter().map(|row| row[i]).collect();
            let flows =
                solved(self.coupling.clone(), alone, LEAST).ok_or("at rest: what amplifiers draw does not settle")?;
            Ok(flows.iter().zip(&weights).map(|(f, w)| f * w).sum())
        };
        (0..injections.len()).map(one).collect()
    }
}

/// One ampere out of a node.
fn drain(row: Option<u32>) -> Injection {
    Injection { equations: row.into_iter().map(|r| (r, -1.0)).collect(), givens: Vec::new() }
}
