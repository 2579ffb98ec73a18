//! What can stand at the cursor (`¦`), and that what is accepted reads.

mod said;

use std::collections::HashMap;

use notation::tree::BlockKind;
use said::bench;
use workbench::{Completion, CompletionKind, Completions};

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
    found
        .unwrap_or_else(|| panic!("{label} is not among {:?}", items.iter().map(|i| &i.label).collect::<Vec<_>>()))
        .clone()
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
                found.extend(
                    chunk.fault.as_ref().map(|f| f.message.clone()).or(read.clone()).map(|f| format!("{own}: {f}")),
                );
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
        // One for all of the words: what stands in the other lines is read once.
        let mut bench = bench(&text);
        // The design with every kind of line is gone through whole, of the others every third word.
        let step = if name == "nest-boxes" { 1 } else { 3 };
        for word in words(&text).into_iter().step_by(step) {
            let range = word.span.range();
            let mut without = text.clone();
            without.replace_range(range.clone(), "");
            let before = faults.of(&without);
            bench.set_text("a", without.clone());
            let found = bench.snapshot().completions("a", range.start);
            assert!(found.items.len() <= 100);
            for item in &found.items {
                asked += 1;
                let after = accepted(&without, &found, item);
                let after = faults.of(&after);
                if after.len() > before.len() {
                    let line = text[..range.start].matches('\n').count() + 1;
                    wrong.push(format!(
                        "{name}:{line} `{}` -> `{}`: {:?}",
                        &text[range.clone()],
                        item.plain(),
                        after.iter().find(|f| !before.contains(f))
                    ));
                }
            }
        }
        assert!(asked > 500, "{name}: {asked}");
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
        let mut bench = bench(&text);
        for word in words(&text) {
            let range = word.span.range();
            let said = &text[range.clone()];
            if !matches!(word.kind, K::Name | K::Part | K::Series | K::Unit | K::Weighted) {
                continue;
            }
            all += 1;
            let mut without = text.clone();
            without.replace_range(range.clone(), "");
            bench.set_text("a", without);
            let found = bench.snapshot().completions("a", range.start);
            let offered = |i: &Completion| i.label == said || i.label.split(' ').next() == Some(said);
            if !found.items.iter().any(offered) {
                let line = text[..range.start].lines().last().unwrap_or_default();
                missed.push(format!("{name}: {line}‸{said}"));
            }
        }
    }
    // What is left are names that are given there for the first time, and places whose marks do not stand by themselves (`2**R1`).
    let given = ["stage ", "balanced ", "setting ", "datasheet ", " as "];
    let new = |m: &&String| given.iter().any(|w| m.contains(w)) || m.contains("*‸");
    let others: Vec<&String> = missed.iter().filter(|m| !new(m)).collect();
    // And names that stand nowhere else, parts whose number is not the next one, and the word `out` in front of a node of that name.
    let known = [
        "belfry-microphone:   supply     ‸p48",
        "belfry-microphone:   ‸U1a",
        "belfry-microphone:   ‸U1b",
        "belfry-microphone:   U2a lownoise_fast_dual: + dp, - dm, ‸out",
        "belfry-microphone:   ‸C4",
        "belfry-microphone:   ‸U1a",
        "bird-box-low-pass:   U1b rail_dual: + y2, - out, ‸out",
        "carillon-tone:   U1b audio_dual: + gnd, - sum, ‸out",
        "nest-boxes:   ‸f_low",
        "nest-boxes:   ‸nests",
        "nest-boxes:   fb   -- ‸R11",
        "nest-boxes:   hot -- ‸R12",
        "nest-boxes:   hot -- R12 1k -- ‸tp",
        "river-listener:   ‸C3",
        "river-listener:   ‸U1a",
        "school-laboratory:   ‸R1",
    ];
    assert_eq!(others, known);
    assert!(all > 1000 && missed.len() < all / 10, "{} of {all}: {missed:#?}", missed.len());
}

