//! What holds for every text and every value.

use proptest::prelude::*;
use quantity::{Dimension, Series, Style, Unit, Want, canonical, computed, exact, range, read, suggestions};

fn wants() -> Vec<Want> {
    let mut wants = vec![
        Want::ResistorValue,
        Want::CapacitorValue,
        Want::InductorValue,
        Want::Resistance,
        Want::Capacitance,
        Want::Inductance,
        Want::Frequency,
        Want::Time,
        Want::Temperature,
        Want::Voltage,
        Want::Current,
        Want::Source,
        Want::Level,
        Want::Power,
        Want::Gain,
        Want::Decibels,
        Want::Angle,
        Want::Percentage,
        Want::Number,
        Want::SlewRate,
        Want::NoiseDensity,
        Want::Any,
    ];
    wants.extend(Unit::ALL.map(Want::Tolerance));
    wants.extend(Unit::ALL.map(Want::Attribute));
    wants
}

fn split(text: &str) -> (&str, Option<&str>) {
    match text.split_once(' ') {
        Some((figure, unit)) => (figure, Some(unit)),
        None => (text, None),
    }
}

/// Reads a text in every place and checks what must hold of any answer.
fn examine(figure: &str, unit: Option<&str>) -> Result<(), TestCaseError> {
    let whole = format!("{figure}{}", unit.unwrap_or_default());
    for want in wants() {
        match read(figure, unit, want) {
            Ok((quantity, caution)) => {
                prop_assert!(quantity.value.is_finite() && quantity.value >= 0.0, "{figure:?} {unit:?} {want:?}");
                prop_assert!(want.takes(quantity.unit));
                for fix in caution.iter().flat_map(|caution| &caution.fixes) {
                    let (figure, unit) = split(fix);
                    prop_assert!(
                        matches!(read(figure, unit, want), Ok((_, None))),
                        "{fix:?} for {whole:?} in {want:?}"
                    );
                }
            }
            Err(fault) => {
                prop_assert!(whole.get(fault.range.clone()).is_some(), "{:?} of {whole:?}", fault.range);
                prop_assert!(fault.message.ends_with('.'), "{}", fault.message);
                for fix in &fault.fixes {
                    // A value with its tolerance behind it is two figures.
                    let part = matches!(want, Want::ResistorValue | Want::CapacitorValue);
                    let value = fix.split_once(' ').filter(|(_, tolerance)| part && tolerance.ends_with('%'));
                    let (figure, unit) = value.map_or_else(|| split(fix), |(value, _)| (value, None));
                    prop_assert!(read(figure, unit, want).is_ok(), "{fix:?} for {whole:?} in {want:?}");
                }
            }
        }
    }
    Ok(())
}

/// Finite numbers of any size, zero among them.
fn any_size() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>().prop_filter("finite", |value| value.is_finite()).prop_map(f64::abs),
        (0.0..1000.0, -20..20i32).prop_map(|(mantissa, power)| mantissa * 10f64.powi(power)),
        (1..1000u32, -18..15i32).prop_map(|(mantissa, power)| format!("{mantissa}e{power}").parse().unwrap()),
        Just(0.0),
    ]
}

fn any_unit() -> impl Strategy<Value = Unit> {
    proptest::sample::select(Unit::ALL.to_vec())
}

