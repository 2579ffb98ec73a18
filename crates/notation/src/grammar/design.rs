//! The entries of `design`.

use chumsky::prelude::*;

use super::amount::Amounts;
use super::quantity::Quantities;
use super::statement::equal;
use super::{
    Desk, Ex, In, Key, Reads, Rule, Said, Tk, anything, comma, key, kind, lack, lack_open, lack_torn, name, one, rest,
    text,
};
use crate::near::{beginning_with, nearest};
use crate::token::TokenKind;
use crate::tree::{DesignEntry, EntryTree, PartRef, Span, State, Word};
use crate::word::DESIGN_WORDS;

/// The entry's first word.
fn first(word: &'static str) -> impl Reads<Tk> {
    one(|t: &Tk| t.kind == TokenKind::Name).try_map_with(
        move |t, e: &mut chumsky::input::MapExtra<'static, '_, In, Ex>| {
            let desk: &mut Desk = e.state();
            match desk.slice(&t) == word {
                true => Ok(t),
                false => Err(Said::NOT_HERE),
            }
        },
    )
}

/// The entry of `design`: total, it takes the whole entry.
pub(crate) fn design(q: &Quantities, amounts: &Amounts) -> Rule<EntryTree> {
    let known = choice((figures(amounts), lists(q, amounts), named(q, amounts))).boxed();
    known.or(unknown()).then_ignore(rest(behind)).map(EntryTree::Design).boxed()
}

/// `band`, `reference`, `temperature`.
fn figures(amounts: &Amounts) -> Rule<DesignEntry> {
    let band = first("band").ignore_then(amounts.range()).map(|(a, b)| DesignEntry::Band(a, b));
    let reference = first("reference")
        .ignore_then(amounts.wanted("frequency-missing", "A frequency is missing, as in reference 1 kHz"))
        .map(DesignEntry::Reference);
    let temperature = first("temperature")
        .ignore_then(amounts.wanted("temperature-missing", "A temperature is missing, as in temperature 25 degC"))
        .map(DesignEntry::Temperature);
    choice((band, reference, temperature)).boxed()
}

/// `supply`, `tolerance`, `matched`.
fn lists(q: &Quantities, amounts: &Amounts) -> Rule<DesignEntry> {
    let names = |t: &Tk| t.kind == TokenKind::Name && !t.key.is_clause();
    let rail = node("a rail")
        .then(amounts.tolerated("voltage-missing", "A voltage is missing behind the rail, as in vpos +12 V"));
    let rail = rail.map_with(|(w, t), e| kept(w, t, e.span().into_range(), e.state()));
    let supply = first("supply")
        .ignore_then(rail.clone())
        .then(comma(names).ignore_then(rail).repeated().collect::<Vec<_>>())
        .map(|(first, rest)| DesignEntry::Supply(first.into_iter().chain(rest.into_iter().flatten()).collect()));
    let class = one(|t: &Tk| matches!(t.kind, TokenKind::Name | TokenKind::Part) && !t.key.is_clause())
        .validate(|t, e, emitter| {
            let desk = e.state();
            let slice = desk.slice(&t);
            if t.kind == TokenKind::Part {
                let class = desk.part(&t).class;
                emitter.emit(
                    Said::open(
                        "class-wanted",
                        t.span,
                        format!(
                            "A tolerance is a class's, as in {class} 1 %; {slice} carries its own behind its value"
                        ),
                    )
                    .fix(t.span, class.to_string()),
                );
            } else if !matches!(slice, "R" | "VR" | "C" | "L") {
                let known = crate::word::CLASSES.iter().any(|(c, _, _)| *c == slice);
                let message = match known {
                    true => format!("{slice} has no tolerance: those that have one are R, VR, C and L"),
                    false => format!("{slice} is no class of part: those are R, VR, C and L"),
                };
                emitter.emit(Said::open("class-wanted", t.span, message));
            }
            Some(desk.word(&t))
        })
        .or(lack_open("class-missing", "A class of part is missing, as in R 1 %").map(|()| None));
    let share = class.then(amounts.wanted("tolerance-missing", "A tolerance is missing, as in R 1 %"));
    let share = share.map_with(|(w, a), e| kept(w, a, e.span().into_range(), e.state()));
    let begins = |t: &Tk| matches!(t.kind, TokenKind::Name | TokenKind::Part) && !t.key.is_clause();
    let tolerance = first("tolerance")
        .ignore_then(share.clone())
        .then(comma(begins).ignore_then(share).repeated().collect::<Vec<_>>())
        .map(|(first, rest)| DesignEntry::Tolerance(first.into_iter().chain(rest.into_iter().flatten()).collect()));
    let part = part(q, "A part is missing, as in matched R1, R2 0.1 %").boxed();
    let parts = |t: &Tk| t.kind == TokenKind::Part;
    let matched = first("matched")
        .ignore_then(part.clone())
        .then(comma(parts).ignore_then(part).repeated().collect::<Vec<_>>())
        .then(amounts.wanted("tolerance-missing", "How far may they differ? A percentage is missing"))
        .validate(|((first, rest), amount), e, emitter| {
            let range = e.span().into_range();
            let parts: Vec<PartRef> = first.into_iter().chain(rest.into_iter().flatten()).collect();
            if let [only] = parts.as_slice()
                && !only.all
                && amount.is_some()
            {
                let span: Span = e.state().place(range);
                emitter.emit(Said::open(
                    "matched-alone",
                    span,
                    format!("{} alone matches nothing: a second part is missing", only.part.text),
                ));
            }
            DesignEntry::Matched(parts, amount)
        });
    choice((supply, tolerance, matched)).boxed()
}

