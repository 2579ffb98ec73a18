//! What a phrase asks to be drawn.

use circuit::{ControlId, Measure, PartKind, Point, Quantity, Query, Refusal, StageId};

use super::Refused;
use super::scene::Scene;
use crate::database::{query, stage_quantities};

/// What is drawn.
#[derive(Clone, Debug)]
pub(crate) enum Subject {
    /// A gain, an angle or an impedance over frequency.
    Response(Query),
    /// A noise density by who makes it.
    Noise(Query, Point),
    /// A quantity of the whole circuit, frequency by frequency.
    Sampled(Query),
    /// The answer to a step of 1 V.
    Step(Query),
    /// The envelope of a burst of tone.
    Burst(Query),
    /// A reading against a control's travel.
    Travel(Query, ControlId),
    /// The error of an assumption, by its block and entry.
    Assumption(usize, usize),
    /// Noise, signal and clipping from the source to the output.
    Levels,
}

/// Reads a phrase; one that names several things behind `of` asks for each.
pub(crate) fn subjects(scene: &Scene, phrase: &str) -> Result<Vec<Subject>, Refused> {
    let said = phrase.trim();
    let words: Vec<&str> = said.split_whitespace().collect();
    match words[..] {
        ["level", "diagram"] => return Ok(vec![Subject::Levels]),
        ["stage", name] => return stage(scene, name).map(|s| vec![s]),
        ["assumption", which] => return assumption(scene, which).map(|s| vec![s]),
        ["node", name] => return subjects(scene, &format!("impedance of {name}")),
        _ => {}
    }
    // `against` a control is a picture's own clause: a reading has it at each position.
    let (said, control) = match words[..] {
        [.., "against", name] if control(scene, name).is_some() => {
            (&said[..said.rfind("against").unwrap_or(said.len())], control(scene, name))
        }
        _ => (said, None),
    };
    let (front, text) = match ["step ", "burst "].into_iter().find_map(|front| Some((front, said.strip_prefix(front)?)))
    {
        Some((front, rest)) => (front, format!("gain {rest}")),
        None => ("", said.to_string()),
    };
    let wrong = |mut fault: notation::tree::Fault| {
        // The word in front is longer than the one that was read in its place.
        let longer = front.len().saturating_sub("gain ".len()) as u32;
        fault.span.start += longer;
        fault.span.end = (fault.span.end + longer).min(said.len() as u32);
        Refused::Wrong { phrase: said.to_string(), fault }
    };
    let (parsed, fault) = notation::read_phrase(&text);
    if let Some(fault) = fault {
        return Err(wrong(fault));
    }
    let queries = match circuit::resolve::resolve(&scene.circuit, &parsed) {
        Ok(queries) => queries,
        Err(Refusal::Wrong(fault)) => return Err(wrong(fault)),
        Err(Refusal::Undecided(why)) => return Err(Refused::Not(format!("{said}: {why}"))),
        Err(Refusal::Unfinished) => return Err(Refused::Not(format!("`{said}` is unfinished"))),
    };
    let one = |mut query: Query| {
        if let Some(control) = control {
            return Ok(Subject::Travel(query, control));
        }
        if !front.is_empty() {
            query.phrase = query.phrase.replacen("gain ", front, 1).into();
            return Ok(if front == "step " { Subject::Step(query) } else { Subject::Burst(query) });
        }
        of(query).map_err(|why| Refused::Not(format!("{said}: {why}")))
    };
    queries.into_iter().map(one).collect()
}

