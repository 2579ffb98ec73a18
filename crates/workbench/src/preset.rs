//! One preset: where it has to stand for its quantity to have its value.

use std::sync::Arc;

use analysis::{Plan, Value, answer};
use circuit::{Circuit, ControlId, Name, Position, Query, Refusal, Trim, When};
use notation::tree::{Fault, Span};

use crate::database::{Desk, Document, WayKey, network, planned, way};
use crate::trim::Untrimmed;

/// How many positions are looked at before one of them is narrowed down.
const LOOKS: usize = 64;

/// A trim holds where its quantity is off by no more than this share of the target and of what the control can do.
const HOLDS: f64 = 1e-8;

/// A trim with what it takes to make it.
pub(crate) struct Preset {
    network: Arc<analysis::Network>,
    plan: Arc<Plan>,
    query: Query,
    control: ControlId,
    name: Name,
    span: Span,
    target: Option<f64>,
    signed: bool,
}

/// Where a preset is to stand.
pub(crate) struct Aim {
    /// The travel.
    pub travel: f64,
    /// What to say where that is only as near as it comes.
    pub short: Option<Untrimmed>,
}

fn fault(span: Span, message: String) -> Fault {
    Fault { id: "trim-unreached", span, message, unfinished: false, fixes: Vec::new() }
}

impl Preset {
    /// Takes a trim's quantity apart.
    pub fn of(db: &dyn Desk, document: Document, circuit: &Circuit, trim: &Trim) -> Result<Preset, Untrimmed> {
        let name = circuit.controls[trim.control.at()].name.clone();
        let quiet = |clause: String| Untrimmed { clause, fault: None, unknown: true };
        let cannot = || format!("{name} cannot be trimmed");
        if let Some(why) = &trim.unread {
            return Err(quiet(why.to_string()));
        }
        let said = |fault: Fault| Untrimmed { clause: cannot(), fault: Some(fault), unknown: false };
        let queries = circuit::resolve::resolve(circuit, &trim.quantity).map_err(|refusal| match refusal {
            Refusal::Wrong(fault) => said(fault),
            Refusal::Undecided(why) => quiet(format!("{} cannot be trimmed yet: {why}", name)),
            Refusal::Unfinished => quiet(format!("what {name} is trimmed by cannot be read")),
        })?;
        let [query] = &queries[..] else {
            return Err(said(fault(trim.quantity.span, format!("{name} is set by one quantity"))));
        };
        if let circuit::Quantity::Measure(_) = query.quantity {
            let words = trim.quantity.phrase.unwrap_or("its quantity");
            return Err(quiet(format!("{name} is trimmed by {words}, which is not decided yet")));
        }
        let key = WayKey::new(db, way(&query.quantity, query.from));
        let plan = planned(db, document, key).ok_or_else(|| quiet(cannot()))?;
        Ok(Preset {
            network: network(db, document),
            plan,
            query: query.clone(),
            control: trim.control,
            name,
            span: trim.quantity.span,
            target: trim.target,
            signed: trim.signed,
        })
    }

