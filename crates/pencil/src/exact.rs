//! Whether a functional is exactly 0, decided by arithmetic that does not round.
//!
//! Every value, the frequency and the excitation are binary fractions, so the system has an exact image over a finite
//! field, and a functional that is 0 there is 0 (but for a chance of about one in 10¹⁸). No number of digits could tell a
//! gain of 1e-40 from none; this does.

use num_complex::Complex64;

use crate::atoms::{Atom, Kind};
use crate::double::Double;
use crate::eliminate::{Eliminated, merge};
use crate::field::{ComplexResidue, Field, Residue, Stream};
use crate::generic::Deficiency;
use crate::pencil::Value;

/// The place in the `s` plane that an exact question is about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Place {
    /// One point.
    At(Complex64),
    /// Almost every point.
    Everywhere,
}

/// The exact image of a system at given values. Indices are those of the pencil.
pub(crate) struct Image {
    forward: Eliminated<ComplexResidue>,
    /// (equation, given, entry).
    given: Vec<(u32, u32, ComplexResidue)>,
    rows: Vec<Vec<(u32, ComplexResidue)>>,
}

fn fraction(value: f64) -> ComplexResidue {
    ComplexResidue::real(Residue::from_f64(value))
}

fn complex(value: Complex64) -> ComplexResidue {
    ComplexResidue { re: Residue::from_f64(value.re), im: Residue::from_f64(value.im) }
}

fn exactly(atom: &Atom, values: &[f64]) -> ComplexResidue {
    let Double { high, low } = atom.factor;
    let factor = fraction(high).plus(fraction(low));
    factor.times(match atom.value {
        Value::Constant(c) => fraction(c),
        Value::Parameter(p) => fraction(values[p.0 as usize]),
        Value::Reciprocal(p) => fraction(values[p.0 as usize]).inverse(),
    })
}

impl Image {
    /// The image of the atoms, which are in the numbering of the pencil.
    ///
    /// # Errors
    /// Where the system is exactly singular there.
    pub fn new(atoms: &[Atom], size: usize, values: &[f64], place: Place) -> Result<Image, Deficiency> {
        let s = match place {
            Place::At(s) => complex(s),
            Place::Everywhere => {
                let mut stream = Stream::new(0x5eed_0002);
                ComplexResidue { re: stream.residue(), im: stream.residue() }
            }
        };
        let (mut rows, mut given) = (vec![Vec::new(); size], Vec::new());
        for atom in atoms {
            let mut value = exactly(atom, values);
            if atom.kind == Kind::Dynamic {
                value = value.times(s);
            }
            let opposite = ComplexResidue::ZERO.minus(value);
            for (i, minus) in atom.equations.terms() {
                for (j, less) in atom.columns.terms() {
                    let entry = if minus == less { value } else { opposite };
                    match (j as usize).checked_sub(size) {
                        None => rows[i as usize].push((j, entry)),
                        Some(k) => given.push((i, k as u32, entry)),
                    }
                }
            }
        }
        rows.iter_mut().for_each(merge);
        let forward = Eliminated::of(rows.clone());
        forward.deficiency()?;
        Ok(Image { forward, given, rows })
    }

    /// The solution for sources and givens: unknowns, then givens.
    pub fn solve(&self, right: &[Complex64], givens: &[Complex64]) -> Vec<ComplexResidue> {
        let mut right: Vec<_> = right.iter().map(|b| complex(*b)).collect();
        let givens: Vec<_> = givens.iter().map(|g| complex(*g)).collect();
        for &(i, k, entry) in &self.given {
            let share = entry.times(givens[k as usize]);
            right[i as usize] = right[i as usize].minus(share);
        }
        let mut x = self.forward.solve(right);
        x.extend(givens);
        x
    }

    /// The adjoint solution for weights of a functional over unknowns, then givens: equations, then givens.
    pub fn adjoint(&self, weights: &[Complex64]) -> Vec<ComplexResidue> {
        let size = self.rows.len();
        let mut turned = vec![Vec::new(); size];
        for (i, row) in self.rows.iter().enumerate() {
            for &(j, entry) in row {
                turned[j as usize].push((i as u32, entry));
            }
        }
        let weights: Vec<_> = weights.iter().map(|w| complex(*w)).collect();
        let mut y = Eliminated::of(turned).solve(weights[..size].to_vec());
        y.extend(&weights[size..]);
        for &(i, k, entry) in &self.given {
            let share = entry.times(y[i as usize]);
            y[size + k as usize] = y[size + k as usize].minus(share);
        }
        y
    }
}

/// Whether `Σ weight · column` is exactly 0.
pub(crate) fn vanishes(terms: &[(u32, f64)], solution: &[ComplexResidue]) -> bool {
    let add = |sum: ComplexResidue, &(i, w): &(u32, f64)| sum.plus(solution[i as usize].times(fraction(w)));
    terms.iter().fold(ComplexResidue::ZERO, add).is_zero()
}
