//! How many roots the determinant of `G + sC` has, and how many of them lie at the origin: exactly, at the values as they stand.
//!
//! Every value is a binary fraction, so the determinant is a polynomial over the rationals with an image over a finite
//! field. It is evaluated there at as many points as it may have coefficients and interpolated; the first and the last
//! coefficient that are not 0 tell the multiplicity at the origin and the degree (but for a chance of about one in 10¹⁶).
//! No floating-point threshold could decide either.

use crate::atoms::{Atom, Kind};
use crate::double::Double;
use crate::eliminate::{Eliminated, merge};
use crate::field::{Field, Residue};
use crate::pencil::Value;

/// The degree of a determinant in `s`, and the multiplicity of its root at the origin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Degree {
    pub degree: usize,
    pub at_origin: usize,
}

fn exactly(atom: &Atom, values: &[f64]) -> Residue {
    let Double { high, low } = atom.factor;
    let factor = Residue::from_f64(high).plus(Residue::from_f64(low));
    factor.times(match atom.value {
        Value::Constant(c) => Residue::from_f64(c),
        Value::Parameter(p) => Residue::from_f64(values[p.0 as usize]),
        Value::Reciprocal(p) => Residue::from_f64(values[p.0 as usize]).inverse(),
    })
}

/// The degree of the determinant, which is at most `most`; `None` where it is 0 everywhere. Indices are those of the pencil,
/// columns beyond `size` are left out.
pub(crate) fn degree(atoms: &[Atom], size: usize, values: &[f64], most: usize) -> Option<Degree> {
    let weights: Vec<Residue> = atoms.iter().map(|a| exactly(a, values)).collect();
    let at = |s: Residue| -> Residue {
        let mut rows = vec![Vec::new(); size];
        for (atom, weight) in atoms.iter().zip(&weights) {
            let value = if atom.kind == Kind::Dynamic { weight.times(s) } else { *weight };
            let opposite = Residue::ZERO.minus(value);
            for (i, minus) in atom.equations.terms() {
                for (j, less) in atom.columns.terms().filter(|t| (t.0 as usize) < size) {
                    rows[i as usize].push((j, if minus == less { value } else { opposite }));
                }
            }
        }
        rows.iter_mut().for_each(merge);
        Eliminated::of(rows).determinant()
    };
    let points: Vec<Residue> = (1..=most + 1).map(|k| Residue::from_f64(k as f64)).collect();
    let values: Vec<Residue> = points.iter().map(|s| at(*s)).collect();
    let coefficients = interpolated(&points, values);
    let first = coefficients.iter().position(|c| !c.is_zero())?;
    let last = coefficients.iter().rposition(|c| !c.is_zero())?;
    Some(Degree { degree: last, at_origin: first })
}

/// The coefficients, constant first, of the polynomial through these points, by Newton's divided differences.
fn interpolated(points: &[Residue], mut values: Vec<Residue>) -> Vec<Residue> {
    let count = points.len();
    for k in 1..count {
        for i in (k..count).rev() {
            let rise = values[i].minus(values[i - 1]);
            values[i] = rise.times(points[i].minus(points[i - k]).inverse());
        }
    }
    let mut polynomial: Vec<Residue> = Vec::new();
    for k in (0..count).rev() {
        // p := values[k] + (s − points[k])·p
        let mut next = vec![Residue::ZERO; polynomial.len() + 1];
        for (i, c) in polynomial.iter().enumerate() {
            next[i + 1] = next[i + 1].plus(*c);
            next[i] = next[i].minus(points[k].times(*c));
        }
        next[0] = next[0].plus(values[k]);
        polynomial = next;
    }
    polynomial
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_polynomial_comes_back_from_its_values() {
        let of = |x: i32| Residue::from_f64(f64::from(x));
        let points: Vec<Residue> = (1..6).map(of).collect();
        // 7s² − 3s⁴
        let values = (1..6).map(|s: i32| of(7 * s.pow(2) - 3 * s.pow(4))).collect();
        assert_eq!(interpolated(&points, values), [of(0), of(0), of(7), of(0), of(-3)]);
    }
}
