//! Many controls: what is shown at every key looks at fewer positions than what is stated, and a long reading gives way to an edit.

use std::sync::mpsc::channel;
use std::thread;

use workbench::{Answer, HintKind, Workbench};

/// Faders in a row in front of a load, as many as wanted.
fn faders(count: usize) -> String {
    let row: Vec<String> = (1..=count).map(|i| format!("VR{i} {i}k -- C{i} {i}u -- n{i}")).collect();
    let row = row.join(" -- ");
    format!(
        "stage bellows: in -> n{count}\n  in -- {row}\n  n{count} -- R1 1k -- gnd\n\nrequire\n  low corner in -> n{count} < 1 kHz\n"
    )
}

#[test]
fn a_heading_looks_at_the_ends_of_many_controls_and_a_phrase_at_all() {
    for (count, shown, stated, more) in [
        (5, "243 positions of VR1, VR2, VR3, VR4, VR5 examined\n", 243, false),
        // 2⁶ ends, and one at a time from rest: half is where they rest.
        (6, "77 positions of VR1, VR2, VR3, VR4, VR5, VR6 examined; they have 729 combinations\n", 729, true),
    ] {
        let mut bench = Workbench::new();
        bench.set_text("a", faders(count));
        let snapshot = bench.snapshot();
        let hints = snapshot.quick_hints("a", None);
        let heading = hints.iter().find(|h| h.kind == HintKind::Stage).expect("the stage has a hint");
        let working = heading.tooltip.as_deref().expect("with its working");
        assert!(working.contains(shown), "{working}");
        assert!(hints.iter().all(|h| h.kind != HintKind::Statement), "{hints:#?}");
        assert_eq!(snapshot.takes_long("a"), more);
        let Answer::Reading(reading) = &snapshot.read("a", &format!("gain in -> n{count}"))[0] else {
            panic!("a reading")
        };
        assert_eq!(reading.range.as_ref().expect("a range").examined, stated);
    }
}

#[test]
fn a_long_reading_gives_way_to_an_edit() {
    let (begun, has_begun) = channel();
    let mut bench = Workbench::telling(move |question| {
        if question.starts_with("decided") {
            let _ = begun.send(());
        }
    });
    bench.set_text("a", faders(7));
    let snapshot = bench.snapshot();
    let reader = thread::spawn(move || snapshot.hints("a", None));
    has_begun.recv().expect("the statement is being read");
    bench.set_text("a", faders(2));
    let left = reader.join().expect_err("2,187 corners take longer than an edit");
    assert!(workbench::cancelled(left.as_ref()), "nothing else made it stop");
    assert!(bench.snapshot().hints("a", None).iter().any(|h| h.kind == HintKind::Statement));
}
