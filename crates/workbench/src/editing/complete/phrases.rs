//! Quantities: their words, what they are of, and where one is in them.

use notation::token::TokenKind;
use notation::word::{CLAUSE_WORDS, PHRASES, PhraseForm, phrase};
use quantity::Want;

use super::basket::{stop, template, text};
use super::cursor::{Tok, behind};
use super::{Basket, CompletionKind, Piece, Scene, clauses, nodes, parts};

/// Where one is in a quantity, and with which words it begins.
pub(crate) struct Standing<'a, 't> {
    /// The quantity, once its words are whole.
    pub words: Option<(&'static str, PhraseForm)>,
    /// The tokens behind the words.
    pub rest: &'a [Tok<'t>],
}

/// Reads the words that some tokens begin with: the longest quantity that they spell.
pub(crate) fn standing<'a, 't>(toks: &'a [Tok<'t>]) -> Standing<'a, 't> {
    let names = toks.iter().take_while(|t| t.kind == TokenKind::Name && !CLAUSE_WORDS.contains(&t.text)).count();
    let said = |n: usize| toks[..n].iter().map(|t| t.text).collect::<Vec<_>>().join(" ");
    let hit = (1..=names.min(3)).rev().find_map(|n| phrase(&said(n)).map(|found| (n, found)));
    match hit {
        Some((n, found)) => Standing { words: Some(found), rest: &toks[n..] },
        None => Standing { words: None, rest: toks },
    }
}

/// A quantity that is being typed, from its first word on; `closed` is what may follow it at its end, such as a limit.
/// What the limit wants is for who asks to say.
pub(crate) fn quantity(scene: &Scene, out: &mut Basket, toks: &[Tok], tail: &str) {
    words(scene, out, toks, tail);
    let standing = standing(toks);
    let Some((words, form)) = standing.words else { return };
    match form {
        PhraseForm::Of => of(scene, out, words, standing.rest),
        PhraseForm::FromTo => from_to(scene, out, words, standing.rest),
    }
}

/// The words that go on from those that stand there.
fn words(scene: &Scene, out: &mut Basket, toks: &[Tok], tail: &str) {
    let said: Vec<&str> = toks.iter().map(|t| t.text).collect();
    if toks.iter().any(|t| t.kind != TokenKind::Name) || !scene.cursor.naming() {
        return;
    }
    let after = &scene.cursor.after[..];
    for (i, (words, form)) in PHRASES.iter().enumerate() {
        let all: Vec<&str> = words.split(' ').collect();
        if all.len() <= said.len() || all[..said.len()] != said[..] {
            continue;
        }
        // The words that follow already are not said again, and what follows them has to be of the quantity's form.
        let follows = |n: &usize| all[all.len() - n..].iter().eq(after.iter().take(*n).map(|t| &t.text));
        let there = (0..all.len() - said.len()).rev().find(follows).unwrap_or(0);
        if !fits(&after[there..], *form) {
            continue;
        }
        let label = all[said.len()..all.len() - there].join(" ");
        let subject = Subject::of(scene, words, *form);
        let Some(subject) = subject else { continue };
        let mut insert = vec![text(&label)];
        if scene.cursor.ends() {
            insert = [vec![text(format!("{label} "))], subject.pieces].concat();
            if !tail.is_empty() {
                insert.extend(template(tail));
            }
        }
        let rank = if said.is_empty() { i as u32 } else { 0 };
        out.put(rank, CompletionKind::Quantity, label).detail(subject.needs).insert(insert).page(words);
    }
}

/// Whether what stands behind the words of a quantity is of its form, as far as it goes.
fn fits(after: &[Tok], form: PhraseForm) -> bool {
    let Some(first) = after.first() else { return true };
    match form {
        PhraseForm::Of => first.text == "of" || first.kind != TokenKind::Name,
        PhraseForm::FromTo if first.text == "of" => false,
        PhraseForm::FromTo if first.kind != TokenKind::Name => true,
        PhraseForm::FromTo => {
            let sum = |t: &&Tok| matches!(t.kind, TokenKind::Plus | TokenKind::Minus | TokenKind::Name);
            let point = after.iter().take_while(sum).count();
            after.get(point).is_some_and(|t| t.kind == TokenKind::Arrow)
                && after.get(1).is_some_and(|t| t.kind != TokenKind::Name)
        }
    }
}

/// What a quantity is of.
struct Subject {
    /// In words: `A -> B`.
    needs: String,
    /// With the names of the file.
    pieces: Vec<Piece>,
}

impl Subject {
    /// `None` where the file has nothing that it could be of.
    fn of(scene: &Scene, words: &str, form: PhraseForm) -> Option<Subject> {
        let (from, to) = ends(scene);
        if form == PhraseForm::FromTo {
            let from = match words {
                "rejection" => scene.known.pairs().next()?.0.to_string(),
                _ => from,
            };
            let mut pieces = vec![stop(1, from), text(" -> "), stop(2, to)];
            let (mut needs, reads) =
                (if words == "rejection" { "PAIR -> NODE" } else { "NODE -> NODE" }.to_string(), reads_at(words));
            if let Some(at) = reads {
                needs.push_str(" at FREQUENCY");
                let reference = scene.known.reference().filter(|r| r.starts_with(|c: char| c.is_ascii_digit()));
                pieces.extend([text(" at "), stop(3, reference.map_or_else(|| at.to_string(), |r| r.to_string()))]);
            }
            return Some(Subject { needs, pieces });
        }
        let (what, name) = match words {
            "phase margin" | "gain margin" | "dissipation" => ("AMPLIFIER", part(scene, &["U"])?),
            "power" | "voltage" | "current" => ("PART", part(scene, &["R", "C", "L", "VR"])?),
            "input impedance" | "output impedance" | "natural frequency" | "q" => {
                ("STAGE", scene.known.stages().next()?.name.as_ref()?.to_string())
            }
            "supply current" => ("RAIL", scene.known.rails().next()?.0.to_string()),
            "balance" => ("PAIR", scene.known.pairs().next()?.0.to_string()),
            _ => ("NODE", to),
        };
        let mut pieces = vec![text("of "), stop(1, name)];
        let mut needs = format!("of {what}");
        if words == "noise density" {
            needs.push_str(" at FREQUENCY");
            pieces.extend([text(" at "), stop(2, "1 kHz")]);
        }
        Some(Subject { needs, pieces })
    }
}

