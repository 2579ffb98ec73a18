//! What hangs on contacts that stand open at a position: ways of bias currents, and feedback at rest.

use std::collections::HashSet;

use circuit::{GROUND, NodeId, PartId};
use pencil::Parameter;

use super::{Flaw, Ties, and, branches, ends, nodes_of, open_input};
use crate::network::{Network, Quality, Shape};

/// A contact that stands open.
pub(crate) struct Open {
    pub part: PartId,
    pub ends: [NodeId; 2],
    /// `SW1 open`, `SW2 at 1`
    pub said: String,
}

/// The contacts that stand open where these parameters are 0.
pub(crate) fn open_contacts(network: &Network, zero: &[Parameter]) -> Vec<Open> {
    let is = |part: PartId, quality: Quality| zero.iter().any(|p| network.parameters[p.0 as usize] == (part, quality));
    let mut found = Vec::new();
    for (i, p) in network.pieces.iter().enumerate() {
        let Shape::Switch(contacts) = &p.shape else { continue };
        let part = PartId(i as u32);
        let stands = contacts.iter().find(|c| is(part, Quality::Open(c.0))).map(|c| c.0);
        let said = match stands {
            _ if p.plain => format!("{} open", p.name),
            Some(n) => format!("{} at {n}", p.name),
            None => format!("{} where it stands", p.name),
        };
        let open = contacts.iter().filter(|c| is(part, Quality::Closed(c.0)));
        found.extend(open.map(|c| Open { part, ends: c.1, said: said.clone() }));
    }
    found
}

/// Inputs that have no path for a bias current only where some contacts stand open.
pub(crate) fn cut_off(network: &Network, known: &[Flaw], open: &[Open]) -> Vec<Flaw> {
    if open.is_empty() {
        return Vec::new();
    }
    let mut there = network.clone();
    for (i, p) in there.pieces.iter_mut().enumerate() {
        if let Shape::Switch(contacts) = &mut p.shape {
            contacts.retain(|c| !open.iter().any(|o| o.part == PartId(i as u32) && o.ends == c.1));
        }
    }
    let blocks = |s: &Shape| !matches!(s, Shape::Capacitor(_) | Shape::Absent(_));
    let named: HashSet<NodeId> = known.iter().filter_map(|f| f.node).collect();
    let groups = Ties::of(&there, blocks).groups().into_iter().filter(|g| !g.iter().any(|n| named.contains(n)));
    groups.filter_map(|g| without_way(&there, &g, open)).filter(|f| f.id == "no-bias-return").collect()
}

/// Whether other than capacitors leads back from an amplifier's output to one of its inputs, where some contacts stand open.
fn direct(network: &Network, out: NodeId, inputs: [NodeId; 2], open: &[&Open]) -> bool {
    let held = |n: NodeId| n == GROUND || network.rails.iter().any(|r| r.plus == n);
    let mut reached = vec![out];
    let mut next = 0;
    while let Some(&at) = reached.get(next) {
        next += 1;
        for (i, p) in network.pieces.iter().enumerate() {
            let ways: Vec<[NodeId; 2]> = match &p.shape {
                Shape::Amplifier { .. } | Shape::Capacitor(_) | Shape::Absent(_) => continue,
                Shape::Switch(contacts) => {
                    let stands =
                        |ends: &[NodeId; 2]| open.iter().any(|o| o.part == PartId(i as u32) && o.ends == *ends);
                    contacts.iter().map(|c| c.1).filter(|ends| !stands(ends)).collect()
                }
                other => ends(other).windows(2).map(|w| [w[0], w[1]]).collect(),
            };
            for [a, b] in ways {
                for (from, to) in [(a, b), (b, a)] {
                    if from == at && !held(to) && !reached.contains(&to) {
                        reached.push(to);
                    }
                }
            }
        }
    }
    inputs.iter().any(|n| !held(*n) && reached.contains(n))
}

/// The contacts, in words, each of which would lead back from an amplifier's output to its inputs if it were closed; none where something
/// other than capacitors does as they stand.
fn opening(network: &Network, out: NodeId, inputs: [NodeId; 2], open: &[Open]) -> Vec<String> {
    let all: Vec<&Open> = open.iter().collect();
    if direct(network, out, inputs, &all) {
        return Vec::new();
    }
    let closes = |o: &&Open| {
        let others: Vec<&Open> = open.iter().filter(|x| !std::ptr::eq(*x, *o)).collect();
        direct(network, out, inputs, &others)
    };
    open.iter().filter(closes).map(|o| o.said.clone()).collect()
}

