//! Stamps in the form that the solver runs over: unit coefficients only, sorted by kind.

use crate::double::Double;
use crate::order::Pattern;
use crate::pencil::{Column, Domain, Pencil, Value};

/// What multiplies an atom.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Kind {
    /// 1.
    Unit,
    /// A real value.
    Static,
    /// A real value times `s`.
    Dynamic,
}

/// One side of an atom: a sum with coefficients of ±1.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Side {
    /// One index.
    One(u32),
    /// The first less the second.
    Opposite(u32, u32),
    /// Anything else: (index, is negative).
    Many(Vec<(u32, bool)>),
}

impl Side {
    /// The terms: (index, is negative).
    pub fn terms(&self) -> impl Iterator<Item = (u32, bool)> + '_ {
        let (first, second, rest): (_, _, &[(u32, bool)]) = match self {
            Side::One(p) => (Some((*p, false)), None, &[]),
            Side::Opposite(p, q) => (Some((*p, false)), Some((*q, true)), &[]),
            Side::Many(terms) => (None, None, terms),
        };
        first.into_iter().chain(second).chain(rest.iter().copied())
    }
}

/// `value · u vᵀ` with coefficients of ±1 only. Indices of `equations` are equations, those of `columns` are unknowns
/// (below `n`) and givens (from `n` on), all in the numbering of the elimination order.
#[derive(Clone, Debug)]
pub(crate) struct Atom {
    pub kind: Kind,
    /// Where the value comes from; not read for [`Kind::Unit`].
    pub value: Value,
    /// What the coefficients had in common.
    pub factor: Double,
    pub equations: Side,
    pub columns: Side,
}

impl Atom {
    /// The value without `s`, to twice the working precision.
    pub fn evaluate(&self, values: &[f64]) -> Double {
        let value = match self.value {
            Value::Constant(c) => Double::new(c),
            Value::Parameter(p) => Double::new(values[p.0 as usize]),
            Value::Reciprocal(p) => Double::reciprocal(values[p.0 as usize]),
        };
        if self.factor == ONE { value } else { value.times(self.factor) }
    }
}

/// The atoms of a pencil. `row` and `column` give the new numbers of equations and unknowns.
pub(crate) fn atoms(pencil: &Pencil, row: &[u32], column: &[u32]) -> Vec<Atom> {
    let mut atoms = Vec::with_capacity(pencil.stamps().len());
    let unknowns = pencil.unknowns();
    for stamp in pencil.stamps() {
        let rows: Vec<(u32, f64)> = stamp.rows.iter().map(|&(i, u)| (row[i as usize], u)).collect();
        let place = |c: Column| match c {
            Column::Unknown(j) => column[j as usize],
            Column::Given(k) => unknowns + k,
        };
        let columns: Vec<(u32, f64)> = stamp.columns.iter().map(|&(c, v)| (place(c), v)).collect();
        for (u, equations) in sides(&rows) {
            for (v, columns) in sides(&columns) {
                atoms.push(simplified(Atom {
                    kind: if stamp.domain == Domain::Dynamic { Kind::Dynamic } else { Kind::Static },
                    value: stamp.value,
                    factor: Double::product(u, v),
                    equations: equations.clone(),
                    columns,
                }));
            }
        }
    }
    atoms.sort_by(|a, b| (a.kind, &a.equations, &a.columns).cmp(&(b.kind, &b.equations, &b.columns)));
    atoms
}

/// Splits a sum into parts whose coefficients differ in sign only: (common factor, part), the part's first term positive.
fn sides(terms: &[(u32, f64)]) -> Vec<(f64, Side)> {
    let mut rest = terms.to_vec();
    let mut parts = Vec::new();
    while let Some(&(_, first)) = rest.first() {
        let same: Vec<(u32, bool)> =
            rest.iter().filter(|t| t.1.abs() == first.abs()).map(|t| (t.0, t.1 != first)).collect();
        rest.retain(|t| t.1.abs() != first.abs());
        parts.push((
            first,
            match same[..] {
                [(p, _)] => Side::One(p),
                [(p, _), (q, true)] => Side::Opposite(p, q),
                _ => Side::Many(same),
            },
        ));
    }
    parts
}

const ONE: Double = Double { high: 1.0, low: 0.0 };

/// Recognises atoms that need no multiplication.
fn simplified(mut atom: Atom) -> Atom {
    if let Value::Constant(c) = atom.value
        && atom.factor.low == 0.0
    {
        let product = c * atom.factor.high;
        if c.abs() == 1.0 || atom.factor.high.abs() == 1.0 {
            (atom.value, atom.factor) = (Value::Constant(product), ONE);
            if product.abs() == 1.0 && atom.kind == Kind::Static {
                let turned = match (&atom.equations, &atom.columns) {
                    _ if product == 1.0 => Some((atom.equations.clone(), atom.columns.clone())),
                    (&Side::Opposite(p, q), columns) => Some((Side::Opposite(q, p), columns.clone())),
                    (equations, &Side::Opposite(p, q)) => Some((equations.clone(), Side::Opposite(q, p))),
                    _ => None,
                };
                if let Some((equations, columns)) = turned {
                    return Atom { kind: Kind::Unit, value: Value::Constant(1.0), equations, columns, ..atom };
                }
            }
        }
    }
    atom
}

/// An atom's share in an entry of the matrix.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Share {
    pub atom: u32,
    pub slot: u32,
    pub negative: bool,
}

/// The non-zero pattern that the atoms make in the unknown columns, and each atom's shares in it.
pub(crate) fn assembly(atoms: &[Atom], unknowns: u32) -> (Pattern, Vec<Share>) {
    let mut places = Vec::new();
    for (a, atom) in atoms.iter().enumerate() {
        for (i, minus) in atom.equations.terms() {
            for (j, less) in atom.columns.terms() {
                if j < unknowns {
                    places.push(((i, j), a as u32, minus != less));
                }
            }
        }
    }
    places.sort_unstable();
    let mut pattern = Pattern::default();
    let mut shares = Vec::with_capacity(places.len());
    for (entry, atom, negative) in places {
        if pattern.entries.last() != Some(&entry) {
            pattern.entries.push(entry);
        }
        let slot = pattern.entries.len() as u32 - 1;
        shares.push(Share { atom, slot, negative });
    }
    (pattern, shares)
}
