//! One group of lanes: assemble, factor, solve, correct twice, and read the functionals.

// Loops over lanes are written by index: that is the form that becomes vector instructions.
#![allow(clippy::needless_range_loop)]

use num_complex::Complex64;

use crate::atoms::Kind;
use crate::lanes::{Cell, Reals, WIDTH, factor, solve, solve_transposed};
use crate::loaded::{Frequencies, Loaded, Spread, Timed, assemble, time};
use crate::program::Program;
use crate::residual::{Operands, subtract_exact, subtract_plain};

/// Working memory of a group. `wide` arrays have one cell a column: unknowns (transposed: equations), then givens.
#[derive(Default)]
pub(crate) struct Scratch {
    store: Vec<Cell>,
    timed: Vec<Timed>,
    right: Vec<Cell>,
    high: Vec<Cell>,
    low: Vec<Cell>,
    /// What the solution left over before its last correction.
    kept: Vec<Cell>,
    pub solution: Solution,
}

/// A solution as the sum of its first computation and two corrections.
#[derive(Default)]
pub(crate) struct Solution {
    pub base: Vec<Cell>,
    /// What the givens' responses have beyond `base` (transposed); 0 elsewhere.
    pub base_low: Vec<Cell>,
    pub first: Vec<Cell>,
    pub second: Vec<Cell>,
    /// The sum of the moduli of the terms behind each given of a transposed solution.
    pub behind: Vec<Reals>,
}

impl Scratch {
    /// Takes the form that a program needs. What other programs left is kept in place: each way through a group writes what it reads.
    pub fn fit(&mut self, program: &Program) {
        let wide = program.columns();
        let Scratch { store, timed, right, high, low, kept, solution } = self;
        let Solution { base, base_low, first, second, behind } = solution;
        // The imaginary axis leaves the real parts as they are.
        timed.clear();
        store.resize(program.tape.slots, Cell::ZERO);
        timed.resize(program.atoms.len() - program.dynamic, Timed::ZERO);
        for cells in [right, high, low, kept, base, base_low, first, second] {
            cells.resize(wide, Cell::ZERO);
        }
        behind.resize(wide - program.size(), [0.0; WIDTH]);
    }
}

/// What a group solves, in the numbering of the tape.
pub(crate) enum Drive<'a> {
    /// Sources in equations, and givens.
    Forward { right: &'a [Complex64], givens: &'a [Complex64] },
    /// Weights of a functional over unknowns and givens.
    Adjoint { weights: &'a [Complex64] },
}

/// Factors the system of a group.
#[inline(always)]
pub(crate) fn prepare<const FUSED: bool, T: Spread>(
    program: &Program,
    loaded: &Loaded<T>,
    s: &Frequencies,
    scratch: &mut Scratch,
) {
    time::<FUSED, T>(&loaded.value[program.dynamic..], s, &mut scratch.timed);
    assemble(&loaded.entry, &program.tape.slot_of, s, &mut scratch.store);
    factor(&program.tape, &mut scratch.store);
}

