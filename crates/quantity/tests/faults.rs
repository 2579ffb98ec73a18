//! What is said about figures that are not read, word for word.

use expect_test::{Expect, expect};
use quantity::{Fault, FaultKind, Unit, Want, read, suggestions};

fn fault(text: &str, want: Want) -> Fault {
    let (figure, unit) = match text.split_once(' ') {
        Some((figure, unit)) => (figure, Some(unit)),
        None => (text, None),
    };
    read(figure, unit, want).expect_err(text)
}

fn says(want: Want, texts: &[&str], expected: Expect) {
    let lines = texts.iter().map(|text| format!("{}\n", fault(text, want).message));
    expected.assert_eq(&lines.collect::<String>());
}

#[test]
fn in_a_resistor() {
    says(
        Want::ResistorValue,
        &[
            "R47", "10 k", "10 K", "10k ohm", "4k7 ohm", "22E", "4E7", "10 kohms", "22uF", "1,5k", "1,500k", ".47",
            "5V1", "10x", "", "abc",
        ],
        expect![[r#"
            R47 is a designator. As a value it has its digit in front: 0R47.
            10 k has a blank before its k: 10k.
            10 K has a blank before its K: 10k.
            10k ohm has its prefix apart from its unit: 10 kohm.
            4k7 ohm has its prefix apart from its unit: 4.7 kohm.
            22E: E is no ohm sign here. 22 Ω is 22R.
            4E7 could be two values: 4.7 Ω is 4R7, 40 MΩ is 4e7.
            10 kohms is written 10k or 10 kohm.
            22uF is a capacitance, and a resistor's value belongs here.
            1,5k has a comma where the point belongs: 1.5k.
            1,500k has a comma, which could part thousands or stand for the point: 1500k or 1.500k.
            .47 has no digit before its point, which is easily overlooked: 0.47.
            5V1 is a voltage, and a resistor's value belongs here.
            10x: x is no unit or prefix that is read here.
            A resistor's value is missing.
            abc is no figure, and a resistor's value belongs here. A figure begins with a digit.
        "#]],
    );
}

#[test]
fn in_a_capacitor_and_an_inductor() {
    says(
        Want::CapacitorValue,
        &["22", "2e-9", "n47", "4K7", "22 u", "2u2 F", "22 uf", "22mfd", "22 uH", "47R", "22uF V", "22nn"],
        expect![[r#"
            22 has no prefix or unit: 22p, 22n or 22u.
            2e-9 has no prefix or unit: 2n.
            n47 is a name. As a value it has its digit in front: 0n47.
            4K7: kilo is a small k, K is read in a resistor's value only: 4k7.
            22 u has a blank before its u: 22u.
            2u2 F has its prefix apart from its unit: 2.2 uF.
            22 uf is written 22 uF.
            22mfd is written 22uF.
            22 uH is an inductance, and a capacitor's value belongs here.
            47R is a resistance, and a capacitor's value belongs here.
            22uF V has two units, uF and V.
            22nn: nn is no unit or prefix that is read here.
        "#]],
    );
    says(
        Want::InductorValue,
        &["10", "10 m"],
        expect![[r#"
        10 has no prefix or unit: 10u, 10m or 10 H.
        10 m has a blank before its m: 10m.
    "#]],
    );
}

#[test]
fn where_a_unit_is_needed() {
    says(
        Want::Frequency,
        &[
            "1",
            "20k",
            "20k Hz",
            "20K Hz",
            "20KHz",
            "20 khz",
            "20 mhz",
            "20 k",
            "20k kHz",
            "10 ms",
            "4E3 Hz",
            "1e",
            "10.",
            "1e999 Hz",
            "1e-999 Hz",
        ],
        expect![[r#"
            1 of what? Hz or kHz.
            20k of what? 20 kHz.
            20k Hz has its prefix apart from its unit: 20 kHz.
            20K Hz has its prefix apart from its unit: 20 kHz.
            20KHz: kilo is a small k, K is read in a resistor's value only: 20kHz.
            20 khz is written 20 kHz.
            20 mhz is written 20 MHz or 20 mHz.
            20 k has a blank before its k: 20 kHz.
            20k kHz has two prefixes, and one is read: 20 kHz.
            10 ms is a time, and a frequency belongs here.
            4E3 Hz: a power of ten has a small e: 4e3 Hz.
            1e breaks off: behind e stands a power of ten, as in 1e3.
            10. breaks off behind its point: 10 Hz or 10 kHz.
            1e999 Hz is greater than any value that can be reckoned with.
            1e-999 Hz is smaller than any value that can be reckoned with.
        "#]],
    );
    says(
        Want::Percentage,
        &["30", "5k %"],
        expect![[r#"
        30 of what? %.
        5k % has a prefix, and percent takes none: 5 %.
    "#]],
    );
    says(
        Want::Voltage,
        &["12", "12 volts", "5V1", "12 dBu"],
        expect![[r#"
        12 of what? V or mV.
        12 volts is written 12 V.
        5V1 has its unit where the point belongs: 5.1 V.
        12 dBu is a level, and a voltage belongs here.
    "#]],
    );
    says(
        Want::Level,
        &["60", "60 dB", "1 ohm"],
        expect![[r#"
        60 of what? dBu, dBV, mV or V.
        60 dB is a gain, and a level says what it is counted from. 60 dBu or 60 dBV.
        1 ohm is a resistance, and a level belongs here.
    "#]],
    );
    says(
        Want::Gain,
        &["12 dBu", "12 V", "12db"],
        expect![[r#"
        12 dBu is a level, and a gain belongs here. 12 dB.
        12 V is a voltage, and a gain belongs here.
        12db is written 12dB.
    "#]],
    );
    says(
        Want::Tolerance(Unit::Decibel),
        &["5 %", "0.5"],
        expect![[r#"
        5 % of a figure in decibels says nothing: a tolerance in dB does. 5 dB.
        0.5 of what? dB.
    "#]],
    );
    says(
        Want::Attribute(Unit::Farad),
        &["63", "10kHz"],
        expect![[r#"
        63 of what? %, V or pF.
        10kHz is a frequency, and a tolerance or a rating belongs here.
    "#]],
    );
    says(
        Want::NoiseDensity,
        &["18", "18n", "18 nV", "18 nV/rthz"],
        expect![[r#"
        18 of what? nV/√Hz or pA/√Hz.
        18n of what? 18 nV/√Hz or 18 nA/√Hz.
        18 nV is a voltage, and a noise density belongs here.
        18 nV/rthz is written 18 nV/rtHz.
    "#]],
    );
    says(
        Want::Any,
        &["10k", "10m", "10n"],
        expect![[r#"
        10k of what? 10 kohm or 10 kHz.
        10m of what? 10 mV, 10 ms or 10 mH.
        10n of what? 10 nF, 10 ns or 10 nA.
    "#]],
    );
}

#[test]
fn what_would_mend_it_is_offered() {
    let fixes = |text, want| fault(text, want).fixes;
    assert_eq!(fixes("R47", Want::ResistorValue), ["0R47"]);
    assert_eq!(fixes("n47", Want::CapacitorValue), ["0n47"]);
    assert_eq!(fixes("22E", Want::ResistorValue), ["22R"]);
    assert_eq!(fixes("4E7", Want::ResistorValue), ["4R7", "4e7"]);
    assert_eq!(fixes("10 k", Want::ResistorValue), ["10k"]);
    assert_eq!(fixes("20k Hz", Want::Frequency), ["20 kHz"]);
    assert_eq!(fixes("4K7", Want::CapacitorValue), ["4k7"]);
    assert_eq!(fixes("22", Want::CapacitorValue), ["22p", "22n", "22u"]);
    assert_eq!(fixes("1,5k", Want::ResistorValue), ["1.5k"]);
    assert_eq!(fixes(".47u", Want::CapacitorValue), ["0.47u"]);
    // Two slips at once are mended at once.
    assert_eq!(fixes(".5K", Want::Frequency), ["0.5 kHz"]);
    assert_eq!(fixes("20 K", Want::Frequency), ["20 kHz"]);
    // Where any replacement would be a guess there is none.
    assert_eq!(fixes("22uF", Want::ResistorValue), [""; 0]);
}

#[test]
fn the_place_of_a_fault_is_counted_over_figure_and_unit() {
    assert_eq!(fault("20 khz", Want::Frequency).range, 2..5);
    assert_eq!(fault("22uF V", Want::CapacitorValue).range, 4..5);
    assert_eq!(fault("1", Want::Frequency).range, 1..1);
    assert_eq!(fault("R47", Want::ResistorValue).range, 0..3);
}

#[test]
fn an_editor_may_wait_where_typing_may_mend_it() {
    for (text, want) in
        [("22", Want::CapacitorValue), ("1", Want::Frequency), ("1e", Want::Any), ("20 k", Want::Frequency)]
    {
        assert!(fault(text, want).kind.may_be_unfinished(), "{text}");
    }
    assert!(!FaultKind::Lookalike.may_be_unfinished());
}

#[test]
fn other_spellings_of_units_are_known() {
    let cases: &[(&str, &[&str])] = &[
        ("khz", &["kHz"]),
        ("KHZ", &["kHz"]),
        ("Khz", &["kHz"]),
        ("mhz", &["MHz", "mHz"]),
        ("KV", &["kV"]),
        ("v", &["V"]),
        ("Ohms", &["ohm"]),
        ("megohms", &["Mohm"]),
        ("Kohm", &["kohm"]),
        ("microfarads", &["uF"]),
        ("pf", &["pF"]),
        ("uH", &["uH"]),
        ("msec", &["ms"]),
        ("db", &["dB"]),
        ("DBU", &["dBu"]),
        ("volts", &["V"]),
        ("nv/rthz", &["nV/rtHz"]),
        ("C", &["degC"]),
        ("furlong", &[]),
        ("", &[]),
    ];
    for (text, symbols) in cases {
        assert_eq!(suggestions(text), *symbols, "{text}");
    }
}

#[test]
fn the_letter_of_a_tolerance_is_written_out() {
    for (mark, want, fix) in [
        ("4K7F", Want::ResistorValue, "4K7 1%"),
        ("4k7J", Want::ResistorValue, "4k7 5%"),
        ("10R0F", Want::ResistorValue, "10R0 1%"),
        ("47nK", Want::CapacitorValue, "47n 10%"),
        ("4n7G", Want::CapacitorValue, "4n7 2%"),
    ] {
        let fault = read(mark, None, want).expect_err(mark);
        assert_eq!(fault.fixes, [fix], "{mark}");
        assert!(fault.message.contains("the letter of a tolerance"), "{}", fault.message);
    }
    // A farad is no per cent.
    assert!(read("22uF", None, Want::ResistorValue).expect_err("farads").fixes.is_empty());
}
