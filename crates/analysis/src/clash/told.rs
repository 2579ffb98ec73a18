//! A loop that was found, as it is kept and told.

use std::collections::{HashMap, VecDeque};

use circuit::{GROUND, Name, NodeId, PartId};

use super::Clash;
use super::branches::{Kind, Stop};
use super::search::{Search, Step};
use crate::soundness::and;

impl Search<'_> {
    /// The way from a group of the trunk up to `gnd`.
    fn down(&self, mut group: u32) -> Vec<usize> {
        let mut way = Vec::new();
        while let Some(Some(edge)) = self.trunk.get(&group) {
            way.push(*edge);
            let [a, b] = self.edges[*edge].ends.map(|n| self.groups.root(n));
            group = if a == group { b } else { a };
        }
        way
    }

    /// The whole loop: the way from `start`, back by the source that floats, else by the drivers of the trunk; between them,
    /// the links that make a group of several nodes.
    fn turn(&self, start: u32, way: &[usize], float: Option<usize>) -> Vec<Step> {
        let mut round = Vec::new();
        let mut at = start;
        let mut go = |edge: usize| {
            let [a, b] = self.edges[edge].ends;
            let (from, to) = if self.groups.root(a) == at { (a, b) } else { (b, a) };
            at = self.groups.root(to);
            round.push(Step { edge, from, to });
            at
        };
        let end = way.iter().fold(start, |_, e| go(*e));
        // What both ends pass on their way to gnd is no part of the loop.
        let (mut back, mut forth) = (self.down(end), self.down(start));
        while !back.is_empty() && back.last() == forth.last() {
            back.pop();
            forth.pop();
        }
        for edge in float.into_iter().chain(back).chain(forth.into_iter().rev()) {
            go(edge);
        }
        let mut whole = Vec::new();
        for (k, step) in round.iter().enumerate() {
            whole.push(*step);
            whole.extend(self.links(step.to, round[(k + 1) % round.len()].from));
        }
        whole
    }

    /// The links between two nodes of a group.
    fn links(&self, from: NodeId, to: NodeId) -> Vec<Step> {
        if from == to {
            return Vec::new();
        }
        let mut at: HashMap<NodeId, Vec<usize>> = HashMap::new();
        for (i, e) in self.edges.iter().enumerate().filter(|(_, e)| e.fixed()) {
            e.ends.iter().for_each(|n| at.entry(*n).or_default().push(i));
        }
        let mut reached: HashMap<NodeId, Step> = HashMap::new();
        let mut open = VecDeque::from([from]);
        while let Some(node) = open.pop_front() {
            for &edge in at.get(&node).into_iter().flatten() {
                let [a, b] = self.edges[edge].ends;
                let next = if a == node { b } else { a };
                if next != from && !reached.contains_key(&next) {
                    reached.insert(next, Step { edge, from: node, to: next });
                    open.push_back(next);
                }
            }
        }
        let mut way = Vec::new();
        let mut node = to;
        while let Some(step) = reached.get(&node) {
            way.push(*step);
            node = step.from;
        }
        way.reverse();
        way
    }

    /// Keeps a loop with what is said about it: the way from `start`, closed by a source that floats or by the drivers of the trunk.
    pub(super) fn record(&mut self, start: u32, way: &[usize], float: Option<usize>) {
        let mut round = self.turn(start, way, float);
        let joints = round.iter().filter(|s| !self.edges[s.edge].holds()).count();
        // Drivers alone at one node are a fault of their own.
        if joints == 0 {
            return;
        }
        let ties = |s: &Step| !self.edges[s.edge].holds();
        // The loop begins with the first joint behind a driver.
        let first = (0..round.len()).find(|k| ties(&round[*k]) && !ties(&round[(k + round.len() - 1) % round.len()]));
        round.rotate_left(first.unwrap_or(0));
        // It is told from the end that is not gnd, else in the order of its parts.
        let (ahead, behind) = (round[0], round[joints - 1]);
        if ahead.from == GROUND || (behind.to != GROUND && self.part(ahead.edge) > self.part(behind.edge)) {
            round = round.iter().rev().map(|s| Step { edge: s.edge, from: s.to, to: s.from }).collect();
            let first = round.iter().position(ties);
            round.rotate_left(first.unwrap_or(0));
        }
        let (mut zero, mut parts, mut said, mut names) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for step in &round {
            if let Kind::Joint(part, moved) = &self.edges[step.edge].kind {
                zero.extend(moved.map(|m| m.0));
                let joint = self.joint(*part, moved.map(|m| m.2));
                // A part may join with several of its branches.
                if !said.contains(&joint) {
                    parts.push(*part);
                    said.push(joint);
                    names.push(self.network.pieces[part.at()].name.to_string());
                }
            }
        }
        for step in round.iter().filter(|s| !ties(s)) {
            let nodes = self.edges[step.edge].ends.iter().filter(|n| **n != GROUND);
            names.extend(nodes.map(|n| self.network.nodes[n.at()].to_string()));
            names.push(self.holder(step.edge).to_string());
        }
        names.sort_unstable();
        names.dedup();
        let one = round.len() == joints || round[joints..].iter().all(|s| !ties(s));
        let (before, after) = (round[round.len() - 1], round[joints.min(round.len() - 1)]);
        let many = said.len() > 1;
        let said = and(&said);
        let clause = if !one {
            let all: Vec<String> = round.iter().filter(|s| !ties(s)).map(|s| self.driver(s.edge)).collect();
            format!("{said} {} {} in a loop without resistance", if many { "join" } else { "joins" }, and(&all))
        } else if before.edge == after.edge && before.to != GROUND && after.from != GROUND {
            format!("{said} {} both ends of {}", if many { "join" } else { "joins" }, self.driver(before.edge))
        } else {
            let (a, b) = (self.end(before.edge, before.to), self.end(after.edge, after.from));
            format!("{said} {} {a} to {b}: two voltages on one node", if many { "tie" } else { "ties" })
        };
        let laws = round.iter().map(|s| self.edges[s.edge].law).collect();
        let soft = round.iter().any(|s| self.edges[s.edge].soft);
        self.found.push(Clash { zero, laws, parts, clause: clause.into(), names, soft });
    }

    /// A part that joins, with where its control stands then.
    fn joint(&self, part: PartId, stop: Option<Stop>) -> String {
        let piece = &self.network.pieces[part.at()];
        let name = &piece.name;
        match stop {
            None => name.to_string(),
            Some(Stop::Low) => format!("{name} at 0 %"),
            Some(Stop::High) => format!("{name} at 100 %"),
            Some(Stop::Step(_)) if piece.plain => format!("{name} closed"),
            Some(Stop::Step(n)) => format!("{name} at {n}"),
        }
    }

    /// The part of a joint.
    fn part(&self, edge: usize) -> Option<PartId> {
        match self.edges[edge].kind {
            Kind::Joint(part, _) => Some(part),
            _ => None,
        }
    }

    /// The name of a driver.
    fn holder(&self, edge: usize) -> &Name {
        match self.edges[edge].kind {
            Kind::Source(i) => &self.network.feeds[i].name,
            Kind::Rail(i) => &self.network.rails[i].name,
            Kind::Output(i) => &self.network.pieces[i].name,
            Kind::Joint(part, _) => &self.network.pieces[part.at()].name,
        }
    }

    /// A driver in words.
    fn driver(&self, edge: usize) -> String {
        let name = self.holder(edge);
        match self.edges[edge].kind {
            Kind::Source(_) => format!("source {name}"),
            Kind::Rail(_) => format!("the rail {name}"),
            Kind::Output(_) => format!("{name}'s output"),
            Kind::Joint(..) => name.to_string(),
        }
    }

    /// A node that a driver holds, in words.
    fn end(&self, edge: usize, node: NodeId) -> String {
        let (driver, name) = (self.driver(edge), &self.network.nodes[node.at()]);
        match self.edges[edge].kind {
            _ if node == GROUND => "gnd".into(),
            Kind::Output(_) => format!("{driver} {name}"),
            _ if self.holder(edge) == name => driver,
            _ => format!("{driver}'s end {name}"),
        }
    }
}
