//! Ways out as edits of the text.

use std::ops::Range;

use argument::rules::Mend;
use circuit::Place;
use notation::layout::Layout;
use notation::tree::{Attribute, Element, EntryTree, Step};

use crate::database::{Desk, Document, Read, assembled, reads};
use crate::editing::fresh::words;
use crate::line::{line_end, line_start};
use crate::plain::{Edit, Fix};
use crate::problems::lines_of;

/// A way out as edits, if the text has the place for it.
pub(crate) fn fix(
    db: &dyn Desk,
    document: Document,
    layout: &Layout,
    text: &str,
    mend: &Mend,
    place: Place,
) -> Option<Fix> {
    match mend {
        Mend::Value { part, value } => {
            let (element, start) = element(db, document, layout, part)?;
            let span = element.value.as_ref()?.span();
            let range = start + span.start as usize..start + span.end as usize;
            one(format!("write {part} {value}"), range, value.clone())
        }
        Mend::Word { part, from, to } => {
            let (element, start) = element(db, document, layout, part)?;
            let range = start + element.span.start as usize..start + element.span.end as usize;
            let at = text.get(range.clone())?.split(' ').scan(range.start, |at, word| {
                let here = *at;
                *at += word.len() + 1;
                Some((here, word))
            });
            let (at, word) = at.into_iter().find(|(_, word)| word == from)?;
            one(format!("write {to}"), at..at + word.len(), to.clone())
        }
        Mend::Part { class, entry } => {
            let (end, indent) = below(layout, text, place)?;
            let entry = entry.replace("{}", &format!("{class}{}", free(db, document, class)));
            one(format!("add {entry}"), end..end, format!("\n{indent}{entry}"))
        }
        Mend::Turn { part } => {
            let (entry, start) = entry(db, document, layout, part)?;
            let EntryTree::Path(path) = &entry.tree else { return None };
            let said = text.get(lines_of(layout, place_of(db, document, part)?)?.range.clone())?;
            let edits = crate::editing::actions::reversed(path, said, start, part)?;
            Some(Fix { title: format!("turn {part} round"), edits })
        }
        Mend::Series { part, value } => {
            let (entry, start) = entry(db, document, layout, part)?;
            let EntryTree::Path(path) = &entry.tree else { return None };
            // Beside others in parallel it would be in series with none of them.
            let alone = path.steps.iter().find_map(|step| match step {
                Step::Parts(parts) => match &parts[..] {
                    [Some(e)] if *e.part.text == **part => Some(e),
                    _ => None,
                },
                _ => None,
            })?;
            let at = start + alone.span.end as usize;
            let stop = format!("R{} {value}", free(db, document, "R"));
            one(format!("put {stop} in series with {part}"), at..at, format!(" -- {stop}"))
        }
        Mend::BuildOut { amplifier, node, value } => build_out(db, document, layout, text, (amplifier, node, value)),
        Mend::Swap { pair } => {
            let all = assembled(db, document);
            let pair = all.circuit.pair(pair)?;
            let (hot, cold) = (all.circuit.node_name(pair.hot), all.circuit.node_name(pair.cold));
            let from = format!("{hot}, {cold}");
            let entries =
                layout.blocks.iter().flat_map(|b| &b.entries).filter(|e| text[e.range.clone()].starts_with("balanced"));
            let at = entries.into_iter().find_map(|e| {
                let line = &text[e.range.clone()];
                Some(
                    e.range.start
                        + line.find(&format!("{}:", pair.name)).and_then(|n| Some(n + line[n..].find(&from)?))?,
                )
            })?;
            one(format!("swap {hot} and {cold}"), at..at + from.len(), format!("{cold}, {hot}"))
        }
    }
}

