//! Poles, margins and growth as the notation defines them, on designs whose answers follow on paper.

use workbench::{Answer, Reading, Severity, Snapshot, Status, Style, Value, Workbench};

fn open(text: &str) -> Snapshot {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.to_string());
    bench.snapshot()
}

fn read(snapshot: &Snapshot, phrase: &str) -> Reading {
    match snapshot.read("a.stage", phrase).remove(0) {
        Answer::Reading(r) => *r,
        Answer::Wrong(fault) => panic!("{phrase}: {}", fault.message),
    }
}

fn value(snapshot: &Snapshot, phrase: &str) -> f64 {
    let reading = read(snapshot, phrase);
    match reading.value {
        Value::Real(x) => x,
        _ => panic!("{}", reading.line(Style::default())),
    }
}

fn unknown(snapshot: &Snapshot, phrase: &str) -> String {
    let reading = read(snapshot, phrase);
    match reading.unknown() {
        Some(why) => why.to_string(),
        None => panic!("{}", reading.line(Style::default())),
    }
}

fn unstable(snapshot: &Snapshot) -> Vec<String> {
    let problems = snapshot.problems("a.stage");
    problems.iter().filter(|p| p.id == "unstable").map(|p| p.message.clone()).collect()
}

const SECTIONS: &str = "
stage first: in -> a
  in -- R1 10k -- x1 -- R2 10k -- y1
  x1 -- C1 20n -- a
  y1 -- C2 10n -- gnd
  U1a: + y1, - a, out a

stage second: a -> out
  a  -- R3 10k -- x2 -- R4 10k -- y2
  x2 -- C3 100n -- out
  y2 -- C4 1n -- gnd
  U1b: + y2, - out, out out
";

#[test]
fn each_section_behind_an_ideal_output_has_its_own_pair() {
    let s = open(SECTIONS);
    // f₀ = 1/(2π R √(C₁C₂)), Q = √(C₁/C₂)/2
    let f = |c1: f64, c2: f64| 1.0 / (std::f64::consts::TAU * 1e4 * (c1 * c2).sqrt());
    assert!((value(&s, "natural frequency of first") / f(20e-9, 10e-9) - 1.0).abs() < 1e-13);
    assert!((value(&s, "natural frequency of second") / f(100e-9, 1e-9) - 1.0).abs() < 1e-13);
    assert!((value(&s, "q of first") - 0.5f64.sqrt()).abs() < 1e-13);
    assert!((value(&s, "q of second") - 5.0).abs() < 1e-12);
    assert!(matches!(read(&s, "q of second").status, Status::Exact));
}

#[test]
fn a_section_of_real_amplifiers_keeps_its_own_pair() {
    // An output resistance feels the next stage: one block, and yet each pair moves with the parts of one stage.
    let sheet = "datasheet real: opamp\n  gain bandwidth 100 MHz\n  output resistance 50 ohm\n";
    let s = open(&format!("{sheet}{}", SECTIONS.replace("U1a:", "U1a real:").replace("U1b:", "U1b real:")));
    assert!((value(&s, "q of first") / 0.5f64.sqrt() - 1.0).abs() < 0.02, "{}", value(&s, "q of first"));
    assert!((value(&s, "q of second") / 5.0 - 1.0).abs() < 0.05);
    let working = read(&s, "q of first").working.join("\n");
    assert!(working.contains("first and second act on one another, order 6; first's own: poles at"), "{working}");
}

#[test]
fn a_right_formula_of_a_section_of_real_amplifiers_is_right() {
    let text = "
design
  supply vp +15 V, vm -15 V

stage one: in -> a
  in -- R1 10k -- x -- R2 10k -- y
  x  -- C1 17.2n -- a
  y  -- C2 14.7n -- gnd
  U1a tl072: + y, - a, out a

stage two: a -> out
  a -- R3 10k -- z -- R4 10k -- w
  z -- C3 41.6n -- out
  w -- C4 6.09n -- gnd
  U1b tl072: + w, - out, out out

formula
  q of one = sqrt(R1*R2*C1*C2) / (C2*(R1 + R2))
  q of two = sqrt(R3*R4*C3*C4) / (C4*(R3 + R4))

require
  q of one = 0.541 ± 2 %
  q of two = 1.31 ± 2 %
";
    let s = open(text);
    assert_eq!(s.problems("a.stage").iter().map(|p| p.message.clone()).collect::<Vec<_>>(), Vec::<String>::new());
    assert!((value(&s, "q of one") / 0.541 - 1.0).abs() < 0.01, "{}", value(&s, "q of one"));
    assert!((value(&s, "q of two") / 1.307 - 1.0).abs() < 0.01, "{}", value(&s, "q of two"));
    // The hover of a heading tells the stage's poles, not the neighbour's.
    let hover = s.hover("a.stage", text.find("stage one").expect("there") + 7).expect("a hover");
    let said = format!("{hover:?}");
    assert!(said.contains("with Q 0.54") && !said.contains("with Q 1.3"), "{said}");
}

