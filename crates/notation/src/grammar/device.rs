//! Devices: a part with named terminals.

use chumsky::prelude::*;

use super::amount::Amounts;
use super::element::{Place, element, list, list_and, needs_value, number_missing};
use super::{Desk, Key, Reads, Rule, Said, Tk, anything, comma, key, kind, lack, one};
use crate::near::{beginning_with, nearest};
use crate::token::TokenKind;
use crate::tree::{Device, Element, EntryTree, Figure, Pin, Span, Terminal, Word};
use crate::word::terminal_words;

/// The device parser: total, it takes the whole entry.
pub(crate) fn device(amounts: &Amounts) -> Rule<EntryTree> {
    let lone = key(Key::Class).validate(|t, e, emitter| {
        let end = e.span().into_range().end;
        let desk = e.state();
        let part = desk.part(&t);
        emitter.emit(number_missing(desk, &part, desk.ends(end)));
        Element { span: part.span, part, value: None, attributes: Vec::new() }
    });
    let head = element(amounts, Place::Device).or(lone);
    let wrong_colon = one(|t| matches!(t.kind, TokenKind::Comma | TokenKind::Equal)).validate(|t, e, emitter| {
        let slice = e.state().slice(&t).to_string();
        let message = format!("A `:` stands in front of the terminals, and `{slice}` stands here");
        emitter.emit(Said::torn("colon-missing", t.span, message).fix(t.span, ":"));
        true
    });
    let colon = kind(TokenKind::Colon).map(|_| true).or(wrong_colon).or(lack(|desk, i| {
        let at = desk.gap(i);
        match desk.tok(i) {
            None => Said::torn("terminals-missing", at, "`:` and its terminals are missing").unfinished(true),
            Some(t) => Said::torn("colon-missing", t.span, format!("A `:` is missing before {}", desk.slice(t)))
                .fix_all("write :", vec![(at, ":".into())]),
        }
    })
    .map(|()| false));
    let odd = super::junk(|t| t.kind == TokenKind::Comma || begins_terminal(t), odd_in_terminal).or_not().map(|_| ());
    let term = terminal().then_ignore(odd.clone()).boxed();
    let first = anything().not().map(|()| None).or(term.clone().map(Some));
    let terminals = first
        .then(comma(begins_terminal).ignore_then(term).repeated().collect::<Vec<_>>())
        .map(|(first, rest)| first.into_iter().chain(rest).collect::<Vec<Terminal>>());
    head.then(colon)
        .then_ignore(odd)
        .then(terminals)
        .then_ignore(super::rest(super::leftover))
        .validate(|((element, colon), terminals), e, emitter| {
            let end = e.span().into_range().end;
            let desk = e.state();
            if colon || !terminals.is_empty() {
                for said in faults(desk, &element, &terminals, end) {
                    emitter.emit(said);
                }
            }
            EntryTree::Device(Device { element, terminals })
        })
        .boxed()
}

fn begins_terminal(t: &Tk) -> bool {
    matches!(t.kind, TokenKind::Plus | TokenKind::Minus | TokenKind::Figure | TokenKind::Part | TokenKind::Series)
        || (t.kind == TokenKind::Name && !t.key.is_clause())
        || t.key == Key::LikeDash
}

fn odd_in_terminal(desk: &Desk, range: std::ops::Range<usize>) -> Said {
    let t = &desk.toks[range.start];
    super::alike(desk, t).unwrap_or_else(|| {
        Said::torn("leftover", desk.place(range), format!("`{}` has no meaning among terminals", desk.slice(t)))
    })
}

/// The node of a terminal; a part in its place is said and kept.
fn node() -> impl Reads<Word> {
    let part = kind(TokenKind::Part).validate(|t, e, emitter| {
        let desk = e.state();
        emitter.emit(Said::torn(
            "part-for-node",
            t.span,
            format!("{} is a part, and a terminal goes to a node", desk.slice(&t)),
        ));
        desk.stray(&t);
        desk.word(&t)
    });
    super::name("a node").or(part)
}

