//! An ideal amplifier with feedback to both inputs stands or latches by its values: where more comes back to +, there is no gain to read.

mod said;

use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestRunner};
use said::{bench, read, rules};
use workbench::Severity;

/// What R2 and R4 feed back to + and to −.
fn both(plus: &str, minus: &str) -> String {
    format!(
        "stage amp: in -> out\n  in -- R1 10k -- p -- R2 {plus} -- out\n  U1 ideal: + p, - n, out out\n  n -- R3 1k -- gnd\n  n -- R4 {minus} -- out\n"
    )
}

#[test]
fn more_feedback_to_plus_than_to_minus_leaves_no_figure() {
    let text = both("100k", "1M");
    let why = "unknown: U1 latches: more of out comes back to its + input than to its - input";
    for phrase in [
        "gain in -> out",
        "gain p -> out",
        "input impedance of amp",
        "output impedance of amp",
        "high corner in -> out",
    ] {
        assert_eq!(read(&text, phrase), why, "{phrase}");
    }
    for phrase in ["dc of out", "noise of out", "flatness in -> out"] {
        assert!(read(&text, phrase).starts_with("unknown"), "{phrase}: {}", read(&text, phrase));
    }
    let bench = bench(&text);
    let snapshot = bench.snapshot();
    let problems = snapshot.problems("a");
    let [problem] = &problems[..] else { panic!("{problems:#?}") };
    assert_eq!((problem.id, problem.severity), ("latching", Severity::Error));
    assert_eq!(
        problem.message,
        "U1 latches: more of out comes back to its + input than to its - input, so whatever moves it is driven further, until it stands at a rail. With + and - exchanged the loop holds."
    );
    assert_eq!(&text[problem.range.clone()], "U1");
    assert!(said::hints(&text).contains("unknown: U1 latches"), "{}", said::hints(&text));
}

#[test]
fn less_feedback_to_plus_than_to_minus_stands() {
    // β+ is 1/11, β− 1/2.
    let text = both("100k", "1k");
    assert!(rules(&text).is_empty(), "{:?}", rules(&text));
    assert_eq!(read(&text, "gain in -> out"), "6.9 dB");
}

#[test]
fn a_control_that_tips_the_loop_leaves_the_other_positions_known() {
    let text = "\
stage amp: in -> out
  in -- R1 10k -- p -- R2 10k -- out
  U1 ideal: + p, - n, out out
  out -- VR1 50k lin at 0 % -- n
  n -- R3 20k -- gnd
";
    let bench = bench(text);
    let snapshot = bench.snapshot();
    let problems = snapshot.problems("a");
    let [problem] = &problems[..] else { panic!("{problems:#?}") };
    assert_eq!((problem.id, problem.severity), ("latching", Severity::Warning));
    assert!(problem.message.starts_with("U1 latches at VR1 50 %: more of out"), "{}", problem.message);
    let gain = said::reading(text, "gain in -> out");
    assert_eq!(gain.value_text(quantity::Style::default()), "0.0 dB", "{gain:?}");
    assert!(gain.gap.as_deref().is_some_and(|g| g.starts_with("at VR1 50 %: U1 latches")), "{gain:?}");
    assert!(read(text, "gain in -> out when VR1 100 %").starts_with("unknown: U1 latches"));
}

#[test]
fn what_comes_back_far_above_the_band_counts_too() {
    let text = "\
stage amp: in -> out
  in -- R1 10k -- p -- C1 1n -- out
  U1 ideal: + p, - n, out out
  n -- R3 1k -- gnd
  n -- R4 1k -- out
";
    assert_eq!(
        read(text, "gain in -> out"),
        "unknown: U1 latches: far above the band more of out comes back to its + input than to its - input"
    );
}

#[test]
fn a_loop_of_several_is_told_as_a_loop() {
    let text = "\
stage pair: in -> out
  in -- R1 10k -- a
  U1 ideal: + gnd, - a, out x
  x -- R2 10k -- a
  x -- R3 10k -- b
  U2 ideal: + gnd, - b, out out
  out -- R4 20k -- b
  out -- R5 10k -- a
";
    assert_eq!(
        read(text, "gain in -> out"),
        "unknown: the loop of U1 and U2 latches: what comes back to its + side outweighs the rest"
    );
    assert!(rules(text).contains(&"latching"));
    let weaker = text.replace("R5 10k", "R5 47k");
    assert!(rules(&weaker).is_empty(), "{:?}", rules(&weaker));
}

