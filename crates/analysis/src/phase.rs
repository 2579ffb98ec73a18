//! A phase over a band, followed without jumps.

use num_complex::Complex64;

use crate::extreme;
use crate::landmarks::Landmarks;

/// A response: its value at each frequency (in hertz), or why there is none.
type Response<'a> = dyn FnMut(&[f64]) -> Result<Vec<Complex64>, String> + 'a;

/// From one point to the next a phase turns by no more than this, in degrees, or points are put between.
const STEP: f64 = 60.0;
/// Points nearer to one another than this share are one.
const NEAREST: f64 = 1e-12;
/// More points than this are not looked at.
const MOST: usize = 100_000;

/// Why a response that is nothing somewhere in a band has no phase over it.
const NOTHING: &str = "somewhere in it nothing arrives, and there is no phase";

/// The least and the greatest phase over a band, in degrees: from −180° … 180° at the band's low end on, it is followed and never wrapped.
pub fn ends(low: f64, high: f64, marks: &Landmarks, response: &mut Response) -> Result<[f64; 2], String> {
    if marks.null(low, high).is_some() {
        return Err(NOTHING.into());
    }
    let mut known: Vec<(f64, Complex64)> = Vec::new();
    let mut next = extreme::grid(low, high, marks);
    while !next.is_empty() {
        for (f, z) in next.iter().zip(response(&next)?) {
            if z.norm() == 0.0 {
                return Err(NOTHING.into());
            }
            known.push((*f, z));
        }
        known.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        next.clear();
        for pair in known.windows(2) {
            if turn(pair[0].1, pair[1].1).abs() > STEP {
                if pair[1].0 / pair[0].0 - 1.0 < NEAREST || known.len() > MOST {
                    return Err(NOTHING.into());
                }
                next.push((pair[0].0 * pair[1].0).sqrt());
            }
        }
    }
    let mut angle = known[0].1.arg().to_degrees();
    // Both are the same angle; which of them rounding says must not matter.
    if angle < -180.0 + 1e-9 {
        angle += 360.0;
    }
    let mut angles = vec![angle];
    for pair in known.windows(2) {
        angle += turn(pair[0].1, pair[1].1);
        angles.push(angle);
    }
    let grid: Vec<f64> = known.iter().map(|k| k.0).collect();
    let mut curve = |fs: &[f64]| -> Result<Vec<f64>, String> {
        let near = |f: f64| {
            let at = grid.partition_point(|g| *g < f).min(grid.len() - 1);
            if at > 0 && f / grid[at - 1] < grid[at] / f { at - 1 } else { at }
        };
        let turned = |(f, z): (&f64, Complex64)| {
            let at = near(*f);
            angles[at] + turn(known[at].1, z)
        };
        Ok(fs.iter().zip(response(fs)?).map(turned).collect())
    };
    Ok([extreme::refined(&grid, &angles, 1.0, &mut curve)?, extreme::refined(&grid, &angles, -1.0, &mut curve)?])
}

/// By how much a response turns from one value to another, in degrees.
fn turn(from: Complex64, to: Complex64) -> f64 {
    // Sizes fall out first, so that no product runs out of range.
    (to / to.norm() * (from / from.norm()).conj()).arg().to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_all_passes_in_a_row_are_followed_all_the_way() {
        // Each turns by −2·atan(f/f₀): from 20 Hz to 20 kHz around 632 Hz by −2·(88.2° − 1.8°) = −172.8°; forty by forty times that.
        let mut response = |fs: &[f64]| -> Result<Vec<Complex64>, String> {
            Ok(fs.iter().map(|f| Complex64::from_polar(1.0, -80.0 * (f / 632.0f64).atan())).collect())
        };
        let [least, most] = ends(20.0, 20e3, &Landmarks::default(), &mut response).unwrap();
        let by = 80.0 * ((20e3f64 / 632.0).atan() - (20.0f64 / 632.0).atan()).to_degrees();
        assert!((most - least - by).abs() < 1e-9, "{least} {most} {by}");
        assert!(most.abs() <= 180.0);
    }
}
