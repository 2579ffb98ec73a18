//! What is left when some values are 0 and leave a part of the system open.
//!
//! A part between two open contacts floats, two closed contacts side by side share a current in any way: the system is singular then,
//! and yet what is wanted may not hang on it. Where the generic rank falls short at the zeros of the values, each open unknown
//! stands free: it is put at a value in place of an equation that the others imply. What moves with a free unknown (the
//! null vectors tell) is not known, nor is anything where the sources contradict an equation that is implied (the left null vectors tell);
//! everything else is what it would be with any other value of the free ones.

use std::sync::Arc;

use crate::eliminate::Eliminated;
use crate::excitation::Unsure;
use crate::field::{ComplexResidue, Field, Residue};
use crate::generic::{At, Sample};
use crate::pencil::{Column, Domain, Parameter, Pencil, Stamp, Value};
use crate::program::Order;
use crate::question::Question;
use crate::structure::Structure;

/// A system with its open unknowns put at a value.
#[derive(Debug)]
pub(crate) struct Loose {
    /// Of the system so mended.
    pub order: Order,
    /// Over the unknowns: a basis of what may move.
    right: Vec<Vec<Residue>>,
    /// Over the equations, then the givens: a basis of what sources must agree with.
    left: Vec<Vec<Residue>>,
}

impl Loose {
    /// The system where these parameters are 0; `None` where it is whole all the same. The order is made at `values`.
    pub fn of(pencil: &Pencil, zero: &[Parameter], values: &[f64]) -> Option<Arc<Loose>> {
        let (mended, right, left) = mended(pencil, zero)?;
        let structure = Structure::of(&mended).ok()?;
        Some(Arc::new(Loose { order: Order::compile(&mended, &structure, values), right, left }))
    }

    /// Which answers of a question hang on nothing open; of one that is not there the open unknowns (or equations) that it hangs on.
    pub fn known(&self, question: &Question) -> Vec<Result<(), Unsure>> {
        let (bound, free) = if question.adjoint { (&self.right, &self.left) } else { (&self.left, &self.right) };
        let sources = || question.plain.iter().chain(&question.givens).map(|z| residue(z.re, z.im));
        // Sources that contradict what the other equations imply leave no solution at all.
        let contradicted = bound.iter().find(|y| {
            let sum = |s: ComplexResidue, (b, y): (ComplexResidue, &Residue)| s.plus(b.times(ComplexResidue::real(*y)));
            !sources().zip(y.iter()).fold(ComplexResidue::ZERO, sum).is_zero()
        });
        let moved_by = |terms: &[(u32, f64)]| {
            free.iter().find(|x| {
                let add = |s: Residue, &(i, w): &(u32, f64)| {
                    let x = x.get(i as usize).copied().unwrap_or(Residue::ZERO);
                    s.plus(x.times(Residue::from_f64(w)))
                };
                !terms.iter().fold(Residue::ZERO, add).is_zero()
            })
        };
        let size = self.order.program.size() as u32;
        let support = |v: &[Residue]| (0..size).filter(|i| !v[*i as usize].is_zero()).collect();
        let one = |terms: &[(u32, f64)]| match contradicted {
            // The unknowns of a contradiction are those that nothing bounds.
            Some(_) => Err(Unsure::Singular { unknowns: self.right.iter().flat_map(|v| support(v)).collect() }),
            None => match moved_by(terms) {
                Some(v) => Err(Unsure::Singular { unknowns: support(v) }),
                None => Ok(()),
            },
        };
        question.wanted.iter().map(|w| one(&w.plain)).collect()
    }
}

fn residue(re: f64, im: f64) -> ComplexResidue {
    ComplexResidue { re: Residue::from_f64(re), im: Residue::from_f64(im) }
}

/// The system where these parameters are 0 with its open unknowns put at a value, and the null vectors on either side;
/// `None` where it is whole.
#[allow(clippy::type_complexity)]
fn mended(pencil: &Pencil, zero: &[Parameter]) -> Option<(Pencil, Vec<Vec<Residue>>, Vec<Vec<Residue>>)> {
    let sample = Sample::of(pencil, At::AnyFrequency, zero);
    let eliminated = Eliminated::of(sample.rows);
    let (rows, columns) = eliminated.unused();
    if rows.is_empty() {
        return None;
    }
    let right = columns.iter().map(|j| eliminated.moving(*j)).collect();
    let mut left: Vec<Vec<Residue>> = rows.iter().map(|i| eliminated.binding(*i)).collect();
    for y in &mut left {
        let reached = (0..pencil.givens()).map(|k| {
            let all = sample.given.iter().filter(|g| g.1 == k);
            // What a given column adds to an equation stands on the left of it.
            all.fold(Residue::ZERO, |s, g| s.minus(y[g.0 as usize].times(g.2)))
        });
        let reached: Vec<Residue> = reached.collect();
        y.extend(reached);
    }
    let mut stamps: Vec<Stamp> = Vec::with_capacity(pencil.stamps().len() + rows.len());
    for stamp in pencil.stamps() {
        if matches!(stamp.value, Value::Parameter(p) if zero.contains(&p)) {
            continue;
        }
        let mut stamp = stamp.clone();
        stamp.rows.retain(|(r, _)| !rows.contains(r));
        if !stamp.rows.is_empty() {
            stamps.push(stamp);
        }
    }
    for (row, column) in rows.iter().zip(&columns) {
        stamps.push(Stamp {
            value: Value::Constant(1.0),
            domain: Domain::Static,
            rows: vec![(*row, 1.0)],
            columns: vec![(Column::Unknown(*column), 1.0)],
        });
    }
    Some((Pencil::with_stamps(pencil.unknowns(), pencil.givens(), pencil.parameters(), stamps), right, left))
}

/// The system at these values without what they leave open: its roots are those of all the rest. `None` where nothing is open, and where
/// what is open is more than a part that hangs on nothing: of such a part the equations that are implied are its own, and
/// of an amplifier without feedback they are not.
pub(crate) fn closed(pencil: &Pencil, values: &[f64]) -> Option<Pencil> {
    let (mended, right, left) = mended(pencil, &zeros(values))?;
    let size = pencil.unknowns() as usize;
    let support =
        |basis: &[Vec<Residue>]| -> Vec<bool> { (0..size).map(|i| basis.iter().any(|v| !v[i].is_zero())).collect() };
    (support(&right) == support(&left)).then_some(mended)
}

/// The parameters that are 0.
pub(crate) fn zeros(values: &[f64]) -> Vec<Parameter> {
    (0..values.len() as u32).filter(|p| values[*p as usize] == 0.0).map(Parameter).collect()
}
