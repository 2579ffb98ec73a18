//! Taking the eigenvalues that are exactly 0 out of a matrix.
//!
//! A root at infinity of the determinant of `G + sC` is an eigenvalue 0 here, often of a defective kind: rounding would scatter
//! it among the small ones that mean fast poles. A factoring `T = XY` of full rank gives `YX`, which has the other eigenvalues
//! of `T` and fewer zeros; repeated, none is left (Flanders, Proc. Am. Math. Soc. 2, 1951, on the eigenvalues of XY and YX).

use crate::double::Double;
use crate::eigen::Square;

/// A pivot below this share of the largest is what rounding has left of 0.
const NOTHING: f64 = 1e-23;

/// The matrix of the `count` eigenvalues that are not 0; `None` where the ranks do not lead there.
pub(crate) fn deflated(mut matrix: Square, count: usize) -> Option<Square> {
    while matrix.size > count {
        matrix.balance();
        let smaller = turned(&matrix);
        if smaller.size == matrix.size || smaller.size < count {
            return None;
        }
        matrix = smaller;
    }
    Some(matrix)
}

/// `YX` of the factoring by Gaussian elimination with complete pivoting.
fn turned(matrix: &Square) -> Square {
    let n = matrix.size;
    let mut rest = matrix.clone();
    let (mut rows, mut columns): (Vec<usize>, Vec<usize>) = ((0..n).collect(), (0..n).collect());
    let mut rank = 0;
    let largest = matrix.largest();
    while rank < n {
        let places = || (rank..n).flat_map(|i| (rank..n).map(move |j| (i, j)));
        let size = |&(i, j): &(usize, usize)| rest.at(rows[i], columns[j]).high.abs();
        let Some((i, j)) = places().max_by(|a, b| size(a).total_cmp(&size(b))) else { break };
        if size(&(i, j)) <= NOTHING * largest {
            break;
        }
        rows.swap(rank, i);
        columns.swap(rank, j);
        let pivot = rest.at(rows[rank], columns[rank]);
        for &i in &rows[rank + 1..] {
            let factor = rest.at(i, columns[rank]) / pivot;
            rest.set(i, columns[rank], factor);
            for &j in &columns[rank + 1..] {
                rest.set(i, j, rest.at(i, j) - factor * rest.at(rows[rank], j));
            }
        }
        rank += 1;
    }
    // X is the lower factor (its diagonal is 1) in the rows' own places, Y the upper one in the columns'.
    let mut row_at = vec![0; n];
    let mut column_at = vec![0; n];
    for k in 0..n {
        row_at[rows[k]] = k;
        column_at[columns[k]] = k;
    }
    let lower = |i: usize, k: usize| match row_at[i].cmp(&k) {
        std::cmp::Ordering::Less => Double::ZERO,
        std::cmp::Ordering::Equal => Double::new(1.0),
        std::cmp::Ordering::Greater => rest.at(i, columns[k]),
    };
    let upper = |k: usize, j: usize| if column_at[j] < k { Double::ZERO } else { rest.at(rows[k], j) };
    let mut product = Square::zero(rank);
    for a in 0..rank {
        for b in 0..rank {
            let sum = (0..n).fold(Double::ZERO, |s, m| s + upper(a, m) * lower(m, b));
            product.set(a, b, sum);
        }
    }
    product
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_nothing_stays() {
        // A Jordan block of three zeros beside 2 and 1e-12, mixed by a similarity with whole numbers.
        let plain = [
            [0.0, 1.0, 0.0, 0.0, 0.0],
            [0.0, 0.0, 1.0, 0.0, 0.0],
            [0.0, 0.0, 0.0, 0.0, 0.0],
            [0.0, 0.0, 0.0, 2.0, 0.0],
            [0.0, 0.0, 0.0, 0.0, 1e-12],
        ];
        let mut matrix = Square::zero(5);
        for (i, row) in plain.iter().enumerate() {
            for (j, x) in row.iter().enumerate() {
                matrix.set(i, j, Double::new(*x));
            }
        }
        for (k, m) in [(0, 3), (1, 4), (3, 2), (4, 0), (2, 1)] {
            // Row k plus row m, column m less column k.
            (0..5).for_each(|j| matrix.set(k, j, matrix.at(k, j) + matrix.at(m, j)));
            (0..5).for_each(|i| matrix.set(i, m, matrix.at(i, m) - matrix.at(i, k)));
        }
        let left = deflated(matrix, 2).expect("two are left");
        let mut found: Vec<f64> = left.eigenvalues().expect("it settles").iter().map(|z| z.re.value()).collect();
        found.sort_by(f64::total_cmp);
        assert!((found[0] / 1e-12 - 1.0).abs() < 1e-12 && (found[1] - 2.0).abs() < 1e-14, "{found:?}");
    }
}
