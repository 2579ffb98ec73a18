//! Faulty lines whose figures stay where they are: what such a line could move is unknown, and what it cannot move is not.

mod said;

use said::{bench, divider, read, rules};

/// What a phrase comes to over tolerance: why it is not known, or nothing.
fn over(text: &str, phrase: &str) -> String {
    let found = bench(text).snapshot().read_over_tolerance("a", phrase);
    let study = found[0].1.as_ref().map(|t| &t.study);
    study.and_then(|s| s.as_ref().err().cloned()).unwrap_or_default()
}

/// A divider of resistors and one of inductors, with these entries of `design`.
fn dividers(entries: &str) -> String {
    format!(
        "design\n  {entries}\n\nstage pad: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n\nstage beside: src -> far\n  src -- L1 1m -- far\n  far -- R7 1k 1% -- gnd\n"
    )
}

#[test]
fn a_tolerance_that_cannot_be_read_decides_nothing_over_tolerance() {
    for (entries, why) in [
        ("tolerance R 1 %\n  matchd R1, R2", "what matchd says cannot be read"),
        ("tolerance R 1 %\n  matchd R1, R2 0.1 %", "what matchd says cannot be read"),
        ("tolerance R 1 %\n  matched R1, R2", "how far matched parts differ cannot be read"),
        ("tolerance R 1 %\n  matched R1, R2 0.1", "how far matched parts differ cannot be read"),
        ("tolerance R 1 %\n  matched R1, R2 0.1 % 3", "how far matched parts differ cannot be read"),
        ("tolerance R 1 %\n  matched R1, R3 0.1 %", "there is no R3 to match, so what matches is not known"),
        ("tolerance R 1 %\n  matched R1 0.1 %", "which parts match cannot be read"),
        ("tolerance R 1 %\n  matched R1, R2, L1 0.1 %", "R1 and L1 cannot match"),
        ("matched R1, R2 0.1 %\n  matched R2, R1 0.2 %", "R1 is matched by two different shares"),
        ("tolerance R 5 %, R 1 %", "R has two tolerances"),
        ("tolerance R 5 %\n  tolerance R 1 %", "R has two tolerances"),
        ("tolerence R 5 %", "what tolerence says cannot be read"),
        ("tolerance L 5 %\n  tolerence R 5 %", "what tolerence says cannot be read"),
        ("tolerance R 5", "R's tolerance cannot be read"),
        ("tolerance R 5 % 2", "R's tolerance cannot be read"),
        ("tolerance R 150 %", "R's tolerance cannot be read"),
        ("tolerance R -5 %", "R's tolerance cannot be read"),
        ("tolerance R1 5 %", "R's tolerance cannot be read"),
        ("tolerance r 5 %", "R's tolerance cannot be read"),
        ("tolerance L 5 %, U 5 %", "whose tolerance U is cannot be read"),
        ("tolerance L 1 %, 5 %", "a tolerance cannot be read"),
    ] {
        let text = dividers(entries);
        assert_eq!(read(&text, "gain in -> out"), "−6.0 dB", "{entries}");
        assert_eq!(over(&text, "gain in -> out"), why, "{entries}");
        assert_eq!(rules(&text).len(), 1, "{entries}: {:?}", rules(&text));
    }
    // A part that says its own tolerance does not ask for its class's.
    for entries in ["tolerance L 1 %, R 5", "tolerance R 5 %, R 1 %", "tolerance R 1 %, U 5 %\n  tolerance L 2 %"] {
        assert_eq!(over(&dividers(entries), "gain src -> far"), "", "{entries}");
    }
    // Where both lines say the same, one is too many and nothing is in doubt.
    for entries in ["tolerance R 1 %\n  tolerance R 1 %", "matched R1, R2 0.1 %\n  matched R2, R1 0.1 %"] {
        assert_eq!(over(&dividers(entries), "gain in -> out"), "", "{entries}");
    }
}

