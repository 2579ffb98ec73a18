//! The search for loops: from each group of nodes that is held along every way of branches that can be 0 Ω together.

use std::collections::{BTreeSet, HashMap, VecDeque};

use circuit::{GROUND, NodeId};

use super::Clash;
use super::branches::{Edge, Groups};
use crate::network::Network;

/// So many steps are taken in search of loops, and so many more for each branch: far more than any design that is known needs. A
/// rotary switch of 12 positions takes 12 for each of its contacts.
const STEPS: usize = 20_000;
const STEPS_EACH: usize = 50;

/// So many loops are told apart.
const MOST: usize = 1_000;

/// The loops without resistance that hold a driver.
pub(super) fn loops(network: &Network, edges: Vec<Edge>) -> Vec<Clash> {
    let steps = STEPS + STEPS_EACH * edges.len();
    let groups = Groups::of(network, &edges);
    let mut search = Search {
        network,
        groups,
        edges,
        trunk: HashMap::new(),
        around: HashMap::new(),
        found: Vec::new(),
        steps,
        cut: false,
    };
    search.run();
    search.found
}

/// A way along a branch.
#[derive(Clone, Copy)]
pub(super) struct Step {
    pub edge: usize,
    pub from: NodeId,
    pub to: NodeId,
}

/// What ends a way.
#[derive(Clone, Copy)]
enum Goal {
    /// Any group that is held against `gnd`.
    Held,
    /// The other end of this source, which floats.
    OtherEnd(usize, u32),
}

pub(super) struct Search<'a> {
    pub network: &'a Network,
    pub groups: Groups,
    pub edges: Vec<Edge>,
    /// Groups that drivers hold against `gnd`, each with the driver that leads towards it.
    pub trunk: HashMap<u32, Option<usize>>,
    /// The branches that a control moves and the sources that float, by the groups that they stand at.
    around: HashMap<u32, Vec<usize>>,
    pub found: Vec<Clash>,
    steps: usize,
    cut: bool,
}

impl Search<'_> {
    fn run(&mut self) {
        let closing = self.grow();
        for e in closing {
            if self.found.len() >= MOST {
                self.cut = true;
                break;
            }
            let at = self.groups.root(self.edges[e].ends[0]);
            self.record(at, &[e], None);
        }
        for (i, e) in self.edges.iter().enumerate() {
            let [a, b] = e.ends.map(|n| self.groups.root(n));
            let floats = e.holds() && !self.trunk.contains_key(&a) && !self.trunk.contains_key(&b);
            if a != b && (floats || e.stop().is_some()) {
                self.around.entry(a).or_default().push(i);
                self.around.entry(b).or_default().push(i);
            }
        }
        let mut held: Vec<u32> = self.trunk.keys().copied().filter(|g| self.around.contains_key(g)).collect();
        held.sort_unstable();
        for group in held {
            self.explore(group, Goal::Held);
        }
        for i in 0..self.edges.len() {
            let [a, b] = self.edges[i].ends.map(|n| self.groups.root(n));
            if !self.edges[i].holds() || self.trunk.contains_key(&a) || self.trunk.contains_key(&b) {
                continue;
            }
            if a == b {
                self.record(a, &[], Some(i));
            } else {
                self.explore(a, Goal::OtherEnd(i, b));
            }
        }
        if self.cut {
            self.too_many();
        }
    }

    /// Grows the trunk from `gnd` over the drivers; those that close a loop by themselves come back.
    fn grow(&mut self) -> BTreeSet<usize> {
        let mut at: HashMap<u32, Vec<usize>> = HashMap::new();
        for (i, e) in self.edges.iter().enumerate().filter(|(_, e)| e.holds()) {
            for end in e.ends {
                at.entry(self.groups.root(end)).or_default().push(i);
            }
        }
        let root = self.groups.root(GROUND);
        self.trunk.insert(root, None);
        let (mut open, mut closing) = (VecDeque::from([root]), BTreeSet::new());
        while let Some(group) = open.pop_front() {
            for &i in at.get(&group).into_iter().flatten() {
                let [a, b] = self.edges[i].ends.map(|n| self.groups.root(n));
                let other = if a == group { b } else { a };
                match self.trunk.get(&other) {
                    None => {
                        self.trunk.insert(other, Some(i));
                        open.push_back(other);
                    }
                    // It is that by which its group was reached, or it was seen from its other end.
                    Some(_) if self.trunk[&group] == Some(i) || self.trunk[&other] == Some(i) => {}
                    Some(_) => {
                        closing.insert(i);
                    }
                }
            }
        }
        closing
    }

    /// Whether a control can stand so that this branch is 0 Ω together with those on the way.
    fn agrees(&self, way: &[usize], edge: usize) -> bool {
        let Some((control, stop)) = self.edges[edge].stop() else { return true };
        way.iter().filter_map(|e| self.edges[*e].stop()).all(|(c, s)| c != control || s == stop)
    }

    /// Walks every way that leads to the goal and meets no group twice.
    fn explore(&mut self, start: u32, goal: Goal) {
        let mut places = vec![(start, 0)];
        let mut way: Vec<usize> = Vec::new();
        while let Some((at, next)) = places.last_mut() {
            let Some(&edge) = self.around.get(at).and_then(|a| a.get(*next)) else {
                places.pop();
                way.pop();
                continue;
            };
            *next += 1;
            let [a, b] = self.edges[edge].ends.map(|n| self.groups.root(n));
            let to = if a == *at { b } else { a };
            if self.steps == 0 || self.found.len() >= MOST {
                self.cut = true;
                return;
            }
            self.steps -= 1;
            // A loop of sources that float is found from the first of them.
            let told = matches!(goal, Goal::OtherEnd(i, _) if self.edges[edge].holds() && edge <= i);
            if told || way.contains(&edge) || !self.agrees(&way, edge) {
                continue;
            }
            let floats = || self.edges[edge].holds() || way.iter().any(|e| self.edges[*e].holds());
            match goal {
                Goal::Held if self.trunk.contains_key(&to) => {
                    // Every way has two directions, of which one is enough.
                    let fresh = if to == start { floats() && way.first() < Some(&edge) } else { start < to };
                    if fresh {
                        way.push(edge);
                        self.record(start, &way.clone(), None);
                        way.pop();
                    }
                }
                Goal::OtherEnd(i, other) if to == other => {
                    way.push(edge);
                    self.record(start, &way.clone(), Some(i));
                    way.pop();
                }
                Goal::OtherEnd(..) if self.trunk.contains_key(&to) => {}
                _ if places.iter().any(|p| p.0 == to) => {}
                _ => {
                    way.push(edge);
                    places.push((to, 0));
                }
            }
        }
    }

    /// Where not every loop was looked for, nothing that contacts can reach is known.
    fn too_many(&mut self) {
        let near = |e: &&Edge| {
            let ends = e.ends.iter().filter(|n| **n != GROUND);
            e.stop().is_some() || (e.holds() && ends.clone().any(|n| self.around.contains_key(&self.groups.root(*n))))
        };
        let laws = self.edges.iter().filter(near).map(|e| e.law).collect();
        let clause = "more ways lead through contacts here than are looked through for two voltages on one node";
        self.found.push(Clash { zero: vec![], laws, parts: vec![], clause: clause.into(), names: vec![], soft: false });
    }
}
