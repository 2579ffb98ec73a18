//! A level diagram: noise, signal and clipping from the source to the output.

use analysis::Value;
use circuit::{Measure, Point, Quantity, Query, StageId};
use plot::{Axis, Curve, Scale};
use quantity::Unit;

use super::Part;
use super::answers::{answer, typical};
use super::scene::Scene;

/// Draws it.
///
/// # Errors
/// Why there is none: a clause.
pub(crate) fn part(scene: &Scene) -> Result<Part, String> {
    let places = places(scene);
    if places.len() < 2 {
        return Err("it goes from a source through stages with outputs, and there are none".into());
    }
    let last = places.len() as f64 - 1.0;
    let mut x = Axis::new("", Unit::One, Scale::Linear).from_to(-0.3, last + 0.3);
    x.names = places.iter().enumerate().map(|(i, p)| (i as f64, p.name.to_string())).collect();
    let when = scene.when.as_ref().map_or(String::new(), |w| format!(" when {}", w.name));
    let title = format!("level diagram{when}");
    let mut part = Part::new(title, x, Axis::new("level", Unit::Dbu, Scale::Linear));
    let mut typed = Vec::new();
    type Ask = fn(Point) -> Measure;
    let rows: [(&str, Ask); 3] =
        [("clip level", Measure::ClipLevel), ("signal", Measure::Level), ("noise", Measure::Noise)];
    let mut missing: Vec<String> = Vec::new();
    for (hue, (name, measure)) in rows.into_iter().enumerate() {
        let mut points = Vec::new();
        for (i, place) in places.iter().enumerate() {
            let words = if name == "signal" { "level" } else { name };
            let phrase = format!("{words} of {}", place.name).into();
            let query = Query { phrase, ..Query::of(Quantity::Measure(measure(place.clone()))) };
            let stand = scene.stand(&query, &[]);
            let value = match answer(scene, &query, &stand) {
                Ok(reading) => {
                    if let analysis::Status::Typical(sheets) = &reading.status {
                        typed.extend(sheets.iter().cloned());
                    }
                    match reading.value {
                        // No voltage at all has no level.
                        Value::Real(volts) if volts.is_finite() && volts > 0.0 => quantity::dbu(volts),
                        _ => f64::NAN,
                    }
                }
                Err(why) => {
                    let said = format!("{} is unknown: {why}", query.phrase);
                    if missing.len() < 2 && !missing.iter().any(|m| m.ends_with(&*why)) {
                        missing.push(said);
                    }
                    f64::NAN
                }
            };
            points.push((i as f64, value));
        }
        if points.iter().any(|p| p.1.is_finite()) {
            part.curves.push(Curve { name: name.into(), points, hue, dotted: true, ..Curve::default() });
        }
    }
    if part.curves.is_empty() {
        return Err(missing.into_iter().next().unwrap_or_else(|| "no level is known".into()));
    }
    let (low, high) = scene.circuit.band;
    let hertz = analysis::print::hertz;
    part.notes.push(format!(
        "signal at {}, noise over {} … {}; at its clip level a sine brings the first amplifier to a limit",
        hertz(scene.circuit.reference),
        hertz(low),
        hertz(high)
    ));
    if scene.when.is_none() && !scene.hands.controls.is_empty() {
        part.notes.push("the controls are at rest".into());
    }
    part.notes.extend(missing);
    part.notes.extend(typical(typed.iter()));
    Ok(part)
}

/// The source, and each stage's output in the order written.
fn places(scene: &Scene) -> Vec<Point> {
    let circuit = &scene.circuit;
    let mut found: Vec<Point> = Vec::new();
    let mut add = |point: Point| {
        if !point.terms.is_empty() && !found.iter().any(|p| p.terms == point.terms) {
            found.push(point);
        }
    };
    if let Some(source) = circuit.sources.first() {
        add(match circuit.pair_of(source.plus, source.minus) {
            Some((pair, _)) => Point::pair(pair),
            None => Point::node(circuit, source.plus),
        });
    }
    for i in 0..circuit.stages.len() {
        if let Some(point) = circuit::query::port_point(circuit, StageId(i as u32), false) {
            add(point);
        }
    }
    found
}
