//! The incremental database: what runs again after an edit, and that it never matters to the answer.

use std::sync::{Arc, Mutex};

use proptest::prelude::*;
use workbench::{Hint, Problem, Workbench};

const DESIGN: &str = "\
design \"Reed organ\"
  band       20 Hz .. 20 kHz
  supply     vpos +12 V, vneg -12 V
  source     in 10 mV
  setting    loud: VR1 100 %

stage first: in -> mid
  in  -- R1 1M -- gnd           # the way home
  U1a fet_dual: + in, - fb, out mid
  mid -- R2 10k -- VR1 50k log -- fb
  fb  -- R3 1k -- C1 22u polar -- gnd

stage second: mid -> out
  mid -- R4 10k -- sum
  sum -- R5 22k || C2 100p -- out
  U1b fet_dual: + gnd, - sum, out out

stage load: out
  out -- R6 10k external -- gnd

require
  gain in -> out = 30 dB ± 1 dB
";

/// A workbench that keeps the names of the questions that it worked out.
fn watched() -> (Workbench, Arc<Mutex<Vec<String>>>) {
    let log = Arc::new(Mutex::new(Vec::new()));
    let tell = log.clone();
    // `read(Id(80))` is the question `read` of one thing.
    let bench = Workbench::telling(move |q| tell.lock().unwrap().push(q.split('(').next().unwrap_or("").to_string()));
    (bench, log)
}

fn look(bench: &Workbench) -> (Vec<Hint>, Arc<Vec<Problem>>) {
    let snapshot = bench.snapshot();
    (snapshot.hints("a", None), snapshot.problems("a"))
}

/// How often each question was worked out by the edit of `from` into `to`.
fn ran(from: &str, to: &str) -> std::collections::BTreeMap<String, usize> {
    let (mut bench, log) = watched();
    bench.set_text("a", DESIGN.into());
    look(&bench);
    let edited = DESIGN.replacen(from, to, 1);
    assert_ne!(edited, DESIGN, "{from} is in the design");
    log.lock().unwrap().clear();
    bench.set_text("a", edited.clone());
    let seen = look(&bench);
    let mut scratch = Workbench::new();
    scratch.set_text("a", edited);
    assert_eq!(seen, look(&scratch));
    let mut counts = std::collections::BTreeMap::new();
    for q in log.lock().unwrap().iter() {
        *counts.entry(q.clone()).or_insert(0) += 1;
    }
    counts
}

fn count(ran: &std::collections::BTreeMap<String, usize>, question: &str) -> usize {
    ran.get(question).copied().unwrap_or(0)
}

#[test]
fn a_value_reads_one_line_and_plans_nothing() {
    let ran = ran("R5 22k", "R5 24k");
    assert_eq!(count(&ran, "read"), 1, "{ran:?}");
    assert_eq!(count(&ran, "sound"), 0, "{ran:?}");
    assert_eq!(count(&ran, "planned"), 0, "{ran:?}");
}

#[test]
fn a_value_in_one_stage_leaves_the_readings_of_others() {
    // Four figures belong to the second stage alone (gain, two corners, impedance), two to its capacitor and its setting;
    // the first stage's have nothing to do with R5.
    let second = ran("R5 22k", "R5 24k");
    let all = {
        let (mut bench, log) = watched();
        bench.set_text("a", DESIGN.into());
        look(&bench);
        log.lock().unwrap().iter().filter(|q| *q == "reading").count()
    };
    assert!(count(&second, "reading") >= 1 && count(&second, "reading") < all, "{second:?} of {all}");
}

#[test]
fn a_comment_computes_nothing() {
    let ran = ran("# the way home", "# the way home for the bias current");
    for question in ["circuit_of", "network", "sound", "planned", "inputs", "reading", "seen"] {
        let allowed = usize::from(question == "circuit_of");
        assert!(count(&ran, question) <= allowed, "{question}: {ran:?}");
    }
}

#[test]
fn a_blank_line_reads_no_entry() {
    let ran = ran("\nstage second", "\n\n\nstage second");
    assert_eq!((count(&ran, "read"), count(&ran, "planned"), count(&ran, "reading")), (0, 0, 0), "{ran:?}");
}

#[test]
fn a_new_part_plans_anew() {
    let ran = ran("  out -- R6", "  out -- C9 1n -- gnd\n  out -- R6");
    assert_eq!(count(&ran, "sound"), 1, "{ran:?}");
    assert!(count(&ran, "planned") >= 1, "{ran:?}");
}

/// An edit: a share of the text to go, and what comes in its place.
fn edits() -> impl Strategy<Value = Vec<(f64, usize, String)>> {
    let text = prop_oneof![
        "[0-9]{1,3}[kMnu]?".prop_map(String::from),
        Just("\n".to_string()),
        Just(" -- R9 1k -- gnd".to_string()),
        Just("stage x: out -> y\n".to_string()),
        Just("# ".to_string()),
        Just(" ".to_string()),
        Just(String::new()),
        "[a-zRCU0-9:,>|Ωµ-]{1,4}".prop_map(String::from),
    ];
    prop::collection::vec((0.0..1.0f64, 0..6usize, text), 1..12)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    /// After any edits, all that is seen is what a fresh workbench shows of the same text, to the last byte.
    #[test]
    fn increments_equal_scratch(edits in edits()) {
        let mut bench = Workbench::new();
        let mut text = DESIGN.to_string();
        bench.set_text("a", text.clone());
        look(&bench);
        for (at, gone, new) in edits {
            let boundary = |i: usize| (0..=i.min(text.len())).rev().find(|i| text.is_char_boundary(*i)).unwrap_or(0);
            let start = boundary((at * text.len() as f64) as usize);
            let end = boundary(start + gone).max(start);
            text.replace_range(start..end, &new);
            bench.set_text("a", text.clone());
            let seen = look(&bench);
            let mut scratch = Workbench::new();
            scratch.set_text("a", text.clone());
            prop_assert_eq!(&seen, &look(&scratch), "after {}", text);
            let reviewed = |bench: &Workbench| bench.snapshot().problems_reviewed("a", false);
            prop_assert_eq!(reviewed(&bench), reviewed(&scratch), "after {}", text);
        }
    }
}