/// `source`, `balanced`, `setting`, `trim`, `accept`.
fn named(q: &Quantities, amounts: &Amounts) -> Rule<DesignEntry> {
    let peak = key(Key::Peak).map_with(|t, e| e.state().word(&t));
    let source = first("source")
        .ignore_then(node("a node"))
        .then(amounts.wanted("level-missing", "A level is missing, as in 5 mV"))
        .then(peak.or_not())
        .map(|((node, amount), peak)| DesignEntry::Source { node, amount, peak });
    let balanced = first("balanced")
        .ignore_then(node("a pair"))
        .then(
            colon("`:` and the pair's two nodes are missing, as in line: hot, cold")
                .ignore_then(node("a node"))
                .then(
                    comma(|t| t.kind == TokenKind::Name).ignore_then(node("a node")).or(lack_torn(
                        "node-missing",
                        "`,` and the second node are missing: a pair is two nodes",
                    )
                    .map(|()| None)),
                )
                .or(anything().not().map(|()| (None, None))),
        )
        .map(|(name, (hot, cold))| DesignEntry::Balanced { name, hot, cold });
    let states = anything().not().map(|()| Vec::<State>::new()).or(q.states.clone());
    let states = anything()
        .not()
        .ignore_then(lack_open("position-missing", "A position is missing, as in VR1 30 %"))
        .map(|()| Vec::new())
        .or(states);
    let setting = first("setting")
        .ignore_then(node("a setting"))
        .then(colon_then("`:` and a position are missing, as in low: VR1 0 %", states))
        .map(|(name, states)| DesignEntry::Setting(name, states.unwrap_or_default()));
    let goal =
        equal().ignore_then(amounts.wanted("goal-missing", "A goal is missing behind `=`, as in 40 dB")).or_not();
    let aim = q.quantity.clone().map(Some).or(lack_open(
        "quantity-missing",
        "A quantity is missing, as in gain in -> out = 40 dB",
    )
    .map(|()| None));
    let trim = first("trim")
        .ignore_then(part(q, "Which control? VR and its number are missing"))
        .then(colon_then("`:` and a quantity are missing, as in VR1: gain in -> out = 40 dB", aim.then(goal)))
        .map(|(part, aim)| {
            let (quantity, goal) = aim.unwrap_or((None, None));
            DesignEntry::Trim(part, quantity, goal.flatten())
        });
    choice((source, balanced, setting, trim, accept())).boxed()
}

