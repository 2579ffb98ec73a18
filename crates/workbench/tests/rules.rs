//! The reviewer's rules: each fires on one side of its limit and is silent on the other, is silent where it is conceded, and its way
//! out gives a design of which nothing more is said.

mod said;

use std::collections::BTreeSet;

use said::bench;
use workbench::{Problem, Severity};

/// A design with `{}` where the two sides of a limit differ.
struct Case {
    rule: &'static str,
    /// What the finding is about, as `accept` names it.
    name: &'static str,
    text: &'static str,
    fires: &'static str,
    silent: &'static str,
    /// Its first way out is applied, and what is then said of the reviewer's rules is nothing.
    mends: bool,
}

/// The findings of the reviewer's rules.
fn found(text: &str) -> Vec<Problem> {
    let all = bench(text).snapshot().problems_reviewed("a", false);
    all.iter().filter(|p| workbench::is_reviewed(p.id)).cloned().collect()
}

fn applied(text: &str, problem: &Problem) -> String {
    let mut edits = problem.fixes[0].edits.clone();
    edits.sort_by_key(|e| std::cmp::Reverse(e.range.start));
    edits.into_iter().fold(text.to_string(), |mut text, e| {
        text.replace_range(e.range, &e.text);
        text
    })
}

const CASES: &[Case] = &[
    Case {
        rule: "loop-gain-low",
        name: "U1a",
        text: "design\n  band 20 Hz .. 20 kHz\nstage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - fb, out out\n  out -- R2 {} -- fb\n  fb -- R3 1k -- gnd\n",
        fires: "47k",
        silent: "46k",
        mends: false,
    },
    Case {
        rule: "phase-margin-low",
        name: "C1",
        text: "design\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - out, out out\n  out -- C1 {} -- gnd\n",
        fires: "760p",
        silent: "730p",
        mends: false,
    },
    Case {
        rule: "below-minimum-gain",
        name: "U1",
        text: "design\nstage amp: in -> out\n  in -- R1 10k -- gnd\n  U1 lownoise_gain3_single: + in, - fb, out out\n  out -- R2 {} -- fb\n  fb -- R3 1k -- gnd\n",
        fires: "1.8k",
        silent: "2.1k",
        mends: false,
    },
    Case {
        rule: "slew-rate-low",
        name: "U1",
        text: "design\n  band 20 Hz .. 20 kHz\n  supply vpos +12 V, vneg -12 V\n  source in {}\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  U1 general_single: + in, - out, out out\n",
        fires: "1.72 V",
        silent: "1.66 V",
        mends: false,
    },
    Case {
        rule: "clips-at-least-gain",
        name: "amp",
        text: "design\n  supply vpos +12 V, vneg -12 V\n  source in 1 V\nstage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - fb, out out\n  out -- R2 {} -- fb\n  fb -- R3 1k -- gnd\n",
        fires: "6.5k",
        silent: "6.4k",
        mends: false,
    },
    Case {
        rule: "common-mode-range",
        name: "U1a",
        text: "design\n  supply vpos +12 V, vneg -12 V\n  source in {}\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - out, out out\n",
        fires: "6.4 V",
        silent: "6.3 V",
        mends: false,
    },
    Case {
        rule: "rests-beyond-rails",
        name: "U1a",
        text: "design\n  supply v +5 V\nstage amp: in -> out\n  in -- C1 1u film -- p\n  v -- R1 100k -- p -- R2 100k -- gnd\n  U1a rail_dual: + p, - fb, out out\n  out -- R3 100k -- fb\n  fb -- R4 {} -- gnd\n",
        fires: "10k",
        silent: "10k -- C2 10u",
        mends: false,
    },
    Case {
        rule: "output-current-low",
        name: "U1a",
        text: "design\n  supply vpos +12 V, vneg -12 V\n  source in 5 V\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - out, out out\n  out -- R2 {} external -- gnd\n",
        fires: "350",
        silent: "357",
        mends: false,
    },
    Case {
        rule: "offset-beyond-rails",
        name: "U1a",
        text: "design\n  supply vpos +12 V, vneg -12 V\nstage integrator: in -> out\n  in -- R1 10k -- sum\n  U1a fet_dual: + gnd, - sum, out out\n  sum -- C1 10n {} -- out\n",
        fires: "",
        silent: "|| R2 1M",
        mends: false,
    },
    Case {
        rule: "offset-large",
        name: "U1a",
        text: "design\n  supply vpos +12 V, vneg -12 V\nstage amp: in -> out\n  in -- R1 1k -- gnd\n  U1a fet_dual: + in, - fb, out out\n  out -- R2 {} -- fb\n  fb -- R3 1k -- gnd\n",
        fires: "262k",
        silent: "261k",
        mends: false,
    },
    Case {
        rule: "source-loaded",
        name: "R1",
        text: "design\nstage element: emf -> in\n  emf -- R1 10k external -- in\nstage follower: in -> out\n  in -- R2 {} -- gnd\n  U1a fet_dual: + in, - out, out out\n",
        fires: "49k",
        silent: "51k",
        mends: false,
    },
    Case {
        rule: "source-in-gain",
        name: "R2",
        text: "design\nstage element: emf -> in\n  emf -- R1 500 external -- in\nstage amp: in -> out\n  in -- R2 {} -- sum\n  sum -- R3 22k -- out\n  U1a fet_dual: + gnd, - sum, out out\n",
        fires: "9.9k",
        silent: "10.1k",
        mends: false,
    },
    Case {
        rule: "corner-moves",
        name: "amp",
        text: "design\n  band 20 Hz .. 2 kHz\nstage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - fb, out out\n  out -- R2 10k -- fb\n  fb -- R3 100 -- VR1 10k log -- x -- C1 {} -- gnd\n",
        fires: "75u",
        silent: "82u",
        mends: false,
    },
    Case {
        rule: "corners-add-up",
        name: "second",
        text: "design\n  band 20 Hz .. 20 kHz\nstage first: in -> mid\n  in -- C1 100n -- p\n  p -- R1 {} -- gnd\n  U1a fet_dual: + p, - mid, out mid\nstage second: mid -> out\n  mid -- C2 100n -- q\n  q -- R2 {} -- gnd\n  U1b fet_dual: + q, - out, out out\n",
        fires: "121k",
        silent: "127k",
        mends: false,
    },
    Case {
        rule: "resistor-noise",
        name: "R1",
        text: "design\n  source in 1 mV\nstage follower: in -> out\n  in -- R1 {} -- p\n  U1a lownoise_dual: + p, - out, out out\n",
        fires: "2.7k",
        silent: "2.61k",
        mends: false,
    },
    Case {
        rule: "no-end-stop",
        name: "VR1",
        text: "design\nstage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - fb, out out\n  out -- R2 10k -- fb\n  fb -- {}VR1 10k revlog -- gnd\n",
        fires: "C1 100u -- ",
        silent: "R3 100 -- ",
        mends: true,
    },
    Case {
        rule: "wiper-opens-loop",
        name: "VR1",
        text: "design\nstage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - fb, out out\n  out -- R2 1k -- VR1 50k log -- fb\n{}  fb -- R3 1k -- gnd\n",
        fires: "",
        silent: "  out -- R4 560k -- fb\n",
        mends: true,
    },
    Case {
        rule: "direct-current-in-track",
        name: "VR1",
        text: "design\n  supply vcc +12 V, vneg -12 V\nstage amp: in -> level\n  in -- C1 1u -- p\n  vcc -- R1 {} -- p -- R2 1k -- gnd\n  U1a general_dual: + p, - top, out top\n  VR1 10k log: cw top, wiper level, ccw gnd\n",
        fires: "237k",
        silent: "243k",
        mends: false,
    },
    Case {
        rule: "taper-unsuited",
        name: "VR1",
        text: "design\n  band 20 Hz .. 20 kHz\nstage volume: in -> out\n  in -- R1 100 -- top\n  VR1 10k {}: cw top, wiper out, ccw gnd\n",
        fires: "log32",
        silent: "log31",
        mends: true,
    },
    Case {
        rule: "capacitor-reversed",
        name: "C1",
        text: "design\n  supply vn {}\nstage pad: in -> a\n  in -- R2 10k -- a\n  vn -- R1 1k -- a\n  a -- C1 10u polar -- gnd\n",
        fires: "-0.225 V",
        silent: "-0.215 V",
        mends: true,
    },
    Case {
        rule: "over-voltage",
        name: "C1",
        text: "design\n  supply vp {}\nstage pad: in -> a\n  in -- R2 10k -- a\n  vp -- R1 1k -- a\n  a -- C1 10u 25V -- gnd\n",
        fires: "+27.6 V",
        silent: "+27.4 V",
        mends: true,
    },
    Case {
        rule: "over-power",
        name: "R1",
        text: "design\n  supply vp {}\nstage pad: in -> out\n  in -- R2 10k -- out -- R3 10k -- gnd\n  vp -- R1 100 0.25W -- gnd\n",
        fires: "+5.1 V",
        silent: "+4.9 V",
        mends: false,
    },
    Case {
        rule: "electrolytic-in-filter",
        name: "C1",
        text: "design\nstage filter: in -> out\n  in -- R1 1k -- out\n  out -- C1 {} polar -- gnd\n",
        fires: "1.5u",
        silent: "1.6u",
        mends: false,
    },
    Case {
        rule: "feedback-capacitor-small",
        name: "C1",
        text: "design\nstage amp: in -> out\n  in -- R1 10k -- sum\n  sum -- R2 10k || C1 {} -- out\n  U1a fet_dual: + gnd, - sum, out out\n",
        fires: "1.8p",
        silent: "2p",
        mends: true,
    },
    Case {
        rule: "feedback-capacitor-large",
        name: "C1",
        text: "design\n  band 20 Hz .. 20 kHz\nstage amp: in -> out\n  in -- R1 100k -- sum\n  sum -- R2 100k || C1 {} -- out\n  U1a fet_dual: + gnd, - sum, out out\n",
        fires: "82p",
        silent: "75p",
        mends: true,
    },
    Case {
        rule: "output-without-bleed",
        name: "load",
        text: "design\n  supply vcc +12 V\nstage amp: in -> load\n  in -- C1 1u -- p\n  vcc -- R1 {} -- p -- R2 1k -- gnd\n  U1a general_dual: + p, - out, out out\n  out -- C2 10u -- load\n  load -- R3 10k external -- gnd\n",
        fires: "118k",
        silent: "121k",
        mends: true,
    },
    Case {
        rule: "half-rail-unfiltered",
        name: "mid",
        text: "design\n  supply vcc +12 V\nstage amp: in -> out\n  vcc -- R1 10k -- mid -- R2 10k -- gnd\n  mid -- C1 {} -- gnd\n  in -- C2 1u -- R3 10k -- sum\n  sum -- R4 10k -- out\n  U1a general_dual: + mid, - sum, out out\n",
        fires: "1.5u",
        silent: "1.6u",
        mends: true,
    },
    Case {
        rule: "line-without-build-out",
        name: "C1",
        text: "design\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - out, out out\nstage cable: out\n  out -- C1 {} external -- gnd\n",
        fires: "110p",
        silent: "91p",
        mends: true,
    },
    Case {
        rule: "legs-unequal",
        name: "line",
        text: "design\n  balanced line: hot, cold\nstage driver: in -> hot, cold\n  in -- R1 10k -- sum\n  sum -- R2 10k -- mirror\n  U1a fet_dual: + gnd, - sum, out mirror\n  in -- R3 100k -- gnd\n  U1b fet_dual: + in, - drive, out drive\n  drive -- R4 47 -- hot\n  mirror -- R5 {} -- cold\n",
        fires: "49.9",
        silent: "49",
        mends: false,
    },
    Case {
        rule: "hot-leg-inverted",
        name: "line",
        text: "design\n  balanced line: {}\nstage driver: in -> one, other\n  in -- R1 10k -- sum\n  sum -- R2 10k -- mirror\n  U1a fet_dual: + gnd, - sum, out mirror\n  in -- R3 100k -- gnd\n  U1b fet_dual: + in, - drive, out drive\n  drive -- R4 47 -- one\n  mirror -- R5 47 -- other\n",
        fires: "other, one",
        silent: "one, other",
        mends: true,
    },
    Case {
        rule: "input-beyond-rails",
        name: "U1a",
        text: "design\n  supply vpos +12 V, vneg -12 V\n  supply feed {}\n  supply high +20 V\nstage amp: in -> out\n  in -- C1 1u -- p\n  feed -- R1 10k -- p\n  U1a bare: + p, - fb, out out\n  out -- R2 10k -- fb\n  high -- R3 20k -- fb\ndatasheet bare: opamp\n  gain bandwidth 1 MHz\n",
        fires: "+12.35 V",
        silent: "+12.25 V",
        mends: false,
    },
    Case {
        rule: "rail-undecoupled",
        name: "U1a",
        text: "design\n  supply vpos +12 V, vneg -12 V\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  vpos -- R2 10 -- fed\n{}  U1a fet_dual: + in, - out, out out, supply fed vneg\n",
        fires: "",
        silent: "  fed -- C1 100n -- gnd\n",
        mends: true,
    },
    Case {
        rule: "supply-out-of-range",
        name: "U1a",
        text: "design\n  supply vpos +3.5 V, vneg {}\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - out, out out\n",
        fires: "-3.45 V",
        silent: "-3.55 V",
        mends: false,
    },
    Case {
        rule: "extra-low-voltage",
        name: "vp",
        text: "design\n  supply vp {}\nstage pad: in -> out\n  in -- R1 10k -- out\n  vp -- R2 100k -- out -- R3 10k -- gnd\n",
        fires: "+61 V",
        silent: "+60 V",
        mends: false,
    },
    Case {
        rule: "extra-low-voltage",
        name: "vp",
        text: "design\n  supply vp +31 V, vn {}\nstage pad: in -> out\n  in -- R1 10k -- out\n  vp -- R2 100k -- out -- R3 10k -- vn\n",
        fires: "-30 V",
        silent: "-29 V",
        mends: false,
    },
    Case {
        rule: "unused-amplifier",
        name: "U1b",
        text: "design\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - out, out out\n  U1b fet_dual: {}\n",
        fires: "+ p, - rest, out rest",
        silent: "+ gnd, - rest, out rest",
        mends: false,
    },
    Case {
        rule: "feedback-lost",
        name: "U1a",
        text: "design\nstage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - fb, out out\n  SW1 at 1: pole fb, 1 a, 2 b\n  a -- R2 10k -- out\n  b -- R4 10k -- {}\n  fb -- R3 1k -- gnd\n",
        fires: "gnd",
        silent: "out",
        mends: false,
    },
    Case {
        rule: "rail-undecoupled",
        name: "U1a",
        text: "design\n  supply vpos +12 V, vneg -12 V\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  vpos -- R2 10 -- fed\n  fed -- C1 {} -- gnd\n  U1a fet_dual: + in, - out, out out, supply fed vneg\n",
        fires: "9.1n",
        silent: "10n",
        mends: true,
    },
    Case {
        rule: "electrolytic-in-filter",
        name: "C1",
        text: "design\n  band 20 Hz .. 20 kHz\nstage coupling: in -> out\n  in -- C1 {} polar -- out\n  out -- R1 10k -- gnd\n",
        fires: "750n",
        silent: "820n",
        mends: false,
    },
    Case {
        rule: "clips-at-least-gain",
        name: "amp",
        text: "design\n  supply vpos +12 V, vneg -12 V\n  source in {}\nstage amp: in -> out\n  in -- R1 31.6 -- L1 10m -- x\n  x -- C1 100n film -- gnd\n  x -- R4 100k -- gnd\n  U1a fet_dual: + x, - fb, out out\n  out -- R2 10k -- fb\n  fb -- R3 1k -- gnd\n",
        fires: "72 mV",
        silent: "68 mV",
        mends: false,
    },
    Case {
        rule: "over-voltage",
        name: "C1",
        text: "design\n  source in {}\nstage filter: in -> out\n  in -- R1 31.6 -- L1 10m -- out\n  out -- C1 100n 10V film -- gnd\n",
        fires: "0.72 V",
        silent: "0.70 V",
        mends: true,
    },
    Case {
        rule: "output-current-low",
        name: "U1a",
        text: "design\n  supply vpos +12 V, vneg -12 V\nstage amp: in -> out\n  in -- C1 1u film -- R4 10k -- sum\n  vneg -- R1 10k -- sum\n  sum -- R2 5k -- out\n  U1a fet_dual: + gnd, - sum, out out\n  out -- R3 {} -- gnd\n",
        fires: "316",
        silent: "324",
        mends: false,
    },
    Case {
        rule: "offset-large",
        name: "U1a",
        text: "design\n  supply vpos +12 V, vneg -12 V\nstage amp: in -> out\n  in -- R1 1k -- gnd\n  U1a fet_dual: + in, - fb, out out\n  out -- R2 {} -- fb\n  fb -- R3 1k -- gnd\n",
        fires: "10M",
        silent: "261k",
        mends: false,
    },
    Case {
        rule: "source-loaded",
        name: "R1",
        text: "design\n  balanced emf: p, q\nstage mic: p, q -> a, b\n  p -- R1 75 external -- a\n  q -- R2 75 external -- b\nstage amp: a, b -> out\n  a -- R3 {} -- b\n  a -- R4 1M -- gnd\n  b -- R5 1M -- gnd\n  U1a fet_dual: + a, - out, out out\n",
        fires: "732",
        silent: "768",
        mends: false,
    },
    Case {
        rule: "source-loaded",
        name: "R1",
        text: "design\nstage coil: emf -> in\n  emf -- R1 6k external -- L1 2.5 H external -- in\nstage follower: in -> out\n  in -- R2 {} -- gnd\n  U1a fet_dual: + in, - out, out out\n",
        fires: "41k",
        silent: "44k",
        mends: false,
    },
];

