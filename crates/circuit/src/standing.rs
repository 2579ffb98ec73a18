//! The circuit as an expression sees it while its controls stand somewhere: a formula has the resistance that a control has there.

use notation::Name;
use num_complex::Complex64;

use crate::circuit::{Circuit, Let, LetValue, Part, PartKind, Position};
use crate::env::split;
use crate::expr::{Failure, PartTerm, Scope, Term, Why, evaluate, names, parts};

/// So many `let` names that hang on each other are followed to a control.
const DEEP: usize = 100;

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

    /// Whether a `let` name hangs on a control, by whatever others: then how many it hangs on.
    fn moved(&self, of: &Let) -> Option<usize> {
        let mut seen: Vec<&Let> = vec![of];
        let (mut next, mut moved) = (0, false);
        while let Some(own) = seen.get(next).copied() {
            next += 1;
            let variable = |p: &&Name| self.find(p).is_some_and(|p| matches!(p.kind, PartKind::Variable { .. }));
            moved |= parts(&own.expr).iter().any(variable);
            for name in names(&own.expr) {
                let other = self.circuit.lets.iter().find(|l| l.name == *name);
                seen.extend(other.filter(|o| !seen.iter().any(|s| s.name == o.name)));
            }
            // So many tell that it is past what is followed.
            if seen.len() > 2 * DEEP {
                break;
            }
        }
        moved.then_some(seen.len())
    }

    fn find(&self, name: &str) -> Option<&Part> {
        self.circuit.parts.iter().find(|p| &*p.name == name)
    }
}

impl Scope for Standing<'_> {
    fn name(&self, name: &str, s: Option<Complex64>) -> Option<Result<Term, Why>> {
        let own = self.circuit.lets.iter().find(|l| &*l.name == name)?;
        if matches!(own.value, LetValue::Unknown(_)) {
            return self.circuit.name(name, s);
        }
        // What hangs on a control is worked out where that stands; all else is known already.
        match self.moved(own) {
            Some(deep) if deep > DEEP => {
                Some(Err(Why::said(format!("{name} is worked out from more than {DEEP} others"))))
            }
            Some(_) => Some(match evaluate(&own.expr, self, s) {
                Ok(term) => Ok(Term { level: None, ..term }),
                Err(Failure::Elsewhere(why)) => Err(why),
                Err(_) => Err(Why::said(format!("{name} cannot be worked out"))),
            }),
            None => self.circuit.name(name, s),
        }
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