/// The frequency that a quantity is usually read at, where one belongs to it.
fn reads_at(words: &str) -> Option<&'static str> {
    matches!(words, "gain" | "phase" | "rejection" | "input noise density" | "delay").then_some("1 kHz")
}

fn part(scene: &Scene, classes: &[&str]) -> Option<String> {
    scene.known.all_parts().into_iter().find(|(_, p, _)| classes.contains(&&*p.class)).map(|(name, ..)| name)
}

/// Where the signal comes from and where it goes: the first source or input, the last stage's output or its pair.
pub(crate) fn ends(scene: &Scene) -> (String, String) {
    let known = &scene.known;
    let source = known.sources().next().map(|(n, _)| n.to_string());
    let input = || known.stages().find_map(|s| s.inputs.first()).map(|n| n.to_string());
    let from = source.or_else(input).unwrap_or_else(|| "in".to_string());
    let last = known.stages().rev().find(|s| !s.outputs.is_empty());
    let to = last.map(|s| {
        let pair = known.pairs().find(|(_, ends)| ends.iter().all(|n| s.outputs.contains(n)));
        pair.map_or_else(|| s.outputs[0].to_string(), |(n, _)| n.to_string())
    });
    (from, to.unwrap_or_else(|| "out".to_string()))
}

/// Behind the words of a quantity of things.
fn of(scene: &Scene, out: &mut Basket, words: &'static str, rest: &[Tok]) {
    let Some((first, behind_of)) = rest.split_first() else {
        if scene.cursor.naming() && scene.cursor.after.first().is_none_or(|t| t.text != "of") {
            out.put(0, CompletionKind::Clause, "of").page("of");
        }
        return;
    };
    if first.text != "of" {
        return;
    }
    if let Some(at) = first_clause(behind_of) {
        return clauses::inside(scene, out, words, &behind_of[at..], names(&behind_of[..at]).next());
    }
    let (_, own) = behind(behind_of, &[TokenKind::Comma]);
    match own {
        [] => things(scene, out, words),
        [all] if all.text == "all" => things(scene, out, words),
        _ => clauses::words(scene, out, words, &[], names(behind_of).next()),
    }
}

fn names<'a, 't>(toks: &'a [Tok<'t>]) -> impl Iterator<Item = &'t str> + use<'a, 't> {
    toks.iter().filter(|t| matches!(t.kind, TokenKind::Name | TokenKind::Part)).map(|t| t.text)
}

/// What a quantity may be of.
fn things(scene: &Scene, out: &mut Basket, words: &str) {
    if !scene.cursor.naming() {
        return;
    }
    match words {
        "phase margin" | "gain margin" | "dissipation" => parts::known(scene, out, 0, &["U"]),
        "power" | "voltage" | "current" => parts::known(scene, out, 0, &["R", "C", "L", "VR", "SW"]),
        "input impedance" | "output impedance" | "natural frequency" | "q" => nodes::stages(scene, out, 0),
        "balance" => nodes::pairs(scene, out, 0),
        "supply current" => nodes::rails(scene, out, 0),
        _ => nodes::places(scene, out),
    }
}

/// Behind the words of a quantity that leads from one place to another.
fn from_to(scene: &Scene, out: &mut Basket, words: &'static str, rest: &[Tok]) {
    if let Some(at) = first_clause(rest) {
        return clauses::inside(scene, out, words, &rest[at..], None);
    }
    let arrow = rest.iter().position(|t| t.kind == TokenKind::Arrow);
    let point = &rest[arrow.map_or(0, |i| i + 1)..];
    let wanted = point.last().is_none_or(|t| matches!(t.kind, TokenKind::Plus | TokenKind::Minus));
    match (wanted, arrow) {
        (true, None) if words == "rejection" && scene.cursor.naming() => nodes::pairs(scene, out, 0),
        (true, _) if scene.cursor.naming() => nodes::places(scene, out),
        (false, Some(_)) => clauses::words(scene, out, words, &[], None),
        _ => {}
    }
}

/// Where the clauses of a quantity begin.
fn first_clause(toks: &[Tok]) -> Option<usize> {
    toks.iter().position(|t| {
        matches!(t.text, "at" | "over" | "when" | "from" | "against") && t.kind == TokenKind::Name
            || t.kind == TokenKind::Weighted
    })
}

/// What a limit of a quantity has to be.
pub(crate) fn want(toks: &[Tok]) -> Want {
    standing(toks).words.map_or(Want::Any, |(words, _)| circuit::resolve::want_of_words(words))
}
