//! What a line of the argument comes to: its figure, its verdict, and the working behind them.

use std::ops::Range;

use notation::tree::BlockKind;

use crate::database::{Desk, Document, entries_of, layout};
use crate::hints::{Which, hints};
use crate::plain::{Hint, HintKind, Hover, Mark};
use crate::plots::small;

/// The statement at a byte. What a word in it means stands below, where one is given.
pub(crate) fn hover(
    db: &dyn Desk,
    document: Document,
    offset: usize,
    word: Option<Hover>,
    pictures: bool,
) -> Option<Hover> {
    let layout = layout(db, document);
    let stated = [BlockKind::Require, BlockKind::Assume, BlockKind::Formula]
        .into_iter()
        .flat_map(|kind| entries_of(&layout, kind).map(move |(b, e)| (kind, b, e)));
    let (kind, range, b, e) = stated
        .map(|(kind, b, e)| (kind, layout.blocks[b].entries[e].range.clone(), b, e))
        .find(|(_, r, ..)| r.start <= offset && offset <= r.end)?;
    let hint = hints(db, document, Some(range.clone()), Which::All)
        .into_iter()
        .find(|h| h.kind == HintKind::Statement && range.start <= h.at && h.at <= range.end)?;
    let plot = match kind {
        // What is not known has no curve: the sentence says why.
        _ if matches!(hint.mark, Mark::Unknown | Mark::Undecided) => None,
        BlockKind::Require => small::required(db, document, b as u32, e as u32),
        BlockKind::Assume => small::assumption(db, document, b, e),
        _ => None,
    };
    Some(render(&document.text(db)[range.start..hint.at], &hint, word, range, (plot.as_ref(), pictures)))
}

fn render(
    said: &str,
    hint: &Hint,
    word: Option<Hover>,
    range: Range<usize>,
    (plot, pictures): (Option<&plot::Plot>, bool),
) -> Hover {
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let working: Vec<&str> = hint.tooltip.iter().flat_map(|t| t.lines()).collect();
    let list = |mark: &str| working.iter().map(|w| format!("\n{mark}{w}")).collect::<String>();
    let mut markdown = format!("**{said}**\n\n{}\n{}", hint.label, list("- "));
    let mut plain = format!("{said}\n{}{}", hint.label, list("  "));
    let picture = plot.filter(|_| pictures).map(small::picture);
    if let Some(plot) = plot.filter(|_| !pictures) {
        let [marked, bare] = small::titled(plot);
        markdown = format!("{markdown}\n\n{marked}");
        plain = format!("{plain}\n{bare}");
    }
    let mut at = range.start..hint.at;
    if let Some(word) = word {
        markdown = format!("{markdown}\n\n---\n\n{}", word.markdown);
        plain = format!("{plain}\n\n{}", word.plain);
        at = word.range;
    }
    Hover { range: at, markdown, plain, picture }
}
