//! Readings next to nothing over tolerance, and figures that no build has.

mod said;

use said::{bench, lines_over_tolerance as lines, told_over_tolerance as told};
use workbench::Answer;

const TRAP: &str = "design
  tolerance L 5 %, C 5 %, R 1 %
  source in 1 V
stage trap: in -> out
  in -- R1 600 -- out
  out -- R2 1 -- x -- L1 10m -- x2 -- C1 253.303n -- gnd
";

const PAIR: &str = "design
  supply vp +15 V, vm -15 V
  tolerance R 1 %
  source in 1 V
  balanced o: oh, oc
stage d: in -> oh, oc
  in -- R1 10k -- p -- R2 10k -- gnd
  in -- R3 10k -- n -- R4 10k -- oh
  U1a ne5532: + p, - n, out oh
  in -- R5 10k -- q -- R6 9.98k -- gnd
  in -- R7 10k -- m -- R8 10k -- oc
  U1b ne5532: + q, - m, out oc
";

const LEGS: &str = "design
  supply vp +15 V, vm -15 V
  tolerance R 1 %
  balanced o: oh, oc
stage d: in -> oh, oc
  in -- R1 100 -- oh
  in -- R9 1M -- gnd
  oh -- R2 10k -- n -- R3 10k -- m
  U1a ne5532: + gnd, - n, out m
  m -- R4 100 -- oc
  oh -- R5 10k external -- gnd
  oc -- R6 10k external -- gnd
";

/// What is said of a phrase whose slopes at nominal values say nothing about its builds.
fn has_no_root(text: &str, phrase: &str, why: &str) {
    let said = lines(text, phrase);
    assert!(said.contains(&format!("root of squares unknown: {why}")), "{phrase}: {said}");
    assert!(!said.contains("a per cent") && !said.contains("of the spread"), "{phrase}: {said}");
}

#[test]
fn what_is_left_of_a_null_has_no_root_of_squares() {
    let null = "nominally it is next to nothing";
    has_no_root(TRAP, "level of out at 3.16228 kHz", null);
    has_no_root(PAIR, "level of oc", null);
}

#[test]
fn where_the_builds_contradict_the_slopes_no_root_is_told() {
    let slope = "its slope changes within tolerance";
    has_no_root(TRAP, "phase in -> out at 3.16228 kHz", slope);
    has_no_root(TRAP, "delay in -> out at 3.16228 kHz", slope);
    has_no_root(PAIR, "clip level of oc", slope);
    has_no_root(PAIR, "balance of o", slope);
    has_no_root(LEGS, "balance of o", slope);
    let follower = "design
  supply vp +15 V, vm -15 V
  tolerance R 1 %
stage dc: vp -> z
  vp -- R1 10k -- z -- R2 10k -- vm
  U1a ne5532: + z, - o, out o
  o -- R3 1k -- gnd
";
    has_no_root(follower, "supply current of vp", slope);
    has_no_root(follower, "dissipation of U1a", slope);
}

#[test]
fn a_root_of_squares_does_not_lie_beyond_the_worst() {
    // 1/R bends: 25 % up and 17 % down.
    let text =
        "design\n  tolerance R 20 %\n  supply vp +10 V\nstage one: vp -> a\n  vp -- R1 1k -- a\n  a -- R2 1m -- gnd\n";
    let said = lines(text, "current of R1");
    assert!(
        said.contains("over tolerance 8.33 mA … 12.5 mA") && said.contains("root of squares 8.33 mA … 12.0 mA"),
        "{said}"
    );
    // What is nearly linear is told as before.
    let divider =
        "design\n  tolerance R 1 %\n  source in 1 V\nstage one: in -> a\n  in -- R1 10k -- a -- R2 10k -- gnd\n";
    let said = lines(divider, "level of a");
    assert!(said.contains("root of squares 496 mV … 504 mV") && said.contains("R1: −0.50 % a per cent"), "{said}");
}

#[test]
fn an_end_that_nothing_moves_says_so() {
    let text = "design
  supply vcc +9 V
  tolerance R 5 %, VR 20 %
  matched VR1a, VR1b 3 %
stage a: vcc -> o
  VR1a 10k lin at 50 %: cw vcc, wiper a, ccw gnd
  VR1b 10k lin: cw vcc, wiper b, ccw gnd
  a -- R1 10k -- gnd
  b -- R2 10k -- gnd
  a -- R3 1M -- o -- R4 1M -- b
";
    let said = lines(text, "power of R3");
    assert!(said.contains("lowest found   0 W at VR1 0 %: nothing is off"), "{said}");
    let said = lines(text, "supply current of vcc");
    assert!(said.contains("over tolerance 1.5 mA") && said.contains("root of squares 1.5 mA …"), "{said}");
}

#[test]
fn what_several_sources_make_has_no_peak_of_a_sine() {
    let sum = "design
  supply vp +15 V, vm -15 V
  source a 1 V
  source b 1 V
stage m: a, b -> o
  a -- R1 10k -- n
  b -- R2 10k -- n
  n -- R3 10k -- o
  U1a tl072: + gnd, - n, out o
require
  level of o < 2.1 V peak
";
    let why = "a and b make it: its peak is not √2 of its rms; write the limit in rms";
    let snapshot = bench(sum).snapshot();
    let stands = snapshot.statements("a");
    assert!(format!("{stands:?}").contains(why), "{stands:?}");
    let all = snapshot.read_over_tolerance("a", "level of o < 2.1 V peak");
    assert!(matches!(&all[..], [(Answer::Reading(r), None)] if r.unknown() == Some(why)), "{all:?}");
    // Of one source it is a sine's, and rms is rms.
    let one = sum.replace("  source b 1 V\n", "").replace("a, b", "a").replace("  b -- R2 10k -- n\n", "");
    assert!(told(&one).is_empty(), "{:?}", told(&one));
    assert!(told(&sum.replace("2.1 V peak", "1.5 V")).is_empty());
}

/// What the reviewer's rules say of a file.
fn reviewed(text: &str) -> Vec<String> {
    bench(text).snapshot().problems_reviewed("a", false).iter().map(|p| p.message.clone()).collect()
}

#[test]
fn a_resonance_without_loss_is_no_figure() {
    let text = "design\n  source a 1 V\nstage x: a -> out\n  a -- L1 1m -- out\n  out -- C1 1u 50V -- gnd\n";
    let said = reviewed(text);
    assert!(said.is_empty(), "{said:?}");
    // With one it is told.
    let said = reviewed(&text.replace("a -- L1 1m", "a -- R1 100m -- l -- L1 1m"));
    assert!(matches!(&said[..], [one] if one.contains("bears 447 V at 5.03 kHz")), "{said:?}");
}

#[test]
fn an_input_swings_with_its_source_beyond_the_outputs_clipping() {
    let text = "design
  supply vp +15 V, vm -15 V
  source a 9 V
stage x: a -> o
  U1a ne5532: + a, - o, out o
  o -- R1 10k -- gnd
";
    let said = reviewed(text);
    assert!(matches!(&said[..], [one] if one.contains("swings 12.7 V, 728 mV beyond the high end")), "{said:?}");
}
