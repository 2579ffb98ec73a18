//! The error of an assumption over frequency, with what it may be.

use analysis::compare::{self, Side as Beside, Weak};
use plot::{Axis, Curve, Forbidden, Limit, Side};

use super::Part;
use super::scene::Scene;
use crate::bent::{self, Neglected};
use crate::database::{WayKey, way};

/// So many neglects of one entry are drawn.
const MOST: usize = 6;

/// Draws it.
///
/// # Errors
/// Why it is not known: a clause.
pub(crate) fn part(scene: &Scene, block: usize, entry: usize, alone: bool) -> Result<Part, String> {
    let found = crate::assumed::of(scene.db, scene.document, block, entry);
    let costs = found.as_ref().as_ref().map_err(Clone::clone)?;
    let band = costs.band;
    // A decade beyond the stated band shows where the neglect would fail.
    let design = scene.circuit.band;
    let span = scene.over.unwrap_or(match band.weak {
        Weak::Low => ((band.low / 10.0).min(design.0), band.high),
        Weak::High => (band.low, (band.high * 10.0).max(design.1)),
        Weak::Neither => (band.low, band.high),
    });
    let words = said(scene, block, entry);
    let x = Axis::frequency().from_to(span.0, span.1);
    let mut part = Part::new(words, x, Axis::decibels("error").at_least(4.0 * costs.limit()).deep(40.0));
    let (mut why, mut of) = (None, Vec::new());
    for cost in costs.all.iter().take(MOST) {
        scene.pulse();
        match &cost.found {
            Err(reason) => {
                why.get_or_insert(if costs.all.len() > 1 {
                    format!("of {} {reason}", cost.name)
                } else {
                    reason.clone()
                });
            }
            Ok(difference) => {
                let on = crate::assumed::asked(scene.db, scene.document, block, entry, cost.neglect, &cost.on)?;
                let key = WayKey::new(scene.db, way(scene.db, scene.document, &on.quantity, on.from));
                let neglected = Neglected::new(scene.db, vec![cost.neglect].into_boxed_slice());
                let none = || "the circuit has no unique answer".to_string();
                let (plan, inputs) = scene.planned(&on)?;
                let other = bent::planned(scene.db, scene.document, neglected, key)
                    .zip(bent::inputs(scene.db, scene.document, neglected, key))
                    .ok_or_else(none)?;
                let sides = (Beside { plan: &plan, inputs: &inputs }, Beside { plan: &other.0, inputs: &other.1 });
                let look = analysis::positions::Look { most: analysis::positions::GLANCE, pulse: &|| scene.pulse() };
                let points = compare::along(sides.0, sides.1, &on, &difference.position, span, &look)?;
                // Where no control has a say, the position is only where it was looked at first.
                let moves = !analysis::sweep::controls(&plan, &inputs).is_empty()
                    || !analysis::sweep::controls(&other.0, &other.1).is_empty();
                let at = match &*difference.position {
                    position if moves && !position.is_empty() => format!(" at {position}"),
                    _ => String::new(),
                };
                let several = costs.all.len() > 1;
                let name = match (several, at.is_empty()) {
                    (true, _) => format!("{}{at}", cost.name),
                    (false, false) if alone => format!("worst,{at}"),
                    _ => String::new(),
                };
                let hue = part.curves.len();
                part.curves.push(Curve { name, points, hue, ..Curve::default() });
                let on = if cost.on.is_empty() { on.phrase.to_string() } else { cost.on.clone() };
                if !of.contains(&on) {
                    of.push(on);
                }
            }
        }
    }
    if part.curves.is_empty() {
        return Err(why.unwrap_or_else(|| "nothing is neglected".into()));
    }
    part.notes.push(format!("magnitude with it neglected over the exact one, of {}", of.join(", ")));
    part.notes.extend(why.map(|why| format!("unknown: {why}")));
    let limit = |at: f64, forbidden: Forbidden, name: String| Limit {
        over: (band.low, band.high),
        at,
        side: Side::Left,
        forbidden,
        name,
    };
    // A share that is allowed is one of the greater magnitude.
    part.limits.push(limit(costs.limit(), Forbidden::Above, format!("within {}", costs.allowed_text())));
    part.limits.push(limit(-costs.limit(), Forbidden::Below, String::new()));
    if part.curves.iter().all(|c| c.points.iter().all(|p| !p.1.is_finite())) {
        return Err("nothing is left of the response with it neglected".into());
    }
    Ok(part)
}

/// The entry as it is written.
fn said(scene: &Scene, block: usize, entry: usize) -> String {
    let (layout, text) = (crate::database::layout(scene.db, scene.document), scene.document.text(scene.db));
    crate::line::said(&text[layout.blocks[block].entries[entry].range.clone()])
}
