//! Presets: a trim turns its control until a quantity has its value.
//!
//! Trims that act on each other are set in turn, as at a bench, until each holds with the others where they are.

use std::sync::Arc;

use circuit::{Circuit, Given, Name, PartKind, Position};
use notation::tree::Fault;

use crate::database::{Desk, Document, drawn};
use crate::preset::{Aim, Preset};
use crate::together::together;

/// A circuit with its presets set.
#[derive(Debug, PartialEq)]
pub struct Trimmed {
    /// The circuit.
    pub circuit: Arc<Circuit>,
    /// Of each trim that cannot be made: its number, and what is wrong.
    pub faults: Vec<(usize, Untrimmed)>,
}

/// Why a trim cannot be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Untrimmed {
    /// A clause that can stand behind "unknown: ".
    pub clause: String,
    /// What to say; `None` where that is said elsewhere, or where nothing is wrong with the trim.
    pub fault: Option<Fault>,
    /// The quantity is unknown: if something is wrong elsewhere, that is why.
    pub unknown: bool,
}

/// So often trims that act on each other are set in turn before they count as not settling.
const ROUNDS: usize = 40;

/// After so many of them all are moved at once.
const IN_TURN: usize = 2;

/// Sets the presets of a circuit.
#[salsa::tracked(returns(clone))]
pub fn trimmed(db: &dyn Desk, document: Document) -> Arc<Trimmed> {
    let circuit = drawn(db, document);
    if circuit.trims.is_empty() || circuit.unknown.is_some() {
        return Arc::new(Trimmed { circuit, faults: Vec::new() });
    }
    let mut bench = Bench { circuit: (*circuit).clone(), faults: Vec::new() };
    let mut presets: Vec<(usize, Preset)> = Vec::new();
    for (i, trim) in circuit.trims.iter().enumerate() {
        match Preset::of(db, document, &circuit, trim) {
            Ok(preset) => presets.push((i, preset)),
            Err(why) => bench.fail(i, why),
        }
    }
    let mut short: Vec<(usize, Untrimmed)> = Vec::new();
    let mut moved: Vec<usize> = Vec::new();
    for round in 0..ROUNDS {
        moved.clear();
        presets.retain(|(i, preset)| {
            if round > 0 && preset.holds(&bench.circuit) {
                return true;
            }
            short.retain(|s| s.0 != *i);
            match preset.aim(&bench.circuit) {
                Ok(Aim { travel, short: missed }) => {
                    if bench.turn(*i, travel) || round == 0 {
                        moved.push(*i);
                    }
                    short.extend(missed.map(|why| (*i, why)));
                    true
                }
                Err(why) => {
                    bench.fail(*i, why);
                    false
                }
            }
        });
        // One alone holds where it is set.
        if moved.is_empty() || presets.len() < 2 {
            moved.clear();
            break;
        }
        // What a few turns do not settle may take hundreds, or none may ever do it, where the answer is near all the same.
        if round == IN_TURN {
            let all: Vec<&Preset> = presets.iter().map(|p| &p.1).collect();
            if let Some(travels) = together(&bench.circuit, &all) {
                for ((i, _), travel) in presets.iter().zip(travels) {
                    bench.turn(*i, travel);
                }
                short.clear();
            }
        }
    }
    for &i in &moved {
        short.retain(|s| s.0 != i);
        bench.fail(i, unsettled(&circuit, i, &moved));
    }
    for (i, why) in short {
        bench.fail(i, why);
    }
    bench.faults.sort_by_key(|f| f.0);
    Arc::new(Trimmed { circuit: Arc::new(bench.circuit), faults: bench.faults })
}

/// What to say of a trim that did not settle with these others.
fn unsettled(circuit: &Circuit, i: usize, moved: &[usize]) -> Untrimmed {
    let name = |i: usize| circuit.controls[circuit.trims[i].control.at()].name.to_string();
    let own = name(i);
    let others: Vec<String> = moved.iter().filter(|o| **o != i).map(|o| name(*o)).collect();
    let clause = match &others[..] {
        [] => format!("{own} does not settle"),
        all => format!("{own} and {} undo each other's trim", all.join(", ")),
    };
    let message = format!("{clause}: set in turn {ROUNDS} times, they do not all come to what is wanted");
    let fault = Fault {
        id: "trim-unsettled",
        span: circuit.trims[i].quantity.span,
        message,
        unfinished: false,
        fixes: Vec::new(),
    };
    Untrimmed { clause, fault: Some(fault), unknown: false }
}

/// A circuit whose presets are being set.
struct Bench {
    circuit: Circuit,
    faults: Vec<(usize, Untrimmed)>,
}

impl Bench {
    /// Turns a trim's control; `true` where it moved.
    fn turn(&mut self, i: usize, travel: f64) -> bool {
        let rest = &mut self.circuit.controls[self.circuit.trims[i].control.at()].rest;
        let before = std::mem::replace(rest, Position::Travel(travel));
        !matches!(before, Position::Travel(p) if (p - travel).abs() <= 1e-12)
    }

    /// Takes the value from a preset that cannot be set.
    fn fail(&mut self, i: usize, why: Untrimmed) {
        let own = self.circuit.trims[i].control;
        let clause: Name = why.clause.as_str().into();
        for part in &mut self.circuit.parts {
            if let PartKind::Variable { control, ohms, .. } = &mut part.kind
                && *control == own
            {
                *ohms = Given::Unknown(clause.clone());
            }
        }
        self.faults.push((i, why));
    }
}
