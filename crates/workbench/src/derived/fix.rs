//! The fix that writes a stage's formula.

use std::ops::Range;

use circuit::StageId;
use notation::tree::BlockKind;

use crate::database::{Desk, Document, assembled, circuit_of, layout};
use crate::derived::derived;
use crate::plain::{Edit, Fix};
use crate::problems::range_of;

/// The fix for the stage whose heading's name a selection touches; `None` where there is none, or nothing new to write.
pub(crate) fn fix(db: &dyn Desk, document: Document, range: Range<usize>) -> Option<Fix> {
    let (text, layout, all) = (document.text(db), layout(db, document), assembled(db, document));
    let touches = |own: &Range<usize>| {
        // The whole line of a heading is its place.
        let start = text[..own.start].rfind('\n').map_or(0, |i| i + 1);
        let end = text[own.end..].find('\n').map_or(text.len(), |i| own.end + i);
        range.start <= end && start <= range.end
    };
    let stage = all.places.stages.iter().position(|p| range_of(&layout, *p).is_some_and(|own| touches(&own)))?;
    let circuit = circuit_of(db, document);
    let name = &circuit.stages.get(StageId(stage as u32).at())?.name;
    let found = derived(db, document, stage as u32, false);
    // What a formula says already, of the same quantity, stays as it is written.
    let blocks = layout.blocks.iter().filter(|b| b.kind == Some(BlockKind::Formula));
    let written: Vec<String> = blocks.flat_map(|b| &b.entries).filter_map(|e| quantity(&text[e.range.clone()])).collect();
    let new: Vec<&String> = found.formulas.iter().filter(|f| quantity(f).is_some_and(|q| !written.contains(&q))).collect();
    if new.is_empty() {
        return None;
    }
    let lines: String = new.iter().map(|f| format!("  {f}\n")).collect();
    let last = layout.blocks.iter().rev().find(|b| b.kind == Some(BlockKind::Formula));
    let (at, insert) = match last.and_then(|b| b.entries.last().or(b.heading.as_ref())) {
        Some(entry) => {
            let end = text[entry.range.end..].find('\n').map(|i| entry.range.end + i + 1);
            (end.unwrap_or(text.len()), if end.is_some() { lines } else { format!("\n{lines}") })
        }
        None => {
            let gap = if text.ends_with("\n\n") || text.is_empty() { "" } else if text.ends_with('\n') { "\n" } else { "\n\n" };
            (text.len(), format!("{gap}formula\n{lines}"))
        }
    };
    let title = if new.len() == 1 { format!("write {name}'s formula") } else { format!("write {name}'s formulas") };
    Some(Fix { title, edits: vec![Edit { range: at..at, text: insert }] })
}

/// The quantity of a formula, its blanks alike.
fn quantity(entry: &str) -> Option<String> {
    let (quantity, _) = entry.split_once('=')?;
    Some(quantity.split_whitespace().collect::<Vec<_>>().join(" "))
}
