//! The words of a quantity: the longest match in the closed list, or what may have been meant.

use chumsky::prelude::*;

use super::element::list;
use super::{Desk, Key, Reads, Said, Tk};
use crate::near::nearest;
use crate::token::TokenKind;
use crate::tree::Span;
use crate::word::{PHRASES, PhraseForm, phrase};

/// Words of the longest phrase.
const LONGEST_PHRASE: usize = 3;

/// The head of a quantity.
#[derive(Clone, Copy)]
pub(crate) struct Head {
    pub phrase: Option<&'static str>,
    pub span: Span,
}
/// A word that may name a node, a pair or a setting.
pub(crate) fn names(t: &Tk) -> bool {
    matches!(t.kind, TokenKind::Name | TokenKind::Series | TokenKind::Foreign | TokenKind::Unit) && !t.key.is_clause()
}

/// `->`, or what is written for it.
pub(crate) fn is_arrow(t: &Tk) -> bool {
    t.kind == TokenKind::Arrow
        || matches!(t.key, Key::LikeLongArrow | Key::LikeFatArrow | Key::LikeDash)
        || t.kind == TokenKind::Link
}

/// The words of the phrase. With a form asked for, it fails unless the phrase has that form; without, it takes what there is
/// and says what may have been meant.
pub(crate) fn head(form: Option<PhraseForm>) -> impl Reads<Head> {
    custom(move |inp: &mut chumsky::input::InputRef<'static, '_, super::In, super::Ex>| {
        let start = inp.cursor();
        let save = inp.save();
        let mut words: Vec<Tk> = Vec::new();
        while words.len() < LONGEST_PHRASE {
            match inp.peek() {
                Some(t) if t.kind == TokenKind::Name && !t.key.is_clause() => {
                    words.push(t);
                    inp.skip();
                }
                _ => break,
            }
        }
        inp.rewind(save);
        let desk: &Desk = inp.state();
        let hit = (1..=words.len()).rev().find_map(|n| phrase(&joined(desk, &words[..n])).map(|(p, f)| (n, p, f)));
        match (hit, form) {
            (Some((n, p, f)), Some(wanted)) if f == wanted => {
                for _ in 0..n {
                    inp.skip();
                }
                let range = inp.span_since(&start).into_range();
                Ok(Head { phrase: Some(p), span: inp.state().place(range) })
            }
            (None, None) => unknown(inp, words),
            _ => Err(Said::NOT_HERE),
        }
    })
}

/// The phrase that ends in front of the token at an index, with its place.
pub(crate) fn phrase_before(desk: &Desk, index: usize) -> Option<(Span, &'static str)> {
    (1..=LONGEST_PHRASE.min(index)).rev().find_map(|n| {
        let words = desk.toks.get(index - n..index)?;
        Some((desk.place(index - n..index), phrase(&joined(desk, words))?.0))
    })
}

fn joined(desk: &Desk, words: &[Tk]) -> String {
    words.iter().map(|t| desk.slice(t)).collect::<Vec<_>>().join(" ")
}

/// Takes the words of a phrase that is none, up to `of`, a clause, a limit, or the node in front of an arrow.
fn unknown(
    inp: &mut chumsky::input::InputRef<'static, '_, super::In, super::Ex>,
    first: Vec<Tk>,
) -> Result<Head, Said> {
    let start = inp.cursor();
    let from = inp.span_since(&start).start;
    let desk = inp.state();
    let mut count = desk.toks[from..].iter().take_while(|t| t.kind == TokenKind::Name && !t.key.is_clause()).count();
    let after = desk.tok(from + count).copied();
    // `gian in -> out`: the word in front of the arrow is the node. `low + high ->` likewise.
    let point = after.is_some_and(|t| is_arrow(&t) || matches!(t.kind, TokenKind::Plus | TokenKind::Minus));
    if point {
        count = count.saturating_sub(1);
    }
    let place = desk.place(from..from + count);
    let said = unknown_phrase(desk, from, count, &first);
    // Words that were not meant as part of the phrase may be names.
    for i in from + 1..from + count {
        let tk = desk.toks[i];
        desk.stray(&tk);
    }
    inp.emit(said);
    for _ in 0..count {
        inp.skip();
    }
    Ok(Head { phrase: None, span: place })
}

fn unknown_phrase(desk: &Desk, from: usize, count: usize, first: &[Tk]) -> Said {
    let end = desk.ends(from + count);
    let place = desk.place(from..from + count);
    if count == 0 {
        return Said::torn("quantity-missing", desk.gap(from), "A quantity is missing, as in gain in -> out")
            .unfinished(end);
    }
    let words = &first[..count.min(first.len())];
    let text = joined(desk, words);
    // Of the phrases that begin so, those whose form fits what follows.
    let follows = &desk.toks[from + count..desk.toks.len().min(from + count + 8)];
    let form = match follows.iter().find(|t| t.key == Key::Of || is_arrow(t)) {
        Some(t) if t.key == Key::Of => Some(PhraseForm::Of),
        Some(_) => Some(PhraseForm::FromTo),
        None => None,
    };
    let begun = |p: &str| p.len() > text.len() && p.starts_with(&text);
    let fits = PHRASES.iter().filter(|(p, f)| begun(p) && form.is_none_or(|g| g == *f));
    let typed: Vec<&str> = fits.map(|(p, _)| *p).take(6).collect();
    if let Some(first) = typed.first() {
        let yet = if end { " yet" } else { "" };
        let said =
            Said::torn("quantity-unknown", place, format!("`{text}` is no quantity{yet}: {} may be", list(&typed)));
        return said.unfinished(end).fix(place, *first);
    }
    for n in (1..=words.len()).rev() {
        if let Some(near) = nearest(&joined(desk, &words[..n]), PHRASES.iter().map(|(p, _)| *p)) {
            let span = desk.place(from..from + n);
            return Said::torn(
                "quantity-unknown",
                span,
                format!("{} is no quantity: did you mean {near}?", joined(desk, &words[..n])),
            )
            .fix(span, near);
        }
    }
    let message = format!("`{text}` is no quantity: gain, phase, impedance, noise and others are");
    Said::torn("quantity-unknown", place, message)
}
