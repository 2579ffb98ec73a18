//! Figures as a designer types them, and what they say.

use quantity::{Quantity, Unit, Want, read};

fn said(text: &str, want: Want) -> Quantity {
    let (figure, unit) = match text.split_once(' ') {
        Some((figure, unit)) => (figure, Some(unit)),
        None => (text, None),
    };
    match read(figure, unit, want) {
        Ok((quantity, None)) => quantity,
        other => panic!("{text} gave {other:?}"),
    }
}

/// The value of a resistor that is read without a remark.
fn ohms(text: &str) -> f64 {
    let quantity = said(text, Want::ResistorValue);
    assert_eq!(quantity.unit, Unit::Ohm);
    quantity.value
}

fn farads(text: &str) -> f64 {
    let quantity = said(text, Want::CapacitorValue);
    assert_eq!(quantity.unit, Unit::Farad);
    quantity.value
}

#[test]
fn a_resistor_is_written_in_any_of_the_trades_ways() {
    for text in
        ["4.7k", "4k7", "4K7", "4.7K", "4700", "4700R", "4.7kohm", "4k7Ω", "4.7 kΩ", "4.7 kohm", "4.7e3", "0.0047M"]
    {
        assert_eq!(ohms(text), 4700.0, "{text}");
    }
    // The ohm sign (U+2126) is another character than the Greek capital (U+03A9), and looks the same.
    assert_eq!(ohms("10k\u{2126}"), ohms("10k\u{3a9}"));
    assert_eq!(ohms("10"), 10.0);
    assert_eq!(ohms("0R47"), 0.47);
    assert_eq!(ohms("2M2"), 2.2e6);
    assert_eq!(ohms("8k06"), 8060.0);
    assert_eq!(ohms("1G"), 1e9);
    // A link.
    assert_eq!(ohms("0R"), 0.0);
    assert_eq!(ohms("0"), 0.0);
}

#[test]
fn a_capacitor_is_written_in_any_of_the_trades_ways() {
    for text in
        ["2u2", "2.2u", "2µ2", "2μ2", "2.2uF", "2.2 uF", "2.2 µF", "2.2 μF", "2200n", "2u2F", "2.2e-6F", "0.0022 mF"]
    {
        assert_eq!(farads(text), 2.2e-6, "{text}");
    }
    assert_eq!(farads("4n7"), 4.7e-9);
    assert_eq!(farads("15n"), 15e-9);
    assert_eq!(farads("0p5"), 0.5e-12);
    assert_eq!(farads("4700u"), 4700e-6);
}

#[test]
fn the_value_is_the_number_nearest_to_the_decimal_one() {
    // A multiplication would be off in the last place: 2.2 times 1e-6 is not the number nearest to 2.2e-6 in general.
    let products = (1..1000).filter(|n| f64::from(*n) * 1e-9 != format!("{n}e-9").parse().unwrap()).count();
    assert!(products > 0, "if products were exact, this test would show nothing");
    for n in 1..1000 {
        let literal: f64 = format!("{n}e-9").parse().unwrap();
        assert_eq!(farads(&format!("{n}n")), literal);
        let literal: f64 = format!("{n}.3e-12").parse().unwrap();
        assert_eq!(farads(&format!("{n}p3")), literal);
    }
}

