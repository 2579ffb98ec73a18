//! Assumptions: `C3, C4 open below 20 kHz`.

use chumsky::prelude::*;

use super::amount::Amounts;
use super::quantity::Quantities;
use super::{Desk, Key, Rule, Said, Tk, comma, key, lack, lack_open, name, one, rest};
use crate::near::{beginning_with, nearest};
use crate::token::TokenKind;
use crate::tree::{AssumeClause, AssumeEntry, EntryTree, PartRef, Subject, Word};

const NEGLECTS: &[&str] = &["short", "open", "ideal"];

/// The entry of `assume`.
pub(crate) fn assume(q: &Quantities, amounts: &Amounts) -> Rule<EntryTree> {
    let part = q.part_ref.clone().map(|p| Some(Subject::Part(p)));
    let stage = key(Key::Stage)
        .ignore_then(
            name("a stage")
                .map(Some)
                .or(super::lack_torn("name-missing", "Which stage? A name is missing").map(|()| None)),
        )
        .map(|w| Some(Subject::Stage(w)));
    let small = super::small_part().map(|part| Some(Subject::Part(PartRef { all: false, part })));
    let subject = choice((part, stage, small)).boxed();
    let begins = |t: &Tk| t.kind == TokenKind::Part;
    let wanted = subject.clone().or(lack(|desk, i| {
        Said::torn("part-missing", desk.gap(i), "A part is missing behind `,`").unfinished(desk.ends(i))
    })
    .map(|()| None));
    let neither =
        |word: &str| format!("An assumption begins with a part or with `stage` and its name, and {word} is neither");
    // A name where a part is wanted, with the neglect behind it.
    let stranger = one(names).then_ignore(one(names).rewind()).validate(move |t, e, emitter| {
        let desk = e.state();
        emitter.emit(Said::torn("part-missing", t.span, neither(desk.slice(&t))));
        desk.stray(&t);
        None
    });
    let nothing = lack(move |desk, i| {
        let said = match desk.tok(i) {
            Some(t) if t.kind == TokenKind::Name => Said::torn("part-missing", t.span, neither(desk.slice(t))),
            _ => Said::torn(
                "part-missing",
                desk.gap(i),
                "An assumption begins with a part, or with `stage` and its name",
            ),
        };
        said.unfinished(desk.ends(i))
    })
    .map(|()| None);
    let first = choice((subject, stranger, nothing));
    let subjects = first
        .then(comma(begins).ignore_then(wanted).repeated().collect::<Vec<_>>())
        .map(|(first, rest)| first.into_iter().chain(rest.into_iter().flatten()).collect::<Vec<_>>());
    let neglect = one(|t: &Tk| t.kind == TokenKind::Name && !t.key.is_clause())
        .validate(|t, e, emitter| {
            let end = e.span().into_range().end;
            let desk = e.state();
            let word: Word = desk.word(&t);
            if !NEGLECTS.contains(&&*word.text) {
                emitter.emit(neglect_unknown(&word, desk.ends(end)));
            }
            Some(word)
        })
        .or(lack_open("neglect-missing", "What is neglected? One of short, open and ideal is missing").map(|()| None));
    let odd = super::junk(starts_clause, odd).map(|_| None).boxed();
    let clause = clause(q, amounts).map(Some).or(odd);
    subjects
        .then(neglect)
        .then(clause.repeated().collect::<Vec<_>>())
        .then_ignore(rest(super::leftover))
        .validate(|((subjects, neglect), clauses), e, emitter| {
            let clauses: Vec<AssumeClause> = clauses.into_iter().flatten().collect();
            let range = e.span().into_range();
            if let Some(said) = twice(&clauses, e.state(), range) {
                emitter.emit(said);
            }
            EntryTree::Assume(AssumeEntry { subjects, neglect, clauses })
        })
        .boxed()
}

fn names(t: &Tk) -> bool {
    t.kind == TokenKind::Name && !t.key.is_clause()
}

