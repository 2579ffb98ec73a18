//! Entries of a data sheet.

use notation::token::TokenKind;
use quantity::Want;

use super::basket::{template, text};
use super::cursor::behind;
use super::{Basket, CompletionKind, Scene, values};

/// Words, then figures.
pub(crate) fn entry(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    let tags = ["typ", "min", "max"];
    let count = c.before.iter().take_while(|t| t.kind == TokenKind::Name && !tags.contains(&t.text)).count();
    let said = c.before[..count].iter().map(|t| t.text).collect::<Vec<_>>().join(" ");
    let key = circuit::datum::keys().find(|(words, _)| *words == said);
    if count == c.before.len() && c.naming() {
        words(scene, out, &said);
    }
    let Some((_, want)) = key else { return };
    let figures = &c.before[count..];
    let (_, own) = behind(figures, &[TokenKind::Comma]);
    let tagged = own.first().filter(|t| tags.contains(&t.text));
    let untagged = figures.first().is_some_and(|t| !tags.contains(&t.text));
    if own.is_empty() && c.naming() && !untagged && !tags.contains(&c.after.first().map_or("", |t| t.text)) {
        for tag in tags.iter().filter(|t| !figures.iter().chain(&c.after).any(|f| f.text == **t)) {
            let figure = c.after.first().is_some_and(|t| t.kind == TokenKind::Figure);
            let insert = if figure { tag.to_string() } else { format!("{tag} {{1:{}}}", example(said.as_str(), want)) };
            out.put(1, CompletionKind::Word, *tag).detail(tag_told(tag)).insert(template(&insert)).page(tag);
        }
    }
    // Beside a figure with its tag no other stands without one.
    if tagged.is_none() && figures.iter().any(|t| tags.contains(&t.text)) {
        return;
    }
    let own = if tagged.is_some() { &own[1..] } else { own };
    let (_, own) = behind(own, &[TokenKind::Range]);
    values::amount(scene, out, own, want);
}

fn tag_told(tag: &str) -> &'static str {
    match tag {
        "typ" => "what the middle of the lot does",
        "min" => "the guaranteed least",
        _ => "the guaranteed most",
    }
}

/// The keys that go on from the words that stand there, those that the sheet has not got yet.
fn words(scene: &Scene, out: &mut Basket, said: &str) {
    let given = scene.known.block().map(|b| &b.words[..]).unwrap_or_default();
    let own = scene.cursor.before.iter().map(|t| t.text).chain([scene.known_word()]).collect::<Vec<_>>().join(" ");
    for (i, (words, want)) in circuit::datum::keys().enumerate() {
        let Some(label) = words.strip_prefix(said).map(str::trim_start).filter(|l| !l.is_empty()) else { continue };
        if !said.is_empty() && !words[said.len()..].starts_with(' ') {
            continue;
        }
        if given.iter().any(|g| **g == *words) && own.trim() != words {
            continue;
        }
        let insert = match scene.cursor.ends() {
            true => template(&format!("{label} {{1:{}}}", example(words, want))),
            false => vec![text(label)],
        };
        out.put(i as u32, CompletionKind::Datum, label).detail(detail(want)).insert(insert).page(words);
    }
}

fn detail(want: Want) -> String {
    want.words().trim_start_matches("a ").trim_start_matches("an ").to_string()
}

/// A figure of the right kind and of an everyday size, to be typed over; from memory.
fn example(words: &str, want: Want) -> &'static str {
    match (words, want) {
        ("open loop gain", _) => "106 dB",
        ("minimum gain", _) => "3",
        ("voltage noise", _) => "5 nV/√Hz",
        ("current noise", _) => "0.5 pA/√Hz",
        ("gain bandwidth", _) => "10 MHz",
        ("input offset", _) => "1 mV",
        ("input bias", _) => "100 nA",
        ("supply range", _) => "8 V .. 36 V",
        ("output current", _) => "25 mA",
        (_, Want::Frequency) => "100 Hz",
        (_, Want::SlewRate) => "5 V/us",
        (_, Want::Voltage) => "1.5 V",
        (_, Want::Current) => "2 mA",
        (_, Want::Resistance) => "75 ohm",
        (_, Want::Capacitance) => "3 pF",
        _ => "1",
    }
}
