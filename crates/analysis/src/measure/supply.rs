//! What rails give and amplifiers turn into heat at rest.
//!
//! The equations have no supply pins: an amplifier's output current comes from `gnd` there. Here it is taken from the rail that gives it, and
//! what the sheet says that the amplifier draws flows from its higher rail to its lower one.

use circuit::{Name, NodeId, PartId, PartKind};
use quantity::Unit;

use super::dc::{greatest, say};
use super::{Bench, Found};
use crate::network::Network;
use crate::positions::Stand;

/// An amplifier at rest.
struct Fed {
    id: PartId,
    /// The higher rail and the lower one.
    rails: [NodeId; 2],
    /// Their voltages and the output's.
    volts: [f64; 2],
    out: f64,
    /// What the output gives; below 0: takes.
    flows: f64,
}

/// The unknowns that some amplifiers' heat is read off.
pub(super) fn unknowns(bench: &Bench, parts: &[PartId]) -> Vec<u32> {
    let all = bench.amplifiers().into_iter().filter(|(id, _)| parts.contains(id));
    let own = all.flat_map(|(id, [.., out])| {
        let nodes = bench.rails_of(id).map_or_else(|_| vec![out], |[a, b]| vec![a, b, out]);
        nodes.into_iter().filter_map(Network::row).chain(bench.whole.network.pieces[id.at()].branch).collect::<Vec<_>>()
    });
    own.collect()
}

/// The unknowns that a rail's current is read off.
pub(super) fn unknowns_of_rail(bench: &Bench, rail: NodeId) -> Vec<u32> {
    let fed = |id: &PartId| bench.rails_of(*id).is_ok_and(|rails| rails.contains(&rail));
    let parts: Vec<PartId> = bench.amplifiers().into_iter().map(|(id, _)| id).filter(fed).collect();
    let own = bench.whole.network.rails.iter().find(|r| r.plus == rail).and_then(|r| r.branch);
    own.into_iter().chain(Network::row(rail)).chain(unknowns(bench, &parts)).collect()
}

/// Amplifiers at rest, each with its rails.
///
/// # Errors
/// Names a rail that is not known, or an amplifier that cannot stand where the equations put it: a clause.
fn fed(bench: &Bench, stand: &Stand, unknowns: &[u32], parts: &[PartId]) -> Result<Vec<Fed>, String> {
    let still = bench.still(stand, unknowns)?;
    bench.stands(stand, &still, unknowns)?;
    let mut all = Vec::new();
    for (id, [.., out]) in bench.amplifiers().into_iter().filter(|(id, _)| parts.contains(id)) {
        let [a, b] = bench.rails_of(id)?;
        let law = bench.whole.network.pieces[id.at()].branch.ok_or("it has no output")?;
        let wanted = [bench.node(a), bench.node(b), bench.node(out), bench.functional(&[(law, 1.0)])];
        let x = still.solve(&wanted)?;
        let (rails, volts) = if x[0] >= x[1] { ([a, b], [x[0], x[1]]) } else { ([b, a], [x[1], x[0]]) };
        all.push(Fed { id, rails, volts, out: x[2], flows: x[3] });
    }
    Ok(all)
}

/// What an amplifier draws without a load: `max` where the sheet has it, and whether it is a typical figure.
pub(super) fn quiescent(bench: &Bench, id: PartId) -> Result<(f64, bool), String> {
    let (name, sheet) = (&bench.circuit.parts[id.at()].name, bench.sheet(id));
    let found = greatest(sheet, "supply current", &sheet.supply_current);
    found.map_err(|why| match sheet.ideal {
        true => {
            format!("{name} is ideal and has no supply current: a type, as in `{name} fet_dual: …`, would give it one")
        }
        false => why,
    })
}

/// The amplifiers of a device that the text does not name. They are counted with the first unit that is fitted and says how many there are,
/// and fed as it is.
pub(super) fn spare(bench: &Bench, id: PartId) -> Vec<String> {
    let parts = &bench.circuit.parts;
    let own = parts[id.at()].device();
    let units =
        parts.iter().enumerate().filter(|(_, p)| matches!(p.kind, PartKind::Amplifier { .. }) && p.device() == own);
    let units: Vec<usize> = units.map(|(i, _)| i).collect();
    let holds = |i: usize| match &parts[i].kind {
        PartKind::Amplifier { sheet, .. } => sheet.in_package.nominal().filter(|n| *n >= 1.0),
        _ => None,
    };
    let Some((first, holds)) = units.iter().filter(|i| !parts[**i].unfitted).find_map(|i| Some((*i, holds(*i)?)))
    else {
        return Vec::new();
    };
    if first != id.at() {
        return Vec::new();
    }
    let holds = holds.round() as usize;
    // A unit without a letter is the first.
    let taken =
        |name: &str| units.iter().any(|i| *parts[*i].name == *name || (*parts[*i].name == *own && name.ends_with('a')));
    let names = ('a'..='z').take(holds).map(|c| format!("{own}{c}")).filter(|name| !taken(name));
    names.take(holds.saturating_sub(units.len())).collect()
}

