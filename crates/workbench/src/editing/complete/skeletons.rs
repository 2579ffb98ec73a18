//! Whole stages to begin with, wired to the stage above, with names and numbers that the file has not got yet.
//!
//! What a stage promises is written with it, shown in its documentation, and held against the workbench by a test.

use std::collections::{BTreeMap, HashSet};

use notation::tree::BlockKind;
use notation::word::CLASSES;

use super::basket::template;
use super::{About, Basket, CompletionKind, Scene, types};
use crate::editing::fresh::fresh;

/// A stage to begin with. In its text `@R1` is a part of a new number, `$fb` a node or stage whose name is not taken, `$in` the output
/// of the stage above, `$type` the type that the file uses, `$rail` its first rail, `$from` a clause
/// that names a source where none is written; `{1:…}` is a place to be filled in.
struct Skeleton {
    name: &'static str,
    what: &'static str,
    text: &'static str,
    /// Phrases, each with what it reads.
    promises: &'static [(&'static str, &'static str)],
}

/// The values are common practice, no source; what they come to follows from the circuit.
const SKELETONS: &[Skeleton] = &[
    Skeleton {
        name: "non-inverting amplifier",
        what: "×11",
        text: "\
stage {1:$amp}: {2:$in} -> {3:$out}
  {2} -- @R1 {4:100k} -- gnd
  @U1a {5:$type}: + {2}, - $fb, out {3}
  {3} -- @R2 {6:10k} -- $fb
  $fb -- @R3 {7:1k} -- gnd",
        promises: &[("gain {2} -> {3}", "20.8 dB")],
    },
    Skeleton {
        name: "inverting amplifier",
        what: "×−10",
        text: "\
stage {1:$inverter}: {2:$in} -> {3:$out}
  @U1a {4:$type}: + gnd, - $sum, out {3}
  {2} -- @R1 {5:10k} -- $sum
  {3} -- @R2 {6:100k} -- $sum",
        promises: &[("gain {2} -> {3}", "20.0 dB")],
    },
    Skeleton {
        name: "follower",
        what: "×1, drives what its source cannot",
        text: "\
stage {1:$buffer}: {2:$in} -> {3:$out}
  {2} -- @R1 {4:100k} -- gnd
  @U1a {5:$type}: + {2}, - {3}, out {3}",
        promises: &[("gain {2} -> {3}", "0.0 dB")],
    },
    Skeleton {
        name: "Sallen-Key low-pass",
        what: "second order, Butterworth, 10.2 kHz",
        text: "\
stage {1:$lowpass}: {2:$in} -> {3:$out}
  {2} -- @R1 {4:10k} -- $x -- @R2 {5:10k} -- $y
  $x -- @C1 {6:2n2} c0g -- {3}
  $y -- @C2 {7:1n1} c0g -- gnd
  @U1a {8:$type}: + $y, - {3}, out {3}",
        promises: &[("gain {2} -> {3} at 10.2 kHz", "−3.0 dB"), ("gain {2} -> {3} at 100 Hz", "0.0 dB")],
    },
    Skeleton {
        name: "Sallen-Key high-pass",
        what: "second order, Butterworth, 10.2 Hz",
        text: "\
stage {1:$highpass}: {2:$in} -> {3:$out}
  {2} -- @C1 {4:100n} film -- $x -- @C2 {5:100n} film -- $y
  $x -- @R1 {6:110k} -- {3}
  $y -- @R2 {7:220k} -- gnd
  @U1a {8:$type}: + $y, - {3}, out {3}",
        promises: &[("gain {2} -> {3} at 10.2 Hz", "−3.0 dB"), ("gain {2} -> {3} at 1 kHz", "0.0 dB")],
    },
    Skeleton {
        name: "multiple-feedback low-pass",
        what: "second order, ×−1, 10.1 kHz",
        text: "\
stage {1:$lowpass}: {2:$in} -> {3:$out}
  {2} -- @R1 {4:11k} -- $x
  {3} -- @R2 {5:11k} -- $x
  $x -- @C1 {6:3n9} c0g -- gnd
  $x -- @R3 {7:5k6} -- $sum
  $sum -- @C2 {8:1n} c0g -- {3}
  @U1a {9:$type}: + gnd, - $sum, out {3}",
        promises: &[("gain {2} -> {3} at 10.1 kHz", "−3.0 dB"), ("gain {2} -> {3} at 100 Hz", "0.0 dB")],
    },
    Skeleton {
        name: "difference amplifier",
        what: "×10 between two nodes",
        text: "\
stage {1:$difference}: {2:$plus}, {3:$minus} -> {4:$out}
  {2} -- @R1 {5:10k} 0.1% -- $dp
  $dp -- @R2 {6:100k} 0.1% -- gnd
  {3} -- @R3 {5} 0.1% -- $dm
  $dm -- @R4 {6} 0.1% -- {4}
  @U1a {7:$type}: + $dp, - $dm, out {4}",
        promises: &[("gain {2} - {3} -> {4}$from", "20.0 dB")],
    },
    Skeleton {
        name: "instrumentation amplifier",
        what: "three amplifiers, one resistor sets ×10.1",
        text: "\
stage {1:$instrument}: {2:$plus}, {3:$minus} -> {4:$out}
  {2} -- @R1 {5:1M} -- gnd
  {3} -- @R2 {5} -- gnd
  @U1a {6:$type}: + {2}, - $ga, out $pa
  @U1b {6}: + {3}, - $gb, out $pb
  $pa -- @R3 {7:10k} -- $ga
  $ga -- @R4 {8:2k2} -- $gb
  $gb -- @R5 {7} -- $pb
  $pa -- @R6 {9:10k} 0.1% -- $dp
  $dp -- @R7 {9} 0.1% -- gnd
  $pb -- @R8 {9} 0.1% -- $dm
  $dm -- @R9 {9} 0.1% -- {4}
  @U2a {6}: + $dp, - $dm, out {4}",
        promises: &[("gain {2} - {3} -> {4}$from", "20.1 dB")],
    },
    Skeleton {
        name: "summing mixer",
        what: "three inputs, ×−1 each",
        text: "\
stage {1:$mixer}: {2:$in1}, {3:$in2}, {4:$in3} -> {5:$mix}
  {2} -- @R1 {6:10k} -- $sum
  {3} -- @R2 {6} -- $sum
  {4} -- @R3 {6} -- $sum
  {5} -- @R4 {7:10k} -- $sum
  @U1a {8:$type}: + gnd, - $sum, out {5}",
        promises: &[("gain {2} -> {5}", "0.0 dB")],
    },
    Skeleton {
        name: "balanced output",
        what: "both polarities behind 47 Ω, ×2 between them",
        text: "\
stage {1:$driver}: {2:$in} -> {3:$hot}, {4:$cold}
  {2} -- @R1 {5:100k} -- gnd
  @U1a {6:$type}: + {2}, - $pos, out $pos
  @U1b {6}: + gnd, - $sum, out $neg
  $pos -- @R2 {7:10k} -- $sum
  $neg -- @R3 {7} -- $sum
  $pos -- @R4 {8:47} -- {3}
  $neg -- @R5 {8} -- {4}",
        promises: &[("gain {2} -> {3} - {4}", "6.0 dB")],
    },
    Skeleton {
        name: "balanced receiver",
        what: "×1 from a pair",
        text: "\
stage {1:$receiver}: {2:$hot}, {3:$cold} -> {4:$out}
  {2} -- @R1 {5:10k} 0.1% -- $rp
  $rp -- @R2 {5} 0.1% -- gnd
  {3} -- @R3 {5} 0.1% -- $rm
  $rm -- @R4 {5} 0.1% -- {4}
  @U1a {6:$type}: + $rp, - $rm, out {4}",
        promises: &[("gain {2} - {3} -> {4}$from", "0.0 dB")],
    },
    Skeleton {
        name: "half-rail supply",
        what: "half of a rail, its ripple filtered and its node buffered",
        text: "\
stage {1:$halfrail}: {2:$rail} -> {3:$half}
  {2} -- @R1 {4:10k} -- $mid
  $mid -- @R2 {4} -- gnd
  $mid -- @C1 {5:100u} polar -- gnd
  @U1a {6:$type}: + $mid, - {3}, out {3}",
        promises: &[("gain {2} -> {3} at 100 Hz", "−56.0 dB")],
    },
    Skeleton {
        name: "RC coupling",
        what: "blocks what stands, 1.59 Hz",
        text: "\
stage {1:$coupling}: {2:$in} -> {3:$out}
  {2} -- @C1 {4:1u} film -- {3}
  {3} -- @R1 {5:100k} -- gnd",
        promises: &[("gain {2} -> {3} at 1.59 Hz", "−3.0 dB")],
    },
    Skeleton {
        name: "RC low-pass",
        what: "first order, 15.9 kHz",
        text: "\
stage {1:$lowpass}: {2:$in} -> {3:$out}
  {2} -- @R1 {4:1k} -- {3}
  {3} -- @C1 {5:10n} c0g -- gnd",
        promises: &[("gain {2} -> {3} at 15.9 kHz", "−3.0 dB")],
    },
    Skeleton {
        name: "tone shelf",
        what: "bass up by 10.1 dB, ×−1 above",
        text: "\
stage {1:$shelf}: {2:$in} -> {3:$out}
  {2} -- @R1 {4:10k} -- $sum
  {3} -- @R2 {5:22k} || @C1 {6:33n} film -- $t -- @R3 {7:10k} -- $sum
  @U1a {8:$type}: + gnd, - $sum, out {3}",
        promises: &[("gain {2} -> {3} at 1 Hz", "10.1 dB"), ("gain {2} -> {3} at 10 kHz", "0.0 dB")],
    },
    Skeleton {
        name: "volume control",
        what: "a track from full down to nothing",
        text: "\
stage {1:$volume}: {2:$in} -> {3:$out}
  @VR1 {4:10k} log: cw {2}, wiper {3}, ccw gnd",
        promises: &[("gain {2} -> {3} when @VR1 100 %", "0.0 dB"), ("gain {2} -> {3} when @VR1 50 %", "−20.0 dB")],
    },
];

