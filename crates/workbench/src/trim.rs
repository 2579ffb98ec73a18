//! Presets: a trim turns its control until a quantity has its value ([`analysis::preset`]).

use std::sync::Arc;

use analysis::build::Build;
use analysis::preset::{self, Amiss, Goal, Preset};
use circuit::{Circuit, Given, Name, PartKind, Position};
use notation::tree::Fault;

use crate::database::{Desk, Document, drawn, network, sound, whole};
use crate::preset::{goal, told};

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

/// Sets the presets of a circuit.
#[salsa::tracked(returns(clone))]
pub fn trimmed(db: &dyn Desk, document: Document) -> Arc<Trimmed> {
    let _running = analysis::meter::stage("presets");
    let circuit = drawn(db, document);
    if circuit.trims.is_empty() || circuit.unknown.is_some() {
        return Arc::new(Trimmed { circuit, faults: Vec::new() });
    }
    let mut bench = Bench { circuit: (*circuit).clone(), faults: Vec::new() };
    let mut goals: Vec<(usize, Goal)> = Vec::new();
    for (i, trim) in circuit.trims.iter().enumerate() {
        match goal(db, document, &circuit, trim) {
            Ok(goal) => goals.push((i, goal)),
            Err(why) => bench.fail(i, why),
        }
    }
    // Where one cannot be set at all its part has no value, and the others are set anew without it.
    while let Some(lost) = bench.set(db, document, &goals) {
        goals.remove(lost);
    }
    bench.faults.sort_by_key(|f| f.0);
    Arc::new(Trimmed { circuit: Arc::new(bench.circuit), faults: bench.faults })
}

/// What the presets of a circuit are set by; those that cannot be set are left out.
pub(crate) fn goals(db: &dyn Desk, document: Document) -> Vec<Goal> {
    let (circuit, trimmed) = (drawn(db, document), trimmed(db, document));
    let all = circuit.trims.iter().enumerate().filter(|(i, _)| trimmed.faults.iter().all(|f| f.0 != *i));
    all.filter_map(|(_, trim)| goal(db, document, &circuit, trim).ok()).collect()
}

/// A circuit whose presets are being set.
struct Bench {
    circuit: Circuit,
    faults: Vec<(usize, Untrimmed)>,
}

impl Bench {
    /// Sets the presets of some goals with the number of their trims; the place of one in the list that cannot be set at all.
    fn set(&mut self, db: &dyn Desk, document: Document, goals: &[(usize, Goal)]) -> Option<usize> {
        let (network, sound) = (network(db, document), sound(db, document)?);
        let measured = goals.iter().any(|(_, g)| matches!(g.query.quantity, circuit::Quantity::Measure(_)));
        let whole = measured.then(|| whole(db, document)).flatten();
        let circuit = Arc::new(self.circuit.clone());
        let mut presets = Vec::with_capacity(goals.len());
        for (place, (i, goal)) in goals.iter().enumerate() {
            match Preset::of(goal, &network, &sound, whole.as_deref(), &circuit) {
                Ok(preset) => presets.push(preset),
                Err(why) => {
                    self.fail(*i, told(&circuit, &circuit.trims[*i], goal, &Amiss::Unknown(why)));
                    return Some(place);
                }
            }
        }
        let mut build = [Build::default()];
        let pulse = || db.unwind_if_revision_cancelled();
        let amiss = analysis::preset::set(&presets, &circuit, &mut build, preset::From::Nothing, &pulse).remove(0);
        let lost = amiss.iter().position(|a| matches!(a, Some(Amiss::Unknown(_) | Amiss::Still)));
        if let Some(place) = lost {
            let (i, goal) = &goals[place];
            if let Some(amiss) = &amiss[place] {
                self.fail(*i, told(&circuit, &circuit.trims[*i], goal, amiss));
            }
            return Some(place);
        }
        for (control, travel) in &build[0].travels {
            self.circuit.controls[control.at()].rest = Position::Travel(*travel);
        }
        for ((i, goal), amiss) in goals.iter().zip(amiss) {
            if let Some(amiss) = amiss {
                self.fail(*i, told(&circuit, &circuit.trims[*i], goal, &amiss));
            }
        }
        None
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
