//! What holds for almost all values: rank, and which quantities are zero whatever the values.
//!
//! Counting entries is not enough: the ±1 pattern of a floating part of a circuit has a perfect matching and no unique
//! solution. Elimination over a prime field with random parameters sees the integers, so it decides both exactly.

use crate::field::{Residue, Stream};
use crate::pencil::{Column, Domain, Parameter, Pencil, Value};

/// The point of the `s` plane that is asked about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum At {
    /// Almost every `s`.
    AnyFrequency,
    /// `s = 0`: the dynamic stamps vanish.
    Rest,
}

/// Why a system has no unique solution, whatever the (generic) values.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deficiency {
    /// For each degree of freedom, the unknowns that it moves: the supports of a basis of right null vectors.
    pub undetermined: Vec<Vec<u32>>,
    /// For each dependency, the equations that it binds: the supports of a basis of left null vectors.
    pub dependent: Vec<Vec<u32>>,
}

/// Checks that the system has a unique solution for generic values of its parameters, at almost every `s` or at rest.
/// `zero` names parameters that are identically 0.
///
/// # Errors
/// The supports of the null vectors, where the rank falls short.
pub fn generic_rank(pencil: &Pencil, at: At, zero: &[Parameter]) -> Result<(), Deficiency> {
    Eliminated::of(&Sample::of(pencil, at, zero)).deficiency()
}

/// Whether each unknown is other than 0 when the excitation (equations and given columns) takes generic values.
/// This is exact: a source reaches an unknown if and only if the answer is `true`.
///
/// # Errors
/// As [`generic_rank`].
pub fn generic_solution(
    pencil: &Pencil,
    at: At,
    zero: &[Parameter],
    excited: crate::Excited,
) -> Result<Vec<bool>, Deficiency> {
    let sample = Sample::of(pencil, at, zero);
    let mut stream = Stream::new(0x5eed_0001);
    let mut right = vec![Residue::ZERO; sample.rows.len()];
    for &equation in excited.equations {
        right[equation as usize] = right[equation as usize].plus(stream.residue());
    }
    for &given in excited.givens {
        let level = stream.residue();
        for &(row, column, value) in &sample.given {
            if column == given {
                right[row as usize] = right[row as usize].minus(level.times(value));
            }
        }
    }
    let eliminated = Eliminated::of(&sample);
    eliminated.deficiency()?;
    Ok(eliminated
        .solve(right)
        .iter()
        .map(|x| !x.is_zero())
        .collect())
}

/// Whether each equation matters to the functional: whether a source in that equation changes `Σ c·x`, for generic
/// values. The weights of the functional are taken as they are.
///
/// # Errors
/// As [`generic_rank`].
pub fn generic_adjoint(
    pencil: &Pencil,
    at: At,
    zero: &[Parameter],
    functional: &crate::Functional,
) -> Result<Vec<bool>, Deficiency> {
    let sample = Sample::of(pencil, at, zero).transposed();
    let mut right = vec![Residue::ZERO; sample.rows.len()];
    for &(column, weight) in &functional.terms {
        if let Column::Unknown(j) = column {
            right[j as usize] = right[j as usize].plus(Residue::from_f64(weight));
        }
    }
    let eliminated = Eliminated::of(&sample);
    eliminated.deficiency().map_err(|d| Deficiency {
        undetermined: d.dependent,
        dependent: d.undetermined,
    })?;
    Ok(eliminated
        .solve(right)
        .iter()
        .map(|y| !y.is_zero())
        .collect())
}

/// The system at random parameters and a random `s`.
struct Sample {
    rows: Vec<Vec<(u32, Residue)>>,
    given: Vec<(u32, u32, Residue)>,
}

impl Sample {
    fn of(pencil: &Pencil, at: At, zero: &[Parameter]) -> Sample {
        let mut stream = Stream::new(0x5eed_0000);
        let s = match at {
            At::AnyFrequency => stream.residue(),
            At::Rest => Residue::ZERO,
        };
        let mut values: Vec<Residue> = (0..pencil.parameters()).map(|_| stream.residue()).collect();
        for p in zero {
            values[p.0 as usize] = Residue::ZERO;
        }
        let mut rows = vec![Vec::new(); pencil.unknowns() as usize];
        let mut given = Vec::new();
        for stamp in pencil.stamps() {
            let mut value = match stamp.value {
                Value::Constant(c) => Residue::from_f64(c),
                Value::Parameter(p) => values[p.0 as usize],
                Value::Reciprocal(p) => values[p.0 as usize].inverse(),
            };
            if stamp.domain == Domain::Dynamic {
                value = value.times(s);
            }
            if value.is_zero() {
                continue;
            }
            for &(row, u) in &stamp.rows {
                let left = value.times(Residue::from_f64(u));
                for &(column, v) in &stamp.columns {
                    let entry = left.times(Residue::from_f64(v));
                    match column {
                        Column::Unknown(j) => rows[row as usize].push((j, entry)),
                        Column::Given(k) => given.push((row, k, entry)),
                    }
                }
            }
        }
        rows.iter_mut().for_each(merge);
        Sample { rows, given }
    }

