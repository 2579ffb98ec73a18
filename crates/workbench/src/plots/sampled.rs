//! A quantity of the whole circuit over frequency, asked for frequency by frequency.

use analysis::Status;
use circuit::Query;
use plot::{Axis, Curve};

use super::answers::{answer, read, typical};
use super::scene::Scene;
use super::{Part, limits};

/// So many frequencies are asked for.
const POINTS: u32 = 80;

/// Draws it.
///
/// # Errors
/// Why it is not known: a clause.
pub(crate) fn part(scene: &Scene, query: &Query, span: (f64, f64)) -> Result<Part, String> {
    let stand = scene.stand(query, &[]);
    let (mut points, mut typed, mut y, mut why) = (Vec::new(), Vec::new(), None, None);
    for k in 0..=POINTS {
        let f = if k == POINTS { span.1 } else { span.0 * (span.1 / span.0).powf(f64::from(k) / f64::from(POINTS)) };
        match answer(scene, &Query { at: Some(f), over: None, ..query.clone() }, &stand) {
            Ok(reading) => {
                if let Status::Typical(sheets) = &reading.status {
                    typed.extend(sheets.iter().cloned());
                }
                let (axis, value) = read(&reading);
                y.get_or_insert(axis);
                points.push((f, value));
            }
            Err(reason) => {
                why.get_or_insert(reason);
                points.push((f, f64::NAN));
            }
        }
    }
    let Some(mut y) = y else { return Err(why.unwrap_or_else(|| "it has no value".into())) };
    if !points.iter().any(|p| p.1.is_finite()) {
        return Err("it has no bound at any frequency of the span".into());
    }
    let label = query.phrase.split(" of ").next().unwrap_or_default();
    y.label = label
        .split(" -> ")
        .next()
        .unwrap_or_default()
        .rsplit_once(' ')
        .filter(|_| label.contains(" -> "))
        .map_or(label, |x| x.0)
        .to_string();
    let quiet = Query { at: None, over: None, ..query.clone() };
    let mut part = Part::new(scene.titled(&quiet, &[]), Axis::frequency().from_to(span.0, span.1), y);
    for (asked, limit) in crate::decided::stated(scene.db, scene.document) {
        let drawn = query.when.as_ref().or(scene.when.as_ref()).map(|w| &w.positions);
        let about = asked.quantity == query.quantity
            && asked.from == query.from
            && asked.when.as_ref().map(|w| &w.positions) == drawn;
        if about {
            let over = asked.over.or(asked.at.map(|f| (f, f))).unwrap_or(scene.circuit.band);
            part.limits.extend(limits::lines(&query.quantity, &limit, over, &limits::text(&limit)));
        }
    }
    part.curves.push(Curve { points, ..Curve::default() });
    part.notes.extend(typical(typed.iter()));
    part.notes.extend(why.map(|why| format!("in places it is unknown: {why}")));
    if !scene.hands.controls.is_empty() && query.when.is_none() && scene.when.is_none() {
        part.notes.push("the controls are at rest".into());
    }
    Ok(part)
}