/// A group of nodes that only capacitors, and contacts that stand open, tie to the rest.
pub(super) fn without_way(network: &Network, group: &[NodeId], open: &[Open]) -> Option<Flaw> {
    let blocking: Vec<String> = network
        .pieces
        .iter()
        .filter(|p| matches!(&p.shape, Shape::Capacitor(e) if group.contains(&e[0]) != group.contains(&e[1])))
        .map(|p| p.name.to_string())
        .collect();
    let mut cut: Vec<&Open> =
        open.iter().filter(|o| group.contains(&o.ends[0]) != group.contains(&o.ends[1])).collect();
    cut.dedup_by_key(|o| o.part);
    if !open.is_empty() {
        if cut.is_empty() {
            return None;
        }
        return cut_input(network, group, &blocking, &cut);
    }
    let verb = if blocking.len() == 1 { "blocks" } else { "block" };
    for (i, p) in network.pieces.iter().enumerate() {
        let Shape::Amplifier { plus, minus, out, .. } = p.shape else { continue };
        for (input, sign) in [(plus, "+"), (minus, "-")] {
            if group.contains(&input) && blocking.is_empty() {
                let (message, clause, more) = open_input(network, &p.name, sign, input);
                return Some(Flaw {
                    id: "open-input",
                    grave: false,
                    message,
                    clause,
                    part: Some(PartId(i as u32)),
                    node: Some(input),
                    names: std::iter::once(p.name.to_string()).chain(more).collect(),
                });
            }
            if group.contains(&input) {
                let node = &network.nodes[input.at()];
                let mut names = vec![p.name.to_string(), node.to_string()];
                names.extend(blocking.iter().cloned());
                return Some(Flaw {
                    id: "no-bias-return",
                    grave: false,
                    message: format!(
                        "{}'s {sign} input has no path for its bias current: {} {verb} it. {} would give it one.",
                        p.name,
                        and(&blocking),
                        way_home(network, input, (input == minus).then_some(out))
                    ),
                    clause: format!("{}'s {sign} input has no path for its bias current", p.name),
                    part: Some(PartId(i as u32)),
                    node: Some(input),
                    names,
                });
            }
        }
    }
    // A source that floats behind capacitors has a ground of its own somewhere, which is no business of this circuit.
    if network.feeds.iter().any(|f| group.contains(&f.plus) || group.contains(&f.minus)) {
        return None;
    }
    let names: Vec<String> = group.iter().map(|n| network.nodes[n.at()].to_string()).collect();
    let part = network
        .pieces
        .iter()
        .position(|p| matches!(&p.shape, Shape::Capacitor(e) if group.contains(&e[0]) || group.contains(&e[1])));
    let said = and(&names[..names.len().min(4)]);
    Some(Flaw {
        id: "no-dc-path",
        grave: false,
        message: format!(
            "{said} {} between capacitors ({}): nothing sets a DC voltage there. A large resistor to gnd would.",
            if names.len() == 1 { "stands" } else { "stand" },
            and(&blocking)
        ),
        clause: format!("{said} {} no DC path", if names.len() == 1 { "has" } else { "have" }),
        part: part.map(|i| PartId(i as u32)),
        node: group.first().copied(),
        names: names.into_iter().chain(blocking).collect(),
    })
}

/// The resistor that an input's bias current wants. A − input wants it from its output: from gnd it would leave the loop open at rest, and
/// the output at a rail.
fn way_home(network: &Network, input: NodeId, out: Option<NodeId>) -> String {
    let name = |n: NodeId| &network.nodes[n.at()];
    match out {
        Some(out) => format!("A resistor from {} to {}, which holds the output at rest,", name(out), name(input)),
        None => format!("A resistor from {} to gnd", name(input)),
    }
}

