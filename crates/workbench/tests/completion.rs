//! What can stand at the cursor (`¦`), and that what is accepted reads.

mod said;

use std::collections::HashMap;

use notation::tree::BlockKind;
use said::bench;
use workbench::{Completion, CompletionKind, Completions, Piece};

/// A text without its cursor, and where that stands.
fn cut(marked: &str) -> (String, usize) {
    let at = marked.find('¦').expect("a cursor");
    (marked.replacen('¦', "", 1), at)
}

fn asked(marked: &str) -> Completions {
    let (text, at) = cut(marked);
    bench(&text).snapshot().completions("a", at)
}

/// The labels at the cursor.
fn labels(marked: &str) -> Vec<String> {
    asked(marked).items.into_iter().map(|i| i.label).collect()
}

/// The labels with what stands beside them.
fn told(marked: &str) -> Vec<String> {
    asked(marked).items.into_iter().map(|i| format!("{}: {}", i.label, i.detail)).collect()
}

fn item(marked: &str, label: &str) -> Completion {
    let items = asked(marked).items;
    let found = items.iter().find(|i| i.label == label);
    found.unwrap_or_else(|| panic!("{label} is not among {:?}", items.iter().map(|i| &i.label).collect::<Vec<_>>())).clone()
}

/// The text with an item accepted and nothing filled in.
fn accepted(text: &str, found: &Completions, item: &Completion) -> String {
    let mut text = text.to_string();
    text.replace_range(found.word.clone(), &item.plain());
    if let Some(blanks) = &item.unindent {
        text.replace_range(blanks.clone(), "");
    }
    text
}

fn has(labels: &[String], wanted: &[&str]) {
    for word in wanted {
        assert!(labels.iter().any(|l| l == word), "{word} is not among {labels:?}");
    }
}

fn lacks(labels: &[String], unwanted: &[&str]) {
    for word in unwanted {
        assert!(!labels.iter().any(|l| l == word), "{word} is among {labels:?}");
    }
}

const WEIR: &str = "\
let
  f_low = 10 Hz

design \"Weir gauge\"
  band       20 Hz .. 20 kHz
  supply     vpos +12 V, vneg -12 V
  tolerance  R 1 %
  source     in 5 mV
  balanced   line: hot, cold
  setting    low: VR1 0 %
  setting    high: VR1 100 %

stage pre: in -> mid
  in  -- R1 10k -- gnd
  U1a tl072: + in, - fb, out mid
  mid -- R2 1k -- VR1 47k log -- fb
  fb  -- R3 4k7 -- C2 22u polar -- gnd

stage post: mid -> hot, cold
  mid -- R4 47 -- hot
  mid -- R5 47 -- cold

";

#[test]
#[ignore = "shows what there is"]
fn look() {
    for at in [
        "  mid -- ¦", "  mid -- R¦", "  mid -- R9 ¦", "  mid -- R9 4k8¦", "  mid -- R9 4¦", "  mid -- C9 22¦", "  U2a ¦", "  U2a tl¦", "  U2a tl072: ¦", "  U2a tl072: + ¦", "¦", "  ¦", "sta¦",
    ] {
        println!("{at}\n    {}", told(&format!("{WEIR}stage next: hot -> out\n{at}")).join("\n    "));
    }
    for at in [
        "  ¦", "  ga¦", "  gain ¦", "  gain in -> ¦", "  gain in -> mid ¦", "  gain in -> mid at 1¦", "  gain in -> mid when ¦", "  gain in -> mid when VR1 ¦", "  gain in -> mid = 12 ¦", "  gain in -> mid = 12 dB ¦", "  noise ¦", "  noise of ¦", "  noise of line ¦", "  phase margin of ¦", "  input impedance of ¦", "  input impedance of pre ¦",
    ] {
        println!("{at}\n    {}", told(&format!("{WEIR}require\n{at}")).join("\n    "));
    }
}

/// The examples, and a design with every kind of line that they lack.
fn designs() -> Vec<(String, String)> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let files = std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().path());
    let stages = files.filter(|p| p.extension().is_some_and(|e| e == "stage"));
    let name = |p: &std::path::Path| p.file_stem().unwrap().to_string_lossy().into_owned();
    let mut all: Vec<_> = stages.map(|p| (name(&p), std::fs::read_to_string(&p).unwrap())).collect();
    all.push(("nest-boxes".into(), NEST_BOXES.into()));
    all.sort();
    all
}