#[test]
fn what_does_not_hang_on_it_keeps_its_figures() {
    let text = both("100k", "1M") + "\nstage pad: in -> half\n  in -- R5 1k -- half\n  half -- R6 1k -- gnd\n";
    assert_eq!(read(&text, "gain in -> half"), "−6.0 dB");
}

/// Circuits that feed both inputs, or back through several amplifiers, and stand.
const SOUND: [(&str, &str); 12] = [
    (
        "a current source by four resistors, with its load",
        "stage source: in -> load\n  in -- R1 10k -- p\n  out -- R2 10k -- p\n  U1 ideal: + p, - n, out out\n  gnd -- R3 10k -- n\n  out -- R4 10k -- n\n  p -- R5 1k -- load\n  load -- R6 100R -- gnd\n",
    ),
    (
        "the same with nothing at its output: both sides balance",
        "stage source: in -> p\n  in -- R1 10k -- p\n  out -- R2 10k -- p\n  U1 ideal: + p, - n, out out\n  gnd -- R3 10k -- n\n  out -- R4 10k -- n\n",
    ),
    (
        "an integrator that balances both sides",
        "stage integrator: in -> out\n  in -- R1 10k -- p\n  p -- C1 100n -- gnd\n  p -- R2 10k -- out\n  U1 ideal: + p, - n, out out\n  n -- R3 10k -- gnd\n  n -- R4 10k -- out\n",
    ),
    (
        "a negative impedance that a lower one loads",
        "stage converter: in -> p\n  in -- R1 1k -- p\n  U1 ideal: + p, - n, out out\n  out -- R2 10k -- p\n  out -- R3 10k -- n\n  n -- R4 10k -- gnd\n",
    ),
    (
        "a low pass of two poles with a gain of 2",
        "stage low: in -> out\n  in -- R1 10k -- a -- R2 10k -- p -- C1 10n -- gnd\n  a -- C2 10n -- out\n  U1 ideal: + p, - n, out out\n  out -- R3 10k -- n -- R4 10k -- gnd\n",
    ),
    (
        "a high pass of two poles",
        "stage high: in -> out\n  in -- C1 10n -- a -- C2 10n -- p -- R1 10k -- gnd\n  a -- R2 10k -- out\n  U1 ideal: + p, - out, out out\n",
    ),
    (
        "a filter of three amplifiers",
        "stage state: in -> low\n  in -- R1 10k -- s\n  U1 ideal: + q, - s, out high\n  high -- R2 10k -- s\n  low -- R3 10k -- s\n  band -- R4 30k -- q\n  q -- R5 10k -- gnd\n  high -- R6 10k -- i\n  U2 ideal: + gnd, - i, out band\n  i -- C1 10n -- band\n  band -- R7 10k -- j\n  U3 ideal: + gnd, - j, out low\n  j -- C2 10n -- low\n",
    ),
    (
        "an inductance made of two amplifiers",
        "stage gyrator: in -> a\n  in -- R9 10k -- a\n  a -- R1 1k -- b -- R2 1k -- c -- R3 1k -- d -- C1 100n -- e -- R5 1k -- gnd\n  U1 ideal: + a, - c, out d\n  U2 ideal: + e, - c, out b\n",
    ),
    (
        "a guard around a source of high resistance",
        "stage guard: in -> out\n  in -- R1 100M -- p -- C1 100p -- out\n  U1 ideal: + p, - out, out out\n  out -- R2 10k -- gnd\n",
    ),
    (
        "a bootstrapped bias",
        "stage boot: in -> out\n  in -- C1 10n -- p -- R1 1M -- m -- R2 1M -- gnd\n  out -- C2 1u -- m\n  U1 ideal: + p, - out, out out\n",
    ),
    (
        "three amplifiers around one resistor",
        "stage front: a, b -> out\n  U1 ideal: + a, - f, out x\n  x -- R1 10k -- f -- R2 1k -- g -- R3 10k -- y\n  U2 ideal: + b, - g, out y\n  x -- R4 10k -- m -- R5 10k -- out\n  y -- R6 10k -- p -- R7 10k -- gnd\n  U3 ideal: + p, - m, out out\n",
    ),
    (
        "a servo around a gain",
        "stage servo: in -> out\n  in -- C1 1u -- p -- R1 1M -- gnd\n  U1 ideal: + p, - f, out out\n  out -- R2 10k -- f -- R3 1k -- gnd\n  out -- R4 1M -- n\n  U2 ideal: + gnd, - n, out s\n  n -- C2 1u -- s\n  s -- R5 1k -- q\n  U3 ideal: + gnd, - q, out t\n  t -- R6 1k -- q\n  t -- R7 100k -- f\n",
    ),
];

