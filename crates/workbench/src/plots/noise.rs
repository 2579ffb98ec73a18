//! A noise density with the shares of its parts.

use circuit::{Point, Query};
use plot::{Axis, Curve, Dash, Scale};
use quantity::Unit;

use super::Part;
use super::answers::typical;
use super::scene::Scene;

/// So many are drawn by name.
const NAMED: usize = 5;

/// Draws it.
///
/// # Errors
/// Names the datum or the value that is missing: a clause.
pub(crate) fn part(scene: &Scene, query: &Query, point: &Point, span: (f64, f64), alone: bool) -> Result<Part, String> {
    let whole = crate::database::whole(scene.db, scene.document).ok_or("the circuit has no unique answer")?;
    let hands = scene.hands.moved(&(0..scene.hands.controls.len() as u32).map(circuit::ControlId).collect::<Vec<_>>());
    let stand = scene.stand(query, &hands);
    let found = analysis::measure::spectrum(&whole, &scene.circuit, point, &stand, span)?;
    let sum = |rows: &[(String, Vec<f64>)]| -> Vec<f64> {
        (0..found.hertz.len()).map(|k| rows.iter().map(|r| r.1[k]).sum::<f64>()).collect()
    };
    let total = sum(&found.makers);
    if total.iter().all(|x| *x == 0.0) {
        return Err(format!("nothing that makes noise has a way to {}", point.name));
    }
    let power = |row: &[f64]| -> f64 {
        row.windows(2).zip(found.hertz.windows(2)).map(|(p, f)| 0.5 * (p[0] + p[1]) * (f[1] - f[0])).sum()
    };
    let whole_power = power(&total);
    let share = |row: &[f64]| quantity::share((power(row) / whole_power).clamp(0.0, 1.0)).unwrap_or_default();
    let y = Axis::new("noise density", Unit::VoltPerRootHertz, Scale::Logarithmic).deep(1e3);
    let title = format!("noise density of {}", point.name);
    let titled = Query { phrase: title.into(), ..query.clone() };
    let mut part = Part::new(scene.titled(&titled, &[]), Axis::frequency().from_to(span.0, span.1), y);
    let points = |row: &[f64]| found.hertz.iter().copied().zip(row.iter().map(|x| x.sqrt())).collect();
    let mut add = |name: String, row: &[f64], hue: usize, dash: Dash| {
        part.curves.push(Curve { name, points: points(row), hue, dash, ..Curve::default() });
    };
    if !alone {
        add(String::new(), &total, 0, Dash::Solid);
    } else {
        add("sum".into(), &total, 0, Dash::Solid);
        // A rest of one is named like the others.
        let named = if found.makers.len() == NAMED + 1 { NAMED + 1 } else { NAMED.min(found.makers.len()) };
        // Beside a single maker its sum says nothing.
        if found.makers.len() > 1 {
            for (i, (name, row)) in found.makers[..named].iter().enumerate() {
                add(format!("{name}, {}", share(row)), row, i + 1, Dash::Solid);
            }
            let rest = &found.makers[named..];
            if !rest.is_empty() {
                let row = sum(rest);
                add(format!("{} more, {}", rest.len(), share(&row)), &row, named + 1, Dash::Dotted);
            }
            part.notes.push("shares of the power over the span that is drawn".into());
        }
    }
    part.notes.extend(typical(found.typical.iter()));
    if query.weighting.is_some() {
        part.notes.push("the density is not weighted".into());
    }
    Ok(part)
}
