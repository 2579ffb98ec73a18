//! Corners: the ends of the connected interval of frequency around a reference in which |G| ≥ |G(ref)|/√2.
//!
//! They are found on |G| itself, by bracketing and narrowing, never read off a pole.

/// Where the search ends on either side, in hertz.
pub const SEARCH: (f64, f64) = (1e-6, 1e10);

/// How many frequencies are asked for at once: as many as the solver has lanes.
const WIDTH: usize = 8;
/// Points a decade of the search, within two decades of the band and further out.
const DENSITY: (f64, f64) = (16.0, 6.0);

pub use crate::extreme::Curve as Size;
use crate::landmarks::Landmarks;

/// Why a response without any gain has no corner.
pub const NO_GAIN: &str = "there is no gain at the reference";

/// A side of the reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Below it.
    Low,
    /// Above it.
    High,
}

/// A point of the response: frequency and |G|.
type Point = (f64, f64);

/// Finds a corner. `Ok(None)`: |G| never falls so far on that side. `band` (in hertz) tells where to look closely, and so do the landmarks of
/// the response.
pub fn corner(
    side: Side,
    reference: f64,
    band: (f64, f64),
    marks: &Landmarks,
    gain: &mut Size,
) -> Result<Option<f64>, String> {
    let first = gain(&[reference])?[0];
    let level = first * std::f64::consts::FRAC_1_SQRT_2;
    if level == 0.0 {
        return Err(NO_GAIN.into());
    }
    let grid = grid(side, reference, band, marks);
    // The two latest points: a dip between them and the next shows as a lowest point in the middle.
    let (mut before, mut last): (Option<Point>, Point) = (None, (reference, first));
    for chunk in grid.chunks(2 * WIDTH) {
        for (&f, g) in chunk.iter().zip(gain(chunk)?) {
            if g < level {
                return narrow(last, (f, g), level, gain).map(Some);
            }
            if let Some(start) = before
                && last.1 <= g
                && last.1 < start.1
                && let Some((above, below)) = dip(start, (f, g), level, gain)?
            {
                return narrow(above, below, level, gain).map(Some);
            }
            (before, last) = (Some(last), (f, g));
        }
    }
    Ok(None)
}

/// The frequencies of the search, from the reference outwards.
fn grid(side: Side, reference: f64, band: (f64, f64), marks: &Landmarks) -> Vec<f64> {
    let near = (band.0 / 100.0, band.1 * 100.0);
    let (end, sign) = match side {
        Side::Low => (SEARCH.0.min(reference / 10.0), -1.0),
        Side::High => (SEARCH.1.max(reference * 10.0), 1.0),
    };
    let mut points = Vec::new();
    let sharp = marks.between(reference.min(end), reference.max(end));
    let mut f = reference;
    loop {
        let density = if (near.0..=near.1).contains(&f) { DENSITY.0 } else { DENSITY.1 };
        f *= 10f64.powf(sign / density);
        if (f - end) * sign >= 0.0 {
            points.push(end);
            break;
        }
        points.push(f);
    }
    if !sharp.is_empty() {
        points.extend(sharp);
        points.sort_unstable_by(|a, b| (sign * a).total_cmp(&(sign * b)));
        points.dedup();
    }
    points
}

/// Looks for a point below `level` between two points, between which a lowest point lies; a bracket (above, below) if found.
fn dip(from: Point, to: Point, level: f64, gain: &mut Size) -> Result<Option<(Point, Point)>, String> {
    let (mut from, mut to) = (from, to);
    for _ in 0..12 {
        let points = between(from.0, to.0);
        let gains = gain(&points)?;
        let at = |i: usize| (points[i], gains[i]);
        // The first point below the level, seen from where the search came.
        if let Some(first) = (0..WIDTH).find(|&i| gains[i] < level) {
            return Ok(Some((if first == 0 { from } else { at(first - 1) }, at(first))));
        }
        let least = (0..WIDTH).min_by(|&a, &b| gains[a].total_cmp(&gains[b])).unwrap_or(0);
        let next = (if least == 0 { from } else { at(least - 1) }, if least + 1 == WIDTH { to } else { at(least + 1) });
        if (next.0.0 / next.1.0 - 1.0).abs() < 1e-9 {
            break;
        }
        (from, to) = next;
    }
    Ok(None)
}

/// Points strictly between two frequencies, evenly spread in the logarithm.
fn between(from: f64, to: f64) -> Vec<f64> {
    (1..=WIDTH).map(|i| from * (to / from).powf(i as f64 / (WIDTH + 1) as f64)).collect()
}

