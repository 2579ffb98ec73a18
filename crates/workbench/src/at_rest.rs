//! What a switch cuts off at rest where it stands open: an input from its bias current, an integrator from its feedback.

use std::sync::Arc;

use analysis::Flaw;
use circuit::ControlKind;

use crate::database::{Desk, Document, circuit_of, whole};

/// What has no one answer at rest only as switches stand.
#[salsa::tracked(returns(clone))]
pub fn cut(db: &dyn Desk, document: Document) -> Arc<Vec<Flaw>> {
    let circuit = circuit_of(db, document);
    let switched = circuit.controls.iter().any(|c| matches!(c.kind, ControlKind::Steps { .. }));
    // Without a switch, what has no one answer at rest is told of the drawing.
    let Some(whole) = switched.then(|| whole(db, document)).flatten() else { return Arc::default() };
    Arc::new(analysis::measure::cut_at_rest(&whole, &circuit, &|| db.unwind_if_revision_cancelled()))
}
