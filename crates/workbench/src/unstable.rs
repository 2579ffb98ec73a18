//! A circuit that grows by itself: who does it, at which frequency, how fast, and what would hold it.

use std::sync::Arc;

use analysis::measure::Growth;
use argument::rules::below_minimum_gain::Figures;
use circuit::{Circuit, PartId, PartKind};
use quantity::{Style, Unit};

use crate::database::{Desk, Document, circuit_of, whole};
use crate::plain::{Problem, Severity};

/// The parts of a circuit that grow by themselves.
#[salsa::tracked(returns(clone))]
pub fn growing(db: &dyn Desk, document: Document) -> Arc<Vec<Growth>> {
    let circuit = circuit_of(db, document);
    // Without an amplifier nothing feeds a growth.
    let active = circuit.parts.iter().any(|p| !p.unfitted && matches!(p.kind, PartKind::Amplifier { .. }));
    let whole = active.then(|| whole(db, document)).flatten();
    Arc::new(
        whole.map_or_else(Vec::new, |w| {
            analysis::measure::unstable(&w, &circuit, &|| db.unwind_if_revision_cancelled())
        }),
    )
}

/// Of each growth the noise gain that one of its amplifiers lacks, and what would raise it, in words: a type that is made for a minimum of
/// it grows by itself below that, whatever else is in its loop.
#[salsa::tracked(returns(clone))]
pub fn starved(db: &dyn Desk, document: Document) -> Arc<Vec<Option<String>>> {
    let growing = growing(db, document);
    let circuit = circuit_of(db, document);
    let decompensated = |p: &&PartId| match &circuit.parts[p.at()].kind {
        PartKind::Amplifier { sheet, .. } => sheet.minimum_gain.nominal().is_some_and(|m| m > 1.0),
        _ => false,
    };
    let one = |g: &Growth| {
        let pulse = || db.unwind_if_revision_cancelled();
        let whole = whole(db, document)?;
        g.amplifiers.iter().filter(decompensated).find_map(|part| {
            // A decade below where it swings the capacitances at its inputs, which turn the loop further, have no say yet.
            let hertz = 0.1 * g.frequency;
            let loops = analysis::measure::loops(&whole, &circuit, *part, hertz, &pulse).ok()?;
            let at =
                loops.iter().filter(|l| l.left > 0.0).reduce(|a, b| if b.noise_gain < a.noise_gain { b } else { a })?;
            let figures = crate::review::loops::starved(&circuit, *part, &loops)?;
            let figures = Figures { noise_gain: at.noise_gain.min(figures.noise_gain), ..figures };
            if !figures.low() {
                return None;
            }
            let times = |x: f64| quantity::ratio(x, Style::default()).unwrap_or_default();
            let at = if figures.position.is_empty() { String::new() } else { format!(" at {}", figures.position) };
            Some(format!(
                "{} ({}) is made for noise gains from {} on, and has {}{at}. {}.",
                figures.amplifier,
                figures.kind,
                times(figures.minimum),
                times(figures.noise_gain),
                figures.way()
            ))
        })
    };
    Arc::new(growing.iter().map(one).collect())
}

/// What is said about them; the place is that of a part. `starved` has the cause of those that lack noise gain.
pub(crate) fn problems(
    circuit: &Circuit,
    growing: &[(Growth, Option<String>)],
    place: impl Fn(usize) -> Option<std::ops::Range<usize>>,
) -> Vec<Problem> {
    let one = |(g, starved): &(Growth, Option<String>)| {
        let first = g.amplifiers.first().or(g.parts.first())?;
        let mut names: Vec<String> = g.amplifiers.iter().map(|p| circuit.parts[p.at()].name.to_string()).collect();
        let message = message(g, &names, slow(circuit, g), starved.as_deref());
        for part in g.amplifiers.iter().chain(&g.parts) {
            let stage = circuit.stages[circuit.parts[part.at()].stage.at()].name.to_string();
            if !names.contains(&stage) {
                names.push(stage);
            }
        }
        Some(Problem {
            range: place(first.at())?,
            severity: Severity::Warning,
            id: "unstable",
            message,
            names,
            fixes: Vec::new(),
            unfinished: false,
        })
    };
    growing.iter().filter_map(one).collect()
}

/// Whether a growth is far below what any amplifier of its loop does by itself: then it is the circuit's own parts that are fed too much.
fn slow(circuit: &Circuit, g: &Growth) -> bool {
    g.amplifiers.iter().all(|p| match &circuit.parts[p.at()].kind {
        PartKind::Amplifier { sheet, .. } => sheet.gain_bandwidth.nominal().is_none_or(|f| f > 100.0 * g.frequency),
        _ => true,
    })
}

fn message(g: &Growth, names: &[String], slow: bool, starved: Option<&str>) -> String {
    let at = if g.position.is_empty() { String::new() } else { format!(" at {}", g.position) };
    let loop_of = match names {
        [] => "the circuit".to_string(),
        [one] => one.clone(),
        [head @ .., last] => format!("the loop of {} and {last}", head.join(", ")),
    };
    let time = quantity::computed(1.0 / g.rate, Unit::Second, Style::default()).unwrap_or_else(|| "no time".into());
    if g.frequency == 0.0 && names.len() > 1 {
        return format!(
            "{loop_of} runs away{at}: what goes round it comes back with its own sign and more than it was, and any voltage grows e-fold in {time} until it stands at a rail. Readings go on as if it stayed at rest; one inversion more or less in the loop, or less gain in the part of it that feeds itself, is the way out."
        );
    }
    if g.frequency == 0.0 {
        return format!(
            "{loop_of} runs away{at}: what is fed back to the + side outweighs the rest, and any voltage grows e-fold in {time} until it stands at a rail. Readings go on as if it stayed at rest; for a linear stage the feedback goes to the - input."
        );
    }
    let f = quantity::computed(g.frequency, Unit::Hertz, Style::default()).unwrap_or_else(|| "some frequency".into());
    if let Some(cause) = starved {
        return format!(
            "{loop_of} oscillates at {f}{at}: a pole pair in the right half plane grows e-fold in {time}. Readings go on as if it stayed at rest. {cause}"
        );
    }
    let way = if slow {
        "less gain in its loop is the way out."
    } else {
        "a resistor in front of a load of capacitance, or a small capacitor across the feedback resistor, is the usual way out."
    };
    let margin = names.first().map_or_else(String::new, |n| format!(" `phase margin of {n}` shows the loop;"));
    format!(
        "{loop_of} oscillates at {f}{at}: a pole pair in the right half plane grows e-fold in {time}. Readings go on as if it stayed at rest.{margin} {way}"
    )
}
