//! Stages and copies: which blocks make them, and what becomes of names that stand twice.

use notation::Name;

use rustc_hash::{FxHashMap as HashMap, FxHashSet};

use notation::tree::{BlockKind, Grade, Heading, Span, Word};

use crate::assemble::{Assembly, File, FileBlock, Place, stage_heading};
use crate::circuit::{Circuit, NodeId, Stage, StageId};
use crate::copies::{self, Copy, NoPattern, Patterns};
use crate::in_stage::InStage;
use crate::piece::{Piece, PieceKind, Weight};
use crate::rested::Rested;

/// Makes the stages with their nodes and parts, copies in their turn.
pub(crate) fn stages(a: &mut Assembly, file: &File) {
    let entries = file.blocks.iter().map(|b| b.entries.len()).sum();
    let mut seen = HashMap::with_capacity_and_hasher(entries, Default::default());
    let mut rested = Rested::default();
    let copied = file.blocks.iter().any(|b| b.kind == Some(BlockKind::Use));
    let shared = if copied { copies::shared(file) } else { Default::default() };
    let patterns = Patterns::new(file);
    for (b, block) in file.blocks.iter().enumerate() {
        let b = b as u32;
        match block.kind {
            Some(BlockKind::Stage) => {
                let nameless =
                    Word { text: format!("stage {}", a.circuit.stages.len() + 1).into(), span: Span::default() };
                let (name, ports) = stage_heading(block).unwrap_or((&nameless, None));
                let id = open_stage(a, b, name, ports);
                // What stands there too may have been a port.
                if block.heading.and_then(|h| h.fault.as_ref()).is_some_and(|f| f.id == "heading-extra") {
                    let why = format!("the heading of {} cannot be read", name.text);
                    a.circuit.stages[id.at()].unread = Some(why.into());
                }
                let mut repeats = Vec::new();
                fill(
                    a,
                    id,
                    b,
                    &block.entries,
                    None,
                    &mut Kept { seen: &mut seen, repeats: &mut repeats, rested: &mut rested },
                );
                say_repeats(a, b, &name.text, repeats);
            }
            Some(BlockKind::Use) => {
                let mut kept = Kept { seen: &mut seen, repeats: &mut Vec::new(), rested: &mut rested };
                copy(a, (file, &patterns), b, block, &shared, &mut kept);
            }
            _ => {}
        }
    }
    doubled_patterns(a, file);
    rested.settle(a);
}

/// Adds a stage with its ports.
fn open_stage(a: &mut Assembly, b: u32, name: &Word, ports: Option<&notation::tree::Ports>) -> StageId {
    let id = StageId(a.circuit.stages.len() as u32);
    let place = Place { block: b, entry: None, span: name.span };
    if a.staged.contains_key(&name.text) {
        a.find(
            Weight::Error,
            place,
            "repeated-stage",
            format!("there are two stages called {}: give one another name", name.text),
            &[&name.text],
        );
    }
    a.staged.entry(name.text.clone()).or_insert(id);
    a.circuit.stages.push(Stage { name: name.text.clone(), inputs: Vec::new(), outputs: Vec::new(), unread: None });
    a.places.stages.push(place);
    if let Some(ports) = ports {
        let inputs: Vec<NodeId> = ports.inputs.iter().map(|w| a.node(w, b, None)).collect();
        let outputs: Vec<NodeId> = ports.outputs.iter().map(|w| a.node(w, b, None)).collect();
        let stage = &mut a.circuit.stages[id.at()];
        (stage.inputs, stage.outputs) = (inputs, outputs);
    }
    id
}

/// What is kept from entry to entry: who has a name already, and which shafts say where they rest.
struct Kept<'k> {
    seen: &'k mut HashMap<Name, (u32, Option<usize>)>,
    repeats: &'k mut Vec<(Place, Name, u32)>,
    rested: &'k mut Rested,
}

/// Takes a stage's entries in.
fn fill(a: &mut Assembly, stage: StageId, block: u32, entries: &[&Piece], copy: Option<&Copy>, kept: &mut Kept) {
    for (e, piece) in entries.iter().enumerate() {
        let mut stage = InStage {
            a,
            stage,
            block,
            entry: e as u32,
            copy,
            seen: kept.seen,
            repeats: kept.repeats,
            rested: kept.rested,
            joint: None,
        };
        match &piece.kind {
            PieceKind::Path(steps) => stage.path(steps),
            PieceKind::Device(device) => stage.device(device),
            _ => {}
        }
    }
}