/// Puts all in.
pub(crate) fn skeletons(scene: &Scene, out: &mut Basket, rank: u32) {
    let file = Found {
        taken: scene.known.taken(),
        free: CLASSES.iter().map(|(class, ..)| (*class, scene.known.free(class))).collect(),
        input: input(scene),
        kind: types::usual(scene),
        rail: scene.known.rails().next().map(|(n, _)| n.to_string()),
        sourced: scene.known.sources().next().is_some(),
    };
    for (i, skeleton) in SKELETONS.iter().enumerate() {
        let mut names = Names { file: &file, given: BTreeMap::new() };
        let text = names.filled(skeleton.text);
        let insert = template(&text);
        let plain: String = insert.iter().map(super::Piece::plain).collect();
        let item =
            out.put(rank + i as u32, CompletionKind::Skeleton, skeleton.name).detail(skeleton.what).insert(insert);
        let mut about = format!("```stage\n{plain}\n```\n");
        for (phrase, reads) in skeleton.promises {
            let phrase = first_of(&text, &names.filled(phrase));
            about.push_str(&format!("\n`{phrase}` reads {reads}.\n"));
        }
        item.about = About::Said(about);
    }
}

/// A phrase behind the stops of a text, so that its own are what they are there.
fn first_of(text: &str, phrase: &str) -> String {
    let mut phrase = phrase.to_string();
    for number in 1..=9 {
        let begin = format!("{{{number}:");
        let Some(at) = text.find(&begin) else { continue };
        let word = text[at + begin.len()..].split('}').next().unwrap_or_default();
        phrase = phrase.replace(&format!("{{{number}}}"), word);
    }
    phrase
}

