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
        // The ends of the range belong to it. A little in front of a member that is above, a little beyond it the next one.
        let mut at = value / REACH / 1.0001;
        loop {
            let (_, above) = series.neighbours(at)?;
            if above > value * REACH * (1.0 + 1e-9) {
                break;
            }
            if above >= value / REACH * (1.0 - 1e-9) && !values.iter().any(|v| (v / above - 1.0).abs() < 1e-9) {
                values.push(above);
            }
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
    /// How far inside the limit.
    margin: f64,
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
            margin,
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
    /// It does not hold over the tolerances that the file states.
    loose: bool,
}

/// What is looked for: a value with which the requirement holds as it is drawn, or one with which it holds over tolerance, where it does so
/// as it is drawn already.
#[derive(Clone, Copy, PartialEq)]
enum Goal {
    Nominal,
    Tolerance,
}

/// So many members of a series beyond the first value that holds as it is drawn are tried over tolerance.
const FURTHER: usize = 6;
/// Where only the margin over tolerance is short, so many members on either side are tried.
const ASIDE: usize = 24;

/// The ways out of a problem that are not known with it.
pub(crate) fn of_problem(db: &dyn Desk, document: Document, problem: &Problem, stop: &dyn Fn() -> bool) -> Ways {
    if !matches!(problem.id, "requirement-fails" | "requirement-tolerance") {
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
    let over = crate::over::stated(&circuit);
    let fails = decided.iter().any(|d| d.decision.as_ref().is_some_and(|d| d.verdict == Verdict::Fails));
    let goal = if fails { Goal::Nominal } else { Goal::Tolerance };
    // Of a requirement that holds, what is lost over tolerance.
    let spread = match goal {
        Goal::Nominal => 0.0,
        Goal::Tolerance => match over.then(|| lost(db, document, decided, (block, entry))).flatten() {
            Some(lost) => lost,
            None => return Ways::default(),
        },
    };
    let mut search = Search {
        db,
        all: &all,
        at: (block, entry),
        trial: Trial::of(db, document),
        failing: failing(&all),
        goal,
        spread,
        over,
        stop,
    };
    let mut candidates = candidates(db, document, &circuit, moving(db, document, decided).as_deref());
    candidates.truncate(MOST_PARTS);
    let count = candidates.len();
    let (mut found, mut tried, mut series): (Vec<Found>, Vec<String>, Vec<Series>) = Default::default();
    let mut between = Vec::new();
    for (name, candidate) in candidates {
        if stop() {
            break;
        }
        tried.push(name.clone());
        let Some(ladder) = Ladder::of(candidate.value, candidate.unit, candidate.series) else { continue };
        series.push(candidate.series);
        match search.one(&name, &ladder, &candidate.place, None) {
            Look::Found(way) => found.push(way),
            Look::Between if !candidate.asked => between.push((name, candidate)),
            _ => {}
        }
    }
    // Where no value of the usual series meets it and two of them lie on either side, one of a finer series may.
    for finer in [Series::E24, Series::E96, Series::E192] {
        if !found.is_empty() || stop() {
            break;
        }
        for (name, candidate) in &between {
            // Capacitors and inductors are made in E24 at most.
            let made = candidate.unit == Unit::Ohm || finer == Series::E24;
            if finer.count() <= candidate.series.count() || !made || stop() {
                continue;
            }
            let Some(ladder) = Ladder::of(candidate.value, candidate.unit, finer) else { continue };
            series.push(finer);
            if let Look::Found(way) = search.one(name, &ladder, &candidate.place, Some(finer)) {
                found.push(way);
            }
        }
    }
    found.sort_by_key(|f| (f.breaks, f.loose, f.steps));
    let stopped = stop();
    let none = (found.is_empty() && !tried.is_empty() && !stopped).then(|| {
        series.sort_by_key(|s| s.count());
        series.dedup();
        let of: Vec<&str> = series.iter().map(|s| s.name()).collect();
        let (of, parts) = (quantity::list(&of, "or"), quantity::list(&tried, "or"));
        match goal {
            Goal::Nominal => {
                format!("no value of {parts} alone, of {of} from a hundredth to a hundredfold, would meet it")
            }
            Goal::Tolerance => format!("no value of {parts} alone, of {of} nearby, would hold over tolerance"),
        }
    });
    let stopped = stopped.then(|| format!("ways out were looked for in {} of {count} parts only", tried.len()));
    Ways { fixes: found.into_iter().take(TOLD).map(|f| f.fix).collect(), none, stopped }
}

/// How much of its margin a requirement that holds loses over tolerance, in its limit's unit; `None` where it does not fail there.
fn lost(db: &dyn Desk, document: Document, decided: &[Decided], (block, entry): (u32, u32)) -> Option<f64> {
    let held = crate::decided::held(db, document, block, entry);
    let each = decided.iter().zip(held.iter()).filter_map(|(d, h)| {
        let over = h.as_ref()?.as_ref().ok().filter(|o| o.verdict == Verdict::Fails)?;
        Some(d.decision.as_ref()?.margin? - over.margin)
    });
    each.reduce(f64::max)
}

/// What became of a part's values.
enum Look {
    Found(Found),
    /// None meets it, but what is wanted lies between two of them.
    Between,
    Nothing,
}

/// The search for values of one part after the other.
struct Search<'a> {
    db: &'a dyn Desk,
    all: &'a [(u32, u32, Arc<Vec<Decided>>)],
    at: (u32, u32),
    trial: Trial,
    failing: Failing,
    goal: Goal,
    /// What is lost over tolerance as it is.
    spread: f64,
    /// The file states tolerances.
    over: bool,
    stop: &'a dyn Fn() -> bool,
}