#[test]
fn a_requirement_is_not_held_over_a_tolerance_that_cannot_be_read() {
    let asked = |entries: &str| {
        let text = format!("{}\nrequire\n  gain in -> out = -6 dB ± 0.1 dB\n", dividers(entries));
        let mut statements = bench(&text).snapshot().statements("a");
        statements.remove(0).tolerance.expect("the statement is decided nominally").map(|over| over.verdict)
    };
    assert!(asked("tolerance R 0.5 %").is_ok_and(|v| v == workbench::Held::Holds));
    assert_eq!(asked("tolerance R 0.5").unwrap_err(), "R's tolerance cannot be read");
    let rejecting = |entry: &str| {
        format!(
            "design\n  balanced line: hot, cold\n  {entry}\n\nstage receiver: hot, cold -> out\n  hot -- R1 10k -- p -- R2 10k -- gnd\n  cold -- R3 10k -- m -- R4 10k -- out\n  U1 tl072: + p, - m, out out\n"
        )
    };
    assert!(!read(&rejecting("tolerance R 1 %"), "rejection line -> out").contains("unknown"));
    for (entry, why) in [
        ("tolerance R 1", "unknown: R's tolerance cannot be read"),
        ("tolerance R 1 %\n  matchd R1, R2, R3, R4 0.1 %", "unknown: what matchd says cannot be read"),
    ] {
        assert_eq!(read(&rejecting(entry), "rejection line -> out"), why);
    }
}

#[test]
fn a_copy_keeps_nothing_of_a_part_that_a_line_fails_to_replace() {
    let copied = |entry: &str| {
        let pad = "stage pad: in -> out\n  in -- R1 1k -- SW1 closed -- out\n  out -- R2 1k -- gnd\n";
        format!("{pad}\nstage amp: in -> mid\n  U1: + in, - mid, out mid\n\nuse pad as second: mid -> end\n  {entry}\n")
    };
    assert_eq!(read(&copied("R1 3k"), "gain mid -> end when second.SW1 closed"), "−12.0 dB");
    for (entry, part) in [
        ("R1 open", "R1"),
        ("R1 closed", "R1"),
        ("R1 at 50 %", "R1"),
        ("R1 lin", "R1"),
        ("R1 2k at 50 %", "R1"),
        ("SW1 closed closed", "SW1"),
        ("SW1 lin", "SW1"),
        ("SW1", "SW1"),
    ] {
        let text = copied(entry);
        let why = format!("unknown: what replaces {part} cannot be read");
        assert_eq!(read(&text, "gain mid -> end"), why, "{entry}");
        assert_eq!(read(&text, "gain in -> out when SW1 closed"), "−6.0 dB", "{entry}");
        assert_eq!(rules(&text).len(), 1, "{entry}: {:?}", rules(&text));
    }
}

#[test]
fn what_does_not_turn_is_no_preset() {
    let text = |entry: &str| {
        format!(
            "design\n  {entry}\n\nstage pad: in -> out\n  in -- R1 1k -- SW1 closed -- out\n  out -- R2 1k -- gnd\n\nstage beside: in -> far\n  in -- R8 1k -- far\n  far -- R9 1k -- gnd\n\nstage third: in -> top\n  in -- R5 1k -- top\n  top -- VR1 1k -- gnd\n"
        )
    };
    for part in ["R1", "SW1"] {
        let text = text(&format!("trim {part}: gain in -> out = -3 dB"));
        let why = format!("unknown: {part} is trimmed and does not turn");
        assert_eq!(read(&text, "gain in -> out"), why);
        assert_eq!(read(&text, "gain in -> top"), why);
        assert_eq!(read(&text, "gain in -> far"), "−6.0 dB");
        assert_eq!(rules(&text), ["fixed-part-set"]);
    }
}

#[test]
fn a_setting_that_cannot_be_read_whole_sets_nobody_knows_what() {
    let text = |entry: &str, part: &str| format!("design\n  setting low: {entry}\n\n{}", divider(part));
    for (entry, part, why) in [
        ("R5 5k", "R5 1k", "R5 is fixed, and low sets it"),
        ("R5 5k", "R5 1k -- VR1 1k", "R5 is fixed, and low sets it"),
        ("VR1 0 %,", "VR1 1k", "what low sets cannot be read"),
        ("low", "VR1 1k", "what low sets cannot be read"),
        ("VR1 0 %, high", "VR1 1k", "what low sets cannot be read"),
    ] {
        let text = text(entry, part);
        for phrase in ["gain in -> out", "gain in -> out when low"] {
            assert_eq!(read(&text, phrase), format!("unknown: {why}"), "{entry}");
        }
        assert_eq!(read(&text, "gain in -> far"), "−6.0 dB", "{entry}");
        assert_eq!(rules(&text).len(), 1, "{entry}: {:?}", rules(&text));
    }
}

