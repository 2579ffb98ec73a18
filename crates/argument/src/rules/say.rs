//! How the rules print what they found.

use quantity::{Series, Style, Unit};

/// A value in its unit.
pub(crate) fn say(x: f64, unit: Unit) -> String {
    quantity::computed(x, unit, Style::default()).unwrap_or_else(|| "0".into())
}

/// A ratio in decibels.
pub(crate) fn db(ratio: f64) -> String {
    quantity::decibels(quantity::db(ratio), Style::default()).unwrap_or_else(|| "no gain".into())
}

/// A ratio in per cent.
pub(crate) fn percent(share: f64) -> String {
    quantity::share(share).unwrap_or_else(|| "0 %".into())
}

/// ` at VR1 0 %`, or nothing at rest.
pub(crate) fn at(position: &str) -> String {
    if position.is_empty() { String::new() } else { format!(" at {position}") }
}

/// The least member of a series that is no less than a value.
pub(crate) fn at_least(series: Series, x: f64) -> f64 {
    series.neighbours(x / 1.0001).map_or(x, |n| n.1)
}

/// The greatest member of a series that is no more than a value.
pub(crate) fn at_most(series: Series, x: f64) -> f64 {
    series.neighbours(x * 1.0001).map_or(x, |n| n.0)
}

/// A value as it is written in a file: `4.7k`, `22u`, `47`.
pub(crate) fn written(x: f64) -> String {
    const PREFIXES: [(f64, &str); 8] =
        [(1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p")];
    // A hair below a round figure is that figure.
    let (size, prefix) = PREFIXES.into_iter().find(|p| x >= p.0 * 0.9999).unwrap_or((1e-12, "p"));
    let text = format!("{:.3}", x / size);
    format!("{}{prefix}", text.trim_end_matches('0').trim_end_matches('.'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_written_as_the_trade_writes_them() {
        assert_eq!([4.7e3, 22e-6, 47.0, 1e-7, 1e6, 3.3e-12].map(written), ["4.7k", "22u", "47", "100n", "1M", "3.3p"]);
    }

    #[test]
    fn members_of_a_series_lie_on_their_side() {
        assert_eq!(written(at_least(Series::E12, 40.0)), "47");
        assert_eq!(written(at_least(Series::E12, 47.0)), "47");
        assert_eq!(written(at_most(Series::E6, 9.0e-6)), "6.8u");
    }
}
