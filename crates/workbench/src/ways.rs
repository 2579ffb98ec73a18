//! Ways out of a requirement that fails: for each part that moves its reading, the nearest value that can be bought and meets it.
//!
//! A value is tried by writing it into the text and deciding the whole file anew, apart from the one that is being edited. So presets are
//! set again, values that are worked out from it follow, and what else a change would break is told with it.

use std::collections::BTreeMap;
use std::sync::Arc;

use argument::Verdict;
use circuit::{Circuit, PartId, PartKind};
use quantity::{Series, Style, Unit};

use notation::tree::BlockKind;

use crate::database::{Desk, Document, WayKey, circuit_of, entries_of, layout, network, planned, way};
use crate::decided::Decided;
use crate::desk::Snapshot;
use crate::plain::{Edit, Fix, Problem, Ways};
use crate::trial::{HERE, Trial};
use crate::written::{Written, written};

/// Parts of a design beyond this number are not tried: each takes some twenty trials of the whole file.
const MOST_PARTS: usize = 24;
/// So many ways are told, the smallest changes first.
const TOLD: usize = 4;
/// Values are looked for as far as this factor from the one that is written.
const REACH: f64 = 100.0;

/// The values of a series around a part's own.
struct Ladder {
    unit: Unit,
    /// Upwards. The part's own value is at `from`, whether it is a member or not.
    values: Vec<f64>,
    from: usize,
}

impl Ladder {
    fn of(value: f64, unit: Unit, series: Series) -> Option<Ladder> {
        let mut values = vec![value];
        let mut at = value / REACH;
        while at <= value * REACH {
            let (_, above) = series.neighbours(at)?;
            if !values.iter().any(|v| (v / above - 1.0).abs() < 1e-9) {
                values.push(above);
            }
            // A little beyond a member the next one is above.
            at = above * 1.0001;
        }
        values.sort_by(f64::total_cmp);
        let from = values.iter().position(|v| *v == value)?;
        Some(Ladder { unit, values, from })
    }
}

/// What an entry of `require` comes to: the least margin of its readings, the value there and whether all hold.
struct Outcome {
    holds: bool,
    /// How far from the middle of what is wanted, with its sign; of a limit on one side, from that.
    off: f64,
    text: String,
}

fn outcome(all: &[Decided]) -> Option<Outcome> {
    let mut worst: Option<(f64, Outcome)> = None;
    for d in all {
        let (decision, limit, reading) = (d.decision.as_ref()?, d.limit.as_ref()?, d.reading.as_ref()?);
        let (value, margin) = (decision.value?, decision.margin?);
        if matches!(decision.verdict, Verdict::Unknown(_)) {
            return None;
        }
        let wanted = match (limit.low, limit.high) {
            (Some(a), Some(b)) => 0.5 * (a + b),
            (one, other) => one.or(other)?,
        };
        let found = Outcome {
            holds: decision.verdict == Verdict::Holds,
            off: value - wanted,
            text: argument::require::value_text(reading, value, limit, 0),
        };
        if worst.as_ref().is_none_or(|w| margin < w.0) {
            worst = Some((margin, found));
        }
    }
    worst.map(|w| w.1)
}

/// One way: a part with another value.
struct Found {
    /// How many members of its series away.
    steps: usize,
    fix: Fix,
    /// What else would then fail.
    breaks: bool,
}

/// The ways out of a problem that are not known with it.
pub(crate) fn of_problem(db: &dyn Desk, document: Document, problem: &Problem, stop: &dyn Fn() -> bool) -> Ways {
    if problem.id != "requirement-fails" {
        return Ways::default();
    }
    let layout = layout(db, document);
    let at = entries_of(&layout, BlockKind::Require)
        .find(|(b, e)| layout.blocks[*b].entries[*e].range.start == problem.range.start);
    at.map_or_else(Ways::default, |(b, e)| ways(db, document, b as u32, e as u32, stop))
}

