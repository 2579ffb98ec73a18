//! The fix that writes a stage's formula.

use std::ops::Range;

use circuit::{Circuit, PartId, StageId};
use notation::layout::Layout;
use notation::tree::BlockKind;

use crate::database::{Desk, Document, assembled, circuit_of, layout};
use crate::derived::derived;
use crate::line::{line_end, line_start};
use crate::plain::{Edit, Fix};
use crate::problems::range_of;
use crate::proposals::ideal_below;

/// The fix for the stage whose heading's name a selection touches; `None` where there is none, or nothing new to write.
pub(crate) fn fix(db: &dyn Desk, document: Document, range: Range<usize>) -> Option<Fix> {
    let (text, layout, all) = (document.text(db), layout(db, document), assembled(db, document));
    let touches = |own: &Range<usize>| {
        // The whole line of a heading is its place.
        let start = line_start(text, own.start);
        let end = line_end(text, own.end);
        range.start <= end && start <= range.end
    };
    let stage = all.places.stages.iter().position(|p| range_of(&layout, *p).is_some_and(|own| touches(&own)))?;
    let circuit = circuit_of(db, document);
    let name = &circuit.stages.get(StageId(stage as u32).at())?.name;
    let found = derived(db, document, stage as u32, false);
    // What a formula says already, of the same quantity, stays as it is written.
    let blocks = layout.blocks.iter().filter(|b| b.kind == Some(BlockKind::Formula));
    let written: Vec<String> =
        blocks.flat_map(|b| &b.entries).filter_map(|e| quantity(&text[e.range.clone()])).collect();
    let new: Vec<&String> =
        found.formulas.iter().filter(|f| quantity(f).is_some_and(|q| !written.contains(&q))).collect();
    if new.is_empty() {
        return None;
    }
    let mut edits: Vec<Edit> = Vec::new();
    let entry = assumed(db, document, &circuit, &found.ideal);
    if let Some(entry) = &entry {
        put(&mut edits, text, &layout, BlockKind::Assume, &format!("  {entry}\n"));
    }
    let lines: String = new.iter().map(|f| format!("  {f}\n")).collect();
    put(&mut edits, text, &layout, BlockKind::Formula, &lines);
    let title = if new.len() == 1 { format!("write {name}'s formula") } else { format!("write {name}'s formulas") };
    let title = entry.as_ref().map_or(title.clone(), |entry| format!("{title}, and assume {entry}"));
    Some(Fix { title, edits })
}

/// The entry of `assume` that takes amplifiers as ideal, over the band in which that keeps to the file's budget.
fn assumed(db: &dyn Desk, document: Document, circuit: &Circuit, ideal: &[PartId]) -> Option<String> {
    let names: Vec<&str> = ideal.iter().map(|id| &*circuit.parts[id.at()].name).collect();
    let below = ideal_below(db, document, circuit, ideal).and_then(|f| quantity::canonical(f, quantity::Unit::Hertz));
    let band = below.map_or_else(String::new, |f| format!(" below {f}"));
    (!names.is_empty()).then(|| format!("{} ideal{band}", names.join(", ")))
}

/// Puts lines at the end of the last block of a kind, or of the file, under a heading of their own.
fn put(edits: &mut Vec<Edit>, text: &str, layout: &Layout, kind: BlockKind, lines: &str) {
    let last = layout.blocks.iter().rev().find(|b| b.kind == Some(kind));
    let (at, insert) = match last.and_then(|b| b.entries.last().or(b.heading.as_ref())) {
        Some(entry) => match text[entry.range.end..].find('\n') {
            Some(i) => (entry.range.end + i + 1, lines.to_string()),
            None => (text.len(), format!("\n{lines}")),
        },
        None => {
            let gap = match text {
                _ if text.is_empty() || text.ends_with("\n\n") => "",
                _ if text.ends_with('\n') => "\n",
                _ => "\n\n",
            };
            let heading = if kind == BlockKind::Assume { "assume" } else { "formula" };
            (text.len(), format!("{gap}{heading}\n{lines}"))
        }
    };
    // What goes to one place goes there in one piece.
    match edits.iter_mut().find(|e| e.range.start == at) {
        Some(before) => before.text.push_str(&insert),
        None => edits.push(Edit { range: at..at, text: insert }),
    }
}

/// The quantity of a formula, its blanks alike.
fn quantity(entry: &str) -> Option<String> {
    let (quantity, _) = entry.split_once('=')?;
    Some(quantity.split_whitespace().collect::<Vec<_>>().join(" "))
}