/// A follower between rails, with these entries of `design` and this kind of data sheet.
fn follower(entries: &str, kind: &str) -> String {
    format!(
        "design\n  source in 10 mV\n  {entries}\n\ndatasheet mine: {kind}\n  swing from rails 1 V\n  gain bandwidth 1 MHz\n\nstage amp: in -> out\n  in -- R1 1k -- gnd\n  U1 mine: + in, - out, out out\n\nstage beside: in -> far\n  in -- R8 1k -- far\n  far -- R9 1k -- gnd\n"
    )
}

#[test]
fn no_rail_is_counted_from_a_gnd_with_a_voltage() {
    for entries in [
        "supply vcc +9 V, gnd -9 V",
        "supply gnd +9 V, vcc +9 V",
        "supply vcc +9 V, vee -9 V\n  supply gnd 12 V",
        "supply gnd 12 V\n  supply vcc +9 V, vee -9 V",
        "supply gnd 12 V",
    ] {
        let text = follower(entries, "opamp");
        for phrase in ["clip level of out", "dc of out", "headroom of out"] {
            assert_eq!(read(&text, phrase), "unknown: gnd is given a voltage", "{entries}");
        }
        assert_eq!(read(&text, "gain in -> far"), "−6.0 dB", "{entries}");
        assert_eq!(rules(&text), ["gnd-supplied"], "{entries}");
    }
    assert_eq!(rules(&follower("supply vcc +9 V ± 5, vee -9 V", "opamp")), ["unreadable-figure"]);
}

#[test]
fn a_data_sheet_of_no_known_kind_describes_no_amplifier() {
    let text = follower("supply vcc +9 V, vee -9 V", "opmp");
    for phrase in ["gain in -> out", "clip level of out"] {
        assert_eq!(read(&text, phrase), "unknown: mine is a data sheet of opmp, which is no kind");
    }
    assert_eq!(read(&text, "gain in -> far"), "−6.0 dB");
    assert_eq!(rules(&text), ["unknown-datasheet-kind"]);
}

#[test]
fn a_reading_is_called_by_the_phrase_that_was_asked() {
    let text = "stage mix: a, b -> z\n  a -- R1 1k -- z\n  b -- R2 1k -- z\n  z -- R3 1k -- gnd\n";
    for phrase in ["input impedance of mix from b", "output impedance of mix from z", "gain a -> z from a"] {
        let answers = bench(text).snapshot().read("a", phrase);
        assert!(matches!(&answers[..], [workbench::Answer::Reading(r)] if &*r.phrase == phrase), "{answers:?}");
    }
}

#[test]
fn a_clause_that_a_quantity_does_not_take_is_no_matter_of_course() {
    let text = "stage mix: a, b -> z\n  a -- R1 1k -- z\n  b -- R2 1k -- z\n  z -- R3 1k -- gnd\n";
    for phrase in [
        "dc of z at 1 kHz",
        "dc of z over 20 Hz .. 20 kHz",
        "dc of z from a",
        "offset of z at 1 kHz",
        "noise of z from a",
        "noise density of z from a",
        "noise density of z over 20 Hz .. 20 kHz",
        "low corner a -> z at 1 kHz",
        "high corner a -> z over 20 Hz .. 20 kHz",
        "flatness a -> z at 1 kHz",
        "q of mix at 1 kHz",
    ] {
        let said = read(text, phrase);
        assert!(said.starts_with("wrong: "), "{phrase}: {said}");
        let asked = format!("{text}\nrequire\n  {phrase}\n");
        assert_eq!(rules(&asked), ["clause-of-other"], "{phrase}");
    }
    for phrase in ["level of z from a", "level of z over 20 Hz .. 20 kHz", "noise of z over 20 Hz .. 2 kHz"] {
        assert!(!read(text, phrase).starts_with("wrong"), "{phrase}");
    }
}

