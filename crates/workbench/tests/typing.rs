//! A line typed character by character in the middle of a whole file: whatever stands there, the other lines keep their trees, and
//! nothing is said about them that would not be said without the line.

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;

use notation::layout::{Chunk, Layout};
use notation::tree::{BlockKind, Grade};
use workbench::{Problem, Severity, Workbench};

/// A design with every kind of line that the examples lack: values, copies, an included file, a data sheet, a preset, a switch.
const NEST_BOXES: &str = "\
include \"cable.stage\"

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
  U2b wren_dual: + gnd, - sum, out cold
  hot -- R12 1k -- tp

use cable as lead: hot, cold

assume within 0.5 dB
  all C1 short above 100 Hz
  C2 open below 15 kHz on gain bus -> cold
  stage lead open

formula
  gain hot -> cold = -R7 / R6

require
  gain chick1 -> pair at 1 kHz when near  = 0 dB .. 60 dB
  noise of pair A-weighted                < 1 mV
  phase margin of U2a, U2b                > 45 deg
";

const CABLE: &str = "\
stage cable: hot, cold
  hot -- C1 1n external -- cold
  hot -- R1 10k external || R2 10k external -- cold
";

/// What may be said of other lines behind a finished word, too. A heading of inputs alone is whole: a statement about the outputs
/// of its stage has none to speak of until they are typed.
const KNOWN: &[&str] = &["stage-without-port"];

fn designs() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let files = std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().path());
    let mut all: Vec<(String, String)> = files
        .filter(|p| p.extension().is_some_and(|e| e == "stage"))
        .map(|p| (p.file_stem().unwrap().to_string_lossy().into_owned(), light(&std::fs::read_to_string(p).unwrap())))
        .collect();
    all.push(("nest-boxes".into(), NEST_BOXES.into()));
    all.sort();
    all
}

/// A design without the requirements that take long to decide: whether they hold has nothing to do with where a line stands.
fn light(text: &str) -> String {
    let long =
        ["noise", "input noise", "headroom", "clip", "offset", "phase margin", "flatness", "balance", "rejection"];
    let keeps =
        |line: &&str| !long.iter().any(|phrase| line.trim_start().starts_with(phrase)) || !line.contains(['<', '>']);
    text.lines().filter(keeps).flat_map(|line| [line, "\n"]).collect()
}

fn bench(text: &str) -> Workbench {
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    bench.set_text("cable.stage", CABLE.into());
    bench.set_included("a", BTreeMap::from([("cable.stage".to_string(), Ok("cable.stage".to_string()))]));
    bench
}

/// The texts of all headings and entries but the one that begins at a place, each with the kind of its block where it is an entry.
/// A tree hangs on these two alone.
fn others<'t>(layout: &Layout, text: &'t str, typed: usize) -> Vec<(String, &'t str)> {
    let mut all = Vec::new();
    for block in &layout.blocks {
        let kind = block.kind.map_or("no block".to_string(), |k| format!("{k:?}"));
        all.extend(block.heading.iter().map(|h| ("heading".to_string(), h.range.clone())));
        all.extend(block.entries.iter().map(|e| (kind.clone(), e.range.clone())));
    }
    all.retain(|(_, range)| range.start != typed);
    all.into_iter().map(|(kind, range)| (kind, &text[range])).collect()
}

/// What is told about a state that should not be.
fn wrong(before: &[Problem], typed: Typed, now: &str, problems: &[Problem]) -> Option<String> {
    let own = typed.start..typed.start + typed.so_far.len();
    let is_own = |p: &&Problem| touches(&p.range, &own);
    let errors = problems.iter().filter(is_own).filter(|p| p.severity == Severity::Error).count();
    if errors > 1 {
        return Some(format!("{errors} errors about one line"));
    }
    // A word that is under way may be one that means something else, and so may a figure whose unit is to come: what then is said of
    // other lines waits at the server until the word has rested.
    let under_way = typed.so_far.ends_with(|c: char| c.is_alphanumeric() || c == '_')
        || typed.so_far.trim_end().ends_with(|c: char| c.is_ascii_digit());
    if under_way && !torn(now, typed.start) {
        return None;
    }
    let known = |p: &&Problem| {
        KNOWN.contains(&p.id) || before.iter().any(|b| b.id == p.id && (b.message == p.message || b.names == p.names))
    };
    let new = problems.iter().filter(|p| !is_own(p)).find(|p| !known(p))?;
    Some(format!("of another line: {} {}", new.id, new.message))
}

