//! Round figures along an axis.

use quantity::Unit;

/// The steps that a unit is divided in, within a decade; angles and shares have their own.
fn steps(unit: Unit, size: f64) -> &'static [f64] {
    match unit {
        Unit::Degree if size >= 10.0 => &[15.0, 30.0, 45.0, 90.0, 180.0, 360.0, 720.0, 1800.0, 3600.0, 18000.0],
        Unit::Percent if (10.0..100.0).contains(&size) => &[10.0, 25.0, 50.0, 100.0],
        _ => &[],
    }
}

/// The smallest round step that is no smaller than this: 1, 2 or 5 times a power of ten where the unit has no other habit.
pub(crate) fn round_up(size: f64, unit: Unit) -> f64 {
    if let Some(step) = steps(unit, size).iter().find(|s| **s >= size * (1.0 - 1e-9)) {
        return *step;
    }
    let power = 10f64.powf(size.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|s| *s >= size * (1.0 - 1e-9)).unwrap_or(10.0 * power)
}

/// Multiples of a step from one value to another.
pub(crate) fn multiples(low: f64, high: f64, step: f64) -> Vec<f64> {
    let (from, to) = ((low / step - 1e-6).ceil(), (high / step + 1e-6).floor());
    if !(from.is_finite() && to.is_finite() && to - from < 10_000.0) {
        return Vec::new();
    }
    (from as i64..=to as i64).map(|k| k as f64 * step).collect()
}

/// 1, 2 … 9 times the powers of ten from one value to another, with that digit.
pub(crate) fn decades(low: f64, high: f64) -> Vec<(f64, u8)> {
    let (from, to) = (low.log10().floor() as i32, high.log10().ceil() as i32);
    let all = (from..=to).flat_map(|p| (1..=9u8).map(move |d| (ten(p, d), d)));
    all.filter(|(x, _)| *x >= low * (1.0 - 1e-9) && *x <= high * (1.0 + 1e-9)).collect()
}

/// A digit times a power of ten, rounded once.
pub(crate) fn ten(power: i32, digit: u8) -> f64 {
    format!("{digit}e{power}").parse().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        assert_eq!(round_up(0.3, Unit::Volt), 0.5);
        assert_eq!(round_up(10.0, Unit::Decibel), 10.0);
        assert_eq!(round_up(12.0, Unit::Decibel), 20.0);
        assert_eq!(round_up(40.0, Unit::Degree), 45.0);
        assert_eq!(round_up(18.0, Unit::Percent), 25.0);
        assert_eq!(multiples(-4.0, 4.0, 2.0), [-4.0, -2.0, 0.0, 2.0, 4.0]);
    }

    #[test]
    fn decades_hold_their_ends() {
        let all = decades(20.0, 20e3);
        assert_eq!((all[0], all[all.len() - 1]), ((20.0, 2), (20e3, 2)));
        assert_eq!(all.iter().filter(|t| t.1 == 1).map(|t| t.0).collect::<Vec<_>>(), [100.0, 1e3, 10e3]);
    }
}
