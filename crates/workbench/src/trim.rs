//! Presets: a trim turns its control until a quantity has its value.

use std::sync::Arc;

use analysis::{Value, answer};
use circuit::{Circuit, Given, PartKind, Position, Query, Trim, When};
use notation::tree::Fault;

use crate::database::{Desk, Document, WayKey, drawn, network, planned, way};

/// A circuit with its presets set.
#[derive(Debug, PartialEq)]
pub struct Trimmed {
    /// The circuit.
    pub circuit: Arc<Circuit>,
    /// Of each trim that cannot be made: its number, and what is wrong.
    pub faults: Vec<(usize, Untrimmed)>,
}

/// Why a trim cannot be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Untrimmed {
    /// What to say.
    pub fault: Fault,
    /// The quantity is unknown: if something is wrong elsewhere, that is why.
    pub unknown: bool,
}

impl From<Fault> for Untrimmed {
    fn from(fault: Fault) -> Self {
        Untrimmed { fault, unknown: false }
    }
}

/// Sets the presets of a circuit, in the order in which they are written.
#[salsa::tracked(returns(clone))]
pub fn trimmed(db: &dyn Desk, document: Document) -> Arc<Trimmed> {
    let circuit = drawn(db, document);
    let mut done = Trimmed { circuit: circuit.clone(), faults: Vec::new() };
    for (i, trim) in circuit.trims.iter().enumerate() {
        if done.circuit.unknown.is_some() {
            break;
        }
        match position(db, document, &done.circuit, trim) {
            Ok(travel) => {
                let mut circuit = (*done.circuit).clone();
                circuit.controls[trim.control.at()].rest = Position::Travel(travel);
                done.circuit = Arc::new(circuit);
            }
            Err(fault) => {
                let mut circuit = (*done.circuit).clone();
                let why = format!("{} cannot be trimmed", circuit.controls[trim.control.at()].name);
                for part in &mut circuit.parts {
                    if let PartKind::Variable { control, ohms, .. } = &mut part.kind
                        && *control == trim.control
                    {
                        *ohms = Given::Unknown(why.as_str().into());
                    }
                }
                done.circuit = Arc::new(circuit);
                done.faults.push((i, fault));
            }
        }
    }
    Arc::new(done)
}

/// How many positions are looked at before the best of them is narrowed down.
const LOOKS: usize = 64;

