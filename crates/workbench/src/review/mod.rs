//! The static reviewer: puts the rules' questions to the circuit, through the same equations as the statements, and gives what
//! they find its place.
//!
//! It is a query of its own, asked when somebody has the time: `check`, `show`, and the server when the typist pauses. It
//! unwinds when an edit overtakes it.

mod capacitors;
mod chain;
mod controls;
mod levels;
mod lines;
pub(crate) mod loops;
pub(crate) mod mend;
mod scene;

use std::sync::Arc;

use argument::rules::Finding;
use circuit::{NodeId, PartId, StageId};

use crate::database::{Desk, Document, Read, assembled, circuit_of, layout, sound, whole};
use crate::plain::{Problem, Severity};
use crate::problems::range_of;
pub(crate) use mend::tied;
use scene::Scene;

/// What a finding points at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum At {
    Part(PartId),
    Node(NodeId),
    Stage(StageId),
}

/// A finding with what it points at.
#[derive(Clone, Debug, PartialEq)]
pub struct Noted {
    pub(crate) at: At,
    pub(crate) finding: Finding,
}

/// What the rules find in a file's circuit. Where a value is missing, or where the circuit has no unique answer, they are
/// silent: that is said already, and a guess would be a false alarm.
#[salsa::tracked(returns(clone))]
pub fn review(db: &dyn Desk, document: Document) -> Arc<Vec<Noted>> {
    let _running = analysis::meter::stage("review");
    let all = assembled(db, document);
    if all.places.torn.is_some() || all.circuit.unknown.is_some() || sound(db, document).is_none() {
        return Arc::default();
    }
    // What is wrong in the drawing goes first; what it does to the figures is no finding.
    if all.findings.iter().any(|f| f.weight == circuit::Weight::Error) {
        return Arc::default();
    }
    let circuit = circuit_of(db, document);
    let Some(whole) = whole(db, document) else { return Arc::default() };
    let pulse = || db.unwind_if_revision_cancelled();
    let scene = Scene::of(&whole, &circuit, banded(db, document), &pulse);
    let mut found = Vec::new();
    controls::review(&scene, &mut found);
    let growing = crate::unstable::growing(db, document);
    loops::review(&scene, &growing, &mut found);
    levels::review(&scene, &mut found);
    chain::review(db, document, &scene, &mut found);
    capacitors::review(&scene, &corners_below(db, document, circuit.band.1), &mut found);
    lines::review(db, document, &scene, &mut found);
    Arc::new(found)
}

/// Whether the file says what its band is: what a rule says of the band's edges is said of that one only.
fn banded(db: &dyn Desk, document: Document) -> bool {
    let entries = crate::database::reads(db, document);
    let is = |r: &Arc<Read>| match &**r {
        Read::Entry(_, piece) => matches!(piece.kind, circuit::PieceKind::Band(Some(_), Some(_))),
        Read::Heading(_) => false,
    };
    entries.iter().any(|b| b.entries.iter().any(is))
}

/// The high corners below a frequency that the file's requirements ask for: the most that each may be, in hertz.
fn corners_below(db: &dyn Desk, document: Document, edge: f64) -> Vec<f64> {
    let all = crate::decided::stated(db, document);
    let corner = all.into_iter().filter(|(query, _)| matches!(query.quantity, circuit::Quantity::HighCorner(..)));
    corner.filter_map(|(_, limit)| limit.high.filter(|high| *high < edge)).collect()
}

/// The findings as problems at their places.
pub(crate) fn problems(db: &dyn Desk, document: Document) -> Vec<Problem> {
    let (all, layout, text) = (assembled(db, document), layout(db, document), document.text(db));
    let circuit = &all.circuit;
    let mut found: Vec<Problem> = Vec::new();
    for Noted { at, finding } in review(db, document).iter() {
        let (place, stage) = match at {
            At::Part(p) => (all.places.part_names.get(p.at()), circuit.parts.get(p.at()).map(|p| p.stage)),
            At::Node(n) => (all.places.nodes.get(n.at()), None),
            At::Stage(s) => (all.places.stages.get(s.at()), Some(*s)),
        };
        let Some(rule) = argument::rules::find(finding.rule) else { continue };
        let Some((place, range)) = place.and_then(|p| Some((*p, range_of(&layout, *p)?))) else { continue };
        let mut names = finding.names.clone();
        let stage = stage.map(|s| circuit.stages[s.at()].name.to_string()).filter(|s| !names.contains(s));
        names.extend(stage);
        // What a copy does, its pattern does: it is said once at a place.
        if found.iter().any(|p| p.id == finding.rule && p.range == range) {
            continue;
        }
        found.push(Problem {
            range,
            severity: match rule.weight {
                circuit::Weight::Error => Severity::Error,
                circuit::Weight::Warning => Severity::Warning,
                circuit::Weight::Note => Severity::Note,
            },
            id: rule.id,
            message: finding.message.clone(),
            names,
            fixes: finding.mends.iter().filter_map(|m| mend::fix(db, document, &layout, text, m, place)).collect(),
            unfinished: false,
        });
    }
    found
}
