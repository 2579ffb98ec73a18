//! How numbers look to a person.

use quantity::{
    Levels, Style, Unit, canonical, computed, dbu_with_volts, decibels, degrees, exact, range, ratio,
    ratio_with_decibels, share,
};

const PRETTY: Style = Style { digits: 3, decimals: 1, ascii: false, levels: Levels::Both };

fn shown(value: f64, unit: Unit) -> String {
    computed(value, unit, PRETTY).unwrap()
}

#[test]
fn a_computed_value_has_three_digits_and_a_prefix() {
    assert_eq!(shown(159.154_943, Unit::Ohm), "159 Ω");
    assert_eq!(shown(1_021.3, Unit::Ohm), "1.02 kΩ");
    assert_eq!(shown(33_862.75, Unit::Hertz), "33.9 kHz");
    assert_eq!(shown(2.2e-6, Unit::Farad), "2.2 µF");
    assert_eq!(shown(18.04e-9, Unit::VoltPerRootHertz), "18.0 nV/√Hz");
    assert_eq!(shown(13e6, Unit::VoltPerSecond), "13 V/µs");
    assert_eq!(shown(-0.012_34, Unit::Volt), "−12.3 mV");
    assert_eq!(shown(0.612_37, Unit::One), "0.612");
    assert_eq!(shown(0.0, Unit::Ampere), "0 A");
}

#[test]
fn a_zero_at_the_end_is_kept_where_rounding_stands_behind_it() {
    assert_eq!(shown(10e6, Unit::Ohm), "10 MΩ");
    assert_eq!(shown(9.998e6, Unit::Ohm), "10.0 MΩ");
    assert_eq!(shown(10.04e6, Unit::Ohm), "10.0 MΩ");
    // One part in 10¹² is the noise of arithmetic, not a digit.
    assert_eq!(shown(10e6 * (1.0 + 1e-12), Unit::Ohm), "10 MΩ");
    assert_eq!(shown(999.6, Unit::Ohm), "1.00 kΩ");
    assert_eq!(shown(999.4, Unit::Ohm), "999 Ω");
    assert_eq!(shown(1000.0, Unit::Ohm), "1 kΩ");
    assert_eq!(shown(999_600.0, Unit::Hertz), "1.00 MHz");
}

#[test]
fn some_units_keep_to_the_trades_prefixes() {
    assert_eq!(shown(0.34, Unit::Hertz), "0.34 Hz");
    assert_eq!(shown(0.003_4, Unit::Hertz), "3.4 mHz");
    assert_eq!(shown(0.47, Unit::Ohm), "0.47 Ω");
    assert_eq!(shown(0.047, Unit::Ohm), "47 mΩ");
    assert_eq!(exact(4700e-6, Unit::Farad, PRETTY).unwrap(), "4700 µF");
}

#[test]
fn a_written_value_keeps_all_its_digits_and_no_more() {
    assert_eq!(exact(4700.0, Unit::Ohm, PRETTY).unwrap(), "4.7 kΩ");
    assert_eq!(exact(8060.0, Unit::Ohm, PRETTY).unwrap(), "8.06 kΩ");
    assert_eq!(exact(12_345.6, Unit::Hertz, PRETTY).unwrap(), "12.3456 kHz");
    assert_eq!(exact(-2.13, Unit::One, PRETTY).unwrap(), "−2.13");
    assert_eq!(exact(0.25, Unit::Percent, PRETTY).unwrap(), "0.25 %");
    assert_eq!(exact(12.0, Unit::Decibel, PRETTY).unwrap(), "12 dB");
}

#[test]
fn decibels_angles_and_shares_have_fixed_places() {
    let fine = Style { decimals: 2, ..PRETTY };
    assert_eq!(decibels(12.04, PRETTY).unwrap(), "12.0 dB");
    assert_eq!(decibels(-3.0103, fine).unwrap(), "−3.01 dB");
    assert_eq!(decibels(-0.04, PRETTY).unwrap(), "0.0 dB");
    assert_eq!(degrees(-45.4, PRETTY).unwrap(), "−45°");
    assert_eq!(degrees(-45.4, Style::ASCII).unwrap(), "-45 deg");
    assert_eq!(share(0.993_4).unwrap(), "99.3 %");
    assert_eq!(share(1.0).unwrap(), "100 %");
    assert_eq!(share(0.0).unwrap(), "0 %");
    // 9,999 builds of 10,000 are not all of them.
    assert_eq!(share(0.9999).unwrap(), "> 99.9 %");
    assert_eq!(share(0.0001).unwrap(), "< 0.1 %");
}

