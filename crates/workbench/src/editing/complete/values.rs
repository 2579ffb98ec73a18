//! Figures: values of the preferred series around the one being typed, positions in percent, what a place usually holds.

use quantity::{Series, Unit, Want};

use super::basket::text;
use super::cursor::{self, Amount, Tok};
use super::{Basket, CompletionKind, Scene, units};
use crate::editing::actions::want_of;

/// Decades of parts' values, the likeliest first: the power of ten of 1.00.
fn decades(unit: Unit) -> &'static [i32] {
    match unit {
        Unit::Farad => &[-9, -8, -7, -6, -10, -11, -5, -12, -4, -3],
        Unit::Henry => &[-3, -4, -5, -2, -6, -1],
        _ => &[3, 4, 5, 2, 1, 6, 0, 7],
    }
}

/// The value of a new part of a class.
pub(crate) fn of_part(scene: &Scene, out: &mut Basket, class: &str) {
    let Some((want, unit)) = want_of(class) else { return };
    let typed = scene.cursor.typed;
    if !typed.is_empty() && !typed.starts_with(|c: char| c.is_ascii_digit()) {
        return;
    }
    out.hangs_on_letters();
    if typed.is_empty() {
        return usual(scene, out, unit);
    }
    let lettered = !typed.contains('.') && scene.known.lettered();
    let series = asked(scene).unwrap_or_else(|| scene.known.series(unit));
    let digits: String = typed.chars().filter(char::is_ascii_digit).collect();
    let whole = quantity::read(typed, None, want).ok().map(|(q, _)| q.value).filter(|x| *x > 0.0);
    let mut put = |rank: u32, value: f64| {
        let Some(label) = written(value, unit, lettered) else { return };
        // `33` does not go on from `3.`.
        if typed.ends_with('.') && !label.starts_with(typed) {
            return;
        }
        let off = whole.filter(|typed| (typed / value - 1.0).abs() > 1e-9).map(|typed| deviation(value / typed));
        let detail = match off {
            Some(off) if value / whole.unwrap_or(value) < 3.0 && whole.unwrap_or(value) / value < 3.0 => {
                format!("{off}, {}", series.name())
            }
            _ => series.name().to_string(),
        };
        // The letters of 4k7 are not those of 4k8, which was typed: the list is for this word and no other.
        out.put(rank, CompletionKind::Value, label).detail(detail).filter(typed).page("series");
    };
    // The neighbours of a figure that is one already; a digit or two are its beginning.
    let begun = typed.len() < 3 && typed.bytes().all(|b| b.is_ascii_digit());
    if let Some(value) = whole.filter(|_| !begun) {
        if series.contains(value) {
            put(0, value);
        }
        let (mut below, mut above) = (value, value);
        for step in 0..4 {
            if let Some((b, _)) = series.neighbours(below * (1.0 - 1e-6)) {
                put(10 + 2 * step, b);
                below = b;
            }
            if let Some((_, a)) = series.neighbours(above * (1.0 + 1e-6)) {
                put(10 + 2 * step, a);
                above = a;
            }
        }
    }
    // What begins with the digits typed, decade by decade.
    let fine = series.count() > 24 && digits.len() < 2;
    let members = if fine { Series::E24 } else { series };
    // Behind a letter the figure is whole, and its neighbours go first.
    let first = if whole.is_some() && typed.ends_with(|c: char| c.is_ascii_alphabetic()) { 40 } else { 5 };
    for (rank, power) in decades(unit).iter().enumerate() {
        for member in members.members().filter(|m| begins(*m, &digits)) {
            let Ok(value) = format!("{member}e{}", power - 2).parse::<f64>() else { continue };
            put(first + rank as u32, value);
        }
    }
}

/// Whether a member's digits go on from those that were typed.
fn begins(member: u16, digits: &str) -> bool {
    let digits = digits.trim_end_matches('0');
    let member = member.to_string();
    digits.len() <= 3 && member.starts_with(digits)
}

/// `+6.3 %`
fn deviation(ratio: f64) -> String {
    let percent = (ratio - 1.0) * 100.0;
    let sign = if percent < 0.0 { '−' } else { '+' };
    format!("{sign}{:.1} %", percent.abs())
}

