//! The zeros of an answer as the roots of a system.

use crate::excitation::{Excitation, Functional};
use crate::pencil::{Builder, Column, Domain, Pencil, Value};

/// The system whose roots are the zeros of a functional: the excitation's size is one unknown more, and "the functional is 0"
/// one equation more (the bordered determinant is the numerator by Cramer's rule). Parameters keep their numbers. An excitation
/// counts by its real parts.
///
/// # Panics
/// If an index does not belong to the pencil.
pub fn numerator(pencil: &Pencil, excitation: &Excitation, functional: &Functional) -> Pencil {
    numerator_of(pencil, excitation, &[(Value::Constant(1.0), Domain::Static, functional.clone())])
}

/// As [`numerator`] for a sum of functionals, each times a value, and times `s` where that is dynamic.
///
/// # Panics
/// If an index does not belong to the pencil.
pub fn numerator_of(pencil: &Pencil, excitation: &Excitation, sum: &[(Value, Domain, Functional)]) -> Pencil {
    let size = pencil.unknowns();
    let drive = Column::Unknown(size);
    let given = |k: u32| excitation.givens.get(k as usize).map_or(0.0, |z| z.re);
    // A given column is its share of the drive.
    let place = |&(column, weight): &(Column, f64)| match column {
        Column::Unknown(_) => (column, weight),
        Column::Given(k) => (drive, weight * given(k)),
    };
    let mut builder = Builder::new(size + 1, 0);
    for _ in 0..pencil.parameters() {
        builder.parameter();
    }
    for s in pencil.stamps() {
        let columns: Vec<(Column, f64)> = s.columns.iter().map(place).collect();
        builder.stamp(s.value, s.domain, &s.rows, &columns);
    }
    let one = Value::Constant(1.0);
    for (equation, value) in &excitation.equations {
        builder.stamp(one, Domain::Static, &[(*equation, -value.re)], &[(drive, 1.0)]);
    }
    for (value, domain, functional) in sum {
        let columns: Vec<(Column, f64)> = functional.terms.iter().map(place).collect();
        builder.stamp(*value, *domain, &[(size, 1.0)], &columns);
    }
    builder.finish()
}
