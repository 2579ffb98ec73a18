//! Questions to a solved system, and the reasons for which one stays unanswered.

use num_complex::Complex64;

use crate::pencil::Column;

/// What drives the system: sources in equations, and the quantities of the given columns.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Excitation {
    /// Right-hand sides: equation and value. An equation named twice has the sum.
    pub equations: Vec<(u32, Complex64)>,
    /// The value of each given column, in order; those beyond the list's end are 0.
    pub givens: Vec<Complex64>,
}

impl Excitation {
    /// A source of 1 in one equation.
    pub fn equation(equation: u32) -> Self {
        Excitation { equations: vec![(equation, Complex64::new(1.0, 0.0))], givens: Vec::new() }
    }

    /// One given column at 1, the others at 0.
    pub fn given(given: u32) -> Self {
        let mut givens = vec![Complex64::new(0.0, 0.0); given as usize + 1];
        givens[given as usize] = Complex64::new(1.0, 0.0);
        Excitation { equations: Vec::new(), givens }
    }
}

/// One point to solve at.
#[derive(Clone, Copy, Debug)]
pub struct Lane<'a> {
    /// The complex frequency in rad/s: usually `jω`; 0 is DC.
    pub s: Complex64,
    /// The value of each parameter. Lanes that share one slice (the same address) are the fastest.
    pub values: &'a [f64],
}

/// A linear functional `Σ weight · column` of the solution and of the givens.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Functional {
    /// The columns with their weights.
    pub terms: Vec<(Column, f64)>,
}

impl Functional {
    /// One unknown.
    pub fn unknown(unknown: u32) -> Self {
        Functional { terms: vec![(Column::Unknown(unknown), 1.0)] }
    }

    /// The difference of two columns, which keeps its digits however close they are.
    pub fn difference(plus: Column, minus: Column) -> Self {
        Functional { terms: vec![(plus, 1.0), (minus, -1.0)] }
    }
}

/// A unit source whose effect an adjoint solution tells: in equations with weights, and in given columns with weights.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Injection {
    /// Equations with the weight of the source on their right-hand side.
    pub equations: Vec<(u32, f64)>,
    /// Given columns with their weight.
    pub givens: Vec<(u32, f64)>,
}

impl Injection {
    /// A source of 1 in one equation.
    pub fn equation(equation: u32) -> Self {
        Injection { equations: vec![(equation, 1.0)], givens: Vec::new() }
    }

    /// A given column at 1.
    pub fn given(given: u32) -> Self {
        Injection { equations: Vec::new(), givens: vec![(given, 1.0)] }
    }
}

/// Why an answer is not known.
#[derive(Clone, Debug, PartialEq)]
pub enum Unsure {
    /// The system has no unique solution at these values, or none that 106 bits could tell from none. `unknowns` are those
    /// that elimination was left with.
    Singular {
        /// Unknowns without a pivot.
        unknowns: Vec<u32>,
    },
    /// A parameter, the frequency or the excitation is not a finite number, or a [`crate::Value::Reciprocal`] parameter is 0.
    NotFinite,
    /// The corrections did not settle.
    Unsettled {
        /// The relative error as far as the last correction tells it; infinite where not one digit is known.
        estimate: f64,
    },
    /// The system has more dynamic stamps in one block than are worked through: see [`crate::spectrum::MOST`].
    TooLarge,
}

impl std::fmt::Display for Unsure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Unsure::Singular { unknowns } => {
                write!(f, "no unique solution at these values ({} unknowns undetermined)", unknowns.len())
            }
            Unsure::TooLarge => write!(f, "more than {} reactances act on one another", crate::spectrum::MOST),
            Unsure::NotFinite => write!(f, "a value is not a finite number"),
            Unsure::Unsettled { estimate } => {
                write!(f, "the solution is known only to a relative {estimate:.0e}")
            }
        }
    }
}

impl std::error::Error for Unsure {}