/// What the file has, looked up once for all skeletons.
struct Found<'s> {
    taken: HashSet<&'s str>,
    free: Vec<(&'static str, u32)>,
    input: String,
    kind: String,
    rail: Option<String>,
    sourced: bool,
}

/// The names that a skeleton is given.
struct Names<'s> {
    file: &'s Found<'s>,
    given: BTreeMap<String, String>,
}

impl Names<'_> {
    /// A text with its names filled in.
    fn filled(&mut self, text: &str) -> String {
        let mut out = String::with_capacity(text.len() * 2);
        let mut rest = text;
        while let Some(at) = rest.find(['@', '$']) {
            let (mark, word) = (&rest[at..at + 1], &rest[at + 1..]);
            let end = word.find(|c: char| !c.is_ascii_alphanumeric()).unwrap_or(word.len());
            out.push_str(&rest[..at]);
            out.push_str(&self.name(mark, &word[..end]));
            rest = &word[end..];
        }
        out.push_str(rest);
        out
    }

    fn name(&mut self, mark: &str, word: &str) -> String {
        let key = format!("{mark}{word}");
        if let Some(known) = self.given.get(&key) {
            return known.clone();
        }
        let name = match (mark, word) {
            ("@", _) => {
                let class: String = word.chars().take_while(char::is_ascii_uppercase).collect();
                let digits: String = word[class.len()..].chars().take_while(char::is_ascii_digit).collect();
                let unit = &word[class.len() + digits.len()..];
                let free = self.file.free.iter().find(|(c, _)| *c == class).map_or(1, |(_, n)| *n);
                let number = free - 1 + digits.parse::<u32>().unwrap_or(1);
                format!("{class}{number}{unit}")
            }
            (_, "type") => self.file.kind.clone(),
            (_, "rail") => self.file.rail.clone().unwrap_or_else(|| self.unused("vcc")),
            (_, "in") => self.file.input.clone(),
            // Without a written source each open input has one of its own, and one of them has to be named.
            (_, "from") if !self.file.sourced => " from {2}".to_string(),
            (_, "from") => String::new(),
            _ => self.unused(word),
        };
        self.given.insert(key, name.clone());
        name
    }

    fn unused(&self, word: &str) -> String {
        fresh(word, |name| self.file.taken.contains(name) || self.given.values().any(|given| given == name))
    }
}

/// The output of the stage above, if it has one; else a name for an input that is not taken.
pub(crate) fn input(scene: &Scene) -> String {
    let above = scene.known.blocks.iter().take(scene.cursor.block.map_or(0, |b| b + 1)).rev();
    let stage = |k: &Option<BlockKind>| matches!(k, Some(BlockKind::Stage | BlockKind::Use) | None);
    let last = above.into_iter().find(|b| stage(&b.kind));
    match last.map(|b| &b.outputs[..]) {
        Some([output]) => output.to_string(),
        _ => unused(scene, "in"),
    }
}

/// A name that the file has not got yet: the word itself, or with a number behind it.
pub(crate) fn unused(scene: &Scene, word: &str) -> String {
    let taken = scene.known.taken();
    fresh(word, |name| taken.contains(name))
}
