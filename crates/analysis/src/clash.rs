//! Branches of exactly 0 Ω that tie what is held already: two voltages on one node.
//!
//! A contact is closed, a wiper stands at its end, a link is fitted: where such branches close a loop with drivers that have no
//! resistance of their own (sources, rails, outputs of amplifiers), nothing tells which of the voltages holds. A question's own
//! equations need not say so, since an ideal source does not feel what shorts it. So the loops are found in the topology, once
//! and for all positions that the controls can take together; at a position a reading asks only whether the branches of a loop are
//! 0 Ω there.

use std::collections::{BTreeSet, HashMap, VecDeque};

use circuit::{Circuit, ControlId, GROUND, Name, NodeId, PartId, PartKind, Position};
use pencil::Structure;

use crate::network::{Network, Quality, Shape};
use crate::soundness::and;
use crate::values::{Number, number};

/// So many steps are taken in search of loops, and so many more for each branch: far more than any design that is known needs. A
/// rotary switch of 12 positions takes 12 for each of its contacts.
const STEPS: usize = 20_000;
const STEPS_EACH: usize = 50;

/// So many loops are told apart.
const MOST: usize = 1_000;

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
}

impl Clash {
    /// Whether it has a say in any of these unknowns: one flag an unknown, with all that acts on the ones that are asked for.
    pub fn felt(&self, structure: &Structure, needed: &[bool]) -> bool {
        self.laws.iter().any(|law| needed[structure.unknown_of(*law) as usize])
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

/// What a branch without resistance is.
enum Kind {
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
enum Stop {
    Step(u32),
    Low,
    High,
}

struct Edge {
    ends: [NodeId; 2],
    law: u32,
    kind: Kind,
}

impl Edge {
    fn holds(&self) -> bool {
        !matches!(self.kind, Kind::Joint(..))
    }
    fn stop(&self) -> Option<(ControlId, Stop)> {
        match self.kind {
            Kind::Joint(_, Some((_, control, stop))) => Some((control, stop)),
            _ => None,
        }
    }
    fn fixed(&self) -> bool {
        matches!(self.kind, Kind::Joint(_, None))
    }
}

/// The branches that are, or can be, 0 Ω.
fn joints(network: &Network) -> Vec<Edge> {
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
            all.push(Edge { ends, law: branch + k as u32, kind: Kind::Joint(id, moved) });
        }
    }
    all.retain(|e| e.ends[0] != e.ends[1]);
    all
}

/// What holds nodes without a resistance of its own, but for lifted branches.
fn holders(network: &Network, lifted: &[u32]) -> Vec<Edge> {
    let mut all = Vec::new();
    for (i, f) in network.feeds.iter().enumerate() {
        all.extend(f.branch.map(|law| Edge { ends: [f.plus, f.minus], law, kind: Kind::Source(i) }));
    }
    for (i, r) in network.rails.iter().enumerate() {
        all.extend(r.branch.map(|law| Edge { ends: [r.plus, r.minus], law, kind: Kind::Rail(i) }));
    }
    for (i, p) in network.pieces.iter().enumerate() {
        // With an unbounded gain the feedback makes up for an output resistance too.
        if let (Shape::Amplifier { out, known, .. }, Some(law)) = (&p.shape, p.branch)
            && !(known.resistance && (known.gain || known.bandwidth))
        {
            all.push(Edge { ends: [*out, GROUND], law, kind: Kind::Output(i) });
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

/// Nodes that branches of always 0 Ω make one.
struct Groups(Vec<u32>);

impl Groups {
    fn of(network: &Network, edges: &[Edge]) -> Groups {
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
    fn root(&self, n: NodeId) -> u32 {
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

/// Every clash of a network, with some branches lifted.
pub fn clashes(network: &Network, lifted: &[u32]) -> Vec<Clash> {
    let mut edges = joints(network);
    if edges.is_empty() {
        return Vec::new();
    }
    edges.extend(holders(network, lifted));
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
struct Step {
    edge: usize,
    from: NodeId,
    to: NodeId,
}

/// What ends a way.
#[derive(Clone, Copy)]
enum Goal {
    /// Any group that is held against `gnd`.
    Held,
    /// The other end of this source, which floats.
    OtherEnd(usize, u32),
}

struct Search<'a> {
    network: &'a Network,
    groups: Groups,
    edges: Vec<Edge>,
    /// Groups that drivers hold against `gnd`, each with the driver that leads towards it.
    trunk: HashMap<u32, Option<usize>>,
    /// The branches that a control moves and the sources that float, by the groups that they stand at.
    around: HashMap<u32, Vec<usize>>,
    found: Vec<Clash>,
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

    fn record(&mut self, start: u32, way: &[usize], float: Option<usize>) {
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
        self.found.push(Clash { zero, laws, parts, clause: clause.into(), names });
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

    /// Where not every loop was looked for, nothing that contacts can reach is known.
    fn too_many(&mut self) {
        let near = |e: &&Edge| {
            let ends = e.ends.iter().filter(|n| **n != GROUND);
            e.stop().is_some() || (e.holds() && ends.clone().any(|n| self.around.contains_key(&self.groups.root(*n))))
        };
        let laws = self.edges.iter().filter(near).map(|e| e.law).collect();
        let clause = "more ways lead through contacts here than are looked through for two voltages on one node";
        self.found.push(Clash { zero: vec![], laws, parts: vec![], clause: clause.into(), names: vec![] });
    }
}