/// `accept RULE for NAME: "reason"`
fn accept() -> Rule<DesignEntry> {
    let end = || anything().not();
    let is_text = |t: &Tk| matches!(t.kind, TokenKind::Text | TokenKind::OpenText | TokenKind::CurlyText);
    let odd =
        super::junk(move |t| t.key == Key::For || t.kind == TokenKind::Colon || is_text(t), super::leftover).or_not();
    let word = one(|t: &Tk| t.kind == TokenKind::Name && t.key != Key::For).map_with(|t, e| e.state().word(&t));
    // Messages call a rule by its words joined, `no-dc-path`, and so may a concession.
    let joint = kind(TokenKind::Minus).or_not();
    let words = word.separated_by(joint).collect::<Vec<Word>>();
    let rule = words.validate(|words, e, emitter| {
        let end = e.span().into_range().end;
        let desk = e.state();
        if words.is_empty() {
            let said =
                Said::open("rule-missing", desk.gap(end), "Which rule? Its words are missing, as in node used once");
            emitter.emit(said.unfinished(desk.ends(end)));
        }
        words
    });
    let for_ = key(Key::For).map(|_| ()).or(lack_open("for-missing", "`for` and a name are missing behind the rule"));
    let what = one(|t: &Tk| matches!(t.kind, TokenKind::Name | TokenKind::Part))
        .map_with(|t, e| Some(e.state().word(&t)))
        .or(lack_open("name-missing", "For what? A node's, stage's or part's name is missing").map(|()| None));
    let colon = kind(TokenKind::Colon).map(|_| ()).or(lack(|desk, i| {
        let (at, next) = (desk.gap(i), desk.tok(i).map_or("", |t| desk.slice(t)));
        Said::open("colon-missing", at, format!("A `:` is missing before {}", super::clip(next)))
            .fix_all("write :", vec![(at, ":".into())])
    }));
    let missing = |message: &'static str| end().ignore_then(lack_open("reason-missing", message)).map(|()| None);
    // Words without their quotes: the reason, unless a text follows all the same.
    let unquoted = one(move |t| !is_text(t)).repeated().at_least(1).validate(move |(), e, emitter| {
        let range = e.span().into_range();
        let desk = e.state();
        if desk.ends(range.end) {
            let place = desk.place(range);
            let words = desk.text[place.range()].replace('"', "'");
            emitter.emit(
                Said::open("reason-missing", place, "A reason is free text and stands in quotes")
                    .fix(place, format!("\"{words}\"")),
            );
        } else {
            emitter.emit(super::leftover(desk, range.clone()));
            super::keep_names(desk, range);
        }
    });
    let quoted = text().validate(|reason, _, emitter| {
        if !reason.text.trim().is_empty() {
            return Some(reason);
        }
        emitter.emit(Said::open("reason-missing", reason.span, "A reason says why: between these quotes stands none"));
        None
    });
    let reason = unquoted.or_not().ignore_then(quoted.or_not().map(Option::flatten));
    let behind_colon = missing("A reason in quotes is missing: the report lists it").or(reason);
    let behind_name = missing("`:` and a reason in quotes are missing").or(colon.ignore_then(behind_colon));
    let behind_for = end()
        .ignore_then(lack_open("name-missing", "For what? A node's, stage's or part's name is missing"))
        .map(|()| (None, None))
        .or(what.then_ignore(odd.clone()).then(behind_name));
    let tail = end()
        .ignore_then(lack_open("for-missing", "`for` and a name are missing behind the rule"))
        .map(|()| (None, None))
        .or(for_.ignore_then(behind_for));
    first("accept")
        .ignore_then(rule)
        .then_ignore(odd)
        .then(tail)
        .map(|(rule, (what, reason))| DesignEntry::Accept { rule, what, reason })
        .boxed()
}

/// An item of a list; of one without its word only the names that it holds are kept.
fn kept<T>(word: Option<Word>, what: T, range: std::ops::Range<usize>, desk: &mut Desk) -> Option<(Word, T)> {
    match word {
        Some(word) => Some((word, what)),
        None => {
            super::keep_names(desk, range);
            None
        }
    }
}

