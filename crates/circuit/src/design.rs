//! The `design` block: band, supplies, sources, pairs, settings.

use notation::tree::{BlockKind, Heading, PartRef, Span, Word};
use rustc_hash::FxHashSet;

use crate::assemble::{Assembly, File, Place};
use crate::circuit::{
    Accepted, Circuit, ControlId, ControlKind, GROUND, NodeId, Pair, Part, PartId, PartKind, Position, Setting, Source,
    SourceKind, Trim,
};
use crate::off::Off;
use crate::piece::{PieceKind, StatePiece, TrimPiece, Weight, WrittenPosition};

/// Takes the design block's entries into the circuit, which has its stages already.
pub(crate) fn design(a: &mut Assembly, file: &File) {
    let mut first: Option<u32> = None;
    let mut reference = None;
    let mut written_sources = Vec::new();
    let mut settings = Vec::new();
    let mut off = Off::default();
    let mut trims = Vec::new();
    let mut lost = Vec::new();
    let mut given: Vec<&'static str> = Vec::new();
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
            let once = match &piece.kind {
                PieceKind::Band(..) => Some("band"),
                PieceKind::Reference(_) => Some("reference"),
                PieceKind::Temperature(_) => Some("temperature"),
                _ => None,
            };
            if let Some(word) = once {
                if given.contains(&word) {
                    let message = format!("the {word} is given twice: take one of the two away");
                    let place = at(Span::new(0, word.len()));
                    a.find(Weight::Error, place, "repeated-entry", message, &[]);
                    if word == "temperature" {
                        a.circuit.temperature = f64::NAN;
                    } else {
                        a.circuit.unknown.get_or_insert(format!("the {word} is given twice").into());
                    }
                    continue;
                }
                given.push(word);
            }
            match &piece.kind {
                PieceKind::Band(Some(low), Some(high)) => a.circuit.band = (*low, *high),
                PieceKind::Reference(Some(f)) => reference = Some(*f),
                // Where statements hold, and where a reading is taken, is in every figure: none is shown for a band that
                // nobody wrote.
                PieceKind::Band(..) => {
                    a.circuit.unknown.get_or_insert("the band cannot be read".into());
                }
                PieceKind::Reference(None) => {
                    a.circuit.unknown.get_or_insert("the reference cannot be read".into());
                }
                PieceKind::Supply(rails) => crate::supply::supply(a, rails, b, e as u32),
                PieceKind::Source { node: Some(node), current, level } => {
                    if level.is_none() {
                        // Without its unit not even what it holds, a voltage or a current, is known.
                        let why = format!("{}'s source has no readable level", node.text);
                        a.circuit.unknown.get_or_insert(why.into());
                    }
                    written_sources.push((node.clone(), *current, *level, at(node.span)))
                }
                PieceKind::Balanced { name: Some(name), hot: Some(hot), cold: Some(cold), vague } => {
                    if *vague {
                        let why = format!("what {} is a pair of cannot be read", name.text);
                        a.circuit.unknown.get_or_insert(why.into());
                    }
                    pair(a, name, hot, cold, at(name.span))
                }
                PieceKind::Setting { name: Some(name), states, lost } => {
                    settings.push((name.clone(), states.clone(), *lost, at(name.span)))
                }
                PieceKind::Tolerance { shares, lost } => off.tolerance(a, shares, *lost, at),
                PieceKind::Temperature(t) => a.circuit.temperature = t.unwrap_or(f64::NAN),
                PieceKind::Matched { parts, share, vague } => {
                    let first = parts.first().map_or(Span::default(), |p| p.part.span);
                    off.matched(parts, *share, *vague, at(first));
                }
                PieceKind::Misspelt(word, meant @ ("tolerance" | "matched"), strays) => {
                    off.misspelt(a, word, meant, &strays.names, &strays.parts);
                }
                // A line that begins with a figure, its word gone: which of them it was is not known.
                PieceKind::Misspelt(word, "", _) => {
                    a.circuit.unknown.get_or_insert(format!("what {} stands for is not said", word.text).into());
                }
                PieceKind::Misspelt(word, meant, strays) => {
                    misspelt(a, word, meant, at(word.span), &mut settings);
                    if *meant == "trim" {
                        lost.push((strays.parts.clone(), word.text.clone()));
                    }
                }
                PieceKind::Trim(trim) => trims.push(((**trim).clone(), at(trim.part.part.span))),
                PieceKind::Accept(rule, Some(what), Some(reason)) => {
                    let words: Vec<&str> = rule.iter().map(|w| &*w.text).collect();
                    a.places.accepted.push(at(rule.first().map_or(what.span, |r| r.span.to(what.span))));
                    a.circuit.accepted.push(Accepted {
                        rule: words.join("-").into(),
                        what: what.text.clone(),
                        reason: reason.text.clone(),
                    });
                }
                _ => {}
            }
        }
    }
    crate::supply::grounded(a);
    let (low, high) = a.circuit.band;
    a.circuit.reference = reference.unwrap_or(if (low..=high).contains(&1e3) { 1e3 } else { (low * high).sqrt() });
    let any = !written_sources.is_empty();
    for (node, current, level, place) in written_sources {
        source(a, &node, current, level, place);
    }
    if !any {
        // Sources stand at ports then.
        if let Some(why) = a.circuit.stages.iter().find_map(|s| s.unread.clone()) {
            a.circuit.unknown.get_or_insert(why);
        }
        implied_sources(a);
    }
    // Trims come first: what they set is no control.
    for (piece, place) in trims {
        trim(a, piece, place);
    }
    for (parts, word) in lost {
        for part in parts {
            let Some(control) = a.circuit.control(&part.text) else { continue };
            // Without its word the line begins with the part.
            let line = if *word == *part.text { word.to_string() } else { format!("{word} {}", part.text) };
            crate::rested::unset(a, control, &format!("what {line} says cannot be read").into());
        }
    }
    let mut named = FxHashSet::default();
    for (name, states, lost, place) in settings {
        let again = !named.insert(name.text.clone());
        setting(a, &name, (&states, lost), again, place);
    }
    off.settle(a);
}

