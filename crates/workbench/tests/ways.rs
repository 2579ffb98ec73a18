//! Another value of one part as a way out of a requirement that fails.

mod said;

use said::bench;
use workbench::Workbench;

const PREAMP: &str = "design \"Bird box\"
  band 20 Hz .. 20 kHz
  supply vpos +12 V, vneg -12 V

stage preamp: in -> out
  in  -- R1 1M -- gnd
  U1a tl072: + in, - fb, out out
  out -- R2 10k -- fb
  out -- C3 100p -- fb
  fb  -- R3 1k -- C2 1u -- gnd

require
";

/// The titles of the ways out of the first requirement that fails, and why there are none.
fn ways(bench: &Workbench) -> (Vec<String>, Option<String>) {
    let snapshot = bench.snapshot();
    let problems = snapshot.problems("a");
    let failing = problems.iter().find(|p| p.id == "requirement-fails").expect("one fails");
    let ways = snapshot.ways_out("a", failing);
    (ways.fixes.into_iter().map(|f| f.title).collect(), ways.none)
}

#[test]
fn the_nearest_values_that_meet_it_are_told() {
    let (all, none) = ways(&bench(&format!("{PREAMP}  gain in -> out at 1 kHz = 20 dB ± 0.2 dB\n")));
    assert_eq!(
        all,
        ["make R2 9.1 kΩ: 20.0 dB", "make R3 1.1 kΩ: 20.0 dB", "make C2 390 nF: 20.2 dB", "make C3 6.8 nF: 20.0 dB"]
    );
    assert_eq!(none, None);
}

#[test]
fn a_way_out_taken_meets_the_requirement() {
    for limit in [
        "gain in -> out at 1 kHz = 20 dB ± 0.2 dB",
        "low corner in -> out < 20 Hz",
        "input impedance of preamp > 2 Mohm",
    ] {
        let text = format!("{PREAMP}  {limit}\n");
        let snapshot = bench(&text).snapshot();
        let problem = snapshot.problems("a").iter().find(|p| p.id == "requirement-fails").cloned().expect(limit);
        let ways = snapshot.ways_out("a", &problem);
        assert!(!ways.fixes.is_empty(), "{limit}");
        for fix in ways.fixes {
            let mut mended = text.clone();
            mended.replace_range(fix.edits[0].range.clone(), &fix.edits[0].text);
            let after = bench(&mended).snapshot().problems("a");
            assert!(after.iter().all(|p| p.id != "requirement-fails"), "{}: {after:?}", fix.title);
        }
    }
}

#[test]
fn what_a_way_out_would_break_is_told_and_comes_last() {
    let text = format!("{PREAMP}  low corner in -> out < 20 Hz\n  gain in -> out at 1 kHz = 20.8 dB ± 0.2 dB\n");
    let (all, _) = ways(&bench(&text));
    assert_eq!(
        all,
        [
            "make C2 8.2 µF: 19.2 Hz",
            "make R3 6.8 kΩ: 19.2 Hz, but then gain in -> out at 1 kHz fails",
            "make R2 430 Ω: 15.3 Hz, but then gain in -> out at 1 kHz fails"
        ]
    );
}

#[test]
fn that_no_part_alone_would_do_is_told() {
    let (all, none) = ways(&bench(&format!("{PREAMP}  gain in -> out at 100 kHz < 0 dB\n")));
    assert_eq!(all, [""; 0]);
    assert_eq!(
        none.as_deref(),
        Some("no value of R2, C3, R3 or C2 alone, of E12 or E24 from a hundredth to a hundredfold, would meet it")
    );
}

#[test]
fn parts_that_are_matched_worked_out_or_a_load_keep_their_values() {
    let text = "design
  matched R1, R2 0.1 %

let
  half = 5 kohm

stage divider: in -> out
  in  -- R1 10k -- out
  out -- R2 10k -- gnd
  out -- R3 (2 * half) -- gnd
  out -- R4 10k external -- gnd

require
  gain in -> out = -6 dB ± 0.1 dB
";
    let snapshot = bench(text).snapshot();
    let problem = snapshot.problems("a").iter().find(|p| p.id == "requirement-fails").cloned().expect("it fails");
    let found = snapshot.ways_out("a", &problem);
    assert_eq!((found.fixes, found.none), (Vec::new(), None));
}

#[test]
fn a_value_that_others_are_worked_out_from_takes_them_along() {
    let text = "stage divider: in -> out
  in  -- R1 10k -- out
  out -- R2 (R1 / 4) -- gnd

require
  impedance of out = 1 kohm ± 1 %
";
    // R1 ∥ R1/4 is R1/5, so R1 is to be 5 kΩ: 5.1 kΩ is 2 % beside it, and no E24 value meets 1 %.
    let (all, none) = ways(&bench(&text.replace("R1 10k", "R1 10k E24")));
    assert_eq!(all, [""; 0]);
    assert!(none.is_some());
    assert_eq!(ways(&bench(text)).0, ["make R1 4.99 kΩ (E96): 998 Ω"]);
    let (all, _) = ways(&bench(&text.replace("1 %", "3 %")));
    assert_eq!(all, ["make R1 5.1 kΩ: 1.02 kΩ"]);
}

/// A quantity of the whole circuit has no plan of its own: any part may move it.
#[test]
fn a_requirement_on_the_whole_circuit_has_ways_out_too() {
    let text = format!("{PREAMP}  level of out > 1 V\n").replace("\n\nstage", "\n  source in 10 mV\n\nstage");
    let (all, none) = ways(&bench(&text));
    assert!(all.is_empty() == none.is_some(), "{all:?} {none:?}");
}