#[test]
fn skeletons_keep_their_promises() {
    // Of the examples one that begins with a source and one that begins with a pair; all would take their time.
    let some = |(name, _): &(String, String)| matches!(&**name, "nest-boxes" | "carillon-tone" | "bird-box-low-pass");
    let light = |text: &str| text.split("\nrequire\n").next().unwrap_or_default().to_string();
    let hosts = designs().into_iter().filter(some).map(|(name, text)| (name, format!("{}\n\n", light(&text))));
    let hosts = hosts.chain([("nothing".into(), String::new()), ("a river".into(), WEIR.into())]);
    let mut kept = 0;
    for (name, host) in hosts {
        let first = bench(&host);
        let found = first.snapshot().completions("a", host.len());
        let skeletons: Vec<&Completion> = found.items.iter().filter(|i| i.kind == CompletionKind::Skeleton).collect();
        assert!(skeletons.len() >= 16, "{name}");
        for item in skeletons {
            let text = accepted(&host, &found, item);
            let text = format!("{text}\n");
            let bench = bench(&text);
            let snapshot = bench.snapshot();
            let wrong: Vec<_> = snapshot
                .problems("a")
                .iter()
                .filter(|p| p.severity == workbench::Severity::Error && p.range.start >= host.len())
                .map(|p| p.message.clone())
                .collect();
            assert!(wrong.is_empty(), "{name}, {}: {wrong:?}\n{text}", item.label);
            let about = snapshot.told("a", &item.about).expect("a skeleton has its documentation").plain;
            for promise in about.lines().filter_map(|l| l.strip_suffix('.')?.split_once(" reads ")) {
                let (phrase, wanted) = promise;
                let read = snapshot.read("a", phrase);
                let [workbench::Answer::Reading(reading)] = &read[..] else {
                    panic!("{name}, {}: {phrase}: {read:?}", item.label)
                };
                let reads = reading.value_text(quantity::Style::default());
                assert_eq!(reads, wanted, "{name}, {}: {phrase}\n{text}", item.label);
                kept += 1;
            }
        }
    }
    assert!(kept > 80, "{kept}");
}

/// What stands behind `require`, `formula` … on its own line.
fn below(heading: &str, line: &str) -> String {
    format!("{WEIR}{heading}\n{line}")
}

fn next(line: &str) -> String {
    below("stage next: hot -> out", line)
}

#[test]
fn a_path_goes_on_with_new_parts_and_near_nodes() {
    let behind_node = labels(&next("  hot -- ¦"));
    assert_eq!(behind_node, ["R6", "VR2", "C3", "L1", "SW1", "C1"]);
    let behind_part = labels(&next("  hot -- R6 1k -- ¦"));
    assert_eq!(behind_part[..5], ["hot", "out", "gnd", "vpos", "vneg"]);
    has(&behind_part, &["mid", "fb", "R7"]);
    let beside_node = labels(&next("  hot -- R6 1k -- ¦ -- out"));
    lacks(&beside_node, &["gnd", "hot"]);
    let parallel = labels(&next("  hot -- R6 1k || ¦"));
    lacks(&parallel, &["gnd"]);
    let begins = labels(&next("  ¦"));
    assert_eq!(begins[..2], ["hot", "out"]);
    has(&begins, &["U1b", "U2a", "VR2", "SW1", "require"]);
    assert_eq!(item(&next("  hot -- ¦"), "R6").plain(), "R6 10k");
    // A gap that a part left is offered behind the next number.
    let gap = labels("stage a: in -> out\n  in -- R1 1k -- R3 1k -- ¦");
    assert_eq!(gap.iter().filter(|l| l.starts_with('R')).collect::<Vec<_>>(), ["R4", "R2"]);
}

#[test]
fn the_word_being_typed_is_no_name_of_its_own() {
    lacks(&labels(&next("  dri¦")), &["dri"]);
    let twice = next("  hot -- R6 1k -- dri\n  dri¦");
    has(&labels(&twice), &["dri"]);
    assert_eq!(labels(&next("  hot -- R6¦"))[0], "R6");
}