/// An entry whose first word is a slip away from `meant`: what such an entry bears on is not known.
fn misspelt(
    a: &mut Assembly,
    word: &Word,
    meant: &str,
    place: Place,
    settings: &mut Vec<(Word, Vec<StatePiece>, bool, Place)>,
) {
    match meant {
        "band" | "reference" | "supply" | "source" | "balanced" => {
            a.circuit.unknown.get_or_insert(format!("what {} says cannot be read", word.text).into());
        }
        "temperature" => a.circuit.temperature = f64::NAN,
        // Without positions it puts nobody knows what to nobody knows where.
        "setting" => settings.push((word.clone(), Vec::new(), true, place)),
        // Presets are lost with their trims.
        _ => {}
    }
}

/// The parts of a name: itself, and its copies where `all` stands before it.
pub(crate) fn parts_of(circuit: &Circuit, part: &PartRef) -> Vec<PartId> {
    let is = |p: &Part| *p.name == *part.part.text || (part.all && p.copy_of.as_deref() == Some(&*part.part.text));
    (0..circuit.parts.len()).filter(|i| is(&circuit.parts[*i])).map(|i| PartId(i as u32)).collect()
}

fn trim(a: &mut Assembly, piece: TrimPiece, place: Place) {
    let part = &piece.part.part;
    let travels = |c: &crate::circuit::ControlId| matches!(a.circuit.controls[c.at()].kind, ControlKind::Travel(_));
    let named = crate::placed::controls(&a.circuit, &piece.part);
    match named.first().copied().filter(travels) {
        Some(control) if a.circuit.trims.iter().any(|t| t.control == control) => {
            let message = format!("{} is trimmed already: a preset is set by one quantity", part.text);
            a.find(Weight::Error, place, "repeated-trim", message, &[&part.text]);
            // Which of the two is meant is not known.
            let why: notation::Name = format!("{} is trimmed twice", part.text).into();
            a.circuit.trims.iter_mut().filter(|t| t.control == control).for_each(|t| t.unread = Some(why.clone()));
        }
        Some(_) => {
            let all: Vec<ControlId> = named.iter().copied().filter(travels).collect();
            let mut unread = piece.unreadable.then(|| format!("what {} is trimmed to cannot be read", part.text));
            if let [first, copy, ..] = all[..] {
                let first = a.circuit.controls[first.at()].name.to_string();
                let copy = a.circuit.controls[copy.at()].name.to_string();
                let message =
                    format!("a trim sets one preset by one quantity: {first} and {copy} each want a line of their own");
                a.find(Weight::Error, place, "trim-of-all", message, &[&first, &copy]);
                unread = Some(format!("{} and its copies are trimmed by one quantity", part.text));
            }
            for (i, control) in all.iter().enumerate() {
                a.circuit.controls[control.at()].preset = true;
                match (&piece.quantity, &unread) {
                    (Some(quantity), _) if i == 0 => {
                        a.places.trims.push(place);
                        a.circuit.trims.push(Trim {
                            control: *control,
                            quantity: quantity.clone(),
                            target: piece.target,
                            signed: piece.signed,
                            unread: unread.as_deref().map(Into::into),
                        });
                    }
                    (_, why) => {
                        let said = || format!("what {} is trimmed by is not written", part.text);
                        crate::rested::unset(a, *control, &why.clone().unwrap_or_else(said).into());
                    }
                }
            }
        }
        None if !parts_of(&a.circuit, &piece.part).is_empty() => {
            let message = format!("{} does not turn: a preset is a variable resistor", part.text);
            a.find(Weight::Error, place, "fixed-part-set", message, &[&part.text]);
            // Either it is meant to turn, or another part is meant to be set; which, is not known.
            let why: notation::Name = format!("{} is trimmed and does not turn", part.text).into();
            for id in parts_of(&a.circuit, &piece.part) {
                crate::rested::make_unknown(&mut a.circuit.parts[id.at()].kind, &why);
            }
            untrimmed(a, &why);
        }
        None => {
            let fault = unknown_part(&a.circuit, part);
            let fixes = fault.fixes.clone();
            // It is a preset that another entry does not trim; which, is not known.
            let why = format!("there is no {} to trim, so what is trimmed is not known", part.text).into();
            untrimmed(a, &why);
            a.find(Weight::Error, place, fault.id, fault.message, &[&part.text]).fixes = fixes;
        }
    }
}