#[test]
fn a_pair_that_the_gain_bandwidth_alone_makes_is_no_natural_frequency() {
    let text = "
design
  supply vp +15 V, vm -15 V

stage buffer: in -> a
  in -- R9 1M -- gnd
  U1a tl072: + in, - a, out a

stage second: a -> c
  a -- R1 10k -- b
  b -- C1 10n -- gnd
  U1b tl072: + b, - c, out c

stage third: c -> out
  c -- R2 10k -- m
  m -- R3 10k || C2 1n -- out
  U2a tl072: + gnd, - m, out out
";
    let s = open(text);
    for (stage, pole) in [("second", "1.59 kHz"), ("third", "15.")] {
        let why = unknown(&s, &format!("q of {stage}"));
        assert!(why.contains("one pole only") && why.contains(pole), "{why}");
    }
    let why = unknown(&s, "natural frequency of buffer");
    assert!(why.contains("no pair of poles but its amplifiers' own"), "{why}");
}

#[test]
fn a_loop_over_several_stages_answers_in_each() {
    let s = open(
        "
design
  supply vp +15 V, vm -15 V

stage summer: in, bp, lp -> hp
  in -- R1 10k -- sum
  lp -- R2 10k -- sum
  hp -- R3 10k -- sum
  bp -- R6 100k -- plus
  plus -- R7 10k -- gnd
  U1a tl072: + plus, - sum, out hp

stage first: hp -> bp
  hp -- R4 10k -- s1
  s1 -- C1 22n -- bp
  U1b tl072: + gnd, - s1, out bp

stage second: bp -> lp
  bp -- R5 10k -- s2
  s2 -- C2 22n -- lp
  U2a tl072: + gnd, - s2, out lp
",
    );
    for stage in ["summer", "first", "second"] {
        let f = value(&s, &format!("natural frequency of {stage}"));
        assert!((f / 723.4 - 1.0).abs() < 0.01, "{stage}: {f}");
        // Q = (1 + R6/R7)/3
        let q = value(&s, &format!("q of {stage}"));
        assert!((q / (11.0 / 3.0) - 1.0).abs() < 0.02, "{stage}: {q}");
    }
}

#[test]
fn real_poles_are_a_pair_too_and_one_alone_is_none() {
    let two =
        open("stage net: in -> out\n  in -- R1 1k -- a -- R2 1k -- out\n  a -- C1 1u -- gnd\n  out -- C2 1u -- gnd\n");
    // s² + 3s/RC + 1/(RC)²: Q is ⅓.
    assert!((value(&two, "q of net") - 1.0 / 3.0).abs() < 1e-14);
    assert!((value(&two, "natural frequency of net") - 1e3 / std::f64::consts::TAU).abs() < 1e-11);
    let one = open("stage net: in -> out\n  in -- R1 1k -- out\n  out -- C2 1u -- gnd\n");
    let why = unknown(&one, "q of net");
    assert!(why.contains("one pole only, 159 Hz real"), "{why}");
    let none = open("stage net: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n");
    assert!(unknown(&none, "q of net").contains("no pole"));
}

#[test]
fn a_control_moves_the_pair_and_the_range_says_so() {
    let s = open(&SECTIONS.replace("R3 10k", "VR1 10k lin"));
    // At 0 Ω one time constant is 0, and no pair is left there: the range is not known, and says where.
    let gap = read(&s, "natural frequency of second").gap.expect("a position without a pair");
    assert!(gap.contains("at VR1 0 %") && gap.contains("one pole only"), "{gap}");
    let reading = read(&open(&SECTIONS.replace("R3 10k", "R3 1k -- v -- VR1 10k lin")), "q of second");
    let ends = reading.range.expect("over VR1").ends.map(|e| e.value.expect("a number"));
    // Q = √(C₁/C₂ · R₃R₄)/(R₃ + R₄) with R₃ from 1k to 11k.
    let q = |r3: f64| 10.0 * (r3 * 1e4).sqrt() / (r3 + 1e4);
    assert!((ends[0] - q(1e3)).abs() < 1e-12 && (ends[1] - q(1.1e4)).abs() < 1e-12, "{ends:?}");
}

