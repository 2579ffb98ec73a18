//! What is assumed, neglected and left out, and where the working holds, in words.

use circuit::{Assumption, Circuit, Neglect, NodeId, PartId, PartKind, StageId};
use derivation::{Line, listed, said};

use crate::database::{Desk, Document};
use crate::derived::around::Around;
use crate::derived::taken::parts;

/// What is neglected in a stage, each with what it costs, and what is taken as ideal unsaid.
pub fn neglected(
    db: &dyn Desk,
    document: Document,
    circuit: &Circuit,
    stage: StageId,
    held: &[(NodeId, PartId)],
    costs: bool,
) -> Vec<Line> {
    let own = |id: PartId| circuit.parts[id.at()].stage == stage || held.iter().any(|(_, holder)| *holder == id);
    let mut lines = Vec::new();
    let all = crate::formulas::assumptions(db, document, circuit).unwrap_or_default();
    let found = if costs { crate::assumed::all(db, document) } else { Vec::new() };
    let cost = |neglect: Neglect| {
        let all = found.iter().filter_map(|f| f.2.as_ref().as_ref().ok());
        let one = all.flat_map(|c| &c.all).find(|c| c.neglect == neglect)?;
        let d = one.found.as_ref().ok().filter(|d| d.decibels.is_finite())?;
        let at = if d.position.is_empty() { String::new() } else { format!(", {}", d.position) };
        let much = argument::assume::fine(d.decibels.abs(), "dB");
        Some(format!("; alone that costs {much} at {}{at}", analysis::print::hertz(d.hertz)))
    };
    let mut ideal = Vec::new();
    for assumption in &all {
        for neglect in &assumption.neglects {
            let (id, is) = match *neglect {
                Neglect::Short(id) if own(id) => (id, "a short"),
                Neglect::Open(id) if own(id) => (id, "open"),
                Neglect::Ideal(id) if own(id) => {
                    ideal.push(id);
                    (id, "ideal")
                }
                _ => continue,
            };
            let name = &circuit.parts[id.at()].name;
            lines.push(said(format!(
                "{name} is {is}{} (assumed){}.",
                band(assumption),
                cost(*neglect).unwrap_or_default()
            )));
        }
    }
    let unsaid: Vec<String> =
        unsaid(circuit, stage, held, &ideal).into_iter().map(|id| circuit.parts[id.at()].name.to_string()).collect();
    if !unsaid.is_empty() {
        let (is, it) = if unsaid.len() == 1 { ("is", "it") } else { ("are", "them") };
        lines.push(said(format!(
            "{} {is} taken as ideal, which no assumption says: `{} ideal below …` under assume would hold {it} to a band and tell what it costs.",
            listed(&unsaid),
            unsaid.join(", ")
        )));
    }
    lines
}

/// The amplifiers of a stage, and those that hold its nodes still, that are ideal neither by themselves nor by an assumption.
pub fn unsaid(circuit: &Circuit, stage: StageId, held: &[(NodeId, PartId)], ideal: &[PartId]) -> Vec<PartId> {
    let real = |i: &usize| {
        let part = &circuit.parts[*i];
        let amplifier = matches!(&part.kind, PartKind::Amplifier { sheet, .. } if !sheet.ideal);
        let id = PartId(*i as u32);
        let counts = part.stage == stage || held.iter().any(|(_, holder)| *holder == id);
        amplifier && counts && !part.unfitted && !ideal.contains(&id)
    };
    (0..circuit.parts.len()).filter(real).map(|i| PartId(i as u32)).collect()
}

/// ` above 100 Hz`
fn band(assumption: &Assumption) -> String {
    let hertz = analysis::print::hertz;
    match (assumption.from, assumption.to) {
        (Some(a), Some(b)) => format!(" from {} to {}", hertz(a), hertz(b)),
        (Some(a), None) => format!(" above {}", hertz(a)),
        (None, Some(b)) => format!(" below {}", hertz(b)),
        (None, None) => String::new(),
    }
}

/// What drives the stage, and what hangs on its nodes.
pub fn around(circuit: &Circuit, stage: StageId, around: &Around) -> Line {
    let name = |node: NodeId| circuit.node_name(node).to_string();
    let names = |nodes: &[NodeId]| listed(&nodes.iter().map(|n| name(*n)).collect::<Vec<_>>());
    let mut text = format!("The stage by itself: {} driven", names(&super::taken::inputs(circuit, stage)));
    let outputs = &circuit.stages[stage.at()].outputs;
    if around.loads.iter().all(|(node, _)| !outputs.contains(node)) {
        text += &format!(", nothing drawn from {}", names(outputs));
    }
    // Outputs are told together, other nodes one by one.
    let (out, within): (Vec<_>, Vec<_>) = around.loads.iter().partition(|(node, _)| outputs.contains(node));
    let mut told: Vec<(String, Vec<&(NodeId, PartId)>)> = Vec::new();
    if !out.is_empty() {
        told.push((names(outputs), out));
    }
    for load in within {
        match told.iter_mut().find(|(node, _)| *node == name(load.0)) {
            Some((_, all)) => all.push(load),
            None => told.push((name(load.0), vec![load])),
        }
    }
    for (node, loads) in told {
        let parts: Vec<String> = loads.iter().map(|(_, id)| circuit.parts[id.at()].name.to_string()).collect();
        let mut stages: Vec<String> = Vec::new();
        for (_, id) in &loads {
            let name = circuit.stages[circuit.parts[id.at()].stage.at()].name.to_string();
            if !stages.contains(&name) {
                stages.push(name);
            }
        }
        let earths: Vec<(String, String)> = around
            .earths
            .iter()
            .filter(|(n, _)| loads.iter().any(|(_, id)| circuit.parts[id.at()].ends().contains(n)))
            .map(|(n, id)| (name(*n), circuit.parts[id.at()].name.to_string()))
            .collect();
        let earth = match &earths[..] {
            [] => String::new(),
            [(node, amplifier)] => format!(", which ends at {amplifier}'s virtual earth {node}"),
            several => {
                let each: Vec<String> = several.iter().map(|(n, amplifier)| format!("{amplifier}'s {n}")).collect();
                format!(", which end at virtual earths, {}", listed(&each))
            }
        };
        text += &format!(", with {} of {} on {node}{earth}", listed(&parts), listed(&stages));
    }
    text += ".";
    if !around.left.is_empty() {
        let stages: Vec<String> = around.left.iter().map(|id| circuit.stages[id.at()].name.to_string()).collect();
        let draws = if around.left.len() == 1 { "draws" } else { "draw" };
        text += &format!(" What {} {draws} there is left out.", listed(&stages));
    }
    said(text)
}

