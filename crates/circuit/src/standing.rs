//! The circuit as an expression sees it while its controls stand somewhere: a formula has the resistance that a control has there.

use num_complex::Complex64;

use crate::circuit::{Circuit, Part, PartKind, Position};
use crate::env::split;
use crate::expr::{PartTerm, Scope, Term, Why};

/// A circuit with positions of all its controls.
pub struct Standing<'a> {
    /// The circuit.
    pub circuit: &'a Circuit,
    /// By [`crate::ControlId`].
    pub positions: &'a [Position],
}

impl Standing<'_> {
    /// The resistances on both sides of a control's wiper, and which of its ends are connected.
    fn sides(&self, part: &Part) -> Option<([f64; 2], [bool; 2])> {
        let PartKind::Variable { control, ohms, taper, ccw, cw, .. } = &part.kind else { return None };
        Some((split(ohms.number()?, *taper, self.positions[control.at()]), [ccw.is_some(), cw.is_some()]))
    }

    fn find(&self, name: &str) -> Option<&Part> {
        self.circuit.parts.iter().find(|p| &*p.name == name)
    }
}

impl Scope for Standing<'_> {
    fn name(&self, name: &str, s: Option<Complex64>) -> Option<Result<Term, Why>> {
        self.circuit.name(name, s)
    }

    fn part(&self, name: &str) -> Option<Result<PartTerm, Why>> {
        // With both ends connected it is a divider, and its value is the whole track.
        match self.sides(self.find(name)?) {
            Some(([low, _], [true, false])) => Some(Ok(PartTerm::Ohms(low))),
            Some(([_, high], [false, true])) => Some(Ok(PartTerm::Ohms(high))),
            _ => self.circuit.part(name),
        }
    }

    fn track(&self, name: &str) -> Option<Result<[f64; 2], Why>> {
        match self.sides(self.find(name)?) {
            Some((sides, _)) => Some(Ok(sides)),
            None => self.circuit.track(name),
        }
    }

    fn known(&self) -> Vec<String> {
        Scope::known(self.circuit)
    }
}