/// The series that the entry asks for.
fn asked(scene: &Scene) -> Option<Series> {
    let c = &scene.cursor;
    c.after.iter().take_while(|t| !matches!(t.text, "--" | "||" | ":")).find_map(|t| Series::read(t.text))
}

/// Values that the file has already, those that it has most often first, and round ones.
fn usual(scene: &Scene, out: &mut Basket, unit: Unit) {
    let lettered = scene.known.lettered();
    let mut times: Vec<(f64, u32)> = Vec::new();
    for value in scene.known.values(unit) {
        match times.iter_mut().find(|(x, _)| *x == value) {
            Some((_, n)) => *n += 1,
            None => times.push((value, 1)),
        }
    }
    times.sort_by_key(|(_, n)| std::cmp::Reverse(*n));
    for (value, n) in times.iter().take(8) {
        let Some(label) = written(*value, unit, lettered) else { continue };
        let times = if *n == 1 { "once in this file".to_string() } else { format!("{n} times in this file") };
        out.put(0, CompletionKind::Value, label).detail(times).page("series");
    }
    for power in decades(unit).iter().take(6) {
        let Ok(value) = format!("1e{power}").parse::<f64>() else { continue };
        let Some(label) = written(value, unit, lettered) else { continue };
        out.put(1, CompletionKind::Value, label).page("series");
    }
}

/// A value as it is written in a design: `4k7` or `4.7k`.
fn written(value: f64, unit: Unit, lettered: bool) -> Option<String> {
    let plain = quantity::canonical(value, unit)?;
    let Some((whole, rest)) = plain.split_once('.').filter(|_| lettered) else { return Some(plain) };
    let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
    match (&rest[digits..], unit) {
        ("", Unit::Ohm) => Some(format!("{whole}R{}", &rest[..digits])),
        (prefix, _) if prefix.len() == 1 => Some(format!("{whole}{prefix}{}", &rest[..digits])),
        _ => Some(plain),
    }
}

/// A share in percent: what was typed, or a few usual ones.
pub(crate) fn percent(scene: &Scene, out: &mut Basket, usual: &[&str]) {
    let typed = scene.cursor.typed;
    if typed.is_empty() {
        for share in usual {
            out.put(0, CompletionKind::Value, format!("{share} %")).page("%");
        }
    } else {
        units::behind_word(scene, out, Want::Percentage);
    }
}

/// What an amount lacks that some tokens begin with: the figure, or behind one that nothing follows its unit. Whether it is whole.
pub(crate) fn amount(scene: &Scene, out: &mut Basket, toks: &[Tok], want: Want) -> bool {
    match cursor::amount(toks) {
        Amount::Missing => figure(scene, out, want),
        Amount::Bare(n) if n == toks.len() => units::behind_figure(scene, out, &toks[n - 1], want, 0),
        Amount::Bare(_) | Amount::Whole(_) => return true,
    }
    false
}

/// A figure of a kind: with what was typed, its units; without, what such a place usually holds.
pub(crate) fn figure(scene: &Scene, out: &mut Basket, want: Want) {
    if !scene.cursor.typed.is_empty() {
        return units::behind_word(scene, out, want);
    }
    let mut usual: Vec<String> = Vec::new();
    if want == Want::Frequency {
        usual.extend(scene.known.reference().map(|r| r.to_string()));
        usual.push("1 kHz".to_string());
        usual.extend(scene.known.band().iter().map(ToString::to_string));
    }
    for figure in usual {
        // What is written as an expression needs its own names.
        if figure.starts_with(|c: char| c.is_ascii_digit()) {
            out.put(20, CompletionKind::Value, figure);
        }
    }
    for name in frequencies(scene, want) {
        let insert = vec![text(format!("({name})"))];
        out.put(21, CompletionKind::Let, format!("({name})")).insert(insert).filter(name);
    }
}

/// `let` names by which frequencies are usually called.
fn frequencies(scene: &Scene, want: Want) -> Vec<String> {
    let frequency = |n: &&notation::Name| want == Want::Frequency && n.starts_with("f_");
    scene.known.lets().filter(frequency).map(ToString::to_string).collect()
}
