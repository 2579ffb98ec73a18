//! A part with its value and attributes.

use chumsky::prelude::*;

use super::amount::{Amounts, figure_of, plus_minus};
use super::{Desk, Key, Reads, Rule, Said, Tk, key, kind, one, text};
use crate::near::{beginning_with, nearest};
use crate::token::TokenKind;
use crate::tree::{Amount, Attribute, Element, Figure, PartName, Span};
use crate::word::{ATTRIBUTES, CLASSES, class_meant, is_attribute};

/// Where an element stands, which decides what it must have.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Place {
    /// In a path: a part that needs a value has one.
    Path,
    /// In front of the `:` of a device.
    Device,
    /// Below `use`: only what is replaced is written.
    Override,
}

/// Whether parts of a class need a value; `None` for a class that is not defined.
pub(crate) fn needs_value(class: &str) -> Option<bool> {
    CLASSES.iter().find(|(c, _, _)| *c == class).map(|(_, _, needs)| *needs)
}

/// The element parser. A head is a part, or class letters alone where more of a part follows.
pub(crate) fn element(amounts: &Amounts, place: Place) -> Rule<Element> {
    let typed_head = one(|t: &Tk| t.kind == TokenKind::Part && t.key == Key::PartTyped);
    let head = one(|t: &Tk| t.kind == TokenKind::Part && t.key != Key::PartTyped).or(class_head());
    let coded = head.clone().then(coded()).map(|(head, ())| (head, Some(None)));
    let valued = coded.or(head.then(value(amounts).or_not())).then(attributes(amounts));
    // An amplifier's type is a name, or a figure such as 5532.
    let kind_name =
        kind(TokenKind::Figure).map_with(|t, e| Type::Figure(bare(e.state(), t))).or(type_word().map(Type::Word));
    let typed = typed_head.then(kind_name.or_not()).then(attributes(amounts));
    let typed = typed.map(|((head, kind), mut attributes)| match kind {
        Some(Type::Figure(f)) => ((head, Some(Some(Amount::Figure(f)))), attributes),
        Some(Type::Word(w)) => {
            attributes.insert(0, w);
            ((head, None), attributes)
        }
        None => ((head, None), attributes),
    });
    valued
        .or(typed)
        .validate(move |((head, value), attributes), e, emitter| {
            let range = e.span().into_range();
            let desk = e.state();
            let part = desk.part(&head);
            // `Some(None)` is a value that cannot be read: that is said where it stands, and "no value" would be untrue.
            let unread = matches!(value, Some(None));
            let element = Element { part, value: value.flatten(), attributes, span: desk.place(range.clone()) };
            for said in head_faults(desk, &element, unread, place, range.end) {
                emitter.emit(said);
            }
            element
        })
        .boxed()
}

enum Type {
    Figure(Figure),
    Word(Attribute),
}

fn bare(desk: &Desk, tk: Tk) -> Figure {
    Figure {
        negative: false,
        signed: false,
        text: desk.slice(&tk).into(),
        unit: None,
        span: tk.span,
        figure_span: tk.span,
    }
}

/// An amplifier's type.
fn type_word() -> impl Reads<Attribute> {
    one(|t: &Tk| {
        matches!(t.kind, TokenKind::Name | TokenKind::Part | TokenKind::Series | TokenKind::Foreign)
            && !t.key.is_clause()
    })
    .validate(|t, e, emitter| {
        let desk = e.state();
        if t.kind != TokenKind::Name {
            let small = desk.slice(&t).to_lowercase();
            emitter.emit(
                Said::open(
                    "type-shape",
                    t.span,
                    format!(
                        "`{}` has a part's shape and cannot be a type: types are written small, {small}",
                        desk.slice(&t)
                    ),
                )
                .fix(t.span, small),
            );
        }
        Attribute::Word(desk.word(&t))
    })
}

/// Class letters in front of what only a part has: `R 10k`, `R || …`.
fn class_head() -> impl Reads<Tk> {
    let follows = one(|t: &Tk| {
        matches!(
            t.kind,
            TokenKind::Figure | TokenKind::Open | TokenKind::Text | TokenKind::Series | TokenKind::Parallel
        ) || t.key == Key::LikeBar
    });
    key(Key::Class).then_ignore(follows.rewind())
}

