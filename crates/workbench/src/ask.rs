//! Questions from outside: a phrase on a command line, a statement's quantity.

use analysis::positions::{Look, MOST};
use analysis::tolerance::draw::Builds;
use analysis::{Place, Reading, Status, Value};
use circuit::{Query, Refusal};
use notation::tree::Fault;

use crate::database::{Desk, Document, WayKey, circuit_of, inputs, planned, way, whole};
use crate::desk::Snapshot;
use crate::hints::blank;
use crate::over::{self, Tolerance};

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
        self.asked(path, phrase, false).into_iter().map(|found| found.0).collect()
    }

    /// The readings of a phrase with what they come to over tolerance; the phrase may have a limit behind it, as under `require`.
    pub fn read_over_tolerance(&self, path: &str, phrase: &str) -> Vec<(Answer, Option<Tolerance>)> {
        self.asked(path, phrase, true)
    }

    fn asked(&self, path: &str, phrase: &str, tolerance: bool) -> Vec<(Answer, Option<Tolerance>)> {
        let Some(document) = self.document(path) else { return Vec::new() };
        let db = &self.database;
        let limited = tolerance.then(|| limited(phrase)).flatten();
        let sine = limited.as_ref().is_some_and(|l| l.sine);
        let (parsed, limit) = match limited {
            Some(require) => (require.quantity, require.limit),
            None => {
                let (parsed, fault) = notation::read_phrase(phrase);
                if let Some(fault) = fault {
                    let at = phrase.get(fault.span.start as usize..);
                    let at_limit = at.is_some_and(|rest| rest.starts_with(['<', '>', '=']));
                    let limit = (tolerance && at_limit).then(|| limit_fault(phrase)).flatten();
                    return vec![(Answer::Wrong(limit.unwrap_or(fault)), None)];
                }
                (parsed, None)
            }
        };
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
            return vec![(none(why), None)];
        }
        let one = |query: &Query| {
            if let Some(why) = sine.then(|| crate::decided::mixed(db, document, query)).flatten() {
                return (none(why), None);
            }
            let Some((reading, nominal)) = answer_with_nominal(db, document, query) else {
                return (none("the circuit has no unique answer".into()), None);
            };
            let over = (tolerance && reading.unknown().is_none()).then(|| {
                let nominal = nominal.as_ref().unwrap_or(&reading);
                let study = over::studied(db, document, query, nominal, limit.as_ref(), Builds::ALL);
                let held = study.as_ref().ok().zip(limit).map(|(s, limit)| (argument::over(s, nominal, &limit), limit));
                Tolerance { study, preset: !circuit_of(db, document).trims.is_empty(), held }
            });
            (Answer::Reading(Box::new(reading)), over)
        };
        match circuit::resolve::resolve(&circuit_of(db, document), &parsed) {
            Ok(queries) => queries.iter().map(one).collect(),
            Err(Refusal::Wrong(fault)) => vec![(Answer::Wrong(fault), None)],
            Err(Refusal::Undecided(why)) => vec![(none(why), None)],
            Err(Refusal::Unfinished) => vec![(none("the phrase is unfinished".into()), None)],
        }
    }
}

/// A phrase with a limit behind it, as it stands under `require`.
fn limited(phrase: &str) -> Option<circuit::RequirePiece> {
    let entry = notation::read_entry(notation::tree::BlockKind::Require, phrase);
    let piece = circuit::piece::read(&entry);
    if !piece.findings.is_empty() {
        return None;
    }
    match piece.kind {
        circuit::PieceKind::Require(require) if require.limit.is_some() => Some(*require),
        _ => None,
    }
}

/// What is wrong with the limit behind a phrase that is read as under `require`.
fn limit_fault(phrase: &str) -> Option<Fault> {
    let entry = notation::read_entry(notation::tree::BlockKind::Require, phrase);
    circuit::piece::read(&entry).findings.into_iter().next().map(|found| found.1)
}

/// Answers a question; `None` where nothing can be made of the circuit.
pub(crate) fn answer(db: &dyn Desk, document: Document, query: &Query) -> Option<Reading> {
    answer_with_nominal(db, document, query).map(|found| found.0)
}

/// Answers a question; where the answer is over tolerance, with the nominal one. Nominal parts match perfectly, so that a
/// rejection is told over tolerance where the file states any.
pub(crate) fn answer_with_nominal(
    db: &dyn Desk,
    document: Document,
    query: &Query,
) -> Option<(Reading, Option<Reading>)> {
    let nominal = nominal(db, document, query)?;
    let circuit::Quantity::Measure(circuit::Measure::Rejection(..)) = query.quantity else {
        return Some((nominal, None));
    };
    if nominal.unknown().is_some() || !over::stated(&circuit_of(db, document)) {
        return Some((nominal, None));
    }
    let mut reading = nominal.clone();
    match over::studied(db, document, query, &nominal, None, Builds::ALL) {
        Ok(study) => {
            reading.value = Value::Real(study.low.value);
            if let Some(range) = &mut reading.range {
                let end = |e: &analysis::tolerance::Extreme| analysis::End {
                    value: e.value.is_finite().then_some(e.value),
                    position: e.position.clone(),
                };
                // Of each position the worst counts; a control's travel orders them, else which is lower.
                let (one, other) = match &study.worst[..] {
                    [] => (&study.low, &study.high),
                    [one] => (one, one),
                    [one, .., other] if range.controls.len() == 1 || one.value <= other.value => (one, other),
                    [one, .., other] => (other, one),
                };
                range.ends = [one, other].map(end);
            }
            let rest = nominal.value_text(quantity::Style::default());
            reading
                .working
                .push(format!("nominal {rest}; worst over tolerance at {}", over::corner_text(&study.low.at)));
        }
        Err(why) => {
            reading.value = Value::None;
            reading.range = None;
            reading.status = Status::Unknown(why);
        }
    }
    Some((reading, Some(nominal)))
}

fn nominal(db: &dyn Desk, document: Document, query: &Query) -> Option<Reading> {
    let _running = analysis::meter::stage("readings");
    let pulse: &dyn Fn() = &|| db.unwind_if_revision_cancelled();
    if let circuit::Quantity::Measure(_) = query.quantity {
        return Some(analysis::measure::answer(&*whole(db, document)?, &circuit_of(db, document), query, pulse));
    }
    let key = WayKey::new(db, way(db, document, &query.quantity, query.from));
    let (plan, inputs) = (planned(db, document, key)?, inputs(db, document, key)?);
    Some(analysis::answer(&plan, &inputs, query, &Look { most: MOST, pulse }))
}