#[test]
fn values_are_those_of_the_series_with_their_deviation() {
    let near = told(&next("  hot -- R6 4k8¦ -- out"));
    assert_eq!(near[..2], ["4k7: −2.1 %, E24", "5k1: +6.2 %, E24"]);
    // E96 is asked for by the line itself.
    has(&told(&next("  hot -- R6 4k8¦ E96 -- out")), &["4k75: −1.0 %, E96", "4k87: +1.5 %, E96"]);
    let begun = labels(&next("  hot -- C9 22¦ -- out"));
    has(&begun, &["22n", "2n2", "220p", "22u"]);
    let found = asked(&next("  hot -- R6 4¦ -- out"));
    assert!(found.incomplete && found.items.iter().all(|i| i.filter.as_deref() == Some("4")), "{found:?}");
    // As the file writes them, and with a point where a point was typed.
    has(&labels("stage a: in -> out\n  in -- R1 4.7k -- out\n  in -- R2 6.8k -- out\n  out -- R3 3¦"), &["3.3k"]);
    let pointed = labels(&next("  hot -- R6 2.¦ -- out"));
    has(&pointed, &["2.2k", "2.2M", "2.2"]);
    assert!(pointed.iter().all(|l| l.starts_with("2.")), "{pointed:?}");
    // Four values of E6 and finer: the coarsest that holds them all.
    let e6 = "stage a: in -> out\n  in -- C1 1n -- C2 3n3 -- C3 6n8 -- C4 15n -- out\n  out -- C5 2¦";
    assert!(told(e6).iter().all(|t| t.ends_with(": E6")), "{:?}", told(e6));
    assert_eq!(told(&next("  hot -- R6 ¦ -- out"))[0], "47: 2 times in this file");
}

#[test]
fn units_stand_behind_a_number_by_what_the_place_wants() {
    assert_eq!(labels(&below("require", "  gain in -> hot at 1¦")), ["1 Hz", "1 kHz", "1 MHz"]);
    assert_eq!(labels(&below("require", "  gain in -> hot at 1k¦")), ["1 kHz"]);
    assert_eq!(labels(&below("require", "  gain in -> hot at 20 ¦")), ["Hz", "kHz", "MHz"]);
    assert_eq!(labels(&below("require", "  input impedance of pre > 5 M¦"))[..3], ["kohm", "Mohm", "ohm"]);
    assert_eq!(item(&below("require", "  input impedance of pre > 5 kΩ¦"), "kohm").filter.as_deref(), Some("kΩ"));
    assert_eq!(
        item(&below("require", "  noise density of hot at 1 kHz < 5 ¦"), "nV/√Hz").filter.as_deref(),
        Some("nV/rtHz")
    );
    assert_eq!(labels(&below("require", "  noise of hot < -80 ¦"))[0], "dBu");
    assert_eq!(labels(&below("design", "  temperature 25¦")), ["25 degC"]);
    has(&labels(&below("datasheet x: opamp", "  slew rate 5¦")), &["5 V/us"]);
    has(&labels(&next("  hot -- R6 1k 5¦ -- out")), &["5%", "5V", "5W"]);
    lacks(&labels(&next("  hot -- R6 1k 1% 5¦ -- out")), &["5%"]);
}

#[test]
fn types_come_with_their_key_data_and_their_sheet() {
    let own = "datasheet wren: opamp\n  gain bandwidth 4 MHz\n  voltage noise 9 nV/√Hz\n\n";
    let marked = format!("{own}{}", next("  U2a ¦"));
    let types = told(&marked);
    assert_eq!(types[0], "tl072: 3 MHz, 18 nV/√Hz, 7 … 36 V", "the file's own type stands first");
    assert_eq!(types[1], "wren: this file · 4 MHz, 9 nV/√Hz");
    has(&labels(&marked), &["ideal", "ne5532", "4558"]);
    assert_eq!(item(&marked, "ne5532").plain(), "ne5532: + hot, - fb, out out");
    let (text, _) = cut(&marked);
    let snapshot = bench(&text).snapshot();
    let sheet = snapshot.told("a", &item(&marked, "ne5532").about).expect("a sheet");
    assert!(
        sheet.markdown.contains("datasheet ne5532: opamp\n  gain bandwidth") && sheet.plain.contains("voltage noise")
    );
    let sheet = snapshot.told("a", &item(&marked, "wren").about).expect("a sheet");
    assert!(sheet.plain.starts_with("datasheet wren: opamp\n  gain bandwidth 4 MHz"), "{sheet:?}");
}

#[test]
fn terminals_are_those_that_a_device_lacks() {
    assert_eq!(labels(&next("  U2a tl072: ¦")), ["+", "-", "out", "supply"]);
    assert_eq!(labels(&next("  U2a tl072: + hot, ¦")), ["-", "out", "supply"]);
    assert_eq!(labels(&next("  U2a tl072: + hot, ¦, out out")), ["-", "supply"]);
    assert_eq!(labels(&next("  U2a tl072: supply ¦"))[..3], ["vpos", "vneg", "gnd"]);
    assert_eq!(labels(&next("  VR2 10k lin: cw hot, ¦")), ["wiper", "ccw"]);
    assert_eq!(labels(&next("  SW1 at 1: pole hot, 1 a, ¦")), ["2"]);
    assert_eq!(labels(&next("  U2a tl072: + ¦"))[..3], ["hot", "out", "gnd"]);
}

