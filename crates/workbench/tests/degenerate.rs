//! Circuits without one answer, or with one at alternating voltage alone: each gets one sentence with its names, at its place, and what
//! hangs on the fault is unknown with the same names while the rest keeps its figures.

use workbench::{Answer, Severity, Workbench};

/// A circuit, what is said of it and what can be read of it.
struct Case {
    text: &'static str,
    /// The rule, and whether it is an error.
    rule: (&'static str, Severity),
    /// What the sentence must name, and what it must say of it.
    says: &'static [&'static str],
    /// The line (from 1) and the words that it stands at.
    place: (usize, &'static str),
    /// Readings that are unknown, with what must stand in the reason.
    unknown: &'static [(&'static str, &'static str)],
    /// Readings that are known all the same, as they are printed.
    known: &'static [(&'static str, &'static str)],
}

fn holds(case: &Case) {
    let mut bench = Workbench::new();
    bench.set_text("a", case.text.into());
    let snapshot = bench.snapshot();
    let problems = snapshot.problems("a");
    let [problem] = &problems[..] else { panic!("one thing is wrong, and it is told once: {problems:#?}") };
    assert_eq!((problem.id, problem.severity), case.rule, "{}", problem.message);
    for word in case.says {
        assert!(problem.message.contains(word), "{word} in: {}", problem.message);
    }
    let line = case.text[..problem.range.start].matches('\n').count() + 1;
    assert_eq!((line, &case.text[problem.range.clone()]), case.place, "{}", problem.message);
    let read = |phrase: &str| match &snapshot.read("a", phrase)[..] {
        [Answer::Reading(reading)] => (**reading).clone(),
        other => panic!("{phrase}: {other:?}"),
    };
    for (phrase, why) in case.unknown {
        let reading = read(phrase);
        let told = reading.unknown().unwrap_or_else(|| panic!("{phrase} is known: {reading:?}"));
        assert!(told.contains(why), "{phrase} is unknown: {told}");
    }
    for (phrase, wanted) in case.known {
        let reading = read(phrase);
        assert_eq!(reading.unknown(), None, "{phrase}");
        assert_eq!(reading.value_text(workbench::Style::default()), *wanted, "{phrase}");
    }
}

#[test]
fn a_floating_island() {
    holds(&Case {
        text: "stage pad: in -> out\n  in -- R1 10k -- out\n  out -- R2 10k -- gnd\n  x -- R3 1k -- y\n  x -- C1 1n -- y\n",
        rule: ("undetermined", Severity::Error),
        says: &["x and y", "gnd"],
        place: (4, "R3"),
        unknown: &[("gain in -> x", "x"), ("dc of y", "y")],
        known: &[("gain in -> out", "−6.0 dB"), ("dc of out", "0 V")],
    });
}

#[test]
fn a_node_between_two_capacitors() {
    holds(&Case {
        text: "stage pad: in -> out\n  in -- C1 10n -- out\n  out -- C2 10n -- gnd\n",
        rule: ("no-dc-path", Severity::Warning),
        says: &["out", "C1", "C2", "DC"],
        place: (2, "C1"),
        unknown: &[("dc of out", "out has no DC path"), ("offset of out", "out has no DC path")],
        known: &[("gain in -> out", "−6.0 dB")],
    });
}

#[test]
fn an_input_without_a_bias_return() {
    holds(&Case {
        text: "stage amp: in -> out\n  in -- C1 1u -- p\n  U1 fet_dual: + p, - out, out out\n",
        rule: ("no-bias-return", Severity::Warning),
        says: &["U1's + input", "bias current", "C1", "from p to gnd"],
        place: (3, "U1"),
        unknown: &[("dc of out", "U1's + input"), ("offset of out", "U1's + input")],
        known: &[("gain in -> out", "0.0 dB")],
    });
}

const INTEGRATOR: &str = "stage integrator: in -> out\n  in -- R1 10k -- sum\n  sum -- C1 10n -- out\n";

#[test]
fn an_ideal_integrator_without_feedback_at_dc() {
    holds(&Case {
        text: "stage integrator: in -> out\n  in -- R1 10k -- sum\n  sum -- C1 10n -- out\n  U1: + gnd, - sum, out out\n",
        rule: ("no-dc-feedback", Severity::Warning),
        says: &["U1", "out", "DC"],
        place: (4, "U1"),
        unknown: &[("dc of out", "U1 has no feedback at DC"), ("offset of out", "U1 has no feedback at DC")],
        known: &[("gain in -> out", "4.0 dB")],
    });
}

#[test]
fn an_integrator_with_a_finite_gain_has_an_offset() {
    let text = |offset: &str| {
        format!(
            "datasheet block: opamp\n  open loop gain 100 dB\n  gain bandwidth 1 MHz\n  input offset {offset}\n  input bias 0 nA\n\
             design\n  supply vp +12 V, vn -12 V\n{INTEGRATOR}  U1 block: + gnd, - sum, out out\n"
        )
    };
    let offset = |volts: &str| {
        let mut bench = Workbench::new();
        bench.set_text("a", text(volts));
        let snapshot = bench.snapshot();
        assert!(snapshot.problems("a").is_empty(), "{:?}", snapshot.problems("a"));
        match &snapshot.read("a", "offset of out")[..] {
            [Answer::Reading(reading)] => (**reading).clone(),
            other => panic!("{other:?}"),
        }
    };
    // At rest nothing but the open-loop gain is left of 100 dB.
    let found = offset("0.05 mV").magnitude().expect("it is known");
    assert!((found / 5.0 - 1.0).abs() < 1e-4, "{found}");
    let beyond = offset("1 mV");
    let why = beyond.unknown().expect("100 V do not fit between ±12 V");
    assert!(why.contains("U1") && why.contains("100 V"), "{why}");
}

#[test]
fn an_amplifier_without_feedback() {
    holds(&Case {
        text: "stage amp: in -> out\n  in -- R1 10k -- p\n  p -- R2 10k -- gnd\n  U1 fet_dual: + p, - m, out out\n  m -- R3 1k -- gnd\n  out -- R4 10k -- gnd\n",
        rule: ("no-feedback", Severity::Warning),
        says: &["U1", "out", "open-loop gain", "- input"],
        place: (4, "U1"),
        unknown: &[],
        known: &[("gain in -> p", "−6.0 dB")],
    });
    // Where its gain has no figure, neither has what hangs on it.
    holds(&Case {
        text: "stage amp: in -> out\n  in -- R1 10k -- p\n  p -- R2 10k -- gnd\n  U1: + p, - m, out out\n  m -- R3 1k -- gnd\n  out -- R4 10k -- gnd\n",
        rule: ("no-feedback", Severity::Error),
        says: &["U1", "out"],
        place: (4, "U1"),
        unknown: &[("gain in -> out", "U1"), ("dc of out", "U1")],
        known: &[("gain in -> p", "−6.0 dB")],
    });
}

#[test]
fn feedback_to_the_wrong_input() {
    holds(&Case {
        text: "stage amp: in -> out\n  in -- R1 1k -- m\n  U1 fet_dual: + fb, - m, out out\n  out -- R2 10k -- fb\n  fb -- R3 1k -- gnd\n",
        rule: ("unstable", Severity::Warning),
        says: &["U1", "+ side", "- input", "e-fold"],
        place: (3, "U1"),
        unknown: &[],
        known: &[],
    });
}

#[test]
fn both_inputs_forced() {
    holds(&Case {
        text: "stage amp: in, ref -> out\n  U1: + in, - ref, out out\n  out -- R1 10k -- ref\n",
        rule: ("no-feedback", Severity::Error),
        says: &["U1", "inputs", "out"],
        place: (2, "U1"),
        unknown: &[("gain in -> out", "U1"), ("dc of out", "U1"), ("offset of out", "U1")],
        known: &[],
    });
}

#[test]
fn outputs_tied() {
    holds(&Case {
        text: "stage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - fa, out out\n  out -- R2 10k -- fa\n  fa -- R3 1k -- gnd\n  U1b fet_dual: + in, - fb, out out\n  out -- R4 10k -- fb\n  fb -- R5 2k -- gnd\n",
        rule: ("outputs-tied", Severity::Error),
        says: &["U1a and U1b", "out", "resistor"],
        place: (6, "U1b"),
        unknown: &[
            ("gain in -> out", "U1a and U1b hold the same node"),
            ("output impedance of amp", "U1a and U1b hold the same node"),
            ("dc of out", "U1a and U1b hold the same node"),
            ("clip level of out", "U1a and U1b hold the same node"),
            ("noise of out", "U1a and U1b hold the same node"),
        ],
        known: &[],
    });
}

#[test]
fn outputs_tied_by_links() {
    let between = |one: &str, other: &str| {
        format!(
            "stage amp: in -> out\n  in -- R1 10k -- gnd\n  U1a {one}: + in, - o1, out o1\n  U1b {other}: + in, - o2, out o2\n  o1 -- R3 0R -- out\n  o2 -- R4 0R -- out\n"
        )
    };
    for (one, other) in [("fet_dual", "fet_dual"), ("ideal", "ideal"), ("ideal", "tl072"), ("tl072", "ideal")] {
        let text = between(one, other);
        let mut bench = Workbench::new();
        bench.set_text("a", text.clone());
        let problems = bench.snapshot().problems("a");
        let [problem] = &problems[..] else { panic!("{one} and {other}: {problems:#?}") };
        assert_eq!((problem.id, problem.severity), ("outputs-tied", Severity::Error));
        let said = "U1a and U1b drive the same node through R3 and R4, which have no resistance: neither decides its voltage. A resistor in each output would let them share it.";
        assert_eq!(problem.message, said, "{one} and {other}");
        for phrase in ["gain in -> out", "dc of o1", "clip level of out"] {
            let all = bench.snapshot().read("a", phrase);
            let [Answer::Reading(reading)] = &all[..] else { panic!("{all:?}") };
            assert!(reading.unknown().is_some(), "{phrase}: {reading:?}");
        }
        // With a resistor in each they share it.
        bench.set_text("a", text.replace("0R", "47R"));
        assert_eq!(bench.snapshot().problems("a").iter().filter(|p| p.severity == Severity::Error).count(), 0);
    }
}

#[test]
fn an_output_that_a_link_ties_to_ground() {
    for amplifier in ["tl072", "ideal"] {
        let text = format!(
            "stage amp: in -> out\n  in -- R2 10k -- gnd\n  U1a {amplifier}: + in, - out, out out\n  out -- R1 0R -- gnd\n"
        );
        let mut bench = Workbench::new();
        bench.set_text("a", text);
        let problems = bench.snapshot().problems("a");
        let [problem] = &problems[..] else { panic!("{amplifier}: {problems:#?}") };
        assert_eq!((problem.id, problem.severity), ("held-twice", Severity::Error));
        let said = "R1 ties U1a's output out to gnd: one works against the other, with all the current that U1a can give. A resistance in place of R1 would keep the two apart.";
        assert_eq!(problem.message, said, "{amplifier}");
    }
}

#[test]
fn several_nodes_without_a_path_have_none() {
    let text = "stage pad: in -> out\n  in -- C1 1u -- a -- R1 1k -- b -- C2 1u -- out\n  out -- R2 10k -- gnd\n";
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    let all = bench.snapshot().read("a", "dc of a");
    let [Answer::Reading(reading)] = &all[..] else { panic!("{all:?}") };
    assert_eq!(reading.unknown(), Some("a and b have no DC path"));
}

#[test]
fn two_ideal_outputs_tied_decide_nothing() {
    let text = "stage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a: + in, - fa, out out\n  out -- R2 10k -- fa\n  fa -- R3 1k -- gnd\n  U1b: + in, - fb, out out\n  out -- R4 10k -- fb\n  fb -- R5 2k -- gnd\n";
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    for phrase in ["gain in -> out", "dc of out"] {
        match &bench.snapshot().read("a", phrase)[..] {
            [Answer::Reading(reading)] => {
                let why = reading.unknown().unwrap_or_else(|| panic!("{phrase} is known: {reading:?}"));
                assert!(why.contains("U1a and U1b hold the same node"), "{why}");
            }
            other => panic!("{phrase}: {other:?}"),
        }
    }
}

#[test]
fn a_loop_of_inductors() {
    holds(&Case {
        text: "stage choke: in -> out\n  in -- R1 1k -- out\n  out -- L1 1m -- gnd\n  out -- L2 2m -- gnd\n",
        rule: ("inductor-loop", Severity::Warning),
        says: &["L1 and L2", "direct current"],
        place: (3, "L1"),
        unknown: &[],
        known: &[("dc of out", "0 V"), ("gain in -> out", "−47.6 dB")],
    });
}

#[test]
fn an_inductor_across_a_supply() {
    holds(&Case {
        text: "design\n  supply vcc +12 V\nstage choke: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n  vcc -- L1 1m -- gnd\n",
        rule: ("inductor-across-source", Severity::Warning),
        says: &["L1", "DC", "short circuit"],
        place: (6, "L1"),
        unknown: &[("current of L1", "L1")],
        known: &[("gain in -> out", "−6.0 dB")],
    });
}

#[test]
fn what_hangs_on_a_supply_that_an_inductor_shorts() {
    // Whether the supply or the short wins at rest, nobody knows; signals do not mind.
    holds(&Case {
        text: "design\n  supply vcc +12 V\n  source in 1 V\nstage choke: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n  vcc -- L1 1m -- gnd\n  vcc -- R3 1k -- half\n  half -- R4 1k -- gnd\n",
        rule: ("inductor-across-source", Severity::Warning),
        says: &["L1", "DC", "short circuit"],
        place: (7, "L1"),
        unknown: &[("dc of half", "L1 stands across"), ("dc of vcc", "L1"), ("power of R3", "L1")],
        known: &[("gain in -> out", "−6.0 dB"), ("dc of out", "0 V"), ("gain vcc -> half", "−6.0 dB")],
    });
    holds(&Case {
        text: "design\n  supply hot +12 V, cold -12 V\nstage choke: hot -> half\n  hot -- L1 1m -- cold\n  hot -- R3 1k -- half\n  half -- R4 1k -- gnd\n",
        rule: ("inductor-across-source", Severity::Warning),
        says: &["L1"],
        place: (4, "L1"),
        unknown: &[("dc of half", "L1"), ("current of L1", "L1")],
        known: &[("gain hot -> half", "−6.0 dB")],
    });
    // Between equal voltages there is no contradiction, and no telling what current flows.
    holds(&Case {
        text: "design\n  supply hot +12 V, cold +12 V\nstage choke: hot -> half\n  hot -- L1 1m -- cold\n  hot -- R3 1k -- half\n  half -- R4 1k -- gnd\n",
        rule: ("inductor-across-source", Severity::Warning),
        says: &["L1"],
        place: (4, "L1"),
        unknown: &[("current of L1", "L1")],
        known: &[("dc of half", "6 V")],
    });
}

#[test]
fn an_inductor_from_an_output_to_gnd() {
    holds(&Case {
        text: "design\n  supply vp +12 V, vn -12 V\n  source in 1 mV\nstage amp: in -> out\n  in -- R1 10k -- gnd\n  U1a ne5532: + in, - out, out out\n  out -- L1 100m -- gnd\n",
        rule: ("inductor-across-source", Severity::Warning),
        says: &["L1 ties U1a's output to gnd at DC", "all the current", "capacitor in series with L1"],
        place: (7, "L1"),
        unknown: &[
            ("clip level of out", "L1 ties U1a's output to gnd"),
            ("current of L1", "L1 ties U1a's output to gnd"),
        ],
        known: &[("gain in -> out", "0.0 dB"), ("dc of out", "0 V")],
    });
}

#[test]
fn every_loop_of_inductors_is_told() {
    let text = "stage coil: in -> o\n  in -- R1 1k -- o\n  o -- L1 1m -- x -- L2 1m -- o\n  o -- L3 1m -- y -- L4 1m -- o\n  o -- L5 1m -- gnd\n  o -- L6 1m -- gnd\n";
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    let said: Vec<String> = bench.snapshot().problems("a").iter().map(|p| p.message.clone()).collect();
    assert_eq!(said.len(), 3, "{said:?}");
    for (one, pair) in said.iter().zip(["L1 and L2", "L3 and L4", "L5 and L6"]) {
        assert!(one.starts_with(&format!("{pair} form a loop")), "{said:?}");
    }
}

#[test]
fn two_sources_in_parallel() {
    holds(&Case {
        text: "design\n  source a 1 V\n  source b 2 V\nstage mix: a, b -> out\n  a -- R1 0R -- b\n  b -- R2 1k -- out\n  out -- R3 1k -- gnd\n",
        rule: ("held-twice", Severity::Error),
        says: &["R1, a and b", "resistance between them"],
        place: (5, "R1"),
        unknown: &[("gain a -> out", "R1, a and b"), ("level of out", "R1, a and b")],
        known: &[],
    });
    holds(&Case {
        text: "design\n  source a 1 V\n  source a 2 V\nstage mix: a -> out\n  a -- R2 1k -- out\n  out -- R3 1k -- gnd\n",
        rule: ("repeated-source", Severity::Error),
        says: &["a has a source of 1 V already"],
        place: (3, "a"),
        unknown: &[("level of out", "a")],
        known: &[("gain a -> out", "−6.0 dB")],
    });
}

#[test]
fn an_open_input() {
    holds(&Case {
        text: "stage amp: in -> out\n  in -- R1 10k -- sum\n  U1 fet_dual: + p, - sum, out out\n  out -- R2 10k -- sum\n",
        rule: ("node-used-once", Severity::Warning),
        says: &["p", "U1"],
        place: (3, "p"),
        unknown: &[("dc of out", "U1's + input is open"), ("offset of out", "U1's + input is open")],
        known: &[],
    });
    // Left out altogether, it is a terminal that is missing, and nothing is guessed.
    holds(&Case {
        text: "stage amp: in -> out\n  in -- R1 10k -- sum\n  U1 fet_dual: - sum, out out\n  out -- R2 10k -- sum\n",
        rule: ("terminal-missing", Severity::Error),
        says: &["U1", "+"],
        place: (3, ""),
        unknown: &[("gain in -> out", "line 3")],
        known: &[],
    });
}

/// A pad between two legs has no voltage against gnd; what mends it is written by the quick fix, and the difference is known then.
#[test]
fn a_pad_that_floats_is_tied_by_both_legs() {
    let text = "design\n  balanced line: hot, cold\n  balanced padded: a, b\nstage pad: hot, cold -> a, b\n  hot -- R1 1k -- a\n  cold -- R2 1k -- b\n  a -- R3 600 -- b\n";
    let said = |text: &str| {
        let mut bench = Workbench::new();
        bench.set_text("a", text.into());
        let problems = bench.snapshot().problems("a");
        problems.iter().filter(|p| p.severity == Severity::Error).cloned().collect::<Vec<_>>()
    };
    let all = said(text);
    assert_eq!(all.iter().map(|p| p.id).collect::<Vec<_>>(), ["undetermined"], "{all:?}");
    assert!(all[0].message.contains("Two equal resistors, from hot and from cold to gnd"), "{}", all[0].message);
    let edit = &all[0].fixes[0].edits[0];
    let mut mended = text.to_string();
    mended.replace_range(edit.range.clone(), &edit.text);
    assert!(mended.contains("  hot -- R4 100k -- gnd\n  cold -- R5 100k -- gnd\n"), "{mended}");
    assert_eq!(said(&mended), []);
    // 600/(600 + 2·1000) = −12.74 dB; the ideal source does not feel the two resistors.
    let mut bench = Workbench::new();
    bench.set_text("a", mended);
    match &bench.snapshot().read("a", "gain line -> padded")[..] {
        [Answer::Reading(r)] => assert_eq!(r.value_text(workbench::Style::default()), "−12.7 dB"),
        other => panic!("{other:?}"),
    }
}