/// Makes the copy of a `use` block.
fn copy(
    a: &mut Assembly,
    (file, patterns): (&File, &Patterns),
    b: u32,
    block: &FileBlock,
    shared: &FxHashSet<Name>,
    kept: &mut Kept,
) {
    let Some(Heading::Use { stage: Some(stage), name: Some(name), ports: Some(ports) }) =
        block.heading.map(|h| &h.tree)
    else {
        return;
    };
    let at = |span| Place { block: b, entry: None, span };
    let id = open_stage(a, b, name, Some(ports));
    let pattern = match patterns.of(&stage.text) {
        Ok(pattern) => pattern,
        Err(none) => {
            let all = if a.may_guess() { copies::names(file) } else { Vec::new() };
            let near =
                notation::near::nearest(&stage.text, all.iter().map(String::as_str).filter(|n| **n != *name.text));
            let (rule, message) = match none {
                NoPattern::Unknown => (
                    "unknown-stage",
                    format!(
                        "there is no stage called {} to copy{}",
                        stage.text,
                        near.map_or_else(String::new, |n| format!(": did you mean {n}"))
                    ),
                ),
                NoPattern::Circle => ("copy-of-itself", format!("{} is in the end a copy of itself", stage.text)),
                NoPattern::Twice => (
                    "ambiguous-stage",
                    format!("two included files have a stage {}: which one is meant is not said", stage.text),
                ),
                // That is said at the second of them.
                NoPattern::Doubled => {
                    let why = format!("there are two stages called {}", stage.text);
                    a.circuit.unknown.get_or_insert(why.into());
                    return;
                }
            };
            let fixes = near
                .filter(|_| rule == "unknown-stage")
                .map(|n| notation::tree::Fix { title: format!("write {n}"), edits: vec![(stage.span, n.into())] });
            let missing = a.incomplete.clone().filter(|_| rule == "unknown-stage");
            if missing.is_none() {
                a.find(Weight::Error, at(stage.span), rule, message, &[&stage.text]).fixes.extend(fixes);
            }
            let why = match missing {
                Some(missing) => format!("what {} copies is not known: {missing}", name.text),
                None => format!("{} copies no stage that is known", name.text),
            };
            a.circuit.unknown.get_or_insert(why.into());
            return;
        }
    };
    if let Some(message) = copies::misfit(&pattern, ports) {
        a.find(Weight::Error, at(stage.span), "ports-differ", message, &[&stage.text, &name.text]);
        a.circuit.unknown.get_or_insert(format!("{} is not wired as {} is", name.text, stage.text).into());
        return;
    }
    if pattern.file > 0 && pattern.entries.iter().any(|p| p.grade == Grade::Torn) {
        let from = &file.includes[pattern.file as usize - 1].name;
        a.circuit.unknown.get_or_insert(format!("{from} has an unfinished line in {}", stage.text).into());
    }
    let none = notation::tree::Ports { inputs: Vec::new(), outputs: Vec::new() };
    let own = pattern.ports.unwrap_or(&none);
    let wired = own.inputs.iter().zip(&ports.inputs).chain(own.outputs.iter().zip(&ports.outputs));
    let mut copy = Copy {
        prefix: format!("{}.", name.text).into(),
        place: at(name.span),
        ports: wired.map(|(inner, outer)| (inner.text.clone(), outer.text.clone())).collect(),
        shared,
        overrides: HashMap::default(),
        from: (pattern.file as usize).checked_sub(1).map(|i| file.includes[i].name.clone()),
        doubt: None,
        doubts: HashMap::default(),
    };
    if block.heading.is_some_and(|h| h.fault.is_some()) {
        copy.doubt = Some(format!("the heading of {} cannot be read", name.text).into());
    }
    let parts: FxHashSet<&Name> = pattern.entries.iter().flat_map(|p| copies::elems(p)).map(|e| &e.name).collect();
    for (block, elem) in pattern.overrides.iter() {
        if !parts.contains(&elem.name) {
            copy.doubt_what(&elem.name, &parts);
        }
        copy.overrides.entry(elem.name.clone()).or_default().push((*block, elem, None));
    }
    for (e, piece) in block.entries.iter().enumerate() {
        let PieceKind::Override(elem) = &piece.kind else { continue };
        let place = Place { block: b, entry: Some(e as u32), span: elem.span };
        if !parts.contains(&elem.name) {
            copy.doubt_what(&elem.name, &parts);
            let near = if a.may_guess() { in_order(&pattern) } else { Vec::new() };
            let near = notation::near::nearest(&elem.name, near);
            // The copy's own name in front of the designator.
            let bare = elem.name.strip_prefix(&*copy.prefix).filter(|n| parts.iter().any(|p| &***p == *n));
            let near = near.or(bare);
            let hint = match near {
                Some(n) => format!(": did you mean {n}"),
                None => parts_like(&pattern, &elem.name),
            };
            let place_of = copy.from.as_ref().map_or_else(String::new, |file| format!(" of {file}"));
            let message = format!("{}{place_of} has no {} to replace{hint}", stage.text, elem.name);
            let place = Place { span: elem.name_span, ..place };
            let fixes = near
                .map(|n| notation::tree::Fix { title: format!("write {n}"), edits: vec![(elem.name_span, n.into())] });
            a.find(Weight::Error, place, "unknown-part", message, &[&elem.name, &stage.text]).fixes.extend(fixes);
            continue;
        }
        let all = copy.overrides.entry(elem.name.clone()).or_default();
        if all.iter().any(|o| o.0 == b) {
            let message = format!("{} is replaced twice here: take one of the two away", elem.name);
            let place = Place { span: elem.name_span, ..place };
            a.find(Weight::Error, place, "repeated-replacement", message, &[&elem.name, &stage.text]);
        }
        all.push((b, elem, Some(place)));
    }
    fill(a, id, b, pattern.entries, Some(&copy), kept);
}