#[test]
fn quantities_say_what_they_need_and_are_whole_as_they_come() {
    let quantities = told(&below("require", "  ¦"));
    assert_eq!(quantities[0], "gain: NODE -> NODE at FREQUENCY");
    has(
        &quantities,
        &["phase margin: of AMPLIFIER", "balance: of PAIR", "input impedance: of STAGE", "power: of PART"],
    );
    assert_eq!(item(&below("require", "  ¦"), "gain").plain(), "gain in -> line at 1 kHz");
    assert_eq!(item(&below("require", "  ¦"), "noise").plain(), "noise of line");
    assert_eq!(labels(&below("require", "  phase ¦"))[0], "margin");
    has(&labels(&below("require", "  gain ¦")), &["margin", "line", "in", "mid"]);
    assert_eq!(labels(&below("require", "  noise ¦")), ["density", "of"]);
    assert_eq!(labels(&below("require", "  phase margin of ¦")), ["U1a"]);
    assert_eq!(labels(&below("require", "  input impedance of ¦")), ["pre", "post"]);
    assert_eq!(labels(&below("require", "  balance of ¦")), ["line"]);
    // Without a pair there is nothing that a balance could be of.
    lacks(
        &labels("stage a: in -> out\n  in -- R1 1k -- out\n\nrequire\n  ¦"),
        &["balance", "rejection", "phase margin"],
    );
    // What follows already has to fit.
    assert_eq!(labels(&below("require", "  ¦ impedance of pre > 1 kohm")), ["input", "output"]);
}

#[test]
fn clauses_are_those_that_the_quantity_takes() {
    assert_eq!(labels(&below("require", "  gain in -> mid ¦")), ["at", "over", "when", "from"]);
    assert_eq!(labels(&below("require", "  gain in -> mid at 1 kHz ¦")), ["when", "from"]);
    assert_eq!(labels(&below("require", "  noise of line ¦")), ["over", "when", "A-weighted", "468-weighted"]);
    assert_eq!(labels(&below("require", "  low corner in -> line ¦")), ["when", "from", "against"]);
    assert_eq!(labels(&below("require", "  gain in -> mid when ¦")), ["low", "high", "VR1"]);
    assert_eq!(labels(&below("require", "  gain in -> mid when low, ¦")), ["VR1", "high"]);
    assert_eq!(labels(&below("require", "  gain in -> mid when VR1 ¦")), ["0 %", "50 %", "100 %"]);
    assert_eq!(item(&below("require", "  gain in -> mid ¦"), "over").plain(), "over 20 Hz .. 20 kHz");
    let switched =
        "stage a: in -> out\n  in -- SW1 open -- out\n  SW2: pole in, 1 a, 2 b\n\nrequire\n  gain in -> out when ";
    assert_eq!(labels(&format!("{switched}SW1 ¦")), ["open", "closed"]);
    assert_eq!(labels(&format!("{switched}SW2 ¦")), ["1", "2"]);
}

#[test]
fn algebra_has_the_names_of_the_file() {
    let names = labels(&below("formula", "  gain in -> mid = 1 + ¦"));
    assert_eq!(names[0], "f_low");
    has(&names, &["R2", "VR1", "C2", "pi", "s", "sqrt", "Z", "cw"]);
    assert_eq!(labels(&below("formula", "  gain in -> mid = Z(¦")), ["R4", "R5", "R1", "R2", "VR1", "R3", "C2"]);
    assert_eq!(labels(&below("formula", "  gain in -> mid = cw(¦")), ["VR1"]);
    assert_eq!(labels(&below("formula", "  gain in -> mid = R2 ¦")), [""; 0]);
    lacks(&labels(&next("  hot -- R6 (¦")), &["s", "f"]);
}

