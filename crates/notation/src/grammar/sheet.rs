//! The lines of a data sheet: words, then figures.

use chumsky::prelude::*;

use super::amount::{Amounts, dots};
use super::{Desk, Key, Rule, Said, Tk, anything, comma, lack_open, one, rest};
use crate::token::TokenKind;
use crate::tree::{DatasheetEntry, Datum, EntryTree, Word};

/// The entry of `datasheet`: total, it takes the whole entry.
pub(crate) fn sheet(amounts: &Amounts) -> Rule<EntryTree> {
    let is_tag = |t: &Tk| matches!(t.key, Key::Typ | Key::Min | Key::Max);
    let words = one(move |t: &Tk| t.kind == TokenKind::Name && !is_tag(t))
        .map_with(|t, e| e.state().word(&t))
        .repeated()
        .collect::<Vec<Word>>()
        .validate(|words, e, emitter| {
            let range = e.span().into_range();
            let desk = e.state();
            if words.is_empty() {
                emitter.emit(Said::open(
                    "words-missing",
                    desk.gap(range.end),
                    "Of what? The figure's words are missing, as in gain bandwidth 3 MHz",
                ));
            }
            words
        });
    let tag = one(is_tag).map_with(|t, e| e.state().word(&t));
    let upper = dots().ignore_then(amounts.wanted("band-end-missing", "The range's upper end is missing"));
    let datum = tag
        .or_not()
        .then(amounts.wanted("figure-missing", "A figure is missing, as in typ 3 MHz"))
        .then(upper.or_not())
        .map(|((tag, amount), to)| Datum { tag, amount, to: to.flatten() })
        .boxed();
    let begins = move |t: &Tk| is_tag(t) || matches!(t.kind, TokenKind::Figure | TokenKind::Plus | TokenKind::Minus);
    let data =
        datum.clone().then(comma(begins).ignore_then(datum).repeated().collect::<Vec<_>>()).map(|(first, mut rest)| {
            rest.insert(0, first);
            rest
        });
    let none = anything()
        .not()
        .ignore_then(lack_open("figure-missing", "A figure is missing behind the words, as in gain bandwidth 3 MHz"))
        .map(|()| Vec::new());
    let odd = one(|t| matches!(t.kind, TokenKind::Equal | TokenKind::Colon)).validate(|t, e, emitter| {
        let start = e.span().start;
        let desk = e.state();
        let slice = desk.slice(&t).to_string();
        let message = format!("No `{slice}` stands between the words and the figures");
        let cut = super::cut(desk, start..start + 1);
        emitter.emit(
            Said::open("leftover", t.span, message).fix_all(format!("delete {slice}"), vec![(cut, String::new())]),
        );
    });
    words
        .then_ignore(odd.or_not())
        .then(none.or(data))
        .then_ignore(rest(behind))
        .validate(|(words, data), _, emitter| {
            for said in faults(&data) {
                emitter.emit(said);
            }
            EntryTree::Datum(DatasheetEntry { words, data })
        })
        .boxed()
}

/// What is wrong with the figures taken together.
fn faults(data: &[Datum]) -> Vec<Said> {
    let mut out = Vec::new();
    for (n, d) in data.iter().enumerate() {
        if data.len() > 1
            && d.tag.is_none()
            && let Some(amount) = &d.amount
        {
            out.push(Said::open(
                "tag-missing",
                amount.span(),
                "Of several figures each says which it is: typ, min or max",
            ));
        }
        if let Some(tag) = &d.tag {
            if d.to.is_some() {
                out.push(Said::open(
                    "tagged-range",
                    tag.span,
                    format!("{} goes with one figure, and this is a range", tag.text),
                ));
            }
            if data[..n].iter().take(3).any(|e| e.tag.as_ref().is_some_and(|t| t.text == tag.text)) {
                out.push(Said::open(
                    "tag-twice",
                    tag.span,
                    format!("{} stands twice: one of the two figures is meant", tag.text),
                ));
            }
        }
    }
    out
}

fn behind(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let t = &desk.toks[range.start];
    match t.kind {
        TokenKind::Name => Said::open(
            "leftover",
            t.span,
            format!("Words stand before the figures, and {} stands behind one", desk.slice(t)),
        ),
        TokenKind::PlusMinus => Said::open("leftover", t.span, "A data sheet's spread is written typ, min and max"),
        TokenKind::Colon | TokenKind::Equal => {
            Said::open("leftover", t.span, format!("No `{}` stands between the words and the figures", desk.slice(t)))
        }
        _ => super::leftover(desk, range),
    }
}
