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
    // What an amplifier draws by way of a resistor is no current of the circuit.
    let behind = PAIR.replace(
        "U1b amp: + n, - bottom, out bottom",
        "vm -- R7 10 -- vf\n  U1b amp: + n, - bottom, out bottom, supply vp vf",
    );
    assert!(unknown(&behind, "supply current of vm").contains("U1b is fed from vf, which is no rail"));
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
