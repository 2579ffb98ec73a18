//! What a circuit must keep to as a drawing, before any number: names that meet where they should.

use rustc_hash::{FxHashMap, FxHashSet};

use crate::assemble::Assembly;
use crate::circuit::{NodeId, PartKind};
use crate::piece::Weight;

/// Checks the node rules. They are silent while an entry is torn: half a line makes half a circuit.
pub(crate) fn check(a: &mut Assembly) {
    without_ports(a);
    if a.places.torn.is_some() || a.circuit.unknown.is_some() {
        return;
    }
    let stages = a.circuit.stages.iter();
    let pairs = a.circuit.pairs.iter().flat_map(|p| [p.hot, p.cold]);
    let ports = stages.flat_map(|s| s.inputs.iter().chain(&s.outputs).copied()).chain(pairs).collect();
    let mut user = vec![None; a.circuit.nodes.len()];
    for (i, part) in a.circuit.parts.iter().enumerate() {
        for node in part.ends() {
            user[node.at()].get_or_insert(i);
        }
    }
    // An amplifier that is fed from a node uses it.
    let feeds = a.circuit.parts.iter().filter_map(|p| match p.kind {
        PartKind::Amplifier { rails, .. } => rails,
        _ => None,
    });
    let fed: FxHashSet<NodeId> = feeds.flatten().collect();
    let free: FxHashSet<NodeId> = a.free.iter().copied().collect();
    for i in 1..a.circuit.nodes.len() {
        let id = NodeId(i as u32);
        if a.circuit.nodes[i].unnamed {
            continue;
        }
        // What is odd inside a copy is odd in its pattern, and said there; but for a stage that reaches into it.
        if a.circuit.nodes[i].name.contains('.') {
            crosses(a, id);
            continue;
        }
        if free.contains(&id) {
            look_alike_ground(a, id);
            continue;
        }
        if crosses(a, id) || look_alike_ground(a, id) || fed.contains(&id) || lonely(a, id, &ports, &user) {
            continue;
        }
    }
    idle_ports(a);
    outputs(a);
}

/// A stage that shares a node with another and names no ports is not finished: who drives whom is not said, and what drives
/// nothing would look like a source.
fn without_ports(a: &mut Assembly) {
    // Of each stage the first node that another one uses too.
    let mut shared: FxHashMap<u32, usize> = FxHashMap::default();
    let held = a.held();
    for (n, users) in a.users.iter().enumerate().skip(1).filter(|(n, _)| !held.contains(&NodeId(*n as u32))) {
        if users.iter().any(|u| *u != users[0]) {
            for user in users {
                shared.entry(*user).or_insert(n);
            }
        }
    }
    for s in 0..a.circuit.stages.len() {
        let stage = &a.circuit.stages[s];
        if !stage.inputs.is_empty() || !stage.outputs.is_empty() || a.places.torn.is_some() {
            continue;
        }
        let Some(&node) = shared.get(&(s as u32)) else { continue };
        let (name, node) = (stage.name.to_string(), a.circuit.nodes[node].name.to_string());
        let place = a.places.stages[s];
        let ports = if node == "in" { "in -> out".to_string() } else { format!("in -> {node}") };
        let fault = a.find(
            Weight::Error,
            place,
            "ports-missing",
            format!("{name} shares {node} with another stage and names no ports: `stage {name}: {ports}`"),
            &[&name, &node],
        );
        fault.unfinished = true;
        a.places.torn = Some(place);
    }
}

/// An amplifier's output decides a node's voltage; nothing else may.
fn outputs(a: &mut Assembly) {
    let amplifiers: Vec<(usize, NodeId)> = a
        .circuit
        .parts
        .iter()
        .enumerate()
        .filter_map(|(i, p)| match p.kind {
            PartKind::Amplifier { out, .. } if !p.unfitted => Some((i, out)),
            _ => None,
        })
        .collect();
    let given = a.held();
    let mut first: FxHashMap<NodeId, usize> = FxHashMap::default();
    for &(i, out) in &amplifiers {
        let held = given.contains(&out);
        let before = *first.entry(out).or_insert(i);
        if !held && before == i {
            continue;
        }
        let name = a.circuit.parts[i].name.to_string();
        let node = a.circuit.node_name(out).to_string();
        let place = a.places.part_names[i];
        if held {
            let message = format!("{name}'s output stands at {node}, whose voltage is given already");
            a.find(Weight::Error, place, "output-held", message, &[&name, &node]);
        } else {
            let other = a.circuit.parts[before].name.to_string();
            let message = format!(
                "{other} and {name} both drive {node}: neither decides its voltage. A resistor in each output would let them share it"
            );
            a.find(Weight::Error, place, "outputs-tied", message, &[&other, &name, &node]);
        }
    }
}

/// Whether a node's name is one that elsewhere means the reference node. That it leads nowhere then needs no word of its own.
fn is_look_alike(name: &str) -> bool {
    matches!(name, "GND" | "Gnd" | "ground" | "Ground" | "GROUND" | "earth" | "Earth" | "EARTH")
}

fn look_alike_ground(a: &mut Assembly, id: NodeId) -> bool {
    let name = a.circuit.node_name(id);
    let alike = is_look_alike(name);
    if alike {
        let name = name.to_string();
        let place = a.places.nodes[id.at()];
        let fault = a.find(
            Weight::Warning,
            place,
            "ground-name",
            format!("{name} is a node like any other; the reference node is called gnd"),
            &[&name],
        );
        fault.fixes.push(notation::tree::Fix { title: "write gnd".into(), edits: vec![(place.span, "gnd".into())] });
    }
    alike
}

