//! What an argument could say of a part: the widest band over which it may be neglected.

mod said;

use said::bench;

const PREAMP: &str = "design \"Bird box\"
  band 20 Hz .. 20 kHz
  supply vpos +12 V, vneg -12 V

stage preamp: in -> out
  in  -- R1 1M -- gnd
  U1a tl072: + in, - fb, out out
  out -- R2 10k -- fb
  out -- C3 100p -- fb
  fb  -- R3 1k -- C2 10u -- gnd
";

/// The titles of what is proposed for the line that holds a text.
fn proposed(text: &str, line: &str) -> Vec<String> {
    let at = text.find(line).expect("the line is there");
    bench(text).snapshot().proposals("a", at..at + line.len(), None).into_iter().map(|f| f.title).collect()
}

#[test]
fn a_capacitor_that_couples_is_a_short_above_where_it_costs_the_budget() {
    // 1 kΩ and 10 µF: 15.9 Hz. |1 + 10/(1 + 1/jx)| is 0.1 dB below 11 at x = 6.5.
    assert_eq!(proposed(PREAMP, "fb  -- R3 1k -- C2 10u -- gnd"), ["assume C2 short above 110 Hz: 0.089 dB at 110 Hz"]);
}

#[test]
fn one_that_bounds_the_band_is_open_below() {
    // What it leaves of the loop gain counts too: 1/(10.9 − 0.99j) + 0.0053j at 16 kHz, beside 1/11 + 0.0053j.
    assert_eq!(proposed(PREAMP, "out -- C3"), ["assume C3 open below 16 kHz: 0.089 dB at 16 kHz"]);
}

#[test]
fn what_is_proposed_and_written_holds() {
    let with_block = format!("{PREAMP}\nassume within 0.2 dB\n  R1 open   # the source is ideal\n");
    for text in [PREAMP.to_string(), with_block] {
        let snapshot = bench(&text).snapshot();
        // The formula of the stage is one too: `derived.rs` has it.
        let all =
            snapshot.proposals("a", 0..text.len(), None).into_iter().filter(|fix| fix.title.starts_with("assume"));
        let all: Vec<_> = all.collect();
        assert!(all.len() >= 3, "{all:?}");
        for fix in all {
            let mut written = text.clone();
            let edit = &fix.edits[0];
            written.replace_range(edit.range.clone(), &edit.text);
            let after = bench(&written);
            assert!(after.snapshot().problems("a").is_empty(), "{}\n{written}", fix.title);
            let statements = after.snapshot().statements("a");
            assert!(statements.iter().any(|s| fix.title.starts_with(&format!("assume {}", s.text))), "{statements:?}");
            assert!(statements.iter().all(|s| s.verdict == workbench::Verdict::Holds), "{}", fix.title);
        }
    }
}

#[test]
fn what_is_assumed_already_is_not_proposed_again() {
    let text = format!("{PREAMP}\nassume\n  C2 short above 200 Hz\n");
    assert_eq!(proposed(&text, "fb  -- R3 1k -- C2 10u -- gnd"), [""; 0]);
}

#[test]
fn nothing_is_proposed_while_a_line_is_unfinished() {
    let text = PREAMP.replace("C3 100p -- fb", "C3 100p --");
    assert_eq!(proposed(&text, "fb  -- R3 1k -- C2 10u -- gnd"), [""; 0]);
}

#[test]
fn a_file_without_assumptions_takes_the_budget_that_is_wished_and_says_so() {
    let at = PREAMP.find("out -- C3").unwrap();
    let all = bench(PREAMP).snapshot().proposals("a", at..at + 9, Some(0.5));
    let fix = all.iter().find(|fix| fix.title.starts_with("assume C3")).expect("there is one");
    assert_eq!(fix.edits[0].text, "\n\nassume within 0.5 dB\n  C3 open");
    // Where the file has its own, that holds.
    let stated = format!("{PREAMP}\nassume within 0.1 dB\n  R1 open\n");
    let all = bench(&stated).snapshot().proposals("a", at..at + 9, Some(0.5));
    let fix = all.iter().find(|fix| fix.title.starts_with("assume C3")).expect("there is one");
    assert_eq!(fix.edits[0].text, "\n  C3 open below 16 kHz");
}

#[test]
fn what_turns_the_phase_is_not_proposed_where_the_magnitude_stays() {
    let all_pass = "design\n  band 20 Hz .. 20 kHz\n\nstage turn: in -> out\n  in -- R1 10k -- n -- R2 10k -- out\n  in -- C1 10n -- p -- R3 10k -- gnd\n  U1a tl072: + p, - n, out out\n";
    let proposed = proposed(all_pass, "in -- C1 10n");
    assert!(proposed.iter().all(|title| !title.starts_with("assume C1")), "{proposed:?}");
}

/// What keeps the gain of its own stage may still load a source, or set where the circuit rests.
#[test]
fn what_a_source_feels_or_what_sets_the_rest_is_not_proposed() {
    let loaded = "design\n  band 20 Hz .. 20 kHz\n  source emf 5 mV\n\nstage pickup: emf -> in\n  emf -- R1 47k external -- in\n\nstage amp: in -> out\n  in -- R2 47k -- gnd\n  U1a ideal: + in, - out, out out\n";
    assert_eq!(proposed(loaded, "in -- R2 47k"), [""; 0]);
    let half = "design\n  band 20 Hz .. 20 kHz\n  supply vcc +9 V\n  source in 0.1 V\n\nstage half: vcc -> vref\n  vcc -- R1 10k -- mid\n  mid -- R2 10k || C1 100u polar -- gnd\n  U1b rail_dual: + mid, - vref, out vref\n\nstage amp: in -> out\n  in -- C2 1u -- a -- R3 100k -- vref\n  U1a rail_dual: + a, - out, out out\n";
    assert_eq!(proposed(half, "mid -- R2 10k"), [""; 0]);
}
