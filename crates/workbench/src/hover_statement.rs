//! What a line of the argument comes to: its figure, its verdict, and the working behind them.

use std::ops::Range;

use notation::tree::BlockKind;

use crate::database::{Desk, Document, layout};
use crate::hints::{Which, hints};
use crate::plain::{Hint, HintKind, Hover};

/// The statement at a byte. What a word in it means stands below, where one is given.
pub(crate) fn hover(db: &dyn Desk, document: Document, offset: usize, word: Option<Hover>) -> Option<Hover> {
    let layout = layout(db, document);
    let stated = layout
        .blocks
        .iter()
        .filter(|b| matches!(b.kind, Some(BlockKind::Require | BlockKind::Assume | BlockKind::Formula)));
    let range =
        stated.flat_map(|b| &b.entries).map(|e| e.range.clone()).find(|r| r.start <= offset && offset <= r.end)?;
    let hint = hints(db, document, Some(range.clone()), Which::All)
        .into_iter()
        .find(|h| h.kind == HintKind::Statement && range.start <= h.at && h.at <= range.end)?;
    Some(render(&document.text(db)[range.start..hint.at], &hint, word, range))
}

fn render(said: &str, hint: &Hint, word: Option<Hover>, range: Range<usize>) -> Hover {
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let working: Vec<&str> = hint.tooltip.iter().flat_map(|t| t.lines()).collect();
    let list = |mark: &str| working.iter().map(|w| format!("\n{mark}{w}")).collect::<String>();
    let mut markdown = format!("**{said}**\n\n{}\n{}", hint.label, list("- "));
    let mut plain = format!("{said}\n{}{}", hint.label, list("  "));
    let mut at = range.start..hint.at;
    if let Some(word) = word {
        markdown = format!("{markdown}\n\n---\n\n{}", word.markdown);
        plain = format!("{plain}\n\n{}", word.plain);
        at = word.range;
    }
    Hover { range: at, markdown, plain }
}
