//! A value that misses what is wanted by a factor that slips have: 2π, 2, or 10 log in place of 20 log.

use std::f64::consts::TAU;

use quantity::Unit;

/// So near to the factor a value has to be: wanted figures are mostly written to three digits.
const NEAR: f64 = 5e-3;

/// What a miss looks like, as a clause; `None` where it looks like no slip. Both are in `unit`.
///
/// ```
/// use argument::slip::slip;
/// use quantity::Unit;
///
/// let said = slip(10e3, 1.59e3, Unit::Hertz).unwrap();
/// assert!(said.starts_with("it is 2π times"), "{said}");
/// assert_eq!(slip(10e3, 9e3, Unit::Hertz), None);
/// ```
pub fn slip(value: f64, wanted: f64, unit: Unit) -> Option<&'static str> {
    if !(value.is_finite() && wanted.is_finite()) || value == 0.0 || wanted == 0.0 {
        return None;
    }
    match unit {
        Unit::Decibel => decibels(value, wanted),
        Unit::Dbu | Unit::Dbv => double(10f64.powf((value - wanted) / 20.0)),
        Unit::Degree | Unit::Celsius | Unit::Percent => None,
        _ => {
            let ratio = value / wanted;
            let is = |x: f64| (ratio / x - 1.0).abs() < NEAR;
            if is(TAU) {
                Some("it is 2π times what is wanted, so a 2π is missing somewhere: 1/(2πRC), not 1/(RC), is in Hz")
            } else if is(1.0 / TAU) {
                Some("what is wanted is 2π times that, so it may be in rad/s: divided by 2π it is in Hz")
            } else {
                double(ratio)
            }
        }
    }
}

fn double(ratio: f64) -> Option<&'static str> {
    let is = |x: f64| (ratio / x - 1.0).abs() < NEAR;
    if is(2.0) {
        Some("it is twice what is wanted")
    } else if is(0.5) {
        Some("it is half of what is wanted")
    } else {
        None
    }
}

/// Decibels of a ratio: where both are small, twice the figure means little.
fn decibels(value: f64, wanted: f64) -> Option<&'static str> {
    let near = |a: f64, b: f64| (a - b).abs() < 0.05;
    if let Some(said) = double(10f64.powf((value - wanted) / 20.0)) {
        return Some(said);
    }
    if value.abs().min(wanted.abs()) < 1.0 {
        None
    } else if near(value, 2.0 * wanted) {
        Some("it is twice the figure in dB: a ratio of voltages is 20 log, and 10 log is of powers")
    } else if near(2.0 * value, wanted) {
        Some("it is half the figure in dB: a ratio of voltages is 20 log once, not twice")
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_slips_are_told() {
        let tells = |v, w, u, what: &str| {
            let said = slip(v, w, u).unwrap_or_else(|| panic!("{v} and {w}"));
            assert!(said.contains(what), "{said}");
        };
        tells(1.0 / TAU * 1e3, 1e3, Unit::Hertz, "rad/s");
        tells(TAU * 1e3, 1e3, Unit::Hertz, "1/(2πRC)");
        tells(20e3, 10e3, Unit::Ohm, "twice");
        tells(5e3, 10e3, Unit::Ohm, "half");
        tells(26.02, 20.0, Unit::Decibel, "twice what");
        tells(40.0, 20.0, Unit::Decibel, "10 log");
        tells(10.0, 20.0, Unit::Decibel, "half the figure");
        tells(-2.0, -2.0 - 6.02, Unit::Dbu, "twice what");
    }

    #[test]
    fn what_is_no_slip_is_not_told() {
        for (v, w) in [(1.0, 1.0), (3.0, 1.0), (f64::INFINITY, 1.0), (1.0, 0.0), (f64::NAN, 1.0), (2.05, 1.0)] {
            assert_eq!(slip(v, w, Unit::Ohm), None);
        }
        assert_eq!(slip(0.2, 0.1, Unit::Decibel), None);
        assert_eq!(slip(90.0, 45.0, Unit::Degree), None);
    }
}