/// The ways out of a requirement of a file; none where it holds. `stop` tells that it has been enough.
pub(crate) fn ways(db: &dyn Desk, document: Document, block: u32, entry: u32, stop: &dyn Fn() -> bool) -> Ways {
    let circuit = circuit_of(db, document);
    let all = crate::decided::all(db, document);
    let Some((.., decided)) = all.iter().find(|(b, e, _)| (*b, *e) == (block, entry)) else { return Ways::default() };
    if !decided.iter().any(|d| d.decision.as_ref().is_some_and(|d| d.verdict == Verdict::Fails)) {
        return Ways::default();
    }
    let mut trial = Trial::of(db, document);
    let failing = failing(&all);
    let (mut found, mut tried): (Vec<Found>, Vec<String>) = Default::default();
    let moving = moving(db, document, decided);
    let mut candidates = candidates(db, document, &circuit, moving.as_deref());
    candidates.truncate(MOST_PARTS);
    let (count, mut stopped) = (candidates.len(), false);
    for (name, ladder, place) in candidates {
        if stop() {
            stopped = true;
            break;
        }
        tried.push(name.clone());
        db.unwind_if_revision_cancelled();
        let mut climb =
            Climb { trial: &mut trial, ladder: &ladder, place: &place, at: (block, entry), seen: BTreeMap::new() };
        let Some(rung) = climb.nearest(&|| db.unwind_if_revision_cancelled(), stop) else { continue };
        let Some(text) = quantity::canonical(ladder.values[rung], ladder.unit) else { continue };
        let edit = Edit { range: place.range.clone(), text: text.clone() };
        let reading = climb.look(rung).map(|o| o.text.clone()).unwrap_or_default();
        let then = trial.with(&edit);
        let (broken, worse) = (broken(&then, &failing), worse(&then, (block, entry), &all));
        let shown = quantity::exact(ladder.values[rung], ladder.unit, Style::default()).unwrap_or(text);
        let told = |all: &[String], one: &str, many: &str| match all {
            [] => None,
            [phrase] => Some(format!("{phrase} {one}")),
            [phrase, rest @ ..] => Some(format!("{phrase} and {} more {many}", rest.len())),
        };
        let then = [told(&broken, "fails", "fail"), told(&worse, "misses by more", "miss by more")];
        let then: Vec<String> = then.into_iter().flatten().collect();
        let then = if then.is_empty() { String::new() } else { format!(", but then {}", then.join(", and ")) };
        let title = format!("make {name} {shown}: {reading}{then}");
        let steps = rung.abs_diff(ladder.from);
        found.push(Found {
            steps,
            fix: Fix { title, edits: vec![edit] },
            breaks: !broken.is_empty() || !worse.is_empty(),
        });
    }
    found.sort_by_key(|f| (f.breaks, f.steps));
    stopped |= stop();
    let none = (found.is_empty() && !tried.is_empty() && !stopped).then(|| {
        format!("no value of {} alone, from a hundredth to a hundredfold, would meet it", quantity::list(&tried, "or"))
    });
    let stopped = stopped.then(|| format!("ways out were looked for in {} of {count} parts only", tried.len()));
    Ways { fixes: found.into_iter().take(TOLD).map(|f| f.fix).collect(), none, stopped }
}

/// The parts that the readings of a requirement hang on; `None` where that may be any part of the circuit.
fn moving(db: &dyn Desk, document: Document, decided: &[Decided]) -> Option<Vec<PartId>> {
    let network = network(db, document);
    let mut all = Vec::new();
    for d in decided {
        let query = d.query.as_ref()?;
        if let circuit::Quantity::Measure(_) = query.quantity {
            return None;
        }
        let plan = planned(db, document, WayKey::new(db, way(db, document, &query.quantity, query.from)))?;
        all.extend(plan.local()?.parameters.iter().map(|p| network.parameters[*p as usize].0));
    }
    Some(all)
}

type Failing = Vec<((u32, u32), bool)>;

fn failing(all: &[(u32, u32, Arc<Vec<Decided>>)]) -> Failing {
    let fails = |d: &Decided| d.decision.as_ref().is_some_and(|d| d.verdict == Verdict::Fails);
    all.iter().map(|(b, e, all)| ((*b, *e), all.iter().any(fails))).collect()
}

/// The requirements that hold now and would not then, by their phrases.
fn broken(then: &Snapshot, now: &Failing) -> Vec<String> {
    let Some(document) = then.document(HERE) else { return Vec::new() };
    let all = crate::decided::all(&then.database, document);
    let phrase = |all: &[Decided]| {
        let fails = |d: &&Decided| d.decision.as_ref().is_some_and(|d| d.verdict == Verdict::Fails);
        all.iter().find(fails).and_then(|d| d.reading.as_ref()).map(|r| r.phrase.to_string())
    };
    let held = |at: (u32, u32)| now.iter().any(|n| n.0 == at && !n.1);
    all.iter().filter(|(b, e, _)| held((*b, *e))).filter_map(|(.., all)| phrase(all)).collect()
}

/// The requirements, but for one, that fail now and would miss by more then, by their phrases.
fn worse(then: &Snapshot, but: (u32, u32), now: &[(u32, u32, Arc<Vec<Decided>>)]) -> Vec<String> {
    let Some(document) = then.document(HERE) else { return Vec::new() };
    let all = crate::decided::all(&then.database, document);
    let margin = |d: &Decided| d.decision.as_ref().filter(|d| d.verdict == Verdict::Fails).and_then(|d| d.margin);
    let pairs = now.iter().zip(&all).filter(|(a, _)| (a.0, a.1) != but);
    let further = |(a, b): &(&Decided, &Decided)| {
        let (Some(before), Some(after)) = (margin(a), margin(b)) else { return false };
        after < before - 1e-6 * before.abs()
    };
    let each = pairs.filter_map(|(a, b)| a.2.iter().zip(b.2.iter()).find(further));
    each.filter_map(|(_, d)| d.reading.as_ref().map(|r| r.phrase.to_string())).collect()
}

