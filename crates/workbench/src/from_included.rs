//! What is wrong in an included file, as far as this file takes it in: told at the `include` heading with file and line.

use std::collections::HashSet;

use circuit::Weight;
use notation::layout::Chunk as Lines;
use notation::tree::{BlockKind, Fault, Heading};

use crate::database::{Desk, Document, Read, assembled, included, layout, reads};

/// Of each included file the first fault that bears on this one, with the block of the `include` heading.
pub(crate) fn faults(db: &dyn Desk, document: Document) -> Vec<(u32, Fault)> {
    let including = included(db, document);
    if including.files.is_empty() {
        return Vec::new();
    }
    let taken = Taken { stages: copied(db, document), sheets: sheets(db, document) };
    let headings = crate::database::include_headings(db, document);
    let mut found = Vec::new();
    for (block, name, other) in &including.files {
        let all = in_file(db, *other, &taken);
        let Some((line, message)) = all.first() else { continue };
        let more = match all.len() - 1 {
            0 => String::new(),
            1 => ", and one more line there is at fault".to_string(),
            n => format!(", and {n} more lines there are at fault"),
        };
        let said = message.trim_end().trim_end_matches('.');
        let span = headings.iter().find(|(b, _)| b == block).map_or_else(Default::default, |(_, word)| word.span);
        let message = format!("{name}, line {}: {said}{more}", line + 1);
        found.push((*block, Fault { id: "fault-in-include", span, message, unfinished: false, fixes: Vec::new() }));
    }
    found
}

/// What a file takes from those that it includes.
struct Taken {
    stages: HashSet<String>,
    sheets: HashSet<String>,
}

/// The data sheets that the file's amplifiers go by.
fn sheets(db: &dyn Desk, document: Document) -> HashSet<String> {
    let sheet = |part: &circuit::Part| match &part.kind {
        circuit::PartKind::Amplifier { sheet, .. } => Some(sheet.name.to_string()),
        _ => None,
    };
    assembled(db, document).circuit.parts.iter().filter_map(sheet).collect()
}

/// The stages that the file's copies are of.
fn copied(db: &dyn Desk, document: Document) -> HashSet<String> {
    let stage = |read: &Read| match read {
        Read::Heading(h) => match &h.tree {
            Heading::Use { stage: Some(stage), .. } => Some(stage.text.to_string()),
            _ => None,
        },
        Read::Entry(..) => None,
    };
    reads(db, document).iter().filter_map(|b| stage(b.heading.as_deref()?)).collect()
}

/// The lines of a file, from 0, that have a fault in what is taken from it, each with its leftmost.
fn in_file(db: &dyn Desk, document: Document, taken: &Taken) -> Vec<(usize, String)> {
    let (layout, reads, text) = (layout(db, document), reads(db, document), document.text(db));
    let line = |at: usize| text[..at.min(text.len())].bytes().filter(|b| *b == b'\n').count();
    let at =
        |lines: &Lines, fault: &Fault| (line(lines.range.start + fault.span.start as usize), fault.message.clone());
    // A `let` name bears on this file through the expressions of what it takes.
    let (mut found, mut named, mut pending, mut asked) = (Vec::new(), Vec::new(), HashSet::new(), false);
    for (b, (block, read)) in layout.blocks.iter().zip(reads.iter()).enumerate() {
        let heading = match read.heading.as_deref() {
            Some(Read::Heading(heading)) => Some(heading),
            _ => None,
        };
        let bears = block.kind == Some(BlockKind::Let)
            || heading.is_some_and(|h| match &h.tree {
                Heading::Stage { name: Some(name), .. } => taken.stages.contains(&*name.text),
                Heading::Datasheet { name: Some(name), .. } => taken.sheets.contains(&*name.text),
                _ => false,
            });
        if !bears {
            continue;
        }
        let is_let = block.kind == Some(BlockKind::Let);
        let told = block.heading.as_ref().zip(heading.and_then(|h| h.fault.as_ref()));
        found.extend(told.map(|(lines, fault)| at(lines, fault)));
        for (lines, read) in block.entries.iter().zip(&read.entries) {
            let Read::Entry(_, piece) = &**read else { continue };
            if piece.pending.is_some() || is_let {
                pending.insert(b as u32);
                asked |= !is_let;
            }
            let errors = piece.findings.iter().filter(|(w, _)| *w == Weight::Error);
            let all = if is_let { &mut named } else { &mut found };
            all.extend(errors.take(1).map(|(_, fault)| at(lines, fault)));
        }
    }
    // What is wrong with an expression shows when all names of that file are known.
    if asked {
        found.append(&mut named);
        let all = assembled(db, document);
        for finding in all.findings.iter().filter(|f| f.weight == Weight::Error && pending.contains(&f.block)) {
            let Some(entry) = finding.entry else { continue };
            found.extend(
                layout.blocks[finding.block as usize].entries.get(entry as usize).map(|l| at(l, &finding.fault)),
            );
        }
    }
    found.sort_by_key(|f| f.0);
    found.dedup_by_key(|f| f.0);
    found
}
