//! The grammar: chumsky parsers that are total. Every construct has a branch for what is missing, which says so and goes on,
//! so that a tree always comes back and holds every name of the text.
//!
//! Parsers are built once a thread. A parser that fails consumes nothing and says nothing; a parser that says something succeeds.

pub(crate) mod amount;
pub(crate) mod apart;
pub(crate) mod assume;
pub(crate) mod clause;
pub(crate) mod design;
pub(crate) mod desk;
pub(crate) mod device;
pub(crate) mod element;
pub(crate) mod expr;
pub(crate) mod heading;
pub(crate) mod key;
pub(crate) mod path;
pub(crate) mod phrase;
pub(crate) mod quantity;
pub(crate) mod said;
pub(crate) mod sheet;
pub(crate) mod statement;

use chumsky::prelude::*;

pub(crate) use desk::{Desk, In, Tk};
pub(crate) use key::Key;
pub(crate) use said::Said;

use crate::token::TokenKind;
use crate::tree::{PartName, Span, Word};

/// What the parsers carry along.
pub(crate) type Ex = extra::Full<Said, Desk, ()>;
/// A parser that is built once and shared.
pub(crate) type Rule<T> = Boxed<'static, 'static, In, T, Ex>;

/// Shorthand for the parsers of this grammar.
pub(crate) trait Reads<T>: Parser<'static, In, T, Ex> + Clone + 'static {}
impl<T, P: Parser<'static, In, T, Ex> + Clone + 'static> Reads<T> for P {}

/// A token that fits.
pub(crate) fn one(fits: impl Fn(&Tk) -> bool + Clone + 'static) -> impl Reads<Tk> {
    any::<In, Ex>().filter(fits)
}

/// Any token.
pub(crate) fn anything() -> impl Reads<Tk> {
    any::<In, Ex>()
}

/// A token of a kind.
pub(crate) fn kind(kind: TokenKind) -> impl Reads<Tk> {
    one(move |t: &Tk| t.kind == kind)
}

/// A token with a key.
pub(crate) fn key(key: Key) -> impl Reads<Tk> {
    one(move |t: &Tk| t.key == key)
}

/// Looks at the index of the next token and may say something there; consumes nothing.
pub(crate) fn lack(say: impl Fn(&Desk, usize) -> Said + Clone + 'static) -> impl Reads<()> {
    empty::<In, Ex>().validate(move |(), e, emitter| {
        let index = e.span().start;
        emitter.emit(say(e.state(), index));
    })
}

/// A value is missing here: the fault stands in the gap and is *unfinished* at the entry's end.
pub(crate) fn lack_open(id: &'static str, message: &'static str) -> impl Reads<()> {
    lack(move |desk, i| Said::open(id, desk.gap(i), message).unfinished(desk.ends(i)))
}

/// An end or a name is missing here: the fault stands in the gap and is *unfinished* at the entry's end.
pub(crate) fn lack_torn(id: &'static str, message: &'static str) -> impl Reads<()> {
    lack(move |desk, i| Said::torn(id, desk.gap(i), message).unfinished(desk.ends(i)))
}

/// One or more tokens that fit nowhere, up to one that `stop` wants. Their names are kept, and one thing is said about the first.
pub(crate) fn junk(
    stop: impl Fn(&Tk) -> bool + Clone + 'static,
    say: impl Fn(&Desk, std::ops::Range<usize>) -> Said + Clone + 'static,
) -> impl Reads<Span> {
    one(move |t: &Tk| !stop(t)).repeated().at_least(1).validate(move |(), e, emitter| {
        let range = e.span().into_range();
        let desk = e.state();
        emitter.emit(say(desk, range.clone()));
        keep_names(desk, range.clone());
        desk.place(range)
    })
}

/// Keeps the names of a stretch of tokens that no tree has room for.
pub(crate) fn keep_names(desk: &mut Desk, range: std::ops::Range<usize>) {
    for i in range {
        let tk = desk.toks[i];
        desk.stray(&tk);
    }
}