/// The travel at which a trim's quantity has its value: the first one from 0 %.
fn position(db: &dyn Desk, document: Document, circuit: &Circuit, trim: &Trim) -> Result<f64, Untrimmed> {
    let fault = |message: String| Fault {
        id: "trim-unreached",
        span: trim.quantity.span,
        message,
        unfinished: false,
        fixes: Vec::new(),
    };
    let name = &circuit.controls[trim.control.at()].name;
    let queries = circuit::query::resolve(circuit, &trim.quantity).map_err(|refusal| match refusal {
        circuit::Refusal::Wrong(fault) => fault,
        circuit::Refusal::Undecided(why) => fault(format!("{name} cannot be trimmed yet: {why}")),
        circuit::Refusal::Unfinished => fault(format!("what {name} is trimmed by is unfinished")),
    })?;
    let [query] = &queries[..] else { return Err(fault(format!("{name} is set by one quantity")).into()) };
    let unknown = |why: &str| Untrimmed {
        fault: fault(format!("{name} cannot be trimmed: {} is unknown, {why}", query.phrase)),
        unknown: true,
    };
    if let circuit::Quantity::Measure(_) = query.quantity {
        return Err(fault(format!("{name} is trimmed by a gain, a phase, a corner or an impedance")).into());
    }
    let key = WayKey::new(db, way(&query.quantity, query.from));
    let plan = planned(db, document, key).ok_or_else(|| unknown("since the circuit has no unique answer"))?;
    let inputs = analysis::Inputs::of(plan.local(), &network(db, document), circuit);
    let at = |travel: f64| -> Result<f64, String> {
        let mut positions = query.when.clone().map_or_else(Vec::new, |w| w.positions);
        positions.retain(|p| p.0 != trim.control);
        positions.push((trim.control, Position::Travel(travel)));
        let query = Query { when: Some(When { name: "".into(), positions }), ..query.clone() };
        let reading = answer(&plan, &inputs, &query);
        match (reading.unknown(), reading.value) {
            (Some(why), _) => Err(why.to_string()),
            (None, Value::Complex(z)) => Ok(z.norm()),
            (None, Value::Real(x)) => Ok(x),
            (None, Value::Never | Value::None) => Err("it has no single value".into()),
        }
    };
    let looks: Vec<(f64, f64)> = (0..=LOOKS)
        .filter_map(|k| {
            let travel = k as f64 / LOOKS as f64;
            Some((travel, at(travel).ok()?))
        })
        .collect();
    let Some(&first) = looks.first() else { return Err(unknown(&at(0.5).err().unwrap_or_default())) };
    let least = looks.iter().copied().fold(first, |a, b| if b.1 < a.1 { b } else { a });
    let most = looks.iter().copied().fold(first, |a, b| if b.1 > a.1 { b } else { a });
    if most.1 - least.1 <= 1e-9 * most.1.abs() {
        return Err(fault(format!("{name} does not move {}", query.phrase)).into());
    }
    let Some(target) = trim.target else {
        return greatest(most.0, &at).map_err(|why| unknown(&why));
    };
    let crossing = looks.windows(2).find(|w| (w[0].1 - target) * (w[1].1 - target) <= 0.0);
    let Some(bracket) = crossing else {
        let text = |x: f64| print(query, x);
        return Err(fault(format!(
            "{name} cannot bring {} to {}: it reaches {} at {} and {} at {}",
            query.phrase,
            text(target),
            text(least.1),
            Position::Travel(least.0),
            text(most.1),
            Position::Travel(most.0)
        ))
        .into());
    };
    let (mut low, mut high) = (bracket[0], bracket[1]);
    for _ in 0..60 {
        let middle = 0.5 * (low.0 + high.0);
        if middle <= low.0 || middle >= high.0 {
            break;
        }
        let value = at(middle).map_err(|why| unknown(&why))?;
        if (value - target) * (low.1 - target) <= 0.0 { high = (middle, value) } else { low = (middle, value) }
    }
    Ok(if (low.1 - target).abs() <= (high.1 - target).abs() { low.0 } else { high.0 })
}

/// The travel of the greatest value, by golden sections around the best look (Kiefer, Proc. Amer. Math. Soc. 4, 1953).
fn greatest(best: f64, at: &impl Fn(f64) -> Result<f64, String>) -> Result<f64, String> {
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    let step = 1.0 / LOOKS as f64;
    let (mut low, mut high) = ((best - step).max(0.0), (best + step).min(1.0));
    for _ in 0..48 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if at(a)? >= at(b)? { high = b } else { low = a }
    }
    let middle = 0.5 * (low + high);
    // An end of the travel is exactly an end.
    let ends = [0.0, 1.0, middle];
    let mut found = middle;
    for travel in ends.into_iter().filter(|t| (t - best).abs() <= step) {
        if at(travel)? > at(found)? {
            found = travel;
        }
    }
    Ok(found)
}

/// A value of a trim's quantity as a person reads it.
fn print(query: &Query, x: f64) -> String {
    use circuit::Quantity::*;
    let style = quantity::Style::default();
    let text = match query.quantity {
        Gain(..) if x == 0.0 => return "no signal".into(),
        Gain(..) => quantity::decibels(quantity::db(x), style),
        Phase(..) => quantity::degrees(x, style),
        LowCorner(..) | HighCorner(..) => quantity::computed(x, quantity::Unit::Hertz, style),
        Measure(_) => quantity::computed(x, quantity::Unit::One, style),
        Impedance(_) | InputImpedance(..) | OutputImpedance(..) => quantity::computed(x, quantity::Unit::Ohm, style),
    };
    text.unwrap_or_else(|| "unknown".into())
}
