//! The outline of a file.

use std::ops::Range;

use notation::layout::Chunk as Lines;
use notation::tree::{DesignEntry, EntryTree, Heading};

use crate::database::{Desk, Document, Read, assembled, layout, reads};
use crate::hints;
use crate::plain::{HintKind, Symbol, SymbolKind};
use crate::statement;

/// The outline: blocks with their parts, settings and statements; a stage's detail is its hint.
pub fn symbols(db: &dyn Desk, document: Document) -> Vec<Symbol> {
    let layout = layout(db, document);
    let reads = reads(db, document);
    let all = assembled(db, document);
    let text = document.text(db);
    let stages: Vec<_> = hints::hints(db, document, None, hints::Which::Quick)
        .into_iter()
        .filter(|h| h.kind == HintKind::Stage)
        .collect();
    let mut found = Vec::new();
    for (b, (block, reads)) in layout.blocks.iter().zip(reads.iter()).enumerate() {
        let entries = &reads.entries;
        let (Some(lines), Some(read)) = (&block.heading, &reads.heading) else { continue };
        let Read::Heading(h) = &**read else { continue };
        let word = block.kind.map_or("", statement::word);
        let (name, kind) = match &h.tree {
            Heading::Design { title } => {
                (title.as_ref().map_or("design".into(), |t| t.text.to_string()), SymbolKind::Design)
            }
            Heading::Stage { name, .. } => {
                (name.as_ref().map_or(word.into(), |n| n.text.to_string()), SymbolKind::Stage)
            }
            Heading::Use { name, .. } => (name.as_ref().map_or(word.into(), |n| n.text.to_string()), SymbolKind::Stage),
            Heading::Datasheet { name, .. } => {
                (name.as_ref().map_or(word.into(), |n| n.text.to_string()), SymbolKind::Datasheet)
            }
            Heading::Include { path } => {
                (path.as_ref().map_or(word.into(), |n| n.text.to_string()), SymbolKind::Statement)
            }
            _ => (word.to_string(), SymbolKind::Statement),
        };
        let detail = stages.iter().find(|s| s.line == lines.line).map(|s| s.label.clone()).unwrap_or_default();
        let mut children = Vec::new();
        for (e, (lines, read)) in block.entries.iter().zip(entries).enumerate() {
            let Read::Entry(entry, _) = &**read else { continue };
            for (i, place) in all.places.part_names.iter().enumerate() {
                if place.block == b as u32 && place.entry == Some(e as u32) {
                    let span = all.places.parts[i].span;
                    let all_of = shift(lines, span.range());
                    let selection = shift(lines, place.span.range());
                    let detail = text[selection.end..all_of.end].trim().to_string();
                    children.push(Symbol {
                        name: all.circuit.parts[i].name.to_string(),
                        detail,
                        kind: SymbolKind::Part,
                        range: all_of,
                        selection,
                        children: Vec::new(),
                    });
                }
            }
            children.extend(line(&entry.tree, lines, text));
        }
        let end = block.entries.last().map_or(lines.range.end, |l| l.range.end);
        let selection = lines.range.start
            ..lines.range.start + text[lines.range.clone()].lines().next().unwrap_or_default().trim_end().len();
        found.push(Symbol {
            name: if name.is_empty() { word.into() } else { name },
            detail,
            kind,
            range: lines.range.start..end,
            selection,
            children,
        });
    }
    found
}

fn shift(lines: &Lines, range: Range<usize>) -> Range<usize> {
    lines.range.start + range.start..lines.range.start + range.end
}

/// An entry that is a symbol itself.
fn line(tree: &EntryTree, lines: &Lines, text: &str) -> Option<Symbol> {
    let said = text[lines.range.clone()].lines().next().unwrap_or_default();
    let said = notation::code_of(said).trim_end();
    let (name, kind) = match tree {
        EntryTree::Design(DesignEntry::Setting(Some(name), _)) => (name.text.to_string(), SymbolKind::Setting),
        EntryTree::Let(l) => (l.name.as_ref()?.text.to_string(), SymbolKind::Value),
        EntryTree::Require(_) | EntryTree::Assume(_) | EntryTree::Formula(_) => {
            (crate::line::said(said), SymbolKind::Statement)
        }
        _ => return None,
    };
    if name.is_empty() {
        return None;
    }
    let range = lines.range.start..lines.range.start + said.len();
    Some(Symbol { name, detail: String::new(), kind, range: range.clone(), selection: range, children: Vec::new() })
}