/// A marking code without its leading digit, which reads as a name: `R47` behind `R1`, `n47` behind `C1`. Said, and passed over.
fn coded() -> impl Reads<()> {
    one(|t: &Tk| matches!(t.kind, TokenKind::Name | TokenKind::Part))
        .try_map_with(|t: Tk, e| {
            let index = e.span().into_range().end;
            let desk: &mut Desk = e.state();
            // The part stands right before its value.
            let class = index.checked_sub(2).and_then(|b| desk.tok(b)).map_or("", |b| desk.slice(b));
            let class = class.trim_end_matches(|c: char| c.is_ascii_lowercase() || c.is_ascii_digit());
            let letters = match class.rsplit('.').next() {
                Some("R" | "VR") => "RkKMGT",
                Some("C" | "L") => "fpnum",
                _ => "",
            };
            let mut code = desk.slice(&t).chars();
            let letter = code.next().is_some_and(|c| letters.contains(c));
            let digits = !code.as_str().is_empty() && code.all(|c| c.is_ascii_digit());
            // What has a value of its own is a part whose `--` is missing.
            let valued = matches!(desk.kind(index), Some(TokenKind::Figure | TokenKind::Open))
                && desk.kind(index + 1) != Some(TokenKind::Percent);
            if letter && digits && !valued { Ok(t) } else { Err(Said::NOT_HERE) }
        })
        .validate(|t, e, emitter| {
            let start = e.span().start;
            let desk = e.state();
            let code = desk.slice(&t).to_string();
            let what = if t.kind == TokenKind::Part { "a part" } else { "a node" };
            let part = start.checked_sub(1).and_then(|b| desk.tok(b)).map_or("a part", |b| desk.slice(b));
            let message = format!("{code} is the name of {what}: as {part}'s value it has its digit in front, 0{code}");
            emitter.emit(Said::open("unreadable-figure", t.span, message).fix(t.span, format!("0{code}")));
            desk.stray(&t);
        })
}

/// A value: `Some(None)` stands for one that cannot be read.
fn value(amounts: &Amounts) -> impl Reads<Option<Amount>> {
    let figure = amounts.figure.clone().map(|f| Some(Amount::Figure(f)));
    let paren = amounts.paren.clone().map(|e| Some(Amount::Expression(e)));
    // The amount parser says what is wrong with a look-alike of a figure.
    let alike = one(|t: &Tk| matches!(t.kind, TokenKind::DecimalComma | TokenKind::BarePoint | TokenKind::TooMuch))
        .rewind()
        .ignore_then(amounts.amount.clone());
    // A sign belongs to no part's value: it is said, and the figure taken as it stands without.
    let sign = one(|t| matches!(t.kind, TokenKind::Minus | TokenKind::Plus))
        .then_ignore(kind(TokenKind::Figure).rewind())
        .validate(|t, e, emitter| {
            let slice = e.state().slice(&t).to_string();
            let said =
                Said::open("value-signed", t.span, format!("A part's value has no sign: `{slice}` is one too many"));
            emitter.emit(said.fix_all(format!("delete {slice}"), vec![(t.span, String::new())]));
        })
        .ignore_then(amounts.figure.clone())
        .map(|f| Some(Amount::Figure(f)));
    choice((figure, paren, alike, sign))
}

/// What may follow a value, in any order. Class letters and words that are no attribute end it.
fn attributes(amounts: &Amounts) -> impl Reads<Vec<Attribute>> {
    let figure = plus_minus().or_not().then(amounts.figure.clone()).map_with(|(pm, mut figure), _| {
        if let Some(pm) = pm {
            figure.span = figure.span.to(pm);
        }
        Attribute::Figure { plus_minus: pm.is_some(), figure }
    });
    let lone = plus_minus()
        .then(figure_of("tolerance-missing", |_, _| "A tolerance is missing behind `±`".into()))
        .map(|(s, ())| Attribute::Junk(s));
    let alike = one(|t: &Tk| matches!(t.kind, TokenKind::DecimalComma | TokenKind::BarePoint))
        .rewind()
        .ignore_then(amounts.amount.clone())
        .map_with(|_, e| {
            let range = e.span().into_range();
            Attribute::Junk(e.state().place(range))
        });
    let series = kind(TokenKind::Series).map_with(|t, e| Attribute::Series(e.state().word(&t)));
    let at = key(Key::At)
        .then(
            amounts.figure.clone().map(Some).or(figure_of("rest-missing", |_, _| {
                "At what? A rest position: 50 % of a control, 1 of a switch".into()
            })
            .map(|()| None)),
        )
        .map(|(t, figure)| Attribute::At(t.span, figure));
    choice((figure, lone, alike, series, word(), text().map(Attribute::Text), at)).repeated().collect()
}

