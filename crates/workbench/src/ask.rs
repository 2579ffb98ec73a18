//! Questions from outside: a phrase on a command line, a statement's quantity.

use analysis::{Place, Reading, Status, Value};
use circuit::{Query, Refusal};
use notation::tree::Fault;

use crate::database::{Desk, Document, WayKey, circuit_of, inputs, planned, way, whole};
use crate::desk::Snapshot;
use crate::hints::blank;

/// What a phrase came to.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// A reading, which may be unknown.
    Reading(Box<Reading>),
    /// The phrase itself cannot be meant.
    Wrong(Fault),
}

impl Snapshot {
    /// The readings of a phrase: one, or one for each name behind `of`.
    pub fn read(&self, path: &str, phrase: &str) -> Vec<Answer> {
        let Some(document) = self.document(path) else { return Vec::new() };
        let db = &self.database;
        let (parsed, fault) = notation::read_phrase(phrase);
        if let Some(fault) = fault {
            return vec![Answer::Wrong(fault)];
        }
        let none = |why: String| {
            Answer::Reading(Box::new(Reading {
                phrase: phrase.into(),
                kind: analysis::Kind::Gain,
                value: Value::None,
                unit: quantity::Unit::One,
                setting: None,
                place: Place::At(circuit_of(db, document).reference),
                status: Status::Unknown(why),
                range: None,
                gap: None,
                working: Vec::new(),
            }))
        };
        if let Some(why) = blank(db, document) {
            return vec![none(why)];
        }
        match circuit::query::resolve(&circuit_of(db, document), &parsed) {
            Ok(queries) => queries
                .iter()
                .map(|q| {
                    answer(db, document, q).map_or_else(
                        || none("the circuit has no unique answer".into()),
                        |r| Answer::Reading(Box::new(r)),
                    )
                })
                .collect(),
            Err(Refusal::Wrong(fault)) => vec![Answer::Wrong(fault)],
            Err(Refusal::Undecided(why)) => vec![none(why)],
            Err(Refusal::Unfinished) => vec![none("the phrase is unfinished".into())],
        }
    }
}

/// Answers a question; `None` where nothing can be made of the circuit.
pub(crate) fn answer(db: &dyn Desk, document: Document, query: &Query) -> Option<Reading> {
    if let circuit::Quantity::Measure(_) = query.quantity {
        return Some(analysis::measure::answer(&*whole(db, document)?, &circuit_of(db, document), query));
    }
    let key = WayKey::new(db, way(&query.quantity, query.from));
    let (plan, inputs) = (planned(db, document, key)?, inputs(db, document, key)?);
    Some(analysis::answer(&plan, &inputs, query))
}