impl Search<'_> {
    fn one(&mut self, name: &str, ladder: &Ladder, place: &Written, finer: Option<Series>) -> Look {
        let (db, stop) = (self.db, self.stop);
        let pulse = || db.unwind_if_revision_cancelled();
        pulse();
        let mut climb =
            Climb { trial: &mut self.trial, ladder, place, at: self.at, seen: BTreeMap::new(), between: false };
        let rung = match self.goal {
            Goal::Nominal => climb.nearest(&pulse, stop),
            Goal::Tolerance => climb.aside(self.spread, &pulse, stop),
        };
        let Some(mut rung) = rung else { return if climb.between { Look::Between } else { Look::Nothing } };
        let mut worst = self.over.then(|| climb.held(rung)).flatten();
        if self.goal == Goal::Nominal && worst.as_ref().is_some_and(|w| !w.0) {
            // A little further on it may hold over tolerance too.
            let further = (1..=FURTHER).filter_map(|k| {
                if rung > ladder.from {
                    Some(rung + k).filter(|r| *r < ladder.values.len())
                } else {
                    rung.checked_sub(k)
                }
            });
            for next in further {
                pulse();
                if stop() || !climb.holds(next) {
                    break;
                }
                if let Some(held) = climb.held(next).filter(|h| h.0) {
                    (rung, worst) = (next, Some(held));
                    break;
                }
            }
        }
        let Some(text) = quantity::canonical(ladder.values[rung], ladder.unit) else { return Look::Nothing };
        let reading = climb.look(rung).map(|o| o.text.clone()).unwrap_or_default();
        let edit = Edit { range: place.range.clone(), text: text.clone() };
        let then = self.trial.with(&edit);
        let (broken, worse) = (broken(&then, &self.failing), worse(&then, self.at, self.all));
        let shown = quantity::exact(ladder.values[rung], ladder.unit, Style::default()).unwrap_or(text);
        let told = |all: &[String], one: &str, many: &str| match all {
            [] => None,
            [phrase] => Some(format!("{phrase} {one}")),
            [phrase, rest @ ..] => Some(format!("{phrase} and {} more {many}", rest.len())),
        };
        let then = [told(&broken, "fails", "fail"), told(&worse, "misses by more", "miss by more")];
        let then: Vec<String> = then.into_iter().flatten().collect();
        let then = if then.is_empty() { String::new() } else { format!(", but then {}", then.join(", and ")) };
        let of = finer.map_or_else(String::new, |s| format!(" ({})", s.name()));
        let over = match &worst {
            Some((true, text)) => format!(", at worst {text}"),
            Some((false, text)) => format!(" nominally, not over tolerance ({text} at worst)"),
            None => String::new(),
        };
        let title = format!("make {name} {shown}{of}: {reading}{over}{then}");
        Look::Found(Found {
            steps: rung.abs_diff(ladder.from),
            fix: Fix { title, edits: vec![edit] },
            breaks: !broken.is_empty() || !worse.is_empty(),
            loose: worst.is_some_and(|w| !w.0),
        })
    }
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
        // What is lost in the last digit is no change.
        let limit = a.limit.map_or(0.0, |l| match l.unit {
            Unit::Decibel | Unit::Dbu | Unit::Dbv => 0.01,
            _ => 0.01 * a.decision.as_ref().and_then(|d| d.limit).unwrap_or(0.0).abs(),
        });
        after < before - limit.max(1e-6 * before.abs())
    };
    let each = pairs.filter_map(|(a, b)| a.2.iter().zip(b.2.iter()).find(further));
    each.filter_map(|(_, d)| d.reading.as_ref().map(|r| r.phrase.to_string())).collect()
}

