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
    assert_eq!(all, ["make R2 9.1 kΩ: 20.0 dB", "make R3 1.1 kΩ: 20.0 dB", "make C2 390 nF: 20.2 dB"]);
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
    assert_eq!(all, ["make C2 8.2 µF: 19.2 Hz", "make R3 6.8 kΩ: 19.2 Hz, but then gain in -> out at 1 kHz fails"]);
}

#[test]
fn that_no_part_alone_would_do_is_told() {
    let (all, none) = ways(&bench(&format!("{PREAMP}  gain in -> out at 100 kHz < 0 dB\n")));
    assert_eq!(all, [""; 0]);
    assert_eq!(
        none.as_deref(),
        Some("no value of R2, C3, R3 or C2 alone, from a hundredth to a hundredfold, would meet it")
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
    let (all, none) = ways(&bench(text));
    assert_eq!(all, [""; 0]);
    assert!(none.is_some());
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
    assert!(whole.stopped.is_none() && whole.fixes.len() == 3, "{whole:?}");
}
