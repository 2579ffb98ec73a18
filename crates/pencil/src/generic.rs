//! What holds for almost all values: rank, and which quantities are zero whatever the values.
//!
//! Counting entries is not enough: the ±1 pattern of a floating part of a circuit has a perfect matching and no unique
//! solution. Elimination over a prime field with random parameters sees the integers, so it decides both exactly.

use crate::eliminate::{Eliminated, merge};
use crate::field::{Field, Residue, Stream};
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
    Eliminated::of(Sample::of(pencil, at, zero).rows).deficiency()
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
    let eliminated = Eliminated::of(sample.rows);
    eliminated.deficiency()?;
    Ok(eliminated.solve(right).iter().map(|x| !x.is_zero()).collect())
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
    let eliminated = Eliminated::of(sample.rows);
    eliminated.deficiency().map_err(|d| Deficiency { undetermined: d.dependent, dependent: d.undetermined })?;
    Ok(eliminated.solve(right).iter().map(|y| !y.is_zero()).collect())
}

/// The system at random parameters and a random `s`.
pub(crate) struct Sample {
    pub rows: Vec<Vec<(u32, Residue)>>,
    /// (equation, given, entry).
    pub given: Vec<(u32, u32, Residue)>,
}

impl Sample {
    pub fn of(pencil: &Pencil, at: At, zero: &[Parameter]) -> Sample {
        let mut stream = Stream::new(0x5eed_0000);
        let s = match at {
            At::AnyFrequency => stream.residue(),
            At::Rest => Residue::ZERO,
        };
        // A parameter's number follows from its own: of a small part of a large system only few are looked at.
        let seed = stream.next();
        let of = |p: Parameter| match zero.contains(&p) {
            true => Residue::ZERO,
            false => Stream::new(seed.wrapping_add(u64::from(p.0).wrapping_mul(0xd1b5_4a32_d192_ed03))).residue(),
        };
        let mut rows = vec![Vec::new(); pencil.unknowns() as usize];
        let mut given = Vec::new();
        for stamp in pencil.stamps() {
            let mut value = match stamp.value {
                Value::Constant(c) => Residue::from_f64(c),
                Value::Parameter(p) => of(p),
                Value::Reciprocal(p) => of(p).inverse(),
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
        Sample { rows, given: Vec::new() }
    }
}