/// A part whose figure may be changed.
struct Candidate {
    value: f64,
    unit: Unit,
    series: Series,
    /// The entry asks for that series.
    asked: bool,
    place: Written,
}

/// The parts whose figure may be changed: their own, that nothing else has to match and that nobody else gives.
fn candidates(
    db: &dyn Desk,
    document: Document,
    circuit: &Circuit,
    moving: Option<&[PartId]>,
) -> Vec<(String, Candidate)> {
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
            let (asked, series) = (place.series.is_some(), place.series.unwrap_or(usual));
            Some((part.name.to_string(), Candidate { value, unit, series, asked, place }))
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
    /// What is wanted lies between two values, neither of which meets it.
    between: bool,
}

impl Climb<'_> {
    /// Whether the requirement holds over tolerance at a rung, and its worst value; `None` where that is not told.
    fn held(&mut self, rung: usize) -> Option<(bool, String)> {
        let text = quantity::canonical(self.ladder.values[rung], self.ladder.unit)?;
        let then = self.trial.with(&Edit { range: self.place.range.clone(), text });
        let document = then.document(HERE)?;
        let decided = crate::decided::one(&then.database, document, self.at.0, self.at.1);
        let held = crate::decided::held(&then.database, document, self.at.0, self.at.1);
        let mut worst: Option<(f64, bool, String)> = None;
        for (d, h) in decided.iter().zip(held.iter()) {
            let (over, limit, reading) = (h.as_ref()?.as_ref().ok()?, d.limit.as_ref()?, d.reading.as_ref()?);
            let text = argument::require::value_text(reading, over.value, limit, 0);
            if worst.as_ref().is_none_or(|w| over.margin < w.0) {
                let so_far = worst.as_ref().is_none_or(|w| w.1);
                worst = Some((over.margin, so_far && over.verdict == Verdict::Holds, text));
            }
        }
        worst.map(|w| (w.1, w.2))
    }

    /// The value nearest to the part's own at which the requirement holds over tolerance, on the side on which its margin grows. One that
    /// has not gained half of what is lost over tolerance is not tried: the spread moves less than the value does.
    fn aside(&mut self, spread: f64, pulse: &dyn Fn(), stop: &dyn Fn() -> bool) -> Option<usize> {
        let (from, last) = (self.ladder.from, self.ladder.values.len() - 1);
        let now = self.look(from)?.margin;
        let mut best: Option<usize> = None;
        for up in [true, false] {
            let mut before = now;
            for step in 1..=ASIDE {
                pulse();
                if stop() {
                    return best;
                }
                let at = if up { Some(from + step).filter(|r| *r <= last) } else { from.checked_sub(step) };
                let Some((at, margin)) = at.and_then(|r| Some((r, self.look(r)?.margin))) else { break };
                // Beyond the middle of what is wanted the margin falls again.
                if margin <= before {
                    break;
                }
                before = margin;
                if margin >= 0.5 * spread && self.held(at).is_some_and(|h| h.0) {
                    if best.is_none_or(|b| step < b.abs_diff(from)) {
                        best = Some(at);
                    }
                    break;
                }
            }
        }
        best
    }

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
            let end = if up { last - from } else { from };
            let mut next = Some(1).filter(|_| end > 0);
            while let Some(step) = next {
                pulse();
                if stop() {
                    return None;
                }
                next = (step < end).then(|| (2 * step).min(end));
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
                    self.between = true;
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