#[test]
fn design_entries_go_on_by_their_first_word() {
    let entries =
        labels(&format!("design\n  band 20 Hz .. 20 kHz\n  ¦\n\n{}", &WEIR[WEIR.find("stage pre").unwrap()..]));
    lacks(&entries, &["band"]);
    has(&entries, &["supply", "source", "setting", "accept", "trim"]);
    let design = |line: &str| WEIR.replace("  tolerance  R 1 %\n", &format!("  tolerance  R 1 %\n{line}\n"));
    assert_eq!(labels(&design("  tolerance ¦")), ["VR", "C", "L"]);
    has(&labels(&design("  setting mid: ¦")), &["VR1"]);
    assert_eq!(labels(&design("  setting mid: VR1 ¦")), ["0 %", "50 %", "100 %"]);
    assert_eq!(labels(&design("  trim ¦")), ["VR1"]);
    has(&labels(&design("  trim VR1: ¦")), &["gain", "offset"]);
    has(&labels(&design("  accept ¦")), &["no bias return", "over voltage", "unstable"]);
    has(&labels(&design("  accept no ¦")), &["bias return", "dc path", "end stop"]);
    assert_eq!(labels(&design("  accept no bias return ¦")), ["for"]);
    has(&labels(&design("  accept no bias return for ¦")), &["U1a", "pre", "mid", "line"]);
    let page =
        bench(&cut(&design("  accept ¦")).0).snapshot().told("a", &item(&design("  accept ¦"), "no bias return").about);
    assert!(page.is_some_and(|p| p.markdown.ends_with("`stagewright explain no-bias-return`")));
}

#[test]
fn neglects_fit_their_part() {
    let assume = |line: &str| below("assume", line);
    assert_eq!(labels(&assume("  C2 ¦")), ["short", "open"]);
    assert_eq!(item(&assume("  C2 ¦"), "short").plain(), "short above 20 Hz");
    assert_eq!(labels(&assume("  U1a ¦")), ["ideal"]);
    has(&labels(&assume("  ¦")), &["C2", "U1a", "R1", "stage"]);
    assert_eq!(labels(&assume("  stage ¦")), ["pre", "post"]);
    assert_eq!(labels(&assume("  C2 short above 20 Hz ¦")), ["below", "on", "within"]);
    has(&labels(&assume("  C2 short on ¦")), &["gain", "noise"]);
}

#[test]
fn sheets_have_their_keys_with_figures() {
    let sheet = |line: &str| format!("datasheet wren: opamp\n  slew rate 5 V/us\n{line}");
    let keys = labels(&sheet("  ¦"));
    has(&keys, &["gain bandwidth", "input range from low rail"]);
    lacks(&keys, &["slew rate"]);
    assert_eq!(item(&sheet("  ¦"), "gain bandwidth").plain(), "gain bandwidth 10 MHz");
    has(&labels(&sheet("  voltage noise ¦")), &["corner", "typ", "min", "max"]);
    assert_eq!(labels(&sheet("  gain bandwidth typ 3 MHz, ¦")), ["min", "max"]);
}

#[test]
fn copies_and_included_stages_are_patterns() {
    let shelf = "stage pad: a -> b\n  a -- R1 1k -- c -- R2 1k -- b\n\ndatasheet lark: opamp\n  gain bandwidth 2 MHz\n";
    let at = |marked: &str| {
        let (text, at) = cut(marked);
        let mut bench = bench(&text);
        bench.set_text("shelf.stage", shelf.into());
        bench.set_included("a", [("shelf.stage".to_string(), Ok("shelf.stage".to_string()))].into());
        bench.snapshot().completions("a", at).items
    };
    let labels = |marked: &str| at(marked).into_iter().map(|i| i.label).collect::<Vec<_>>();
    let patterns = at("include \"shelf.stage\"\n\nuse ¦");
    assert_eq!((&*patterns[0].label, &*patterns[0].detail), ("pad", "a -> b · shelf.stage"));
    assert_eq!(patterns[0].plain(), "pad as pad2: a -> b");
    let copy = "include \"shelf.stage\"\n\nuse pad as left: in -> out\n";
    assert_eq!(labels(&format!("{copy}  ¦"))[..2], ["R1", "R2"]);
    has(&labels(&format!("{copy}\nrequire\n  power of ¦")), &["left.R1", "left.R2"]);
    has(&labels(&format!("{copy}\nrequire\n  level of ¦")), &["left.c", "out"]);
    has(&labels(&format!("{copy}\nrequire\n  level of left.¦")), &["left.c"]);
    let typed = at(&format!("{copy}\nrequire\n  power of left.R¦"));
    assert!(typed.iter().any(|i| i.label == "left.R1"));
    has(&labels("include \"shelf.stage\"\n\nstage a: in -> out\n  U1a ¦"), &["lark"]);
}

