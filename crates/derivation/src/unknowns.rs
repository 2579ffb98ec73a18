//! Which voltages are unknown, in which order they are worked out, and the determinants by which they are.

use std::collections::{BTreeMap, HashMap};

use crate::network::Network;
use crate::poly::{Past, Poly};
use crate::system::{Block, Refusal, System};

/// More unknowns than this nobody solves on paper.
pub(crate) const UNKNOWNS: usize = 12;

/// The voltages that the outputs need, in blocks, what is needed first in front.
pub(crate) fn ordered(system: &System, network: &Network) -> Result<Vec<Block>, Refusal> {
    let unknown = |n: &usize| !network.given(*n);
    // Each voltage gets a law of its own, by augmenting paths.
    let mut law_of: HashMap<usize, usize> = HashMap::new();
    let mut taken: HashMap<usize, usize> = HashMap::new();
    fn place(node: usize, system: &System, taken: &mut HashMap<usize, usize>, tried: &mut Vec<usize>) -> bool {
        for (i, law) in system.laws.iter().enumerate() {
            if !law.row.contains_key(&node) || tried.contains(&i) {
                continue;
            }
            tried.push(i);
            let free = match taken.get(&i).copied() {
                None => true,
                Some(other) => place(other, system, taken, tried),
            };
            if free {
                taken.insert(i, node);
                return true;
            }
        }
        false
    }
    let mut nodes: Vec<usize> = system.laws.iter().flat_map(|l| l.row.keys().copied()).filter(unknown).collect();
    nodes.sort_unstable();
    nodes.dedup();
    if nodes.len() > 4 * UNKNOWNS {
        return Err(Refusal::Past);
    }
    for node in &nodes {
        place(*node, system, &mut taken, &mut Vec::new());
    }
    law_of.extend(taken.iter().map(|(law, node)| (*node, *law)));
    let mut search = Search {
        system,
        network,
        law_of: &law_of,
        index: HashMap::new(),
        low: HashMap::new(),
        stack: Vec::new(),
        blocks: Vec::new(),
    };
    for output in &network.outputs {
        let node = system.same[*output];
        if unknown(&node) && !search.index.contains_key(&node) {
            search.visit(node)?;
        }
    }
    Ok(search.blocks)
}

/// By node: the one whose voltage it has while every amplifier's inputs are at one voltage.
pub(crate) fn shorted(network: &Network) -> Result<Vec<usize>, Refusal> {
    let mut group: Vec<usize> = (0..network.nodes.len()).collect();
    for amplifier in &network.amplifiers {
        let (from, to) = (group[amplifier.minus], group[amplifier.plus]);
        group.iter_mut().filter(|g| **g == from).for_each(|g| *g = to);
    }
    // A group is called after the node that a person would name: the reference, a source, an output, an input of an amplifier.
    let rank = |n: usize| match n {
        0 => 0,
        n if network.given(n) => 1,
        n if network.amplifiers.iter().any(|a| a.out == n) => 2,
        n if network.amplifiers.iter().any(|a| a.plus == n) => 3,
        _ => 4,
    };
    let mut same = group.clone();
    for node in 0..group.len() {
        let members: Vec<usize> = (0..group.len()).filter(|m| group[*m] == group[node]).collect();
        if members.iter().filter(|m| network.given(**m)).count() > 1 {
            return Err(Refusal::NoAnswer);
        }
        same[node] = members.into_iter().min_by_key(|m| (rank(*m), *m)).unwrap_or(node);
    }
    Ok(same)
}

/// Strongly connected voltages, by depth-first search (Tarjan's): those that are needed come out first.
struct Search<'a> {
    system: &'a System,
    network: &'a Network,
    law_of: &'a HashMap<usize, usize>,
    index: HashMap<usize, usize>,
    low: HashMap<usize, usize>,
    stack: Vec<usize>,
    blocks: Vec<Block>,
}

impl Search<'_> {
    fn visit(&mut self, node: usize) -> Result<usize, Refusal> {
        let order = self.index.len();
        self.index.insert(node, order);
        self.low.insert(node, order);
        self.stack.push(node);
        let law = *self.law_of.get(&node).ok_or(Refusal::NoAnswer)?;
        let next: Vec<usize> = self.system.laws[law].row.keys().copied().collect();
        let mut low = order;
        for other in next.into_iter().filter(|n| *n != node && !self.network.given(*n)) {
            if !self.index.contains_key(&other) {
                low = low.min(self.visit(other)?);
            } else if self.stack.contains(&other) {
                low = low.min(self.index[&other]);
            }
        }
        self.low.insert(node, low);
        if low == order {
            let at = self.stack.iter().position(|n| *n == node).unwrap_or(0);
            let unknowns = self.stack.split_off(at);
            let laws = unknowns.iter().map(|u| self.law_of[u]).collect();
            self.blocks.push(Block { unknowns, laws });
        }
        Ok(low)
    }
}

/// A determinant, row by row over the sets of columns that are used up.
pub(crate) fn determinant(matrix: &[Vec<Option<&Poly>>]) -> Result<Poly, Past> {
    let mut minors: BTreeMap<u64, Poly> = BTreeMap::from([(0, Poly::number(1))]);
    for row in matrix {
        let mut next: BTreeMap<u64, Poly> = BTreeMap::new();
        for (used, minor) in &minors {
            for (column, entry) in row.iter().enumerate() {
                let Some(entry) = entry.filter(|_| used >> column & 1 == 0) else { continue };
                // Each column used already that stands behind this one is an exchange.
                let exchanges = (used >> (column + 1)).count_ones();
                let product = minor.times_in_determinant(entry)?;
                next.entry(used | 1 << column).or_default().add(&product, if exchanges % 2 == 0 { 1 } else { -1 })?;
            }
        }
        next.retain(|_, p| !p.is_nothing());
        minors = next;
    }
    let whole = (1u64 << matrix.len()) - 1;
    Ok(minors.remove(&whole).unwrap_or_default())
}
