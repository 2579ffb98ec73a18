//! What a preset is set by, and what to say where it cannot be.

use std::sync::Arc;

use analysis::Plan;
use analysis::preset::{Amiss, Goal, ROUNDS};
use circuit::{Circuit, Position, Refusal, Trim};
use notation::tree::{Fault, Span};

use crate::database::{Desk, Document, WayKey, planned, way};
use crate::trim::Untrimmed;

fn fault(id: &'static str, span: Span, message: String) -> Fault {
    Fault { id, span, message, unfinished: false, fixes: Vec::new() }
}

/// Takes a trim's quantity apart.
pub(crate) fn goal(db: &dyn Desk, document: Document, circuit: &Circuit, trim: &Trim) -> Result<Goal, Untrimmed> {
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
        let message = format!("{name} is set by one quantity");
        return Err(said(fault("trim-unreached", trim.quantity.span, message)));
    };
    let plan = match query.quantity {
        circuit::Quantity::Measure(_) => Arc::new(Plan::Measure),
        _ => {
            let key = WayKey::new(db, way(db, document, &query.quantity, query.from));
            planned(db, document, key).ok_or_else(|| quiet(cannot()))?
        }
    };
    Ok(Goal { control: trim.control, plan, query: query.clone(), target: trim.target, signed: trim.signed })
}

/// What to say of a preset that does not stand where it should.
pub(crate) fn told(circuit: &Circuit, trim: &Trim, goal: &Goal, amiss: &Amiss) -> Untrimmed {
    let name = &circuit.controls[goal.control.at()].name;
    let phrase = &goal.query.phrase;
    let cannot = format!("{name} cannot be trimmed");
    let said = |id, clause: String, message, unknown| Untrimmed {
        clause,
        fault: Some(fault(id, trim.quantity.span, message)),
        unknown,
    };
    match amiss {
        Amiss::Unknown(why) => {
            let message = format!("{cannot}: {phrase} is unknown, {why}");
            said("trim-unreached", cannot, message, true)
        }
        Amiss::Still => said("trim-unreached", cannot, format!("{name} does not move {phrase}"), false),
        Amiss::Short { least, most } => {
            let text = |x: f64| print(goal, x);
            let message = format!(
                "{name} cannot bring {phrase} to {}: it reaches {} at {} and {} at {}",
                goal.target.map_or_else(String::new, text),
                text(least.1),
                Position::Travel(least.0),
                text(most.1),
                Position::Travel(most.0)
            );
            said("trim-unreached", cannot, message, false)
        }
        Amiss::Unsettled(others) => {
            let others: Vec<&str> = others.iter().map(|c| &*circuit.controls[c.at()].name).collect();
            let clause = match &others[..] {
                [] => format!("{name} does not settle"),
                all => format!("{name} and {} undo each other's trim", all.join(", ")),
            };
            let message = format!("{clause}: set in turn {ROUNDS} times, they do not all come to what is wanted");
            said("trim-unsettled", clause, message, false)
        }
    }
}

/// A value of the quantity as a person reads it.
fn print(goal: &Goal, x: f64) -> String {
    use circuit::Quantity::*;
    let style = quantity::Style::default();
    let text = match &goal.query.quantity {
        Gain(..) if x == 0.0 => return "no signal".into(),
        Gain(..) if goal.signed => quantity::ratio(x, style),
        Gain(..) => quantity::decibels(quantity::db(x), style),
        Phase(..) => quantity::degrees(x, style),
        LowCorner(..) | HighCorner(..) if x.is_infinite() => return "none".into(),
        LowCorner(..) | HighCorner(..) => quantity::computed(x, quantity::Unit::Hertz, style),
        Measure(measure) => return analysis::measure::text(measure, x, style),
        Transimpedance(..) | Impedance(_) | InputImpedance(..) | OutputImpedance(..) => {
            quantity::computed(x, quantity::Unit::Ohm, style)
        }
    };
    text.unwrap_or_else(|| "unknown".into())
}