#[test]
fn nothing_is_offered_in_comments_and_texts_but_the_path_of_an_include() {
    assert_eq!(asked(&next("  hot -- R6 1k -- out # at ¦")).items, []);
    assert_eq!(asked(&next("  hot -- R6 1k \"shelf ¦\" -- out")).items, []);
    assert_eq!(asked("design \"We¦ir\"").items, []);
    let path = asked("include \"shelves/ou¦t.stage\"\n");
    assert_eq!((path.path.as_deref(), path.word), (Some("shelves/ou"), 17..26));
    let open = asked("include \"sh¦\nstage a: in -> out\n");
    assert_eq!((open.path.as_deref(), open.word), (Some("sh"), 9..11));
}

#[test]
fn headings_stand_in_column_0() {
    let found = asked(&below("stage next: hot -> out", "  req¦"));
    let heading = found.items.iter().find(|i| i.label == "require").expect("a heading");
    let (text, _) = cut(&next("  req¦"));
    assert!(accepted(&text, &found, heading).ends_with("out\nrequire"));
    // A heading that had gone is typed again over its entries.
    let gone = "stage a: in -> out\n  in -- R1 1k -- out\n\n¦\n  gain in -> out = 0 dB ± 1 dB\n";
    has(&labels(gone), &["require"]);
    // In the middle of a stage only a stage leaves the rest a stage's.
    lacks(&labels("stage a: in -> out\n  in -- R1 1k -- out\n¦\n  out -- R2 1k -- gnd\n"), &["require", "design"]);
}

#[test]
fn every_place_has_an_answer_whatever_stands_there() {
    for (name, text) in designs() {
        for form in [
            text.clone(),
            text.replace('\n', "\r\n"),
            format!("\u{FEFF}{text}"),
            text.replace("-- ", "").replace(':', " Ω🎚"),
        ] {
            let snapshot = bench(&form).snapshot();
            // Past the end, too, and between the bytes of a character.
            for at in (0..form.len() + 3).step_by(3) {
                let found = snapshot.completions("a", at);
                assert!(found.items.len() <= 100, "{name} {at}");
                let _ = snapshot.signature("a", at);
                if found.items.is_empty() {
                    continue;
                }
                assert!(found.word.start <= found.at && found.at <= found.word.end, "{name} {at}");
                assert!(form.get(found.word.clone()).is_some_and(|w| !w.contains(['\n', ' ', '#'])), "{name} {at}");
                assert!(found.items.iter().all(|i| i.plain().chars().all(|c| !"Ωµ".contains(c))), "{name} {at}");
            }
        }
    }
}

#[test]
fn a_line_that_is_torn_anywhere_still_has_its_names() {
    use notation::token::TokenKind as K;
    let (mut offered, mut missed) = (0, Vec::new());
    for (name, text) in designs().into_iter().filter(|(name, _)| matches!(&**name, "nest-boxes" | "river-listener")) {
        // Each line cut off behind each of its words, what stands below it staying there.
        let mut bench = bench(&text);
        let mut start = 0;
        for line in text.split_inclusive('\n') {
            let all = words(line);
            for (i, word) in all.iter().enumerate() {
                let front = &line[..word.span.end as usize];
                let cut = start + front.len();
                let torn = format!("{} {}", &text[..cut], &text[start + line.trim_end().len()..]);
                bench.set_text("a", torn.clone());
                let found = bench.snapshot().completions("a", cut + 1);
                assert!(found.word.is_empty() || found.word.end <= cut + 1, "{name}: {line}");
                // The name that stood behind the cut, where it stands in another place too. Behind these words a name is new.
                let Some(next) = all.get(i + 1).filter(|w| matches!(w.kind, K::Name | K::Part)) else { continue };
                let said = &line[next.span.range()];
                let stands = words(&torn).iter().any(|w| w.kind == next.kind && &torn[w.span.range()] == said);
                if !stands || matches!(front.trim(), "stage" | "balanced" | "setting" | "datasheet") {
                    continue;
                }
                if found.items.iter().any(|item| item.label == said) {
                    offered += 1;
                } else {
                    missed.push(format!("{name}: {front}‸{said}"));
                }
            }
            start += line.len();
        }
    }
    // A node that hangs nowhere else, which only `accept` names.
    assert_eq!(missed, ["nest-boxes:   hot -- R12 1k --‸tp"]);
    assert!(offered > 200, "{offered}");
}