const NEST_BOXES: &str = "\
let
  f_low = 15 Hz
  nests = 2 + 0

design \"Two nest boxes\"
  band        20 Hz .. 15 kHz
  reference   1 kHz
  temperature 12 degC
  supply      vpos +9 V, vneg -9 V
  tolerance   R 1 %, C 5 %, VR 20 %
  matched     R5, R6 0.1 %
  source      chick1 1 mV peak
  source      chick2 1 mV
  balanced    pair: hot, cold
  setting     near: SW1 closed
  setting     far: SW1 open, all VR1 20 %
  trim        VR2: gain chick1 -> hot = 3 dB
  accept      node used once for tp: \"a turret for the oscilloscope\"

datasheet wren_dual: opamp
  gain bandwidth  4 MHz
  open loop gain  typ 110 dB, min 100 dB
  voltage noise   9 nV/√Hz
  supply range    5 V .. 36 V

stage channel: chick1 -> bus
  chick1 -- R1 2k2 external -- in
  in   -- C1 (1 / (2*pi*R2*f_low)) E6 film -- a
  a    -- R2 100k -- gnd
  U1a wren_dual: + a, - fb, out amp
  amp  -- VR1 10k log
       -- fb
  fb   -- R3 1k -- gnd
  fb   -- R11 10k -- SW1 open -- gnd
  amp  -- R4 (nests * 10 kohm) -- bus

use channel as ch2: chick2 -> bus
  R3 1k5
  U1a ideal

stage master: bus -> hot, cold
  U2a wren_dual: + gnd, - bus, out hot
  bus -- R5 10k -- VR2 10k lin -- hot
  hot -- R6 10k -- sum
  sum -- R7 10k || C2 10p c0g -- cold
  U2b wren_dual: + gnd, - sum, out cold, supply vpos vneg
  hot -- R12 1k -- tp
  SW2 at 1: pole hot, 1 s1, 2 s2
  s1 -- R13 1k -- s2

assume within 0.5 dB
  all C1 short above 100 Hz
  C2 open below 15 kHz on gain bus -> cold
  stage master open

formula
  gain hot -> cold = -R7 / R6

require
  gain chick1 -> pair at 1 kHz when near  = 0 dB .. 60 dB
  noise of pair A-weighted                < 1 mV
  gain chick1 - chick2 -> hot + cold from chick1 over 30 Hz .. 3 kHz < 90 dB
  phase margin of U2a, U2b                > 45 deg
";

/// The faults that the reading of texts finds: of their lines, headings and entries, circuit aside. Entries are read once.
#[derive(Default)]
struct Faults(HashMap<(Option<BlockKind>, bool, String), Option<String>>);

impl Faults {
    fn of(&mut self, text: &str) -> Vec<String> {
        let layout = notation::lay_out(text);
        let mut found: Vec<String> = layout.faults.iter().map(|f| f.message.clone()).collect();
        for block in &layout.blocks {
            for (i, chunk) in block.heading.iter().chain(&block.entries).enumerate() {
                let own = &text[chunk.range.clone()];
                let heading = i == 0 && block.heading.is_some();
                let key = (block.kind, heading, own.to_string());
                let read = self.0.entry(key).or_insert_with(|| read(block.kind, heading, own));
                // An entry has one message.
                found.extend(chunk.fault.as_ref().map(|f| f.message.clone()).or(read.clone()).map(|f| format!("{own}: {f}")));
            }
        }
        found
    }
}

fn read(kind: Option<BlockKind>, heading: bool, own: &str) -> Option<String> {
    if heading {
        return notation::read_heading(own).fault.map(|f| f.message);
    }
    let piece = circuit::piece::read(&notation::read_entry(kind.unwrap_or(BlockKind::Stage), own));
    piece.findings.into_iter().find(|(w, _)| *w == circuit::Weight::Error).map(|(_, f)| f.message)
}