/// An amplifier's output goes to a node of its own, and what feeds back with it; the line keeps its node, behind a resistor.
fn build_out(
    db: &dyn Desk,
    document: Document,
    layout: &Layout,
    text: &str,
    (amplifier, node, value): (&str, &str, &str),
) -> Option<Fix> {
    let place = place_of(db, document, amplifier)?;
    let (device, _) = entry(db, document, layout, amplifier)?;
    let EntryTree::Device(_) = device.tree else { return None };
    let inner = format!("{node}_{}", amplifier.to_lowercase());
    if node.contains('.') || words(text).contains(&*inner) {
        return None;
    }
    let block = place.block as usize;
    let (lines, reads) = (layout.blocks.get(block)?, reads(db, document));
    let mut edits = Vec::new();
    for (chunk, read) in lines.entries.iter().zip(&reads.get(block)?.entries) {
        let Read::Entry(entry, _) = &**read else { continue };
        // Cables and loads stand at the line.
        let external =
            |e: &Element| e.attributes.iter().any(|a| matches!(a, Attribute::Word(w) if &*w.text == "external"));
        let outside = match &entry.tree {
            EntryTree::Path(path) => path.steps.iter().any(|s| match s {
                Step::Parts(parts) => parts.iter().flatten().any(external),
                _ => false,
            }),
            _ => false,
        };
        if outside {
            continue;
        }
        for word in notation::nodes_of(entry).into_iter().filter(|w| *w.text == *node) {
            let at = chunk.range.start + word.span.start as usize..chunk.range.start + word.span.end as usize;
            edits.push(Edit { range: at, text: inner.clone() });
        }
    }
    let last = lines.entries.len().checked_sub(1)?;
    let (end, indent) = below(layout, text, Place { entry: Some(last as u32), ..place })?;
    let name = format!("R{}", free(db, document, "R"));
    edits.push(Edit { range: end..end, text: format!("\n{indent}{inner} -- {name} {value} -- {node}") });
    Some(Fix { title: format!("put {name} {value} between {amplifier} and {node}"), edits })
}

fn one(title: String, range: Range<usize>, text: String) -> Option<Fix> {
    Some(Fix { title, edits: vec![Edit { range, text }] })
}

/// Two equal resistors that tie the legs of a pair to gnd, below the entry at a place.
pub(crate) fn tied(
    db: &dyn Desk,
    document: Document,
    layout: &Layout,
    text: &str,
    legs: [&str; 2],
    place: Place,
) -> Option<Fix> {
    let (end, indent) = below(layout, text, place)?;
    let first = free(db, document, "R");
    let entries = [0, 1].map(|k| format!("{} -- R{} 100k -- gnd", legs[k], first + k as u32));
    let text = entries.iter().map(|e| format!("\n{indent}{e}")).collect();
    one(format!("add {} and {}", entries[0], entries[1]), end..end, text)
}

/// Where a line below an entry goes, and how it is indented.
fn below<'t>(layout: &Layout, text: &'t str, place: Place) -> Option<(usize, &'t str)> {
    let lines = lines_of(layout, place)?;
    let end = line_end(text, lines.range.end);
    let indent = &text[line_start(text, lines.range.start)..lines.range.start];
    Some((end, if indent.is_empty() || !indent.trim().is_empty() { "  " } else { indent }))
}

/// The next number of a class that no part has.
fn free(db: &dyn Desk, document: Document, class: &str) -> u32 {
    notation::next_free(assembled(db, document).circuit.parts.iter().map(|p| &*p.name), class)
}

/// The entry that a part stands in, and its first byte in the text.
fn entry(db: &dyn Desk, document: Document, layout: &Layout, part: &str) -> Option<(notation::tree::Entry, usize)> {
    let all = assembled(db, document);
    let index = all.circuit.parts.iter().position(|p| *p.name == *part)?;
    // A copy's value is its pattern's: another one would change them all.
    if all.circuit.parts[index].copy_of.is_some() {
        return None;
    }
    let place = *all.places.parts.get(index)?;
    let start = lines_of(layout, place)?.range.start;
    let reads = reads(db, document);
    match &**reads.get(place.block as usize)?.entries.get(place.entry? as usize)? {
        Read::Entry(entry, _) => Some((entry.clone(), start)),
        Read::Heading(_) => None,
    }
}

/// Where a part stands in the file.
fn place_of(db: &dyn Desk, document: Document, part: &str) -> Option<Place> {
    let all = assembled(db, document);
    let index = all.circuit.parts.iter().position(|p| *p.name == *part)?;
    all.places.parts.get(index).copied()
}

/// A part as it is written, and the first byte of its entry.
fn element(db: &dyn Desk, document: Document, layout: &Layout, part: &str) -> Option<(Element, usize)> {
    let (entry, start) = entry(db, document, layout, part)?;
    let found = match entry.tree {
        EntryTree::Path(path) => path.steps.into_iter().find_map(|step| match step {
            Step::Parts(parts) => parts.into_iter().flatten().find(|e| *e.part.text == *part),
            _ => None,
        }),
        EntryTree::Device(device) => Some(device.element),
        _ => None,
    };
    found.map(|e| (e, start))
}
