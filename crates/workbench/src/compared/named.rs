//! Which names of two revisions are names of one thing: those that are alike, and those that were renamed.

use std::collections::{BTreeMap, HashMap};

use circuit::{Circuit, NodeId, Part, PartKind};
use notation::Name;

/// Old names that stand under another one now.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Renamed {
    /// Parts, old to new.
    pub parts: BTreeMap<Name, Name>,
    /// Nodes, old to new.
    pub nodes: BTreeMap<Name, Name>,
    /// Stages, old to new.
    pub stages: BTreeMap<Name, Name>,
}

impl Renamed {
    /// Finds them: a part is renamed where its kind, its value and its ends are those of the only one that could be it, a node where the
    /// same terminals meet, a stage where it holds the same parts. What could be two things is not renamed.
    pub fn between(old: &Circuit, new: &Circuit) -> Renamed {
        let mut found = Renamed::default();
        loop {
            let before = (found.parts.len(), found.nodes.len());
            found.look_for_nodes(old, new);
            found.look_for_parts(old, new);
            if (found.parts.len(), found.nodes.len()) == before {
                break;
            }
        }
        found.look_for_stages(old, new);
        found
    }

    /// A part's name now.
    pub fn part<'a>(&'a self, name: &'a str) -> &'a str {
        self.parts.get(name).map_or(name, |n| n)
    }

    /// A node's name now.
    pub fn node<'a>(&'a self, name: &'a str) -> &'a str {
        self.nodes.get(name).map_or(name, |n| n)
    }

    /// A text of the old revision in the names of the new one.
    pub fn text(&self, text: &str) -> String {
        if self.parts.is_empty() && self.nodes.is_empty() && self.stages.is_empty() {
            return text.to_string();
        }
        let mut out = String::new();
        let mut rest = text;
        let of_name = |c: char| c.is_alphanumeric() || c == '_' || c == '.';
        while let Some(at) = rest.find(of_name) {
            let length = rest[at..].find(|c| !of_name(c)).unwrap_or(rest.len() - at);
            // A point at the end is a sentence's.
            let word = rest[at..at + length].trim_end_matches('.');
            out += &rest[..at];
            let now = self.parts.get(word).or_else(|| self.nodes.get(word)).or_else(|| self.stages.get(word));
            out += now.map_or(word, |n| n);
            rest = &rest[at + word.len().max(1)..];
            if word.is_empty() {
                out.push('.');
            }
        }
        out + rest
    }

    fn look_for_nodes(&mut self, old: &Circuit, new: &Circuit) {
        let (lost, come) = apart(
            old.nodes.iter().filter(|n| !n.unnamed).map(|n| &n.name),
            new.nodes.iter().filter(|n| !n.unnamed).map(|n| &n.name),
            &self.nodes,
        );
        let of_old: HashMap<Name, Vec<String>> =
            lost.iter().map(|n| (n.clone(), met(old, n, &|part| Some(self.part(part).to_string())))).collect();
        let known = |part: &str| new.parts.iter().any(|p| &*p.name == part).then(|| part.to_string());
        let of_new: HashMap<Name, Vec<String>> = come.iter().map(|n| (n.clone(), met(new, n, &known))).collect();
        for (was, terminals) in &of_old {
            let alike: Vec<&Name> = of_new.iter().filter(|(_, t)| *t == terminals).map(|(n, _)| n).collect();
            let only = of_old.values().filter(|t| *t == terminals).count() == 1;
            if let ([is], true, false) = (&alike[..], only, terminals.is_empty()) {
                self.nodes.insert(was.clone(), (*is).clone());
            }
        }
    }

    fn look_for_parts(&mut self, old: &Circuit, new: &Circuit) {
        let (lost, come) = apart(old.parts.iter().map(|p| &p.name), new.parts.iter().map(|p| &p.name), &self.parts);
        let find = |circuit: &'_ Circuit, name: &Name| circuit.parts.iter().position(|p| p.name == *name);
        let same = |a: &Name, b: &Name| {
            let (Some(a), Some(b)) = (find(old, a), find(new, b)) else { return false };
            let (a, b) = (&old.parts[a], &new.parts[b]);
            let ends = |c: &Circuit, p: &Part, named: &dyn Fn(&str) -> String| -> Vec<String> {
                p.ends().iter().map(|n| named(c.node_name(*n))).collect()
            };
            std::mem::discriminant(&a.kind) == std::mem::discriminant(&b.kind)
                && super::parts::valued(a) == super::parts::valued(b)
                && ends(old, a, &|n| self.node(n).to_string()) == ends(new, b, &|n| n.to_string())
        };
        let mut found = Vec::new();
        for was in &lost {
            let alike: Vec<&Name> = come.iter().filter(|b| same(was, b)).collect();
            let only = alike.first().is_some_and(|b| lost.iter().filter(|a| same(a, b)).count() == 1);
            if let ([is], true) = (&alike[..], only) {
                found.push((was.clone(), (*is).clone()));
            }
        }
        self.parts.extend(found);
    }