fn port_of(a: &Assembly, id: NodeId, stage: u32) -> bool {
    let s = &a.circuit.stages[stage as usize];
    s.inputs.contains(&id) || s.outputs.contains(&id)
}

/// A node that is used in two stages is a port of at least one of them.
fn crosses(a: &mut Assembly, id: NodeId) -> bool {
    let mut users = a.users[id.at()].clone();
    users.sort_unstable();
    users.dedup();
    if users.len() < 2 || users.iter().any(|&s| port_of(a, id, s)) {
        return false;
    }
    let name = a.circuit.node_name(id).to_string();
    let (first, second) =
        (a.circuit.stages[users[0] as usize].name.clone(), a.circuit.stages[users[1] as usize].name.clone());
    let place = a.places.nodes[id.at()];
    let alike = is_look_alike(&name);
    let question = match alike {
        true => "the reference node is called gnd",
        false if name.contains('.') => "what is inside a copy is its own, and a port of the pattern would lead there",
        false => "one node or two?",
    };
    let fault = a.find(
        Weight::Error,
        place,
        "node-crosses-stages",
        format!("{name} is in {first} and in {second}, and a port of neither: {question}"),
        &[&name, &first, &second],
    );
    if alike {
        fault.fixes.push(notation::tree::Fix { title: "write gnd".into(), edits: vec![(place.span, "gnd".into())] });
    }
    // Which of the two is meant decides what stands at it.
    let why = format!("{name} is in {first} and in {second}, and is one node or two").into();
    for part in a.circuit.parts.iter_mut().filter(|p| p.ends().contains(&id) && p.kind.is_known()) {
        crate::rested::make_unknown(&mut part.kind, &why);
    }
    true
}

/// A node that is no port and has one part end only leads nowhere.
fn lonely(a: &mut Assembly, id: NodeId, ports: &FxHashSet<NodeId>, user: &[Option<usize>]) -> bool {
    if a.ends[id.at()] != 1 || ports.contains(&id) {
        return false;
    }
    let guess = a.may_guess();
    let name = a.circuit.node_name(id).to_string();
    let part = user[id.at()].map(|p| a.circuit.parts[p].name.to_string()).unwrap_or_default();
    let others =
        a.circuit.nodes.iter().enumerate().filter(|(i, n)| guess && *i != id.at() && !n.unnamed).map(|(_, n)| &*n.name);
    let others: Vec<&str> = others.collect();
    let near = notation::near::nearest(&name, others.iter().copied());
    let near = near.or_else(|| cut_short(&name, &others)).map(str::to_string);
    let place = a.places.nodes[id.at()];
    let hint = near.as_ref().map_or_else(String::new, |n| format!(": did you mean {n}"));
    let fault = a.find(
        Weight::Warning,
        place,
        "node-used-once",
        format!("{name} is used once, by {part}, and leads nowhere{hint}"),
        &[&name, &part],
    );
    if let Some(n) = near {
        fault.fixes.push(notation::tree::Fix { title: format!("write {n}"), edits: vec![(place.span, n)] });
    }
    true
}

/// The one node whose name begins like this: the rest of it was not typed. Of several, `gnd`, which is meant most often.
fn cut_short<'n>(name: &str, others: &[&'n str]) -> Option<&'n str> {
    let longer = notation::near::beginning_with(name, others.iter().copied());
    let ground = longer.iter().copied().find(|n| *n == "gnd");
    ground.or(if let [one] = longer[..] { Some(one) } else { None })
}

/// A port at which nothing of its stage stands is a slip of the heading, or a stage that is not written yet.
fn idle_ports(a: &mut Assembly) {
    let mut begun = vec![false; a.circuit.stages.len()];
    a.circuit.parts.iter().for_each(|p| begun[p.stage.at()] = true);
    // An amplifier's supply terminals stand at their nodes as its other ones do.
    let mut fed: Vec<Vec<NodeId>> = vec![Vec::new(); a.circuit.stages.len()];
    for part in &a.circuit.parts {
        if let PartKind::Amplifier { rails: Some(rails), .. } = &part.kind {
            fed[part.stage.at()].extend(rails);
        }
    }
    for (s, begun) in begun.into_iter().enumerate() {
        let stage = &a.circuit.stages[s];
        let stands = |port: NodeId| a.users[port.at()].contains(&(s as u32)) || fed[s].contains(&port);
        let idle = |port: &NodeId| *port != crate::circuit::GROUND && !stands(*port);
        if !begun || !stage.inputs.iter().chain(&stage.outputs).any(idle) {
            continue;
        }
        let stage = a.circuit.stages[s].clone();
        for &port in stage.inputs.iter().chain(&stage.outputs) {
            let stands = a.users[port.at()].contains(&(s as u32)) || fed[s].contains(&port);
            if port == crate::circuit::GROUND || stands {
                continue;
            }
            let name = a.circuit.node_name(port).to_string();
            let place = a.places.stages[s];
            a.find(
                Weight::Warning,
                place,
                "idle-port",
                format!("{} has a port {name}, but none of its parts stands there", stage.name),
                &[&stage.name, &name],
            );
        }
    }
}
