//! What rails give and amplifiers turn into heat at rest, on designs whose answers follow on paper.

use workbench::{Answer, Reading, Snapshot, Style, Value, Verdict, Workbench};

fn open(text: &str) -> Snapshot {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.to_string());
    bench.snapshot()
}

fn read(text: &str, phrase: &str) -> Reading {
    match open(text).read("a.stage", phrase).remove(0) {
        Answer::Reading(r) => *r,
        Answer::Wrong(fault) => panic!("{phrase}: {}", fault.message),
    }
}

fn near(text: &str, phrase: &str, wanted: f64) {
    let reading = read(text, phrase);
    match reading.value {
        Value::Real(x) => assert!((x / wanted - 1.0).abs() < 1e-4, "{phrase}: {x}, not {wanted}"),
        _ => panic!("{}", reading.line(Style::default())),
    }
}

fn unknown(text: &str, phrase: &str) -> String {
    let reading = read(text, phrase);
    reading.unknown().map_or_else(|| panic!("{}", reading.line(Style::default())), str::to_string)
}

fn wrong(text: &str, phrase: &str) -> String {
    match open(text).read("a.stage", phrase).remove(0) {
        Answer::Wrong(fault) => fault.message,
        Answer::Reading(r) => panic!("{}", r.line(Style::default())),
    }
}

/// One amplifier gives 6 mA at +6 V, the other takes 3 mA at −3 V.
const PAIR: &str = "
datasheet amp: opamp
  gain bandwidth typ 3 MHz
  open loop gain 120 dB
  swing from rails 1.5 V
  input range from low rail 1 V
  input range from high rail 1 V
  output current 20 mA
  supply current typ 1.4 mA, max 2.5 mA

design
  supply vp +12 V, vm -12 V

stage bias: vp -> top
  vp -- R1 10k -- p
  p -- R2 10k -- gnd
  U1a amp: + p, - top, out top
  top -- R3 1k -- gnd

stage lower: vm -> bottom
  vm -- R4 30k -- n
  n -- R5 10k -- gnd
  U1b amp: + n, - bottom, out bottom
  bottom -- R6 1k -- gnd
";

#[test]
fn a_rail_gives_what_parts_amplifiers_and_their_loads_take() {
    // 12 V over 20 kΩ, two amplifiers of 2.5 mA, and the one load that stands above gnd.
    near(PAIR, "supply current of vp", 0.6e-3 + 2.0 * 2.5e-3 + 6e-3);
    near(PAIR, "supply current of vm", 0.3e-3 + 2.0 * 2.5e-3 + 3e-3);
    let working = read(PAIR, "supply current of vp").working.join("\n");
    assert!(
        working.contains("into parts 600 µA") && working.contains("U1a: 2.5 mA of its own (amp), 6.00 mA for its load"),
        "{working}"
    );
}

#[test]
fn an_amplifier_is_heated_by_its_own_current_and_by_its_loads() {
    // 2.5 mA across 24 V; 6 mA across 6 V; 3 mA across 9 V.
    near(PAIR, "dissipation of U1a", 60e-3 + 36e-3);
    near(PAIR, "dissipation of U1b", 60e-3 + 27e-3);
    near(PAIR, "dissipation of U1", 183e-3);
}

#[test]
fn a_typical_figure_is_told_as_one() {
    let typical = PAIR.replace(", max 2.5 mA", "");
    let line = read(&typical, "dissipation of U1a").line(Style::default());
    assert!(line.contains("(typ.: amp)"), "{line}");
    assert!(!read(PAIR, "dissipation of U1a").line(Style::default()).contains("typ."));
    near(&typical, "supply current of vm", 0.3e-3 + 2.0 * 1.4e-3 + 3e-3);
}

#[test]
fn what_is_missing_is_named() {
    let without = PAIR.replace("  supply current typ 1.4 mA, max 2.5 mA\n", "");
    for phrase in ["supply current of vp", "dissipation of U1"] {
        assert_eq!(unknown(&without, phrase), "amp has no supply current");
    }
    let ideal = PAIR.replace("U1a amp:", "U1a ideal:");
    assert!(unknown(&ideal, "supply current of vm").contains("U1a is ideal and has no supply current"));
    let none = "stage a: in -> out\n  U1a fet_dual: + in, - out, out out\n";
    assert!(unknown(none, "dissipation of U1a").contains("U1a has no supply"));
}

