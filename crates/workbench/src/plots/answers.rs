//! Values of a question as they stand on an axis.

use analysis::positions::Stand;
use analysis::{Kind, Reading, Status, Value};
use circuit::{Quantity, Query};
use num_complex::Complex64;
use plot::{Axis, Scale};
use quantity::Unit;

use super::scene::Scene;

/// The axis of a question's values.
pub(crate) fn axis(query: &Query) -> Axis {
    match &query.quantity {
        Quantity::Gain(..) | Quantity::LowCorner(..) | Quantity::HighCorner(..) => Axis::decibels("gain").deep(100.0),
        Quantity::Measure(circuit::Measure::Flatness(..)) => Axis::decibels("gain").deep(100.0),
        Quantity::Phase(..) => Axis::new("phase", Unit::Degree, Scale::Linear),
        Quantity::Transimpedance(..) => Axis::new("transimpedance", Unit::Ohm, Scale::Logarithmic),
        Quantity::InputImpedance(..) => Axis::new("input impedance", Unit::Ohm, Scale::Logarithmic),
        Quantity::OutputImpedance(..) => Axis::new("output impedance", Unit::Ohm, Scale::Logarithmic),
        Quantity::Impedance(_) | Quantity::Measure(_) => Axis::new("impedance", Unit::Ohm, Scale::Logarithmic),
    }
}

/// A complex value on its axis: decibels of a gain, degrees of an angle, the size of an impedance. What is not known is no number.
pub(crate) fn shown(quantity: &Quantity, value: Option<Complex64>) -> f64 {
    let Some(z) = value else { return f64::NAN };
    match quantity {
        Quantity::Phase(..) => z.arg().to_degrees(),
        Quantity::Gain(..)
        | Quantity::LowCorner(..)
        | Quantity::HighCorner(..)
        | Quantity::Measure(circuit::Measure::Flatness(..)) => 20.0 * z.norm().log10(),
        _ => z.norm(),
    }
}

/// Angles followed without jumps, from the turn that is nearest to 0 in the middle.
pub(crate) fn followed(points: &mut [(f64, f64)]) {
    let mut last: Option<f64> = None;
    for (_, y) in points.iter_mut().filter(|p| p.1.is_finite()) {
        if let Some(last) = last {
            *y += 360.0 * ((last - *y) / 360.0).round();
        }
        last = Some(*y);
    }
    let known: Vec<f64> = points.iter().map(|p| p.1).filter(|y| y.is_finite()).collect();
    if let Some(middle) = known.get(known.len() / 2) {
        let turn = 360.0 * (middle / 360.0).round();
        points.iter_mut().for_each(|p| p.1 -= turn);
    }
}

/// A reading's axis and its value there.
pub(crate) fn read(reading: &Reading) -> (Axis, f64) {
    let real = match (reading.value, reading.kind) {
        (Value::Real(x), _) => x,
        (Value::Complex(_), _) => reading.magnitude().unwrap_or(f64::NAN),
        _ => f64::NAN,
    };
    match (reading.kind, reading.unit) {
        (Kind::Gain, _) => (Axis::decibels("gain").deep(100.0), 20.0 * real.log10()),
        (Kind::Phase, _) => (Axis::new("phase", Unit::Degree, Scale::Linear), real),
        (Kind::Level, Unit::Volt) => (Axis::new("level", Unit::Dbu, Scale::Linear), quantity::dbu(real)),
        (Kind::Impedance, _) => (Axis::new("impedance", Unit::Ohm, Scale::Logarithmic), real.abs()),
        (Kind::LowCorner | Kind::HighCorner, _) => (Axis::new("corner", Unit::Hertz, Scale::Logarithmic), real),
        (_, unit @ (Unit::VoltPerRootHertz | Unit::AmperePerRootHertz | Unit::Watt | Unit::Hertz)) => {
            (Axis::new("", unit, Scale::Logarithmic), real)
        }
        (_, unit) => (Axis::new("", unit, Scale::Linear), real),
    }
}

/// The answer to a question at one position.
///
/// # Errors
/// Why it is not known: a clause.
pub(crate) fn answer(scene: &Scene, query: &Query, stand: &Stand) -> Result<Reading, String> {
    scene.pulse();
    let query = scene.at(query, stand);
    let pulse: &dyn Fn() = &|| scene.db.unwind_if_revision_cancelled();
    let reading = match &query.quantity {
        Quantity::Measure(_) => {
            let whole = crate::database::whole(scene.db, scene.document).ok_or("the circuit has no unique answer")?;
            analysis::measure::answer(&whole, &scene.circuit, &query, pulse)
        }
        _ => {
            let (plan, inputs) = scene.planned(&query)?;
            analysis::answer(&plan, &inputs, &query, &scene.look(pulse))
        }
    };
    match &reading.status {
        Status::Unknown(why) => Err(why.clone()),
        _ => Ok(reading),
    }
}

/// That a plot rests on typical figures.
pub(crate) fn typical<'a>(sheets: impl Iterator<Item = &'a circuit::Name>) -> Option<String> {
    let mut all: Vec<&str> = sheets.map(|s| &**s).collect();
    all.sort_unstable();
    all.dedup();
    (!all.is_empty()).then(|| format!("rests on typical figures of {}", all.join(", ")))
}
