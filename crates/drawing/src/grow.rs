//! Which part of a stage hangs on which: trees that grow from an amplifier's inputs towards the signal, or from a node onwards.

use std::collections::VecDeque;

use crate::model::{Circuit, Kind, Role};
use crate::reduce::{Edge, reduce};

/// A node of a tree.
#[derive(Clone, Debug, Default)]
pub struct Branch {
    /// The node.
    pub node: usize,
    /// Steps from the root.
    pub depth: usize,
    /// Edges to ground or to a negative supply.
    pub shunts: Vec<usize>,
    /// Edges to a positive supply.
    pub ups: Vec<usize>,
    /// Edges to the output of the amplifier that the tree grew from.
    pub feeds: Vec<usize>,
    /// What grows on from here.
    pub kids: Vec<Kid>,
    /// A port of the stage, or a node that stands elsewhere, lies on it or behind it.
    pub leads: bool,
}

/// What grows from a node.
#[derive(Clone, Debug)]
pub struct Kid {
    /// By what.
    pub way: Way,
    /// And what is there: one for an edge, two for a potentiometer (in the order of its other pins), one a contact for a selector.
    pub subs: Vec<Sub>,
}

/// By what a tree goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// An edge.
    Edge(usize),
    /// A potentiometer, entered at its anticlockwise end (0), its clockwise one (1) or its wiper (2).
    Divider(usize, usize),
    /// A selector, entered at its pole.
    Pole(usize),
}

/// What is at the other end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sub {
    /// A node of this tree.
    Branch(usize),
    /// A node that stands elsewhere.
    Elsewhere(usize),
    /// Ground or a supply.
    Rail(usize),
}

/// A stage as it is taken apart.
pub struct Garden<'a> {
    /// The circuit.
    pub circuit: &'a Circuit,
    /// Its groups.
    pub edges: Vec<Edge>,
    /// Which of them have been given a place.
    pub used: Vec<bool>,
    /// By node: its edges.
    at: Vec<Vec<usize>>,
    /// Potentiometers and selectors.
    pub devices: Vec<usize>,
    /// By node: those of them that touch it.
    touching: Vec<Vec<usize>>,
    /// By part: it has been given a place.
    pub placed: Vec<bool>,
    /// The stage's amplifiers.
    pub amplifiers: Vec<usize>,
    /// By node: it has been given a place.
    pub claimed: Vec<bool>,
    /// By node: the column of the amplifier whose output it is.
    pub column_of_output: Vec<Option<usize>>,
    /// By node: an amplifier's input.
    pub input: Vec<bool>,
    /// By node: the signal comes in here.
    pub left: Vec<bool>,
    /// By node: it goes out here.
    pub right: Vec<bool>,
}