#[test]
fn both_of_the_trades_ways_stand_side_by_side() {
    assert_eq!(dbu_with_volts(95.3e-6, PRETTY).unwrap(), "−78.2 dBu (95.3 µV)");
    assert_eq!(ratio_with_decibels(2.0, PRETTY).unwrap(), "×2.00 (6.0 dB)");
    assert_eq!(ratio_with_decibels(-2.127, PRETTY).unwrap(), "×−2.13 (6.6 dB)");
    assert_eq!(ratio(0.5, Style::ASCII).unwrap(), "x0.500");
    assert_eq!(dbu_with_volts(0.0, PRETTY).unwrap(), "0 V");
    assert_eq!(ratio_with_decibels(0.0, PRETTY).unwrap(), "×0.00");
}

#[test]
fn a_range_has_one_unit_where_one_does() {
    let shown = |from, to, unit| range(from, to, unit, PRETTY).unwrap();
    assert_eq!(shown(6.02, 34.31, Unit::Decibel), "6.0 … 34.3 dB");
    assert_eq!(shown(34.31, 6.02, Unit::Decibel), "34.3 … 6.0 dB");
    assert_eq!(shown(7.234, 58_123.0, Unit::Hertz), "7.23 Hz … 58.1 kHz");
    assert_eq!(shown(20.0, 200.0, Unit::Hertz), "20 … 200 Hz");
    assert_eq!(shown(12.01, 12.04, Unit::Decibel), "12.0 dB");
    assert_eq!(shown(-45.2, 10.0, Unit::Degree), "−45 … 10°");
    assert_eq!(range(6.02, 34.31, Unit::Decibel, Style::ASCII).unwrap(), "6.0 .. 34.3 dB");
}

#[test]
fn ascii_is_what_the_notation_reads() {
    let shown = |value, unit| computed(value, unit, Style::ASCII).unwrap();
    assert_eq!(shown(10e3, Unit::Ohm), "10 kohm");
    assert_eq!(shown(2.2e-6, Unit::Farad), "2.2 uF");
    assert_eq!(shown(18e-9, Unit::VoltPerRootHertz), "18 nV/rtHz");
    assert_eq!(shown(-3.0, Unit::Decibel), "-3.0 dB");
    assert_eq!(shown(13e6, Unit::VoltPerSecond), "13 V/us");
    assert_eq!(shown(25.0, Unit::Celsius), "25 degC");
}

#[test]
fn what_is_not_finite_is_never_shown_as_a_number() {
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        for unit in Unit::ALL {
            assert_eq!(computed(value, unit, PRETTY), None);
            assert_eq!(exact(value, unit, PRETTY), None);
            assert_eq!(canonical(value, unit), None);
            assert_eq!(range(1.0, value, unit, PRETTY), None);
            assert_eq!(range(value, 1.0, unit, PRETTY), None);
        }
        assert_eq!(share(value), None);
        assert_eq!(ratio(value, PRETTY), None);
        assert_eq!(ratio_with_decibels(value, PRETTY), None);
        assert_eq!(dbu_with_volts(value, PRETTY), None);
    }
    assert_eq!(share(1.5), None);
    assert_eq!(dbu_with_volts(-1.0, PRETTY), None);
}

#[test]
fn what_no_prefix_reaches_has_an_exponent() {
    assert_eq!(shown(1.234e-20, Unit::Farad), "1.23e−20 F");
    assert_eq!(shown(1.234e20, Unit::Ohm), "1.23e20 Ω");
    assert_eq!(shown(123_456.0, Unit::One), "123000");
    assert_eq!(shown(1.234e12, Unit::One), "1.23e12");
}

#[test]
fn source_text_is_as_the_trade_writes_parts() {
    let written = |value, unit| canonical(value, unit).unwrap();
    assert_eq!(written(4700.0, Unit::Ohm), "4.7k");
    assert_eq!(written(10e6, Unit::Ohm), "10M");
    assert_eq!(written(47.0, Unit::Ohm), "47");
    assert_eq!(written(0.47, Unit::Ohm), "0.47");
    assert_eq!(written(0.0, Unit::Ohm), "0");
    assert_eq!(written(22e-6, Unit::Farad), "22u");
    assert_eq!(written(4700e-6, Unit::Farad), "4700u");
    assert_eq!(written(100e-9, Unit::Farad), "100n");
    assert_eq!(written(0.5, Unit::Henry), "500m");
    // Those that would call for a remark have their unit, and so has what needs one.
    assert_eq!(written(0.05, Unit::Ohm), "50 mohm");
    assert_eq!(written(1.0, Unit::Farad), "1 F");
    assert_eq!(written(10.0, Unit::Henry), "10 H");
    assert_eq!(written(1000.0, Unit::Hertz), "1 kHz");
    assert_eq!(written(5.0, Unit::Percent), "5 %");
    assert_eq!(written(-12.0, Unit::Volt), "-12 V");
    assert_eq!(written(18e-9, Unit::VoltPerRootHertz), "18 nV/√Hz");
    assert_eq!(canonical(-1.0, Unit::Ohm), None);
}