/// One terminal, of which anything may be missing.
fn terminal() -> impl Reads<Terminal> {
    let sign = one(|t: &Tk| matches!(t.kind, TokenKind::Plus | TokenKind::Minus) || t.key == Key::LikeDash).validate(
        |t: Tk, e, emitter| {
            if t.key == Key::LikeDash {
                let slice = e.state().slice(&t).to_string();
                emitter.emit(
                    Said::torn("look-alike", t.span, format!("`{slice}` is a dash: the inverting input is `-`"))
                        .fix(t.span, "-"),
                );
            }
            match t.kind {
                TokenKind::Plus => Pin::Plus(t.span),
                _ => Pin::Minus(t.span),
            }
        },
    );
    let position = kind(TokenKind::Figure).map_with(|t: Tk, e| {
        let text = e.state().slice(&t).into();
        Pin::Position(Figure { negative: false, signed: false, text, unit: None, span: t.span, figure_span: t.span })
    });
    let supply = key(Key::Supply).map_with(|t, e| Pin::Word(e.state().word(&t)));
    let word = one(|t: &Tk| {
        matches!(t.kind, TokenKind::Name | TokenKind::Part | TokenKind::Series)
            && !t.key.is_clause()
            && t.key != Key::Supply
    })
    .map_with(|t, e| Pin::Word(e.state().word(&t)));
    let none = |()| Vec::new();
    let one = node().map(|n| vec![n]);
    let two = one
        .clone()
        .then(node().or_not())
        .map(|(mut first, second)| {
            first.extend(second);
            first
        })
        .or(empty().map(none));
    let one_or_none = one.or(empty().map(none));
    choice((
        sign.or(position).or(word).then(one_or_none),
        supply.then(two),
        empty::<super::In, super::Ex>().map_with(|(), e| {
            let i = e.span().start;
            (Pin::Missing(e.state().gap(i)), Vec::new())
        }),
    ))
    .map_with(|(pin, nodes), e| {
        let range = e.span().into_range();
        Terminal { pin, nodes, span: e.state().place(range) }
    })
}

/// How a terminal is spoken of.
fn called(pin: &Pin) -> String {
    match pin {
        Pin::Plus(_) => "the + input".into(),
        Pin::Minus(_) => "the - input".into(),
        Pin::Word(w) => w.text.to_string(),
        Pin::Position(f) => format!("position {}", f.text),
        Pin::Missing(_) => "a terminal".into(),
    }
}

/// A name stays small at the start of a sentence; a word of ours does not.
fn at_start(called: String) -> String {
    match called.split_once(' ') {
        Some(("the", rest)) => format!("The {rest}"),
        Some(("position", rest)) => format!("Position {rest}"),
        _ => called,
    }
}

fn pin_span(pin: &Pin) -> Span {
    match pin {
        Pin::Plus(s) | Pin::Minus(s) | Pin::Missing(s) => *s,
        Pin::Word(w) => w.span,
        Pin::Position(f) => f.span,
    }
}

/// Everything that is wrong with the terminals.
fn faults(desk: &Desk, element: &Element, terminals: &[Terminal], end: usize) -> Vec<Said> {
    let class = &*element.part.class;
    let name = &*element.part.text;
    let mut out = Vec::new();
    let Some(needs) = needs_value(class) else { return out };
    if needs && class != "VR" {
        out.push(Said::torn(
            "terminals-of-two-ends",
            element.part.span,
            format!("{name} has two ends and no terminals: it stands in a path, a -- {name} … -- b"),
        ));
        return out;
    }
    let words = terminal_words(class);
    let tail = desk.gap(end);
    let last = terminals.len().saturating_sub(1);
    let lacking = lacking(class, terminals);
    for (n, t) in terminals.iter().enumerate() {
        let unfinished = n == last && t.span.end == tail.end;
        let span = pin_span(&t.pin);
        if let Some(first) = terminals[..n.min(64)].iter().find(|u| same(&u.pin, &t.pin)) {
            out.push(Said::torn(
                "terminal-twice",
                span,
                format!("{} of {name} goes to {} already", at_start(called(&t.pin)), nodes_of(first)),
            ));
        }
        match &t.pin {
            Pin::Missing(at) => {
                let what = if lacking.is_empty() { "a terminal".to_string() } else { list(&lacking) };
                out.push(
                    Said::torn("terminal-missing", *at, format!("{what} and its node are missing"))
                        .unfinished(unfinished),
                );
                continue;
            }
            Pin::Word(w) if !words.contains(&&*w.text) => {
                out.push(unknown_pin(w, name, class, &lacking, unfinished && t.nodes.is_empty()));
                continue;
            }
            Pin::Plus(_) | Pin::Minus(_) if class != "U" => {
                out.push(Said::torn(
                    "terminal-unknown",
                    span,
                    format!("{name} has no input: its terminals are {}", list_and(&known(class))),
                ));
                continue;
            }
            Pin::Position(f) if class != "SW" => {
                out.push(Said::torn(
                    "terminal-unknown",
                    span,
                    format!("{name} has no position {}: its terminals are {}", f.text, list_and(&known(class))),
                ));
                continue;
            }
            _ => {}
        }
        let wanted = if matches!(&t.pin, Pin::Word(w) if &*w.text == "supply") { 2 } else { 1 };
        if t.nodes.len() < wanted {
            let at = Span { start: t.span.end, end: t.span.end };
            let message = match wanted {
                2 => format!("supply of {name} takes two nodes, the higher rail first"),
                _ => format!("{} of {name} has no node yet", at_start(called(&t.pin))),
            };
            out.push(Said::torn("terminal-node-missing", at, message).unfinished(unfinished));
        }
    }
    // Words that are missing altogether; a last terminal without a word has said it already.
    if !lacking.is_empty() && !matches!(terminals.last().map(|t| &t.pin), Some(Pin::Missing(_))) {
        out.push(
            Said::torn(
                "terminal-missing",
                tail,
                format!("{name} still lacks {}", if class == "VR" { list(&lacking) } else { list_and(&lacking) }),
            )
            .unfinished(true),
        );
    }
    out
}