impl<'a> Garden<'a> {
    /// A stage, taken apart. `left` and `right` are the nodes that are connected outside it.
    pub fn new(circuit: &'a Circuit, stage: usize, left: &[usize], right: &[usize]) -> Garden<'a> {
        let n = circuit.nodes.len();
        let own: Vec<(usize, &Kind)> =
            circuit.parts.iter().enumerate().filter(|(_, p)| p.stage == stage).map(|(i, p)| (i, &p.kind)).collect();
        let mut fixed = vec![false; n];
        let (mut is_left, mut is_right) = (vec![false; n], vec![false; n]);
        for node in left {
            is_left[*node] = true;
            fixed[*node] = true;
        }
        for node in right {
            is_right[*node] = true;
            fixed[*node] = true;
        }
        let (mut devices, mut amplifiers, mut input) = (Vec::new(), Vec::new(), vec![false; n]);
        let mut touching = vec![Vec::new(); n];
        for (i, kind) in &own {
            if kind.two_ends().is_some() {
                continue;
            }
            for node in kind.nodes() {
                fixed[node] = true;
            }
            if let Kind::Amplifier { plus, minus, .. } = kind {
                amplifiers.push(*i);
                input[*plus] = true;
                input[*minus] = true;
            } else {
                devices.push(*i);
                for node in kind.nodes() {
                    if !touching[node].contains(i) {
                        touching[node].push(*i);
                    }
                }
            }
        }
        let rail = |node: usize| circuit.nodes[node].role != Role::Signal;
        let edges = reduce(&own, n, &|node| fixed[node], &rail, 6);
        let mut at = vec![Vec::new(); n];
        for (i, edge) in edges.iter().enumerate() {
            at[edge.ends[0]].push(i);
            if edge.ends[1] != edge.ends[0] {
                at[edge.ends[1]].push(i);
            }
        }
        Garden {
            circuit,
            used: vec![false; edges.len()],
            edges,
            at,
            devices,
            touching,
            placed: vec![false; circuit.parts.len()],
            amplifiers,
            claimed: vec![false; n],
            column_of_output: vec![None; n],
            input,
            left: is_left,
            right: is_right,
        }
    }

    /// A node's edges.
    pub fn edges_at(&self, node: usize) -> Vec<usize> {
        self.at[node].clone()
    }

    /// How many potentiometers and selectors touch a node.
    pub fn touching_count(&self, node: usize) -> usize {
        self.touching[node].len()
    }

    /// Ground or a supply.
    pub fn is_rail(&self, node: usize) -> bool {
        self.circuit.nodes[node].role != Role::Signal
    }

    /// The amplifiers by columns: how many others the signal has passed before it reaches one.
    pub fn columns(&mut self) -> Vec<Vec<usize>> {
        let pins = |part: usize| match self.circuit.parts[part].kind {
            Kind::Amplifier { plus, minus, out, .. } => (plus, minus, out),
            _ => (0, 0, 0),
        };
        let outputs: Vec<usize> = self.amplifiers.iter().map(|a| pins(*a).2).collect();
        let mut level: Vec<Option<usize>> = vec![None; self.circuit.nodes.len()];
        let mut column: Vec<Option<usize>> = vec![None; self.amplifiers.len()];
        let mut front: VecDeque<usize> = (0..self.left.len()).filter(|n| self.left[*n] && !self.is_rail(*n)).collect();
        for node in &front {
            level[*node] = Some(0);
        }
        let mut depth = 0;
        loop {
            // All that the signal reaches without passing another amplifier.
            while let Some(node) = front.pop_front() {
                let mut next: Vec<usize> = self.at[node].iter().map(|e| self.edges[*e].other(node)).collect();
                for device in &self.touching[node] {
                    next.extend(self.circuit.parts[*device].kind.nodes());
                }
                for n in next {
                    if level[n].is_none() && !self.is_rail(n) && !outputs.contains(&n) {
                        level[n] = Some(depth);
                        front.push_back(n);
                    }
                }
            }
            let mut reached = Vec::new();
            for (k, amp) in self.amplifiers.iter().enumerate() {
                let (plus, minus, _) = pins(*amp);
                if column[k].is_none() && [plus, minus].iter().any(|n| level[*n].is_some()) {
                    column[k] = Some(depth);
                    reached.push(k);
                }
            }
            depth += 1;
            for k in &reached {
                let out = outputs[*k];
                if level[out].is_none() {
                    level[out] = Some(depth);
                    front.push_back(out);
                }
            }
            if reached.is_empty() {
                // What no input reaches begins anew, one amplifier at a time.
                let Some(k) = column.iter().position(Option::is_none) else { break };
                column[k] = Some(0);
                depth = 1;
                if level[outputs[k]].is_none() {
                    level[outputs[k]] = Some(1);
                    front.push_back(outputs[k]);
                }
            }
        }
        let width = column.iter().flatten().max().map_or(0, |m| m + 1);
        let mut all = vec![Vec::new(); width];
        for (k, amp) in self.amplifiers.iter().enumerate() {
            let c = column[k].unwrap_or(0);
            all[c].push(*amp);
            self.column_of_output[outputs[k]] = Some(c);
        }
        all
    }

    /// Grows trees from some nodes at once, so that what lies between two of them goes to the nearer one. `own` is the output of the
    /// amplifier whose inputs they are, in that column; without one the trees grow onwards and take in whatever nobody has.
    pub fn grow(&mut self, roots: &[usize], own: Option<(usize, usize)>) -> Vec<Branch> {
        let mut all: Vec<Branch> = Vec::new();
        let mut here: Vec<Option<usize>> = vec![None; self.claimed.len()];
        for root in roots {
            here[*root] = Some(all.len());
            self.claimed[*root] = true;
            all.push(Branch { node: *root, ..Branch::default() });
        }
        let mut k = 0;
        while k < all.len() {
            let node = all[k].node;
            let stop = own.is_some() && all[k].depth > 0 && self.left[node];
            for e in self.at[node].clone() {
                if self.used[e] || self.edges[e].ends[0] == self.edges[e].ends[1] {
                    continue;
                }
                let other = self.edges[e].other(node);
                match self.circuit.nodes[other].role {
                    Role::Ground | Role::Low => all[k].shunts.push(e),
                    Role::High => all[k].ups.push(e),
                    Role::Signal if own.is_some_and(|(out, _)| out == other) => all[k].feeds.push(e),
                    Role::Signal => {
                        let Some(sub) = self.beyond(other, k, own, stop, &mut all, &mut here) else { continue };
                        all[k].kids.push(Kid { way: Way::Edge(e), subs: vec![sub] });
                    }
                }
                self.used[e] = true;
            }
            for device in self.touching[node].clone() {
                if self.placed[device] || stop {
                    continue;
                }
                let circuit = self.circuit;
                let (way, others) = match &circuit.parts[device].kind {
                    Kind::Variable { ccw, wiper, cw, .. } => {
                        let pins = [ccw.unwrap_or(*wiper), cw.unwrap_or(*wiper), *wiper];
                        let by = [2, 1, 0].into_iter().find(|i| pins[*i] == node).unwrap_or(2);
                        (Way::Divider(device, by), (0..3).filter(|i| *i != by).map(|i| pins[i]).collect::<Vec<_>>())
                    }
                    Kind::Selector { pole, contacts, .. } if *pole == node => {
                        (Way::Pole(device), contacts.iter().map(|(_, n)| *n).collect())
                    }
                    _ => continue,
                };
                self.placed[device] = true;
                let subs = others.into_iter().map(|n| {
                    if self.is_rail(n) {
                        return Sub::Rail(n);
                    }
                    if n == node || own.is_some_and(|(out, _)| out == n) {
                        return Sub::Elsewhere(n);
                    }
                    self.beyond(n, k, own, false, &mut all, &mut here).unwrap_or(Sub::Elsewhere(n))
                });
                let subs = subs.collect();
                all[k].kids.push(Kid { way, subs });
            }
            k += 1;
        }
        self.mark(&mut all, own.is_some());
        all
    }

    /// What lies at a node that a tree reaches; `None`: the edge is none of the tree's.
    fn beyond(
        &mut self,
        other: usize,
        from: usize,
        own: Option<(usize, usize)>,
        stop: bool,
        all: &mut Vec<Branch>,
        here: &mut [Option<usize>],
    ) -> Option<Sub> {
        let depth = all[from].depth;
        if let Some(there) = here[other] {
            return (all[there].depth > depth).then_some(Sub::Elsewhere(other));
        }
        if let Some((_, column)) = own {
            if let Some(c) = self.column_of_output[other] {
                return (c < column).then_some(Sub::Elsewhere(other));
            }
            if stop || self.input[other] || self.right[other] {
                return None;
            }
            if self.claimed[other] {
                return Some(Sub::Elsewhere(other));
            }
        } else if self.claimed[other] || self.left[other] || self.input[other] || self.column_of_output[other].is_some()
        {
            return None;
        }
        here[other] = Some(all.len());
        self.claimed[other] = true;
        all.push(Branch { node: other, depth: depth + 1, ..Branch::default() });
        Some(Sub::Branch(all.len() - 1))
    }

    /// Puts what leads on in front, so that it lies on the straight line.
    fn mark(&self, all: &mut [Branch], leftwards: bool) {
        let ports = if leftwards { &self.left } else { &self.right };
        for k in (0..all.len()).rev() {
            let leads = |all: &[Branch], kid: &Kid| {
                kid.subs.iter().any(|s| match s {
                    Sub::Branch(i) => all[*i].leads,
                    Sub::Elsewhere(_) => leftwards,
                    Sub::Rail(_) => false,
                })
            };
            let mut kids = std::mem::take(&mut all[k].kids);
            kids.sort_by_key(|kid| !leads(all, kid));
            all[k].leads = ports[all[k].node] || kids.iter().any(|kid| leads(all, kid));
            all[k].kids = kids;
        }
    }
}