#[test]
fn every_rule_fires_on_one_side_of_its_limit_only() {
    let mut failures = Vec::new();
    for case in CASES {
        let fires = found(&case.text.replace("{}", case.fires));
        if fires.iter().filter(|p| p.id == case.rule).count() != 1 {
            failures.push(format!("{} at {}: {fires:?}", case.rule, case.fires));
        }
        let silent = found(&case.text.replace("{}", case.silent));
        if !silent.is_empty() {
            failures.push(format!("{} at {}: {silent:?}", case.rule, case.silent));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn every_rule_can_be_conceded() {
    for case in CASES {
        let accept =
            format!("design\n  accept {} for {}: \"the bench decided\"", case.rule.replace('-', " "), case.name);
        let text = case.text.replace("{}", case.fires).replacen("design", &accept, 1);
        let all = bench(&text).snapshot().problems_reviewed("a", false);
        let said: Vec<&Problem> =
            all.iter().filter(|p| p.id == case.rule || p.id == "nothing-to-accept" || p.id == "unknown-rule").collect();
        assert!(said.is_empty(), "{}: {said:?}", case.rule);
        // At a keystroke the rules have not been asked, and nothing is said of what they would be silent about.
        assert!(bench(&text).snapshot().problems("a").iter().all(|p| p.id != "nothing-to-accept"), "{}", case.rule);
        let idle = case.text.replace("{}", case.silent).replacen("design", &accept, 1);
        let all = bench(&idle).snapshot().problems_reviewed("a", false);
        assert!(all.iter().any(|p| p.id == "nothing-to-accept"), "{}: {all:?}", case.rule);
    }
}

#[test]
fn ways_out_give_a_clean_design() {
    for case in CASES.iter().filter(|c| c.mends) {
        let text = case.text.replace("{}", case.fires);
        let fires = found(&text);
        let problem = fires.iter().find(|p| p.id == case.rule).expect(case.rule);
        let mended = applied(&text, problem);
        let all = bench(&mended).snapshot().problems_reviewed("a", false);
        assert!(
            all.iter().all(|p| p.severity == Severity::Note && !workbench::is_reviewed(p.id)),
            "{}: {mended}\n{all:?}",
            case.rule
        );
    }
}

#[test]
fn every_rule_has_a_case() {
    let cases: BTreeSet<&str> = CASES.iter().map(|c| c.rule).collect();
    let rules: BTreeSet<&str> = argument_rules().collect();
    assert_eq!(cases, rules);
}

fn argument_rules() -> impl Iterator<Item = &'static str> {
    workbench::reviewed_rules()
}

#[test]
fn nothing_is_asked_while_a_line_is_unfinished() {
    let text = "design\n  supply vp +61 V\nstage pad: in -> out\n  in -- R1 10k -- out\n  vp -- R2 100k --\n";
    assert_eq!(found(text), []);
}

/// What is said by rules of these names, with its message.
fn said_by(rule: &str, text: &str) -> Vec<String> {
    found(text).into_iter().filter(|p| p.id == rule).map(|p| p.message.to_string()).collect()
}

#[test]
fn an_output_that_rests_out_of_its_reach_is_told_with_its_cause() {
    let case = CASES.iter().find(|c| c.rule == "rests-beyond-rails").expect("the case");
    let said = said_by(case.rule, &case.text.replace("{}", "10k"));
    assert_eq!(said.len(), 1);
    for part in ["would have to rest at 27.5 V", "0 V … 5 V", "in series with R4", "to 2.5 V"] {
        assert!(said[0].contains(part), "{part}: {said:?}");
    }
    // On one supply with + at gnd nothing that comes between the rails helps, whatever drives the port.
    let inverting = "design\n  supply v +9 V\nstage amp: in -> out\n  in -- R1 10k -- sum\n  sum -- R2 100k -- out\n  U1a lm358: + gnd, - sum, out out\n";
    let all = found(inverting);
    assert_eq!(all.iter().map(|p| p.id).collect::<Vec<_>>(), ["rests-beyond-rails"], "{all:?}");
    assert!(all[0].message.contains("rests at 0 V") && all[0].message.contains("half the supply"), "{all:?}");
    // One that follows is not told again; one that is parked carries no signal; a port may bring its own bias.
    let two = case.text.replace("{}", "10k") + "stage next: out -> last\n  U1b rail_dual: + out, - last, out last\n";
    assert_eq!(found(&two).len(), 1, "{:?}", found(&two));
    let parked =
        "design\n  supply v +9 V\nstage spare: in -> out\n  in -- R1 1k -- out\n  U1a lm358: + gnd, - p, out p\n";
    assert_eq!(said_by("rests-beyond-rails", parked), Vec::<String>::new());
    let port = "design\n  supply v +9 V\nstage follower: in -> out\n  U1a lm358: + in, - out, out out\n";
    assert_eq!(said_by("rests-beyond-rails", port), Vec::<String>::new());
}

#[test]
fn a_source_at_a_virtual_earth_loses_nothing() {
    let charge = "design\nstage element: emf -> in\n  emf -- C1 1n external -- in\nstage amp: in -> out\n  in -- C2 1n || R1 100M -- out\n  U1a fet_dual: + gnd, - in, out out\n";
    assert_eq!(said_by("source-loaded", charge), Vec::<String>::new());
    // The same in front of a + input does.
    let divided = "design\nstage element: emf -> in\n  emf -- C1 1n external -- in\nstage amp: in -> out\n  in -- C2 1n || R1 100M -- gnd\n  U1a fet_dual: + in, - out, out out\n";
    assert_eq!(said_by("source-loaded", divided).len(), 1);
}

#[test]
fn a_feedback_resistor_is_no_input_resistor() {
    let mix = "design\nstage elements: a, b -> bus\n  a -- R1 10k external -- bus\n  b -- R2 10k external -- bus\nstage mix: bus -> out\n  bus -- R3 10k || C1 22p -- out\n  U1a fet_dual: + gnd, - bus, out out\n";
    assert_eq!(said_by("source-in-gain", mix), Vec::<String>::new());
    assert_eq!(said_by("source-loaded", mix), Vec::<String>::new());
    // A capacitor to the output leads to the feedback resistor, which is none of the source's business.
    let coupled = "design\nstage element: emf -> in\n  emf -- R1 500 external -- in\nstage amp: in -> out\n  in -- C3 10p -- out\n  in -- C1 10u -- x\n  x -- R2 9.1k -- sum\n  sum -- R3 22k -- out\n  U1a fet_dual: + gnd, - sum, out out\n";
    let said = said_by("source-in-gain", coupled);
    assert!(said.len() == 1 && said[0].contains("in series with R2") && !said[0].contains("R3"), "{said:?}");
}

#[test]
fn a_taper_between_two_signals_is_left_alone() {
    let band = "design\n  band 20 Hz .. 20 kHz\n";
    let blend = format!("{band}stage blend: dry, wet -> out\n  VR1 10k lin: cw wet, wiper out, ccw dry\n");
    assert_eq!(said_by("taper-unsuited", &blend), Vec::<String>::new());
    let pan = format!(
        "{band}stage pan: in -> left, right\n  in -- R1 10k -- left\n  in -- R2 10k -- right\n  VR1 10k lin: cw left, wiper gnd, ccw right\n"
    );
    assert_eq!(said_by("taper-unsuited", &pan), Vec::<String>::new());
    let volume =
        format!("{band}stage volume: in -> out\n  in -- R1 100 -- top\n  VR1 10k lin: cw top, wiper out, ccw gnd\n");
    assert_eq!(said_by("taper-unsuited", &volume).len(), 1);
}

#[test]
fn a_capacitor_is_never_sent_to_and_fro() {
    let text = "design\n  band 20 Hz .. 20 kHz\nstage amp: in -> out\n  in -- R1 4.7M -- sum\n  sum -- R2 4.7M || C1 {} -- out\n  U1a fet_dual: + gnd, - sum, out out\n";
    let at = |value: &str| -> Vec<(&'static str, usize)> {
        let all = found(&text.replace("{}", value)).into_iter().filter(|p| p.id.starts_with("feedback-capacitor"));
        all.map(|p| (p.id, p.fixes.len())).collect()
    };
    assert_eq!(at("1.5p"), [("feedback-capacitor-small", 0)]);
    assert_eq!(at("2.2p"), [("feedback-capacitor-large", 0)]);
}

#[test]
fn no_share_of_a_resistors_noise_is_promised() {
    let text = "design\n  source in 1 mV\nstage amp: in -> out\n  in -- R1 10k -- sum\n  sum -- R2 100k -- out\n  U1a lownoise_dual: + gnd, - sum, out out\n";
    let said = said_by("resistor-noise", text);
    assert!(
        said.len() == 1 && said[0].contains("the feedback lowered alike") && !said[0].contains("quarter"),
        "{said:?}"
    );
}

#[test]
fn a_follower_short_of_phase_is_told_of_what_it_drives() {
    let text = "design\nstage follower: in -> out\n  in -- R1 100k -- gnd\n  U1a fet_dual: + in, - drive, out drive\n  drive -- R2 {} -- out\n  out -- C1 4.7n external -- gnd\n";
    let said = said_by("phase-margin-low", &text.replace("{}", "4.7"));
    assert!(said.len() == 1, "{said:?}");
    assert!(said[0].contains("C1 behind R2 (4.7 Ω)") && said[0].contains("R2 of 47 Ω or more"), "{said:?}");
    assert!(!said[0].contains("feedback resistor"), "{said:?}");
    // The way out that is named is one.
    assert_eq!(said_by("phase-margin-low", &text.replace("{}", "47")), Vec::<String>::new());
}

#[test]
fn a_capacitor_behind_a_track_that_is_run_down_loads_the_output() {
    let text = "design\n  band 20 Hz .. 20 kHz\n  supply vpos +12 V, vneg -12 V\nstage first: in -> mid\n  in -- R1 10k -- fa\n  mid -- R2 10k -- fa\n  in -- R3 10k -- pa\n  pa -- C1 10n -- gnd\n  U1a audio_dual: + pa, - fa, out mid\nstage turn: mid -> p\n  mid -- C2 10n -- p\n  p -- VR1 20k lin -- gnd\n";
    let said = said_by("phase-margin-low", text);
    assert!(said.len() == 1 && said[0].contains("at VR1 0 %: C2 at its output turns the loop back"), "{said:?}");
    assert_eq!(
        said_by("phase-margin-low", &text.replace("p -- VR1", "p -- R3 100 -- q\n  q -- VR1")),
        Vec::<String>::new()
    );
}

#[test]
fn a_followers_offset_is_its_bias_current() {
    let text = "design\n  supply vpos +12 V, vneg -12 V\nstage follower: in -> out\n  in -- C1 1u -- p\n  p -- R1 22M -- gnd\n  U1a general_dual: + p, - out, out out\n";
    let said = said_by("offset-large", text);
    assert!(said.len() == 1 && said[0].contains("bias current times the resistance"), "{said:?}");
    assert!(!said[0].contains("leg to gnd"), "{said:?}");
}

#[test]
fn feedback_that_a_switch_takes_away_is_told_with_the_position() {
    let text = "design\n  band 20 Hz .. 20 kHz\nstage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a KIND: + in, - fb, out out\n  SW1 at 1: pole fb, 1 a, 2 b, 3 c\n  SW2 at 1: pole in, 1 x\n  x -- R5 10k -- gnd\n  a -- R2 10k -- out\n  b -- R4 10k -- gnd\n  c -- R6 22k -- out\n  fb -- R3 1k -- gnd\n";
    // An ideal amplifier loses its feedback like any other.
    for kind in ["fet_dual", "ideal"] {
        let all = found(&text.replace("KIND", kind));
        assert_eq!(all.iter().map(|p| p.id).collect::<Vec<_>>(), ["feedback-lost"], "{kind}: {all:?}");
        assert!(all[0].message.starts_with("U1a has no feedback at SW1 2: "), "{}", all[0].message);
        assert!(all[0].message.contains("stays when SW1 moves"), "{}", all[0].message);
        assert_eq!(all[0].names[..2], ["U1a", "SW1"]);
    }
    // One that closes the loop by itself when the switch is open.
    let kept = text.replace("KIND", "fet_dual") + "  out -- R7 470k -- fb\n";
    assert_eq!(said_by("feedback-lost", &kept), Vec::<String>::new());
}

#[test]
fn what_is_worse_between_the_edges_and_the_reference_is_told_where_it_is() {
    // 10 mH and 100 nF ring at 1/(2π√(LC)) = 5.03 kHz.
    for (rule, fires) in [("clips-at-least-gain", "72 mV"), ("over-voltage", "0.72 V")] {
        let case = CASES.iter().find(|c| c.rule == rule && c.text.contains("L1 10m")).expect("the case");
        let said = said_by(rule, &case.text.replace("{}", fires));
        assert!(said.len() == 1 && said[0].contains("at 5.03 kHz"), "{rule}: {said:?}");
    }
}

#[test]
fn what_an_output_gives_at_rest_counts() {
    let case =
        CASES.iter().find(|c| c.rule == "output-current-low" && c.text.contains("vneg -- R1")).expect("the case");
    let said = said_by(case.rule, &case.text.replace("{}", "316"));
    assert!(said.len() == 1 && said[0].contains("at rest") && said[0].contains("before any signal comes"), "{said:?}");
    // Beside a signal both are told.
    let both = case.text.replace("{}", "470").replace("design\n", "design\n  source in 4 V\n");
    let said = said_by(case.rule, &both);
    assert!(said.len() == 1 && said[0].contains("at rest and") && said[0].contains("together"), "{said:?}");
}

#[test]
fn an_offset_beyond_the_rails_is_told_as_one() {
    let case = CASES.iter().find(|c| c.rule == "offset-large" && c.fires == "10M").expect("the case");
    let said = said_by(case.rule, &case.text.replace("{}", "10M"));
    assert!(said.len() == 1 && said[0].contains("stand at a rail"), "{said:?}");
}

#[test]
fn a_capacitor_too_small_to_decouple_is_named() {
    let case = CASES.iter().find(|c| c.rule == "rail-undecoupled" && c.fires == "9.1n").expect("the case");
    let said = said_by(case.rule, &case.text.replace("{}", "10p"));
    assert!(said.len() == 1 && said[0].contains("10 pF of C1 are all that decouples fed"), "{said:?}");
    // One that goes elsewhere than to gnd or a rail decouples nothing.
    let elsewhere = case.text.replace("fed -- C1 {} -- gnd", "fed -- C1 100n -- in");
    assert!(said_by(case.rule, &elsewhere)[0].contains("nothing decouples fed"));
    let across = case.text.replace("fed -- C1 {} -- gnd", "fed -- C1 100n -- vneg");
    assert_eq!(said_by(case.rule, &across), Vec::<String>::new());
}

#[test]
fn the_parts_of_a_source_are_named_together() {
    let of = |what: &str| CASES.iter().find(|c| c.rule == "source-loaded" && c.text.contains(what)).expect("the case");
    let said = |c: &Case| said_by(c.rule, &c.text.replace("{}", c.fires));
    let pair = said(of("balanced emf"));
    assert!(pair.len() == 1 && pair[0].contains("in R1 and R2, its own 150 Ω"), "{pair:?}");
    let coil = said(of("L1 2.5 H"));
    assert!(coil.len() == 1 && coil[0].contains("in R1 and L1, its own 16.8 kΩ"), "{coil:?}");
}

/// A design with two rails that begins with these entries.
fn rails(more: &str) -> String {
    format!("design\n  band 20 Hz .. 20 kHz\n  supply vp +15 V, vn -15 V\n{more}")
}

#[test]
fn what_keeps_a_node_still_is_no_filter() {
    let half = "design\n  band 20 Hz .. 20 kHz\n  supply vcc +12 V\nstage half: vcc -> half\n  vcc -- R1 10k -- half\n  half -- R2 10k -- gnd\n  half -- C1 100u 16V polar -- gnd\nstage amp: in, half -> out\n  in -- C2 1u film -- p\n  p -- R3 100k -- half\n  U1a tl072: + p, - out, out out\n";
    assert_eq!(said_by("electrolytic-in-filter", half), Vec::<String>::new());
    let supply = rails(
        "  supply p48 +48 V\n  balanced mic: h, c\nstage feed: p48 -> ph\n  p48 -- R1 100 -- ph\n  ph -- C1 100u 63V polar -- gnd\nstage input: h, c, ph -> out\n  ph -- R2 6.8k -- h\n  ph -- R3 6.8k -- c\n  h -- R4 10k -- q\n  c -- R5 10k -- m\n  q -- R6 10k -- gnd\n  m -- R7 10k -- out\n  U1a ne5532: + q, - m, out out\n",
    );
    assert_eq!(said_by("electrolytic-in-filter", &supply), Vec::<String>::new());
    // The same capacitor where the signal passes.
    let filter =
        rails("stage f: in -> out\n  in -- R1 1k -- p\n  p -- C1 1u {} -- gnd\n  U1a tl072: + p, - out, out out\n");
    for word in ["polar", "electrolytic", "tantalum", "bipolar", "electrolytic bipolar"] {
        assert_eq!(said_by("electrolytic-in-filter", &filter.replace("{}", word)).len(), 1, "{word}");
    }
    assert_eq!(said_by("electrolytic-in-filter", &filter.replace("{}", "film")), Vec::<String>::new());
}

#[test]
fn a_moving_corner_names_a_value_that_keeps_it_out() {
    let text = rails(
        "stage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a tl072: + in, - fb, out out\n  out -- R2 10k -- fb\n  fb -- C2 {} 16V -- R3 100 -- VR1 10k log -- gnd\n",
    );
    for (now, shown) in [("10u", "10 µF"), ("78u", "78 µF")] {
        let said = said_by("corner-moves", &text.replace("{}", now));
        let expect =
            format!("C2 sees another resistance at each position. 100 µF instead of {shown} puts it at 15.9 Hz");
        assert!(said.len() == 1 && said[0].contains(&expect) && said[0].contains("moves with VR1"), "{said:?}");
    }
    assert_eq!(said_by("corner-moves", &text.replace("{}", "100u")), Vec::<String>::new());
}

#[test]
fn a_type_under_its_minimum_gain_is_told_of_that() {
    let inverting =
        rails("stage amp: in -> out\n  in -- R1 10k -- m\n  m -- R2 10k -- out\n  U1a ne5534: + gnd, - m, out out\n");
    let all = bench(&inverting).snapshot().problems_reviewed("a", false);
    let said: Vec<&str> = all.iter().filter(|p| p.id == "unstable").map(|p| &*p.message).collect();
    assert!(said.len() == 1, "{all:?}");
    assert!(said[0].contains("U1a (ne5534) is made for noise gains from ×3.00 on, and has ×2."), "{said:?}");
    assert!(said[0].contains("a resistor from m to gnd") && !said[0].contains("across the feedback"), "{said:?}");
    let follower = rails(
        "stage amp: in -> out\n  in -- R1 10k -- gnd\n  U1a op37: + in, - m, out out\n  out -- R2 2.2k -- m\n  m -- R3 1k -- gnd\n",
    );
    let said = said_by("below-minimum-gain", &follower);
    assert!(said.len() == 1 && said[0].contains("a resistor between its inputs"), "{said:?}");
}

#[test]
fn a_feedback_capacitor_that_is_meant_is_left_alone() {
    let loop_of = rails(
        "stage bq: in -> bp, lp\n  in -- R1 33k -- m\n  m -- R2 33k || C1 {} c0g -- bp\n  U1a tl072: + gnd, - m, out bp\n  bp -- R3 33k -- n\n  n -- C2 {} c0g -- lp\n  U1b tl072: + gnd, - n, out lp\n  lp -- R4 10k -- o\n  o -- R5 10k -- inv\n  U2a tl072: + gnd, - o, out inv\n  inv -- R6 33k -- m\n",
    );
    for farads in ["1n", "330p"] {
        assert_eq!(said_by("feedback-capacitor-large", &loop_of.replace("{}", farads)), Vec::<String>::new());
    }
    // Without the way back the lossy integrator is a stage with a slip.
    let open = loop_of.replace("{}", "330p").replace("  inv -- R6 33k -- m\n", "");
    assert_eq!(said_by("feedback-capacitor-large", &open).len(), 1);
    let one = rails(
        "stage a: in -> out\n  in -- R1 33k -- m\n  m -- R2 33k || C1 {} -- out\n  U1a tl072: + gnd, - m, out out\n",
    );
    assert_eq!(said_by("feedback-capacitor-large", &one.replace("{}", "680p")), Vec::<String>::new());
    assert_eq!(said_by("feedback-capacitor-large", &one.replace("{}", "330p")).len(), 1);
    // Where a requirement asks for it, so it is.
    let asked = one.replace("{}", "330p") + "\nrequire\n  high corner in -> out = 15 kHz ± 5 %\n";
    assert_eq!(said_by("feedback-capacitor-large", &asked), Vec::<String>::new());
    let other = one.replace("{}", "330p") + "\nrequire\n  high corner in -> out > 15 kHz\n";
    assert_eq!(said_by("feedback-capacitor-large", &other).len(), 1);
}

#[test]
fn a_phase_splitter_on_the_board_is_no_line() {
    let text = rails(
        "  balanced drive: p, q\nstage split: in -> p, q\n  in -- R1 100k -- gnd\n  U1a tl072: + in, - p, out p\n  p -- R2 10k -- m\n  m -- R3 10k -- q\n  U1b tl072: + gnd, - m, out q\nstage load: p, q\n  p -- R4 22k external -- gnd\n  q -- R5 22k external -- gnd\n",
    );
    assert_eq!(found(&text), []);
    // A cable is one, and so is a pair of which nobody says where it goes.
    let cable = format!("{text}  p -- C1 1n external -- q\n");
    assert!(!said_by("line-without-build-out", &cable).is_empty());
    let bare = text.split("stage load").next().expect("the design");
    assert!(!said_by("line-without-build-out", bare).is_empty());
}

#[test]
fn a_supply_terminal_stands_at_its_port() {
    let text = "design\n  supply vpp +15 V, vnn -15 V\nstage filter: vpp, vnn -> vp, vm\n  vpp -- R1 10 -- vp\n  vp -- C1 100u 25V polar -- gnd\n  vnn -- R2 10 -- vm\n  gnd -- C2 100u 25V polar -- vm\nstage a: in, vp, vm -> out\n  in -- R3 100k -- gnd\n  U1a tl072: + in, - out, out out{}\n";
    let ports = |text: &str| {
        let all = bench(text).snapshot().problems("a");
        all.iter().filter(|p| p.id == "idle-port").count()
    };
    assert_eq!(ports(&text.replace("{}", ", supply vp vm")), 0);
    assert_eq!(ports(&text.replace("{}", "")), 2);
}

#[test]
fn a_bleed_is_missed_behind_a_build_out_resistor_too() {
    let text = "design\n  supply vcc +12 V\nstage amp: in -> load\n  in -- C1 1u film -- p\n  vcc -- R1 100k -- p -- R2 100k -- gnd\n  U1a ne5532: + p, - o, out o\n  o -- C2 10u polar -- x\n  x -- R4 100 -- load\n{}  load -- R3 10k external -- gnd\n";
    let said = said_by("output-without-bleed", &text.replace("{}", ""));
    assert!(said.len() == 1 && said[0].contains("load is held at 0 V") && said[0].contains("C2 leaks"), "{said:?}");
    for bleed in ["  load -- R5 100k -- gnd\n", "  x -- R5 100k -- gnd\n"] {
        assert_eq!(said_by("output-without-bleed", &text.replace("{}", bleed)), Vec::<String>::new());
    }
}

#[test]
fn an_inverting_inputs_bias_comes_from_its_output() {
    let text = rails(
        "stage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a tl072: + in, - fb, out o\n  o -- C1 1u -- fb\n  o -- R2 100 -- out\n",
    );
    let all = bench(&text).snapshot().problems_reviewed("a", false);
    let problem = all.iter().find(|p| p.id == "no-bias-return").expect("it is told");
    assert!(problem.message.contains("A resistor from o to fb, which holds the output at rest,"), "{problem:?}");
    let mended = applied(&text, problem);
    assert!(mended.contains("o -- R3 100k -- fb"), "{mended}");
    let left = bench(&mended).snapshot().problems_reviewed("a", false);
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn a_reversed_capacitor_that_bears_too_much_hears_both() {
    let text = "design\n  supply p48 +48 V\nstage pad: in -> a\n  in -- R2 10k -- a\n  p48 -- R1 1k -- b\n  b -- R3 100k -- gnd\n  a -- C1 47u 25V polar -- b\n  a -- R4 10k -- gnd\n";
    let mut ids: Vec<&str> = found(text).iter().map(|p| p.id).collect();
    ids.sort_unstable();
    assert_eq!(ids, ["capacitor-reversed", "over-voltage"]);
}

/// The reservoir of half a rail keeps its node still for a gain leg that returns to it, too.
#[test]
fn a_half_rails_reservoir_is_no_filter_of_what_returns_to_it() {
    let text = "design\n  band 20 Hz .. 20 kHz\n  supply vcc +12 V\nstage ref: vcc -> vb\n  vcc -- R1 10k -- vb\n  vb -- R2 10k || C1 47u 16V polar -- gnd\nstage od: in, vb -> out\n  in -- C2 1u film -- p\n  vb -- R4 100k -- p\n  U1a tl072: + p, - fb, out o, supply vcc gnd\n  o -- R5 100k -- fb\n  fb -- R6 10k -- vb\n  o -- C5 1u film -- out\n  out -- R7 100k -- gnd\n";
    assert_eq!(said_by("electrolytic-in-filter", text), Vec::<String>::new());
}

/// Between the inputs of a bare follower a resistor works against nothing: its feedback wants one, too.
#[test]
fn a_bare_follower_of_a_type_for_gains_is_told_what_it_lacks() {
    let text = |feedback: &str| {
        format!(
            "design\n  supply vp +15 V, vm -15 V\nstage f: in -> out\n  in -- R1 1k -- p\n  U1a ne5534: + p, - {feedback}\n"
        )
    };
    let said = said_by("below-minimum-gain", &text("out, out out"));
    let unstable = said_by("unstable", &text("out, out out"));
    let all = [said, unstable].concat();
    assert!(all.len() == 1 && all[0].contains("a resistor in its feedback and another between its inputs"), "{all:?}");
    // The way out is one.
    let mended = text("f, out out\n  out -- R2 1k -- f\n  p -- R3 330 -- f");
    assert_eq!(said_by("below-minimum-gain", &mended), Vec::<String>::new());
    assert_eq!(said_by("unstable", &mended), Vec::<String>::new());
}

/// A divider that belongs to a difference amplifier, or to a bridge that is a pair, hands its ripple to both inputs.
#[test]
fn ripple_at_both_inputs_is_no_signal() {
    let shunt = "design\n  band 1 Hz .. 1 kHz\n  supply vcc +15 V\n  supply bat +9 V\nstage sense: bat -> ld\n  bat -- R1 0.1 -- ld\n  ld -- R9 9 external -- gnd\nstage amp: bat, ld -> out\n  bat -- R2 10k -- p -- R3 10k -- gnd\n  ld -- R4 10k -- m -- R5 10k || C1 100p -- out\n  U1a lm358: + p, - m, out out\n";
    assert_eq!(said_by("half-rail-unfiltered", shunt), Vec::<String>::new());
    let bridge = "design\n  supply vcc +5 V\n  balanced br: bp, bn\nstage bridge: vcc -> bp, bn\n  vcc -- R1 350 -- bp\n  bp -- R2 350 -- gnd\n  vcc -- R3 350 -- bn\n  bn -- R4 350 -- gnd\nstage amp: bp, bn -> p, q\n  U1a rail_dual: + bp, - fa, out p\n  U1b rail_dual: + bn, - fb, out q\n  p -- R5 20k -- fa\n  q -- R6 20k -- fb\n  fa -- R7 400 -- fb\n";
    assert_eq!(said_by("half-rail-unfiltered", bridge), Vec::<String>::new());
    // With one side of the difference taken away the ripple is handed on.
    let alone = shunt.replace("ld -- R4 10k -- m", "gnd -- R4 10k -- m");
    assert_eq!(said_by("half-rail-unfiltered", &alone).len(), 1);
}