/// Takes the value from all that may be a preset and has no trim so far.
fn untrimmed(a: &mut Assembly, why: &notation::Name) {
    let travels = |c: &crate::circuit::Control| matches!(c.kind, ControlKind::Travel(_)) && !c.preset;
    let all = a.circuit.controls.iter().enumerate().filter(|(_, c)| travels(c)).map(|(i, _)| ControlId(i as u32));
    for control in all.collect::<Vec<_>>() {
        crate::rested::unset(a, control, why);
    }
}

pub(crate) fn unknown_part(circuit: &Circuit, part: &notation::tree::PartName) -> notation::tree::Fault {
    let word = Word { text: part.text.clone(), span: part.span };
    if let Some(wrong) = crate::placed::in_copies_only(circuit, &word) {
        return wrong;
    }
    crate::placed::unknown(&word, "part", circuit.parts.iter().map(|p| &*p.name))
}

fn pair(a: &mut Assembly, name: &Word, hot: &Word, cold: &Word, place: Place) {
    let missing: Vec<&Word> = [hot, cold].into_iter().filter(|w| !a.named.contains_key(&w.text)).collect();
    if let Some(word) = missing.first() {
        let near = nearest_node(a, &word.text);
        let place = Place { span: word.span, ..place };
        let hint = near.as_ref().map_or_else(String::new, |n| format!(": did you mean {n}"));
        let message = format!("no part stands at {}{hint}", word.text);
        let fault = a.find(Weight::Error, place, "unknown-node", message, &[&word.text]);
        fault
            .fixes
            .extend(near.map(|n| notation::tree::Fix { title: format!("write {n}"), edits: vec![(word.span, n)] }));
        let why = format!("no part stands at {}, an end of {}", word.text, name.text);
        a.circuit.lost_pairs.push((name.text.clone(), why.into()));
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
        if a.circuit.pair(&name.text).is_some() {
            a.circuit.unknown.get_or_insert(format!("there are two pairs called {}", name.text).into());
        }
        return;
    }
    let (hot, cold) = (a.node(hot, place.block, place.entry), a.node(cold, place.block, place.entry));
    a.circuit.pairs.push(Pair { name: name.text.clone(), hot, cold });
}

