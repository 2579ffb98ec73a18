//! The least and the greatest of a response over a band.

/// A curve: its value at each frequency (in hertz), or why there is none.
pub type Curve<'a> = dyn FnMut(&[f64]) -> Result<Vec<f64>, String> + 'a;

/// Points a decade before refinement.
const DENSITY: f64 = 24.0;

/// The least and the greatest value of a curve over a band (in hertz), found on a grid and refined around its best points.
pub fn ends(low: f64, high: f64, curve: &mut Curve) -> Result<[f64; 2], String> {
    let steps = (((high / low).log10() * DENSITY).ceil() as usize).clamp(8, 4096);
    let grid: Vec<f64> =
        (0..=steps).map(|k| if k == steps { high } else { low * (high / low).powf(k as f64 / steps as f64) }).collect();
    let values = curve(&grid)?;
    let mut best = [0.0; 2];
    for (end, sign) in best.iter_mut().zip([1.0, -1.0]) {
        let at = (0..values.len()).min_by(|&a, &b| (sign * values[a]).total_cmp(&(sign * values[b]))).unwrap_or(0);
        *end = refine(&grid, at, values[at], sign, curve)?;
    }
    Ok(best)
}

/// The least value of a curve over a band, with the frequency (in hertz) at which it stands.
pub fn least(low: f64, high: f64, curve: &mut Curve) -> Result<(f64, f64), String> {
    let mut best = (f64::INFINITY, low);
    ends(low, high, &mut |fs| {
        let values = curve(fs)?;
        for (x, f) in values.iter().zip(fs) {
            if *x < best.0 {
                best = (*x, *f);
            }
        }
        Ok(values)
    })?;
    Ok(best)
}

/// Narrows around a grid point that is the best of its neighbours.
fn refine(grid: &[f64], at: usize, value: f64, sign: f64, curve: &mut Curve) -> Result<f64, String> {
    let (mut from, mut to) = (grid[at.saturating_sub(1)], grid[(at + 1).min(grid.len() - 1)]);
    let mut best = value;
    // An extreme is flat: half the digits of its place give all the digits of its value.
    for _ in 0..8 {
        let points: Vec<f64> = (1..=8).map(|i| from * (to / from).powf(i as f64 / 9.0)).collect();
        let values = curve(&points)?;
        let k = (0..8).min_by(|&a, &b| (sign * values[a]).total_cmp(&(sign * values[b]))).unwrap_or(0);
        if sign * values[k] < sign * best {
            best = values[k];
        }
        (from, to) = (if k == 0 { from } else { points[k - 1] }, if k == 7 { to } else { points[k + 1] });
        if (to / from - 1.0).abs() < 1e-9 {
            break;
        }
    }
    Ok(best)
}