fn any_dimension() -> impl Strategy<Value = Dimension> {
    proptest::collection::vec(any_unit(), 1..4).prop_map(|units| {
        units.into_iter().fold(Dimension::NONE, |product, unit| product.times(unit.dimension()).unwrap())
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_is_too_odd(figure in ".{0,12}", unit in proptest::option::of(".{0,6}")) {
        examine(&figure, unit.as_deref())?;
    }

    #[test]
    fn nothing_that_resembles_a_figure_is_too_odd(
        figure in "[.,]?[0-9]{0,3}[.,]?[0-9]{0,3}(e[+-]?[0-9]{0,3})?[RKkMGTmunpfµμΩEeVHFAsz/√%]{0,3}[0-9]{0,2}[HzVAFΩ]{0,2}",
        unit in proptest::option::of("[fpnuµmkKMGTR]?(ohm|Ω|ohms|F|f|H|Hz|hz|s|V|A|W|dB|dBu|dBV|deg|°|degC|%|nV/√Hz|V/us|/)?"),
    ) {
        examine(&figure, unit.as_deref())?;
    }

    #[test]
    fn suggestions_are_units(text in "[a-zA-ZµΩ/√%]{0,8}") {
        for suggestion in suggestions(&text) {
            prop_assert!(Unit::read(&suggestion).is_some(), "{suggestion:?} for {text:?}");
        }
    }

    #[test]
    fn source_text_reads_back_to_the_last_bit(value in any_size(), unit in any_unit()) {
        let text = canonical(value, unit).unwrap();
        let want = match unit {
            Unit::Ohm => Want::ResistorValue,
            Unit::Farad => Want::CapacitorValue,
            Unit::Henry => Want::InductorValue,
            _ => Want::Any,
        };
        let (figure, symbol) = split(&text);
        let (quantity, caution) = read(figure, symbol, want).map_err(|fault| TestCaseError::fail(format!("{text}: {fault}")))?;
        prop_assert_eq!(quantity.value.to_bits(), value.to_bits(), "{}", text);
        prop_assert_eq!(quantity.unit, unit);
        prop_assert_eq!(caution, None);
    }

    #[test]
    fn what_is_printed_exactly_reads_back_exactly(value in any_size(), unit in any_unit()) {
        let text = exact(value, unit, Style::ASCII).unwrap();
        let (figure, symbol) = split(&text);
        let (quantity, _) = read(figure, symbol, Want::Any).map_err(|fault| TestCaseError::fail(format!("{text}: {fault}")))?;
        prop_assert_eq!(quantity.value.to_bits(), value.to_bits(), "{}", text);
    }

    #[test]
    fn three_digits_are_right_to_half_a_digit(value in any_size(), unit in any_unit()) {
        prop_assume!(!unit.is_logarithmic() && unit != Unit::Degree);
        let text = computed(value, unit, Style::ASCII).unwrap();
        let (figure, symbol) = split(&text);
        // The greatest numbers may round to beyond what can be read.
        prop_assume!(value < 1.79e308);
        let (quantity, _) = read(figure, symbol, Want::Any).map_err(|fault| TestCaseError::fail(format!("{text}: {fault}")))?;
        prop_assert!((quantity.value - value).abs() <= 0.005001 * value + f64::MIN_POSITIVE, "{} for {}", text, value);
    }

    #[test]
    fn pretty_and_ascii_differ_in_signs_only(value in any::<f64>(), unit in any_unit()) {
        let pretty = computed(value, unit, Style::default());
        let plain = computed(value, unit, Style::ASCII);
        prop_assert_eq!(pretty.is_some(), value.is_finite());
        let translated = pretty.map(|text| {
            text.replace('−', "-").replace('µ', "u").replace('Ω', "ohm").replace('√', "rt").replace("°C", "degC").replace('°', " deg")
        });
        prop_assert_eq!(translated, plain);
    }

    #[test]
    fn equal_ends_print_once(value in any_size(), unit in any_unit()) {
        let once = range(value, value, unit, Style::default());
        prop_assert_eq!(once, computed(value, unit, Style::default()));
    }

    #[test]
    fn no_member_of_a_series_is_nearer(value in 1e-15..1e15f64, index in 0..7usize) {
        let series = Series::ALL[index];
        let nearest = series.nearest(value).unwrap();
        let (below, above) = series.neighbours(value).unwrap();
        prop_assert!(below <= value && value <= above);
        prop_assert!(series.contains(nearest) && series.contains(below) && series.contains(above));
        prop_assert_eq!(series.nearest(nearest), Some(nearest));
        let distance = |member: f64| (member / value).ln().abs();
        for power in -17..17 {
            for member in series.members() {
                let member = f64::from(member) * 10f64.powi(power);
                prop_assert!(distance(nearest) <= distance(member) + 1e-12, "{} is nearer to {} than {}", member, value, nearest);
            }
        }
    }

    #[test]
    fn dimensions_reckon_as_exponents_do(one in any_dimension(), other in any_dimension()) {
        let product = one.times(other).unwrap();
        prop_assert_eq!(product.per(other), Some(one));
        prop_assert_eq!(other.times(one), Some(product));
        prop_assert_eq!(one.power(2.0), one.times(one));
        prop_assert_eq!(one.power(2.0).unwrap().root(), Some(one));
        prop_assert_eq!(one.power(0.0), Some(Dimension::NONE));
        prop_assert_eq!(Dimension::NONE.per(one), one.power(-1.0));
    }
}

#[test]
fn what_is_too_long_is_a_fault_too() {
    for text in
        ["9".repeat(2000), format!("1{}", "k".repeat(5000)), ".".repeat(3000), format!("1e{}", "9".repeat(1500))]
    {
        assert!(read(&text, None, Want::ResistorValue).is_err());
        assert!(read("1", Some(&text), Want::ResistorValue).is_err());
    }
    // Long and right is read.
    let text = format!("0.{}1", "0".repeat(20));
    assert_eq!(read(&text, Some("F"), Want::CapacitorValue).unwrap().0.value, 1e-21);
    // An exponent that no machine counts in is a fault, unless there is nothing to raise.
    let huge = format!("1e{}", "9".repeat(300));
    assert!(read(&huge, None, Want::ResistorValue).is_err());
    assert!(read(&huge.replace("1e", "1e-"), None, Want::ResistorValue).is_err());
    assert_eq!(read(&huge.replace("1e", "0e"), None, Want::ResistorValue).unwrap().0.value, 0.0);
}
