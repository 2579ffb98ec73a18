//! Entries of `design`.

use notation::token::TokenKind;
use notation::word::{CLASSES, DESIGN_WORDS};
use quantity::Want;

use super::basket::{template, text};
use super::cursor::{Amount, Tok, amount, behind};
use super::{Basket, CompletionKind, Scene, clauses, nodes, parts, phrases, rules, values};
use crate::editing::family::device;

/// An entry: its first word, or what stands behind it.
pub(crate) fn entry(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    let Some((first, rest)) = c.before.split_first() else { return words(scene, out) };
    match first.text {
        "band" => drop(clauses::range(scene, out, rest, Want::Frequency)),
        "reference" => figure(scene, out, rest, Want::Frequency),
        "temperature" => figure(scene, out, rest, Want::Temperature),
        "supply" => supply(scene, out, rest),
        "source" => source(scene, out, rest),
        "tolerance" => tolerance(scene, out, rest),
        "matched" => matched(scene, out, rest),
        "balanced" => balanced(scene, out, rest),
        "setting" => setting(scene, out, rest),
        "trim" => trim(scene, out, rest),
        "accept" => rules::entry(scene, out, rest),
        _ => {}
    }
}

/// An amount, and nothing behind it.
fn figure(scene: &Scene, out: &mut Basket, toks: &[Tok], want: Want) {
    values::amount(scene, out, toks, want);
}

fn words(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    if !c.naming() {
        return;
    }
    let given: Vec<&str> = scene.known.block().map(|b| b.words.iter().map(|w| &**w).collect()).unwrap_or_default();
    for (i, word) in DESIGN_WORDS.iter().enumerate() {
        let once = matches!(*word, "band" | "reference" | "temperature");
        if once && given.contains(word) && *word != scene.known_word() {
            continue;
        }
        let (detail, behind) = shape(scene, word);
        let insert = if c.ends() { template(&format!("{word} {behind}")) } else { vec![text(*word)] };
        out.put(i as u32, CompletionKind::Word, *word).detail(detail).insert(insert).page(word);
    }
}

/// What an entry is for, and what it holds at first.
fn shape(scene: &Scene, word: &str) -> (&'static str, String) {
    let known = &scene.known;
    let input = known.stages().find_map(|s| s.inputs.first()).map_or("in".to_string(), ToString::to_string);
    let output = known.stages().rev().find_map(|s| s.outputs.first()).map_or("out".to_string(), ToString::to_string);
    let parts = known.all_parts();
    let of = |class: &str| parts.iter().find(|(_, p, _)| *p.class == *class).map(|(n, ..)| n.clone());
    let control = of("VR").unwrap_or_else(|| "VR1".to_string());
    match word {
        "band" => ("where statements hold", "{1:20 Hz} .. {2:20 kHz}".into()),
        "reference" => ("where a reading is taken", "{1:1 kHz}".into()),
        "supply" => ("rails", "{1:vpos} {2:+12 V}, {3:vneg} {4:-12 V}".into()),
        "source" => ("what drives", format!("{{1:{input}}} {{2:100 mV}}")),
        "tolerance" => ("by class of part", "R {1:1 %}, C {2:5 %}".into()),
        "matched" => ("parts that are alike", "{1:R1, R2} {2:0.1 %}".into()),
        "balanced" => ("a pair of nodes", "{1:line}: {2:hot}, {3:cold}".into()),
        "setting" => ("positions with a name", format!("{{1:low}}: {{2:{control}}} {{3:0 %}}")),
        "trim" => (
            "a preset, set in every build",
            format!("{{1:{control}}}: gain {{2:{input}}} -> {{3:{output}}} = {{4:20 dB}}"),
        ),
        "temperature" => ("of resistors and junctions", "{1:25 degC}".into()),
        _ => ("a rule is silent there", "{1:no dc path} for {2:out}: \"{3:the reason}\"".into()),
    }
}

fn supply(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let (comma, own) = behind(toks, &[TokenKind::Comma]);
    match own {
        [] => {
            let usual = if comma.is_some() { ["vneg", "vee"] } else { ["vpos", "vcc"] };
            let taken = scene.known.rails().map(|(n, _)| n.to_string()).collect::<Vec<_>>();
            for name in usual.iter().filter(|n| !taken.iter().any(|t| t == **n)) {
                let volts = if comma.is_some() { "-12 V" } else { "+12 V" };
                let insert = template(&format!("{name} {{1:{volts}}}"));
                out.put(0, CompletionKind::Rail, *name).insert(if scene.cursor.ends() {
                    insert
                } else {
                    vec![text(*name)]
                });
            }
        }
        [name] if name.kind == TokenKind::Name => figure(scene, out, &[], Want::Voltage),
        [_, rest @ ..] => {
            let (by, own) = behind(rest, &[TokenKind::PlusMinus]);
            let want = if by.is_some() { Want::Tolerance(quantity::Unit::Volt) } else { Want::Voltage };
            figure(scene, out, own, want);
        }
    }
}

