//! A polar capacitor the other way round: the path that it stands in, written from its other end.

use notation::tree::{EntryTree, Path, Step};

use super::place::has_word;
use super::{ActionKind, Offer, Place};
use crate::plain::Edit;

/// Turns the polar capacitor where it was asked.
pub(super) fn offers<'a>(place: &'a Place<'a>) -> Vec<Offer<'a>> {
    let Some((line, element)) = place.element().filter(|(_, e)| has_word(e, "polar")) else { return Vec::new() };
    let EntryTree::Path(path) = &line.tree.tree else { return Vec::new() };
    let entry = &place.text[line.chunk.range.clone()];
    let Some(edits) = reversed(path, entry, line.chunk.range.start, &element.part.text) else { return Vec::new() };
    vec![Offer::new(ActionKind::Rewrite, format!("turn {} round", element.part.text), move || Some(edits.clone()))]
}

/// The edits that write a path from its other end, which turns one polar part of it round and nothing else; `None` where another part
/// would be turned with it, or where it stands in several lines.
pub(crate) fn reversed(path: &Path, entry: &str, start: usize, part: &str) -> Option<Vec<Edit>> {
    let turns = |e: &&notation::tree::Element| has_word(e, "polar") || &*e.part.class == "VR";
    let elements = || {
        path.steps.iter().flat_map(|s| match s {
            Step::Parts(parts) => parts.iter().flatten().collect::<Vec<_>>(),
            _ => Vec::new(),
        })
    };
    if entry.contains('\n') || elements().filter(turns).any(|e| *e.part.text != *part) {
        return None;
    }
    let spans: Vec<_> = path.steps.iter().map(span).collect::<Option<_>>()?;
    let whole = |i: usize| start + spans[i].start as usize..start + spans[i].end as usize;
    let last = spans.len() - 1;
    let edits = (0..spans.len()).filter(|i| entry[spans[*i].range()] != entry[spans[last - i].range()]);
    Some(edits.map(|i| Edit { range: whole(i), text: entry[spans[last - i].range()].to_string() }).collect())
}

fn span(step: &Step) -> Option<notation::tree::Span> {
    match step {
        Step::Node(word) => Some(word.span),
        Step::Parts(parts) => Some(parts.first()?.as_ref()?.span.to(parts.last()?.as_ref()?.span)),
        Step::Missing(_) => None,
    }
}
