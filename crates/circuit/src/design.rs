//! The `design` block: band, supplies, sources, pairs, settings.

use notation::tree::{BlockKind, Heading, Span, Word};

use crate::assemble::{Assembly, File, Place};
use crate::circuit::{ControlKind, GROUND, NodeId, Pair, Position, Setting, Source, SourceKind, Supply};
use crate::piece::{PieceKind, StatePiece, Weight, WrittenPosition};

/// Takes the design block's entries into the circuit, which has its stages already.
pub(crate) fn design(a: &mut Assembly, file: &File) {
    let mut first: Option<u32> = None;
    let mut reference = None;
    let mut written_sources = Vec::new();
    let mut settings = Vec::new();
    for (b, block) in file.blocks.iter().enumerate() {
        if block.kind != Some(BlockKind::Design) {
            continue;
        }
        let b = b as u32;
        if first.replace(b).is_some() {
            let place = Place { block: b, entry: None, span: Span::new(0, 6) };
            a.find(
                Weight::Error,
                place,
                "second-design",
                "a file has one design block: these entries count as if they stood in the first".into(),
                &[],
            );
        }
        if let Some(Heading::Design { title: Some(title) }) = block.heading.map(|h| &h.tree) {
            a.circuit.title.get_or_insert(title.text.clone());
        }
        for (e, piece) in block.entries.iter().enumerate() {
            let at = |span: Span| Place { block: b, entry: Some(e as u32), span };
            match &piece.kind {
                PieceKind::Band(Some(low), Some(high)) => a.circuit.band = (*low, *high),
                PieceKind::Reference(Some(f)) => reference = Some(*f),
                PieceKind::Supply(rails) => {
                    let rails: Vec<_> =
                        rails.iter().map(|(w, volts)| (a.node(w, b, Some(e as u32)), volts.clone())).collect();
                    a.free.extend(rails.iter().map(|r| r.0));
                    a.circuit.supplies.push(Supply { rails });
                }
                PieceKind::Source { node: Some(node), current, level } => {
                    written_sources.push((node.clone(), *current, *level, at(node.span)))
                }
                PieceKind::Balanced { name: Some(name), hot: Some(hot), cold: Some(cold) } => {
                    pair(a, name, hot, cold, at(name.span))
                }
                PieceKind::Setting { name: Some(name), states } => {
                    settings.push((name.clone(), states.clone(), at(name.span)))
                }
                _ => {}
            }
        }
    }
    let (low, high) = a.circuit.band;
    a.circuit.reference = reference.unwrap_or(if (low..=high).contains(&1e3) { 1e3 } else { (low * high).sqrt() });
    let any = !written_sources.is_empty();
    for (node, current, level, place) in written_sources {
        source(a, &node, current, level, place);
    }
    if !any {
        implied_sources(a);
    }
    for (name, states, place) in settings {
        setting(a, &name, &states, place);
    }
}

fn pair(a: &mut Assembly, name: &Word, hot: &Word, cold: &Word, place: Place) {
    let missing: Vec<&Word> = [hot, cold].into_iter().filter(|w| !a.named.contains_key(&w.text)).collect();
    if let Some(word) = missing.first() {
        let near = nearest_node(a, &word.text);
        let place = Place { span: word.span, ..place };
        let hint = near.as_ref().map_or_else(String::new, |n| format!(": did you mean {n}"));
        a.find(Weight::Error, place, "unknown-node", format!("no part stands at {}{hint}", word.text), &[&word.text]);
        return;
    }
    if a.named.contains_key(&name.text) || a.circuit.pair(&name.text).is_some() {
        a.find(
            Weight::Error,
            place,
            "repeated-name",
            format!("{} names something else already: a pair needs a name of its own", name.text),
            &[&name.text],
        );
        return;
    }
    let (hot, cold) = (a.node(hot, place.block, place.entry), a.node(cold, place.block, place.entry));
    a.circuit.pairs.push(Pair { name: name.text.clone(), hot, cold });
}

fn nearest_node(a: &Assembly, text: &str) -> Option<String> {
    let names = a.circuit.nodes.iter().filter(|n| !n.unnamed).map(|n| &*n.name);
    notation::near::nearest(text, names).map(str::to_string)
}

