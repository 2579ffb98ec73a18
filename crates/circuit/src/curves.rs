//! `let` names that are curves, at one frequency: each worked out once, however often others name it.

use std::cell::RefCell;

use notation::Name;
use num_complex::Complex64;
use rustc_hash::FxHashMap;

use crate::circuit::{Circuit, Let, LetValue};
use crate::expr::{self, Circle, Failure, PartTerm, Scope, Term, Why};
use crate::worth::{self, Worth};

/// Curves at one frequency, by name.
pub type Values = FxHashMap<Name, Result<Term, Why>>;

/// A curve's value at a complex frequency in radians a second.
pub(crate) fn at(circuit: &Circuit, name: &str, s: Complex64) -> Result<Term, Why> {
    worth::of(&Curves::new(circuit, s), name.into())
}

/// The values of all curves of a circuit at a complex frequency in radians a second.
pub fn all_at(circuit: &Circuit, s: Complex64) -> Values {
    let curves = Curves::new(circuit, s);
    for one in circuit.lets.iter().filter(|l| l.value == LetValue::Curve) {
        let _ = worth::of(&curves, one.name.clone());
    }
    curves.values.into_inner()
}

/// The curves of a circuit at one frequency.
struct Curves<'a> {
    circuit: &'a Circuit,
    s: Complex64,
    lets: FxHashMap<&'a Name, &'a Let>,
    values: RefCell<FxHashMap<Name, Result<Term, Why>>>,
}

impl<'a> Curves<'a> {
    fn new(circuit: &'a Circuit, s: Complex64) -> Self {
        let lets = circuit.lets.iter().map(|l| (&l.name, l)).collect();
        Curves { circuit, s, lets, values: RefCell::default() }
    }

    fn curve(&self, name: &Name) -> Option<&Let> {
        self.lets.get(name).copied().filter(|l| matches!(l.value, LetValue::Curve))
    }
}

impl Worth for Curves<'_> {
    type Key = Name;

    fn known(&self, key: &Name) -> Option<Result<Term, Why>> {
        self.values.borrow().get(key).cloned()
    }

    fn needs(&self, key: &Name) -> Vec<Name> {
        let named = self.curve(key).map(|l| expr::names(&l.expr)).unwrap_or_default();
        named.into_iter().filter(|n| self.curve(n).is_some()).cloned().collect()
    }

    fn name(&self, key: &Name) -> Name {
        key.clone()
    }

    fn settle(&self, key: Name, circle: Option<&Circle>) {
        let found = match (circle, self.curve(&key)) {
            (Some(circle), _) => Err(Why::of_itself(&key, circle)),
            (None, None) => Err(Why::said(format!("{key} has no value"))),
            (None, Some(curve)) => expr::evaluate(&curve.expr, self, Some(self.s)).map_err(|failure| match failure {
                Failure::Elsewhere(why) => why.once_told(&key),
                Failure::Here(_) | Failure::Unreadable => Why::said(format!("{key} cannot be worked out")),
            }),
        };
        self.values.borrow_mut().insert(key, found);
    }
}

impl Scope for Curves<'_> {
    fn name(&self, name: &str, s: Option<Complex64>) -> Option<Result<Term, Why>> {
        match Worth::known(self, &name.into()) {
            Some(found) => Some(found),
            None => self.circuit.name(name, s),
        }
    }

    fn part(&self, name: &str) -> Option<Result<PartTerm, Why>> {
        self.circuit.part(name)
    }

    fn track(&self, name: &str) -> Option<Result<[f64; 2], Why>> {
        self.circuit.track(name)
    }

    fn known(&self) -> Vec<String> {
        Scope::known(self.circuit)
    }
}
