//! Headings. The parsers begin behind the heading's word, which the layout knows already.

use chumsky::prelude::*;

use super::amount::Amounts;
use super::{Desk, Key, Reads, Rule, Said, Tk, anything, key, kind, lack, lack_torn, name, one, rest, text};
use crate::token::TokenKind;
use crate::tree::{Heading, Ports, Word};

/// The parsers for headings, one a kind.
pub(crate) struct Headings {
    pub design: Rule<Heading>,
    pub stage: Rule<Heading>,
    pub use_: Rule<Heading>,
    pub include: Rule<Heading>,
    pub datasheet: Rule<Heading>,
    pub assume: Rule<Heading>,
    /// `let`, `formula`, `require`: nothing stands behind the word.
    pub plain: Rule<()>,
}

impl Headings {
    /// Builds them.
    pub fn new(amounts: &Amounts) -> Headings {
        let ports = ports().boxed();
        Headings {
            design: design(),
            stage: stage(ports.clone()),
            use_: use_(ports),
            include: include(),
            datasheet: datasheet(),
            assume: assume(amounts),
            plain: rest(|desk, range| {
                let t = &desk.toks[range.start];
                let place = desk.place(range.clone());
                match t.kind {
                    TokenKind::Colon => Said::open(
                        "heading-extra",
                        place,
                        "Nothing stands behind this heading's word: its entries stand on the lines below",
                    )
                    .fix_all("delete :", vec![(place, String::new())]),
                    _ => Said::open(
                        "heading-extra",
                        place,
                        "Nothing stands behind this heading's word: its entries stand on the lines below",
                    )
                    .fix_all("write it on a line of its own", vec![(super::cut(desk, range), own_line(desk, place))]),
                }
            })
            .boxed(),
        }
    }
}

/// What stands behind a heading, as its entry.
fn own_line(desk: &Desk, place: crate::tree::Span) -> String {
    format!("\n  {}", &desk.text[place.range()])
}

fn behind(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    super::alike(desk, &desk.toks[range.start]).unwrap_or_else(|| {
        let place = desk.place(range.clone());
        Said::open(
            "heading-extra",
            place,
            format!("`{}` has no meaning in this heading", desk.slice(&desk.toks[range.start])),
        )
        .fix_all(
            format!("delete {}", super::clip(&desk.text[place.range()])),
            vec![(super::cut(desk, range), String::new())],
        )
    })
}

/// Words that were meant to stand in quotes.
fn unquoted(id: &'static str, message: &'static str) -> impl Reads<Word> {
    one(|t: &Tk| t.kind != TokenKind::Colon).repeated().at_least(1).validate(move |(), e, emitter| {
        let range = e.span().into_range();
        let desk = e.state();
        let place = desk.place(range.clone());
        let words = desk.text[place.range()].to_string();
        emitter.emit(Said::open(id, place, message).fix(place, format!("\"{}\"", words.replace('"', "'"))));
        Word { text: words.into(), span: place }
    })
}

fn design() -> Rule<Heading> {
    text()
        .or(unquoted("title-unquoted", "A title is free text and stands in quotes"))
        .or_not()
        .then_ignore(rest(behind))
        .map(|title| Heading::Design { title })
        .boxed()
}

/// A name in a heading, of which a part's shape is a common slip.
fn title(what: &'static str) -> impl Reads<Option<Word>> {
    let part = kind(TokenKind::Part).validate(move |t, e, emitter| {
        let desk = e.state();
        emitter.emit(Said::torn(
            "reserved-name",
            t.span,
            format!("`{}` has the shape of a part's name: {what} needs another", desk.slice(&t)),
        ));
        Some(desk.word(&t))
    });
    let figure = kind(TokenKind::Figure).validate(move |t, e, emitter| {
        let desk = e.state();
        emitter.emit(Said::torn(
            "reserved-name",
            t.span,
            format!("`{}` begins with a digit: the name of {what} begins with a letter", desk.slice(&t)),
        ));
        Some(desk.word(&t))
    });
    choice((name(what).map(Some), super::reserved(what).map(Some), part, figure)).or(lack(move |desk, i| {
        Said::torn("name-missing", desk.gap(i), format!("The name of {what} is missing")).unfinished(desk.ends(i))
    })
    .map(|()| None))
}