#[test]
fn every_other_place_has_its_unit() {
    let cases = [
        ("20 kHz", Want::Frequency, 20e3, Unit::Hertz),
        ("20kHz", Want::Frequency, 20e3, Unit::Hertz),
        ("0.1 Hz", Want::Frequency, 0.1, Unit::Hertz),
        ("3180 us", Want::Time, 3180e-6, Unit::Second),
        ("75 µs", Want::Time, 75e-6, Unit::Second),
        ("5 ms", Want::Time, 5e-3, Unit::Second),
        ("2 s", Want::Time, 2.0, Unit::Second),
        ("12 V", Want::Voltage, 12.0, Unit::Volt),
        ("5 mV", Want::Source, 5e-3, Unit::Volt),
        ("10 nA", Want::Source, 10e-9, Unit::Ampere),
        ("17.8 dBu", Want::Level, 17.8, Unit::Dbu),
        ("10 dBV", Want::Level, 10.0, Unit::Dbv),
        ("12dB", Want::Gain, 12.0, Unit::Decibel),
        ("2.13", Want::Gain, 2.13, Unit::One),
        ("100k", Want::Gain, 1e5, Unit::One),
        ("45 deg", Want::Angle, 45.0, Unit::Degree),
        ("45 °", Want::Angle, 45.0, Unit::Degree),
        ("25 degC", Want::Temperature, 25.0, Unit::Celsius),
        ("25 °C", Want::Temperature, 25.0, Unit::Celsius),
        ("5 %", Want::Percentage, 5.0, Unit::Percent),
        ("50 mW", Want::Power, 50e-3, Unit::Watt),
        ("10 Mohm", Want::Resistance, 10e6, Unit::Ohm),
        ("500mH", Want::InductorValue, 0.5, Unit::Henry),
        ("0.707", Want::Number, 0.707, Unit::One),
        ("18 nV/√Hz", Want::NoiseDensity, 18e-9, Unit::VoltPerRootHertz),
        ("18nV/rtHz", Want::NoiseDensity, 18e-9, Unit::VoltPerRootHertz),
        ("0.01 pA/√Hz", Want::NoiseDensity, 0.01e-12, Unit::AmperePerRootHertz),
        ("13 V/us", Want::SlewRate, 13e6, Unit::VoltPerSecond),
        ("0.5 V/µs", Want::SlewRate, 0.5e6, Unit::VoltPerSecond),
        ("500 V/ms", Want::SlewRate, 0.5e6, Unit::VoltPerSecond),
    ];
    for (text, want, value, unit) in cases {
        let quantity = said(text, want);
        assert_eq!((quantity.value, quantity.unit), (value, unit), "{text}");
    }
}

#[test]
fn letters_that_differ_by_case_alone_are_kept_apart() {
    assert_eq!(said("22F", Want::CapacitorValue).value, 22.0);
    assert_eq!(said("22fF", Want::Capacitance).value, 22e-15);
    assert_eq!(said("5 mHz", Want::Frequency).value, 5e-3);
    assert_eq!(said("5 MHz", Want::Frequency).value, 5e6);
    assert_eq!(Unit::read("s"), Some((Unit::Second, 0)));
    assert_eq!(Unit::read("ms"), Some((Unit::Second, -3)));
    assert_eq!(Unit::read("S"), None);
    assert_eq!(Unit::read("m"), None);
    assert_eq!(Unit::read("mdB"), None);
}

#[test]
fn a_tolerance_is_a_percentage_or_a_quantity_of_the_same_kind() {
    assert_eq!(said("0.5 dB", Want::Tolerance(Unit::Decibel)).unit, Unit::Decibel);
    assert_eq!(said("1 dB", Want::Tolerance(Unit::Dbu)).unit, Unit::Decibel);
    assert_eq!(said("5 %", Want::Tolerance(Unit::Hertz)).unit, Unit::Percent);
    assert_eq!(said("200 Hz", Want::Tolerance(Unit::Hertz)).value, 200.0);
    assert_eq!(said("0.05", Want::Tolerance(Unit::One)).unit, Unit::One);
    assert!(read("5", Some("%"), Want::Tolerance(Unit::Decibel)).is_err());
    assert!(read("5", Some("mV"), Want::Tolerance(Unit::Hertz)).is_err());
}

#[test]
fn attributes_are_tolerances_and_ratings() {
    for (text, unit) in [("1 %", Unit::Percent), ("63V", Unit::Volt), ("0.25W", Unit::Watt), ("0.25pF", Unit::Farad)] {
        assert_eq!(said(text, Want::Attribute(Unit::Farad)).unit, unit, "{text}");
    }
    assert!(read("10kHz", None, Want::Attribute(Unit::Farad)).is_err());
}

#[test]
fn whether_the_unit_was_written_is_kept() {
    assert!(!said("10k", Want::ResistorValue).written_unit);
    assert!(said("10 kohm", Want::ResistorValue).written_unit);
    assert!(said("47R", Want::ResistorValue).written_unit);
    assert!(said("47R", Want::Any).written_unit);
}

#[test]
fn an_expression_reckons_with_linear_values() {
    let linear = |text, want| said(text, want).linear().0;
    assert_eq!(linear("20 dB", Want::Any), 10.0);
    assert_eq!(linear("5 %", Want::Any), 0.05);
    assert_eq!(linear("0 dBV", Want::Any), 1.0);
    assert!((linear("180 deg", Want::Any) - std::f64::consts::PI).abs() < 1e-15);
    assert_eq!(said("1 dBu", Want::Any).linear().1, Unit::Volt.dimension());
}