fn source(a: &mut Assembly, name: &Word, current: bool, level: Option<f64>, place: Place) {
    let ends = match a.circuit.pair(&name.text) {
        Some(pair) => Some((pair.hot, pair.cold)),
        None => a.named.get(&name.text).map(|n| (*n, GROUND)),
    };
    let Some((plus, minus)) = ends else {
        let near = nearest_node(a, &name.text);
        let hint = near.as_ref().map_or_else(
            || "a source stands at a node or a declared pair".to_string(),
            |n| format!("did you mean {n}"),
        );
        a.find(Weight::Error, place, "unknown-node", format!("no part stands at {}: {hint}", name.text), &[&name.text]);
        return;
    };
    if plus == GROUND || a.circuit.supplies.iter().any(|s| s.rails.iter().any(|r| r.0 == plus)) {
        a.find(
            Weight::Error,
            place,
            "source-at-rail",
            format!("{} is held by a supply: a source needs a node of its own", name.text),
            &[&name.text],
        );
        return;
    }
    if a.circuit.sources.iter().any(|s| (s.plus, s.minus) == (plus, minus)) {
        a.find(
            Weight::Error,
            place,
            "repeated-source",
            format!("{} has a source already: two at one place fight each other", name.text),
            &[&name.text],
        );
        return;
    }
    a.free.extend([plus, minus]);
    a.places.sources.push(Some(place));
    let kind = if current { SourceKind::Current } else { SourceKind::Voltage };
    a.circuit.sources.push(Source { name: name.text.clone(), plus, minus, kind, level, implied: false });
}

/// Without any `source`, each input port that no stage drives has one of unknown level; a declared pair of ports shares one.
fn implied_sources(a: &mut Assembly) {
    let driven: Vec<NodeId> = a.circuit.stages.iter().flat_map(|s| s.outputs.clone()).collect();
    let held: Vec<NodeId> =
        a.circuit.supplies.iter().flat_map(|s| s.rails.iter().map(|r| r.0)).chain([GROUND]).collect();
    let mut open: Vec<NodeId> = Vec::new();
    for node in a.circuit.stages.iter().flat_map(|s| s.inputs.clone()) {
        if !driven.contains(&node) && !held.contains(&node) && !open.contains(&node) {
            open.push(node);
        }
    }
    let mut done: Vec<NodeId> = Vec::new();
    for &node in &open {
        if done.contains(&node) {
            continue;
        }
        let pair = a
            .circuit
            .pairs
            .iter()
            .find(|p| (p.hot == node && open.contains(&p.cold)) || (p.cold == node && open.contains(&p.hot)))
            .cloned();
        let (name, plus, minus) = match pair {
            Some(p) => (p.name, p.hot, p.cold),
            None => (a.circuit.nodes[node.at()].name.clone(), node, GROUND),
        };
        done.extend([plus, minus]);
        a.free.extend([plus, minus]);
        a.places.sources.push(None);
        a.circuit.sources.push(Source { name, plus, minus, kind: SourceKind::Voltage, level: None, implied: true });
    }
}

fn setting(a: &mut Assembly, name: &Word, states: &[StatePiece], place: Place) {
    if a.circuit.settings.iter().any(|s| s.name == name.text) {
        a.find(
            Weight::Error,
            place,
            "repeated-setting",
            format!("there are two settings called {}: the first one counts", name.text),
            &[&name.text],
        );
        return;
    }
    let mut positions = Vec::new();
    for state in states {
        match crate::query::position(&a.circuit, state) {
            Ok(Some(found)) => match positions.iter().find(|p: &&(_, Position)| p.0 == found.0) {
                Some((_, first)) => {
                    let fault = crate::query::set_twice(&a.circuit, state, *first, found.1);
                    let names = state.part.part.text.to_string();
                    a.find(Weight::Error, Place { span: fault.span, ..place }, fault.id, fault.message, &[&names]);
                }
                None => positions.push(found),
            },
            Ok(None) => {}
            Err(fault) => {
                let place = Place { span: fault.span, ..place };
                let names = state.part.part.text.to_string();
                let f = a.find(Weight::Error, place, fault.id, fault.message, &[&names]);
                f.fixes = fault.fixes;
            }
        }
    }
    a.places.settings.push(place);
    a.circuit.settings.push(Setting { name: name.text.clone(), positions });
}

/// A written position as this control has it, or what it can be set to.
pub(crate) fn fit(kind: &ControlKind, written: WrittenPosition) -> Result<Position, String> {
    match (kind, written) {
        (ControlKind::Travel(_), WrittenPosition::Share(p)) => Ok(Position::Travel(p)),
        (ControlKind::Travel(_), _) => Err("turns from 0 % to 100 %".into()),
        (ControlKind::Steps { plain: true, .. }, WrittenPosition::Open | WrittenPosition::Number(0)) => {
            Ok(Position::Step(0))
        }
        (ControlKind::Steps { plain: true, .. }, WrittenPosition::Closed | WrittenPosition::Number(1)) => {
            Ok(Position::Step(1))
        }
        (ControlKind::Steps { plain: true, .. }, _) => Err("is open or closed".into()),
        (ControlKind::Steps { positions, .. }, WrittenPosition::Number(n)) if positions.contains(&n) => {
            Ok(Position::Step(n))
        }
        (ControlKind::Steps { positions, .. }, _) => {
            Err(format!("has the positions {}", crate::circuit::Circuit::list(positions)))
        }
    }
}
