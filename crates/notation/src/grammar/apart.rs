//! A figure with its thousands set apart by blanks, `10 000 pF`: read as one, so that the entry stands, and said once.

use chumsky::prelude::*;

use super::amount::unit;
use super::{Desk, Reads, Said, Tk, kind, one};
use crate::token::TokenKind;
use crate::tree::Figure;
use crate::word::is_unit_symbol;

/// The digits at the front of a word, and what follows them.
fn digits(word: &str) -> (&str, &str) {
    word.split_at(word.find(|c: char| !c.is_ascii_digit()).unwrap_or(word.len()))
}

/// Whether a word is three digits, perhaps with a prefix or a unit behind them.
fn is_group(word: &str) -> bool {
    let (number, rest) = digits(word);
    number.len() == 3 && !rest.starts_with('.')
}

/// `10 000`: the first word has one to three digits and nothing else, and the next one is a group.
pub(crate) fn apart() -> impl Reads<Figure> {
    let first = kind(TokenKind::Figure).try_map_with(|t: Tk, e| {
        let index = e.span().into_range().end;
        let desk: &mut Desk = e.state();
        if begins(desk, &t, index) { Ok(t) } else { Err(Said::NOT_HERE) }
    });
    let group = one(|t: &Tk| t.kind == TokenKind::Figure).try_map_with(|t: Tk, e| {
        let desk: &mut Desk = e.state();
        if is_group(desk.slice(&t)) { Ok(t) } else { Err(Said::NOT_HERE) }
    });
    first.then(group.repeated().at_least(1).collect::<Vec<Tk>>()).then(unit().or_not()).validate(
        |((first, groups), unit), e, emitter| {
            let start = e.span().start;
            let desk = e.state();
            let last = unit.or(groups.last().copied()).unwrap_or(first);
            let span = first.span.to(last.span);
            let number: String = std::iter::once(&first).chain(&groups).map(|t| desk.slice(t)).collect();
            let unit = unit.map(|u| desk.slice(&u).to_string());
            let part = start.checked_sub(1).and_then(|b| desk.tok(b)).filter(|t| t.kind == TokenKind::Part);
            let part = part.map_or("", |t| desk.slice(t));
            let fixes = whole(part, &number, unit.as_deref());
            let subject = if part.is_empty() { String::new() } else { format!("{part} ") };
            let written = &desk.text[span.range()];
            let way = match &fixes[..] {
                [] => "it is written in one piece, with its prefix or unit behind it".to_string(),
                fixes => format!("it is written in one piece, {}", fixes.join(" or ")),
            };
            let message = format!("{subject}{written}: a blank ends a figure, so {way}");
            let said = Said::open("unreadable-figure", span, message);
            emitter.emit(fixes.iter().fold(said, |said, fix| said.fix(span, fix.as_str())));
            Figure {
                negative: false,
                signed: false,
                text: number.into(),
                unit: unit.map(Into::into),
                span,
                figure_span: first.span.to(groups.last().unwrap_or(&first).span),
            }
        },
    )
}

/// Whether a figure whose next token has this index begins one that is set apart.
fn begins(desk: &Desk, first: &Tk, index: usize) -> bool {
    let (number, rest) = digits(desk.slice(first));
    if !rest.is_empty() || number.len() > 3 || number.starts_with('0') {
        return false;
    }
    let mut next = index;
    let mut last = "";
    while let Some(t) = desk.tok(next).filter(|t| t.kind == TokenKind::Figure && is_group(desk.slice(t))) {
        last = digits(desk.slice(t)).1;
        next += 1;
    }
    if next == index {
        return false;
    }
    // Behind a part's value stand its ratings and its tolerance: `R1 100 250 V` is one of 250 V.
    let behind_part = index.checked_sub(2).and_then(|b| desk.kind(b)) == Some(TokenKind::Part);
    let unit = desk.tok(next).filter(|t| matches!(t.kind, TokenKind::Unit | TokenKind::Percent));
    let unit = unit.map_or(last, |t| desk.slice(t));
    let rating = unit.ends_with(['V', 'W', 'A', '%', 'C']) && (unit.len() == 1 || is_unit_symbol(unit));
    !(behind_part && rating)
}

/// The ways to write it: in one piece, and with the prefix that takes the thousands.
fn whole(part: &str, number: &str, unit: Option<&str>) -> Vec<String> {
    let (count, tail) = digits(number);
    let symbol = unit.unwrap_or(tail);
    // Ohms go without a unit; farads and henries do not.
    let class = part.rsplit('.').next().unwrap_or(part).trim_end_matches(|c: char| !c.is_ascii_uppercase());
    if symbol.is_empty() && !matches!(class, "R" | "VR" | "") {
        return Vec::new();
    }
    let blank = if unit.is_some_and(is_unit_symbol) { " " } else { "" };
    let mut all = vec![format!("{count}{blank}{symbol}")];
    let (mut less, mut shifted) = (count, symbol.to_string());
    while let (Some(rest), Some(next)) = (less.strip_suffix("000").filter(|r| !r.is_empty()), greater(&shifted)) {
        (less, shifted) = (rest, next);
    }
    if less.len() < count.len() && !(symbol.is_empty() && part.is_empty()) {
        let short = format!("{less}{blank}{shifted}");
        // A resistor's thousands are always written so.
        if symbol.is_empty() {
            all.clear();
        }
        all.push(short);
    }
    all
}

/// A unit, or a prefix alone, a thousand times as great: `pF` gives `nF`, `Hz` gives `kHz`.
fn greater(symbol: &str) -> Option<String> {
    const PREFIXES: [&str; 9] = ["f", "p", "n", "u", "m", "", "k", "M", "G"];
    let plain = symbol.replace(['µ', '\u{3bc}'], "u");
    let head = plain.chars().next().map_or(0, char::len_utf8);
    let (prefix, unit) = plain.split_at(head);
    // `V`, `ohm` and `Hz` have no prefix, though `m` of `ms` is one.
    let prefixed = PREFIXES[..5].contains(&prefix) || matches!(prefix, "k" | "M" | "G");
    let (prefix, unit) =
        if prefixed && (unit.is_empty() || is_unit_symbol(unit)) { (prefix, unit) } else { ("", &*plain) };
    let next = PREFIXES.iter().position(|p| *p == prefix).and_then(|i| PREFIXES.get(i + 1))?;
    let found = format!("{next}{unit}");
    (unit.is_empty() && !next.is_empty() || is_unit_symbol(&found)).then_some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_thousands_go_into_the_prefix() {
        for (part, number, unit, ways) in [
            ("C2", "10000", Some("pF"), "10000 pF or 10 nF"),
            ("C2", "10000p", None, "10000p or 10n"),
            ("C2", "1000000", Some("pF"), "1000000 pF or 1 uF"),
            ("C2", "10000", None, ""),
            ("R1", "10000", None, "10k"),
            ("R1", "1000000", None, "1M"),
            ("R1", "10500", None, "10500"),
            ("R1", "10000", Some("ohm"), "10000 ohm or 10 kohm"),
            ("R1", "4700", Some("k"), "4700k"),
            ("", "20000", Some("Hz"), "20000 Hz or 20 kHz"),
            ("", "10000", None, "10000"),
            ("", "10000", Some("dB"), "10000 dB"),
        ] {
            assert_eq!(whole(part, number, unit).join(" or "), ways, "{part} {number} {unit:?}");
        }
    }
}
