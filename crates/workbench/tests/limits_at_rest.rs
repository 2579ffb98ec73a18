//! What cannot stand at rest is unknown in every reading that rests on it, with the same reason.

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

#[track_caller]
fn unknown(text: &str, phrase: &str) -> String {
    let r = read(text, phrase);
    r.unknown().unwrap_or_else(|| panic!("{}", r.line(Style::default()))).to_string()
}

#[test]
fn an_amplifier_beyond_its_rails_gives_no_power_voltage_or_current() {
    let text = "design\n  supply vcc +9 V\nstage one: vcc -> x\n  vcc -- R1 1k -- p -- R2 1k -- gnd\n  \
                U1a tl072: + p, - f, out out\n  out -- R3 9k -- f -- R4 1k -- gnd\n  out -- R5 1k -- x -- R6 1k -- gnd\n";
    for phrase in ["dc of out", "power of R5", "voltage of R5", "current of R5"] {
        let why = unknown(text, phrase);
        assert!(why.starts_with("U1a would have to stand at 45.0 V, beyond its rails"), "{phrase}: {why}");
    }
}

#[test]
fn an_amplifier_asked_for_more_than_it_gives_has_no_direct_voltage() {
    let text = "design\n  supply vcc +12 V\nstage one: vcc -> out\n  vcc -- R1 10k -- p -- R2 10k -- gnd\n  \
                U1a tl072: + p, - out, out out\n  out -- R3 47 -- gnd\n";
    let why = "U1a would have to give 128 mA at rest, and can 10 mA";
    for phrase in ["dc of out", "power of R3", "voltage of R3", "current of R3", "clip level of out"] {
        assert_eq!(unknown(text, phrase), why, "{phrase}");
    }
    // 1k asks for 6 mA, which it can.
    assert_eq!(read(&text.replace("47", "1k"), "dc of out").unknown(), None);
}
