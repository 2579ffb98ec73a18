//! The names that a text makes, by the text alone: what an index of many files holds of each.

use std::ops::Range;

use notation::tree::{BlockKind, DesignEntry, EntryTree, Heading, Span, Step, Word};

/// A name that a file makes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Made {
    /// As written.
    pub name: String,
    /// What it is of.
    pub kind: MadeKind,
    /// Bytes of the file.
    pub range: Range<usize>,
    /// The stage or data sheet that it stands in, or the block's word.
    pub container: String,
}

/// What a name is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MadeKind {
    /// A design, by its title.
    Design,
    /// A stage or a copy.
    Stage,
    /// A part.
    Part,
    /// A `let` name.
    Value,
    /// A setting.
    Setting,
    /// A balanced pair.
    Pair,
    /// A data sheet.
    Sheet,
}

/// What an index holds of a text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Contents {
    /// The names that it makes, in the order of their places.
    pub names: Vec<Made>,
    /// What its `include` headings name: the words in the quotes with their places.
    pub includes: Vec<(Range<usize>, String)>,
}

/// Reads a text for an index.
pub fn contents(text: &str) -> Contents {
    let mut found = Contents::default();
    for block in notation::lay_out(text).blocks {
        let mut container = block.kind.map_or("", notation::word::heading_word).to_string();
        if let Some(chunk) = &block.heading {
            let start = chunk.range.start;
            let make = |word: &Word, kind, container: &str| made(start, &word.text, word.span, kind, container);
            match notation::read_heading(&text[chunk.range.clone()]).tree {
                Heading::Design { title: Some(title) } => found.names.push(make(&title, MadeKind::Design, "")),
                Heading::Stage { name: Some(name), .. } | Heading::Use { name: Some(name), .. } => {
                    found.names.push(make(&name, MadeKind::Stage, ""));
                    container = name.text.to_string();
                }
                Heading::Datasheet { name: Some(name), .. } => {
                    found.names.push(make(&name, MadeKind::Sheet, ""));
                    container = name.text.to_string();
                }
                Heading::Include { path: Some(path) } => {
                    let range = start + path.span.start as usize..start + path.span.end as usize;
                    found.includes.push((super::links::unquoted(text, range), path.text.to_string()));
                }
                _ => {}
            }
        }
        let kind = match block.kind {
            Some(kind @ (BlockKind::Design | BlockKind::Let | BlockKind::Stage)) => kind,
            None => BlockKind::Stage,
            Some(_) => continue,
        };
        for chunk in &block.entries {
            let start = chunk.range.start;
            let mut make = |word: (&str, Span), kind| found.names.push(made(start, word.0, word.1, kind, &container));
            match notation::read_entry(kind, &text[chunk.range.clone()]).tree {
                EntryTree::Path(path) => path.steps.iter().for_each(|step| {
                    if let Step::Parts(parts) = step {
                        let parts = parts.iter().flatten().map(|e| &e.part);
                        parts.for_each(|part| make((&part.text, part.span), MadeKind::Part));
                    }
                }),
                EntryTree::Device(d) => make((&d.element.part.text, d.element.part.span), MadeKind::Part),
                EntryTree::Let(l) => l.name.iter().for_each(|n| make((&n.text, n.span), MadeKind::Value)),
                EntryTree::Design(DesignEntry::Setting(Some(n), _)) => make((&n.text, n.span), MadeKind::Setting),
                EntryTree::Design(DesignEntry::Balanced { name: Some(n), .. }) => {
                    make((&n.text, n.span), MadeKind::Pair);
                }
                _ => {}
            }
        }
    }
    found.names.retain(|n| !n.name.is_empty());
    found
}

fn made(start: usize, name: &str, span: Span, kind: MadeKind, container: &str) -> Made {
    Made {
        name: name.to_string(),
        kind,
        range: start + span.start as usize..start + span.end as usize,
        container: container.to_string(),
    }
}
