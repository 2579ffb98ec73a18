//! Where what stands at a place is made: a part's line, a stage's heading, a data sheet in a file or in the library.

use std::ops::Range;
use std::sync::Arc;

use notation::layout::Layout;
use notation::tree::{BlockKind, DesignEntry, EntryTree, Heading};

use crate::database::{Desk, Document, Include, Read, assembled, included, layout, reads};
use crate::hover::word;
use crate::problems::range_of;

/// Where a name is made.
#[derive(Clone, Debug, PartialEq)]
pub struct Definition {
    /// The word that was asked about, in bytes of the asking file.
    pub word: Range<usize>,
    /// In which file.
    pub place: Where,
    /// The name there, in bytes of that file.
    pub name: Range<usize>,
}

/// A file with a definition in it.
#[derive(Clone, Debug, PartialEq)]
pub enum Where {
    /// The asking file itself.
    Here,
    /// Another file: its path, and its text.
    File(String, Arc<str>),
    /// A file of the embedded library: its name, and its text.
    Library(&'static str, &'static str),
}

/// A definition in another document, whose path the caller knows.
pub(crate) enum Found {
    Here(Range<usize>),
    Other(Document, Range<usize>),
    Library(circuit::library::Origin),
}

/// Where the name at a byte is made.
pub(crate) fn definition(db: &dyn Desk, document: Document, offset: usize) -> Option<(Range<usize>, Found)> {
    let text = document.text(db);
    if let Some((path, found)) = include_at(db, document, offset) {
        return Some((path, found));
    }
    let range = word(text, offset)?;
    let found = made(db, document, &text[range.clone()])?;
    Some((range, found))
}

/// Where a name of a file is made.
pub(crate) fn made(db: &dyn Desk, document: Document, said: &str) -> Option<Found> {
    let text = document.text(db);
    let all = assembled(db, document);
    let layout = layout(db, document);
    let here = |place| range_of(&layout, place).map(Found::Here);
    let circuit = &all.circuit;
    let found = if let Some(i) = circuit.parts.iter().position(|p| *p.name == *said) {
        here(all.places.part_names[i])
    } else if let Some(i) = circuit.stages.iter().position(|s| *s.name == *said) {
        here(all.places.stages[i])
    } else if let Some(i) = circuit.settings.iter().position(|s| *s.name == *said) {
        here(all.places.settings[i])
    } else {
        None
    };
    found
        .or_else(|| named(db, document, said).map(Found::Here))
        .or_else(|| {
            let others = &included(db, document).files;
            others.iter().find_map(|(_, _, other)| Some(Found::Other(*other, named(db, *other, said)?)))
        })
        .or_else(|| {
            let node = circuit.nodes.iter().position(|n| !n.unnamed && *n.name == *said).filter(|n| *n > 0)?;
            // A port is made by the stage that has it as an output; any other node where it first stands.
            let driver = circuit.stages.iter().position(|s| s.outputs.iter().any(|o| o.at() == node));
            let port = driver.and_then(|s| port(&layout, text, all.places.stages[s].block, said));
            port.map(Found::Here).or_else(|| here(all.places.nodes[node]))
        })
        .or_else(|| circuit::library::origin(said).map(Found::Library))
}

/// The name of an output in a stage's heading.
fn port(layout: &Layout, text: &str, block: u32, name: &str) -> Option<Range<usize>> {
    let heading = layout.blocks.get(block as usize)?.heading.as_ref()?;
    let tree = notation::read_heading(&text[heading.range.clone()]).tree;
    let (Heading::Stage { ports: Some(ports), .. } | Heading::Use { ports: Some(ports), .. }) = tree else {
        return None;
    };
    let word = ports.outputs.iter().find(|w| *w.text == *name)?;
    Some(heading.range.start + word.span.start as usize..heading.range.start + word.span.end as usize)
}

/// The include path at a byte, with the file that it names.
fn include_at(db: &dyn Desk, document: Document, offset: usize) -> Option<(Range<usize>, Found)> {
    let layout = layout(db, document);
    crate::database::include_headings(db, document).into_iter().find_map(|(block, word)| {
        let start = layout.blocks.get(block as usize)?.heading.as_ref()?.range.start;
        let range = start + word.span.start as usize..start + word.span.end as usize;
        if !(range.start..=range.end).contains(&offset) {
            return None;
        }
        match document.includes(db).get(&*word.text) {
            Some(Include::File(other, _)) => Some((range, Found::Other(*other, 0..0))),
            _ => None,
        }
    })
}

/// What a file makes under a name by itself: a stage, a data sheet, a `let` name, a pair.
fn named(db: &dyn Desk, document: Document, name: &str) -> Option<Range<usize>> {
    let (layout, reads) = (layout(db, document), reads(db, document));
    for (block, read) in layout.blocks.iter().zip(reads.iter()) {
        if let (Some(lines), Some(Read::Heading(h))) = (&block.heading, read.heading.as_deref())
            && let Heading::Stage { name: Some(n), .. }
            | Heading::Use { name: Some(n), .. }
            | Heading::Datasheet { name: Some(n), .. } = &h.tree
            && *n.text == *name
        {
            return Some(lines.range.start + n.span.start as usize..lines.range.start + n.span.end as usize);
        }
        if !matches!(block.kind, Some(BlockKind::Let | BlockKind::Design)) {
            continue;
        }
        for (lines, entry) in block.entries.iter().zip(&read.entries) {
            let Read::Entry(entry, _) = &**entry else { continue };
            let made = match &entry.tree {
                EntryTree::Let(l) => l.name.as_ref(),
                EntryTree::Design(DesignEntry::Balanced { name, .. }) => name.as_ref(),
                _ => None,
            };
            if let Some(n) = made.filter(|n| *n.text == *name) {
                return Some(lines.range.start + n.span.start as usize..lines.range.start + n.span.end as usize);
            }
        }
    }
    None
}
