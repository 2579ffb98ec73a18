//! A reading against its control's travel.

use analysis::positions::Stand;
use analysis::sweep::at_positions;
use circuit::{ControlId, ControlKind, Position, Quantity, Query};
use plot::{Axis, Curve, Mark, Scale, Side};
use quantity::Unit;

use super::answers::{answer, axis, followed, read, shown, typical};
use super::scene::Scene;
use super::{Part, limits};

/// Steps of the travel at which a quick reading is taken, and a slow one.
const STEPS: (u32, u32) = (100, 20);

/// Draws it.
///
/// # Errors
/// Why it is not known: a clause.
pub(crate) fn part(scene: &Scene, query: &Query, control: ControlId) -> Result<Part, String> {
    let c = &scene.hands.controls[control.at()];
    if c.preset {
        return Err(format!("{} is a preset, which no hand moves", c.name));
    }
    if query.over.is_some() {
        return Err("against a control it is read at one frequency: `at` names it".into());
    }
    let quick = matches!(
        query.quantity,
        Quantity::Gain(..)
            | Quantity::Phase(..)
            | Quantity::Transimpedance(..)
            | Quantity::Impedance(_)
            | Quantity::InputImpedance(..)
            | Quantity::OutputImpedance(..)
    );
    let steps = if quick { STEPS.0 } else { STEPS.1 };
    let base = scene.stand(query, &[control]);
    let places: Vec<(f64, Position)> = match &c.kind {
        ControlKind::Travel(_) => {
            (0..=steps).map(|k| f64::from(k) / f64::from(steps)).map(|p| (100.0 * p, Position::Travel(p))).collect()
        }
        ControlKind::Steps { positions, .. } => {
            positions.iter().enumerate().map(|(i, p)| (i as f64, Position::Step(*p))).collect()
        }
    };
    let stands: Vec<Stand> = places.iter().map(|(_, p)| scene.moved(&base, control, *p)).collect();
    if stands.is_empty() {
        return Err(format!("{} has no position", c.name));
    }
    let mut typed = Vec::new();
    let mut y = axis(query);
    let values: Vec<f64> = if quick {
        // The reading itself tells why it is not known, and that what drives is.
        let first = answer(scene, query, &stands[0]);
        let others = stands.iter().skip(1).step_by(8);
        if let Err(why) = first
            .map(|_| ())
            .or_else(|why| others.map(|s| answer(scene, query, s)).find_map(Result::ok).map(|_| ()).ok_or(why))
        {
            return Err(why);
        }
        let (plan, inputs) = scene.planned(query)?;
        typed.extend(inputs.types.iter().map(|t| t.0.clone()));
        let hertz = query.at.unwrap_or(scene.circuit.reference);
        let all = at_positions(&plan, &inputs, &stands, hertz)?;
        all.into_iter().map(|z| shown(&query.quantity, z)).collect()
    } else {
        let mut values = Vec::new();
        let mut why = None;
        for stand in &stands {
            match answer(scene, query, stand) {
                Ok(reading) => {
                    if let analysis::Status::Typical(sheets) = &reading.status {
                        typed.extend(sheets.iter().cloned());
                    }
                    let (axis, value) = read(&reading);
                    if value.is_finite() || values.is_empty() {
                        y = axis;
                    }
                    values.push(value);
                }
                Err(reason) => {
                    why.get_or_insert(reason);
                    values.push(f64::NAN);
                }
            }
        }
        if let (Some(why), true) = (why, values.iter().all(|v| v.is_nan())) {
            return Err(why);
        }
        values
    };
    let mut points: Vec<(f64, f64)> = places.iter().map(|p| p.0).zip(values).collect();
    if matches!(query.quantity, Quantity::Phase(..)) {
        followed(&mut points);
    }
    let plain = matches!(c.kind, ControlKind::Travel(_));
    let x = if plain {
        Axis::new(&c.name, Unit::Percent, Scale::Linear).from_to(0.0, 100.0)
    } else {
        let last = places.len() as f64 - 1.0;
        let mut x = Axis::new(&c.name, Unit::One, Scale::Linear).from_to(-0.3, last + 0.3);
        x.names = places.iter().map(|(at, p)| (*at, scene.hands.say(control, *p))).collect();
        x
    };
    if y.label.is_empty() {
        y.label = query.phrase.split(" of ").next().unwrap_or_default().to_string();
    }
    let mut part = Part::new(format!("{} against {}", query.phrase, c.name), x, y);
    if let (true, Position::Travel(rest), None) = (plain, c.rest, query.when.as_ref().or(scene.when.as_ref())) {
        let near = points.iter().min_by(|a, b| (a.0 - 100.0 * rest).abs().total_cmp(&(b.0 - 100.0 * rest).abs()));
        if let Some((_, y)) = near.filter(|p| p.1.is_finite()) {
            part.marks.push(Mark { x: 100.0 * rest, y: *y, side: Side::Left, text: "rest".into() });
        }
    }
    let least = points.iter().filter(|p| p.1 == f64::NEG_INFINITY).map(|p| p.0).next();
    if let Some(at) = least.filter(|_| plain) {
        part.notes.push(format!("at {} {at:.0} % nothing arrives", c.name));
    }
    // A limit for all positions is a line across; one at a position stands there.
    for (asked, limit) in crate::decided::stated(scene.db, scene.document) {
        let alike = asked.quantity == query.quantity && asked.from == query.from && asked.over.is_none();
        let frequency = |q: &Query| q.at.unwrap_or(scene.circuit.reference);
        if !alike || frequency(&asked) != frequency(query) {
            continue;
        }
        let over = match asked.when.as_ref().map(|w| &w.positions[..]) {
            None => (points[0].0, points[points.len() - 1].0),
            Some([(own, position)]) if *own == control => {
                let Some(at) = places.iter().find(|p| p.1 == *position) else { continue };
                (at.0, at.0)
            }
            Some(_) => continue,
        };
        part.limits.extend(limits::lines(&query.quantity, &limit, over, &limits::text(&limit)));
    }
    part.curves.push(Curve { points, dotted: !plain, ..Curve::default() });
    part.notes.extend(typical(typed.iter()));
    Ok(part)
}