/// A node that an amplifier of another stage holds still.
pub fn held(circuit: &Circuit, node: NodeId, amplifier: PartId) -> Line {
    let part = &circuit.parts[amplifier.at()];
    let (node, stage) = (circuit.node_name(node), &circuit.stages[part.stage.at()].name);
    said(format!("{} of {stage} holds {node}, and no signal moves it: for a signal it lies at gnd.", part.name))
}

/// A node at which two stages hang together.
pub fn entangled(circuit: &Circuit, stage: StageId, part: &str, node: NodeId, other: PartId) -> Line {
    let other = &circuit.parts[other.at()];
    let (node, there) = (circuit.node_name(node), &circuit.stages[other.stage.at()].name);
    let own = &circuit.stages[stage.at()];
    let ports = own.inputs.iter().map(|n| circuit.node_name(*n)).collect::<Vec<_>>().join(", ");
    said(format!(
        "Unknown: {part} ends at {node}, where {} of {there} does more than load it, and {} by itself ends there. As an input of its own, `stage {}: {ports}, {node} -> …`, {node} is taken as driven; or the parts of both may stand in one stage.",
        other.name, own.name, own.name
    ))
}

/// Over which band the neglects in a stage are stated to hold, all of them.
pub fn stated(db: &dyn Desk, document: Document, circuit: &Circuit, stage: StageId) -> Option<Line> {
    let own = |n: &Neglect| match *n {
        Neglect::Short(id) | Neglect::Open(id) | Neglect::Ideal(id) => circuit.parts[id.at()].stage == stage,
        Neglect::Undrawn(_) => false,
    };
    let all = crate::formulas::assumptions(db, document, circuit).ok()?;
    let touching: Vec<&Assumption> = all.iter().filter(|a| a.neglects.iter().any(own)).collect();
    if touching.is_empty() {
        return None;
    }
    let from = touching.iter().filter_map(|a| a.from).fold(0.0, f64::max);
    let to = touching.iter().filter_map(|a| a.to).fold(f64::INFINITY, f64::min);
    let hertz = analysis::print::hertz;
    Some(said(match (from > 0.0, to.is_finite()) {
        (true, true) if from >= to => "The neglects are stated to hold at no frequency together.".to_string(),
        (true, true) => format!("The neglects are stated to hold together from {} to {}.", hertz(from), hertz(to)),
        (true, false) => format!("The neglects are stated to hold above {}.", hertz(from)),
        (false, true) => format!("The neglects are stated to hold below {}.", hertz(to)),
        (false, false) => "The neglects are stated to hold over the whole band.".to_string(),
    }))
}

/// How far an amplifier's output may move, and where its data say so.
pub fn swing(circuit: &Circuit, stage: StageId) -> Vec<(NodeId, Line, f64)> {
    let mut found = Vec::new();
    for part in parts(circuit, stage) {
        let PartKind::Amplifier { sheet, out, .. } = &part.kind else { continue };
        let Some([one, other]) = circuit.rails_of(part) else { continue };
        let volts = |node: &NodeId| {
            if *node == circuit::GROUND {
                return Some(0.0);
            }
            circuit.supplies.iter().flat_map(|s| &s.rails).find(|r| r.0 == *node)?.1.number()
        };
        let (Some(one), Some(other)) = (volts(&one), volts(&other)) else { continue };
        let (up, down) = (one.max(other), one.min(other));
        let name = circuit.node_name(*out);
        let style = quantity::Style::default();
        let text = |x: f64| quantity::computed(x, quantity::Unit::Volt, style).unwrap_or_default();
        let (Some(above), Some(below)) = (sheet.swing_high.nominal(), sheet.swing_low.nominal()) else {
            let line = format!(
                "{} is linear while {name} keeps within its rails, {} and {}.",
                part.name,
                text(down),
                text(up)
            );
            found.push((*out, said(line), f64::NAN));
            continue;
        };
        let (top, foot) = (up - above, down + below);
        let line = format!(
            "{} is linear while {name} keeps within {} … {} (its rails less its swing, typ.).",
            part.name,
            text(foot),
            text(top)
        );
        found.push((*out, said(line), ((top - foot) / 2.0).max(0.0)));
    }
    found
}
