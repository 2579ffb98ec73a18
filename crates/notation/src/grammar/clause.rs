//! The clauses of a quantity, and the positions that `when` and `setting` take.

use chumsky::prelude::*;

use super::amount::Amounts;
use super::phrase::names;
use super::{Desk, Key, Reads, Rule, Said, Tk, comma, key, kind, lack, name, one};
use crate::near::nearest;
use crate::part::has_part_shape;
use crate::token::TokenKind;
use crate::tree::{Against, Clause, PartRef, Position, State};

pub(crate) fn starts_clause(t: &Tk) -> bool {
    t.kind == TokenKind::Weighted
        || matches!(t.key, Key::LikeWeighted | Key::At | Key::Over | Key::When | Key::From | Key::Against)
}

/// Positions and settings.
pub(crate) fn states(amounts: &Amounts, part_ref: Rule<PartRef>) -> impl Reads<Vec<State>> {
    let word = one(|t: &Tk| t.kind == TokenKind::Name && !t.key.is_clause())
        .map_with(|t, e| Position::Word(e.state().word(&t)));
    let unread = amounts.amount.clone().map(|a| a.map(Position::Amount));
    let position = choice((
        unread,
        word.map(Some),
        lack(|desk, i| {
            let part = i.checked_sub(1).and_then(|b| desk.tok(b)).map_or("the control", |b| desk.slice(b));
            Said::open(
                "position-missing",
                desk.gap(i),
                match desk.kind(i) {
                    Some(TokenKind::Equal) => {
                        format!("Where does {part} stand? A position follows without `=`, as in {part} 30 %")
                    }
                    _ => format!("Where does {part} stand? A figure with %, or a switch's position"),
                },
            )
            .unfinished(desk.ends(i))
        })
        .map(|()| None),
    ));
    let control = part_ref.then(position).map(|(part, position)| Some(State::Control(part, position)));
    // `vr1 30 %`: read as a setting's name, which takes no figure.
    let figure = amounts.amount.clone().map_with(|_, e| e.span().into_range());
    let setting = name("a setting").then(figure.or_not()).validate(|(word, figure), e, emitter| {
        if let Some(range) = figure {
            let span = e.state().place(range);
            let part = word.text.to_ascii_uppercase();
            let said = Said::open(
                "position-of-setting",
                span,
                format!("{} is a setting's name and takes no figure", word.text),
            );
            emitter.emit(match has_part_shape(&part) {
                true => Said::open(
                    "position-of-setting",
                    span,
                    format!("{} is a setting's name and takes no figure: did you mean {part}?", word.text),
                )
                .fix(word.span, part),
                false => said,
            });
        }
        Some(State::Setting(word))
    });
    let missing = lack(|desk, i| {
        let message = match i.checked_sub(1).and_then(|b| desk.tok(b)) {
            Some(b) if b.kind == TokenKind::Comma => "A position is missing behind `,`",
            _ => "A setting's name or a position is missing, as in VR1 30 %",
        };
        Said::open("position-missing", desk.gap(i), message).unfinished(desk.ends(i))
    })
    .map(|()| None);
    let state = choice((control, setting, missing));
    let more = comma(|t| names(t) || t.kind == TokenKind::Part).ignore_then(state.clone());
    state
        .then(more.repeated().collect::<Vec<_>>())
        .map(|(first, rest)| first.into_iter().chain(rest.into_iter().flatten()).collect())
}

/// One clause.
pub(crate) fn clause(amounts: &Amounts, states: Rule<Vec<State>>) -> impl Reads<Clause> {
    let at = key(Key::At)
        .ignore_then(amounts.wanted("frequency-missing", "At what? A frequency is missing, as in at 1 kHz"))
        .map(Clause::At);
    let over = key(Key::Over).ignore_then(amounts.range()).map(|(a, b)| Clause::Over(a, b));
    let when = key(Key::When).ignore_then(states).map(Clause::When);
    let from = key(Key::From)
        .ignore_then(name("a source").map(Some).or(
            super::lack_open("source-missing", "From which source? A name is missing, as in from emf").map(|()| None),
        ))
        .map(Clause::From);
    let against = key(Key::Against)
        .ignore_then(choice((
            amounts.amount.clone().map(|a| a.map(Against::Amount)),
            name("a curve").map(|w| Some(Against::Name(w))),
            super::lack_open("against-missing", "Against what? A frequency or a curve is missing").map(|()| None),
        )))
        .map(Clause::Against);
    let alike = key(Key::LikeWeighted).validate(|t, e, emitter| {
        let end = e.span().into_range().end;
        let desk = e.state();
        let written = desk.word(&t);
        let message = format!("`{}` is no weighting: A-weighted is", written.text);
        let said = Said::open("look-alike", t.span, message).fix(t.span, "A-weighted");
        emitter.emit(said.unfinished(desk.ends(end) && "A-weighted".starts_with(&*written.text)));
        Clause::Weighted(written)
    });
    let weighted = kind(TokenKind::Weighted).map_with(|t, e| Clause::Weighted(e.state().word(&t))).or(alike);
    choice((at, over, when, from, against, weighted))
}

/// Something that is no clause.
pub(crate) fn odd_clause(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let t = &desk.toks[range.start];
    let slice = desk.slice(t);
    if let Some(said) = super::alike(desk, t) {
        return said;
    }
    let text = &desk.text[desk.place(range.clone()).range()];
    if text.contains("weight") {
        return Said::open(
            "leftover",
            desk.place(range.clone()),
            "A weighting is one word: A-weighted or 468-weighted",
        )
        .fix(desk.place(range), "A-weighted");
    }
    match t.kind {
        TokenKind::Arrow => {
            Said::torn("leftover", t.span, "This `->` has no place: a quantity goes from one node to one other")
        }
        TokenKind::Figure => Said::open(
            "leftover",
            t.span,
            format!("{slice} stands alone: `at`, or a limit `<`, `>` or `=`, is missing before it"),
        )
        .unfinished(false),
        TokenKind::Name => match nearest(slice, ["at", "over", "when", "from", "against", "A-weighted"]) {
            Some(near) => {
                Said::open("clause-unknown", t.span, format!("{slice} begins no clause: did you mean {near}?"))
                    .fix(t.span, near)
            }
            None => Said::open(
                "clause-unknown",
                t.span,
                format!("{slice} begins no clause: those are at, over, when, from, against and A-weighted"),
            )
            .unfinished(desk.ends(range.end)),
        },
        _ => super::leftover(desk, range),
    }
}

/// A clause that stands twice.
pub(crate) fn twice(clauses: &[Clause], desk: &Desk, range: std::ops::Range<usize>) -> Option<Said> {
    let kind_of = |c: &Clause| match c {
        Clause::At(_) => Key::At,
        Clause::Over(..) => Key::Over,
        Clause::When(_) => Key::When,
        Clause::From(_) => Key::From,
        Clause::Against(_) => Key::Against,
        Clause::Weighted(_) => Key::None,
    };
    // There are six kinds, so a seventh clause repeats one.
    let seen = clauses.iter().take(7).map(kind_of).collect::<Vec<_>>();
    let double = seen.iter().enumerate().find(|(n, k)| seen[..*n].contains(k)).map(|(_, k)| *k)?;
    let place = desk.toks[range.clone()]
        .iter()
        .filter(|t| {
            if double == Key::None {
                t.kind == TokenKind::Weighted || t.key == Key::LikeWeighted
            } else {
                t.key == double
            }
        })
        .nth(1)
        .copied()?;
    Some(Said::open("clause-twice", place.span, format!("`{}` stands twice: one of them is meant", desk.slice(&place))))
}
