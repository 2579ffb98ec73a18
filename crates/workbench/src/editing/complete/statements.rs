//! Entries of `formula` and `require`.

use notation::token::TokenKind;
use quantity::{Unit, Want};

use super::basket::template;
use super::cursor::{Amount, amount};
use super::{Basket, CompletionKind, Scene, expressions, phrases, units, values};

/// `QUANTITY = expression`
pub(crate) fn formula(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    match c.before.iter().position(|t| t.kind == TokenKind::Equal) {
        Some(_) => expressions::operand(scene, out),
        None => phrases::quantity(scene, out, &c.before, " = {9:1}"),
    }
}

/// `QUANTITY [LIMIT]`
pub(crate) fn require(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    let mark = |kind| matches!(kind, TokenKind::Less | TokenKind::Greater | TokenKind::Equal);
    let Some(at) = c.before.iter().position(|t| mark(t.kind)) else {
        return phrases::quantity(scene, out, &c.before, "");
    };
    let want = phrases::want(&c.before[..at]);
    let limit = &c.before[at + 1..];
    let equal = c.before[at].kind == TokenKind::Equal;
    // What is the level of a sine may be told by its peak.
    let sine = c.before.iter().map(|t| t.text).take_while(|t| *t != "of").eq(["level"])
        || c.before.iter().map(|t| t.text).take_while(|t| *t != "of").eq(["clip", "level"]);
    let (by, own) = super::cursor::behind(limit, &[TokenKind::PlusMinus, TokenKind::Range]);
    let want = match by {
        Some(TokenKind::PlusMinus) => Want::Tolerance(unit_of(want)),
        _ => want,
    };
    match amount(own) {
        Amount::Missing => values::figure(scene, out, want),
        Amount::Bare(n) if n == own.len() => {
            units::behind_figure(scene, out, &own[n - 1], want, 0);
            if equal && by.is_none() && matches!(want, Want::Gain | Want::Number) {
                tolerance(scene, out);
            }
        }
        Amount::Bare(_) => {}
        Amount::Whole(n) if n == own.len() && by.is_none() => {
            if sine && own.last().is_some_and(|t| t.text.ends_with('V')) && scene.cursor.after.is_empty() {
                for word in ["peak", "pp"] {
                    out.put(1, CompletionKind::Word, word).page(word);
                }
            }
            if equal {
                tolerance(scene, out);
            }
        }
        Amount::Whole(_) => {}
    }
}

/// How far from a figure a reading may be.
fn tolerance(scene: &Scene, out: &mut Basket) {
    if !scene.cursor.ends() {
        return;
    }
    let decibels = scene.cursor.last().is_some_and(|t| t.text.contains("dB"));
    let by = if decibels { "± {1:1 dB}" } else { "± {1:5 %}" };
    out.put(5, CompletionKind::Word, "±").detail("how far from it").insert(template(by)).filter("+/-").page("±");
}

/// The unit that a limit's tolerance is for.
fn unit_of(want: Want) -> Unit {
    match want {
        Want::Gain | Want::Decibels | Want::Level => Unit::Decibel,
        Want::Frequency => Unit::Hertz,
        Want::Resistance => Unit::Ohm,
        Want::Angle => Unit::Degree,
        Want::Voltage => Unit::Volt,
        _ => Unit::One,
    }
}
