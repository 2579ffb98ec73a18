//! The topology of a system `(G + sC) x = b`: what stands where, and which parameter gives it its value.

use std::hash::{Hash, Hasher};

/// A number that the topology leaves open; each lane brings its value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Parameter(pub u32);

/// Where a stamp takes its value from.
#[derive(Clone, Copy, Debug)]
pub enum Value {
    /// A number fixed by the topology. It must be finite.
    Constant(f64),
    /// The value of a parameter.
    Parameter(Parameter),
    /// One over the value of a parameter, carried to twice the working precision, so that a conductance loses nothing
    /// against the resistance that it was written as. The parameter must not be 0.
    Reciprocal(Parameter),
}

impl Value {
    /// The parameter behind the value, if there is one.
    pub fn parameter(&self) -> Option<Parameter> {
        match *self {
            Value::Constant(_) => None,
            Value::Parameter(p) | Value::Reciprocal(p) => Some(p),
        }
    }
}

impl PartialEq for Value {
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Value::Constant(a), Value::Constant(b)) => a.to_bits() == b.to_bits(),
            (Value::Parameter(a), Value::Parameter(b)) => a == b,
            (Value::Reciprocal(a), Value::Reciprocal(b)) => a == b,
            _ => false,
        }
    }
}
impl Eq for Value {}
impl Hash for Value {
    fn hash<H: Hasher>(&self, state: &mut H) {
        match self {
            Value::Constant(c) => (0u8, c.to_bits()).hash(state),
            Value::Parameter(p) => (1u8, p).hash(state),
            Value::Reciprocal(p) => (2u8, p).hash(state),
        }
    }
}

/// The matrix that a stamp belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Domain {
    /// Part of `G`: the same at every frequency.
    Static,
    /// Part of `C`: multiplied by `s`.
    Dynamic,
}

/// A column of the system.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Column {
    /// A quantity that the solution finds.
    Unknown(u32),
    /// A quantity that the excitation supplies.
    Given(u32),
}

/// One rank-1 piece of the system: `value · u vᵀ`, times `s` where it is dynamic.
#[derive(Clone, Debug)]
pub struct Stamp {
    /// Where the value comes from.
    pub value: Value,
    /// `G` or `sC`.
    pub domain: Domain,
    /// `u`: equations and their coefficients.
    pub rows: Vec<(u32, f64)>,
    /// `v`: columns and their coefficients.
    pub columns: Vec<(Column, f64)>,
}

impl PartialEq for Stamp {
    fn eq(&self, other: &Self) -> bool {
        let same = |a: &f64, b: &f64| a.to_bits() == b.to_bits();
        self.value == other.value
            && self.domain == other.domain
            && self.rows.len() == other.rows.len()
            && self.columns.len() == other.columns.len()
            && self.rows.iter().zip(&other.rows).all(|(a, b)| a.0 == b.0 && same(&a.1, &b.1))
            && self.columns.iter().zip(&other.columns).all(|(a, b)| a.0 == b.0 && same(&a.1, &b.1))
    }
}
impl Eq for Stamp {}
impl Hash for Stamp {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.value.hash(state);
        self.domain.hash(state);
        self.rows.len().hash(state);
        for (row, c) in &self.rows {
            (row, c.to_bits()).hash(state);
        }
        self.columns.len().hash(state);
        for (column, c) in &self.columns {
            (column, c.to_bits()).hash(state);
        }
    }
}

/// Collects stamps into a [`Pencil`].
#[derive(Clone, Debug, Default)]
pub struct Builder {
    unknowns: u32,
    givens: u32,
    parameters: u32,
    stamps: Vec<Stamp>,
}

impl Builder {
    /// A system of `unknowns` equations in as many unknowns, with `givens` further columns whose quantities the
    /// excitation supplies.
    pub fn new(unknowns: u32, givens: u32) -> Self {
        Builder { unknowns, givens, ..Builder::default() }
    }

    /// A new parameter. Parameters are numbered 0, 1, 2 … in the order of these calls.
    pub fn parameter(&mut self) -> Parameter {
        self.parameters += 1;
        Parameter(self.parameters - 1)
    }

