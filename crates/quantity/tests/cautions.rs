//! Values that are read with a remark.

use expect_test::{Expect, expect};
use quantity::{Caution, Want, read};

fn caution(text: &str, want: Want) -> Option<Caution> {
    let (figure, unit) = match text.split_once(' ') {
        Some((figure, unit)) => (figure, Some(unit)),
        None => (text, None),
    };
    read(figure, unit, want).expect(text).1
}

fn says(want: Want, texts: &[&str], expected: Expect) {
    let lines = texts.iter().map(|text| {
        let caution = caution(text, want).expect(text);
        format!("{} [{}]\n", caution.message, caution.fixes.join("] ["))
    });
    expected.assert_eq(&lines.collect::<String>());
}

#[test]
fn a_slip_of_the_prefix_has_both_readings_named() {
    says(
        Want::ResistorValue,
        &["10m", "10G", "0.05", "22u", "1e10", "4m7"],
        expect![[r#"
        10m is 10 milliohm. 10 megohm is 10M. [10M] [10 mohm]
        10G is 10 gigaohm. 10 megohm is 10M. [10M] [10 Gohm]
        0.05 is 50 mΩ, less than a resistor's value usually is. If it is meant: 50 mohm. [50 mohm]
        22u is 22 µΩ, less than a resistor's value usually is. A capacitance belongs to a C. If it is meant: 22 uohm. [22 uohm]
        1e10 is 10 GΩ, more than a resistor's value usually is. If it is meant: 10 Gohm. [10 Gohm]
        4m7 is 4.7 milliohm. 4.7 megohm is 4.7M. [4.7M] [4.7 mohm]
    "#]],
    );
    says(
        Want::CapacitorValue,
        &["220m", "22k", "1M", "22f", "0.05p", "220000u"],
        expect![[r#"
        220m is 220 millifarad. 220 microfarad is 220u. [220u] [220 mF]
        22k is 22 kilofarad. 22 nanofarad is 22n. [22n] [22 kF]
        1M is 1 megafarad. 1 microfarad is 1u. [1u] [1 MF]
        22f is 22 femtofarad. 22 picofarad is 22p. [22p] [22 fF]
        0.05p is 0.05 picofarad. 0.05 microfarad is 0.05u. [0.05u] [0.05 pF]
        220000u is 220000 microfarad. 220000 picofarad is 220000p. [220000p] [220000 uF]
    "#]],
    );
    says(
        Want::InductorValue,
        &["10M", "10k", "10p"],
        expect![[r#"
        10M is 10 megahenry. 10 millihenry is 10m. [10m] [10 MH]
        10k is 10 kilohenry. 10 millihenry is 10m. [10m] [10 kH]
        10p is 10 picohenry. 10 microhenry is 10u. [10u] [10 pH]
    "#]],
    );
}

#[test]
fn an_everyday_value_has_no_remark() {
    for text in ["0.1", "0R05", "1G", "1M", "100m", "0", "0R"] {
        assert_eq!(caution(text, Want::ResistorValue), None, "{text}");
    }
    for text in ["0.1p", "100m", "4700u", "1p"] {
        assert_eq!(caution(text, Want::CapacitorValue), None, "{text}");
    }
}

#[test]
fn writing_the_unit_out_answers_it() {
    for text in ["10 mΩ", "10 mohm", "10mohm", "10 Gohm"] {
        assert_eq!(caution(text, Want::ResistorValue), None, "{text}");
    }
    for text in ["1 F", "470 mF", "22 fF"] {
        assert_eq!(caution(text, Want::CapacitorValue), None, "{text}");
    }
}

#[test]
fn every_fix_of_a_caution_is_read_without_one() {
    let places = [
        (Want::ResistorValue, ["10m", "10G", "0.05", "22u", "1e10", "1e-30", "5000G"]),
        (Want::CapacitorValue, ["220m", "22k", "1M", "22f", "0.05p", "220000u", "3T"]),
        (Want::InductorValue, ["10M", "10k", "10p", "1f", "10G", "2000k", "10T"]),
    ];
    for (want, texts) in places {
        for text in texts {
            for fix in caution(text, want).expect(text).fixes {
                assert_eq!(caution(&fix, want), None, "{fix} for {text}");
            }
        }
    }
}
