//! Questions in the numberings that the solver works with.

use num_complex::Complex64;

use crate::excitation::{Excitation, Functional, Injection};
use crate::pencil::Column;
use crate::program::Program;

/// A functional in the numbering of the pencil and in that of the tape.
pub(crate) struct Wanted {
    pub plain: Vec<(u32, f64)>,
    pub moved: Vec<(u32, f64)>,
}

/// One right-hand side with all that is wanted of its solution.
pub(crate) struct Question {
    /// Sources in equations; or, for an adjoint, weights of unknowns and givens.
    pub plain: Vec<Complex64>,
    /// The same in the numbering of the tape.
    pub moved: Vec<Complex64>,
    pub givens: Vec<Complex64>,
    pub adjoint: bool,
    pub wanted: Vec<Wanted>,
    /// The largest modulus among sources and givens, or among weights.
    pub drive: f64,
    pub finite: bool,
}

impl Question {
    /// The solution for an excitation.
    pub fn forward(program: &Program, excitation: &Excitation, wanted: &[Functional]) -> Question {
        let mut right = vec![Complex64::new(0.0, 0.0); program.size()];
        for &(equation, value) in &excitation.equations {
            right[equation as usize] += value;
        }
        let count = program.columns() - program.size();
        assert!(excitation.givens.len() <= count);
        let mut givens = excitation.givens.clone();
        givens.resize(count, Complex64::new(0.0, 0.0));
        let terms = |f: &Functional| f.terms.iter().map(|&(c, w)| (place(program, c), w)).collect();
        let driving = || right.iter().chain(&givens);
        Question {
            drive: driving().map(|z| z.norm()).fold(0.0, f64::max),
            finite: driving().all(|z| z.is_finite()),
            moved: permuted(&right, &program.tape.row),
            wanted: wanted.iter().map(|f| Wanted::new(terms(f), &program.tape.column)).collect(),
            adjoint: false,
            plain: right,
            givens,
        }
    }

    /// The response of a functional to injections.
    pub fn adjoint(program: &Program, functional: &Functional, injections: &[Injection]) -> Question {
        let mut weights = vec![Complex64::new(0.0, 0.0); program.columns()];
        for &(column, weight) in &functional.terms {
            weights[place(program, column) as usize].re += weight;
        }
        let terms = |i: &Injection| {
            assert!(i.equations.iter().all(|e| (e.0 as usize) < program.size()));
            let givens = i.givens.iter().map(|&(g, w)| (place(program, Column::Given(g)), w));
            i.equations.iter().copied().chain(givens).collect()
        };
        Question {
            drive: weights.iter().map(|z| z.norm()).fold(0.0, f64::max),
            finite: weights.iter().all(|z| z.is_finite()),
            moved: permuted(&weights, &program.tape.column),
            wanted: injections.iter().map(|i| Wanted::new(terms(i), &program.tape.row)).collect(),
            adjoint: true,
            plain: weights,
            givens: Vec::new(),
        }
    }
}

/// The place of a column among unknowns and givens.
fn place(program: &Program, column: Column) -> u32 {
    let size = program.size() as u32;
    match column {
        Column::Unknown(j) => {
            assert!(j < size);
            j
        }
        Column::Given(k) => {
            assert!(k < program.pencil.givens());
            size + k
        }
    }
}

/// `values` moved to the places that `to` gives; what lies beyond `to` keeps its place.
fn permuted(values: &[Complex64], to: &[u32]) -> Vec<Complex64> {
    let mut moved = values.to_vec();
    for (value, &place) in values.iter().zip(to) {
        moved[place as usize] = *value;
    }
    moved
}

impl Wanted {
    fn new(plain: Vec<(u32, f64)>, to: &[u32]) -> Wanted {
        let place = |i: u32| to.get(i as usize).copied().unwrap_or(i);
        Wanted { moved: plain.iter().map(|&(i, w)| (place(i), w)).collect(), plain }
    }
}
