//! What is assumed, neglected and left out, and where the working holds, in words.

use circuit::{Assumption, Circuit, Neglect, NodeId, PartId, PartKind, StageId};
use derivation::{Line, listed, said};

use crate::database::{Desk, Document};
use crate::derived::taken::parts;

/// What is neglected in a stage, each with what it costs, and what is taken as ideal unsaid.
pub fn neglected(db: &dyn Desk, document: Document, circuit: &Circuit, stage: StageId, costs: bool) -> Vec<Line> {
    let own = |id: PartId| circuit.parts[id.at()].stage == stage;
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
        unsaid(circuit, stage, &ideal).into_iter().map(|id| circuit.parts[id.at()].name.to_string()).collect();
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

/// The amplifiers of a stage that are ideal neither by themselves nor by an assumption.
pub fn unsaid(circuit: &Circuit, stage: StageId, ideal: &[PartId]) -> Vec<PartId> {
    let real = |i: &usize| {
        let part = &circuit.parts[*i];
        let amplifier = matches!(&part.kind, PartKind::Amplifier { sheet, .. } if !sheet.ideal);
        amplifier && part.stage == stage && !part.unfitted && !ideal.contains(&PartId(*i as u32))
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

/// What drives the stage, and what hangs on its outputs.
pub fn around(circuit: &Circuit, stage: StageId, taken: &[PartId], left: &[StageId]) -> Line {
    let names = |nodes: &[NodeId]| listed(&nodes.iter().map(|n| circuit.node_name(*n).to_string()).collect::<Vec<_>>());
    let mut text = format!("The stage by itself: {} driven", names(&crate::derived::taken::inputs(circuit, stage)));
    let outputs = names(&circuit.stages[stage.at()].outputs);
    if taken.is_empty() {
        text += &format!(", nothing drawn from {outputs}.");
    } else {
        let parts: Vec<String> = taken.iter().map(|id| circuit.parts[id.at()].name.to_string()).collect();
        let mut stages: Vec<String> = Vec::new();
        for id in taken {
            let name = circuit.stages[circuit.parts[id.at()].stage.at()].name.to_string();
            if !stages.contains(&name) {
                stages.push(name);
            }
        }
        text += &format!(", with {} of {} on {outputs}.", listed(&parts), listed(&stages));
    }
    if !left.is_empty() {
        let stages: Vec<String> = left.iter().map(|id| circuit.stages[id.at()].name.to_string()).collect();
        let draws = if left.len() == 1 { "draws" } else { "draw" };
        text += &format!(" What {} {draws} there is left out.", listed(&stages));
    }
    said(text)
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