    /// The quantity with the control at each of some travels, everything else as it stands in the circuit.
    fn values<'a>(&'a self, circuit: &Circuit) -> impl Fn(f64) -> Result<f64, String> + use<'a> {
        let inputs = analysis::Inputs::of(self.plan.local(), &self.network, circuit);
        move |travel: f64| {
            let asked = self.query.when.clone();
            let mut when = asked.unwrap_or(When { name: "".into(), positions: Vec::new(), unread: Vec::new() });
            when.positions.retain(|p| p.0 != self.control);
            when.positions.push((self.control, Position::Travel(travel)));
            let query = Query { when: Some(when), ..self.query.clone() };
            let reading = answer(&self.plan, &inputs, &query);
            match (reading.unknown(), reading.value) {
                (Some(why), _) => Err(why.to_string()),
                (None, Value::Complex(z)) if self.signed && self.is_gain() => {
                    analysis::print::signed(z).ok_or_else(|| "it is neither in nor out of phase".into())
                }
                (None, Value::Complex(z)) => Ok(z.norm()),
                (None, Value::Real(x)) => Ok(self.in_turn(x)),
                (None, Value::Never | Value::None) => Err("it has no single value".into()),
            }
        }
    }

    fn is_gain(&self) -> bool {
        matches!(self.query.quantity, circuit::Quantity::Gain(..))
    }

    /// A phase in the turn of its target.
    fn in_turn(&self, x: f64) -> f64 {
        match (&self.query.quantity, self.target) {
            (circuit::Quantity::Phase(..), Some(t)) => x + 360.0 * ((t - x) / 360.0).round(),
            _ => x,
        }
    }

    /// The control that it turns.
    pub fn control(&self) -> ControlId {
        self.control
    }

    /// By what share of its target the quantity is off with the control here; `None` where there is no target, or no value.
    pub fn miss(&self, circuit: &Circuit, travel: f64) -> Option<f64> {
        let target = self.target?;
        Some((self.values(circuit)(travel).ok()? - target) / if target == 0.0 { 1.0 } else { target.abs() })
    }

    /// Whether the quantity has its value with the control where it stands. What is brought to its greatest is looked at anew.
    pub fn holds(&self, circuit: &Circuit) -> bool {
        let (Some(target), Position::Travel(p)) = (self.target, circuit.controls[self.control.at()].rest) else {
            return false;
        };
        self.values(circuit)(p)
            .is_ok_and(|x| (x - target).abs() <= HOLDS * if target == 0.0 { 1.0 } else { target.abs() })
    }

    fn unknown(&self, why: &str) -> Untrimmed {
        let message = format!("{} cannot be trimmed: {} is unknown, {why}", self.name, self.query.phrase);
        Untrimmed {
            clause: format!("{} cannot be trimmed", self.name),
            fault: Some(fault(self.span, message)),
            unknown: true,
        }
    }

    fn said(&self, message: String) -> Untrimmed {
        Untrimmed {
            clause: format!("{} cannot be trimmed", self.name),
            fault: Some(fault(self.span, message)),
            unknown: false,
        }
    }

    /// The travel at which the quantity has its value: the first one from 0 %.
    pub fn aim(&self, circuit: &Circuit) -> Result<Aim, Untrimmed> {
        let at = self.values(circuit);
        let looks: Vec<(f64, f64)> = (0..=LOOKS)
            .filter_map(|k| {
                let travel = k as f64 / LOOKS as f64;
                Some((travel, at(travel).ok()?))
            })
            .collect();
        let Some(&first) = looks.first() else { return Err(self.unknown(&at(0.5).err().unwrap_or_default())) };
        let least = looks.iter().copied().fold(first, |a, b| if b.1 < a.1 { b } else { a });
        let most = looks.iter().copied().fold(first, |a, b| if b.1 > a.1 { b } else { a });
        let reach = most.1 - least.1;
        if reach <= 1e-9 * most.1.abs().max(least.1.abs()) {
            return Err(self.said(format!("{} does not move {}", self.name, self.query.phrase)));
        }
        let Some(target) = self.target else {
            return greatest(most.0, &at).map(|travel| Aim { travel, short: None }).map_err(|why| self.unknown(&why));
        };
        // Between two looks the quantity may jump over the target (a phase at the end of its turn): then it is not there.
        for w in looks.windows(2).filter(|w| (w[0].1 - target) * (w[1].1 - target) <= 0.0) {
            let found = narrowed(w[0], w[1], target, &at).map_err(|why| self.unknown(&why))?;
            if (found.1 - target).abs() <= HOLDS * target.abs().max(reach) {
                return Ok(Aim { travel: found.0, short: None });
            }
        }
        let text = |x: f64| self.print(x);
        let message = format!(
            "{} cannot bring {} to {}: it reaches {} at {} and {} at {}",
            self.name,
            self.query.phrase,
            text(target),
            text(least.1),
            Position::Travel(least.0),
            text(most.1),
            Position::Travel(most.0)
        );
        let near = if (least.1 - target).abs() < (most.1 - target).abs() { least.0 } else { most.0 };
        Ok(Aim { travel: near, short: Some(self.said(message)) })
    }

    /// A value of the quantity as a person reads it.
    fn print(&self, x: f64) -> String {
        use circuit::Quantity::*;
        let style = quantity::Style::default();
        let text = match self.query.quantity {
            Gain(..) if x == 0.0 => return "no signal".into(),
            Gain(..) if self.signed => quantity::ratio(x, style),
            Gain(..) => quantity::decibels(quantity::db(x), style),
            Phase(..) => quantity::degrees(x, style),
            LowCorner(..) | HighCorner(..) => quantity::computed(x, quantity::Unit::Hertz, style),
            Measure(_) => quantity::computed(x, quantity::Unit::One, style),
            Impedance(_) | InputImpedance(..) | OutputImpedance(..) => {
                quantity::computed(x, quantity::Unit::Ohm, style)
            }
        };
        text.unwrap_or_else(|| "unknown".into())
    }
}

/// The place between two looks on both sides of the target, by halving.
fn narrowed(
    mut low: (f64, f64),
    mut high: (f64, f64),
    target: f64,
    at: &impl Fn(f64) -> Result<f64, String>,
) -> Result<(f64, f64), String> {
    for _ in 0..60 {
        let middle = 0.5 * (low.0 + high.0);
        if middle <= low.0 || middle >= high.0 {
            break;
        }
        let value = at(middle)?;
        if (value - target) * (low.1 - target) <= 0.0 { high = (middle, value) } else { low = (middle, value) }
    }
    Ok(if (low.1 - target).abs() <= (high.1 - target).abs() { low } else { high })
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