fn nearest_node(a: &mut Assembly, text: &str) -> Option<String> {
    if !a.may_guess() {
        return None;
    }
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
        let message = format!("no part stands at {}: {hint}", name.text);
        let fault = a.find(Weight::Error, place, "unknown-node", message, &[&name.text]);
        fault
            .fixes
            .extend(near.map(|n| notation::tree::Fix { title: format!("write {n}"), edits: vec![(name.span, n)] }));
        // What drives, and what it stands at, is in every reading.
        a.circuit.unknown.get_or_insert(format!("where the source {} stands is not known", name.text).into());
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
        a.circuit.unknown.get_or_insert(format!("{} has a supply and a source", name.text).into());
        return;
    }
    // Behind a resistance of its own the output lets a source decide; else both hold the node.
    let holds = |p: &&Part| match &p.kind {
        PartKind::Amplifier { sheet, out, .. } => {
            !p.unfitted && *out == plus && !sheet.output_resistance.nominal().is_some_and(|r| r > 0.0)
        }
        _ => false,
    };
    if let Some(part) = a.circuit.parts.iter().find(holds).filter(|_| !current && minus == GROUND) {
        let holder = part.name.to_string();
        let message = format!("{} is held by {holder}'s output: a source needs a node of its own", name.text);
        a.find(Weight::Error, place, "source-at-rail", message, &[&name.text, &holder]);
        a.circuit.unknown.get_or_insert(format!("{holder} and a source both hold {}", name.text).into());
        return;
    }
    if let Some(first) = a.circuit.sources.iter().find(|s| (s.plus, s.minus) == (plus, minus)) {
        let kind = if current { SourceKind::Current } else { SourceKind::Voltage };
        let message = repeated_source(first, kind, level);
        a.find(Weight::Error, place, "repeated-source", message, &[&name.text]);
        // Which of the two is meant is not known.
        let why = format!("{} has two sources", name.text);
        for s in a.circuit.sources.iter_mut().filter(|s| (s.plus, s.minus) == (plus, minus)) {
            if s.kind != kind {
                a.circuit.unknown.get_or_insert(why.as_str().into());
            }
            s.two |= s.level != level;
            s.level = s.level.filter(|l| Some(*l) == level);
        }
        return;
    }
    a.free.extend([plus, minus]);
    a.places.sources.push(Some(place));
    let kind = if current { SourceKind::Current } else { SourceKind::Voltage };
    a.circuit.sources.push(Source { name: name.text.clone(), plus, minus, kind, level, implied: false, two: false });
}

/// What is said of a source where one stands already, and which of the two counts.
fn repeated_source(first: &Source, kind: SourceKind, level: Option<f64>) -> String {
    let name = &first.name;
    let unit = if first.kind == SourceKind::Current { quantity::Unit::Ampere } else { quantity::Unit::Volt };
    let size = first.level.and_then(|l| quantity::computed(l, unit, quantity::Style::default()));
    let before = size.map_or_else(String::new, |size| format!(" of {size}"));
    match (first.kind == kind, kind) {
        (true, _) if first.level == level && level.is_some() => {
            format!("{name} has this source already, and it counts once: one of the two entries is enough")
        }
        (true, SourceKind::Voltage) => format!(
            "{name} has a source{before} already, and two voltages at one place fight each other: neither counts until one is taken away"
        ),
        (true, SourceKind::Current) => format!(
            "{name} has a source{before} already, and two currents at one place are one of their sum: neither counts until one entry says it"
        ),
        (false, _) => {
            format!("{name} has a source{before} already, of the other kind: neither counts until one is taken away")
        }
    }
}

