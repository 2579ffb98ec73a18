//! The circuit as it is drawn: names, values as text, and who is joined to whom, for the crate that lays it out.

use std::sync::Arc;

use crate::database::{Desk, Document, assembled, drawn};
use crate::unfinished::unfinished;
use circuit::{Circuit, GROUND, Given, NodeId, Part, PartKind, Position, SourceKind};
use drawing::{Kind, Node, Role};
use quantity::{Style, Unit};

/// A file's circuit, ready to be drawn. What is not finished is left out, and a note says so.
#[salsa::tracked(returns(clone))]
pub fn drawn_out(db: &dyn Desk, document: Document) -> Arc<drawing::Circuit> {
    let circuit = drawn(db, document);
    let parts: Vec<drawing::Part> = circuit.parts.iter().map(|p| part(&circuit, p)).collect();
    let mut notes = Vec::new();
    let supplies = supplies(&circuit);
    if !supplies.is_empty() {
        notes.push(format!("Supplies: {}.", supplies.join(", ")));
    }
    if parts.iter().any(|p| p.external) {
        notes.push("Dashed: outside, in the circuit but not on the parts list.".into());
    }
    if parts.iter().any(|p| p.unfitted) {
        notes.push("Crossed out: has its place, is not fitted.".into());
    }
    for torn in unfinished(db, document).into_iter().filter(|u| !u.alone) {
        let file = torn.file.map(|f| format!("{f}, ")).unwrap_or_default();
        notes.push(format!("{file}line {} is unfinished: what it adds may be missing here.", torn.lines.start + 1));
    }
    // Parts of a stage whose name another one has stand where they are written all the same.
    let unread = assembled(db, document).circuit.unknown.clone();
    notes.extend(unread.map(|why| format!("Not all of the circuit is known: {why}.")));
    Arc::new(drawing::Circuit {
        title: circuit.title.as_ref().map(|t| t.to_string()),
        nodes: nodes(&circuit),
        parts,
        stages: circuit
            .stages
            .iter()
            .map(|s| drawing::Stage {
                name: s.name.to_string(),
                inputs: numbers(&s.inputs),
                outputs: numbers(&s.outputs),
            })
            .collect(),
        sources: sources(&circuit),
        notes,
    })
}

fn numbers(nodes: &[NodeId]) -> Vec<usize> {
    nodes.iter().map(|n| n.at()).collect()
}

fn nodes(circuit: &Circuit) -> Vec<Node> {
    let mut all: Vec<Node> = circuit
        .nodes
        .iter()
        .map(|n| Node { name: n.name.to_string(), unnamed: n.unnamed, role: Role::Signal })
        .collect();
    for supply in &circuit.supplies {
        for (i, (node, volts)) in supply.rails.iter().enumerate() {
            // Where the voltage is not known, the second of two is the lower one, as people write them.
            let low = volts.number().map_or(i > 0, |v| v < 0.0);
            all[node.at()].role = if low { Role::Low } else { Role::High };
        }
    }
    if let Some(ground) = all.get_mut(GROUND.at()) {
        ground.role = Role::Ground;
    }
    all
}

/// `vpos +12 V`, each rail once.
fn supplies(circuit: &Circuit) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    for (node, volts) in circuit.supplies.iter().flat_map(|s| &s.rails) {
        let volts = match volts {
            Given::Number(v) => match quantity::exact(*v, Unit::Volt, Style::default()) {
                Some(text) if *v > 0.0 => format!("+{text}"),
                Some(text) => text,
                None => "of unknown voltage".into(),
            },
            Given::Unknown(_) => "of unknown voltage".into(),
        };
        let line = format!("{} {volts}", circuit.node_name(*node));
        if !said.contains(&line) {
            said.push(line);
        }
    }
    said
}

fn part(circuit: &Circuit, part: &Part) -> drawing::Part {
    drawing::Part {
        name: part.name.to_string(),
        value: value(part),
        stage: part.stage.at(),
        kind: kind(circuit, part),
        external: part.external,
        unfitted: part.unfitted,
    }
}

/// A value as it stands beside the symbol; what is not known is a question mark.
fn value(part: &Part) -> String {
    let shown = |given: &Given, unit| match given {
        Given::Number(x) => quantity::computed(*x, unit, Style::default()).unwrap_or_else(|| "?".into()),
        Given::Unknown(_) => "?".into(),
    };
    match &part.kind {
        PartKind::Resistor { ohms, .. } => shown(ohms, Unit::Ohm),
        PartKind::Capacitor { farads, .. } => shown(farads, Unit::Farad),
        PartKind::Inductor { henries, .. } => shown(henries, Unit::Henry),
        PartKind::Variable { ohms, taper, .. } => {
            format!("{} {}", shown(ohms, Unit::Ohm), crate::part_words::law(taper))
        }
        PartKind::Switch { .. } => String::new(),
        PartKind::Amplifier { sheet, .. } => sheet.name.to_string(),
    }
}

fn kind(circuit: &Circuit, part: &Part) -> Kind {
    let pair = |ends: &[NodeId; 2]| [ends[0].at(), ends[1].at()];
    let at = |control: circuit::ControlId| circuit.controls.get(control.at());
    match &part.kind {
        PartKind::Resistor { ends, .. } => Kind::Resistor(pair(ends)),
        PartKind::Capacitor { ends, polar, .. } => Kind::Capacitor(pair(ends), *polar),
        PartKind::Inductor { ends, .. } => Kind::Inductor(pair(ends)),
        PartKind::Variable { control, ccw, wiper, cw, .. } => Kind::Variable {
            ccw: ccw.map(NodeId::at),
            wiper: wiper.at(),
            cw: cw.map(NodeId::at),
            preset: at(*control).is_some_and(|c| c.preset),
        },
        PartKind::Switch { control, contacts, .. } => {
            let rest = match at(*control).map(|c| c.rest) {
                Some(Position::Step(n)) => n,
                _ => 1,
            };
            let plain = at(*control).is_some_and(|c| matches!(c.kind, circuit::ControlKind::Steps { plain: true, .. }));
            match contacts.as_slice() {
                [(n, ends)] if plain => Kind::Switch(pair(ends), rest == *n),
                all => Kind::Selector {
                    pole: all.first().map_or(0, |(_, ends)| ends[0].at()),
                    contacts: all.iter().map(|(n, ends)| (*n, ends[1].at())).collect(),
                    at: rest,
                },
            }
        }
        PartKind::Amplifier { plus, minus, out, .. } => Kind::Amplifier {
            plus: plus.at(),
            minus: minus.at(),
            out: out.at(),
            rails: circuit.rails_of(part).map(|[p, n]| [p.at(), n.at()]),
        },
    }
}

fn sources(circuit: &Circuit) -> Vec<drawing::Source> {
    let shown = |s: &circuit::Source| {
        let unit = if s.kind == SourceKind::Current { Unit::Ampere } else { Unit::Volt };
        s.level.and_then(|level| quantity::computed(level, unit, Style::default())).unwrap_or_default()
    };
    // A port that nothing is said of is no source that one would draw, but a connection.
    let written = circuit.sources.iter().filter(|s| !s.implied);
    written
        .map(|s| drawing::Source {
            name: s.name.to_string(),
            value: shown(s),
            plus: s.plus.at(),
            minus: s.minus.at(),
            current: s.kind == SourceKind::Current,
        })
        .collect()
}
