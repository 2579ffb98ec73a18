//! Supply pins the wrong way round are told, with the way out.

mod said;

use said::bench;
use workbench::Severity;

fn text(supply: &str, pins: &str) -> String {
    format!(
        "stage amp: in -> out\n  in -- R1 10k -- gnd\n  U1a ne5532: + in, - out, out out, supply {pins}\n  out -- R2 10k -- gnd\ndesign\n  supply {supply}\n  source in 1 V\n"
    )
}

#[test]
fn exchanged_pins_are_told_and_mended() {
    let text = text("vpos +12 V, vneg -12 V", "vneg vpos");
    let bench = bench(&text);
    let problems = bench.snapshot().problems("a");
    let [problem] = &problems[..] else { panic!("{problems:#?}") };
    assert_eq!((problem.id, problem.severity), ("rails-exchanged", Severity::Error));
    assert_eq!(
        problem.message,
        "U1a is supplied the wrong way round: the positive rail comes first, and vneg is at −12 V, vpos at 12 V. Built so, it draws all that the supplies give and does not survive it."
    );
    let mut mended = text.clone();
    let mut edits = problem.fixes[0].edits.clone();
    edits.sort_by_key(|e| std::cmp::Reverse(e.range.start));
    edits.into_iter().for_each(|e| mended.replace_range(e.range, &e.text));
    assert!(mended.contains("supply vpos vneg"), "{mended}");
    assert!(said::rules(&mended).is_empty());
}

#[test]
fn against_gnd_the_sign_tells() {
    assert_eq!(said::rules(&text("v +9 V", "gnd v")), ["rails-exchanged"]);
    assert!(said::rules(&text("v +9 V", "v gnd")).is_empty());
    assert_eq!(said::rules(&text("v -9 V", "v gnd")), ["rails-exchanged"]);
    assert!(said::rules(&text("v -9 V", "gnd v")).is_empty());
}
