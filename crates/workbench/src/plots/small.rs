//! The small plots that hovers show.

use circuit::{ControlKind, PartId, Quantity, Query, StageId};
use plot::{Glyphs, Plot};

use super::phrase::{self, Subject};
use super::scene::Scene;
use super::{drawn, span};
use crate::database::{Desk, Document};

/// Columns and rows of a plot in a hover.
const SIZE: (usize, usize) = (44, 10);

/// A plot in characters under its title, for a hover: in Markdown, and in plain text.
pub(crate) fn titled(plot: &Plot) -> [String; 2] {
    let lines = plot::text(plot, SIZE.0, SIZE.1, Glyphs::Braille);
    let lines: Vec<&str> = lines.lines().map(str::trim_end).collect();
    let drawn = lines.join("\n");
    // A title that could end the block or begin another would say something else in Markdown.
    let title: String = plot.title.chars().filter(|c| !matches!(c, '`' | '\n' | '\r')).collect();
    [format!("`{title}`\n```text\n{drawn}\n```"), format!("{title}\n{drawn}")]
}

/// A plot as a picture, for a hover.
pub(crate) fn picture(plot: &Plot) -> String {
    plot::svg(plot, &plot::Sheet { width: 460.0, height: 280.0, ..plot::Sheet::default() })
}

fn of(scene: &Scene, subject: &Subject) -> Option<Plot> {
    let span = span::of(scene, subject).unwrap_or(scene.circuit.band);
    let plot = drawn(scene, subject, span, true).ok()?.alone();
    (!plot.is_empty()).then_some(plot)
}

/// What a stage does over frequency, and against its control's travel where it has one.
pub(crate) fn stage(db: &dyn Desk, document: Document, id: StageId) -> Vec<Plot> {
    let scene = Scene::new(db, document);
    let Some(query) = phrase::stage_query(&scene, id) else { return Vec::new() };
    let mut found: Vec<Plot> = of(&scene, &Subject::Response(query.clone())).into_iter().collect();
    let on = scene.planned(&query).map(|(plan, inputs)| analysis::sweep::controls(&plan, &inputs)).unwrap_or_default();
    if let ([control], Quantity::Gain(..) | Quantity::Transimpedance(..)) = (&on[..], &query.quantity)
        && let ControlKind::Travel(_) = scene.hands.controls[control.at()].kind
    {
        found.extend(of(&scene, &Subject::Travel(query, *control)));
    }
    found
}

/// What a control does: to its stage's gain, or from the source to the output.
pub(crate) fn control(db: &dyn Desk, document: Document, part: PartId) -> Option<Plot> {
    let scene = Scene::new(db, document);
    let circuit = scene.circuit.clone();
    let part = &circuit.parts[part.at()];
    let control = phrase::control_of(&part.kind)?;
    let own = phrase::stage_query(&scene, part.stage);
    let through =
        crate::hints::ends(&circuit).map(|(a, b)| crate::database::query(circuit.response(&a, &b), None, None));
    own.into_iter().chain(through).find_map(|query: Query| {
        let (plan, inputs) = scene.planned(&query).ok()?;
        if !analysis::sweep::controls(&plan, &inputs).contains(&control) {
            return None;
        }
        of(&scene, &Subject::Travel(query, control))
    })
}

/// A requirement's quantity over the band, with its limit.
pub(crate) fn required(db: &dyn Desk, document: Document, block: u32, entry: u32) -> Option<Plot> {
    let decided = crate::decided::one(db, document, block, entry);
    let first = decided.first()?;
    // Where the reading is not known, the sentence stays alone.
    first.reading.as_ref().filter(|r| r.unknown().is_none())?;
    let scene = Scene::new(db, document);
    let query = first.query.clone()?;
    // A reading that takes a search at each frequency would have a reader wait.
    match phrase::of(query).ok()? {
        subject @ (Subject::Response(_) | Subject::Noise(..)) => of(&scene, &subject),
        _ => None,
    }
}

/// An assumption's error over the band, with what it may be.
pub(crate) fn assumption(db: &dyn Desk, document: Document, block: usize, entry: usize) -> Option<Plot> {
    of(&Scene::new(db, document), &Subject::Assumption(block, entry))
}