/// The terminals that a device must have and has not.
fn lacking(class: &str, terminals: &[Terminal]) -> Vec<&'static str> {
    let has = |word: &str| terminals.iter().any(|t| matches!(&t.pin, Pin::Word(w) if &*w.text == word));
    match class {
        "U" => {
            let mut out = Vec::new();
            if !terminals.iter().any(|t| matches!(t.pin, Pin::Plus(_))) {
                out.push("+");
            }
            if !terminals.iter().any(|t| matches!(t.pin, Pin::Minus(_))) {
                out.push("-");
            }
            if !has("out") {
                out.push("out");
            }
            out
        }
        // An end left out is not connected; one end alone is no resistance.
        "VR" => {
            let missing: Vec<&'static str> = ["cw", "wiper", "ccw"].into_iter().filter(|w| !has(w)).collect();
            if missing.len() >= 2 { missing } else { Vec::new() }
        }
        "SW" => {
            let mut out = Vec::new();
            if !has("pole") {
                out.push("pole");
            }
            if !terminals.iter().any(|t| matches!(t.pin, Pin::Position(_))) {
                out.push("a numbered position");
            }
            out
        }
        _ => Vec::new(),
    }
}

fn known(class: &str) -> Vec<&'static str> {
    match class {
        "U" => vec!["+", "-", "out", "supply"],
        "SW" => vec!["pole", "its positions' numbers"],
        _ => terminal_words(class).to_vec(),
    }
}

fn nodes_of(terminal: &Terminal) -> String {
    match terminal.nodes.as_slice() {
        [] => "no node yet".into(),
        nodes => nodes.iter().map(|n| &*n.text).collect::<Vec<_>>().join(" "),
    }
}

fn same(a: &Pin, b: &Pin) -> bool {
    match (a, b) {
        (Pin::Plus(_), Pin::Plus(_)) | (Pin::Minus(_), Pin::Minus(_)) => true,
        (Pin::Word(a), Pin::Word(b)) => a.text == b.text,
        (Pin::Position(a), Pin::Position(b)) => a.text == b.text,
        _ => false,
    }
}

/// A word that is no terminal of the device.
fn unknown_pin(word: &Word, name: &str, class: &str, lacking: &[&'static str], unfinished: bool) -> Said {
    let text = &*word.text;
    let words = terminal_words(class);
    let typed = beginning_with(text, words.iter().copied());
    if unfinished && !typed.is_empty() {
        let open: Vec<&str> = if lacking.is_empty() { typed.clone() } else { lacking.to_vec() };
        return Said::torn(
            "terminal-unknown",
            word.span,
            format!("`{text}` is no terminal of {name} yet: {} can follow", list(&open)),
        )
        .unfinished(true)
        .fix(word.span, typed[0]);
    }
    let near = nearest(text, words.iter().copied()).or_else(|| words.iter().copied().find(|w| text.starts_with(w)));
    match near {
        Some(near) => {
            Said::torn("terminal-unknown", word.span, format!("{text} is no terminal of {name}: did you mean {near}?"))
                .fix(word.span, near)
        }
        None => Said::torn(
            "terminal-unknown",
            word.span,
            format!("{text} is no terminal of {name}: those are {}", list_and(&known(class))),
        )
        .unfinished(unfinished),
    }
}
