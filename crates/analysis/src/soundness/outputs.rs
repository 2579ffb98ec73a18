//! Outputs of amplifiers that fight one another, a source or an inductor, and loops that are not closed.

use circuit::{GROUND, NodeId, PartId};
use pencil::{Excited, Structure};

use super::{Flaw, and};
use crate::clash::{joined, links};
use crate::network::{Network, Shape};

/// Outputs that inductors tie to a voltage that is held. With an output resistance or a gain that ends the equations have an answer at rest, in
/// which the least offset asks for a current without bound.
pub(super) fn shorted_outputs(network: &Network) -> Vec<Flaw> {
    let held = |n: NodeId| {
        n == GROUND
            || network.rails.iter().any(|r| r.plus == n)
            || network.feeds.iter().any(|f| f.branch.is_some() && f.plus == n && f.minus == GROUND)
    };
    let mut found: Vec<Flaw> = Vec::new();
    for p in &network.pieces {
        let Shape::Amplifier { out, .. } = p.shape else { continue };
        // Of each node that inductors and links reach: the inductors on the way.
        let mut reached: Vec<(NodeId, Vec<usize>)> = vec![(out, Vec::new())];
        let mut next = 0;
        while let Some((at, way)) = reached.get(next).cloned() {
            next += 1;
            if at != out && held(at) {
                continue;
            }
            for (i, q) in network.pieces.iter().enumerate() {
                let (Shape::Inductor(ends) | Shape::Link(ends)) = &q.shape else { continue };
                let Some(k) = ends.iter().position(|n| *n == at) else { continue };
                let other = ends[1 - k];
                if !reached.iter().any(|r| r.0 == other) {
                    let inductor = matches!(q.shape, Shape::Inductor(_)).then_some(i);
                    reached.push((other, way.iter().copied().chain(inductor).collect()));
                }
            }
        }
        let ends = reached.iter().filter(|(n, way)| *n != out && held(*n) && !way.is_empty());
        for (to, way) in ends {
            let names: Vec<String> = way.iter().map(|i| network.pieces[*i].name.to_string()).collect();
            let (name, to) = (p.name.to_string(), network.nodes[to.at()].to_string());
            let tie = if names.len() == 1 { "ties" } else { "tie" };
            let clause = format!("{} {tie} {name}'s output to {to} at DC", and(&names));
            found.push(Flaw {
                id: "inductor-across-source",
                grave: false,
                message: format!(
                    "{clause}, where it is a short circuit: the least offset asks for all the current that {name} can give. A capacitor in series with {} would keep direct current out of it.",
                    names[0]
                ),
                clause,
                part: way.first().map(|i| PartId(*i as u32)),
                node: None,
                names: names.into_iter().chain([name]).collect(),
            });
        }
    }
    found
}

/// Amplifiers whose output resistance lets the equations share a node between them: with the law and the output's voltage to replace.
pub(super) fn tied(network: &Network, known: &[Flaw]) -> Vec<(u32, u32, Flaw)> {
    let one = joined(network);
    let mut held: Vec<(NodeId, Vec<(PartId, u32)>)> = Vec::new();
    for (i, p) in network.pieces.iter().enumerate() {
        let (Shape::Amplifier { out, .. }, Some(law)) = (&p.shape, p.branch) else { continue };
        match held.iter_mut().find(|h| h.0 == one[out.at()]) {
            Some(there) => there.1.push((PartId(i as u32), law)),
            None => held.push((one[out.at()], vec![(PartId(i as u32), law)])),
        }
    }
    let told =
        |names: &[String]| known.iter().any(|f| f.id == "outputs-tied" && names.iter().all(|n| f.names.contains(n)));
    let fight = |(group, all): &(NodeId, Vec<(PartId, u32)>)| {
        let names: Vec<String> = all.iter().map(|(p, _)| network.pieces[p.at()].name.to_string()).collect();
        // What is written twice under one name is a fault of its own.
        let others = names.iter().any(|n| *n != names[0]);
        // One without a resistance of its own holds the node by itself, so that its law is the one to go; else the first may keep its own: whatever
        // is read off the node is unknown.
        let hard = |(id, _): &&(PartId, u32)| matches!(&network.pieces[id.at()].shape, Shape::Amplifier { known, .. } if !known.resistance);
        let (part, law) = *all.get(1).filter(|_| others)?;
        let (id, law) = all.iter().find(hard).copied().unwrap_or((part, law));
        let Shape::Amplifier { out, .. } = network.pieces[id.at()].shape else { return None };
        let column = Network::row(out).filter(|_| !told(&names))?;
        let outs = all.iter().filter_map(|(id, _)| match network.pieces[id.at()].shape {
            Shape::Amplifier { out, .. } => Some(out),
            _ => None,
        });
        let outs: Vec<NodeId> = outs.collect();
        let apart = outs.iter().any(|n| *n != outs[0]);
        let between = links(network).into_iter().filter(|(_, [a, _])| apart && one[a.at()] == *group);
        let links: Vec<String> = between.map(|(id, _)| network.pieces[id.at()].name.to_string()).collect();
        Some((law, column, outputs_tied(names, links, Some(part))))
    };
    held.iter().filter_map(fight).collect()
}

/// Outputs at one node, or at several that links make one.
pub(super) fn outputs_tied(names: Vec<String>, links: Vec<String>, part: Option<PartId>) -> Flaw {
    let said = and(&names);
    let through = match links.len() {
        0 => String::new(),
        1 => format!(" through {}, which has no resistance", links[0]),
        _ => format!(" through {}, which have no resistance", and(&links)),
    };
    Flaw {
        id: "outputs-tied",
        grave: true,
        message: format!(
            "{said} drive the same node{through}: neither decides its voltage. A resistor in each output would let them share it."
        ),
        clause: format!("{said} hold the same node"),
        part,
        node: None,
        names: names.into_iter().chain(links).collect(),
    }
}

