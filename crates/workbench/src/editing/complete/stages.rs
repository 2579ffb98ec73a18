//! Entries of `stage` (paths and devices) and of `use`.

use notation::token::TokenKind;
use notation::tree::PartName;

use super::basket::template;
use super::cursor::{Amount, Tok, amount, behind};
use super::{Basket, CompletionKind, Scene, attributes, nodes, parts, types, units, values};
use crate::editing::actions::want_of;

/// A path or a device.
pub(crate) fn entry(scene: &Scene, out: &mut Basket) {
    let toks = &scene.cursor.before[..];
    let Some(first) = toks.first() else {
        if scene.cursor.naming() {
            let device = scene.cursor.after.first().is_some_and(|t| t.kind == TokenKind::Colon);
            if !device {
                nodes::ends(scene, out, 0);
            }
            if scene.cursor.after.first().is_none_or(|t| t.kind != TokenKind::Link) {
                parts::new_devices(scene, out, 10);
            }
        }
        return;
    };
    let mark = toks
        .iter()
        .find(|t| matches!(t.kind, TokenKind::Link | TokenKind::Parallel | TokenKind::Colon | TokenKind::Comma));
    let device = first.kind == TokenKind::Part
        && mark.is_none_or(|t| matches!(t.kind, TokenKind::Colon | TokenKind::Comma))
        && class(first).is_some_and(|c| want_of(&c).is_none() || c == "VR");
    if device {
        match toks.iter().position(|t| t.kind == TokenKind::Colon) {
            Some(colon) => terminal(scene, out, &class(first).unwrap_or_default(), &toks[colon + 1..]),
            None => element(scene, out, toks),
        }
    } else {
        step(scene, out, toks);
    }
}

fn class(tok: &Tok) -> Option<String> {
    PartName::parse(tok.text).map(|p| p.class.to_string())
}

/// Between two `--` or `||`.
fn step(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let c = &scene.cursor;
    let (mark, own) = behind(toks, &[TokenKind::Link, TokenKind::Parallel]);
    let is_part = |t: &Tok| t.kind == TokenKind::Part;
    match own {
        [] if !c.naming() => {}
        [] => {
            let before = &toks[..toks.len() - usize::from(mark.is_some())];
            let previous = behind(before, &[TokenKind::Link, TokenKind::Parallel]).1.first();
            // Behind the word: the next step's first token, where the word is a step by itself.
            let next = match &c.after[..] {
                [link, next, ..] if link.kind == TokenKind::Link => Some(next),
                _ => None,
            };
            let attributed = c.after.first().is_some_and(|t| !matches!(t.kind, TokenKind::Link | TokenKind::Parallel));
            let parallel =
                mark == Some(TokenKind::Parallel) || c.after.first().is_some_and(|t| t.kind == TokenKind::Parallel);
            let between = previous.is_some_and(|t| !is_part(t)) || next.is_some_and(|t| !is_part(t));
            parts::new_in_path(scene, out, 10);
            // No two nodes stand in a row, and a node has no value.
            if !parallel && !between && !attributed {
                nodes::ends(scene, out, 0);
            }
        }
        [part, ..] if is_part(part) => element(scene, out, own),
        _ => {}
    }
}

/// Behind a part's name: its value or type, then its attributes.
fn element(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let c = &scene.cursor;
    let Some((part, rest)) = toks.split_first() else { return };
    let Some(class) = class(part) else { return };
    if rest.last().is_some_and(|t| t.text == "at") {
        return parts::positions(scene, out, part.text);
    }
    match (&*class, want_of(&class)) {
        ("U", _) if rest.is_empty() => types::types(scene, out),
        ("U", _) => {}
        (_, None) => attributes::attributes(scene, out, &class, toks),
        (_, Some((want, _))) => match amount(rest) {
            // A value is wanted; a word that stands there already is an attribute whose value is still missing.
            Amount::Missing if rest.is_empty() => values::of_part(scene, out, &class),
            Amount::Missing => {}
            Amount::Bare(n) if n == rest.len() && c.naming() => {
                units::behind_figure(scene, out, &rest[n - 1], want, 8);
                attributes::attributes(scene, out, &class, toks);
            }
            Amount::Bare(_) | Amount::Whole(_) => {
                let figure = rest.last().filter(|t| rest.len() > 1 && t.kind == TokenKind::Figure && bare(t.text));
                match figure {
                    // A figure among the attributes waits for its unit.
                    Some(_) if rest.last().is_some_and(|t| t.text.ends_with(|c: char| c.is_ascii_digit())) => {}
                    _ => attributes::attributes(scene, out, &class, toks),
                }
            }
        },
    }
}

fn bare(figure: &str) -> bool {
    figure.bytes().all(|b| b.is_ascii_digit() || b == b'.')
}