fn stage(ports: Rule<Ports>) -> Rule<Heading> {
    // Without a colon there are no ports: a heading may be as short as its name.
    let colon = kind(TokenKind::Colon).map(|_| ()).or(missing_colon());
    title("a stage")
        .then(colon.ignore_then(ports).or_not())
        .then_ignore(rest(behind))
        .map(|(name, ports)| Heading::Stage { name, ports })
        .boxed()
}

/// Ports begin without their colon.
fn missing_colon() -> impl Reads<()> {
    one(|t: &Tk| matches!(t.kind, TokenKind::Name | TokenKind::Arrow)).rewind().validate(|_, e, emitter| {
        let i = e.span().start;
        let desk = e.state();
        let at = desk.gap(i);
        let Some(t) = desk.tok(i) else { return };
        emitter.emit(
            Said::torn("colon-missing", t.span, format!("A `:` is missing before {}", desk.slice(t)))
                .fix_all("write :", vec![(at, ":".into())]),
        );
    })
}

fn use_(ports: Rule<Ports>) -> Rule<Heading> {
    let as_ = key(Key::As).map(|_| ()).or(lack(|desk, i| {
        let at = desk.gap(i);
        match desk.tok(i) {
            Some(t) => Said::torn("as-missing", t.span, format!("`as` is missing before {}", desk.slice(t)))
                .fix_all("write as", vec![(at, " as".into())]),
            None => Said::torn("as-missing", at, "`as` and the copy's name are missing").unfinished(true),
        }
    }));
    let end = || anything().not();
    let stage =
        name("a stage").map(Some).or(lack_torn("name-missing", "Which stage? Its name is missing").map(|()| None));
    let colon = kind(TokenKind::Colon).map(|_| ()).or(missing_colon());
    let tail = title("a copy").then(
        colon
            .ignore_then(ports)
            .map(Some)
            .or(lack_torn("ports-missing", "`:` and the copy's ports are missing").map(|()| None)),
    );
    let none =
        end().ignore_then(lack_torn("as-missing", "`as` and the copy's name are missing")).map(|()| (None, None));
    let nothing =
        end().ignore_then(lack_torn("name-missing", "Which stage? Its name is missing")).map(|()| (None, (None, None)));
    let as_end = as_.ignore_then(
        end().ignore_then(lack_torn("name-missing", "The copy's name is missing")).map(|()| (None, None)).or(tail),
    );
    nothing
        .or(stage.then(none.or(as_end)))
        .then_ignore(rest(behind))
        .map(|(stage, (name, ports))| Heading::Use { stage, name, ports })
        .boxed()
}

fn include() -> Rule<Heading> {
    choice((
        text().map(Some),
        unquoted("path-unquoted", "A file's name is free text and stands in quotes").map(Some),
        lack_torn("path-missing", "A file's name in quotes is missing").map(|()| None),
    ))
    .then_ignore(rest(behind))
    .map(|path| Heading::Include { path })
    .boxed()
}