#[test]
fn a_line_of_design_without_its_word_is_not_passed_over() {
    let text = |entry: &str| format!("design\n  {entry}\n\n{}", divider("VR1 1k"));
    for (entry, why) in [
        ("20 Hz .. 20 kHz", "what 20 stands for is not said"),
        ("1 kHz", "what 1 stands for is not said"),
        ("VR1: gain in -> out = -6 dB", "what VR1 says cannot be read"),
        ("balanced pair: out, far 7", "what pair is a pair of cannot be read"),
    ] {
        assert_eq!(read(&text(entry), "gain in -> out"), format!("unknown: {why}"), "{entry}");
        assert_eq!(rules(&text(entry)).len(), 1, "{entry}");
    }
    for (entries, why) in
        [("R 5 %", "what R says cannot be read"), ("tolerance R 1 %\n  R1, R2 0.1 %", "what R1 says cannot be read")]
    {
        assert_eq!(over(&dividers(entries), "gain in -> out"), why, "{entries}");
        assert_eq!(read(&dividers(entries), "gain in -> out"), "−6.0 dB", "{entries}");
    }
}

#[test]
fn a_second_value_is_no_tolerance() {
    for (part, why) in [
        ("R5 1k 3 kohm", "R5's value cannot be read"),
        ("C5 1n 3 nF", "C5's value cannot be read"),
        ("SW1 closed 3 kohm", "SW1's state cannot be read"),
    ] {
        assert_eq!(read(&divider(part), "gain in -> out"), format!("unknown: {why}"), "{part}");
        assert_eq!(rules(&divider(part)).len(), 1, "{part}");
    }
    for part in ["R5 1k ±30 ohm", "C5 1n ±3 pF", "SW1 closed 5 %"] {
        assert!(!read(&divider(part), "gain in -> out").starts_with("unknown"), "{part}");
    }
    let amplifier = |kind: &str| {
        format!(
            "stage amp: in -> out\n  in -- R1 1k -- gnd\n  U1 {kind}: + in, - out, out out\n  out -- R2 1k -- gnd\n"
        )
    };
    for kind in ["tl072 7", "tl072 3 kohm"] {
        assert_eq!(read(&amplifier(kind), "gain in -> out"), "unknown: U1's type cannot be read", "{kind}");
        assert_eq!(rules(&amplifier(kind)).len(), 1, "{kind}");
    }
}

#[test]
fn what_stands_in_front_of_an_equal_sign_may_be_the_name() {
    let text = |entry: &str| format!("let\n  {entry}\n\n{}", divider("R5 (k * 1 kohm)"));
    assert_eq!(read(&text("k = 1"), "gain in -> out"), "−6.0 dB");
    for entry in ["k 1 = 1", "k R5 = 1", "k k = 1"] {
        assert_eq!(read(&text(entry), "gain in -> out"), "unknown: k cannot be read", "{entry}");
        assert_eq!(rules(&text(entry)).len(), 1, "{entry}: {:?}", rules(&text(entry)));
    }
}

#[test]
fn what_stands_among_a_stages_ports_may_be_one() {
    let text = |source: &str, heading: &str| {
        format!("design\n{source}\n{}", divider("R5 1k").replace("stage pad: in -> out", heading))
    };
    for heading in ["stage pad: in 7 -> out", "stage pad: in -> out R7", "stage pad: in -> out :"] {
        let with = text("  source in 1 V\n", heading);
        assert_eq!(read(&with, "input impedance of pad"), "unknown: the heading of pad cannot be read", "{heading}");
        assert_eq!(read(&with, "gain in -> out"), "−6.0 dB", "{heading}");
        assert_eq!(rules(&with), ["heading-extra"], "{heading}");
        // Without a source that is written, ports say where sources stand.
        assert_eq!(
            read(&text("", heading), "gain in -> out"),
            "unknown: the heading of pad cannot be read",
            "{heading}"
        );
    }
}
