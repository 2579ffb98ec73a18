//! One lane solved with an order of its own and all arithmetic to twice the working precision.
//!
//! It is the second way, for lanes that the kept order does not settle: the pivots suit the lane's own values, and the
//! sums on the diagonal keep 106 bits, so a leakage 1e-20 times its neighbour still counts.

use num_complex::Complex64;

use crate::atoms::{Atom, Kind, Share, Side};
use crate::double::{ComplexDouble, Double, Number};
use crate::excitation::Unsure;
use crate::judge::Reading;
use crate::order::{Pattern, Steps, choose};
use crate::structure::Structure;

/// A system at one point, factored. Indices are those of the pencil; columns from `size` on are givens.
pub(crate) struct Point<'a> {
    atoms: &'a [Atom],
    weights: Vec<ComplexDouble>,
    steps: Steps,
    store: Vec<ComplexDouble>,
    singular: Option<Vec<u32>>,
    size: usize,
    columns: usize,
}

/// How often a solution is corrected before the lane is given up.
const CORRECTIONS: usize = 8;

/// A solution with its last two corrections, over all unknowns and givens (or, transposed, equations and givens).
pub(crate) struct Refined {
    pub x: Vec<ComplexDouble>,
    pub last: Vec<ComplexDouble>,
    pub before: Vec<ComplexDouble>,
    /// The sum of the moduli of the terms behind each given column of a transposed solution; empty otherwise.
    pub behind: Vec<f64>,
}

