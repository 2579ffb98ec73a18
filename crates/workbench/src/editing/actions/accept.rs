//! A finding conceded, with a reason that the author writes.

use notation::tree::{BlockKind, DesignEntry, EntryTree};

use super::{ActionKind, Offer, Place};
use crate::database::circuit_of;
use crate::plain::{Edit, Problem, Severity};

/// Stands where the reason is to be written.
const REASON: &str = "say why";

/// Concessions of the findings where it was asked.
pub(super) fn offers<'a>(place: &'a Place<'a>) -> Vec<Offer<'a>> {
    let problems = crate::problems::problems_reviewed(place.db, place.document, false);
    let here = problems.iter().filter(|p| place.touches(&p.range));
    let mut seen: Vec<String> = Vec::new();
    here.filter_map(|problem| {
        let what = conceded(place, problem)?;
        let entry = format!("accept {} for {what}: \"{REASON}\"", problem.id.replace('-', " "));
        if seen.contains(&entry) {
            return None;
        }
        seen.push(entry.clone());
        let title = format!("accept {} for {what}, with a reason", problem.id.replace('-', " "));
        let mut offer = Offer::new(ActionKind::QuickFix, title, move || Some(vec![written(place, &entry)])).same();
        offer.placeholder = Some(REASON);
        Some(offer)
    })
    .collect()
}

/// The name for which a finding can be conceded: the one that it points at, else the first that the circuit has.
fn conceded(place: &Place, problem: &Problem) -> Option<String> {
    let reviewed = argument::rules::find(problem.id).is_some();
    if !(reviewed || crate::accept::RULES.contains(&problem.id) && problem.severity < Severity::Error) {
        return None;
    }
    let circuit = circuit_of(place.db, place.document);
    let known = |name: &&String| {
        circuit.node(name).is_some()
            || circuit.stage(name).is_some()
            || circuit.pair(name).is_some()
            || circuit.parts.iter().any(|p| *p.name == ***name)
    };
    let at = place.text.get(problem.range.clone());
    let known: Vec<&String> = problem.names.iter().filter(known).collect();
    known.iter().find(|n| at == Some(n)).or(known.first()).map(|n| n.to_string())
}

/// An entry behind the last of `design`'s concessions, or its last entry, or under such a heading of its own above everything else.
fn written(place: &Place, entry: &str) -> Edit {
    let text = place.text;
    let design = place.layout.blocks.iter().position(|b| b.kind == Some(BlockKind::Design));
    let Some(block) = design else {
        let first = place.layout.blocks.first().and_then(|b| b.heading.as_ref().or(b.entries.first()));
        let at = first.map_or(text.len(), |c| c.description.as_ref().map_or(c.range.start, |d| d.start));
        let at = crate::line::line_start(text, at);
        return Edit { range: at..at, text: format!("design\n  {entry}\n\n") };
    };
    let accepts = |e: &usize| {
        place.lines().any(|line| {
            (line.block, line.entry) == (block, *e)
                && matches!(line.tree.tree, EntryTree::Design(DesignEntry::Accept { .. }))
        })
    };
    let own = &place.layout.blocks[block];
    let after = (0..own.entries.len()).rev().find(accepts).map(|e| &own.entries[e]);
    let after = after.or(own.entries.last()).or(own.heading.as_ref());
    let end = after.map_or(0, |c| c.range.end);
    // Behind a comment on the same line.
    let end = text[end..].find(['\n', '\r']).map_or(text.len(), |i| end + i);
    Edit { range: end..end, text: format!("\n  {entry}") }
}