fn source(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    match toks {
        [] => {
            let driven: Vec<&str> = scene.known.sources().map(|(n, _)| &**n).collect();
            nodes::pairs(scene, out, 1);
            for stage in scene.known.stages() {
                let outputs = |n: &notation::Name| scene.known.stages().any(|s| s.outputs.contains(n));
                for port in stage.inputs.iter().filter(|n| !driven.contains(&&***n) && !outputs(n)) {
                    let detail = format!("input of {}", stage.name.as_deref().unwrap_or_default());
                    out.put(0, CompletionKind::Node, &**port).detail(detail);
                }
            }
            nodes::ports(scene, out, 2);
        }
        [_, rest @ ..] => match amount(rest) {
            Amount::Whole(n) if n == rest.len() => {
                if scene.cursor.after.is_empty()
                    && rest.last().is_some_and(|t| t.text.ends_with('V') || t.text.ends_with('A'))
                {
                    for word in ["peak", "pp"] {
                        out.put(0, CompletionKind::Word, word).page(word);
                    }
                }
            }
            _ => figure(scene, out, rest, Want::Source),
        },
    }
}

fn tolerance(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let (_, own) = behind(toks, &[TokenKind::Comma]);
    match own {
        [] => {
            let given: Vec<&str> = toks.iter().chain(&scene.cursor.after).map(|t| t.text).collect();
            let elsewhere: Vec<&str> = scene.known.blocks.iter().flat_map(|b| &b.tolerances).map(|t| &**t).collect();
            let own_entry = |c: &str| given.contains(&c);
            for (class, what, _) in CLASSES.iter().filter(|c| !matches!(c.0, "U" | "SW")) {
                let typed = *class == scene.known_word();
                if own_entry(class) || elsewhere.contains(class) && !typed {
                    continue;
                }
                let share = if *class == "R" { "1 %" } else { "5 %" };
                let bare = scene.cursor.after.first().is_none_or(|t| t.kind == TokenKind::Comma);
                let insert = if bare { template(&format!("{class} {{1:{share}}}")) } else { vec![text(*class)] };
                out.put(0, CompletionKind::Part, *class).detail(*what).insert(insert).page(class);
            }
        }
        [_] => values::percent(scene, out, &["1", "5", "10", "20", "0.1"]),
        [_, rest @ ..] => figure(scene, out, rest, Want::Percentage),
    }
}

fn matched(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let (_, own) = behind(toks, &[TokenKind::Comma]);
    match own {
        [] => {
            if scene.cursor.naming() {
                parts::known(scene, out, 0, &["R", "C", "L", "VR"]);
            }
        }
        [all] if all.text == "all" => parts::known(scene, out, 0, &["R", "C", "L", "VR"]),
        [.., last] if last.kind == TokenKind::Part => values::percent(scene, out, &["0.1", "0.01", "1"]),
        _ => {
            let from = own.iter().position(|t| t.kind == TokenKind::Figure).unwrap_or(own.len());
            figure(scene, out, &own[from..], Want::Percentage);
        }
    }
}

fn balanced(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let Some(colon) = toks.iter().position(|t| t.kind == TokenKind::Colon) else { return };
    let (_, own) = behind(&toks[colon + 1..], &[TokenKind::Comma]);
    if own.is_empty() {
        nodes::ports(scene, out, 0);
        nodes::others(scene, out, 1);
        let given: Vec<&str> = toks.iter().chain(&scene.cursor.after).map(|t| t.text).collect();
        out.leave_out(|item| given.contains(&&*item.label));
    }
}

fn setting(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let Some(colon) = toks.iter().position(|t| t.kind == TokenKind::Colon) else { return };
    let (_, own) = behind(&toks[colon + 1..], &[TokenKind::Comma]);
    match own {
        [] => clauses::controls(scene, out),
        _ => drop(clauses::position(scene, out, own)),
    }
}

fn trim(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let Some(colon) = toks.iter().position(|t| t.kind == TokenKind::Colon) else {
        if toks.is_empty() {
            for (name, part, stage) in scene.known.all_parts().into_iter().filter(|(_, p, _)| &*p.class == "VR") {
                let shaft = device(&name).to_string();
                out.put(0, CompletionKind::Part, shaft).detail(format!("{} · {stage}", part.value)).page("VR");
            }
        }
        return;
    };
    let phrase = &toks[colon + 1..];
    match phrase.iter().position(|t| t.kind == TokenKind::Equal) {
        Some(at) => figure(scene, out, &phrase[at + 1..], phrases::want(&phrase[..at])),
        None => phrases::quantity(scene, out, phrase, ""),
    }
}