#[test]
fn what_misses_already_and_would_miss_by_more_is_told() {
    let text = format!("{PREAMP}  gain in -> out at 1 kHz = 26 dB ± 0.2 dB\n  high corner in -> out > 600 kHz\n");
    let (all, _) = ways(&bench(&text));
    assert!(!all.is_empty());
    // What makes the gain larger makes the corner lower, which fails already.
    let told = |t: &String| t.ends_with("but then high corner in -> out misses by more");
    assert!(all.iter().any(told), "{all:?}");
    // What holds now and would fail goes by its own word.
    assert!(all.iter().all(|t| !t.contains("high corner in -> out fails")), "{all:?}");
}

#[test]
fn a_search_that_is_stopped_says_how_far_it_came() {
    let bench = bench(&format!("{PREAMP}  gain in -> out at 1 kHz = 20 dB ± 0.2 dB\n"));
    let snapshot = bench.snapshot();
    let problem = snapshot.problems("a").iter().find(|p| p.id == "requirement-fails").cloned().expect("one fails");
    let asked = std::cell::Cell::new(0);
    let after = |most: u32| {
        asked.set(0);
        snapshot.ways_out_until("a", &problem, &|| {
            asked.set(asked.get() + 1);
            asked.get() > most
        })
    };
    let none = after(0);
    assert_eq!((none.fixes.len(), none.none), (0, None));
    assert!(none.stopped.as_ref().is_some_and(|s| s.contains("in 0 of 4 parts only")), "{:?}", none.stopped);
    let some = after(12);
    assert!(some.stopped.is_some() && some.none.is_none(), "{some:?}");
    let whole = after(u32::MAX);
    assert!(whole.stopped.is_none() && whole.fixes.len() == 4, "{whole:?}");
}

const PAD: &str = "stage pad: in -> out\n  in -- R3 10k -- out\n  out -- R4 22k -- gnd\n";

#[test]
fn a_finer_series_is_tried_where_the_usual_one_has_nothing() {
    // R4/(R3 + R4) = −3 dB takes R4 = 2.424 R3.
    let text = format!("{PAD}\nrequire\n  gain in -> out = -3 dB ± 0.0065 dB\n");
    let (all, none) = ways(&bench(&text));
    assert!(all.iter().any(|t| t.starts_with("make R4 24.3 kΩ (E96): −2.99 dB")), "{all:?}");
    assert_eq!(none, None);
    // A series that the line asks for is kept to.
    let (all, none) = ways(&bench(&text.replace("22k", "22k E24").replace("10k", "10k E12")));
    assert_eq!(all, [""; 0]);
    assert_eq!(
        none.as_deref(),
        Some("no value of R3 or R4 alone, of E12 or E24 from a hundredth to a hundredfold, would meet it")
    );
}

#[test]
fn the_ends_of_the_range_are_tried() {
    let (all, _) =
        ways(&bench(&format!("{}\nrequire\n  output impedance of pad < 100 ohm\n", PAD.replace("22k", "1M"))));
    assert_eq!(all, ["make R3 100 Ω: 100 Ω"]);
}

const INPUT: &str = "design\n  tolerance R 5 %\nstage amp: in -> out\n  in -- R1 100k -- gnd\n  U1a tl072: + in, - out, out out\n\nrequire\n  input impedance of amp > {}\n";

#[test]
fn a_value_that_holds_at_worst_is_preferred() {
    // 150 kΩ would do as it is drawn, and comes to 142.5 kΩ.
    let (all, _) = ways(&bench(&INPUT.replace("{}", "145 kohm")));
    assert_eq!(all, ["make R1 160 kΩ: 160 kΩ, at worst 152 kΩ"]);
    let narrow = INPUT.replace("> {}", "= 150 kohm ± 2 %");
    let (all, _) = ways(&bench(&narrow));
    assert_eq!(all, ["make R1 150 kΩ: 150 kΩ nominally, not over tolerance (142 kΩ at worst)"]);
}

#[test]
fn what_holds_nominally_alone_has_a_way_out_too() {
    let told = |text: &str| {
        let bench = bench(text);
        let snapshot = bench.snapshot();
        let problems = snapshot.problems_reviewed("a", true);
        let failing = problems.iter().find(|p| p.id == "requirement-tolerance").expect("one fails").clone();
        let ways = snapshot.ways_out("a", &failing);
        (ways.fixes.into_iter().map(|f| f.title).collect::<Vec<_>>(), ways.none)
    };
    let (all, none) = told(&INPUT.replace("100k", "150k").replace("{}", "145 kohm"));
    assert_eq!((all, none), (vec!["make R1 160 kΩ: 160 kΩ, at worst 152 kΩ".to_string()], None));
    let (all, none) = told(&INPUT.replace("100k", "150k").replace("> {}", "= 150 kohm ± 2 %"));
    assert_eq!(all, [""; 0]);
    assert_eq!(none.as_deref(), Some("no value of R1 alone, of E24 nearby, would hold over tolerance"));
}

#[test]
fn what_misses_by_a_hair_more_is_not_told() {
    // 1.5 MΩ instead of 1 MΩ across 10 Ω moves that by 3 millionths.
    let text = "stage a: in -> out\n  in -- R1 1M -- gnd\n  in -- R2 1k -- out\n  out -- R3 10 -- gnd\n  in -- R4 100 -- gnd\n\nrequire\n  input impedance of a > 1 kohm\n  impedance of out > 20 ohm\n";
    let (all, _) = ways(&bench(text));
    assert!(all.iter().all(|t| !t.contains("misses by more")), "{all:?}");
}