fn starts_clause(t: &Tk) -> bool {
    matches!(t.key, Key::Above | Key::Below | Key::Over | Key::On | Key::Within)
}

fn clause(q: &Quantities, amounts: &Amounts) -> Rule<AssumeClause> {
    let frequency = |message| amounts.wanted("frequency-missing", message);
    choice((
        key(Key::Above)
            .ignore_then(frequency("Above what? A frequency is missing, as in above 100 Hz"))
            .map(AssumeClause::Above),
        key(Key::Below)
            .ignore_then(frequency("Below what? A frequency is missing, as in below 10 kHz"))
            .map(AssumeClause::Below),
        key(Key::Over).ignore_then(amounts.range()).map(|(a, b)| AssumeClause::Over(a, b)),
        key(Key::On)
            .ignore_then(q.quantity.clone().map(Some).or(
                lack_open("quantity-missing", "On what? A quantity is missing, as in gain in -> out").map(|()| None),
            ))
            .map(AssumeClause::On),
        key(Key::Within)
            .ignore_then(amounts.wanted("error-missing", "Within what? An error is missing, as in 0.1 dB"))
            .map(AssumeClause::Within),
    ))
    .boxed()
}

fn neglect_unknown(word: &Word, last: bool) -> Said {
    let text = &*word.text;
    let typed = beginning_with(text, NEGLECTS.iter().copied());
    if let (true, Some(first)) = (last, typed.first()) {
        return Said::open("neglect-unknown", word.span, format!("`{text}` is no neglect yet: short, open or ideal"))
            .unfinished(true)
            .fix(word.span, *first);
    }
    match nearest(text, NEGLECTS.iter().copied()) {
        Some(near) => {
            Said::open("neglect-unknown", word.span, format!("{text} neglects nothing: did you mean {near}?"))
                .fix(word.span, near)
        }
        None => Said::open("neglect-unknown", word.span, format!("{text} neglects nothing: short, open and ideal do")),
    }
}

fn odd(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let t = &desk.toks[range.start];
    let slice = desk.slice(t);
    if let Some(said) = super::alike(desk, t) {
        return said;
    }
    match (t.kind, t.key) {
        (_, Key::At) => Said::open(
            "clause-unknown",
            t.span,
            "An assumption holds over a band, not at one frequency: above, below or over",
        ),
        (TokenKind::Name, _) => match nearest(slice, ["above", "below", "over", "on", "within"]) {
            Some(near) => {
                Said::open("clause-unknown", t.span, format!("{slice} begins no clause: did you mean {near}?"))
                    .fix(t.span, near)
            }
            None => Said::open(
                "clause-unknown",
                t.span,
                format!("{slice} begins no clause: those are above, below, over, on and within"),
            )
            .unfinished(desk.ends(range.end)),
        },
        (TokenKind::Figure, _) => {
            Said::open("leftover", t.span, format!("{slice} stands alone: above, below or within is missing before it"))
        }
        (TokenKind::Part, _) => Said::open(
            "leftover",
            t.span,
            format!("{slice} stands behind the neglect: parts stand before it, separated by `,`"),
        ),
        _ => super::leftover(desk, range),
    }
}

fn twice(clauses: &[AssumeClause], desk: &Desk, range: std::ops::Range<usize>) -> Option<Said> {
    let key_of = |c: &AssumeClause| match c {
        AssumeClause::Above(_) => Key::Above,
        AssumeClause::Below(_) => Key::Below,
        AssumeClause::Over(..) => Key::Over,
        AssumeClause::On(_) => Key::On,
        AssumeClause::Within(_) => Key::Within,
    };
    let seen = clauses.iter().take(6).map(key_of).collect::<Vec<_>>();
    let double = seen.iter().enumerate().find(|(n, k)| seen[..*n].contains(k)).map(|(_, k)| *k)?;
    let place = desk.toks[range].iter().filter(|t| t.key == double).nth(1).copied()?;
    Some(Said::open("clause-twice", place.span, format!("`{}` stands twice: one of them is meant", desk.slice(&place))))
}