    fn look_for_stages(&mut self, old: &Circuit, new: &Circuit) {
        let (lost, come) = apart(old.stages.iter().map(|s| &s.name), new.stages.iter().map(|s| &s.name), &self.stages);
        let held = |c: &Circuit, stage: &Name, named: &dyn Fn(&str) -> String| {
            let mut all: Vec<String> =
                c.parts.iter().filter(|p| c.stages[p.stage.at()].name == *stage).map(|p| named(&p.name)).collect();
            all.sort();
            all
        };
        let mut found = Vec::new();
        for was in &lost {
            let own = held(old, was, &|p| self.part(p).to_string());
            let alike: Vec<&Name> = come.iter().filter(|b| held(new, b, &|p| p.to_string()) == own).collect();
            if let ([is], false) = (&alike[..], own.is_empty()) {
                found.push((was.clone(), (*is).clone()));
            }
        }
        self.stages.extend(found);
    }
}

/// The names of one side that the other has not, but for what is known to be renamed.
fn apart<'a>(
    old: impl Iterator<Item = &'a Name> + Clone,
    new: impl Iterator<Item = &'a Name> + Clone,
    known: &BTreeMap<Name, Name>,
) -> (Vec<Name>, Vec<Name>) {
    let lost = old.clone().filter(|a| !new.clone().any(|b| *a == b) && !known.contains_key(&***a)).cloned().collect();
    let come = new.filter(|b| !old.clone().any(|a| a == *b) && !known.values().any(|k| k == *b)).cloned().collect();
    (lost, come)
}

/// The terminals that meet at a node, by the names that their parts have now; empty where one is not known.
fn met(circuit: &Circuit, node: &Name, named: &dyn Fn(&str) -> Option<String>) -> Vec<String> {
    let mut found = Vec::new();
    for part in &circuit.parts {
        for (which, id) in terminals(part) {
            if circuit.node_name(id) != &**node {
                continue;
            }
            let Some(name) = named(&part.name) else { return Vec::new() };
            found.push(format!("{name} {which}"));
        }
    }
    found.sort();
    found
}

/// A part's terminals, each with a name of its own; the ends of what has no direction have the same.
fn terminals(part: &Part) -> Vec<(&'static str, NodeId)> {
    match &part.kind {
        PartKind::Capacitor { ends, polar: true, .. } => vec![("+", ends[0]), ("-", ends[1])],
        PartKind::Resistor { ends, .. } | PartKind::Capacitor { ends, .. } | PartKind::Inductor { ends, .. } => {
            ends.iter().map(|n| ("end", *n)).collect()
        }
        PartKind::Variable { ccw, wiper, cw, .. } => {
            let ends = [("ccw", *ccw), ("wiper", Some(*wiper)), ("cw", *cw)];
            ends.into_iter().filter_map(|(which, n)| Some((which, n?))).collect()
        }
        PartKind::Switch { contacts, .. } => {
            contacts.iter().flat_map(|(_, ends)| ends.map(|n| ("contact", n))).collect()
        }
        PartKind::Amplifier { plus, minus, out, rails, .. } => {
            let mut all = vec![("+", *plus), ("-", *minus), ("out", *out)];
            all.extend(rails.iter().flat_map(|[p, n]| [("positive rail", *p), ("negative rail", *n)]));
            all
        }
    }
}

/// The ends of a part in words, as they stand in a change: `in and fb`.
pub fn joined(circuit: &Circuit, part: &Part, renamed: Option<&Renamed>) -> Vec<String> {
    let name = |n: NodeId| {
        let own = circuit.node_name(n);
        renamed.map_or(own, |r| r.node(own)).to_string()
    };
    let mut all: Vec<(&'static str, String)> = terminals(part).into_iter().map(|(which, n)| (which, name(n))).collect();
    // Of what has no direction the order of its ends says nothing.
    if all.iter().all(|(which, _)| *which == "end") {
        all.sort_by_key(|(_, n)| (n == "gnd", n.clone()));
    }
    all.into_iter().map(|(which, n)| if which == "end" { n } else { format!("{which} {n}") }).collect()
}