#[test]
fn a_resistor_at_a_rail_changes_nothing_of_what_that_gives() {
    let behind = PAIR.replace(
        "U1b amp: + n, - bottom, out bottom",
        "vm -- R7 10 -- vf\n  U1b amp: + n, - bottom, out bottom, supply vp vf",
    );
    near(&behind, "supply current of vm", 0.3e-3 + 2.0 * 2.5e-3 + 3e-3);
    near(&behind, "supply current of vp", 0.6e-3 + 2.0 * 2.5e-3 + 6e-3);
    near(&behind, "dc of vf", -12.0 + 10.0 * 5.5e-3);
}

/// A follower whose rails stand behind filters; what is left open of it says what follows.
fn filtered(rail: &str, rest: &str) -> String {
    format!(
        "
datasheet amp: opamp
  gain bandwidth typ 3 MHz
  open loop gain 120 dB
  swing from rails 1.5 V
  output current 20 mA
  supply current typ 1.4 mA, max 2.5 mA

design
  supply vp +12 V, vm -12 V
stage f: vp, vm -> vpf, vmf
  vp -- {rail} -- vpf -- C1 100u -- gnd
  vm -- R2 470 -- vmf -- C2 100u -- gnd
stage a: in -> out
  in -- R3 10k -- gnd
  U1a amp: + in, - out, out out, supply vpf vmf
{rest}"
    )
}

#[test]
fn an_amplifier_draws_by_way_of_the_parts_at_its_rails() {
    // 2.5 mA in 470 Ω are 1.175 V, at either rail.
    let quiet = filtered("R1 470", "  out -- R4 10k -- gnd\n");
    near(&quiet, "dc of vpf", 12.0 - 1.175);
    near(&quiet, "dc of vmf", -12.0 + 1.175);
    near(&quiet, "voltage of R1", 1.175);
    near(&quiet, "power of R1", 2.5e-3 * 1.175);
    near(&quiet, "dissipation of U1a", 2.5e-3 * 2.0 * (12.0 - 1.175));
    for rail in ["vp", "vm"] {
        near(&quiet, &format!("supply current of {rail}"), 2.5e-3);
    }
    near(&quiet, "clip level of out", (12.0 - 1.175 - 1.5) / 2f64.sqrt());
    let working = read(&quiet, "dc of vpf").working.join("\n");
    assert!(working.contains("U1a draws from vpf and vmf: 2.5 mA of its own (amp)"), "{working}");
    // A typical figure marks what rests on it.
    let line = read(&quiet.replace(", max 2.5 mA", ""), "dc of vpf").line(Style::default());
    assert!(line.contains("(typ.: amp)"), "{line}");
    // Behind an inductor or a link the rail stands where the supply does, and the supply gives what is drawn.
    for part in ["L1 10m", "R1 0"] {
        let text = filtered(part, "  out -- R4 10k -- gnd\n");
        near(&text, "dc of vpf", 12.0);
        near(&text, "supply current of vp", 2.5e-3);
    }
}

#[test]
fn what_an_output_gives_comes_by_way_of_its_rail() {
    // The output stands at a third of its own rail: v = 12 V − 470 Ω · (2.5 mA + v/30 kΩ + v/3/1 kΩ).
    let text = filtered("R1 470", "  vpf -- R5 20k -- b\n  out -- R4 1k -- gnd\n")
        .replace("in -- R3 10k", "in -- C3 10u -- b -- R3 10k")
        .replace("+ in", "+ b");
    let v = (12.0 - 470.0 * 2.5e-3) / (1.0 + 470.0 / 30e3 + 470.0 / 3e3);
    near(&text, "dc of vpf", v);
    near(&text, "dc of vmf", -12.0 + 1.175);
    near(&text, "dc of out", v / 3.0);
    near(&text, "supply current of vp", (12.0 - v) / 470.0);
    near(&text, "dissipation of U1a", 2.5e-3 * (v + 12.0 - 1.175) + v / 3e3 * (v * 2.0 / 3.0));
    // A load that is heavier than the rail's own resistance pulls that down and itself with it.
    let heavy = text.replace("R4 1k", "R4 100").replace("output current 20 mA", "output current 60 mA");
    near(&heavy, "dc of vpf", (12.0 - 470.0 * 2.5e-3) / (1.0 + 470.0 / 30e3 + 470.0 / 300.0));
}

