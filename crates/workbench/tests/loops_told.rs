//! What is said of loops names what has a say in them, and a cure that fits.

use workbench::{Answer, Style, Workbench};

fn bench(text: &str) -> Workbench {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.into());
    bench
}

/// A second-order section around an amplifier of this gain, with a control beside it that has no say.
fn section(resistor: &str) -> String {
    format!(
        "design\n  supply vpos +12 V, vneg -12 V\n  source in 0.1 V\nstage a: in -> out\n  in -- R1 10k -- p -- R2 10k -- q -- C1 10n -- gnd\n  \
         p -- C2 10n -- out\n  U1a tl072: + q, - f, out out\n  out -- R4 {resistor} -- f -- R5 10k -- gnd\n  \
         in -- R3 1k -- z -- VR1 10k lin -- gnd\n"
    )
}

#[test]
fn a_control_without_a_say_in_the_poles_is_not_named() {
    let all = bench(&section("5k6")).snapshot().read("a.stage", "natural frequency of a");
    let [Answer::Reading(found)] = all.as_slice() else { panic!("{all:?}") };
    assert_eq!((found.unknown(), &found.range), (None, &None), "{}", found.line(Style::default()));
}

#[test]
fn a_filter_that_has_too_much_gain_is_told_to_take_less() {
    let problems = bench(&section("30k")).snapshot().problems("a.stage");
    let told = problems.iter().find(|p| p.id == "unstable").expect("it grows");
    assert!(told.message.contains("less gain in its loop"), "{}", told.message);
    assert!(!told.message.contains("load of capacitance"), "{}", told.message);
}