/// Whatever is left of an entry.
pub(crate) fn rest(say: impl Fn(&Desk, std::ops::Range<usize>) -> Said + Clone + 'static) -> impl Reads<()> {
    junk(|_| false, say).or_not().map(|_| ())
}

/// The place of a stretch of tokens with the blanks in front, which go with it when it is deleted.
pub(crate) fn cut(desk: &Desk, range: std::ops::Range<usize>) -> Span {
    desk.gap(range.start).to(desk.place(range))
}

/// The usual thing to say about leftovers.
pub(crate) fn leftover(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let tk = &desk.toks[range.start];
    if let Some(said) = alike(desk, tk) {
        return said;
    }
    let place = desk.place(range.clone());
    let said = match desk.slice(tk) {
        "rms" => Said::open("leftover", tk.span, "Levels are rms already: `rms` adds nothing"),
        "C" if range.start.checked_sub(1).and_then(|b| desk.kind(b)) == Some(TokenKind::Figure) => {
            let said =
                Said::open("leftover", tk.span, "Degrees Celsius are written degC: a C by itself is a class of parts");
            return said.fix(tk.span, "degC");
        }
        slice => Said::open("leftover", place, format!("`{slice}` has no meaning here")),
    };
    said.fix_all(format!("delete {}", clip(&desk.text[place.range()])), vec![(cut(desk, range), String::new())])
}

/// What there is to say about a token that is wrong wherever it stands: look-alikes and words of other letters.
pub(crate) fn alike(desk: &Desk, tk: &Tk) -> Option<Said> {
    let slice = desk.slice(tk);
    Some(match (tk.kind, tk.key) {
        (TokenKind::DecimalComma | TokenKind::BarePoint, _) => amount::unreadable(desk, tk),
        (TokenKind::Foreign, _) => Said::open(
            "foreign-letters",
            tk.span,
            format!("`{slice}` has letters that no name may have: a to z, A to Z, digits and _"),
        ),
        (TokenKind::CurlyText, _) => curly(desk, tk),
        (TokenKind::TooMuch, _) => too_much(tk),
        (_, Key::All) => {
            Said::open("all-alone", tk.span, "`all` stands before a part's name: all R1 is R1 and its copies")
        }
        (TokenKind::LookAlike, Key::LikeOther) if slice == ";" => Said::open(
            "look-alike",
            tk.span,
            "`;` is no mark of the notation: a list takes `,`, a new entry its own line",
        )
        .fix(tk.span, ","),
        _ => return None,
    })
}

/// Curly marks around a text.
pub(crate) fn curly(desk: &Desk, tk: &Tk) -> Said {
    let plain = format!("\"{}\"", desk.word(tk).text);
    Said::open("look-alike", tk.span, "Curly marks do not make a text: it stands between plain `\"`")
        .fix(tk.span, plain)
}

/// A stretch that nobody could read.
pub(crate) fn too_much(tk: &Tk) -> Said {
    Said::open(
        "expression-too-long",
        tk.span,
        format!(
            "This expression is nested deeper than {} parentheses or longer than {} words: name its parts with `let`",
            desk::DEEPEST,
            desk::LONGEST
        ),
    )
}

/// A text in quotes. A missing or curly mark is said and the text taken.
pub(crate) fn text() -> impl Reads<Word> {
    one(|t: &Tk| matches!(t.kind, TokenKind::Text | TokenKind::OpenText | TokenKind::CurlyText)).validate(
        |t, e, emitter| {
            let desk = e.state();
            match t.kind {
                TokenKind::OpenText => {
                    let end = Span { start: t.span.end, end: t.span.end };
                    emitter.emit(
                        Said::open(
                            "quote-missing",
                            t.span,
                            "The closing `\"` is missing: the text runs to the line's end",
                        )
                        .fix_all("write \"", vec![(end, "\"".into())]),
                    );
                }
                TokenKind::CurlyText => emitter.emit(curly(desk, &t)),
                _ => {}
            }
            desk.word(&t)
        },
    )
}