#[derive(Clone, Copy)]
struct Typed<'t> {
    start: usize,
    so_far: &'t str,
}

fn touches(a: &Range<usize>, b: &Range<usize>) -> bool {
    a.start <= b.end && b.start <= a.end
}

/// Whether the heading or entry that begins at a place is torn: an end, a node or a part is missing.
fn torn(text: &str, start: usize) -> bool {
    let layout = notation::lay_out(text);
    layout.blocks.iter().any(|b| {
        let kind = b.kind.unwrap_or(BlockKind::Stage);
        let here = |c: &&Chunk| c.range.start == start;
        let heading = b.heading.iter().filter(here).map(|h| notation::read_heading(&text[h.range.clone()]).grade);
        let entry = b.entries.iter().filter(here).map(|e| match &e.fault {
            // The beginning of a heading.
            Some(_) => Grade::Torn,
            None => notation::read_entry(kind, &text[e.range.clone()]).grade,
        });
        heading.chain(entry).any(|grade| grade == Grade::Torn)
    })
}

/// Types every line of a design and complains about what it sees. Trees are looked at in every state, messages in those that
/// `looks` wants by their number.
fn typed(name: &str, text: &str, looks: impl Fn(usize) -> bool) -> (usize, Vec<String>) {
    let mut bench = bench(text);
    let whole: Vec<Problem> =
        bench.snapshot().problems("a").iter().filter(|p| p.severity > Severity::Note).cloned().collect();
    assert_eq!(whole, [], "{name}");
    let layout = notation::lay_out(text);
    let chunks = layout.blocks.iter().flat_map(|b| b.heading.iter().chain(&b.entries).map(|c| c.range.clone()));
    let (mut seen, mut complaints) = (0, Vec::new());
    for range in chunks {
        let line = &text[range.clone()];
        let state = |at: usize| format!("{}{}{}", &text[..range.start], &line[..at], &text[range.end..]);
        let without = state(0);
        let trees = others(&notation::lay_out(&without), &without, range.start);
        bench.set_text("a", without.clone());
        let before = bench.snapshot().problems("a");
        let is_heading = layout.blocks.iter().any(|b| b.heading.as_ref().is_some_and(|h| h.range == range));
        for at in line.char_indices().map(|(at, _)| at).skip(1).chain([line.len()]) {
            let now = state(at);
            let said = |complaint: String| format!("{name}: `{}`: {complaint}", line[..at].escape_debug());
            // A heading takes the entries below it over once it is one.
            let laid = notation::lay_out(&now);
            if !is_heading && others(&laid, &now, range.start) != trees {
                complaints.push(said("another line has another tree".into()));
            }
            seen += 1;
            if !looks(seen) {
                continue;
            }
            bench.set_text("a", now.clone());
            let problems = bench.snapshot().problems("a");
            complaints
                .extend(wrong(&before, Typed { start: range.start, so_far: &line[..at] }, &now, &problems).map(said));
        }
    }
    (seen, complaints)
}

fn all(looks: impl Fn(usize) -> bool + Sync) {
    let designs = designs();
    // Each design has a workbench of its own, so they take turns on the machine's cores.
    let found: Vec<(usize, Vec<String>)> = std::thread::scope(|scope| {
        let looks = &looks;
        let started: Vec<_> =
            designs.iter().map(|(name, text)| scope.spawn(move || typed(name, text, looks))).collect();
        started.into_iter().map(|s| s.join().unwrap()).collect()
    });
    let states: usize = found.iter().map(|f| f.0).sum();
    let complaints: Vec<&String> = found.iter().flat_map(|f| &f.1).collect();
    assert!(states > 7000, "{states}");
    let shown: Vec<&str> = complaints.iter().take(40).map(|c| c.as_str()).collect();
    assert!(complaints.is_empty(), "{} of {states}:\n{}", complaints.len(), shown.join("\n"));
}

#[test]
fn a_line_under_way_costs_no_other_line_anything() {
    // Such a prime and the lengths of words have no rhythm in common, so every place in a word comes up.
    all(|state| state % 17 == 0);
}

/// The same in every state, which takes a minute without optimisation: `cargo test -p workbench --test typing -- --ignored`.
#[test]
#[ignore = "looks at some ten thousand states"]
fn in_every_state() {
    all(|_| true);
}
