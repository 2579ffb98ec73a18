//! Quantities: a phrase of the closed list, what it is of, and clauses.

use chumsky::prelude::*;

use super::amount::Amounts;
use super::clause::{clause, odd_clause, starts_clause, states, twice};
use super::phrase::{head, is_arrow, names, phrase_before};
use super::{Key, Reads, Rule, Said, Tk, anything, comma, key, kind, lack, name, one};
use crate::token::TokenKind;
use crate::tree::{Clause, PartRef, PhraseSubject, Point, QuantityPhrase, State, Thing};
use crate::word::{PHRASES, PhraseForm};

/// The parsers around quantities.
#[derive(Clone)]
pub(crate) struct Quantities {
    /// A quantity; fails only at the entry's end.
    pub quantity: Rule<QuantityPhrase>,
    /// A part, or `all` of its copies.
    pub part_ref: Rule<PartRef>,
    /// Positions of controls and names of settings, separated by commas.
    pub states: Rule<Vec<State>>,
}

impl Quantities {
    /// Builds them.
    pub fn new(amounts: &Amounts) -> Quantities {
        let part_ref = part_ref().boxed();
        let states = states(amounts, part_ref.clone()).boxed();
        let clause = clause(amounts, states.clone()).boxed();
        let odd = super::junk(|t| starts_clause(t) || ends_quantity(t), odd_clause).map(|_| None);
        let clauses = clause.map(Some).or(odd).repeated().collect::<Vec<_>>();
        let things = things(part_ref.clone()).boxed();
        let of = of_subject(things.clone()).boxed();
        let from_to = from_to_subject(things).boxed();
        let subject = choice((
            head(Some(PhraseForm::Of)).then(of.clone()),
            head(Some(PhraseForm::FromTo)).then(from_to.clone()),
            head(None).then(key(Key::Of).rewind().ignore_then(of).or(from_to)),
        ));
        let quantity = anything()
            .rewind()
            .ignore_then(subject)
            .then(clauses)
            .validate(|((head, subject), clauses), e, emitter| {
                let range = e.span().into_range();
                let clauses: Vec<Clause> = clauses.into_iter().flatten().collect();
                if let Some(said) = twice(&clauses, e.state(), range.clone()) {
                    emitter.emit(said);
                }
                QuantityPhrase {
                    phrase: head.phrase,
                    phrase_span: head.span,
                    subject,
                    clauses,
                    span: e.state().place(range),
                }
            })
            .boxed();
        Quantities { quantity, part_ref, states }
    }
}

/// Marks at which a quantity ends.
pub(crate) fn ends_quantity(t: &Tk) -> bool {
    matches!(t.kind, TokenKind::Less | TokenKind::Greater | TokenKind::Equal)
        || matches!(
            t.key,
            Key::LikeLess
                | Key::LikeGreater
                | Key::LikeEqual
                | Key::LikeFatArrow
                | Key::Within
                | Key::Above
                | Key::Below
                | Key::On
        )
}

/// `of N, …`
fn of_subject(things: Rule<Vec<Thing>>) -> impl Reads<PhraseSubject> {
    let of = key(Key::Of).map(|_| ());
    let absent =
        one(|t: &Tk| names(t) || t.kind == TokenKind::Part || t.key == Key::All).rewind().validate(|_, e, emitter| {
            let i = e.span().start;
            let desk = e.state();
            let Some(t) = desk.tok(i) else { return };
            let at = desk.gap(i);
            let next = desk.slice(t);
            let arrow = desk.toks[i..].iter().take(8).position(is_arrow);
            let said = match (phrase_before(desk, i), arrow.and_then(|a| desk.tok(i + a + 1))) {
                (Some((span, phrase)), Some(far)) => {
                    let said = Said::torn(
                        "of-missing",
                        t.span,
                        format!(
                            "{phrase} is of one place and does not go from one to another: {phrase} of {}",
                            desk.slice(far)
                        ),
                    );
                    match PHRASES
                        .iter()
                        .find(|(p, f)| *f == PhraseForm::FromTo && p.strip_prefix("input ") == Some(phrase))
                    {
                        Some((input, _)) => said.fix(span, *input),
                        None => said,
                    }
                }
                _ => Said::torn("of-missing", t.span, format!("`of` is missing before {next}"))
                    .fix_all("write of", vec![(at, " of".into())]),
            };
            emitter.emit(said);
        });
    let missing = lack(|desk, i| {
        let message = match i.checked_sub(1).and_then(|b| desk.tok(b)) {
            Some(b) => format!("{} of what? `of` and a name are missing", desk.slice(b)),
            None => "`of` and a name are missing".into(),
        };
        Said::torn("of-missing", desk.gap(i), message).unfinished(desk.ends(i))
    });
    of.or(absent).ignore_then(things).map(PhraseSubject::Of).or(missing.map(|()| PhraseSubject::Of(Vec::new())))
}

/// Names and parts behind `of`.
fn things(part_ref: Rule<PartRef>) -> impl Reads<Vec<Thing>> {
    let thing = part_ref.map(Thing::Part).or(name("a node").map(Thing::Name));
    let wanted = thing.clone().map(Some).or(lack(|desk, i| {
        let message = match i.checked_sub(1).and_then(|b| desk.tok(b)) {
            Some(b) if b.kind == TokenKind::Comma => "A name is missing behind `,`",
            _ => "Of what? A name is missing",
        };
        Said::torn("name-missing", desk.gap(i), message).unfinished(desk.ends(i))
    })
    .map(|()| None));
    let more = comma(|t| names(t) || t.kind == TokenKind::Part).ignore_then(wanted.clone());
    wanted
        .then(more.repeated().collect::<Vec<_>>())
        .map(|(first, rest)| first.into_iter().chain(rest.into_iter().flatten()).collect())
}

