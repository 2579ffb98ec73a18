//! The least and the greatest of a response over a band.

use crate::landmarks::Landmarks;

/// A curve: its value at each frequency (in hertz), or why there is none.
pub type Curve<'a> = dyn FnMut(&[f64]) -> Result<Vec<f64>, String> + 'a;

/// Points a decade before refinement, where no root asks for more.
const DENSITY: f64 = 24.0;
/// Points between which a curve moves by less than this share are level: their order is rounding.
const LEVEL: f64 = 1e-12;

/// The least and the greatest value of a curve over a band (in hertz), found on a grid that holds the landmarks of the response and
/// refined around each of its extremes that could be the one.
pub fn ends(low: f64, high: f64, marks: &Landmarks, curve: &mut Curve) -> Result<[f64; 2], String> {
    let grid = grid(low, high, marks);
    let values = curve(&grid)?;
    Ok([refined(&grid, &values, 1.0, curve)?, refined(&grid, &values, -1.0, curve)?])
}

/// The least value of a curve over a band, with the frequency (in hertz) at which it stands.
pub fn least(low: f64, high: f64, marks: &Landmarks, curve: &mut Curve) -> Result<(f64, f64), String> {
    let mut best = (f64::INFINITY, low);
    let mut watched = |fs: &[f64]| {
        let values = curve(fs)?;
        for (x, f) in values.iter().zip(fs) {
            if *x < best.0 {
                best = (*x, *f);
            }
        }
        Ok(values)
    };
    let grid = grid(low, high, marks);
    let values = watched(&grid)?;
    refined(&grid, &values, 1.0, &mut watched)?;
    Ok(best)
}

/// The frequencies at which a band is looked at first.
pub fn grid(low: f64, high: f64, marks: &Landmarks) -> Vec<f64> {
    let steps = (((high / low).log10() * DENSITY).ceil() as usize).clamp(8, 4096);
    let mut grid: Vec<f64> =
        (0..=steps).map(|k| if k == steps { high } else { low * (high / low).powf(k as f64 / steps as f64) }).collect();
    let between = marks.between(low, high);
    if !between.is_empty() {
        grid.extend(between);
        grid.sort_unstable_by(f64::total_cmp);
        grid.dedup();
    }
    grid
}

/// The least of a curve (the greatest where `sign` is −1) whose values on a grid are known: each place that is the best of its neighbours is
/// looked at closely for as long as it could still beat the best that was found.
pub fn refined(grid: &[f64], values: &[f64], sign: f64, curve: &mut Curve) -> Result<f64, String> {
    let of = |i: usize| sign * values[i];
    let mut places: Vec<usize> = (0..grid.len())
        .filter(|&i| (i == 0 || of(i) <= of(i - 1)) && (i + 1 == grid.len() || of(i) <= of(i + 1)))
        .collect();
    places.sort_by(|&a, &b| of(a).total_cmp(&of(b)));
    let Some(&first) = places.first() else {
        return Err("it has no least value: a value is no number".into());
    };
    let mut best = of(first);
    for at in places {
        if of(at).is_infinite() {
            continue;
        }
        // Between its neighbours a smooth curve goes beyond the middle point by a share of what it rises to them; twice the rise is out of reach.
        let beside = |i: Option<usize>| i.filter(|i| *i < grid.len()).map_or(of(at), of);
        let rise = beside(at.checked_sub(1)).max(beside(Some(at + 1))) - of(at);
        let level = rise <= LEVEL * of(at).abs();
        if level || of(at) - 2.0 * rise > best {
            continue;
        }
        best = best.min(closely(grid, at, of(at), sign, curve)?);
    }
    Ok(sign * best)
}

/// Narrows around a grid point that is the best of its neighbours; values are told times `sign`.
fn closely(grid: &[f64], at: usize, value: f64, sign: f64, curve: &mut Curve) -> Result<f64, String> {
    let (mut from, mut to) = (grid[at.saturating_sub(1)], grid[(at + 1).min(grid.len() - 1)]);
    let mut best = value;
    // An extreme is flat: half the digits of its place give all the digits of its value.
    for _ in 0..8 {
        let points: Vec<f64> = (1..=8).map(|i| from * (to / from).powf(i as f64 / 9.0)).collect();
        let values = curve(&points)?;
        let k = (0..8).min_by(|&a, &b| (sign * values[a]).total_cmp(&(sign * values[b]))).unwrap_or(0);
        best = best.min(sign * values[k]);
        (from, to) = (if k == 0 { from } else { points[k - 1] }, if k == 7 { to } else { points[k + 1] });
        if (to / from - 1.0).abs() < 1e-9 {
            break;
        }
    }
    Ok(best)
}

#[cfg(test)]
mod tests {
    use num_complex::Complex64;

    use super::*;

    /// A broad dip that the grid sees, and a deeper one a thousand times narrower than its steps, of which only a root tells.
    #[test]
    fn a_dip_narrower_than_the_grid_is_found_where_a_root_tells_of_it() {
        let dip = |f: f64, at: f64, width: f64| 1.0 / (1.0 + ((f - at) / width).powi(2));
        let curve = |fs: &[f64]| -> Result<Vec<f64>, String> {
            Ok(fs.iter().map(|f| 1.0 - 0.5 * dip(*f, 300.0, 30.0) - 0.9 * dip(*f, 5033.0, 0.05)).collect())
        };
        let tau = std::f64::consts::TAU;
        let marks = Landmarks::of(&[Complex64::new(-tau * 0.05, tau * 5033.0)], &[]);
        let [least, most] = ends(20.0, 20e3, &marks, &mut { curve }).unwrap();
        assert!((least - 0.1).abs() < 1e-4 && (most - 1.0).abs() < 1e-3, "{least} {most}");
        let [without, _] = ends(20.0, 20e3, &Landmarks::default(), &mut { curve }).unwrap();
        assert!((without - 0.5).abs() < 1e-3, "{without}");
    }

    #[test]
    fn the_extreme_that_wins_need_not_stand_at_the_grids_best_point() {
        // A least value of 0.01 on a point of the grid, and one of 0 in the middle between two others.
        let points = grid(10.0, 1e3, &Landmarks::default());
        let (on, beside) = (points[20], (points[30] * points[31]).sqrt());
        let mut curve = |fs: &[f64]| -> Result<Vec<f64>, String> {
            Ok(fs.iter().map(|f| (0.01 + (f / on).ln().abs()).min((f / beside).ln().abs())).collect())
        };
        let [least, _] = ends(10.0, 1e3, &Landmarks::default(), &mut curve).unwrap();
        assert!(least < 1e-5, "{least}");
    }
}