/// An amplifier's input that contacts cut off from where its bias current would come from.
fn cut_input(network: &Network, group: &[NodeId], blocking: &[String], cut: &[&Open]) -> Option<Flaw> {
    let (i, p, input, sign, from) = network.pieces.iter().enumerate().find_map(|(i, p)| {
        let Shape::Amplifier { plus, minus, out, .. } = p.shape else { return None };
        let (n, sign) = [(plus, "+"), (minus, "-")].into_iter().find(|(n, _)| group.contains(n))?;
        Some((i, p, n, sign, (n == minus).then_some(out)))
    })?;
    let node = &network.nodes[input.at()];
    let with = and(&cut.iter().map(|o| o.said.clone()).collect::<Vec<_>>());
    let clause = format!("{}'s {sign} input has no path for its bias current with {with}", p.name);
    let blocks = match blocking {
        [] => "nothing else leads there".to_string(),
        [one] => format!("{one} blocks it"),
        some => format!("{} block it", and(some)),
    };
    let way = format!("a{} would give it one", &way_home(network, input, from)[1..]);
    let mut names = vec![p.name.to_string(), node.to_string()];
    names.extend(cut.iter().map(|o| network.pieces[o.part.at()].name.to_string()));
    names.extend(blocking.iter().cloned());
    Some(Flaw {
        id: "no-bias-return",
        grave: false,
        message: format!("{clause}: {blocks}. A{}.", &way[1..]),
        clause: format!("{clause} ({way})"),
        part: Some(PartId(i as u32)),
        node: Some(input),
        names,
    })
}

/// What the null vectors at `s = 0` say, where some contacts stand open.
pub(crate) fn resting(network: &Network, rows: &[u32], columns: &[u32], open: &[Open]) -> Option<Flaw> {
    let fighting = branches(network, rows);
    let inductors: Vec<String> = branches(network, columns)
        .iter()
        .filter(|(_, p)| p.is_some_and(|p| matches!(network.pieces[p.at()].shape, Shape::Inductor(_))))
        .map(|(n, _)| n.to_string())
        .collect();
    let nodes = nodes_of(network, columns);
    if nodes.is_empty() && !inductors.is_empty() {
        let part = network.pieces.iter().position(|p| *p.name == *inductors[0]);
        let all: Vec<String> = branches(network, columns).iter().map(|b| b.0.to_string()).collect();
        let (id, message) = if all.len() > inductors.len() {
            (
                "inductor-across-source",
                match inductors.len() {
                    1 => format!("{} stands across what holds its voltage: at DC it is a short circuit.", inductors[0]),
                    _ => format!(
                        "{} in a row stand across what holds their voltage: at DC they are a short circuit.",
                        and(&inductors)
                    ),
                },
            )
        } else {
            (
                "inductor-loop",
                format!("{} form a loop: nothing tells how they share a direct current.", and(&inductors)),
            )
        };
        return Some(Flaw {
            id,
            grave: false,
            clause: message.trim_end_matches('.').into(),
            message,
            part: part.map(|i| PartId(i as u32)),
            node: None,
            names: all,
        });
    }
    let amplifiers = fighting.iter().filter_map(|(n, p)| {
        p.filter(|p| matches!(network.pieces[p.at()].shape, Shape::Amplifier { .. })).map(|p| (*n, p))
    });
    // What stands in front of it may be in the same contradiction: it is the one whose output is free.
    let free = |p: PartId| matches!(network.pieces[p.at()].shape, Shape::Amplifier { out, .. } if nodes.contains(&out));
    let (name, id) = amplifiers.clone().find(|a| free(a.1)).or_else(|| amplifiers.clone().next())?;
    let Shape::Amplifier { plus, minus, out, known } = network.pieces[id.at()].shape else { return None };
    // With a finite gain the output is determined, if uselessly: that is a matter of offsets, not of structure.
    if known.gain {
        return None;
    }
    let contacts = opening(network, out, [plus, minus], open);
    let with = if contacts.is_empty() { String::new() } else { format!(" with {}", and(&contacts)) };
    let out = &network.nodes[out.at()];
    let mut names = vec![name.to_string(), out.to_string()];
    let moved =
        open.iter().filter(|o| contacts.contains(&o.said)).map(|o| network.pieces[o.part.at()].name.to_string());
    names.extend(moved);
    Some(Flaw {
        id: "no-dc-feedback",
        grave: false,
        message: format!(
            "{name} has no feedback at DC{with}: only capacitors lead from {out} back to its inputs, so it drifts to a rail. A large resistor across the feedback capacitor would hold it."
        ),
        clause: if contacts.is_empty() {
            format!("{name} has no feedback at DC")
        } else {
            format!("{name} has no feedback at DC{with} (a large resistor across the feedback capacitor would hold it)")
        },
        part: Some(id),
        node: None,
        names,
    })
}
