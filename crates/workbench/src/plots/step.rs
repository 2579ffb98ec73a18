//! What comes out in time: the answer to a step of 1 V, and the envelope of a burst of tone.

use std::f64::consts::TAU;

use analysis::Factored;
use analysis::positions::Stand;
use circuit::{ControlId, Quantity, Query};
use plot::{Axis, Curve, Scale};
use quantity::Unit;

use super::Part;
use super::answers::{answer, typical};
use super::scene::Scene;

/// So many moments are worked out.
const MOMENTS: u32 = 400;

/// Draws the answer to a step.
///
/// # Errors
/// Why it is not known: a clause.
pub(crate) fn part(scene: &Scene, query: &Query, alone: bool) -> Result<Part, String> {
    if query.at.is_some() || query.over.is_some() {
        return Err("a step goes over time, and has no frequency".into());
    }
    let shapes = Shapes::of(scene, query, "step", alone)?;
    let last = shapes.all.iter().map(|f| settled(f, scene.circuit.reference)).fold(0.0, f64::max);
    shapes
        .drawn(scene, query, last, "volts after a step of 1 V", &|shape, times| analysis::transient::step(shape, times))
}

/// Draws the envelope of a burst of tone of 1 V peak, as long as it takes to settle, and as long behind it.
///
/// # Errors
/// Why it is not known: a clause.
pub(crate) fn burst(scene: &Scene, query: &Query, alone: bool) -> Result<Part, String> {
    if query.over.is_some() {
        return Err("a burst has one frequency: `burst A -> B at F`".into());
    }
    let hertz = query.at.unwrap_or(scene.circuit.reference);
    let shapes = Shapes::of(scene, query, "burst", alone)?;
    let slowest = shapes.all.iter().map(|f| settled(f, scene.circuit.reference)).fold(0.0, f64::max);
    // Whole periods, and enough of them to see a tone.
    let seconds = (slowest * hertz).ceil().max(PERIODS) / hertz;
    let title = "volts peak, of a tone of 1 V";
    let mut part = shapes.drawn(scene, query, 2.0 * seconds, title, &|shape, times| {
        analysis::transient::burst_envelope(shape, hertz, seconds, times)
    })?;
    let periods = (seconds * hertz).round();
    let at = analysis::print::hertz(hertz);
    part.notes.push(format!("{periods} periods at {at}, then silence"));
    Ok(part)
}

/// The fewest periods of a burst.
const PERIODS: f64 = 5.0;

/// What a response comes to at moments in seconds.
type InTime<'a> = dyn Fn(&Factored, &[f64]) -> Result<Vec<f64>, String> + 'a;

/// A response at the positions that are drawn, by its zeros and poles.
struct Shapes {
    stands: Vec<Stand>,
    all: Vec<Factored>,
    on: Vec<ControlId>,
    types: Vec<circuit::Name>,
}

impl Shapes {
    fn of(scene: &Scene, query: &Query, what: &str, alone: bool) -> Result<Shapes, String> {
        let Quantity::Gain(a, b) = &query.quantity else {
            return Err(format!("a {what} is of a gain, `{what} A -> B`"));
        };
        if matches!(scene.circuit.response(a, b), Quantity::Transimpedance(..)) {
            return Err(format!("{} is a current source's own node: the {what} is one of volts", a.name));
        }
        let (plan, inputs) = scene.planned(query)?;
        if let Some((sheet, _)) = inputs.types.iter().find(|t| t.1) {
            return Err(format!("{sheet} has no gain bandwidth"));
        }
        let on = analysis::sweep::controls(&plan, &inputs);
        let stands = if alone { scene.family(query, &on) } else { vec![scene.stand(query, &on)] };
        answer(scene, query, stands.first().ok_or("no position was examined")?)?;
        let all: Vec<Factored> =
            stands.iter().map(|s| Factored::at_position(&plan, &inputs, s)).collect::<Result<_, _>>()?;
        if all.iter().any(|f| f.poles.iter().any(|p| p.re > 1e-9 * p.norm())) {
            return Err("the circuit grows by itself, and never comes to rest".into());
        }
        let types = inputs.types.iter().map(|t| t.0.clone()).collect();
        Ok(Shapes { stands, all, on, types })
    }

    fn drawn(&self, scene: &Scene, query: &Query, last: f64, title: &str, values: &InTime<'_>) -> Result<Part, String> {
        let times: Vec<f64> = (0..=MOMENTS).map(|k| last * f64::from(k) / f64::from(MOMENTS)).collect();
        let family = self.stands.len() > 1;
        let x = Axis::new("time", Unit::Second, Scale::Linear).from_to(0.0, last);
        let y = Axis::new(title, Unit::Volt, Scale::Linear);
        let mut part = Part::new(scene.titled(query, if family { &self.on } else { &[] }), x, y);
        for (i, (stand, shape)) in self.stands.iter().zip(&self.all).enumerate() {
            scene.pulse();
            let name = if family { stand.name.to_string() } else { String::new() };
            let shade = family.then(|| i as f64 / (self.stands.len() - 1) as f64);
            let points = times.iter().copied().zip(values(shape, &times)?).collect();
            part.curves.push(Curve { name, points, shade, ..Curve::default() });
        }
        part.notes.extend(typical(self.types.iter()));
        part.notes.push("of the small signal: no slew rate, no clipping".into());
        Ok(part)
    }
}

/// How long it takes until what is fast has settled: eight time constants of the slowest pole above the reference, or of the slowest of all,
/// in a round figure.
fn settled(shape: &Factored, reference: f64) -> f64 {
    let slowest = |least: f64| {
        let fast = shape.poles.iter().filter(|p| p.norm() > least && p.re < 0.0);
        fast.map(|p| -p.re).fold(f64::INFINITY, f64::min)
    };
    let rate = slowest(TAU * reference);
    let rate = if rate.is_finite() { rate } else { slowest(0.0) };
    let time = if rate.is_finite() { 8.0 / rate } else { 1.0 / reference };
    let power = 10f64.powf(time.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|d| d * power).find(|t| *t >= 0.8 * time).unwrap_or(time)
}
