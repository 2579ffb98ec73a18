//! A few equations at once, of which nobody keeps an order.

/// Solves a small dense system by elimination with the greatest pivot of each column; `None` where there is none greater than `least`.
pub(crate) fn solved(mut rows: Vec<Vec<f64>>, mut right: Vec<f64>, least: f64) -> Option<Vec<f64>> {
    let n = right.len();
    for k in 0..n {
        let pivot = (k..n).max_by(|a, b| rows[*a][k].abs().total_cmp(&rows[*b][k].abs()))?;
        if !rows[pivot][k].is_finite() || rows[pivot][k].abs() <= least {
            return None;
        }
        rows.swap(k, pivot);
        right.swap(k, pivot);
        let (upper, lower) = rows.split_at_mut(k + 1);
        let (first, taken) = (&upper[k], right[k]);
        for (row, right) in lower.iter_mut().zip(&mut right[k + 1..]) {
            let factor = row[k] / first[k];
            row[k..].iter_mut().zip(&first[k..]).for_each(|(x, p)| *x -= factor * p);
            *right -= factor * taken;
        }
    }
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| rows[k][j] * right[j]).sum();
        right[k] = (right[k] - known) / rows[k][k];
    }
    right.iter().all(|x| x.is_finite()).then_some(right)
}

#[cfg(test)]
mod tests {
    use super::solved;

    #[test]
    fn a_small_system_is_solved_whatever_the_order_of_its_rows() {
        let rows = vec![vec![0.0, 2.0, 1.0], vec![1.0, -1.0, 0.0], vec![3.0, 0.0, -2.0]];
        // x = 1, y = 2, z = 3
        let found = solved(rows, vec![7.0, -1.0, -3.0], 0.0).unwrap();
        assert!(found.iter().zip([1.0, 2.0, 3.0]).all(|(x, y)| (x - y).abs() < 1e-14), "{found:?}");
        assert_eq!(solved(vec![vec![1.0, 2.0], vec![2.0, 4.0]], vec![1.0, 2.0], 0.0), None);
        assert_eq!(solved(vec![vec![1e-9]], vec![1.0], 1e-6), None);
    }
}