/// `A -> B`
fn from_to_subject(things: Rule<Vec<Thing>>) -> impl Reads<PhraseSubject> {
    let point = point().boxed();
    // `gain of line`: the far end is named, the near one is not.
    let of = key(Key::Of).then(things).validate(|(t, things), e, emitter| {
        let e_start = e.span().start;
        let desk = e.state();
        let phrase = phrase_before(desk, e_start).map_or("this", |(_, p)| p);
        let far = things.iter().find_map(|t| match t {
            Thing::Name(w) => Some(&*w.text),
            Thing::Part(_) => None,
        });
        emitter.emit(Said::torn(
            "from-missing",
            t.span,
            format!("{phrase} goes from one place to another: {phrase} A -> {}", far.unwrap_or("B")),
        ));
        let mut point = None;
        for thing in things {
            match thing {
                Thing::Name(w) if point.is_none() => point = Some(Point { terms: vec![(false, w)] }),
                Thing::Name(w) => desk.strays.names.push(w),
                Thing::Part(p) => desk.strays.parts.push(p.part),
            }
        }
        PhraseSubject::FromTo(None, point)
    });
    let arrow = one(is_arrow).validate(|t: Tk, e, emitter| {
        if t.kind != TokenKind::Arrow {
            let slice = e.state().slice(&t).to_string();
            emitter.emit(
                Said::torn("look-alike", t.span, format!("`{slice}` shows no direction: `->` does")).fix(t.span, "->"),
            );
        }
    });
    // Two points side by side.
    let absent = one(|t: &Tk| names(t) || t.kind == TokenKind::Part).rewind().validate(|_, e, emitter| {
        let i = e.span().start;
        let desk = e.state();
        let at = desk.gap(i);
        let next = desk.tok(i).map_or("", |t| desk.slice(t));
        emitter.emit(
            Said::torn("arrow-missing", desk.tok(i).map_or(at, |t| t.span), format!("`->` is missing before {next}"))
                .fix_all("write ->", vec![(at, " ->".into())]),
        );
    });
    let to = point.clone().or(lack(|desk, i| {
        Said::torn("node-missing", desk.gap(i), "A node is missing behind `->`").unfinished(desk.ends(i))
    })
    .map(|()| None));
    let from = point.or(one(is_arrow)
        .rewind()
        .ignore_then(lack(|desk, i| Said::torn("node-missing", desk.gap(i), "A node is missing before `->`")))
        .map(|()| None));
    let tail = arrow.or(absent).ignore_then(to).or(lack(|desk, i| {
        let message = match i.checked_sub(1).and_then(|b| desk.tok(b)) {
            Some(b) => format!("Behind {} an arrow `->` and a node are missing", desk.slice(b)),
            None => "An arrow `->` and a node are missing".into(),
        };
        Said::torn("arrow-missing", desk.gap(i), message).unfinished(desk.ends(i))
    })
    .map(|()| None));
    let both = from.then(tail).map(|(a, b)| PhraseSubject::FromTo(a, b));
    let nothing = lack(|desk, i| {
        let message = match i.checked_sub(1).and_then(|b| desk.tok(b)) {
            Some(b) => format!("{} from where to where? It goes from one node to another, A -> B", desk.slice(b)),
            None => "From where to where? A -> B".into(),
        };
        Said::torn("arrow-missing", desk.gap(i), message).unfinished(desk.ends(i))
    })
    .map(|()| PhraseSubject::FromTo(None, None));
    choice((of, both, nothing))
}

/// A node, a pair or a sum of them. `None` for a part, which is said and kept.
fn point() -> impl Reads<Option<Point>> {
    let sign = one(|t: &Tk| matches!(t.kind, TokenKind::Plus | TokenKind::Minus));
    let next = sign.then(
        name("a node").map(Some).or(lack(|desk, i| {
            Said::torn("node-missing", desk.gap(i), "A node is missing behind the sign: it joins two, as in low + high")
                .unfinished(desk.ends(i))
        })
        .map(|()| None)),
    );
    let sum = name("a node").then(next.repeated().collect::<Vec<_>>()).map(|(first, rest)| {
        let mut terms = vec![(false, first)];
        terms.extend(rest.into_iter().filter_map(|(s, w)| w.map(|w| (s.kind == TokenKind::Minus, w))));
        Some(Point { terms })
    });
    let part = kind(TokenKind::Part).validate(|t, e, emitter| {
        let start = e.span().start;
        let desk = e.state();
        let message = match phrase_before(desk, start) {
            Some((_, phrase)) => format!("{} is a part, and {phrase} goes from node to node", desk.slice(&t)),
            None => format!("{} is a part, and a node is wanted here", desk.slice(&t)),
        };
        emitter.emit(Said::torn("part-for-node", t.span, message));
        desk.stray(&t);
        None
    });
    sum.or(part)
}

/// A part, or `all` of its copies.
fn part_ref() -> impl Reads<PartRef> {
    let part = kind(TokenKind::Part).map_with(|t, e| e.state().part(&t));
    let all = key(Key::All).ignore_then(part.clone()).map(|part| PartRef { all: true, part });
    part.map(|part| PartRef { all: false, part }).or(all)
}