/// A name as nodes, stages and settings have it, clause words excepted: they begin something else.
/// A reserved word is said and taken.
pub(crate) fn name(what: &'static str) -> impl Reads<Word> {
    one(|t: &Tk| {
        matches!(t.kind, TokenKind::Name | TokenKind::Series | TokenKind::Foreign | TokenKind::Unit)
            && !t.key.is_clause()
    })
    .validate(move |t, e, emitter| {
        let desk = e.state();
        if let Some(said) = unfit(desk, &t, what) {
            emitter.emit(said);
        }
        desk.word(&t)
    })
}

/// What is wrong with a token as a name.
pub(crate) fn unfit(desk: &Desk, tk: &Tk, what: &str) -> Option<Said> {
    let slice = desk.slice(tk);
    if tk.kind == TokenKind::Foreign {
        return Some(Said::torn(
            "foreign-letters",
            tk.span,
            format!("`{slice}` has letters that {what} cannot be called by: a to z, A to Z, digits and _"),
        ));
    }
    let because = crate::word::reserved_because(slice)?;
    Some(Said::torn("reserved-name", tk.span, format!("`{slice}` {because}: {what} needs another name")))
}

/// The capitals that a part's name lacks: `r1` is R1, `vr1a` is VR1a.
pub(crate) fn capitals(word: &str) -> Option<String> {
    let large = match word.strip_suffix(|c: char| c.is_ascii_lowercase()) {
        // A unit letter stays small.
        Some(stem) if stem.ends_with(|c: char| c.is_ascii_digit()) => stem.to_ascii_uppercase() + &word[stem.len()..],
        _ => word.to_ascii_uppercase(),
    };
    crate::part::has_part_shape(&large).then_some(large)
}

/// A part's name without its capitals, or class letters without their number: said, and taken as the part.
pub(crate) fn small_part() -> impl Reads<PartName> {
    one(|t| t.kind == TokenKind::Name && !t.key.is_clause())
        .try_map_with(|t: Tk, e| {
            let desk: &mut Desk = e.state();
            let large = capitals(desk.slice(&t));
            let class = t.key == Key::Class;
            let large = large.or(class.then(|| desk.slice(&t).to_string())).ok_or(Said::NOT_HERE)?;
            PartName::parse_at(&large, t.span).ok_or(Said::NOT_HERE)
        })
        .validate(|part, e, emitter| {
            let end = e.span().into_range().end;
            let desk = e.state();
            let written = desk.text[part.span.range()].to_string();
            emitter.emit(match part.number {
                Some(_) => {
                    let message = format!("{written} is a node's name: did you mean the part {}?", part.text);
                    Said::torn("part-name", part.span, message).fix(part.span, &*part.text)
                }
                None => element::number_missing(desk, &part, desk.ends(end)),
            });
            part
        })
}

/// A word of the notation where a name is wanted: said, and taken.
pub(crate) fn reserved(what: &'static str) -> impl Reads<Word> {
    one(|t| t.kind == TokenKind::Name && t.key.is_clause()).validate(move |t, e, emitter| {
        let desk = e.state();
        if let Some(said) = unfit(desk, &t, what) {
            emitter.emit(said);
        }
        desk.word(&t)
    })
}

/// The list's comma, or its absence where a next item begins all the same. What `item` lets through the item's parser must
/// consume, or the list would never end.
pub(crate) fn comma(item: impl Fn(&Tk) -> bool + Clone + 'static) -> impl Reads<()> {
    let absent = one(move |t: &Tk| item(t)).rewind().validate(|_, e, emitter| {
        let index = e.span().start;
        emitter.emit(comma_missing(e.state(), index));
    });
    kind(TokenKind::Comma).map(|_| ()).or(absent)
}

/// A `,` is missing in front of the token at an index.
pub(crate) fn comma_missing(desk: &Desk, index: usize) -> Said {
    let next = desk.tok(index).map_or("", |t| desk.slice(t));
    let at = desk.gap(index);
    let span = desk.tok(index).map_or(at, |t| t.span);
    Said::torn("comma-missing", span, format!("A `,` is missing before {next}"))
        .fix_all("write ,", vec![(at, ",".into())])
}

/// Shortens a text for a title.
pub(crate) fn clip(text: &str) -> String {
    match text.char_indices().nth(24) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text.to_string(),
    }
}
