//! Where the cursor stands: the tokens of its entry in front of it and behind it, and the word that it touches.

use std::ops::Range;

use notation::layout::{Chunk, Layout};
use notation::token::{TokenKind, tokens};
use notation::tree::BlockKind;

use crate::line::line_start;

/// A token of the cursor's entry that is no blank and no comment. Its range counts in the file.
#[derive(Clone, Debug)]
pub(crate) struct Tok<'t> {
    pub kind: TokenKind,
    pub text: &'t str,
    pub range: Range<usize>,
}

/// What the cursor stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Inside {
    /// In what is read.
    Code,
    /// In a quoted text that begins at this byte, behind its mark.
    Text(usize),
}

/// The cursor in its entry.
#[derive(Clone, Debug)]
pub(crate) struct Cursor<'t> {
    pub at: usize,
    pub inside: Inside,
    /// The kind of the block that it stands in.
    pub kind: Option<BlockKind>,
    /// The block by its number.
    pub block: Option<usize>,
    /// It stands in the block's heading.
    pub heading: bool,
    /// The first token of the line, or the cursor where there is none, does not stand in column 0.
    pub indented: bool,
    /// The first byte of the line.
    pub line: usize,
    /// Further entries of the block follow.
    pub followed: bool,
    /// In front of the word.
    pub before: Vec<Tok<'t>>,
    /// The word that the cursor touches; empty where it touches none.
    pub word: Range<usize>,
    /// The part of the word in front of the cursor.
    pub typed: &'t str,
    /// Behind the word, to the entry's end.
    pub after: Vec<Tok<'t>>,
}

