//! Gaussian elimination over a field: exact, with as many pivots as the rank.

use crate::field::Field;
use crate::generic::Deficiency;

/// Sums entries of one column and drops those that cancel.
pub(crate) fn merge<F: Field>(row: &mut Vec<(u32, F)>) {
    row.sort_by_key(|e| e.0);
    row.dedup_by(|later, kept| {
        let same = later.0 == kept.0;
        if same {
            kept.1 = kept.1.plus(later.1);
        }
        same
    });
    row.retain(|e| !e.1.is_zero());
}

struct Pivot<F> {
    row: u32,
    column: u32,
    inverse: F,
    rest: Vec<(u32, F)>,
}

/// The result of Gaussian elimination over the field: as many pivots as the rank.
pub(crate) struct Eliminated<F> {
    size: usize,
    pivots: Vec<Pivot<F>>,
    /// (row changed, pivot row, factor): row −= factor · pivot row, in order.
    steps: Vec<(u32, u32, F)>,
}

impl<F: Field> Eliminated<F> {
    pub fn of(mut rows: Vec<Vec<(u32, F)>>) -> Self {
        let size = rows.len();
        let mut columns: Vec<Vec<u32>> = vec![Vec::new(); size];
        for (i, row) in rows.iter().enumerate() {
            for &(j, _) in row {
                columns[j as usize].push(i as u32);
            }
        }
        // Columns wait in buckets by their count of entries; a column whose count has changed since is skipped.
        let mut queue = std::collections::BTreeSet::new();
        for (j, column) in columns.iter().enumerate() {
            if !column.is_empty() {
                queue.insert((column.len(), j as u32));
            }
        }
        let mut eliminated = Eliminated { size, pivots: Vec::new(), steps: Vec::new() };
        while let Some((_, j)) = queue.pop_first() {
            let holders = std::mem::take(&mut columns[j as usize]);
            let shortest = holders.iter().copied().min_by_key(|&i| (rows[i as usize].len(), i));
            let Some(pivot_row) = shortest else { continue };
            let mut rest = std::mem::take(&mut rows[pivot_row as usize]);
            let at = rest.iter().position(|e| e.0 == j).expect("the column lists the row");
            let inverse = rest.swap_remove(at).1.inverse();
            let mut recount = |columns: &mut Vec<Vec<u32>>, k: u32, change: &dyn Fn(&mut Vec<u32>)| {
                let column = &mut columns[k as usize];
                queue.remove(&(column.len(), k));
                change(column);
                if !column.is_empty() {
                    queue.insert((column.len(), k));
                }
            };
            for &(k, _) in &rest {
                recount(&mut columns, k, &|c| c.retain(|&i| i != pivot_row));
            }
            for &i in holders.iter().filter(|&&i| i != pivot_row) {
                let row = &mut rows[i as usize];
                let at = row.iter().position(|e| e.0 == j).expect("the column lists the row");
                let factor = row.swap_remove(at).1.times(inverse);
                eliminated.steps.push((i, pivot_row, factor));
                for &(k, value) in &rest {
                    let change = factor.times(value);
                    match row.iter().position(|e| e.0 == k) {
                        Some(at) => {
                            row[at].1 = row[at].1.minus(change);
                            if row[at].1.is_zero() {
                                row.swap_remove(at);
                                recount(&mut columns, k, &|c| c.retain(|&r| r != i));
                            }
                        }
                        None => {
                            row.push((k, F::ZERO.minus(change)));
                            recount(&mut columns, k, &|c| c.push(i));
                        }
                    }
                }
            }
            eliminated.pivots.push(Pivot { row: pivot_row, column: j, inverse, rest });
        }
        eliminated
    }

    /// The null vectors' supports, where the rank falls short.
    pub fn deficiency(&self) -> Result<(), Deficiency> {
        if self.pivots.len() == self.size {
            return Ok(());
        }
        let support = |v: Vec<F>| -> Vec<u32> { (0..v.len() as u32).filter(|&i| !v[i as usize].is_zero()).collect() };
        let (rows, columns) = self.unused();
        Err(Deficiency {
            undetermined: columns.into_iter().map(|j| support(self.moving(j))).collect(),
            dependent: rows.into_iter().map(|i| support(self.binding(i))).collect(),
        })
    }

    /// The rows and the columns without a pivot: as many of either as the rank falls short by.
    pub fn unused(&self) -> (Vec<u32>, Vec<u32>) {
        let mut free = (vec![true; self.size], vec![true; self.size]);
        for pivot in &self.pivots {
            free.0[pivot.row as usize] = false;
            free.1[pivot.column as usize] = false;
        }
        let unused = |free: &[bool]| (0..self.size as u32).filter(|&i| free[i as usize]).collect();
        (unused(&free.0), unused(&free.1))
    }

    /// The right null vector in which an unused column is 1.
    pub fn moving(&self, column: u32) -> Vec<F> {
        let mut x = vec![F::ZERO; self.size];
        x[column as usize] = F::ONE;
        self.substitute(&mut x, &vec![F::ZERO; self.size]);
        x
    }

    /// The left null vector in which an unused row is 1.
    pub fn binding(&self, row: u32) -> Vec<F> {
        let mut y = vec![F::ZERO; self.size];
        y[row as usize] = F::ONE;
        for &(changed, by, factor) in self.steps.iter().rev() {
            let step = factor.times(y[changed as usize]);
            y[by as usize] = y[by as usize].minus(step);
        }
        y
    }

    /// The determinant: 0 where the rank falls short.
    pub fn determinant(&self) -> F {
        if self.pivots.len() < self.size {
            return F::ZERO;
        }
        // The pivots' places are a permutation, whose sign is that of its cycles.
        let mut column_of = vec![0; self.size];
        for pivot in &self.pivots {
            column_of[pivot.row as usize] = pivot.column as usize;
        }
        let (mut seen, mut even) = (vec![false; self.size], true);
        for start in 0..self.size {
            let (mut at, mut length) = (start, 0);
            while !seen[at] {
                seen[at] = true;
                at = column_of[at];
                length += 1;
            }
            even ^= length > 0 && length % 2 == 0;
        }
        let product = self.pivots.iter().fold(F::ONE, |p, pivot| p.times(pivot.inverse));
        let product = product.inverse();
        if even { product } else { F::ZERO.minus(product) }
    }

    /// Back substitution into `x`, whose free unknowns are set already.
    fn substitute(&self, x: &mut [F], right: &[F]) {
        for pivot in self.pivots.iter().rev() {
            let mut sum = right[pivot.row as usize];
            for &(k, value) in &pivot.rest {
                sum = sum.minus(value.times(x[k as usize]));
            }
            x[pivot.column as usize] = sum.times(pivot.inverse);
        }
    }

    /// The solution for a right-hand side, where the rank is full.
    pub fn solve(&self, mut right: Vec<F>) -> Vec<F> {
        for &(changed, by, factor) in &self.steps {
            let step = factor.times(right[by as usize]);
            right[changed as usize] = right[changed as usize].minus(step);
        }
        let mut x = vec![F::ZERO; self.size];
        self.substitute(&mut x, &right);
        x
    }
}