/// Without any `source`, each input port that no stage drives has one of unknown level; a declared pair of ports shares one.
fn implied_sources(a: &mut Assembly) {
    let driven: FxHashSet<NodeId> = a.circuit.stages.iter().flat_map(|s| s.outputs.clone()).collect();
    let held = a.held();
    let mut open: Vec<NodeId> = Vec::new();
    let mut is_open: FxHashSet<NodeId> = FxHashSet::default();
    for node in a.circuit.stages.iter().flat_map(|s| s.inputs.clone()) {
        if !driven.contains(&node) && !held.contains(&node) && is_open.insert(node) {
            open.push(node);
        }
    }
    let mut done: FxHashSet<NodeId> = FxHashSet::default();
    for &node in &open {
        if done.contains(&node) {
            continue;
        }
        let pair = a
            .circuit
            .pairs
            .iter()
            .find(|p| (p.hot == node && is_open.contains(&p.cold)) || (p.cold == node && is_open.contains(&p.hot)))
            .cloned();
        let (name, plus, minus) = match pair {
            Some(p) => (p.name, p.hot, p.cold),
            None => (a.circuit.nodes[node.at()].name.clone(), node, GROUND),
        };
        done.extend([plus, minus]);
        a.free.extend([plus, minus]);
        a.places.sources.push(None);
        a.circuit.sources.push(Source {
            name,
            plus,
            minus,
            kind: SourceKind::Voltage,
            level: None,
            implied: true,
            two: false,
        });
    }
}

/// Takes a setting in: its states, and whether more stands there than could be read.
fn setting(a: &mut Assembly, name: &Word, (states, lost): (&[StatePiece], bool), again: bool, place: Place) {
    if again {
        a.find(
            Weight::Error,
            place,
            "repeated-setting",
            format!("there are two settings called {}: give one another name", name.text),
            &[&name.text],
        );
        // Neither is sure to be the one that is meant.
        let why: notation::Name = format!("there are two settings called {}", name.text).into();
        a.circuit.settings.iter_mut().filter(|s| s.name == name.text).for_each(|s| s.unread.push((None, why.clone())));
        return;
    }
    let mut positions = Vec::new();
    let mut unread: Vec<(Option<ControlId>, notation::Name)> = Vec::new();
    let nowhere = |what: &str| notation::Name::from(format!("where {} puts {what} cannot be read", name.text));
    if states.is_empty() || lost {
        unread.push((None, format!("what {} sets cannot be read", name.text).into()));
    }
    for state in states {
        match crate::placed::placed(&a.circuit, state) {
            Ok(all) if all.is_empty() => {
                let part = &state.part.part.text;
                unread.push((a.circuit.control(part), nowhere(part)));
            }
            Ok(all) => {
                for found in all {
                    match positions.iter().find(|p: &&(_, Position)| p.0 == found.0) {
                        Some((_, first)) => {
                            unread.push((
                                Some(found.0),
                                format!("{} sets {} twice", name.text, state.part.part.text).into(),
                            ));
                            let fault = crate::placed::set_twice(&a.circuit, state, *first, found.1);
                            let names = state.part.part.text.to_string();
                            a.find(
                                Weight::Error,
                                Place { span: fault.span, ..place },
                                fault.id,
                                fault.message,
                                &[&names],
                            );
                        }
                        None => positions.push(found),
                    }
                }
            }
            Err(fault) => {
                let place = Place { span: fault.span, ..place };
                let names = state.part.part.text.to_string();
                let control = a.circuit.control(&names);
                unread.push((control, nowhere(&names)));
                // Which of the two is meant is not for a tool to say.
                let why: Option<notation::Name> = match fault.id {
                    "preset-set" => Some(format!("{names} is set by {} and by a trim", name.text).into()),
                    "fixed-part-set" => Some(format!("{names} is fixed, and {} sets it", name.text).into()),
                    _ => None,
                };
                if let Some(why) = why {
                    for id in parts_of(&a.circuit, &state.part) {
                        crate::rested::make_unknown(&mut a.circuit.parts[id.at()].kind, &why);
                    }
                    for trim in a.circuit.trims.iter_mut().filter(|t| Some(t.control) == control) {
                        trim.unread.get_or_insert(why.clone());
                    }
                }
                let f = a.find(Weight::Error, place, fault.id, fault.message, &[&names]);
                f.fixes = fault.fixes;
            }
        }
    }
    a.places.settings.push(place);
    a.circuit.settings.push(Setting { name: name.text.clone(), positions, unread });
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