impl<'t> Cursor<'t> {
    /// Finds it; `None` inside a comment.
    pub fn at(text: &'t str, layout: &Layout, offset: usize) -> Option<Cursor<'t>> {
        let at = (0..=offset.min(text.len())).rev().find(|i| text.is_char_boundary(*i))?;
        let bom = if text.starts_with('\u{FEFF}') { '\u{FEFF}'.len_utf8() } else { 0 };
        let at = at.max(bom);
        let line = line_start(text, at);
        let line_end = text[at..].find('\n').map_or(text.len(), |n| at + n);
        let (block, heading, chunk) = chunk(layout, at);
        // Blanks behind an entry's last token still belong to its line.
        let here = chunk.filter(|c| at <= c.range.end || !text[c.range.end..at].contains('\n'));
        let start = here.map_or(line, |c| c.range.start);
        let end = here.map_or(line_end, |c| c.range.end.max(line_end));
        let heading = heading && here.is_some();
        let kind = block.and_then(|b| layout.blocks[b].kind);
        let followed = block.is_some_and(|b| layout.blocks[b].entries.iter().any(|e| e.range.start > line_end));

        let (mut before, mut after, mut word) = (Vec::new(), Vec::new(), at..at);
        let mut inside = Inside::Code;
        for t in tokens(&text[start..end]) {
            let range = start + t.span.start as usize..start + t.span.end as usize;
            let around = range.start < at && at < range.end;
            match t.kind {
                // At a comment's very end one is still in it.
                TokenKind::Comment if range.start < at && at <= range.end => return None,
                TokenKind::Blank | TokenKind::LineEnd | TokenKind::LoneReturn | TokenKind::Comment => continue,
                TokenKind::Text | TokenKind::CurlyText if around => inside = Inside::Text(range.start + 1),
                TokenKind::OpenText if range.start < at && at <= range.end => inside = Inside::Text(range.start + 1),
                // A word at the cursor's left goes before one at its right.
                kind if is_word(kind) && range.start <= at && at <= range.end && (word.is_empty() || around) => {
                    word = range.clone();
                    continue;
                }
                _ => {}
            }
            let tok = Tok { kind: t.kind, text: &text[range.clone()], range };
            if inside != Inside::Code && tok.range.start < at && at <= tok.range.end {
                // What stands behind the cursor in the same text is its own.
                let close = usize::from(t.kind != TokenKind::OpenText);
                word = at..(tok.range.end - close).max(at);
            } else if tok.range.end <= at {
                before.push(tok);
            } else {
                after.push(tok);
            }
        }
        // `ch2.` is the beginning of a copy's name, `3.` that of a figure.
        if let [.., own, dot] = &before[..]
            && word.is_empty()
            && dot.text == "."
            && dot.range.end == at
            && matches!(own.kind, TokenKind::Name | TokenKind::Figure)
            && own.range.end == dot.range.start
        {
            word = own.range.start..at;
            before.truncate(before.len() - 2);
        }
        let first = before.first().map_or(if word.is_empty() { at } else { word.start }, |t| t.range.start);
        let indented = line_start(text, first) < first;
        let typed = if inside == Inside::Code { &text[word.start..at] } else { "" };
        Some(Cursor { at, inside, kind, block, heading, indented, line, followed, before, word, typed, after })
    }

    /// Nothing but the word stands up to the entry's end.
    pub fn ends(&self) -> bool {
        self.after.is_empty()
    }

    /// What stands behind the word, to the entry's end.
    pub fn rest(&self, text: &'t str) -> &'t str {
        let end = self.after.last().map_or(self.word.end, |t| t.range.end);
        &text[self.word.end..end]
    }

    /// The last token in front of the word.
    pub fn last(&self) -> Option<&Tok<'t>> {
        self.before.last()
    }

    /// The place of an opening parenthesis in front of the word that is not closed in front of it.
    pub fn parenthesis(&self) -> Option<usize> {
        let mut open = Vec::new();
        for (i, t) in self.before.iter().enumerate() {
            match t.kind {
                TokenKind::Open => open.push(i),
                TokenKind::Close => drop(open.pop()),
                _ => {}
            }
        }
        open.pop()
    }

    /// Whether the word, or nothing, stands where a name may be typed: not at a figure or a mark.
    pub fn naming(&self) -> bool {
        !self.typed.starts_with(|c: char| c.is_ascii_digit() || c == '.')
    }
}

/// The last block and its last heading or entry that begin at or in front of a byte.
fn chunk(layout: &Layout, at: usize) -> (Option<usize>, bool, Option<&Chunk>) {
    let begun = |c: &&Chunk| c.range.start <= at;
    let first = |b: &notation::layout::Block| b.heading.iter().chain(&b.entries).next().map_or(0, |c| c.range.start);
    let block = layout.blocks.partition_point(|b| first(b) <= at).checked_sub(1);
    let Some(b) = block else {
        // In front of the first entry of a file without a heading one is in its block already.
        return (None, false, None);
    };
    let entries = &layout.blocks[b].entries;
    let entry = entries[..entries.partition_point(|e| e.range.start <= at)].last();
    match entry {
        Some(entry) => (block, false, Some(entry)),
        None => (block, true, layout.blocks[b].heading.as_ref().filter(begun)),
    }
}

fn is_word(kind: TokenKind) -> bool {
    matches!(
        kind,
        TokenKind::Name
            | TokenKind::Part
            | TokenKind::Series
            | TokenKind::Unit
            | TokenKind::Figure
            | TokenKind::Weighted
            | TokenKind::Foreign
            | TokenKind::DecimalComma
            | TokenKind::BarePoint
    )
}

/// The tokens behind the last one of some kinds, and that one's kind.
pub(crate) fn behind<'a, 't>(toks: &'a [Tok<'t>], kinds: &[TokenKind]) -> (Option<TokenKind>, &'a [Tok<'t>]) {
    match toks.iter().rposition(|t| kinds.contains(&t.kind)) {
        Some(i) => (Some(toks[i].kind), &toks[i + 1..]),
        None => (None, toks),
    }
}

/// How far the amount at the beginning of some tokens goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Amount {
    /// There is none yet.
    Missing,
    /// A figure of this many tokens that a unit may follow.
    Bare(usize),
    /// All of it is there, in this many tokens.
    Whole(usize),
}

/// The amount that some tokens begin with.
pub(crate) fn amount(toks: &[Tok]) -> Amount {
    let sign = usize::from(toks.first().is_some_and(|t| matches!(t.kind, TokenKind::Plus | TokenKind::Minus)));
    match toks.get(sign).map(|t| t.kind) {
        Some(TokenKind::Figure) => match toks.get(sign + 1).map(|t| t.kind) {
            Some(TokenKind::Unit | TokenKind::Percent) => Amount::Whole(sign + 2),
            _ if quantity_is_whole(toks[sign].text) => Amount::Whole(sign + 1),
            _ => Amount::Bare(sign + 1),
        },
        Some(TokenKind::Open) => {
            let mut depth = 0;
            for (i, t) in toks.iter().enumerate() {
                match t.kind {
                    TokenKind::Open => depth += 1,
                    TokenKind::Close => depth -= 1,
                    _ => {}
                }
                if depth == 0 && i >= sign {
                    return Amount::Whole(i + 1);
                }
            }
            Amount::Missing
        }
        _ => Amount::Missing,
    }
}

/// Whether a figure holds its unit already.
fn quantity_is_whole(figure: &str) -> bool {
    figure.ends_with(|c: char| !c.is_ascii_digit())
}