/// The parts of a pattern that a wrong designator may have been meant as: those of its class, else all.
fn parts_like(pattern: &copies::Pattern, wrong: &str) -> String {
    /// So many names are told.
    const TOLD: usize = 8;
    let class = |name: &str| name.trim_end_matches(|c: char| !c.is_ascii_uppercase()).to_string();
    let all = in_order(pattern);
    let like: Vec<&str> = all.iter().copied().filter(|n| class(n) == class(wrong)).collect();
    let mut told = if like.is_empty() { all } else { like };
    if told.is_empty() {
        return String::new();
    }
    let more = match told.len().saturating_sub(TOLD) {
        0 => None,
        n => Some(format!("{n} more")),
    };
    told.truncate(TOLD);
    told.extend(more.as_deref());
    format!(": it has {}", Circuit::list(&told))
}

/// The names of a pattern's parts in the order written.
fn in_order<'p>(pattern: &copies::Pattern<'p>) -> Vec<&'p str> {
    pattern.entries.iter().flat_map(|p| copies::elems(p)).map(|e| &*e.name).collect()
}

/// Two files that are included, or one and the file itself, with a stage of one name: which of them a copy means is not clear.
fn doubled_patterns(a: &mut Assembly, file: &File) {
    for included in &file.includes {
        for (name, _) in included.blocks.iter().filter_map(stage_heading) {
            if a.staged.get(&name.text).is_some_and(|id| a.places.stages[id.at()].block != included.block) {
                let place = include_place(file, included.block);
                let message = format!(
                    "{} has a stage {}, and so has this file: copies mean the one of this file",
                    included.name, name.text
                );
                a.find(Weight::Warning, place, "repeated-stage", message, &[&name.text]);
            }
        }
    }
}

/// Where an `include` heading names its file.
pub(crate) fn include_place(file: &File, block: u32) -> Place {
    let span = match file.blocks.get(block as usize).and_then(|b| b.heading).map(|h| &h.tree) {
        Some(Heading::Include { path: Some(path) }) => path.span,
        _ => Span::default(),
    };
    Place { block, entry: None, span }
}

/// A block that was pasted twice gets one message, a single slip one at its place.
fn say_repeats(a: &mut Assembly, block: u32, stage: &str, repeats: Vec<(Place, Name, u32)>) {
    match &repeats[..] {
        [] => {}
        [(place, name, _)] => {
            a.find(
                Weight::Error,
                *place,
                "repeated-designator",
                format!("{name} is there already: a designator names one part"),
                &[name],
            );
        }
        [(_, first, other), ..] => {
            let of = a
                .places
                .stages
                .iter()
                .position(|p| p.block == *other)
                .map_or("", |i| &*a.circuit.stages[i].name)
                .to_string();
            let place = a.places.stages.iter().find(|p| p.block == block).copied();
            let place = place.unwrap_or(Place { block, entry: None, span: Span::default() });
            let all: Vec<&str> = repeats.iter().map(|r| &*r.1).collect();
            let message = if &*of == stage && *other == block {
                format!("{stage} repeats {} of its own designators, {first} first", repeats.len())
            } else {
                format!("repeats {} designators of {of}, {first} first: number these parts anew", repeats.len())
            };
            a.find(Weight::Error, place, "repeated-designator", message, &all);
        }
    }
}

impl Circuit {
    /// `1, 2 and 3`
    pub(crate) fn list(items: &[impl ToString]) -> String {
        let words: Vec<String> = items.iter().map(|i| i.to_string()).collect();
        match &words[..] {
            [] => "none".into(),
            [one] => one.clone(),
            [head @ .., last] => format!("{} and {last}", head.join(", ")),
        }
    }
}