/// An output that links tie to what holds its node: `gnd`, a rail or a source.
pub(super) fn output_linked(network: &Network, id: PartId) -> Option<Flaw> {
    let Shape::Amplifier { out, .. } = network.pieces[id.at()].shape else { return None };
    let one = joined(network);
    let tied = |n: NodeId| n != out && one[n.at()] == one[out.at()];
    let rail = network.rails.iter().find(|r| tied(r.plus)).map(|r| format!("the rail {}", r.name));
    let source = network.feeds.iter().find(|f| f.branch.is_some() && f.minus == GROUND && tied(f.plus));
    let to = tied(GROUND).then(|| "gnd".to_string()).or(rail).or(source.map(|f| format!("source {}", f.name)))?;
    let between = links(network).into_iter().filter(|(_, [a, _])| one[a.at()] == one[out.at()]);
    let names: Vec<String> = between.map(|(id, _)| network.pieces[id.at()].name.to_string()).collect();
    let (name, node) = (network.pieces[id.at()].name.to_string(), network.nodes[out.at()].to_string());
    let tie = if names.len() == 1 { "ties" } else { "tie" };
    let clause = format!("{} {tie} {name}'s output {node} to {to}", and(&names));
    Some(Flaw {
        id: "held-twice",
        grave: true,
        message: format!(
            "{clause}: one works against the other, with all the current that {name} can give. A resistance in place of {} would keep the two apart.",
            names.first()?
        ),
        clause,
        part: Some(id),
        node: None,
        names: [name, node].into_iter().chain(names).collect(),
    })
}

/// An amplifier whose inputs are one node: no difference can stand between them.
pub(super) fn shorted(network: &Network, amplifier: &str, id: PartId, node: NodeId) -> Flaw {
    let at = network.nodes[node.at()].to_string();
    Flaw {
        id: "no-feedback",
        grave: false,
        message: format!(
            "{amplifier}'s + and - inputs share {at}: no difference can stand between them, so nothing moves its output. One of them needs a node of its own."
        ),
        clause: format!("{amplifier}'s + and - inputs share {at}"),
        part: Some(id),
        node: None,
        names: vec![amplifier.to_string(), at],
    }
}

/// The source that holds a node against the reference. That an output stands on a rail is told by the drawing.
pub(super) fn holder(network: &Network, node: NodeId) -> Option<&str> {
    let at = |f: &&crate::network::Feed| {
        f.branch.is_some() && (f.plus == node && f.minus == GROUND || f.minus == node && f.plus == GROUND)
    };
    network.feeds.iter().find(at).map(|f| &*f.name)
}

/// An amplifier with an output resistance whose output works against what holds its node.
pub(super) fn against(network: &Network, amplifier: &str, id: PartId, out: NodeId, source: &str) -> Flaw {
    let at = network.nodes[out.at()].to_string();
    Flaw {
        id: "held-twice",
        grave: true,
        message: format!(
            "{amplifier}'s output stands at {at}, which source {source} holds: one works against the other. Put a resistance between them, or give the output a node of its own."
        ),
        clause: format!("source {source} holds {amplifier}'s output"),
        part: Some(id),
        node: None,
        names: vec![amplifier.to_string(), source.to_string(), at],
    }
}

/// Amplifiers with a finite gain have an answer without feedback too, but hardly one that was meant.
pub(super) fn open_loops(network: &Network, structure: &Structure, known: &[Flaw]) -> Vec<Flaw> {
    let mut found = Vec::new();
    let one = joined(network);
    for (i, p) in network.pieces.iter().enumerate() {
        let (Shape::Amplifier { plus, minus, out, .. }, Some(law)) = (&p.shape, p.branch) else { continue };
        let id = PartId(i as u32);
        if plus == minus {
            if !known.iter().any(|f| f.part == Some(id)) {
                found.push(shorted(network, &p.name, id, *plus));
            }
            continue;
        }
        let reached = structure.influenced_by(Excited { equations: &[law], givens: &[] });
        // An output resistance keeps the equations from saying that the output and what holds its node are at odds.
        let moved = Network::row(*out).is_some_and(|v| reached[v as usize]);
        if let Some(holder) = holder(network, *out).filter(|_| !moved) {
            if !known.iter().any(|f| f.part == Some(id)) {
                found.push(against(network, &p.name, id, *out, holder));
            }
            continue;
        }
        if let Some(flaw) = output_linked(network, id).filter(|_| !moved) {
            if !known.iter().any(|f| f.part == Some(id) || f.is_fight() && f.names.contains(&flaw.names[0])) {
                found.push(flaw);
            }
            continue;
        }
        let back = [plus, minus].into_iter().filter_map(|n| Network::row(*n)).any(|v| reached[v as usize]);
        let shared = |q: &crate::network::Piece| matches!(q.shape, Shape::Amplifier { out: o, .. } if one[o.at()] == one[out.at()]);
        // Tied outputs are a fault of their own.
        if !back
            && network.pieces.iter().filter(|q| shared(q)).count() == 1
            && !known.iter().any(|f| f.part == Some(id))
        {
            let out = network.nodes[out.at()].to_string();
            found.push(Flaw {
                id: "no-feedback",
                grave: false,
                message: format!("{} has no feedback: nothing leads from {out} back to its inputs, so it works at its full open-loop gain. A path from {out} to the - input would close the loop.", p.name),
                clause: format!("{} has no feedback", p.name),
                part: Some(id),
                node: None,
                names: vec![p.name.to_string(), out],
            });
        }
    }
    found
}