/// Solves with the factors and corrects twice. The first residual has twice the working precision; the second is the
/// first less the matrix times the first correction, which needs no more than the working precision since the correction
/// is small.
#[inline(always)]
pub(crate) fn run<const FUSED: bool, T: Spread>(
    program: &Program,
    loaded: &Loaded<T>,
    imaginary: bool,
    drive: &Drive,
    scratch: &mut Scratch,
) {
    let Scratch { store, timed, right, high, low, kept, solution } = scratch;
    let operands =
        Operands { atoms: &program.atoms, values: &loaded.value, dynamic: program.dynamic, timed, imaginary };
    let (tape, size) = (&program.tape, program.size());
    let all = || 0..program.atoms.len();
    let touching = || program.given_atoms.iter().map(|&a| a as usize);
    let Solution { base, base_low, first, second, behind } = solution;
    match drive {
        Drive::Forward { right: sources, givens } => {
            for (place, value) in right.iter_mut().zip(*sources) {
                *place = Cell::spread(*value);
            }
            base[..size].fill(Cell::ZERO);
            for (place, value) in base[size..].iter_mut().zip(*givens) {
                *place = Cell::spread(*value);
            }
            high[..size].copy_from_slice(&right[..size]);
            low.fill(Cell::ZERO);
            base_low.fill(Cell::ZERO);
            behind.fill([0.0; WIDTH]);
            subtract_plain::<false, T>(&operands, touching(), base, right);
            solve(tape, store, right, base);
            subtract_exact::<FUSED, false, T>(&operands, base, high, low);
            collapse(&high[..size], &low[..size], right);
            high[..size].copy_from_slice(&right[..size]);
            solve(tape, store, right, first);
            first[size..].fill(Cell::ZERO);
            subtract_plain::<false, T>(&operands, all(), first, high);
            kept.copy_from_slice(high);
            solve(tape, store, high, second);
            second[size..].fill(Cell::ZERO);
        }
        Drive::Adjoint { weights } => {
            for (place, weight) in high.iter_mut().zip(*weights) {
                *place = Cell::spread(*weight);
            }
            right.copy_from_slice(high);
            low.fill(Cell::ZERO);
            base_low.fill(Cell::ZERO);
            solve_transposed(tape, store, right, base);
            behind.fill([0.0; WIDTH]);
            for a in touching() {
                terms_behind(&operands, a, size, base, behind);
            }
            subtract_exact::<FUSED, true, T>(&operands, base, high, low);
            collapse(&high[..size], &low[..size], right);
            // A given's column of the residual is the response to that given.
            base[size..].copy_from_slice(&high[size..]);
            base_low[size..].copy_from_slice(&low[size..]);
            high[..size].copy_from_slice(&right[..size]);
            high[size..].fill(Cell::ZERO);
            solve_transposed(tape, store, right, first);
            subtract_plain::<true, T>(&operands, all(), first, high);
            first[size..].copy_from_slice(&high[size..]);
            kept.copy_from_slice(high);
            solve_transposed(tape, store, high, second);
            high[size..].fill(Cell::ZERO);
            subtract_plain::<true, T>(&operands, touching(), second, high);
            second[size..].copy_from_slice(&high[size..]);
        }
    }
}

/// Corrects once more; the two corrections before become one. This one is not for accuracy, since the working precision of
/// the residual before stays, but it shows that corrections shrink.
#[inline(always)]
pub(crate) fn run_again<const FUSED: bool, T: Spread>(
    program: &Program,
    loaded: &Loaded<T>,
    imaginary: bool,
    adjoint: bool,
    scratch: &mut Scratch,
) {
    let Scratch { store, timed, high, kept, solution, .. } = scratch;
    let operands =
        Operands { atoms: &program.atoms, values: &loaded.value, dynamic: program.dynamic, timed, imaginary };
    let (tape, size) = (&program.tape, program.size());
    let Solution { first, second, .. } = solution;
    let all = 0..program.atoms.len();
    if adjoint {
        subtract_plain::<true, T>(&operands, all, second, kept);
    } else {
        subtract_plain::<false, T>(&operands, all, second, kept);
    }
    for (first, second) in first.iter_mut().zip(second.iter()) {
        for k in 0..WIDTH {
            first.re[k] += second.re[k];
            first.im[k] += second.im[k];
        }
    }
    if adjoint {
        solve_transposed(tape, store, kept, second);
        high[size..].fill(Cell::ZERO);
        let touching = program.given_atoms.iter().map(|&a| a as usize);
        subtract_plain::<true, T>(&operands, touching, second, high);
        second[size..].copy_from_slice(&high[size..]);
    } else {
        solve(tape, store, kept, second);
    }
}

#[inline(always)]
fn collapse(high: &[Cell], low: &[Cell], into: &mut [Cell]) {
    for ((high, low), into) in high.iter().zip(low).zip(into) {
        for k in 0..WIDTH {
            into.re[k] = high.re[k] + low.re[k];
            into.im[k] = high.im[k] + low.im[k];
        }
    }
}

#[inline(always)]
fn terms_behind<T: Spread>(operands: &Operands<T>, a: usize, size: usize, y: &[Cell], behind: &mut [Reals]) {
    let atom = &operands.atoms[a];
    let mut through = [0.0; WIDTH];
    for (i, _) in atom.equations.terms() {
        let y = &y[i as usize];
        for k in 0..WIDTH {
            through[k] += y.re[k].abs() + y.im[k].abs();
        }
    }
    match atom.kind {
        Kind::Unit => {}
        Kind::Static => {
            let v = operands.values[a].0.spread();
            (0..WIDTH).for_each(|k| through[k] *= v[k].abs());
        }
        Kind::Dynamic => {
            let v = &operands.timed[a - operands.dynamic].high;
            (0..WIDTH).for_each(|k| through[k] *= v.re[k].abs() + v.im[k].abs());
        }
    }
    for (j, _) in atom.columns.terms() {
        if let Some(given) = (j as usize).checked_sub(size) {
            (0..WIDTH).for_each(|k| behind[given][k] += through[k]);
        }
    }
}