/// What a question's plot shows.
///
/// # Errors
/// Why it has none: a clause.
pub(crate) fn of(query: Query) -> Result<Subject, String> {
    use Measure::*;
    Ok(match &query.quantity {
        Quantity::Measure(Noise(p) | NoiseDensity(p)) => {
            let point = p.clone();
            Subject::Noise(query, point)
        }
        // What is told of a whole band is drawn by what it is made of.
        Quantity::Measure(InputNoise(a, b)) => {
            let quantity = Quantity::Measure(InputNoiseDensity(a.clone(), b.clone()));
            let phrase = query.phrase.replacen("input noise", "input noise density", 1);
            let phrase = phrase.replace(" A-weighted", "").replace(" 468-weighted", "").into();
            Subject::Sampled(Query { quantity, phrase, weighting: None, ..query })
        }
        Quantity::Measure(Flatness(..)) => Subject::Response(query),
        Quantity::Measure(PhaseMargin(_) | GainMargin(_)) => {
            return Err("a margin is one figure of its loop, and has no curve: `read` tells it".into());
        }
        Quantity::Measure(NaturalFrequency(_) | Q(_)) => {
            return Err("it is one figure, and has no curve: `stage NAME` shows the response".into());
        }
        Quantity::Measure(Dc(_) | Offset(_) | SupplyCurrent(_) | Dissipation(..)) => {
            return Err("it is one figure, and has no curve: `against` a control it has one".into());
        }
        Quantity::Measure(_) => Subject::Sampled(query),
        _ => Subject::Response(query),
    })
}

/// A control by its name, or by that of one of its units.
fn control(scene: &Scene, name: &str) -> Option<ControlId> {
    let named = scene.hands.controls.iter().position(|c| *c.name == *name).map(|i| ControlId(i as u32));
    let part = || scene.circuit.parts.iter().find(|p| *p.name == *name).and_then(|p| control_of(&p.kind));
    named.or_else(part)
}

/// The control that a part is.
pub(crate) fn control_of(kind: &PartKind) -> Option<ControlId> {
    match kind {
        PartKind::Variable { control, .. } | PartKind::Switch { control, .. } => Some(*control),
        _ => None,
    }
}

/// What a stage does: its gain, or what it draws where it has no output.
fn stage(scene: &Scene, name: &str) -> Result<Subject, Refused> {
    let Some(id) = scene.circuit.stage(name) else {
        let all: Vec<&str> = scene.circuit.stages.iter().map(|s| &*s.name).collect();
        return Err(Refused::Not(format!("there is no stage {name}: there {}", list(&all))));
    };
    stage_query(scene, id)
        .map(Subject::Response)
        .ok_or_else(|| Refused::Not(format!("stage {name} has neither an input nor an output to look at")))
}

fn list(all: &[&str]) -> String {
    match all {
        [] => "is none".into(),
        [one] => format!("is {one}"),
        many => format!("are {}", quantity::list(many, "and")),
    }
}

/// A stage's own question.
pub(crate) fn stage_query(scene: &Scene, id: StageId) -> Option<Query> {
    let (gain, impedance) = stage_quantities(&scene.circuit, id);
    let quantity = gain.map(|[gain, ..]| gain).or(impedance)?;
    let mut found = query(quantity, None, None);
    if matches!(found.quantity, Quantity::InputImpedance(..)) {
        found.phrase = format!("input impedance of {}", scene.circuit.stages[id.at()].name).into();
    }
    Some(found)
}

/// An assumption by its number in the file, or by what it neglects.
fn assumption(scene: &Scene, which: &str) -> Result<Subject, Refused> {
    let all = crate::assumed::all(scene.db, scene.document);
    let by_number = which.parse::<usize>().ok().and_then(|n| all.get(n.checked_sub(1)?));
    let neglects = |found: &crate::assumed::Found| {
        found.as_ref().as_ref().is_ok_and(|costs| costs.all.iter().any(|c| c.name == which))
    };
    match by_number.or_else(|| all.iter().find(|a| neglects(&a.2))) {
        Some((block, entry, _)) => Ok(Subject::Assumption(*block as usize, *entry as usize)),
        None if all.is_empty() => Err(Refused::Not("the file assumes nothing".into())),
        None => {
            Err(Refused::Not(format!("there is no assumption {which}: the file has {}, counted from 1", all.len())))
        }
    }
}
