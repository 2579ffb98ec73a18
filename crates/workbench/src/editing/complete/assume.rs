//! Entries of `assume`.

use notation::token::TokenKind;
use notation::tree::PartName;
use quantity::Want;

use super::basket::template;
use super::cursor::{Tok, behind};
use super::{Basket, CompletionKind, Scene, clauses, nodes, parts, phrases, values};

const CLAUSES: [&str; 5] = ["above", "below", "over", "on", "within"];
const NEGLECTS: [&str; 3] = ["short", "open", "ideal"];

/// `C3, C4 open below 20 kHz`
pub(crate) fn entry(scene: &Scene, out: &mut Basket) {
    let toks = &scene.cursor.before[..];
    match toks.iter().position(|t| NEGLECTS.contains(&t.text)) {
        None => subject(scene, out, toks),
        Some(at) => clause(scene, out, &toks[at + 1..]),
    }
}

fn subject(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    if !scene.cursor.naming() {
        return;
    }
    let (_, own) = behind(toks, &[TokenKind::Comma]);
    match own {
        [] => {
            parts::known(scene, out, 0, &["C", "U", "R", "L"]);
            let stages = scene.known.stages().any(|s| s.name.is_some());
            let named = match &scene.cursor.after[..] {
                [name, neglect, ..] => name.kind == TokenKind::Name && neglect.text == "open",
                [] => true,
                _ => false,
            };
            if stages && named {
                out.put(2, CompletionKind::Word, "stage")
                    .detail("its input ports draw nothing")
                    .page("stage")
                    .insert(template("stage "));
            }
            if scene.known.stages().any(|s| s.pattern.is_some()) {
                out.put(3, CompletionKind::Word, "all")
                    .detail("a part and its copies")
                    .page("all")
                    .insert(template(if scene.cursor.ends() { "all " } else { "all" }));
            }
        }
        [stage] if stage.text == "stage" => nodes::stages(scene, out, 0),
        [all] if all.text == "all" => parts::known(scene, out, 0, &["C", "U", "R", "L"]),
        [.., last] => {
            if scene.cursor.after.first().is_some_and(|t| NEGLECTS.contains(&t.text)) {
                return;
            }
            let class = PartName::parse(last.text).map(|p| p.class.to_string());
            let band = scene.known.band();
            for neglect in fitting(class.as_deref()) {
                // A capacitor is a short high up and open low down, an inductor the other way round.
                let tail = match (class.as_deref(), *neglect, scene.cursor.ends()) {
                    (Some("C"), "short", true) | (Some("L"), "open", true) => {
                        format!("{neglect} above {{1:{}}}", band[0])
                    }
                    (Some("C"), "open", true) | (Some("L"), "short", true) | (Some("U"), _, true) => {
                        format!("{neglect} below {{1:{}}}", band[1])
                    }
                    _ => neglect.to_string(),
                };
                out.put(0, CompletionKind::Word, *neglect).insert(template(&tail)).page(neglect);
            }
        }
    }
}

/// How parts of a class, or a stage, can be neglected.
fn fitting(class: Option<&str>) -> &'static [&'static str] {
    match class {
        None => &["open"],
        Some("U") => &["ideal"],
        Some("R" | "C" | "L" | "VR" | "SW") => &["short", "open"],
        Some(_) => &[],
    }
}

fn clause(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let c = &scene.cursor;
    let Some(at) = toks.iter().rposition(|t| CLAUSES.contains(&t.text)) else {
        return words(scene, out, toks);
    };
    // Behind `on` stands a quantity with clauses of its own.
    if let Some(on) = toks.iter().position(|t| t.text == "on")
        && (on == at || toks[at].text == "over")
    {
        return phrases::quantity(scene, out, &toks[on + 1..], "");
    }
    let own = &toks[at + 1..];
    let whole = match toks[at].text {
        "over" => clauses::range(scene, out, own, Want::Frequency),
        word => {
            let want = if word == "within" { Want::Decibels } else { Want::Frequency };
            values::amount(scene, out, own, want)
        }
    };
    if whole && c.naming() {
        words(scene, out, toks);
    }
}

fn words(scene: &Scene, out: &mut Basket, toks: &[Tok]) {
    let c = &scene.cursor;
    if !c.naming() {
        return;
    }
    let there = |w: &str| toks.iter().chain(&c.after).any(|t| t.text == w);
    let [low, high] = scene.known.band();
    let (from, to) = phrases::ends(scene);
    let ranged = there("over") || there("above") || there("below");
    for (i, word) in CLAUSES.iter().enumerate().filter(|(_, w)| !there(w)) {
        let behind = match *word {
            "above" | "below" | "over" if there("over") => continue,
            "over" if ranged => continue,
            "above" => format!("above {{1:{low}}}"),
            "below" => format!("below {{1:{high}}}"),
            "over" => format!("over {{1:{low}}} .. {{2:{high}}}"),
            "on" if from == to => continue,
            "on" => format!("on gain {{1:{from}}} -> {{2:{to}}}"),
            _ => "within {1:0.1 dB}".to_string(),
        };
        out.put(i as u32, CompletionKind::Clause, *word).insert(template(&behind)).page(word);
    }
}
