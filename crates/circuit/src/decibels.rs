//! Reckoning with decibels: a term that is written in them stays in them, as long as that has one meaning.

use notation::tree::Operator;
use num_complex::Complex64;
use quantity::{Dimension, Quantity, Unit};

use crate::expr::Term;

/// A value in decibels, in dBu or in dBV, beside the ratio or the volts that it stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// In its unit.
    pub value: f64,
    /// `dB`, `dBu` or `dBV`.
    pub unit: Unit,
}

impl Level {
    /// Of a figure: `None` unless it is written in decibels.
    pub(crate) fn of(value: f64, unit: Unit) -> Option<Level> {
        matches!(unit, Unit::Decibel | Unit::Dbu | Unit::Dbv).then_some(Level { value, unit })
    }

    /// As a term.
    pub(crate) fn term(self) -> Term {
        let (value, dimension) = Quantity::new(self.value, self.unit).linear();
        Term { value: Complex64::new(value, 0.0), dimension, level: Some(self) }
    }
}

const ADDED: &str =
    "decibels are added to decibels, and to a level in dBu or dBV: beside anything else write the ratio or the volts";
const MULTIPLIED: &str =
    "decibels are multiplied and divided by plain numbers alone: beside anything else write the ratio or the volts";
const BY_ITSELF: &str = "a level in dBu or dBV has no multiple: write the volts, or add decibels to it";
const EXPONENT: &str = "an exponent is a plain number, and this is in decibels";

/// What an operation on terms gives where one of them is in decibels. `None`: what it gives without a thought of decibels: ohms times a
/// ratio are ohms.
///
/// # Errors
/// What is wrong with it, since it could be meant in two ways.
pub(crate) fn operated(op: Operator, x: &Term, y: &Term) -> Option<Result<Term, &'static str>> {
    if x.level.is_none() && y.level.is_none() {
        return None;
    }
    let level = |value: f64, unit: Unit| Some(Ok(Level { value, unit }.term()));
    let plain = |t: &Term| t.dimension == Dimension::NONE && t.level.is_none() && t.value.im == 0.0;
    match (op, x.level, y.level) {
        (Operator::Add | Operator::Subtract, Some(a), Some(b)) => {
            let value = if op == Operator::Add { a.value + b.value } else { a.value - b.value };
            match (a.unit, b.unit, op) {
                (unit, Unit::Decibel, _) | (Unit::Decibel, unit, Operator::Add) => level(value, unit),
                (first, second, Operator::Subtract) if first == second => level(value, Unit::Decibel),
                _ => Some(Err(ADDED)),
            }
        }
        (Operator::Add | Operator::Subtract, ..) => Some(Err(ADDED)),
        (Operator::Parallel, ..) => Some(Err("nothing in decibels lies in parallel: write the ratio or the volts")),
        (Operator::Power, _, Some(_)) => Some(Err(EXPONENT)),
        (Operator::Multiply, Some(a), None) | (Operator::Power, Some(a), None) if plain(y) => match a.unit {
            Unit::Decibel => level(a.value * y.value.re, a.unit),
            // Volts squared are what a power is reckoned from.
            _ if op == Operator::Power => None,
            _ => Some(Err(BY_ITSELF)),
        },
        (Operator::Multiply, None, Some(b)) if plain(x) => match b.unit {
            Unit::Decibel => level(x.value.re * b.value, b.unit),
            _ => Some(Err(BY_ITSELF)),
        },
        (Operator::Divide, Some(a), None) if plain(y) => match a.unit {
            Unit::Decibel => level(a.value / y.value.re, a.unit),
            _ => Some(Err(BY_ITSELF)),
        },
        (Operator::Divide, None, Some(_)) if plain(x) => Some(Err(MULTIPLIED)),
        // Volts times volts, for a power.
        (Operator::Multiply, Some(a), Some(b)) if a.unit != Unit::Decibel && b.unit != Unit::Decibel => None,
        (_, Some(_), Some(_)) => Some(Err(MULTIPLIED)),
        _ => None,
    }
}

/// A term with the other sign: of decibels they are turned over.
pub(crate) fn negated(x: Term) -> Result<Term, &'static str> {
    match x.level {
        None => Ok(Term { value: -x.value, ..x }),
        Some(Level { value, unit: Unit::Decibel }) => Ok(Level { value: -value, unit: Unit::Decibel }.term()),
        Some(_) => Err("a level below 0 dBu is written with its own minus: -6 dBu"),
    }
}

/// A function of a term in decibels. `None`: it is of the number alone.
///
/// # Errors
/// What is wrong with it, since it could be meant in two ways.
pub(crate) fn called(function: &str, x: &Term) -> Option<Result<Term, &'static str>> {
    let Level { value, unit } = x.level?;
    Some(match (function, unit) {
        ("abs", Unit::Decibel) => Ok(Level { value: value.abs(), unit }.term()),
        ("sqrt", Unit::Decibel) => Ok(Level { value: value / 2.0, unit }.term()),
        ("abs" | "sqrt", _) => Err(BY_ITSELF),
        _ => Err("a logarithm or an exponential is of a plain number, and this is in decibels: write the ratio"),
    })
}
