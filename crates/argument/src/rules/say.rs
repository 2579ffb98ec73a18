//! How the rules print what they found.

use quantity::{Series, Style, Unit};

/// A value in its unit.
pub(crate) fn say(x: f64, unit: Unit) -> String {
    quantity::computed(x, unit, Style::default()).unwrap_or_else(|| "an unknown value".into())
}

/// A ratio in decibels.
pub(crate) fn db(ratio: f64) -> String {
    quantity::decibels(quantity::db(ratio), Style::default()).unwrap_or_else(|| "no gain".into())
}

/// A share in per cent; beyond the whole as a multiple of it.
pub(crate) fn percent(share: f64) -> String {
    let times = || quantity::ratio(share, Style::default()).map(|r| format!("{} times", r.trim_start_matches('×')));
    quantity::share(share).filter(|_| share <= 1.0).or_else(times).unwrap_or_else(|| "more than all".into())
}

/// The least of 1, 1.5, 2, 3, 5, 7 and their decades that is no less than a figure: as round as a data sheet's.
pub(crate) fn round_up(x: f64) -> f64 {
    let decade = 10f64.powf(x.log10().floor());
    let steps = [1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0];
    steps.into_iter().map(|s| s * decade).find(|s| *s >= x * 0.9999).unwrap_or(x)
}

/// ` at VR1 0 %`, or nothing at rest.
pub(crate) fn at(position: &str) -> String {
    if position.is_empty() { String::new() } else { format!(" at {position}") }
}

/// ` at 3.2 kHz`, or nothing where no signal has a part in it.
pub(crate) fn where_in_band(hertz: Option<f64>) -> String {
    hertz.map_or_else(String::new, |f| format!(" at {}", say(f, Unit::Hertz)))
}

/// The least member of a series that is no less than a value.
pub(crate) fn at_least(series: Series, x: f64) -> f64 {
    series.neighbours(x / 1.0001).map_or(x, |n| n.1)
}

/// The greatest member of a series that is no more than a value.
pub(crate) fn at_most(series: Series, x: f64) -> f64 {
    series.neighbours(x * 1.0001).map_or(x, |n| n.0)
}

/// Whether a figure is over a limit. One that is no number is neither over nor under any: nothing is said of it.
pub(crate) fn above(x: f64, limit: f64) -> bool {
    x > limit
}

/// Whether a figure is under a limit.
pub(crate) fn below(x: f64, limit: f64) -> bool {
    x < limit
}

/// A value as it is written in a file: `4.7k`, `22u`, `47`.
pub(crate) fn written(x: f64, unit: Unit) -> String {
    quantity::canonical(x, unit).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_rounded_up_as_sheets_have_them() {
        assert_eq!([3.04e6, 0.306e6, 7.2, 1.0].map(round_up), [5e6, 5e5, 10.0, 1.0]);
        assert_eq!([0.25, 17.3].map(percent), ["25.0 %", "17.3 times"]);
    }

    #[test]
    fn members_of_a_series_lie_on_their_side() {
        assert_eq!(at_least(Series::E12, 40.0), 47.0);
        assert_eq!(at_least(Series::E12, 47.0), 47.0);
        assert_eq!(at_most(Series::E6, 9.0e-6), 6.8e-6);
    }
}