    fn transposed(&self) -> Sample {
        let mut rows = vec![Vec::new(); self.rows.len()];
        for (i, row) in self.rows.iter().enumerate() {
            for &(j, value) in row {
                rows[j as usize].push((i as u32, value));
            }
        }
        Sample {
            rows,
            given: Vec::new(),
        }
    }
}

/// Sums entries of one column and drops those that cancel.
fn merge(row: &mut Vec<(u32, Residue)>) {
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

struct Pivot {
    row: u32,
    column: u32,
    inverse: Residue,
    rest: Vec<(u32, Residue)>,
}

/// The result of Gaussian elimination over the field: as many pivots as the rank.
struct Eliminated {
    size: usize,
    pivots: Vec<Pivot>,
    /// (row changed, pivot row, factor): row −= factor · pivot row, in order.
    steps: Vec<(u32, u32, Residue)>,
}

impl Eliminated {
    fn of(sample: &Sample) -> Eliminated {
        let size = sample.rows.len();
        let mut rows = sample.rows.clone();
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
        let mut eliminated = Eliminated {
            size,
            pivots: Vec::new(),
            steps: Vec::new(),
        };
        while let Some((_, j)) = queue.pop_first() {
            let holders = std::mem::take(&mut columns[j as usize]);
            let shortest = holders
                .iter()
                .copied()
                .min_by_key(|&i| (rows[i as usize].len(), i));
            let Some(pivot_row) = shortest else { continue };
            let mut rest = std::mem::take(&mut rows[pivot_row as usize]);
            let at = rest
                .iter()
                .position(|e| e.0 == j)
                .expect("the column lists the row");
            let inverse = rest.swap_remove(at).1.inverse();
            let mut recount =
                |columns: &mut Vec<Vec<u32>>, k: u32, change: &dyn Fn(&mut Vec<u32>)| {
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
                let at = row
                    .iter()
                    .position(|e| e.0 == j)
                    .expect("the column lists the row");
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
                            row.push((k, Residue::ZERO.minus(change)));
                            recount(&mut columns, k, &|c| c.push(i));
                        }
                    }
                }
            }
            eliminated.pivots.push(Pivot {
                row: pivot_row,
                column: j,
                inverse,
                rest,
            });
        }
        eliminated
    }

    fn deficiency(&self) -> Result<(), Deficiency> {
        if self.pivots.len() == self.size {
            return Ok(());
        }
        let support = |v: &[Residue]| -> Vec<u32> {
            (0..v.len() as u32)
                .filter(|&i| !v[i as usize].is_zero())
                .collect()
        };
        let mut free = (vec![true; self.size], vec![true; self.size]);
        for pivot in &self.pivots {
            free.0[pivot.row as usize] = false;
            free.1[pivot.column as usize] = false;
        }
        let unused =
            |free: &[bool]| -> Vec<usize> { (0..self.size).filter(|&i| free[i]).collect() };
        let undetermined = unused(&free.1).into_iter().map(|j| {
            let mut x = vec![Residue::ZERO; self.size];
            x[j] = Residue::ONE;
            self.substitute(&mut x, &vec![Residue::ZERO; self.size]);
            support(&x)
        });
        let dependent = unused(&free.0).into_iter().map(|i| {
            let mut y = vec![Residue::ZERO; self.size];
            y[i] = Residue::ONE;
            for &(changed, by, factor) in self.steps.iter().rev() {
                let step = factor.times(y[changed as usize]);
                y[by as usize] = y[by as usize].minus(step);
            }
            support(&y)
        });
        Err(Deficiency {
            undetermined: undetermined.collect(),
            dependent: dependent.collect(),
        })
    }

    /// Back substitution into `x`, whose free unknowns are set already.
    fn substitute(&self, x: &mut [Residue], right: &[Residue]) {
        for pivot in self.pivots.iter().rev() {
            let mut sum = right[pivot.row as usize];
            for &(k, value) in &pivot.rest {
                sum = sum.minus(value.times(x[k as usize]));
            }
            x[pivot.column as usize] = sum.times(pivot.inverse);
        }
    }

    fn solve(&self, mut right: Vec<Residue>) -> Vec<Residue> {
        for &(changed, by, factor) in &self.steps {
            let step = factor.times(right[by as usize]);
            right[changed as usize] = right[changed as usize].minus(step);
        }
        let mut x = vec![Residue::ZERO; self.size];
        self.substitute(&mut x, &right);
        x
    }
}
