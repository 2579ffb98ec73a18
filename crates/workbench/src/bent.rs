//! The circuit with something neglected, kept as the exact one is: equations by topology, numbers by value.

use std::sync::Arc;

use analysis::measure::Whole;
use analysis::{Inputs, Network, Plan, Sound};
use circuit::{Circuit, Neglect};

use crate::database::{Desk, Document, WayKey, circuit_of, drawn, query};

/// What is neglected together.
#[salsa::interned]
pub struct Neglected<'db> {
    /// In the order of their kinds and numbers.
    #[returns(ref)]
    pub all: Box<[Neglect]>,
}

/// The circuit in which it is neglected, with its presets as the exact circuit has them.
#[salsa::tracked(returns(clone))]
pub fn bent<'db>(db: &'db dyn Desk, document: Document, neglected: Neglected<'db>) -> Arc<Circuit> {
    Arc::new(circuit_of(db, document).neglecting(neglected.all(db)))
}

/// What its equations follow from; an edit of a value leaves it equal.
#[salsa::tracked(returns(clone))]
fn outline<'db>(db: &'db dyn Desk, document: Document, neglected: Neglected<'db>) -> Arc<Network> {
    Arc::new(Network::outline(&drawn(db, document).neglecting(neglected.all(db))))
}

/// Its equations.
#[salsa::tracked(returns(clone))]
pub fn network<'db>(db: &'db dyn Desk, document: Document, neglected: Neglected<'db>) -> Arc<Network> {
    Arc::new(outline(db, document, neglected).complete())
}

#[salsa::tracked(returns(clone))]
fn sound<'db>(db: &'db dyn Desk, document: Document, neglected: Neglected<'db>) -> Option<Arc<Sound>> {
    Sound::of(&network(db, document, neglected)).map(Arc::new)
}

/// Its equations, ordered; `None` where nothing can be made of the circuit.
#[salsa::tracked(returns(clone), no_eq)]
pub fn whole<'db>(db: &'db dyn Desk, document: Document, neglected: Neglected<'db>) -> Option<Arc<Whole>> {
    Some(Arc::new(Whole::of(&network(db, document, neglected), &sound(db, document, neglected)?)))
}

/// A question's plan there; `None` where nothing can be made of the circuit.
#[salsa::tracked(returns(clone), no_eq)]
pub fn planned<'db>(
    db: &'db dyn Desk,
    document: Document,
    neglected: Neglected<'db>,
    way: WayKey<'db>,
) -> Option<Arc<Plan>> {
    let way = way.way(db);
    let (network, sound) = (network(db, document, neglected), sound(db, document, neglected)?);
    Some(Arc::new(analysis::plan(&network, &sound, &query(way.quantity.clone(), None, way.from))))
}

/// The numbers that a question's plan needs there.
#[salsa::tracked(returns(clone))]
pub fn inputs<'db>(
    db: &'db dyn Desk,
    document: Document,
    neglected: Neglected<'db>,
    way: WayKey<'db>,
) -> Option<Arc<Inputs>> {
    let plan = planned(db, document, neglected, way)?;
    let (network, circuit) = (network(db, document, neglected), bent(db, document, neglected));
    Some(Arc::new(Inputs::of(plan.local(), &network, &circuit)))
}