/// A name, or what to say where it is missing.
fn node(what: &'static str) -> impl Reads<Option<Word>> {
    let part = kind(TokenKind::Part).validate(move |t, e, emitter| {
        let desk = e.state();
        emitter.emit(Said::torn(
            "part-for-node",
            t.span,
            format!("{} is a part's name: {what} needs another", desk.slice(&t)),
        ));
        desk.stray(&t);
        Some(desk.word(&t))
    });
    name(what).map(Some).or(part).or(lack(move |desk, i| {
        Said::torn("name-missing", desk.gap(i), format!("The name of {what} is missing")).unfinished(desk.ends(i))
    })
    .map(|()| None))
}

/// A part, or what to say where it is missing.
fn part(q: &Quantities, missing: &'static str) -> impl Reads<Option<PartRef>> {
    let small = super::small_part().map(|part| PartRef { all: false, part });
    let stranger = name("a node").validate(|word, e, emitter| {
        let desk = e.state();
        emitter.emit(Said::torn(
            "part-missing",
            word.span,
            format!("{} is no part's name: capitals and a number, as in R1", word.text),
        ));
        desk.strays.names.push(word);
        None
    });
    choice((q.part_ref.clone().map(Some), small.map(Some), stranger, lack_torn("part-missing", missing).map(|()| None)))
}

/// `:`, or its absence.
fn colon(missing: &'static str) -> impl Reads<()> {
    kind(TokenKind::Colon).map(|_| ()).or(lack(move |desk, i| {
        let at = desk.gap(i);
        match desk.tok(i) {
            None => Said::torn("colon-missing", at, missing).unfinished(true),
            Some(t) => Said::torn("colon-missing", t.span, format!("A `:` is missing before {}", desk.slice(t)))
                .fix_all("write :", vec![(at, ":".into())]),
        }
    }))
}

/// `:` and what follows; nothing more is said behind an entry's end.
fn colon_then<T: 'static>(missing: &'static str, body: impl Reads<T>) -> impl Reads<Option<T>> {
    let at_end = anything().not().ignore_then(lack_torn("colon-missing", missing)).map(|()| None);
    at_end.or(colon(missing).ignore_then(body).map(Some))
}

/// A first word that is none of the list.
fn unknown() -> Rule<DesignEntry> {
    anything()
        .validate(|t: Tk, e, emitter| {
            let end = e.span().into_range().end;
            let desk = e.state();
            let word = desk.word(&t);
            emitter.emit(unknown_first(desk, &t, &word, end));
            // The rest is not looked at: only its names are kept.
            super::keep_names(desk, end..desk.toks.len());
            DesignEntry::Unknown(word)
        })
        .then_ignore(anything().repeated().map_with(|(), _| ()))
        .boxed()
}

fn unknown_first(desk: &Desk, t: &Tk, word: &Word, end: usize) -> Said {
    let text = &*word.text;
    if t.kind != TokenKind::Name {
        return Said::open(
            "design-word",
            t.span,
            format!("An entry of design begins with its word: {}", DESIGN_WORDS.join(", ")),
        );
    }
    let typed = beginning_with(text, DESIGN_WORDS.iter().copied());
    if desk.ends(end) && !typed.is_empty() {
        return Said::open(
            "design-word",
            t.span,
            format!("`{text}` is no entry of design yet: {} would be", super::element::list(&typed)),
        )
        .unfinished(true)
        .fix(t.span, typed[0]);
    }
    match nearest(text, DESIGN_WORDS.iter().copied()) {
        Some(near) => {
            Said::open("design-word", t.span, format!("{text} begins no entry of design: did you mean {near}?"))
                .fix(t.span, near)
        }
        None => Said::open(
            "design-word",
            t.span,
            format!("{text} begins no entry of design: those begin with {}", DESIGN_WORDS.join(", ")),
        )
        .unfinished(desk.ends(end)),
    }
}

fn behind(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let t = &desk.toks[range.start];
    match t.kind {
        TokenKind::PlusMinus => Said::open("leftover", t.span, "A tolerance has no place here"),
        TokenKind::Link => Said::open("leftover", t.span, "A path stands below a stage's heading, and this is design"),
        _ => super::leftover(desk, range),
    }
}