#[test]
fn sound_circuits_that_feed_both_inputs_are_left_alone() {
    for (what, text) in SOUND {
        assert!(!rules(text).contains(&"latching"), "{what}: {:#?}", bench(text).snapshot().problems("a"));
    }
}

#[test]
fn the_order_of_two_amplifiers_that_leaves_the_sign_alone_is_no_latch() {
    // With + and − of both exchanged the sign of the determinant is the same: nothing is said rather than something false.
    let text = SOUND[7].1.replace("+ a, - c", "+ c, - a").replace("+ e, - c", "+ c, - e");
    assert!(!rules(&text).contains(&"latching"));
    // Of one alone it is not.
    let text = SOUND[7].1.replace("+ a, - c", "+ c, - a");
    assert!(rules(&text).contains(&"latching"), "{:#?}", bench(&text).snapshot().problems("a"));
}

#[test]
fn a_real_amplifier_with_the_same_parts_grows() {
    let real = both("100k", "1M").replace("ideal", "tl072");
    assert_eq!(rules(&real), ["unstable"]);
}

/// A network of resistors and capacitors between the source, gnd, the inputs and the outputs of some amplifiers.
fn network(parts: &[(usize, usize, u32, bool)], amplifiers: usize, kind: &str) -> String {
    let nodes = ["gnd", "in", "p0", "n0", "o0", "p1", "n1", "o1"];
    let mut text = String::from("stage any: in -> o0\n");
    for (k, (a, b, value, capacitor)) in parts.iter().enumerate() {
        let count = 2 + 3 * amplifiers;
        let (a, b) = (nodes[a % count], nodes[b % count]);
        if a == b {
            continue;
        }
        let value = 1.3f64.powi(*value as i32);
        text += &match capacitor {
            true => format!("  {a} -- C{k} {:.4}n -- {b}\n", value),
            false => format!("  {a} -- R{k} {:.4}k -- {b}\n", value),
        };
    }
    for k in 0..amplifiers {
        text += &format!("  p{k} -- R9{k} 1M -- gnd\n  n{k} -- R8{k} 1M -- gnd\n");
        text += &format!("  n{k} -- R7{k} 100k -- o{k}\n  U{k} {kind}: + p{k}, - n{k}, out o{k}\n");
    }
    if kind == "near" {
        text += "\ndatasheet near: opamp\n  open loop gain 120 dB\n  gain bandwidth 10 GHz\n";
    }
    text
}

/// Who is said to latch has, with a gain and a bandwidth that end, a pole on the right.
#[test]
fn no_alarm_is_false() {
    let end = (0usize..8, 0usize..8, 0u32..20, prop::bool::weighted(0.25));
    let circuits = (prop::collection::vec(end, 3..9), 1usize..3);
    let latched = std::cell::Cell::new(0);
    // A fixed seed: how many latch among them is the same each time.
    let seed = RngSeed::Fixed(1);
    let config = Config { cases: 128, failure_persistence: None, rng_seed: seed, ..Config::default() };
    let mut runner = TestRunner::new(config);
    let held = runner.run(&circuits, |(parts, amplifiers)| {
        if rules(&network(&parts, amplifiers, "ideal")).contains(&"latching") {
            latched.set(latched.get() + 1);
            let text = network(&parts, amplifiers, "near");
            let real = rules(&text);
            prop_assert!(real.contains(&"unstable"), "{text}{real:?}");
        }
        Ok(())
    });
    held.unwrap_or_else(|why| panic!("{why}"));
    // A search that meets none would show nothing.
    assert!(latched.get() >= 8, "{latched:?}");
}
