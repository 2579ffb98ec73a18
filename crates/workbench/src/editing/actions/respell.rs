//! The same value in another spelling: `1500`, `1.5k`, `1k5`, `1.5 kohm`.

use notation::token::TokenKind;
use quantity::{Spelling, Style, Want};

use super::place::valued;
use super::{ActionKind, Offer, Place};
use crate::plain::Edit;

/// The other spellings of the figure where it was asked.
pub(super) fn offers<'a>(place: &'a Place<'a>) -> Vec<Offer<'a>> {
    let own = place.element().and_then(|(line, element)| {
        let valued = valued(element)?;
        let range = line.range(valued.figure.span);
        place.touches(&range).then_some((valued, range))
    });
    let (range, spellings) = match own {
        Some((valued, range)) => {
            let printed = place.text[range.clone()].contains(['µ', 'Ω']);
            let all = [Spelling::Code, Spelling::Prefix, Spelling::Unit { ascii: !printed, blank: true }].into_iter();
            let all = all.filter_map(|s| quantity::spelled(valued.value, valued.unit, s));
            let all: Vec<String> = all.filter(|text| valued.reads(text, valued.value)).collect();
            (range, all)
        }
        None => match figure(place) {
            Some(found) => found,
            None => return Vec::new(),
        },
    };
    let written = place.text[range.clone()].to_string();
    let mut texts: Vec<String> = Vec::new();
    for text in spellings {
        // The blank before a unit is the author's.
        if close(&text) != close(&written) && !texts.contains(&text) {
            texts.push(text);
        }
    }
    let one = |text: String| {
        let edit = Edit { range: range.clone(), text: text.clone() };
        Offer::new(ActionKind::Rewrite, format!("write {text}"), move || Some(vec![edit.clone()])).same()
    };
    texts.into_iter().map(one).collect()
}

/// A text without its blanks.
fn close(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

/// A figure with its unit, where it was asked, and how its prefix would usually be chosen.
fn figure(place: &Place) -> Option<(std::ops::Range<usize>, Vec<String>)> {
    let line = place.lines_here().next()?;
    let start = line.chunk.range.start;
    let entry = &place.text[line.chunk.range.clone()];
    let tokens = notation::tokens(entry);
    let at = tokens.iter().position(|t| {
        let range = start + t.span.start as usize..start + t.span.end as usize;
        t.kind == TokenKind::Figure && place.touches(&range)
    })?;
    let unit = tokens[at + 1..].iter().find(|t| t.kind != TokenKind::Blank).filter(|t| t.kind == TokenKind::Unit)?;
    // The place may want a spelling of its own: only what is read there already is respelled.
    if line.tree.fault.is_some() {
        return None;
    }
    let (word, unit) = (&entry[tokens[at].span.range()], (&entry[unit.span.range()], unit.span));
    let value = quantity::read(word, Some(unit.0), Want::Any).ok()?.0;
    let printed = word.contains('µ') || unit.0.contains(['µ', 'Ω', '√']);
    let text = if printed {
        quantity::exact(value.value, value.unit, Style::default())
    } else {
        quantity::canonical(value.value, value.unit)
    };
    let mut text = text?;
    if !text.contains(' ') {
        // A part's unit goes without saying at a part only.
        text = quantity::exact(value.value, value.unit, Style { ascii: !printed, ..Style::default() })?;
    }
    let (figure, symbol) = text.split_once(' ')?;
    let again = quantity::read(figure, Some(symbol), Want::Any).ok()?.0;
    if again.value != value.value || again.unit != value.unit {
        return None;
    }
    let range = start + tokens[at].span.start as usize..start + unit.1.end as usize;
    let blank = unit.1.start > tokens[at].span.end;
    Some((range, vec![if blank { text } else { text.replacen(' ', "", 1) }]))
}