/// Behind a device's colon: the next terminal, or its node.
fn terminal(scene: &Scene, out: &mut Basket, class: &str, toks: &[Tok]) {
    let c = &scene.cursor;
    let (_, own) = behind(toks, &[TokenKind::Comma]);
    match own {
        [] => terminals(scene, out, class, toks),
        [word] if c.naming() => match word.text {
            "supply" => rails(scene, out),
            _ => nodes::ends(scene, out, 0),
        },
        [word, _] if word.text == "supply" && c.naming() => rails(scene, out),
        _ => {}
    }
}

/// What an amplifier is fed from: rails first.
fn rails(scene: &Scene, out: &mut Basket) {
    nodes::rails(scene, out, 0);
    nodes::ground(out, 1);
    nodes::ends(scene, out, 2);
}

/// The terminals that a device has not got yet.
fn terminals(scene: &Scene, out: &mut Basket, class: &str, toks: &[Tok]) {
    let c = &scene.cursor;
    let given: Vec<&str> = {
        let all = toks.iter().chain(&c.after).map(|t| t.text).collect::<Vec<_>>();
        all.split(|t| *t == ",").filter_map(|terminal| terminal.first().copied()).collect()
    };
    let named = c.after.first().is_some_and(|t| t.kind == TokenKind::Name);
    let mut put = |rank: u32, word: &str, what: &str, node: &str| {
        if given.contains(&word) {
            return;
        }
        let insert = if named { template(word) } else { template(&format!("{word} {node}")) };
        out.put(rank, CompletionKind::Word, word).detail(what).insert(insert).page(word);
    };
    let ([input, output], rails) = (scene.ports(), scene.first_rails());
    match class {
        "U" => {
            put(0, "+", "the non-inverting input", &format!("{{1:{input}}}"));
            put(1, "-", "the inverting input", "{1:fb}");
            put(2, "out", "the output", &format!("{{1:{output}}}"));
            put(3, "supply", "its rails, the positive one first", &format!("{{1:{}}} {{2:{}}}", rails[0], rails[1]));
        }
        "VR" => {
            put(0, "cw", "the clockwise end", &format!("{{1:{input}}}"));
            put(1, "wiper", "the wiper", &format!("{{1:{output}}}"));
            put(2, "ccw", "the anticlockwise end, 0 % of the travel", "{1:gnd}");
        }
        "SW" => {
            put(0, "pole", "what is switched", &format!("{{1:{input}}}"));
            let last = given.iter().filter_map(|t| t.parse::<u32>().ok()).max().unwrap_or(0);
            put(1, &(last + 1).to_string(), "the next position", &format!("{{1:{output}}}"));
        }
        _ => {}
    }
}

impl Scene<'_> {
    /// The stage's first input and output, or what they are usually called.
    pub(crate) fn ports(&self) -> [String; 2] {
        let stage = self.known.stage();
        let first = |list: Option<&Vec<notation::Name>>, usual: &str| {
            list.and_then(|l| l.first()).map_or_else(|| usual.to_string(), ToString::to_string)
        };
        [first(stage.map(|s| &s.inputs), "in"), first(stage.map(|s| &s.outputs), "out")]
    }

    /// The first supply's rails; `gnd` is the second one of a single one.
    fn first_rails(&self) -> [String; 2] {
        let mut rails = self.known.rails().map(|(n, _)| n.to_string());
        [rails.next().unwrap_or_else(|| "vpos".into()), rails.next().unwrap_or_else(|| "gnd".into())]
    }

    /// The word at the cursor, all of it.
    pub(crate) fn known_word(&self) -> &str {
        self.document.text(self.db).get(self.cursor.word.clone()).unwrap_or_default()
    }
}

/// An entry of `use`: a part of the pattern, then its new value.
pub(crate) fn replacement(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    if !c.before.is_empty() {
        return element(scene, out, &c.before);
    }
    let pattern = scene.known.block().and_then(|b| scene.known.pattern(b.pattern.as_deref()?));
    let (Some(pattern), true) = (pattern, c.naming()) else { return };
    let given: Vec<&str> = scene.known.block().map(|b| b.parts.iter().map(|p| &*p.name).collect()).unwrap_or_default();
    for part in pattern.parts.iter().filter(|p| !given.contains(&&*p.name) || *p.name == *scene.known_word()) {
        let insert = match c.ends() && !part.value.is_empty() && want_of(&part.class).is_some() {
            true => {
                vec![super::basket::text(format!("{} ", part.name)), super::basket::stop(1, first_word(&part.value))]
            }
            false => template(&part.name),
        };
        out.put(0, CompletionKind::Part, &*part.name).detail(&*part.value).insert(insert).page(&part.class);
    }
}

/// The value without its attributes.
fn first_word(value: &str) -> String {
    let end = if value.starts_with('(') {
        value.rfind(')').map_or(value.len(), |i| i + 1)
    } else {
        value.find(' ').unwrap_or(value.len())
    };
    value[..end].to_string()
}