#[test]
fn a_missing_value_elsewhere_leaves_a_section_alone() {
    let s = open(&SECTIONS.replace("C3 100n", "C3"));
    assert!((value(&s, "q of first") - 0.5f64.sqrt()).abs() < 1e-13);
    assert!(unknown(&s, "q of second").contains("C3"));
}

#[test]
fn what_is_the_circuits_own_takes_no_frequency() {
    for (text, phrase, why) in [
        (SECTIONS, "q of first at 1 kHz", "circuit's own"),
        (FOLLOWER, "phase margin of U1 over 1 Hz .. 1 kHz", "own crossings"),
    ] {
        let answers = open(text).read("a.stage", phrase);
        assert!(matches!(&answers[..], [Answer::Wrong(fault)] if fault.message.contains(why)), "{answers:?}");
    }
}

const FOLLOWER: &str = "
datasheet amp: opamp
  open loop gain 100 dB
  gain bandwidth 10 MHz
  output resistance 100 ohm

stage follower: in -> out
  in -- R1 100k -- gnd
  U1 amp: + in, - out, out out
  out -- C1 10n external -- gnd
";

#[test]
fn a_followers_margins_are_those_of_its_algebra() {
    // T = A/(1 + s R_out C) with A = 1/(1e-5 + s/ω_t): two poles, so |T| = 1 solves a quadratic in ω².
    let s = open(FOLLOWER);
    let (wt, t) = (std::f64::consts::TAU * 1e7, 100.0 * 10e-9);
    let (a, b, c) = (t * t / (wt * wt), 1.0 / (wt * wt) + t * t * 1e-10, 1e-10 - 1.0);
    let w = ((-b + (b * b - 4.0 * a * c).sqrt()) / (2.0 * a)).sqrt();
    let margin = 180.0 - ((w / wt).atan2(1e-5) + (w * t).atan()).to_degrees();
    assert!((value(&s, "phase margin of U1") - margin).abs() < 1e-9, "{margin}");
    assert_eq!(value(&s, "gain margin of U1"), f64::INFINITY);
    assert!(read(&s, "gain margin of U1").line(Style::default()).contains("unconditional"));
    assert!(unstable(&s).is_empty());
}

#[test]
fn a_resistor_in_front_of_a_cable_gives_phase_back() {
    let near = FOLLOWER.replace("out -- C1 10n external -- gnd", "out -- R2 47 -- line -- C1 10n external -- gnd");
    assert!(value(&open(&near), "phase margin of U1") > value(&open(FOLLOWER), "phase margin of U1") + 20.0);
}

#[test]
fn what_lacks_a_margin_says_what_is_missing() {
    let ideal = open("stage f: in -> out\n  in -- R1 1k -- gnd\n  U1: + in, - out, out out\n");
    assert!(unknown(&ideal, "phase margin of U1").contains("ideal"));
    let bare = open(&FOLLOWER.replace("  gain bandwidth 10 MHz\n", ""));
    assert!(unknown(&bare, "gain margin of U1").contains("amp has no gain bandwidth"));
    // Another amplifier within the loop counts as much; one beside it does not.
    let other = "datasheet slow: opamp\n  open loop gain 80 dB\n";
    let within = FOLLOWER.replace("- out, out out", "- back, out out")
        + other
        + "\nstage behind: out -> back\n  U2 slow: + out, - back, out back\n";
    assert!(unknown(&open(&within), "phase margin of U1").contains("slow has no gain bandwidth"));
    let beside = FOLLOWER.to_string() + other + "\nstage behind: out -> far\n  U2 slow: + out, - far, out far\n";
    assert!(value(&open(&beside), "phase margin of U1") > 0.0);
}

