//! Files beyond reason: names that hang on one another in long chains or in circles, copies of copies, and many of everything. What is
//! wanted is an answer; the bounds on the time are very generous and only catch work that grows without end.

use std::fmt::Write as _;
use std::time::{Duration, Instant};

use workbench::{Snapshot, Workbench};

/// Longer than any of these may take on a slow machine in a debug build.
const PATIENCE: Duration = Duration::from_secs(60);

fn seen<T>(text: String, look: impl FnOnce(&Snapshot) -> T) -> T {
    let start = Instant::now();
    let mut bench = Workbench::new();
    bench.set_text("carillon.stage", text);
    let found = look(&bench.snapshot());
    assert!(start.elapsed() < PATIENCE, "it took {:.1?}", start.elapsed());
    found
}

fn said(text: String) -> Vec<(&'static str, String)> {
    seen(text, |s| s.problems("carillon.stage").iter().map(|p| (p.id, p.message.clone())).collect())
}

fn hint(text: String, key: &str) -> String {
    let of = |s: &Snapshot| s.hints("carillon.stage", None).into_iter().find(|h| h.key == key).map(|h| h.label);
    seen(text, of).unwrap_or_default()
}

const PLAIN: &str = "stage bell: in -> out\n  in -- R1 1k -- out\n  out -- C1 1n -- gnd\n";

#[test]
fn a_name_that_is_twice_the_one_before_is_worked_out_once() {
    let mut text = "let\n  x0 = 1\n".to_string();
    (1..=60).for_each(|i| writeln!(text, "  x{i} = x{} + x{}", i - 1, i - 1).unwrap());
    let label = hint(text.clone() + PLAIN, "let x40");
    assert_eq!(label, "1.10e12", "2 to the power of 40");
    assert_eq!(said(text + PLAIN), []);
}

#[test]
fn a_curve_that_is_twice_the_one_before_is_worked_out_once() {
    let mut text = "let\n  x0 = f / (1 kHz)\n".to_string();
    (1..=60).for_each(|i| writeln!(text, "  x{i} = x{} + x{}", i - 1, i - 1).unwrap());
    assert_eq!(hint(text.clone() + PLAIN, "let x10"), "60.2 dB at 1 kHz", "20 log 1024");
    assert_eq!(said(text + PLAIN), []);
}

#[test]
fn a_chain_of_names_may_be_as_long_as_a_file_and_in_any_order() {
    let mut text = "let\n".to_string();
    (1..20_000).rev().for_each(|i| writeln!(text, "  x{i} = x{} + 1", i - 1).unwrap());
    text.push_str("  x0 = 1\n");
    assert_eq!(said(text.clone() + PLAIN), []);
    assert_eq!(hint(text + PLAIN, "let x9999"), "10000");
}

#[test]
fn a_chain_of_parts_may_be_as_long_as_a_file() {
    let mut text = "stage bell: in -> out\n  in -- R1 1k -- out\n".to_string();
    (2..20_000).for_each(|i| writeln!(text, "  out -- R{i} (R{}) -- gnd", i + 1).unwrap());
    text.push_str("  out -- R20000 2k -- gnd\n");
    assert_eq!(said(text), []);
}

#[test]
fn a_long_circle_is_seen_and_told_once() {
    let mut text = "let\n  x0 = x4999\n".to_string();
    (1..5_000).for_each(|i| writeln!(text, "  x{i} = x{} + 1", i - 1).unwrap());
    text.push_str("  beside = 2 + 2\n  behind = x7\n");
    let said = said(text.clone() + PLAIN);
    assert_eq!(said.len(), 1, "{:?}", said[0]);
    assert_eq!(said[0].0, "value-of-itself");
    assert!(
        said[0].1.ends_with("and 4994 more are worked out from each other, so none of them has a value."),
        "{}",
        said[0].1
    );
    assert_eq!(hint(text.clone() + PLAIN, "let behind"), "unknown: x7's value is worked out from itself");
    assert_eq!(hint(text + PLAIN, "let beside"), "4");
}

#[test]
fn copies_of_copies_take_one_step_each() {
    let mut text = "stage bell: in -> n0\n  in -- R1 1k -- n0\n  n0 -- R2 (R1) -- gnd\n".to_string();
    text.push_str("use bell as u0: n0 -> n1\n  R1 2k\n");
    (1..2_000).for_each(|i| writeln!(text, "use u{} as u{i}: n{i} -> n{}", i - 1, i + 1).unwrap());
    assert_eq!(said(text.clone()), []);
    let circle = text.replace("use bell as u0", "use u1999 as u0");
    let said = said(circle);
    assert!(said.iter().any(|s| s.0 == "copy-of-itself"), "{:?}", said.first());
}

#[test]
fn many_misspelt_names_are_all_told_of() {
    let mut text = "let\n  ratio = 2\nstage bell: in -> out\n".to_string();
    (1..5_000).for_each(|i| writeln!(text, "  in -- R{i} (1 kohm * rato) -- out").unwrap());
    let said = said(text);
    assert_eq!(said.iter().filter(|s| s.0 == "unknown-name").count(), 4_999, "{:?}", said.first());
    assert!(said[0].1.contains("did you mean ratio"), "{:?}", said[0]);
}

#[test]
fn a_part_that_stands_ten_thousand_times_is_told_of_once() {
    let said = said(format!("stage bell: in -> out\n{}", "  in -- R1 1k -- out\n".repeat(10_000)));
    assert_eq!(said.iter().filter(|s| s.0 == "repeated-designator").count(), 1);
}

#[test]
fn a_ladder_without_end_has_figures_until_there_are_enough() {
    let rungs = 700;
    let mut text = format!("stage river: n0 -> n{rungs}\n");
    (0..rungs).for_each(|i| writeln!(text, "  n{i} -- R{0} 1k -- n{0}\n  n{0} -- C{0} 1n -- gnd", i + 1).unwrap());
    let labels = seen(text, |s| s.hints("carillon.stage", None));
    let of = |part: &str| labels.iter().find(|h| h.key == part).map(|h| h.label.clone()).unwrap_or_default();
    assert!(!of("part C1").starts_with("unknown"), "{}", of("part C1"));
    assert!(of("part C700").starts_with("unknown: more figures hang together"), "{}", of("part C700"));
}