/// How many amplifiers are told with this one since the text does not name them, and who they are.
fn unnamed(bench: &Bench, id: PartId) -> Option<(f64, String)> {
    let all = spare(bench, id);
    (!all.is_empty()).then(|| (all.len() as f64, format!("{}, which the text does not name", all.join(", "))))
}

/// `U1a: 2.5 mA of its own (fet_dual), 1.2 mA into its load`
fn line(bench: &Bench, fed: &Fed, own: f64, load: f64, unit: Unit) -> String {
    let name = &bench.circuit.parts[fed.id.at()].name;
    let load = if load == 0.0 { String::new() } else { format!(", {} for its load", say(load, unit)) };
    format!("{name}: {} of its own ({}){load}", say(own, unit), bench.sheet(fed.id).name)
}

/// What a rail gives, amplifiers' own currents and those of their loads included; a negative rail takes it.
pub(super) fn current(bench: &Bench, stand: &Stand, rail: NodeId) -> Result<Found, String> {
    let mut parts = Vec::new();
    for (id, _) in bench.amplifiers() {
        if bench.rails_of(id)?.contains(&rail) {
            parts.push(id);
        }
    }
    let unknowns = unknowns_of_rail(bench, rail);
    let all = fed(bench, stand, &unknowns, &parts)?;
    let still = bench.still(stand, &unknowns)?;
    let own = bench.whole.network.rails.iter().find(|r| r.plus == rail).and_then(|r| r.branch);
    let mut wanted = vec![bench.node(rail)];
    wanted.extend(own.map(|branch| bench.functional(&[(branch, -1.0)])));
    let x = still.solve(&wanted)?;
    // What a rail below gnd takes counts as what it gives.
    let sign = if x[0] < 0.0 { -1.0 } else { 1.0 };
    let loads = sign * x.get(1).copied().unwrap_or(0.0);
    let mut found = Found::of(loads);
    found.working.push("at rest: capacitors open, signal sources quiet".into());
    if loads != 0.0 {
        found.working.push(format!("into parts {}", say(loads, Unit::Ampere)));
    }
    found.working.extend(still.drawn.told.iter().cloned());
    found.typical.extend(still.drawn.typical.iter().cloned());
    for fed in &all {
        let (quiescent, typical) = quiescent(bench, fed.id)?;
        let (own, load) = match fed.rails[0] == rail {
            true => (quiescent, fed.flows.max(0.0)),
            false => (-quiescent, fed.flows.min(0.0)),
        };
        found.value += sign * (own + load);
        if typical {
            found.typical.insert(bench.sheet(fed.id).name.clone());
        }
        found.working.push(line(bench, fed, sign * own, sign * load, Unit::Ampere));
        if let Some((count, names)) = unnamed(bench, fed.id) {
            found.value += sign * own * count;
            found.working.push(format!(
                "{names}: {} ({})",
                say(sign * own * count, Unit::Ampere),
                bench.sheet(fed.id).name
            ));
        }
    }
    Ok(found)
}

/// What amplifiers turn into heat: their own current between their rails, and the current of their loads between its rail and the output.
pub(super) fn dissipation(bench: &Bench, stand: &Stand, of: &Name, parts: &[PartId]) -> Result<Found, String> {
    let fitted = bench.amplifiers().into_iter().filter(|(id, _)| parts.contains(id)).count();
    if let (0, Some(part)) = (fitted, parts.first()) {
        return Err(format!("{} is not fitted", bench.circuit.parts[part.at()].name));
    }
    let unknowns = unknowns(bench, parts);
    for (id, _) in bench.amplifiers().into_iter().filter(|(id, _)| parts.contains(id)) {
        bench.rails_of(id)?;
    }
    let mut found = Found::of(0.0);
    found.working.push("at rest: capacitors open, signal sources quiet".into());
    let still = bench.still(stand, &unknowns)?;
    found.working.extend(still.drawn.told.iter().cloned());
    found.typical.extend(still.drawn.typical.iter().cloned());
    for fed in fed(bench, stand, &unknowns, parts)? {
        let (quiescent, typical) = quiescent(bench, fed.id)?;
        let [high, low] = fed.volts;
        let own = quiescent * (high - low);
        let load = if fed.flows > 0.0 { fed.flows * (high - fed.out) } else { -fed.flows * (fed.out - low) };
        found.value += own + load;
        if typical {
            found.typical.insert(bench.sheet(fed.id).name.clone());
        }
        found.working.push(line(bench, &fed, own, load, Unit::Watt));
        // A whole device is warmed by all that is in it.
        let whole = bench.circuit.parts[fed.id.at()].device() == &**of;
        if let Some((count, names)) = unnamed(bench, fed.id).filter(|_| whole) {
            found.value += own * count;
            found.working.push(format!("{names}: {} ({})", say(own * count, Unit::Watt), bench.sheet(fed.id).name));
        }
    }
    Ok(found)
}