    /// Adds `value · u vᵀ` to `G`, or to `C` where `domain` is dynamic. `rows` is `u` (equations with coefficients),
    /// `columns` is `v`. A row or column named twice counts with the sum of its coefficients; a coefficient of 0 is
    /// left out; a stamp with nothing left is no stamp.
    ///
    /// # Panics
    /// If an index is out of range, or a coefficient or constant is not finite: that is a mistake of the caller's code,
    /// never of a circuit.
    pub fn stamp(&mut self, value: Value, domain: Domain, rows: &[(u32, f64)], columns: &[(Column, f64)]) {
        let rows = gathered(rows);
        let columns = gathered(columns);
        assert!(rows.iter().all(|r| r.0 < self.unknowns && r.1.is_finite()));
        assert!(columns.iter().all(|&(c, k)| k.is_finite()
            && match c {
                Column::Unknown(j) => j < self.unknowns,
                Column::Given(j) => j < self.givens,
            }));
        match value {
            Value::Constant(c) => assert!(c.is_finite()),
            Value::Parameter(p) | Value::Reciprocal(p) => assert!(p.0 < self.parameters),
        }
        if rows.is_empty() || columns.is_empty() || value == Value::Constant(0.0) {
            return;
        }
        self.stamps.push(Stamp { value, domain, rows, columns });
    }

    /// The finished topology.
    pub fn finish(self) -> Pencil {
        Pencil { unknowns: self.unknowns, givens: self.givens, parameters: self.parameters, stamps: self.stamps }
    }
}

/// The same index only once, sorted, without zeros.
fn gathered<I: Copy + Ord>(terms: &[(I, f64)]) -> Vec<(I, f64)> {
    let mut terms = terms.to_vec();
    terms.sort_by_key(|t| t.0);
    terms.dedup_by(|later, kept| {
        let same = later.0 == kept.0;
        if same {
            kept.1 += later.1;
        }
        same
    });
    terms.retain(|t| t.1 != 0.0);
    terms
}

/// The topology of a square system `(G + sC) x = b` with further given columns. It holds no values of parameters, so it
/// serves as a key for everything that depends on topology alone.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Pencil {
    unknowns: u32,
    givens: u32,
    parameters: u32,
    stamps: Vec<Stamp>,
}

impl Pencil {
    /// The number of unknowns, and of equations.
    pub fn unknowns(&self) -> u32 {
        self.unknowns
    }

    /// The number of given columns.
    pub fn givens(&self) -> u32 {
        self.givens
    }

    /// The number of parameters: the length of [`crate::Lane::values`].
    pub fn parameters(&self) -> u32 {
        self.parameters
    }

    /// The stamps, in the order of building.
    pub fn stamps(&self) -> &[Stamp] {
        &self.stamps
    }

    /// The same system without the stamps of parameters that are identically 0: a finer structure.
    pub fn without(&self, zero: &[Parameter]) -> Pencil {
        let keeps = |s: &&Stamp| !matches!(s.value, Value::Parameter(p) if zero.contains(&p));
        Pencil { stamps: self.stamps.iter().filter(keeps).cloned().collect(), ..*self }
    }

    /// The same unknowns, givens and parameters with other stamps.
    pub(crate) fn with_stamps(unknowns: u32, givens: u32, parameters: u32, stamps: Vec<Stamp>) -> Pencil {
        Pencil { unknowns, givens, parameters, stamps }
    }

    /// The entries of `G` and `C` at the given parameter values, each (equation, column, value), summed where several
    /// stamps meet, in working precision. For eigenvalue routines and for looking at; the solver itself works from the
    /// stamps.
    pub fn entries(&self, values: &[f64]) -> (Vec<Entry>, Vec<Entry>) {
        let mut parts = (Vec::new(), Vec::new());
        for stamp in &self.stamps {
            let value = match stamp.value {
                Value::Constant(c) => c,
                Value::Parameter(p) => values[p.0 as usize],
                Value::Reciprocal(p) => 1.0 / values[p.0 as usize],
            };
            let list = match stamp.domain {
                Domain::Static => &mut parts.0,
                Domain::Dynamic => &mut parts.1,
            };
            for &(row, u) in &stamp.rows {
                for &(column, v) in &stamp.columns {
                    list.push((row, column, value * u * v));
                }
            }
        }
        (summed(parts.0), summed(parts.1))
    }
}

/// An entry of a matrix: equation, column, value.
pub type Entry = (u32, Column, f64);

fn summed(mut entries: Vec<Entry>) -> Vec<Entry> {
    entries.sort_by_key(|e| (e.0, e.1));
    entries.dedup_by(|later, kept| {
        let same = (later.0, later.1) == (kept.0, kept.1);
        if same {
            kept.2 += later.2;
        }
        same
    });
    entries
}
