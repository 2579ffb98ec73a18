//! A position of a control at which no signal arrives limits nothing; a null in the band is no figure.

use workbench::{Answer, Reading, Style, Workbench};

fn read(text: &str, phrase: &str) -> Reading {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.into());
    match bench.snapshot().read("a.stage", phrase).as_slice() {
        [Answer::Reading(r)] => (**r).clone(),
        [Answer::Wrong(fault)] => panic!("{phrase}: {}", fault.message),
        other => panic!("{phrase}: {} answers", other.len()),
    }
}

const HEAD: &str = "design\n  supply vpos +12 V, vneg -12 V\n  source in 0.1 V\n";

fn volume(at: &str) -> String {
    format!(
        "{HEAD}stage one: in -> out\n  VR1 10k lin{at}: cw in, wiper w, ccw gnd\n  U1a tl072: + w, - f, out out\n  \
         out -- R1 10k -- f -- R2 1k -- gnd\n  out -- R3 10k -- gnd\n"
    )
}

#[test]
fn a_volume_at_its_end_leaves_headroom_and_the_others_known() {
    for phrase in ["headroom of out", "clip level of out", "flatness in -> out", "input noise in -> out"] {
        let found = read(&volume(""), phrase);
        let line = found.line(Style::default());
        assert_eq!((found.unknown(), found.gap.as_deref()), (None, None), "{line}");
        let ends = &found.range.as_ref().expect("a range").ends;
        assert!(ends.iter().all(|e| e.value.is_some_and(f64::is_finite) && &*e.position != "VR1 0 %"), "{line}");
        assert!(found.working.iter().any(|l| l.starts_with("no signal at VR1 0 %")), "{phrase}: {:?}", found.working);
        // At rest there, the rest has no figure, and the range stays.
        let closed = read(&volume(" at 0 %"), phrase);
        assert_eq!((closed.unknown(), closed.magnitude()), (None, None), "{phrase}");
        assert_eq!(closed.range.as_ref().map(|r| &r.ends), found.range.as_ref().map(|r| &r.ends), "{phrase}");
    }
    assert_eq!(
        read(&volume(""), "headroom of out when VR1 0 %").unknown(),
        Some("no source moves an amplifier on the way")
    );
}

#[test]
fn a_null_behind_an_amplifier_has_no_clip_level() {
    let text = |after: &str| {
        format!("{HEAD}stage one: in -> out\n  U1a tl072: + in, - a, out a\n  a -- R1 1k -- out\n  {after}\n")
    };
    let found = read(&text("out -- L1 10m -- C1 47n -- gnd"), "clip level of out");
    assert_eq!(found.magnitude(), Some(0.0), "{}", found.line(Style::default()));
    assert!(found.line(Style::default()).contains("0 V"), "{}", found.line(Style::default()));
    assert!(read(&text("out -- C1 47n -- gnd"), "clip level of out").magnitude().unwrap() > 0.01);
    // In front of the amplifier it takes the signal, not the room for it.
    let front = format!(
        "{HEAD}stage one: in -> out\n  in -- R2 1k -- p -- L1 10m -- C1 47n -- gnd\n  U1a tl072: + p, - out, out out\n  out -- R1 10k -- gnd\n"
    );
    assert!(read(&front, "clip level of out").magnitude().unwrap() > 0.5);
}
