//! What may stand behind a part's value.

use notation::token::TokenKind;
use notation::word::ATTRIBUTES;
use quantity::{Series, Unit, Want};

use super::cursor::Tok;
use super::{Basket, CompletionKind, Scene, units};

/// Attributes of a part of a class that has `own` tokens already.
pub(crate) fn attributes(scene: &Scene, out: &mut Basket, class: &str, own: &[Tok]) {
    let c = &scene.cursor;
    let behind =
        c.after.iter().take_while(|t| !matches!(t.kind, TokenKind::Link | TokenKind::Parallel | TokenKind::Colon));
    let there: Vec<&Tok> = own.iter().chain(behind).collect();
    if !c.naming() {
        let unit = match class {
            "C" => Unit::Farad,
            "L" => Unit::Henry,
            _ => Unit::Ohm,
        };
        return match class {
            "U" | "SW" => {}
            _ => figures(scene, out, Want::Attribute(unit), &there),
        };
    }
    let free = |word: &str| there.iter().all(|t| !circuit::attribute::clash(class, word, t.text));
    for word in ATTRIBUTES.iter().filter(|w| circuit::attribute::suits(class, w) && free(w)) {
        out.put(rank(word), CompletionKind::Attribute, *word).page(word);
    }
    if class == "VR" && free("lin") {
        for taper in ["log15", "log20", "revlog15", "revlog20"] {
            out.put(9, CompletionKind::Attribute, taper).detail("percent of the track at half travel").page("log");
        }
    }
    if matches!(class, "R" | "C" | "L" | "VR") {
        if !there.iter().any(|t| t.kind == TokenKind::Percent) {
            for share in usual(class) {
                out.put(6, CompletionKind::Attribute, *share)
                    .detail("how far the value may be off")
                    .page("part tolerance");
            }
        }
        // A figure is not rounded, so only an expression has a use for its series.
        if there.iter().any(|t| t.kind == TokenKind::Close) && !there.iter().any(|t| t.kind == TokenKind::Series) {
            for series in Series::ALL.into_iter().filter(|s| *s != Series::E192) {
                let detail = format!("rounded to {} values a decade", series.count());
                out.put(1, CompletionKind::Attribute, series.name()).detail(detail).page("series");
            }
        }
    }
    let rests = there.iter().any(|t| matches!(t.text, "at" | "open" | "closed"));
    if matches!(class, "VR" | "SW") && !rests {
        let insert = match class {
            "VR" => "at {1:50 %}",
            _ => "at {1:1}",
        };
        let insert = super::basket::template(insert);
        out.put(7, CompletionKind::Clause, "at").detail("where it rests").insert(insert).page("at");
    }
}

fn rank(word: &str) -> u32 {
    match word {
        "polar" | "lin" | "log" | "revlog" | "open" | "closed" | "c0g" | "film" => 0,
        "external" | "unfitted" => 5,
        _ => 3,
    }
}

/// Tolerances that parts of a class are sold with; common practice, no source.
fn usual(class: &str) -> &'static [&'static str] {
    match class {
        "R" => &["1%", "0.1%", "5%"],
        "C" => &["5%", "1%", "10%", "20%"],
        "VR" => &["20%", "10%"],
        _ => &["5%", "10%"],
    }
}

/// A tolerance or a rating, each once.
fn figures(scene: &Scene, out: &mut Basket, want: Want, there: &[&Tok]) {
    units::behind_word(scene, out, want);
    let has = |end: &str| there.iter().skip(2).any(|t| t.text.ends_with(end));
    for unit in ["%", "V", "W", "A"] {
        if has(unit) {
            out.leave_out(|item| item.kind == CompletionKind::Unit && item.label.ends_with(unit));
        }
    }
}