#[test]
fn a_pole_on_the_right_fails_every_margin_of_the_circuit() {
    let oscillator = "
stage wien: start -> o
  start -- R9 10M -- p
  p -- R3 10k || C3 10n -- gnd
  o -- R4 10k -- x -- C4 10n -- p
  o -- R5 30k -- f -- R6 10k -- gnd
  U2 amp: + p, - f, out o
";
    let text =
        format!("{FOLLOWER}{oscillator}\nrequire\n  phase margin of U1 > 20 deg\n  phase margin of U1 < 89 deg\n");
    let s = open(&text);
    assert_eq!(value(&s, "phase margin of U1"), f64::NEG_INFINITY);
    let problems = s.problems("a.stage");
    assert_eq!(problems.iter().filter(|p| p.severity == Severity::Error && p.id == "requirement-fails").count(), 2);
    let said = unstable(&s);
    assert!(said.len() == 1 && said[0].starts_with("U2 oscillates at 1.59 kHz"), "{said:?}");
    assert!(value(&s, "q of wien") < 0.0);
    // The rest of the circuit keeps its figures.
    assert!(value(&s, "natural frequency of follower") > 1e5);
    let meant = format!("design\n  accept unstable for U2: \"it is the oscillator\"\n{text}");
    assert!(unstable(&open(&meant)).is_empty());
}

#[test]
fn a_position_at_which_it_grows_is_named() {
    let s = open(
        "
datasheet amp: opamp
  gain bandwidth 10 MHz

stage gain: in -> out
  in -- R1 10k -- p
  out -- R2 10k -- p
  U1 amp: + p, - f, out out
  out -- VR1 50k lin at 0 % -- f
  f -- R3 20k -- gnd
",
    );
    let said = unstable(&s);
    assert!(said.len() == 1 && said[0].contains("at VR1 50 %") && said[0].contains("runs away"), "{said:?}");
}

#[test]
fn a_decompensated_amplifier_has_45_degrees_at_its_minimum_gain() {
    let text = |r: &str| {
        format!(
            "datasheet fast: opamp\n  gain bandwidth 30 MHz\n  minimum gain 3\n\nstage amp: in -> out\n  in -- R1 1k -- gnd\n  U1 fast: + in, - fb, out out\n  out -- R2 {r} -- fb\n  fb -- R3 1k -- gnd\n"
        )
    };
    assert!((value(&open(&text("2k")), "phase margin of U1") - 45.0).abs() < 1e-9);
    // As a follower: ω = u·ω_t with 18u⁴ + u² = 1, and 90° − arctan(u√18).
    let u = ((73f64.sqrt() - 1.0) / 36.0).sqrt();
    let follower = 90.0 - (u * 18f64.sqrt()).atan().to_degrees();
    assert!((value(&open(&text("0R")), "phase margin of U1") - follower).abs() < 1e-9);
    assert!(value(&open(&text("9k")), "phase margin of U1") > 65.0);
    // The closed loop is 1 + N·s/ω_t·(1 + s/ω₂) = 0 with ω₂ = ω_t/(√2·N): ω₀² = ω_t²/(√2·N²).
    let f0 = value(&open(&text("2k")), "natural frequency of amp");
    assert!((f0 / (30e6 / (3.0 * 2f64.powf(0.25))) - 1.0).abs() < 1e-9, "{f0}");
}

fn hover(text: &str, at: &str) -> String {
    let offset = text.find(at).expect("it stands there");
    open(text).hover("a.stage", offset).expect("something to say").plain
}

#[test]
fn a_stage_tells_its_poles_and_zeros_when_the_pointer_rests_on_it() {
    let low = hover(SECTIONS, "second:");
    assert!(low.contains("order 2, poles at 1.59 kHz with Q 5"), "{low}");
    assert!(!low.contains("zeros"), "{low}");
    let notch = "stage notch: in -> out
  in -- R1 10k -- a -- R2 10k -- out
  a  -- C3 20n -- gnd
  in -- C1 10n -- b -- C2 10n -- out
  b  -- R3 5k -- gnd
";
    let notch = hover(notch, "notch:");
    assert!(
        notch.contains("order 3") && notch.contains("zeros: a notch at 1.59 kHz") && notch.contains("level far up"),
        "{notch}"
    );
    let high = hover("stage high: in -> out\n  in -- C1 1u -- out\n  out -- R1 1k -- gnd\n", "high:");
    assert!(high.contains("order 1, pole at 159 Hz real") && high.contains("zeros: one at the origin"), "{high}");
}
