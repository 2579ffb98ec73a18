//! Functionals of a solution in every lane of a group.

// Loops over lanes are written by index: that is the form that becomes vector instructions.
#![allow(clippy::needless_range_loop)]

use num_complex::Complex64;

use crate::double::{two_product, two_sum};
use crate::group::Solution;
use crate::judge::{FIRST, Reading, SETTLED, TERMS};
use crate::lanes::{Cell, Reals, WIDTH};
use crate::residual::add;

/// A functional: value, and what the judge needs.
#[derive(Clone, Copy)]
pub(crate) struct Sums {
    value: Cell,
    terms: Reals,
    first: Cell,
    second: Cell,
    second_terms: Reals,
}

impl Sums {
    const ZERO: Sums = Sums {
        value: Cell::ZERO,
        terms: [0.0; WIDTH],
        first: Cell::ZERO,
        second: Cell::ZERO,
        second_terms: [0.0; WIDTH],
    };

    /// The lanes in which [`Reading::settled`] finds the value settled, by the same comparisons.
    #[inline(always)]
    pub fn settled(&self) -> [bool; WIDTH] {
        let mut settled = [false; WIDTH];
        for k in 0..WIDTH {
            let value = self.value.re[k].abs() + self.value.im[k].abs();
            let before = self.first.re[k].abs() + self.first.im[k].abs();
            let last = self.second.re[k].abs() + self.second.im[k].abs();
            settled[k] = (value < f64::INFINITY)
                & (last <= SETTLED * value)
                & (before <= FIRST * value)
                & (self.second_terms[k] <= TERMS * self.terms[k]);
        }
        settled
    }

    /// The value in one lane, without negative zeros.
    #[inline(always)]
    pub fn value(&self, lane: usize) -> Complex64 {
        Complex64::new(self.value.re[lane] + 0.0, self.value.im[lane] + 0.0)
    }

    pub fn reading(&self, lane: usize, drive: f64) -> Reading {
        Reading {
            value: Complex64::new(self.value.re[lane], self.value.im[lane]),
            terms: self.terms[lane],
            before: self.first.re[lane].abs() + self.first.im[lane].abs(),
            last: self.second.re[lane].abs() + self.second.im[lane].abs(),
            last_terms: self.second_terms[lane],
            drive,
        }
    }
}

/// Evaluates `Σ weight · column` of a solution.
#[inline(always)]
pub(crate) fn evaluate<const FUSED: bool>(solution: &Solution, size: usize, terms: &[(u32, f64)]) -> Sums {
    let mut sums = Sums::ZERO;
    let (mut high, mut low) = (Cell::ZERO, Cell::ZERO);
    let plain = |i: u32| (i as usize) < size;
    match *terms {
        [(i, 1.0)] if plain(i) => {
            let i = i as usize;
            high = solution.base[i];
            (sums.first, sums.second) = (solution.first[i], solution.second[i]);
            for k in 0..WIDTH {
                sums.terms[k] = high.re[k].abs() + high.im[k].abs();
                sums.second_terms[k] = sums.second.re[k].abs() + sums.second.im[k].abs();
            }
        }
        [(i, 1.0), (j, -1.0)] if plain(i) && plain(j) => {
            let (i, j) = (i as usize, j as usize);
            let (a, b) = (&solution.base[i], &solution.base[j]);
            let (first, other_first) = (&solution.first[i], &solution.first[j]);
            let (second, other_second) = (&solution.second[i], &solution.second[j]);
            for k in 0..WIDTH {
                (high.re[k], low.re[k]) = two_sum(a.re[k], -b.re[k]);
                (high.im[k], low.im[k]) = two_sum(a.im[k], -b.im[k]);
                sums.first.re[k] = first.re[k] - other_first.re[k];
                sums.first.im[k] = first.im[k] - other_first.im[k];
                sums.second.re[k] = second.re[k] - other_second.re[k];
                sums.second.im[k] = second.im[k] - other_second.im[k];
                sums.terms[k] = a.re[k].abs() + a.im[k].abs() + b.re[k].abs() + b.im[k].abs();
                sums.second_terms[k] =
                    second.re[k].abs() + second.im[k].abs() + other_second.re[k].abs() + other_second.im[k].abs();
            }
        }
        _ => general::<FUSED>(solution, size, terms, &mut sums, &mut high, &mut low),
    }
    for k in 0..WIDTH {
        sums.value.re[k] = high.re[k] + (low.re[k] + (sums.first.re[k] + sums.second.re[k]));
        sums.value.im[k] = high.im[k] + (low.im[k] + (sums.first.im[k] + sums.second.im[k]));
    }
    sums
}

#[inline(always)]
fn general<const FUSED: bool>(
    solution: &Solution,
    size: usize,
    terms: &[(u32, f64)],
    sums: &mut Sums,
    high: &mut Cell,
    low: &mut Cell,
) {
    for &(i, weight) in terms {
        let i = i as usize;
        let (base, base_low) = (&solution.base[i], &solution.base_low[i]);
        let (first, second) = (&solution.first[i], &solution.second[i]);
        let (mut p, mut q) = (Cell::ZERO, Cell::ZERO);
        let size_of = weight.abs();
        for k in 0..WIDTH {
            (p.re[k], q.re[k]) = two_product::<FUSED>(weight, base.re[k]);
            (p.im[k], q.im[k]) = two_product::<FUSED>(weight, base.im[k]);
            q.re[k] += weight * base_low.re[k];
            q.im[k] += weight * base_low.im[k];
            sums.first.re[k] += weight * first.re[k];
            sums.first.im[k] += weight * first.im[k];
            sums.second.re[k] += weight * second.re[k];
            sums.second.im[k] += weight * second.im[k];
            sums.terms[k] += size_of * (base.re[k].abs() + base.im[k].abs());
            sums.second_terms[k] += size_of * (second.re[k].abs() + second.im[k].abs());
        }
        if let Some(given) = i.checked_sub(size) {
            for (terms, behind) in sums.terms.iter_mut().zip(&solution.behind[given]) {
                *terms += size_of * behind;
            }
        }
        add(high, low, &p, &q);
    }
}
