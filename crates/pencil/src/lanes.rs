//! Eight complex numbers side by side, and the replay of a [`Tape`] over them.
//!
//! Every function here is inlined into the caller that the run-time dispatch compiled for the machine's vectors. Nothing
//! is contracted: each lane gets the same bits on every machine and beside whatever other lanes.

// Loops over lanes are written by index: that is the form that becomes vector instructions.
#![allow(clippy::needless_range_loop)]

use crate::tape::Tape;

/// The number of lanes in a group.
pub(crate) const WIDTH: usize = 8;
/// One real number a lane.
pub(crate) type Reals = [f64; WIDTH];

/// One complex number a lane.
#[derive(Clone, Copy, Debug)]
#[repr(C, align(64))]
pub(crate) struct Cell {
    pub re: Reals,
    pub im: Reals,
}

impl Cell {
    pub const ZERO: Cell = Cell { re: [0.0; WIDTH], im: [0.0; WIDTH] };

    pub fn spread(value: num_complex::Complex64) -> Cell {
        Cell { re: [value.re; WIDTH], im: [value.im; WIDTH] }
    }

    #[inline(always)]
    pub fn subtract_product(&mut self, a: &Cell, b: &Cell) {
        for k in 0..WIDTH {
            self.re[k] -= a.re[k] * b.re[k] - a.im[k] * b.im[k];
            self.im[k] -= a.re[k] * b.im[k] + a.im[k] * b.re[k];
        }
    }

    #[inline(always)]
    fn product(a: &Cell, b: &Cell) -> Cell {
        let mut result = Cell::ZERO;
        for k in 0..WIDTH {
            result.re[k] = a.re[k] * b.re[k] - a.im[k] * b.im[k];
            result.im[k] = a.re[k] * b.im[k] + a.im[k] * b.re[k];
        }
        result
    }

    /// One over the number. It is not finite where the squared modulus leaves the exponent range; the check that follows
    /// every solution sees that.
    #[inline(always)]
    fn inverse(&self) -> Cell {
        let mut result = Cell::ZERO;
        for k in 0..WIDTH {
            let scale = 1.0 / (self.re[k] * self.re[k] + self.im[k] * self.im[k]);
            result.re[k] = self.re[k] * scale;
            result.im[k] = -self.im[k] * scale;
        }
        result
    }
}

/// Factors in place: pivots become their inverses, entries below them are divided by them.
#[inline(always)]
pub(crate) fn factor(tape: &Tape, store: &mut [Cell]) {
    let mut targets = tape.targets.iter();
    for step in &tape.steps {
        let inverse = store[step.slot as usize].inverse();
        store[step.slot as usize] = inverse;
        let upper = &tape.upper[step.upper.0 as usize..step.upper.1 as usize];
        for below in &tape.lower[step.lower.0 as usize..step.lower.1 as usize] {
            let multiplier = Cell::product(&store[below.slot as usize], &inverse);
            store[below.slot as usize] = multiplier;
            for (above, &target) in upper.iter().zip(targets.by_ref()) {
                let above = store[above.slot as usize];
                store[target as usize].subtract_product(&multiplier, &above);
            }
        }
    }
}

/// Solves `A x = right` with the factors; `right` is used up.
#[inline(always)]
pub(crate) fn solve(tape: &Tape, store: &[Cell], right: &mut [Cell], x: &mut [Cell]) {
    for block in &tape.blocks {
        for &(row, unknown, slot) in &tape.couplings[block.couplings.clone()] {
            right[row as usize].subtract_product(&store[slot as usize], &x[unknown as usize]);
        }
        for q in block.steps.clone() {
            let step = tape.steps[q];
            let own = right[q];
            for below in &tape.lower[step.lower.0 as usize..step.lower.1 as usize] {
                right[below.index as usize].subtract_product(&store[below.slot as usize], &own);
            }
        }
        for q in block.steps.clone().rev() {
            let step = tape.steps[q];
            let mut sum = right[q];
            for above in &tape.upper[step.upper.0 as usize..step.upper.1 as usize] {
                sum.subtract_product(&store[above.slot as usize], &x[above.index as usize]);
            }
            x[q] = Cell::product(&sum, &store[step.slot as usize]);
        }
    }
}

/// Solves `Aᵀ y = right` with the factors of `A`; `right` (one number an unknown) is used up.
#[inline(always)]
pub(crate) fn solve_transposed(tape: &Tape, store: &[Cell], right: &mut [Cell], y: &mut [Cell]) {
    for block in tape.blocks.iter().rev() {
        for q in block.steps.clone() {
            let step = tape.steps[q];
            let own = Cell::product(&right[q], &store[step.slot as usize]);
            y[q] = own;
            for above in &tape.upper[step.upper.0 as usize..step.upper.1 as usize] {
                right[above.index as usize].subtract_product(&store[above.slot as usize], &own);
            }
        }
        for q in block.steps.clone().rev() {
            let step = tape.steps[q];
            let mut sum = y[q];
            for below in &tape.lower[step.lower.0 as usize..step.lower.1 as usize] {
                sum.subtract_product(&store[below.slot as usize], &y[below.index as usize]);
            }
            y[q] = sum;
        }
        for &(row, unknown, slot) in &tape.couplings[block.couplings.clone()] {
            right[unknown as usize].subtract_product(&store[slot as usize], &y[row as usize]);
        }
    }
}
