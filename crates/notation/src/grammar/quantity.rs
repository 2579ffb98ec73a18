//! Quantities: a phrase of the closed list, what it is of, and clauses.

use chumsky::prelude::*;

use super::amount::Amounts;
use super::element::list;
use super::{Desk, Key, Reads, Rule, Said, Tk, anything, comma, key, kind, lack, name, one};
use crate::near::nearest;
use crate::part::has_part_shape;
use crate::token::TokenKind;
use crate::tree::{Against, Clause, PartRef, PhraseSubject, Point, Position, QuantityPhrase, Span, State, Thing};
use crate::word::{PHRASES, PhraseForm, phrase};

/// Words of the longest phrase.
const LONGEST_PHRASE: usize = 3;

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

/// The head of a quantity.
#[derive(Clone, Copy)]
struct Head {
    phrase: Option<&'static str>,
    span: Span,
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

fn starts_clause(t: &Tk) -> bool {
    t.kind == TokenKind::Weighted
        || matches!(t.key, Key::LikeWeighted | Key::At | Key::Over | Key::When | Key::From | Key::Against)
}

/// A word that may name a node, a pair or a setting.
fn names(t: &Tk) -> bool {
    matches!(t.kind, TokenKind::Name | TokenKind::Series | TokenKind::Foreign | TokenKind::Unit) && !t.key.is_clause()
}

/// `->`, or what is written for it.
fn is_arrow(t: &Tk) -> bool {
    t.kind == TokenKind::Arrow
        || matches!(t.key, Key::LikeLongArrow | Key::LikeFatArrow | Key::LikeDash)
        || t.kind == TokenKind::Link
}

/// The words of the phrase. With a form asked for, it fails unless the phrase has that form; without, it takes what there is
/// and says what may have been meant.
fn head(form: Option<PhraseForm>) -> impl Reads<Head> {
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
fn phrase_before(desk: &Desk, index: usize) -> Option<(Span, &'static str)> {
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
            Some(b) => format!("{} of what? `of` and a name", desk.slice(b)),
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
            Some(b) => format!("{} from where to where? A -> B", desk.slice(b)),
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
            Said::torn("node-missing", desk.gap(i), "A node is missing behind the sign").unfinished(desk.ends(i))
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

/// Positions and settings.
fn states(amounts: &Amounts, part_ref: Rule<PartRef>) -> impl Reads<Vec<State>> {
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
fn clause(amounts: &Amounts, states: Rule<Vec<State>>) -> impl Reads<Clause> {
    let at = key(Key::At)
        .ignore_then(amounts.wanted("frequency-missing", "At what? A frequency is missing"))
        .map(Clause::At);
    let over = key(Key::Over).ignore_then(amounts.range()).map(|(a, b)| Clause::Over(a, b));
    let when = key(Key::When).ignore_then(states).map(Clause::When);
    let from = key(Key::From)
        .ignore_then(
            name("a source")
                .map(Some)
                .or(super::lack_open("source-missing", "From which source? A name is missing").map(|()| None)),
        )
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
fn odd_clause(desk: &Desk, range: std::ops::Range<usize>) -> Said {
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
fn twice(clauses: &[Clause], desk: &Desk, range: std::ops::Range<usize>) -> Option<Said> {
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