/// The parts whose figure may be changed: their own, that nothing else has to match and that nobody else gives.
fn candidates(
    db: &dyn Desk,
    document: Document,
    circuit: &Circuit,
    moving: Option<&[PartId]>,
) -> Vec<(String, Ladder, Written)> {
    let free = |part: PartId| {
        moving.is_none_or(|m| m.contains(&part)) && !circuit.matched.iter().any(|m| m.parts.contains(&part))
    };
    let parts = circuit.parts.iter().enumerate();
    let parts = parts.filter(|(i, p)| !p.external && !p.unfitted && free(PartId(*i as u32)));
    parts
        .filter_map(|(_, part)| {
            let (value, unit, usual) = match &part.kind {
                PartKind::Resistor { ohms, .. } => (ohms.number()?, Unit::Ohm, Series::E24),
                PartKind::Capacitor { farads, .. } => (farads.number()?, Unit::Farad, Series::E12),
                PartKind::Inductor { henries, .. } => (henries.number()?, Unit::Henry, Series::E12),
                _ => return None,
            };
            let place = written(db, document, &part.name)?;
            let ladder = Ladder::of(value, unit, place.series.unwrap_or(usual))?;
            Some((part.name.to_string(), ladder, place))
        })
        .collect()
}

/// The trials of one part's values.
struct Climb<'a> {
    trial: &'a mut Trial,
    ladder: &'a Ladder,
    place: &'a Written,
    at: (u32, u32),
    seen: BTreeMap<usize, Option<Outcome>>,
}

impl Climb<'_> {
    fn look(&mut self, rung: usize) -> Option<&Outcome> {
        if !self.seen.contains_key(&rung) {
            let text = quantity::canonical(self.ladder.values[rung], self.ladder.unit)?;
            let then = self.trial.with(&Edit { range: self.place.range.clone(), text });
            let decided = crate::decided::one(&then.database, then.document(HERE)?, self.at.0, self.at.1);
            self.seen.insert(rung, outcome(&decided));
        }
        self.seen[&rung].as_ref()
    }

    fn holds(&mut self, rung: usize) -> bool {
        self.look(rung).is_some_and(|o| o.holds)
    }

    /// The value nearest to the part's own at which the requirement holds. Between values that were looked at, it is taken to be met
    /// from one side on, or to cross what is wanted once; what is found that way has been tried itself.
    fn nearest(&mut self, pulse: &dyn Fn(), stop: &dyn Fn() -> bool) -> Option<usize> {
        let (from, last) = (self.ladder.from, self.ladder.values.len() - 1);
        let now = self.look(from)?.off;
        let mut best: Option<usize> = None;
        for up in [true, false] {
            let rung = |step: usize| if up { Some(from + step).filter(|r| *r <= last) } else { from.checked_sub(step) };
            let (mut before, mut off) = (0, now);
            for step in [1, 2, 4, 8, 16, 32, 64] {
                pulse();
                if stop() {
                    return None;
                }
                let Some(at) = rung(step) else { break };
                let Some(found) = self.look(at).map(|o| (o.holds, o.off)) else { break };
                // What does not move the reading by now never will.
                if step == 8 && off == now && found.1 == now {
                    break;
                }
                let hit = if found.0 {
                    Some(self.first(before, step, &rung, |climb, r| climb.holds(r)))
                } else if found.1.signum() != off.signum() && off.is_finite() && found.1.is_finite() {
                    // It passed what is wanted in between.
                    let side = off.signum();
                    let over = self
                        .first(before, step, &rung, |climb, r| climb.look(r).is_some_and(|o| o.off.signum() != side));
                    [over.saturating_sub(1), over].into_iter().find(|s| rung(*s).is_some_and(|r| self.holds(r)))
                } else {
                    None
                };
                if let Some(step) = hit {
                    let nearer = |b: usize| step < b.abs_diff(from);
                    if best.is_none_or(nearer) {
                        best = rung(step);
                    }
                    break;
                }
                (before, off) = (step, found.1);
            }
        }
        best.filter(|r| *r != from)
    }

    /// The first step in (`before`, `step`] for which it is so, which it is for the last.
    fn first(
        &mut self,
        before: usize,
        step: usize,
        rung: &dyn Fn(usize) -> Option<usize>,
        mut so: impl FnMut(&mut Self, usize) -> bool,
    ) -> usize {
        let (mut low, mut high) = (before, step);
        while high - low > 1 {
            let middle = (low + high) / 2;
            if rung(middle).is_some_and(|r| so(self, r)) {
                high = middle;
            } else {
                low = middle;
            }
        }
        high
    }
}
