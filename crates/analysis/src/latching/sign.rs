//! The sign of a determinant.

/// A pivot below this share of what it was added up from is rounding, and decides nothing.
const ROUNDING: f64 = 1e-12;

/// Whether the determinant of a square matrix, row by row, is negative; `None` where rounding leaves that open.
pub fn sign(mut rows: Vec<Vec<f64>>) -> Option<bool> {
    // A row's own scale is positive and leaves the sign alone.
    for row in &mut rows {
        let most = row.iter().fold(0.0f64, |m, x| m.max(x.abs()));
        row.iter_mut().for_each(|x| *x /= most);
    }
    // Beside each number stands what it was added up from, each summand by its magnitude.
    let mut sums: Vec<Vec<f64>> = rows.iter().map(|row| row.iter().map(|x| x.abs()).collect()).collect();
    let mut minus = false;
    for k in 0..rows.len() {
        let best = (k..rows.len()).max_by(|i, j| rows[*i][k].abs().total_cmp(&rows[*j][k].abs()))?;
        if best != k {
            rows.swap(best, k);
            sums.swap(best, k);
            minus = !minus;
        }
        let pivot = rows[k][k];
        // That it is no number fails as well.
        if !(pivot.abs() > ROUNDING * sums[k][k] && pivot.is_finite()) {
            return None;
        }
        minus ^= pivot < 0.0;
        let (above, below) = rows.split_at_mut(k + 1);
        let (above_sums, below_sums) = sums.split_at_mut(k + 1);
        for (row, sum) in below.iter_mut().zip(below_sums) {
            let share = row[k] / pivot;
            if share == 0.0 {
                continue;
            }
            row.iter_mut().zip(&above[k]).skip(k).for_each(|(x, y)| *x -= share * y);
            sum.iter_mut().zip(&above_sums[k]).skip(k).for_each(|(x, y)| *x += share.abs() * y);
        }
    }
    Some(minus)
}

/// The amplifiers whose loop tips: with the gain of all the determinant has the other sign than with none. An amplifier belongs to the
/// loop where without it the others would stand; where that singles none out, all do. `sign` is told who has a gain.
pub fn outweighing(amplifiers: usize, sign: impl Fn(&[bool]) -> Option<bool>) -> Option<Vec<usize>> {
    let passive = sign(&vec![false; amplifiers])?;
    if sign(&vec![true; amplifiers])? == passive {
        return None;
    }
    let needed = |i: &usize| {
        let others: Vec<bool> = (0..amplifiers).map(|k| k != *i).collect();
        sign(&others) == Some(passive)
    };
    let of: Vec<usize> = (0..amplifiers).filter(needed).collect();
    Some(if of.is_empty() { (0..amplifiers).collect() } else { of })
}

#[cfg(test)]
mod tests {
    use super::sign;

    #[test]
    fn rows_out_of_order_count() {
        assert_eq!(sign(vec![vec![1.0, 0.0], vec![0.0, 2.0]]), Some(false));
        assert_eq!(sign(vec![vec![0.0, 1.0], vec![2.0, 0.0]]), Some(true));
        assert_eq!(sign(vec![vec![-3.0, 1.0], vec![2.0, 5.0]]), Some(true));
    }

    #[test]
    fn what_rounding_leaves_decides_nothing() {
        assert_eq!(sign(vec![vec![0.1 + 0.2, 1.0], vec![0.3, 1.0]]), None);
        assert_eq!(sign(vec![vec![1.0, 1.0], vec![1.0, 1.0]]), None);
        assert_eq!(sign(vec![vec![f64::NAN]]), None);
        // Small, and no difference of large ones.
        assert_eq!(sign(vec![vec![1.0, 0.0], vec![0.0, -1e-30]]), Some(true));
    }
}