/// The words of a text that are no comment.
fn words(text: &str) -> Vec<notation::token::Token> {
    use notation::token::TokenKind as K;
    let silent = |k| matches!(k, K::Blank | K::LineEnd | K::Comment | K::LoneReturn);
    notation::tokens(text).into_iter().filter(|t| !silent(t.kind)).collect()
}

#[test]
fn what_is_accepted_in_the_place_of_any_word_reads_no_worse() {
    let (mut faults, mut all_wrong) = (Faults::default(), Vec::new());
    for (name, text) in designs() {
        let (mut asked, mut wrong) = (0, Vec::new());
        for word in words(&text) {
            let range = word.span.range();
            let mut without = text.clone();
            without.replace_range(range.clone(), "");
            let before = faults.of(&without);
            let bench = bench(&without);
            let found = bench.snapshot().completions("a", range.start);
            assert!(found.items.len() <= 100);
            for item in &found.items {
                asked += 1;
                let after = accepted(&without, &found, item);
                let after = faults.of(&after);
                if after.len() > before.len() {
                    let line = text[..range.start].matches('\n').count() + 1;
                    wrong.push(format!("{name}:{line} `{}` -> `{}`: {:?}", &text[range.clone()], item.plain(), after.iter().find(|f| !before.contains(f))));
                }
            }
        }
        println!("{name}: {asked} accepted");
        all_wrong.extend(wrong);
    }
    assert!(all_wrong.is_empty(), "{}:\n{}", all_wrong.len(), all_wrong[..all_wrong.len().min(60)].join("\n"));
}

#[test]
fn each_name_that_stands_there_is_offered_in_its_own_place() {
    use notation::token::TokenKind as K;
    let mut missed = Vec::new();
    let mut all = 0;
    for (name, text) in designs() {
        for word in words(&text) {
            let range = word.span.range();
            let said = &text[range.clone()];
            if !matches!(word.kind, K::Name | K::Part | K::Series | K::Unit | K::Weighted) {
                continue;
            }
            all += 1;
            let mut without = text.clone();
            without.replace_range(range.clone(), "");
            let bench = bench(&without);
            let found = bench.snapshot().completions("a", range.start);
            let offered = |i: &Completion| i.label == said || i.label.split(' ').next() == Some(said);
            if !found.items.iter().any(offered) {
                let line = text[..range.start].lines().last().unwrap_or_default();
                missed.push(format!("{name}: {line}‸{said}"));
            }
        }
    }
    println!("{} of {all} missed:\n{}", missed.len(), missed.join("\n"));
}

#[test]
fn skeletons_keep_their_promises() {
    let hosts = designs().into_iter().map(|(name, text)| (name, format!("{text}\n"))).chain([("nothing".into(), String::new())]);
    let mut kept = 0;
    for (name, host) in hosts {
        let first = bench(&host);
        let found = first.snapshot().completions("a", host.len());
        let skeletons: Vec<&Completion> = found.items.iter().filter(|i| i.kind == CompletionKind::Skeleton).collect();
        assert!(skeletons.len() >= 16, "{name}");
        let known: Vec<String> = first.snapshot().problems("a").iter().map(|p| p.message.clone()).collect();
        for item in skeletons {
            let text = accepted(&host, &found, item);
            let text = format!("{text}\n");
            let bench = bench(&text);
            let snapshot = bench.snapshot();
            let wrong: Vec<_> = snapshot
                .problems("a")
                .iter()
                .filter(|p| p.severity == workbench::Severity::Error && !known.contains(&p.message))
                .map(|p| p.message.clone())
                .collect();
            assert!(wrong.is_empty(), "{name}, {}: {wrong:?}\n{text}", item.label);
            let about = snapshot.told("a", &item.about).expect("a skeleton has its documentation").plain;
            for promise in about.lines().filter_map(|l| l.strip_suffix('.')?.split_once(" reads ")) {
                let (phrase, wanted) = promise;
                let read = snapshot.read("a", phrase);
                let [workbench::Answer::Reading(reading)] = &read[..] else { panic!("{name}, {}: {phrase}: {read:?}", item.label) };
                let reads = reading.value_text(quantity::Style::default());
                assert!(reads.contains(wanted), "{name}, {}: {phrase} reads {reads}, not {wanted}\n{text}", item.label);
                kept += 1;
            }
        }
    }
    assert!(kept > 100, "{kept}");
}
