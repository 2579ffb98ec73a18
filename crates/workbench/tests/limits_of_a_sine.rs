//! Limits of a level that are written as a sine's peak or from peak to peak.

use workbench::{Verdict, Workbench};

const PAD: &str = "design
  source in 1 V

stage pad: in -> out
  in  -- R1 1k -- out
  out -- R2 1M -- gnd

require
";

/// Whether each limit of the pad, whose output is 0.999 V rms, holds; and what is said.
fn judged(limits: &[&str]) -> (Vec<bool>, Vec<String>) {
    let text = format!("{PAD}  {}\n", limits.join("\n  "));
    let mut bench = Workbench::new();
    bench.set_text("a", text);
    let s = bench.snapshot();
    let told = s.problems("a").iter().filter(|p| p.id == "leftover").map(|p| p.message.clone()).collect();
    (s.statements("a").iter().map(|s| s.verdict == Verdict::Holds).collect(), told)
}

#[test]
fn peak_and_pp_are_turned_into_rms() {
    let (held, told) = judged(&[
        "level of out > 1.41 V peak",
        "level of out > 1.42 V peak",
        "level of out < 2.83 V pp",
        "level of out < 2.82 V pp",
        "level of out = 1.414 V peak ± 1 %",
        "level of out = 2.828 V ± 1 % pp",
    ]);
    assert_eq!(told, Vec::<String>::new());
    assert_eq!(held, [true, false, true, false, true, true]);
}

#[test]
fn what_is_no_level_of_a_sine_has_no_peak() {
    let (held, told) = judged(&[
        "noise of out < 1 V peak",
        "voltage of R1 < 2 V peak",
        "level of out > 0 dBu pp",
        "gain in -> out > -1 dB pp",
    ]);
    assert_eq!(held, [false; 4]);
    assert_eq!(
        told,
        [
            "`peak` has no meaning here: noise is no level of a sine.",
            "`peak` has no meaning here: voltage of a part is a peak value already.",
            "`pp` has no meaning here: a level in decibels is rms.",
            "`pp` has no meaning here: gain is no level of a sine.",
        ]
    );
}