fn datasheet() -> Rule<Heading> {
    let figure = kind(TokenKind::Figure).map_with(|t, e| Some(e.state().word(&t)));
    let part = kind(TokenKind::Part).validate(|t, e, emitter| {
        let desk = e.state();
        let small = desk.slice(&t).to_lowercase();
        emitter.emit(
            Said::torn(
                "reserved-name",
                t.span,
                format!("`{}` has the shape of a part's name: types are written small, {small}", desk.slice(&t)),
            )
            .fix(t.span, small),
        );
        Some(desk.word(&t))
    });
    let type_name = choice((
        figure,
        part,
        name("a type").map(Some),
        lack_torn("name-missing", "Which type? Its name is missing").map(|()| None),
    ));
    let end = || anything().not();
    let colon = kind(TokenKind::Colon).map(|_| ()).or(missing_colon());
    let kind_ = colon
        .ignore_then(
            name("a kind")
                .map(Some)
                .or(lack_torn("kind-missing", "What kind is it? `opamp` is missing").map(|()| None)),
        )
        .or(lack_torn("kind-missing", "`:` and the kind are missing, as in `: opamp`").map(|()| None));
    let nothing =
        end().ignore_then(lack_torn("name-missing", "Which type? Its name is missing")).map(|()| (None, None));
    nothing
        .or(type_name.then(kind_))
        .then_ignore(rest(behind))
        .map(|(name, kind)| Heading::Datasheet { name, kind })
        .boxed()
}

fn assume(amounts: &Amounts) -> Rule<Heading> {
    key(Key::Within)
        .ignore_then(amounts.wanted("error-missing", "Within what? An error is missing, as in 0.1 dB"))
        .or_not()
        .then_ignore(rest(behind))
        .map(|within| Heading::Assume { within: within.flatten() })
        .boxed()
}

/// `IN, IN -> OUT, OUT`
fn ports() -> impl Reads<Ports> {
    let is_name = |t: &Tk| t.kind == TokenKind::Name && !t.key.is_clause();
    let part = kind(TokenKind::Part).validate(|t, e, emitter| {
        let desk = e.state();
        emitter.emit(Said::torn(
            "part-for-node",
            t.span,
            format!("{} is a part, and a port is a node", desk.slice(&t)),
        ));
        None
    });
    let port = choice((
        name("a port").map(Some),
        super::reserved("a port").map(Some),
        part,
        lack(|desk, i| {
            let message = match i.checked_sub(1).and_then(|b| desk.kind(b)) {
                Some(TokenKind::Comma) => "A port is missing behind `,`",
                Some(TokenKind::Arrow) => "An output is missing behind `->`",
                _ => "An input is missing",
            };
            Said::torn("port-missing", desk.gap(i), message).unfinished(desk.ends(i))
        })
        .map(|()| None),
    ));
    // Between two ports an arrow may be missing as well as a comma.
    let absent = one(is_name).rewind().validate(|t: Tk, e, emitter| {
        let i = e.span().start;
        let desk = e.state();
        let at = desk.gap(i);
        let said = Said::torn("comma-missing", t.span, format!("A `,` or `->` is missing before {}", desk.slice(&t)));
        emitter.emit(said.fix_all("write ,", vec![(at, ",".into())]).fix_all("write ->", vec![(at, " ->".into())]));
    });
    let comma = kind(TokenKind::Comma).map(|_| ()).or(absent);
    let list = port
        .clone()
        .then(comma.ignore_then(port).repeated().collect::<Vec<_>>())
        .map(|(first, rest)| first.into_iter().chain(rest.into_iter().flatten()).collect::<Vec<Word>>())
        .boxed();
    let arrow = one(|t: &Tk| {
        matches!(t.kind, TokenKind::Arrow | TokenKind::Link | TokenKind::Minus)
            || matches!(t.key, Key::LikeLongArrow | Key::LikeFatArrow | Key::LikeDash)
    })
    .validate(|t: Tk, e, emitter| {
        if t.kind != TokenKind::Arrow {
            let end = e.span().into_range().end;
            let desk = e.state();
            let half = t.kind == TokenKind::Minus && desk.ends(end);
            let message = match half {
                true => "`->` leads to the outputs, and only half of it stands here".to_string(),
                false => format!("`{}` shows no direction: `->` does", desk.slice(&t)),
            };
            emitter.emit(Said::torn("look-alike", t.span, message).unfinished(half).fix(t.span, "->"));
        }
    });
    list.clone()
        .then(arrow.ignore_then(list).or_not())
        .map(|(inputs, outputs)| Ports { inputs, outputs: outputs.unwrap_or_default() })
}
