//! Dimensions as expressions meet them.

use quantity::{Dimension, Unit};

#[test]
fn ohms_times_farads_are_seconds() {
    let (ohm, farad, henry) = (Unit::Ohm.dimension(), Unit::Farad.dimension(), Unit::Henry.dimension());
    assert_eq!(ohm.times(farad), Some(Dimension::TIME));
    assert_eq!(henry.per(ohm), Some(Dimension::TIME));
    assert_eq!(henry.times(farad).and_then(Dimension::root), Some(Dimension::TIME));
    assert_eq!(henry.per(farad).and_then(Dimension::root), Some(ohm));
    assert_eq!(Unit::Volt.dimension().per(Unit::Ampere.dimension()), Some(ohm));
    assert_eq!(Unit::Volt.dimension().times(Unit::Ampere.dimension()), Some(Dimension::POWER));
    assert_eq!(Dimension::NONE.per(Dimension::TIME), Some(Dimension::FREQUENCY));
}

#[test]
fn noise_densities_have_half_exponents() {
    let density = Unit::VoltPerRootHertz.dimension();
    let bandwidth = Unit::Hertz.dimension().root().unwrap();
    assert_eq!(density.times(bandwidth), Some(Dimension::VOLTAGE));
    // Thermal noise: √(4·k·T·R), with k in joules per kelvin.
    let joule = Dimension::POWER.times(Dimension::TIME).unwrap();
    let boltzmann = joule.per(Dimension::TEMPERATURE).unwrap();
    let squared =
        boltzmann.times(Dimension::TEMPERATURE).and_then(|energy| energy.times(Dimension::RESISTANCE)).unwrap();
    assert_eq!(squared.root(), Some(density));
    assert_eq!(density.root(), None);
    assert_eq!(Dimension::VOLTAGE.power(0.25), None);
    assert_eq!(Dimension::VOLTAGE.power(f64::NAN), None);
    assert_eq!(Dimension::VOLTAGE.power(1e9), None);
}

#[test]
fn a_dimension_has_a_unit_and_a_name_for_a_message() {
    for (dimension, name, unit) in [
        (Dimension::RESISTANCE, "ohms", Some(Unit::Ohm)),
        (Dimension::TIME, "seconds", Some(Unit::Second)),
        (Dimension::VOLTAGE, "volts", Some(Unit::Volt)),
        (Dimension::NONE, "a plain number", Some(Unit::One)),
        (Dimension::VOLTAGE_DENSITY, "volts per root hertz", Some(Unit::VoltPerRootHertz)),
        (Dimension::CHARGE, "coulombs", None),
    ] {
        assert_eq!(dimension.name(), name);
        assert_eq!(dimension.unit(), unit);
    }
    let composed = |volts: f64, amperes: f64, seconds: f64| {
        let parts = [(Dimension::VOLTAGE, volts), (Dimension::CURRENT, amperes), (Dimension::TIME, seconds)];
        parts
            .into_iter()
            .fold(Dimension::NONE, |all, (one, power)| all.times(one.power(power).unwrap()).unwrap())
            .name()
    };
    assert_eq!(composed(2.0, 0.0, 0.0), "V²");
    assert_eq!(composed(2.0, -1.0, 0.0), "V²/A");
    assert_eq!(composed(1.0, -1.0, -1.0), "Ω/s");
    assert_eq!(composed(2.0, -2.0, 0.0), "Ω²");
    assert_eq!(composed(-1.0, 1.0, -1.0), "1/H");
    assert_eq!(composed(-2.0, 2.0, 2.0), "F²");
    assert_eq!(composed(0.0, 0.0, -2.0), "1/s²");
    assert_eq!(composed(1.0, 0.0, -0.5), "V/√s");
    assert_eq!(composed(1.5, 0.0, 4.0), "V^1.5·s^4");
}

#[test]
fn a_root_is_told_of_the_unit_that_it_is_of() {
    let root = |d: Dimension| d.root().unwrap();
    assert_eq!(root(Dimension::RESISTANCE).to_string(), "√Ω");
    assert_eq!(root(Dimension::RESISTANCE).name(), "the square root of ohms");
    assert_eq!(root(Dimension::VOLTAGE).to_string(), "√V");
    assert_eq!(root(Dimension::FREQUENCY).name(), "the square root of hertz");
    assert_eq!(Dimension::CAPACITANCE.power(1.5).unwrap().to_string(), "F^1.5");
    assert_eq!(quantity::composed(3.0, root(Dimension::RESISTANCE), quantity::Style::default()).unwrap(), "3 √Ω");
}

#[test]
fn every_unit_that_is_linear_is_the_unit_of_its_dimension() {
    for unit in Unit::ALL {
        let found = unit.dimension().unit();
        match unit {
            Unit::Celsius => assert_eq!(found, None),
            Unit::Dbu | Unit::Dbv => assert_eq!(found, Some(Unit::Volt)),
            Unit::Decibel | Unit::Degree | Unit::Percent => assert_eq!(found, Some(Unit::One)),
            unit => assert_eq!(found, Some(unit)),
        }
    }
}

#[test]
fn exponents_that_cannot_be_counted_are_no_dimension() {
    let mut dimension = Dimension::VOLTAGE;
    let mut steps = 0;
    while let Some(square) = dimension.times(dimension) {
        dimension = square;
        steps += 1;
        assert!(steps < 100);
    }
    assert_eq!(dimension.times(dimension), None);
}
