//! What is unfinished in a file, and in those that it includes.

use std::sync::Arc;

use notation::layout::Chunk as Lines;
use notation::tree::{BlockKind, Fault, Grade};

use crate::database::{BlockReads, Desk, Document, Read, included, layout, reads};
use crate::plain::Unfinished;
use crate::problems::torn;

/// The unfinished entries and headings of a file, and then those of the files that it includes.
pub fn unfinished(db: &dyn Desk, document: Document) -> Vec<Unfinished> {
    let mut found = of_file(db, document, None);
    if let Some(line) = torn(db, document)
        && found.iter().all(|u| u.alone || !u.lines.contains(&line))
    {
        found.push(Unfinished { lines: line..line + 1, file: None, alone: false });
    }
    for (_, name, other) in &included(db, document).files {
        // What an including file takes of its statements is nothing.
        found.extend(of_file(db, *other, Some(name)).into_iter().filter(|u| !u.alone));
    }
    found
}

fn of_file(db: &dyn Desk, document: Document, file: Option<&circuit::Name>) -> Vec<Unfinished> {
    let (layout, reads, text) = (layout(db, document), reads(db, document), document.text(db));
    let mut found = Vec::new();
    for (block, read) in layout.blocks.iter().zip(reads.iter()) {
        let chunks = || block.heading.iter().chain(&block.entries);
        // Most blocks have nothing to say; a rule may speak of such a line all the same, but nothing of it is missing.
        if read.silent && chunks().all(|c| c.fault.is_none()) {
            continue;
        }
        for (i, (lines, read)) in chunks().zip(all(read)).enumerate() {
            let entry = block.heading.is_none() || i > 0;
            if lines.fault.as_ref().is_some_and(lacks) || is_unfinished(read, &text[lines.range.clone()]) {
                // An assumption is spoken of by every formula.
                let statement = matches!(block.kind, Some(BlockKind::Formula | BlockKind::Require));
                let alone = entry && statement && lines.fault.is_none();
                found.push(Unfinished { lines: lines_of(lines, text), file: file.map(|f| f.to_string()), alone });
            }
        }
    }
    found
}

/// A block's heading and entries, in their order.
fn all(read: &BlockReads) -> impl Iterator<Item = &Arc<Read>> {
    read.heading.iter().chain(&read.entries)
}

fn lines_of(lines: &Lines, text: &str) -> std::ops::Range<u32> {
    let breaks = text[lines.range.clone()].bytes().filter(|b| *b == b'\n').count() as u32;
    lines.line..lines.line + breaks + 1
}

/// Whether something is missing of an entry or heading. What is there and cannot be read is wrong, not unfinished.
fn is_unfinished(read: &Read, text: &str) -> bool {
    let open = |fault: &Fault| lacks(fault) || lacks_unit(fault, text);
    match read {
        Read::Heading(heading) => heading.grade == Grade::Torn || heading.fault.as_ref().is_some_and(open),
        Read::Entry(entry, piece) => {
            piece.grade == Grade::Torn
                || entry.fault.iter().chain(piece.findings.iter().map(|(_, fault)| fault)).any(open)
        }
    }
}

/// Whether a fault is that something is not there yet.
fn lacks(fault: &Fault) -> bool {
    fault.unfinished || fault.id.ends_with("-missing") || fault.id == "heading-begun"
}

/// Whether a fault is a figure whose unit or prefix may be to come: `22` on the way to `22p`.
fn lacks_unit(fault: &Fault, text: &str) -> bool {
    let figure = text.get(fault.span.range()).unwrap_or_default().trim_end();
    fault.id == "unreadable-figure"
        && figure.ends_with(|c: char| c.is_ascii_digit())
        && figure.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | 'e' | '+' | '-' | '−'))
}
