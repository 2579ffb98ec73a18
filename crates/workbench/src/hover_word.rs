//! What a word of the notation means: the first paragraph of its page in the manual.

use std::ops::Range;

use manual::Kind;
use notation::layout::Layout;
use notation::token::TokenKind;
use notation::tree::BlockKind;

use crate::plain::Hover;

/// Words of the longest phrase: `input range from high rail`.
const LONGEST: usize = 5;

/// The page of the word at a byte, where it stands as a word of the notation: not in a comment, a title or a description.
pub(crate) fn hover(text: &str, layout: &Layout, offset: usize) -> Option<Hover> {
    let (kind, heading, range) = chunk(layout, offset)?;
    let entry = &text[range.clone()];
    let words: Vec<(TokenKind, Range<usize>)> = notation::tokens(entry)
        .into_iter()
        .filter(|t| t.kind != TokenKind::Blank)
        .map(|t| (t.kind, t.span.range()))
        .collect();
    let at = offset - range.start;
    // Behind a word's last letter the cursor still touches it.
    let touched = |r: &Range<usize>| r.contains(&at) || r.end == at;
    let here = words.iter().position(|(k, r)| touched(r) && is_word(*k))?;
    // The longest phrase that holds the word goes first: `voltage noise corner` before `noise`.
    for length in (1..=LONGEST).rev() {
        for start in here.saturating_sub(length - 1)..=here {
            let Some(phrase) = words.get(start..start + length) else { continue };
            if length > 1 && !phrase.iter().all(|(k, _)| *k == TokenKind::Name) {
                continue;
            }
            let said: Vec<&str> = phrase.iter().map(|(_, r)| &entry[r.clone()]).collect();
            let Some(page) = manual::find(&said.join(" ")) else { continue };
            let first = start == 0;
            if !belongs(page.kind, kind, heading && first) || !exactly(page, &said.join(" ")) {
                continue;
            }
            let from = range.start + phrase[0].1.start;
            let to = range.start + phrase[length - 1].1.end;
            return Some(render(page, from..to));
        }
    }
    None
}

/// The heading or entry at a byte: of which block, whether it is the heading, and its range.
fn chunk(layout: &Layout, offset: usize) -> Option<(Option<BlockKind>, bool, Range<usize>)> {
    let near = |r: &Range<usize>| r.start <= offset && offset <= r.end;
    layout.blocks.iter().find_map(|block| {
        if let Some(h) = block.heading.as_ref().filter(|h| near(&h.range)) {
            return Some((block.kind, true, h.range.clone()));
        }
        block.entries.iter().find(|e| near(&e.range)).map(|e| (block.kind, false, e.range.clone()))
    })
}

fn is_word(kind: TokenKind) -> bool {
    matches!(
        kind,
        TokenKind::Name
            | TokenKind::Series
            | TokenKind::Weighted
            | TokenKind::Unit
            | TokenKind::Percent
            | TokenKind::PlusMinus
            | TokenKind::Link
            | TokenKind::Arrow
            | TokenKind::Parallel
            | TokenKind::Range
    )
}

/// Capitals count in a design: `Gain` is a node there.
fn exactly(page: &manual::Page, said: &str) -> bool {
    page.words().any(|w| w == said)
}

/// Whether a word of that kind has its meaning in such a block.
fn belongs(page: Kind, block: Option<BlockKind>, opens: bool) -> bool {
    match page {
        Kind::Guide | Kind::Rule => false,
        // `stage` opens a block, and stands in front of a stage's name in an assumption.
        Kind::Heading => opens || block == Some(BlockKind::Assume),
        Kind::Word => true,
        // `supply` is an amplifier's terminal too.
        Kind::Entry => {
            matches!(block, Some(BlockKind::Design | BlockKind::Datasheet | BlockKind::Stage | BlockKind::Use))
        }
        Kind::Quantity => {
            matches!(block, Some(BlockKind::Require | BlockKind::Formula | BlockKind::Assume | BlockKind::Design))
        }
    }
}

fn render(page: &manual::Page, range: Range<usize>) -> Hover {
    let paragraph = page.text.split("\n\n").next().unwrap_or_default().replace('\n', " ");
    let more = format!("stagewright explain {}", page.title);
    Hover {
        range,
        markdown: format!("{paragraph}\n\n`{more}`"),
        plain: format!("{}\n{more}", page.short()),
        picture: None,
    }
}
