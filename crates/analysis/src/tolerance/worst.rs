//! The worst that is found without drawing: corners, at which every freedom is at one end.

/// A corner by its ends (−1 or 1), with its value.
#[derive(Clone, Debug, PartialEq)]
pub struct Corner {
    /// Of each freedom.
    pub ends: Vec<f64>,
    /// Of the reading.
    pub value: f64,
}

/// So many freedoms have all their corners looked at.
pub const ALL: usize = 10;
/// So often the best of all single flips is taken.
const PASSES: usize = 24;
/// Readings that may be spent on flips.
const READINGS: usize = 20_000;

/// Reads corners; those that cannot be read say nothing.
pub type Look<'a> = dyn FnMut(&[Vec<f64>]) -> Vec<Option<f64>> + 'a;

/// The corner of the lowest value (or the highest): the one that the slopes point to, improved by single flips until none
/// helps.
pub fn climb(slopes: &[f64], highest: bool, look: &mut Look) -> Option<Corner> {
    let sign = if highest { 1.0 } else { -1.0 };
    let mut ends: Vec<f64> = slopes.iter().map(|s| if s * sign < 0.0 { -1.0 } else { 1.0 }).collect();
    let mut value = look(&[ends.clone()])[0]?;
    let mut spent = 0;
    for _ in 0..PASSES {
        spent += ends.len();
        if spent > READINGS {
            break;
        }
        let flips: Vec<Vec<f64>> = (0..ends.len())
            .map(|i| {
                let mut one = ends.clone();
                one[i] = -one[i];
                one
            })
            .collect();
        let found = look(&flips).into_iter().enumerate().filter_map(|(i, x)| Some((i, x?)));
        let best = found.reduce(|a, b| if sign * b.1 > sign * a.1 { b } else { a });
        // What lies within rounding of it is no better.
        match best {
            Some((i, x)) if sign * (x - value) > 1e-13 * value.abs() => {
                ends[i] = -ends[i];
                value = x;
            }
            _ => break,
        }
    }
    Some(Corner { ends, value })
}

/// Every corner of so many freedoms.
pub fn every(freedoms: usize) -> Vec<Vec<f64>> {
    (0..1usize << freedoms).map(|k| (0..freedoms).map(|i| if k >> i & 1 == 1 { 1.0 } else { -1.0 }).collect()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flips_mend_a_corner_that_slopes_misjudge() {
        // The product term turns the second freedom over once the first stands at its end.
        let value = |x: &[f64]| x[0] + 0.1 * x[1] - 0.5 * x[0] * x[1];
        let mut look = |all: &[Vec<f64>]| all.iter().map(|x| Some(value(x))).collect();
        let corner = climb(&[1.0, 0.1], true, &mut look).unwrap();
        assert_eq!(corner.ends, [1.0, -1.0]);
        let most = every(2).iter().map(|x| value(x)).fold(f64::MIN, f64::max);
        assert_eq!(corner.value, most);
    }
}