impl<'a> Point<'a> {
    /// Factors the system at `s`; `evaluated` are the atoms' values without `s`.
    pub fn of(
        atoms: &'a [Atom],
        shares: &[Share],
        pattern: &Pattern,
        structure: &Structure,
        givens: usize,
        s: Complex64,
        evaluated: &[Double],
    ) -> Point<'a> {
        let weigh = |(atom, value): (&Atom, &Double)| match atom.kind {
            Kind::Dynamic => ComplexDouble::new(s).scaled(*value),
            Kind::Static | Kind::Unit => ComplexDouble::real(*value),
        };
        let weights: Vec<ComplexDouble> = atoms.iter().zip(evaluated).map(weigh).collect();
        let mut store = vec![ComplexDouble::ZERO; pattern.entries.len()];
        for share in shares {
            let weight = weights[share.atom as usize];
            let entry = &mut store[share.slot as usize];
            *entry = if share.negative { entry.minus(weight) } else { entry.plus(weight) };
        }
        let (steps, singular) = choose(pattern, structure, 1, &mut store);
        let size = structure.size();
        Point { atoms, weights, steps, store, singular, size, columns: size + givens }
    }

    /// The solution for a right-hand side (one number an equation) and given quantities.
    pub fn forward(&self, right: &[Complex64], givens: &[Complex64]) -> Refined {
        let mut x = vec![ComplexDouble::ZERO; self.columns];
        for (place, value) in x[self.size..].iter_mut().zip(givens) {
            *place = ComplexDouble::new(*value);
        }
        self.refine(x, |x| {
            let mut rest: Vec<_> = right.iter().map(|b| ComplexDouble::new(*b)).collect();
            for (atom, weight) in self.atoms.iter().zip(&self.weights) {
                self.subtract(&atom.columns, &atom.equations, *weight, x, &mut rest);
            }
            self.solve(rest)
        })
    }

    /// The adjoint solution for a functional (one weight a column, the givens' after the unknowns'): the response of the
    /// functional to each equation's source, then to each given.
    pub fn adjoint(&self, functional: &[f64]) -> Refined {
        let givens = self.columns - self.size;
        let whole = |y: &[ComplexDouble]| {
            let mut rest: Vec<_> = functional.iter().map(|c| ComplexDouble::real(Double::new(*c))).collect();
            for (atom, weight) in self.atoms.iter().zip(&self.weights) {
                self.subtract(&atom.equations, &atom.columns, *weight, y, &mut rest);
            }
            rest
        };
        let start = vec![ComplexDouble::ZERO; self.size];
        let mut refined = self.refine(start, |y| {
            let mut rest = whole(y);
            rest.truncate(self.size);
            self.solve_transposed(rest)
        });
        // Givens: their weight less what reaches them; the last corrections reach them in the same way.
        let zero = vec![ComplexDouble::ZERO; self.size];
        let at_zero = whole(&zero);
        let reached = |y: &[ComplexDouble]| -> Vec<ComplexDouble> {
            let rest = whole(y);
            (self.size..self.columns).map(|k| rest[k].minus(at_zero[k])).collect()
        };
        let (x, last, before) = (whole(&refined.x), reached(&refined.last), reached(&refined.before));
        let mut behind = vec![0.0; givens];
        for (atom, weight) in self.atoms.iter().zip(&self.weights) {
            let through: f64 = atom.equations.terms().map(|t| refined.x[t.0 as usize].magnitude()).sum();
            for (j, _) in atom.columns.terms() {
                if let Some(sum) = (j as usize).checked_sub(self.size) {
                    behind[sum] += through * weight.magnitude();
                }
            }
        }
        refined.x.extend(&x[self.size..]);
        refined.last.extend(last);
        refined.before.extend(before);
        refined.behind = behind;
        refined
    }

    /// The solution for a right-hand side, or of the transposed system, as the factors give it without a correction: good to
    /// 30 digits less those that the system itself costs. Givens are 0.
    pub fn plainly(&self, right: &[Complex64], transposed: bool) -> Vec<ComplexDouble> {
        let right = right.iter().map(|b| ComplexDouble::new(*b)).collect();
        if transposed { self.solve_transposed(right) } else { self.solve(right) }
    }

    /// The unknowns that elimination was left with when it ran out of digits.
    pub fn exhausted(&self) -> Vec<u32> {
        self.singular.clone().unwrap_or_default()
    }

    fn subtract(&self, from: &Side, to: &Side, weight: ComplexDouble, x: &[ComplexDouble], rest: &mut [ComplexDouble]) {
        let mut t = ComplexDouble::ZERO;
        for (i, negative) in from.terms() {
            let value = x[i as usize];
            t = if negative { t.minus(value) } else { t.plus(value) };
        }
        let p = t.times(weight);
        for (i, negative) in to.terms() {
            if let Some(place) = rest.get_mut(i as usize) {
                *place = if negative { place.plus(p) } else { place.minus(p) };
            }
        }
    }

    fn refine(
        &self,
        start: Vec<ComplexDouble>,
        correction: impl Fn(&[ComplexDouble]) -> Vec<ComplexDouble>,
    ) -> Refined {
        let size_of = |v: &[ComplexDouble]| v.iter().map(|z| z.magnitude()).sum::<f64>();
        let mut x = start;
        let mut steps: Vec<Vec<ComplexDouble>> = Vec::new();
        for _ in 0..CORRECTIONS {
            let mut step = correction(&x);
            step.resize(x.len(), ComplexDouble::ZERO);
            for (x, d) in x.iter_mut().zip(&step) {
                *x = x.plus(*d);
            }
            let shrinks = steps.last().is_none_or(|s| size_of(&step) < 1e-3 * size_of(s));
            let stalled = steps.len() >= 2 && !shrinks;
            steps.push(step);
            if stalled {
                break;
            }
        }
        let last = steps.pop().unwrap_or_default();
        let before = steps.pop().unwrap_or_default();
        Refined { x, last, before, behind: Vec::new() }
    }

    fn solve(&self, mut right: Vec<ComplexDouble>) -> Vec<ComplexDouble> {
        let mut x = vec![ComplexDouble::ZERO; self.size];
        let at = |slot: u32| self.store[slot as usize];
        for block in &self.steps.blocks {
            for &(i, j, slot) in &block.couplings {
                right[i as usize] = right[i as usize].less_product(at(slot), x[j as usize]);
            }
            for step in &block.steps {
                let own = right[step.row as usize];
                for (i, slot, _) in &step.lower {
                    right[*i as usize] = right[*i as usize].less_product(at(*slot), own);
                }
            }
            for step in block.steps.iter().rev() {
                let mut sum = right[step.row as usize];
                for &(j, slot) in &step.upper {
                    sum = sum.less_product(at(slot), x[j as usize]);
                }
                x[step.unknown as usize] = sum.quotient(at(step.slot));
            }
        }
        x
    }

    fn solve_transposed(&self, mut right: Vec<ComplexDouble>) -> Vec<ComplexDouble> {
        let mut y = vec![ComplexDouble::ZERO; self.size];
        let at = |slot: u32| self.store[slot as usize];
        for block in self.steps.blocks.iter().rev() {
            for step in &block.steps {
                let own = right[step.unknown as usize].quotient(at(step.slot));
                y[step.row as usize] = own;
                for &(j, slot) in &step.upper {
                    right[j as usize] = right[j as usize].less_product(at(slot), own);
                }
            }
            for step in block.steps.iter().rev() {
                let mut sum = y[step.row as usize];
                for (i, slot, _) in &step.lower {
                    sum = sum.less_product(at(*slot), y[*i as usize]);
                }
                y[step.row as usize] = sum;
            }
            for &(i, j, slot) in &block.couplings {
                right[j as usize] = right[j as usize].less_product(at(slot), y[i as usize]);
            }
        }
        y
    }

    /// The functional of a refined solution, or the reason why it is not known.
    pub fn read(&self, refined: &Refined, terms: &[(u32, f64)], drive: f64) -> Result<Complex64, Unsure> {
        let sum = |v: &[ComplexDouble]| {
            terms.iter().fold(ComplexDouble::ZERO, |sum, &(i, w)| sum.plus(v[i as usize].scaled(Double::new(w))))
        };
        let sizes =
            |v: &[ComplexDouble]| -> f64 { terms.iter().map(|&(i, w)| w.abs() * v[i as usize].magnitude()).sum() };
        let hidden: f64 = terms.iter().filter_map(|&(i, w)| Some(w.abs() * self.hidden(refined, i)?)).sum();
        let reading = Reading {
            value: sum(&refined.x).value(),
            terms: sizes(&refined.x) + hidden,
            before: sum(&refined.before).magnitude(),
            last: sum(&refined.last).magnitude(),
            last_terms: sizes(&refined.last),
            drive,
        };
        reading.refined().ok_or_else(|| match &self.singular {
            Some(unknowns) => Unsure::Singular { unknowns: unknowns.clone() },
            None => Unsure::Unsettled { estimate: reading.estimate() },
        })
    }

    fn hidden(&self, refined: &Refined, column: u32) -> Option<f64> {
        refined.behind.get((column as usize).checked_sub(self.size)?).copied()
    }
}