/// A word of the closed list, or one that was probably meant to be.
fn word() -> impl Reads<Attribute> {
    one(|t: &Tk| t.kind == TokenKind::Name && !t.key.is_clause() && t.key != Key::Class)
        .try_map_with(|t: Tk, e| {
            let index = e.span().into_range().end;
            let desk: &mut Desk = e.state();
            let slice = desk.slice(&t);
            if is_attribute(slice) {
                return Ok((t, None));
            }
            if taper_out_of_range(slice) {
                let message = format!(
                    "`{slice}`: the figure in a taper is the percentage of the track at half travel, from 1 to 49, as in log15"
                );
                return Ok((t, Some(Said::open("taper-range", t.span, message))));
            }
            let last = desk.ends(index);
            let typed = beginning_with(slice, ATTRIBUTES.iter().copied());
            if !typed.is_empty() && (last || slice.len() >= 3) {
                let yet = if last { " yet" } else { "" };
                let message = format!("`{slice}` is no attribute{yet}: did you mean {}?", list(&typed));
                let said = Said::open("attribute-unknown", t.span, message).unfinished(last);
                return Ok((t, Some(typed.iter().take(4).fold(said, |said, word| said.fix(t.span, *word)))));
            }
            match nearest(slice, ATTRIBUTES.iter().copied()) {
                Some(near) => {
                    let said = Said::open(
                        "attribute-unknown",
                        t.span,
                        format!("`{slice}` is no attribute: did you mean {near}?"),
                    );
                    Ok((t, Some(said.fix(t.span, near))))
                }
                None => Err(Said::NOT_HERE),
            }
        })
        .validate(|(t, said), e, emitter| {
            if let Some(said) = said {
                emitter.emit(said);
            }
            Attribute::Word(e.state().word(&t))
        })
}

/// A taper with a percentage that no taper has: `log0`, `revlog75`.
fn taper_out_of_range(word: &str) -> bool {
    let digits = word.strip_prefix("rev").unwrap_or(word).strip_prefix("log");
    digits.is_some_and(|d| !d.is_empty() && d.bytes().all(|b| b.is_ascii_digit())) && !is_attribute(word)
}

/// `a`, `a or b`, `a, b or c`.
pub(crate) fn list(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => one.to_string(),
        [rest @ .., last] => format!("{} or {last}", rest.join(", ")),
    }
}

/// What is wrong with an element as a whole.
fn head_faults(desk: &Desk, element: &Element, unread: bool, place: Place, end: usize) -> Vec<Said> {
    let part = &element.part;
    let mut out = Vec::new();
    let needs = needs_value(&part.class);
    if part.number.is_none() && !part.text.ends_with(|c: char| c.is_ascii_digit()) {
        out.push(number_missing(desk, part, false));
        return out;
    }
    if needs.is_none() {
        out.push(class_unknown(element));
        return out;
    }
    let given = element.value.is_some() || unread;
    let enough = match place {
        Place::Path => given,
        Place::Override => given || !element.attributes.is_empty(),
        // That a resistor has no terminals is the thing to say there.
        Place::Device => given || part.class.as_ref() != "VR",
    };
    if place == Place::Override && needs == Some(false) && !enough {
        let (name, how) = (
            &part.text,
            if part.class.as_ref() == "SW" { "open or closed, as in SW1 open" } else { "a type, as in U1 tl072" },
        );
        let message = format!("What becomes of {name} in this copy? Behind it belongs {how}");
        out.push(Said::open("value-missing", part.span, message).unfinished(desk.ends(end)));
    }
    if needs == Some(true) && !enough {
        out.push(
            Said::open("value-missing", part.span, format!("{} has no value yet", part.text))
                .unfinished(desk.ends(end)),
        );
    }
    out
}

/// Class letters without a number.
pub(crate) fn number_missing(_desk: &Desk, part: &PartName, unfinished: bool) -> Said {
    Said::torn(
        "number-missing",
        part.span,
        format!("{} has no number yet: a part is called {}1, {}2 and so on", part.text, part.text, part.text),
    )
    .unfinished(unfinished)
}

/// A class of part that the notation does not define. Nothing behind the name: it was meant as a node's.
fn class_unknown(element: &Element) -> Said {
    let part = &element.part;
    let known: Vec<&str> = CLASSES.iter().map(|(c, _, _)| *c).collect();
    let known = list_and(&known);
    let small = part.text.to_lowercase();
    let message = match &*part.class {
        "D" | "Q" | "T" => format!("{} is kept for a class that is not defined yet: parts are {known}", part.text),
        class => format!("{} has a part's shape, and {class} is no class of part: those are {known}", part.text),
    };
    if let Some(meant) = class_meant(&part.class) {
        let meant = format!("{meant}{}", &part.text[part.class.len()..]);
        let message =
            format!("{} has a part's shape, and {} is no class of part: did you mean {meant}?", part.text, part.class);
        return Said::open("class-unknown", part.span, message).fix(part.span, meant);
    }
    let said = Said::open("class-unknown", part.span, message);
    match element.value.is_none() && element.attributes.is_empty() {
        true => said.fix_all(format!("write {small}, a node"), vec![(part.span, small)]),
        false => said,
    }
}

/// `a`, `a and b`, `a, b and c`.
pub(crate) fn list_and(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => one.to_string(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

/// The place of an element's name.
pub(crate) fn name_span(element: &Element) -> Span {
    element.part.span
}