#[test]
fn an_output_that_is_a_rail_carries_what_is_drawn_from_it() {
    let text = PAIR.replace("output current 20 mA", "output current 60 mA")
        + "
stage x: top -> o
  vp -- R7 10k -- i
  i -- R9 30k -- gnd
  U2a amp: + i, - o, out o, supply vp top
  o -- R8 1k -- gnd
";
    // U2a's own 2.5 mA flow into U1a's output, which gives 3.5 mA then; U2a gives 9 mA, and its divider takes 0.3 mA.
    near(&text, "dissipation of U1a", 60e-3 + 3.5e-3 * 6.0);
    near(&text, "dissipation of U2a", 2.5e-3 * 6.0 + 9e-3 * 3.0);
    near(&text, "supply current of vp", 0.6e-3 + 0.3e-3 + 3.0 * 2.5e-3 + 3.5e-3 + 9e-3);
}

#[test]
fn what_hangs_on_a_rail_is_unknown_where_it_is_not_known_what_is_drawn() {
    let quiet = filtered("R1 470", "  out -- R4 10k -- gnd\n");
    let without = quiet.replace("  supply current typ 1.4 mA, max 2.5 mA\n", "");
    for phrase in ["dc of vpf", "power of R1", "clip level of out", "dissipation of U1a", "supply current of vp"] {
        let why = unknown(&without, phrase);
        assert_eq!(why, "U1a draws from vpf and vmf, which no supply holds, and amp has no supply current", "{phrase}");
    }
    let starved = filtered("R1 10k", "  out -- R4 10k -- gnd\n");
    assert!(unknown(&starved, "dc of out").contains("leaves U1a nothing between its rails"));
}

#[test]
fn a_package_draws_for_the_units_that_the_text_does_not_name() {
    let quad = PAIR.replace("datasheet amp: opamp", "datasheet amp: opamp\n  amplifiers in package 4");
    near(&quad, "supply current of vp", 0.6e-3 + 4.0 * 2.5e-3 + 6e-3);
    near(&quad, "dissipation of U1", 183e-3 + 2.0 * 60e-3);
    near(&quad, "dissipation of U1a", 96e-3);
    for phrase in ["supply current of vp", "dissipation of U1"] {
        let working = read(&quad, phrase).working.join("\n");
        assert!(working.contains("U1c, U1d, which the text does not name: "), "{working}");
    }
    // Behind a filter too.
    let dual = filtered("R1 470", "  out -- R4 10k -- gnd\n")
        .replace("datasheet amp: opamp", "datasheet amp: opamp\n  amplifiers in package 2");
    near(&dual, "dc of vpf", 12.0 - 2.0 * 1.175);
    near(&dual, "supply current of vp", 5e-3);
}

#[test]
fn what_it_is_of_is_said_where_it_is_something_else() {
    assert_eq!(wrong(PAIR, "supply current of top"), "supply current is of a rail, and top is none: did you mean vp");
    assert!(wrong(PAIR, "supply current of R1").contains("is of a rail"));
    assert!(wrong(PAIR, "dissipation of R1").contains("`power of R1`"));
    assert!(wrong(PAIR, "power of U1a").contains("`dissipation of U1a`"));
    assert!(wrong(PAIR, "dissipation of U1a at 1 kHz").contains("at rest"));
}

#[test]
fn a_budget_is_decided_over_tolerance_too() {
    let text = PAIR.replace("supply vp", "tolerance R 1 %\n  supply vp")
        + "
require
  supply current of vp < 11.65 mA
  supply current of vm < 9 mA
  dissipation of U1a < 100 mW
";
    let statements = open(&text).statements("a.stage");
    let holds = |i: usize| statements[i].verdict == Verdict::Holds;
    assert!((0..3).all(holds), "{statements:?}");
    // The divider stands a per cent higher and the load is a per cent less: 6.12 mA, and 0.6 mA as before.
    let problems = open(&text).problems_over_tolerance("a.stage");
    let told: Vec<&str> = problems.iter().filter(|p| p.id == "requirement-tolerance").map(|p| &*p.message).collect();
    assert!(
        told.len() == 1 && told[0].starts_with("supply current of vp is 11.60 mA nominally and 11.72 mA at worst"),
        "{told:?}"
    );
}

#[test]
fn both_are_offered() {
    let text = format!("{PAIR}\nrequire\n  ");
    let all = open(&text).completions("a.stage", text.len());
    for words in ["supply current", "dissipation"] {
        assert!(all.items.iter().any(|c| c.label == words), "{words}");
    }
}