/// Narrows a bracket (|G| ≥ level at `above`, < level at `below`) until its ends are neighbours: first evenly, then around
/// where a straight line through its ends, in logarithms, meets the level.
fn narrow(above: Point, below: Point, level: f64, gain: &mut Size) -> Result<f64, String> {
    let (mut above, mut below) = (above, below);
    let mut points = between(above.0, below.0);
    for _ in 0..48 {
        points.retain(|f| (f - above.0) * (f - below.0) < 0.0);
        if points.is_empty() || (below.0 / above.0 - 1.0).abs() <= 2.0 * f64::EPSILON {
            break;
        }
        let gains = gain(&points)?;
        match gains.iter().position(|g| *g < level) {
            Some(0) => below = (points[0], gains[0]),
            Some(i) => (above, below) = ((points[i - 1], gains[i - 1]), (points[i], gains[i])),
            None => above = (points[points.len() - 1], gains[gains.len() - 1]),
        }
        points = around(above, below, level);
    }
    Ok(above.0)
}

/// Points to ask for next, in order from `above` to `below`: the estimate, three steps on either side of it, and the middle.
fn around(above: Point, below: Point, level: f64) -> Vec<f64> {
    let width = (below.0 / above.0).ln();
    let (over, under) = ((above.1 / level).ln(), (below.1 / level).ln());
    let share = over / (over - under);
    if !(share.is_finite() && (0.0..=1.0).contains(&share)) {
        return between(above.0, below.0);
    }
    let mut shares = vec![0.5, share];
    for step in [5, 10, 16] {
        let step = 0.5f64.powi(step);
        shares.extend([share - step, share + step]);
    }
    shares.retain(|s| (0.0..1.0).contains(s));
    shares.sort_by(f64::total_cmp);
    let mut points: Vec<f64> = shares.into_iter().map(|s| above.0 * (width * s).exp()).collect();
    points.dedup();
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    /// |G| of a first-order high-pass and low-pass in a row.
    fn band(low: f64, high: f64) -> impl FnMut(&[f64]) -> Result<Vec<f64>, String> {
        move |fs| Ok(fs.iter().map(|f| 1.0 / ((1.0 + (low / f).powi(2)) * (1.0 + (f / high).powi(2))).sqrt()).collect())
    }

    #[test]
    fn first_order_corners_are_where_the_algebra_puts_them() {
        let mut gain = band(0.0, 20e3);
        // Relative to the gain at 1 kHz, which is a little down the slope already.
        let expected = 20e3 * (2.0 * (1.0 + (1e3f64 / 20e3).powi(2)) - 1.0).sqrt();
        let found = corner(Side::High, 1e3, (20.0, 20e3), &Landmarks::default(), &mut gain).unwrap().unwrap();
        assert!((found / expected - 1.0).abs() < 1e-14, "{found} {expected}");
        assert_eq!(corner(Side::Low, 1e3, (20.0, 20e3), &Landmarks::default(), &mut gain).unwrap(), None);
        let mut gain = band(7.0, 1e12);
        let expected = 7.0 / (2.0 * (1.0 + (7.0f64 / 1e3).powi(2)) - 1.0).sqrt();
        let found = corner(Side::Low, 1e3, (20.0, 20e3), &Landmarks::default(), &mut gain).unwrap().unwrap();
        assert!((found / expected - 1.0).abs() < 1e-14, "{found} {expected}");
    }

    #[test]
    fn a_notch_ends_the_interval() {
        let mut notch = |fs: &[f64]| -> Result<Vec<f64>, String> {
            Ok(fs
                .iter()
                .map(|f| {
                    let x = f / 9e3 - 9e3 / f;
                    x.abs() / (x * x + 0.01f64).sqrt()
                })
                .collect())
        };
        // |x|/√(x² + 1/Q²) = 1/√2 where |x| = 1/Q; below the notch f/f₀ = √(1 + 1/(4Q²)) − 1/(2Q), Q = 10.
        let expected = 9e3 * ((1.0 + 0.0025f64).sqrt() - 0.05);
        let found = corner(Side::High, 100.0, (20.0, 20e3), &Landmarks::default(), &mut notch).unwrap().unwrap();
        assert!((found / expected - 1.0).abs() < 1e-3, "{found} {expected}");
    }

    #[test]
    fn narrowing_takes_few_solutions() {
        let mut count = 0;
        let mut inner = band(7.0, 20e3);
        let mut gain = |fs: &[f64]| {
            count += fs.len();
            inner(fs)
        };
        narrow((15e3, 0.8), (25e3, 0.6), std::f64::consts::FRAC_1_SQRT_2, &mut gain).unwrap();
        assert!(count <= 64, "{count}");
    }
}
