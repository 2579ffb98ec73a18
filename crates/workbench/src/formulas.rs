//! Formulas beside the hand model ([`crate::hand`]) and the exact circuit.

use std::sync::Arc;

use analysis::compare::{self, Side};
use analysis::positions::{GLANCE, Look};
use argument::formula::{Condition, Found, Sample, agrees, furthest, slip};
use circuit::expr;
use circuit::{Circuit, Neglect, PartId, PartKind, PieceKind, Query, Standing};
use notation::Name;
use notation::tree::{BlockKind, EntryTree, Expr, Fault, Fix, Span};

use crate::database::{
    Chunk, Desk, Document, Read, WayKey, circuit_of, entries_of, inputs, layout, planned, reads, way,
};
use crate::hand::{Hand, drawn, samples, tried, worked_out};
use crate::hints::blank;

/// A formula's quantity with what was found of it, or why that is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Formula {
    /// The quantity as a phrase.
    pub phrase: Name,
    /// What kind of value it has.
    pub kind: analysis::Kind,
    /// In which unit.
    pub unit: quantity::Unit,
    /// What was found, or a clause.
    pub found: Result<Found, String>,
}

/// Decides an entry of `formula`, by its text.
#[salsa::tracked(returns(clone))]
pub fn formula<'db>(db: &'db dyn Desk, document: Document, chunk: Chunk<'db>) -> Arc<Vec<Formula>> {
    let unknown = |why: String| {
        let kind = analysis::Kind::Gain;
        vec![Formula { phrase: "".into(), kind, unit: quantity::Unit::One, found: Err(why) }]
    };
    Arc::new(formulas(db, document, chunk).unwrap_or_else(unknown))
}

fn formulas<'db>(db: &'db dyn Desk, document: Document, chunk: Chunk<'db>) -> Result<Vec<Formula>, String> {
    let read = crate::database::read(db, chunk);
    let Read::Entry(_, piece) = &*read else { return Err("it cannot be read".into()) };
    let PieceKind::Formula(entry) = &piece.kind else { return Err("it cannot be read".into()) };
    if let Some((_, fault)) = piece.findings.first() {
        return Err(if fault.unfinished { "it is unfinished" } else { "it cannot be read" }.into());
    }
    let (Some(phrase), Some(value)) = (&entry.quantity, &entry.value) else { return Err("it is unfinished".into()) };
    if let Some(why) = blank(db, document) {
        return Err(why);
    }
    let circuit = circuit_of(db, document);
    let queries = match circuit::resolve::resolve(&circuit, phrase) {
        Ok(queries) => queries,
        Err(circuit::Refusal::Wrong(fault)) => return Err(fault.message),
        Err(circuit::Refusal::Undecided(why)) => return Err(why),
        Err(circuit::Refusal::Unfinished) => return Err("it is unfinished".into()),
    };
    let one = |query: &Query| {
        if compare::comparable(query) {
            let found = compared(db, document, &circuit, query, value);
            let impedance = !matches!(query.quantity, circuit::Quantity::Gain(..));
            let (kind, unit) = if impedance {
                (analysis::Kind::Impedance, quantity::Unit::Ohm)
            } else {
                (analysis::Kind::Gain, quantity::Unit::One)
            };
            return Formula { phrase: query.phrase.clone(), kind, unit, found };
        }
        single(db, document, &circuit, query, value)
    };
    Ok(queries.iter().map(one).collect())
}

/// A formula for one value, beside the exact circuit's.
fn single(db: &dyn Desk, document: Document, circuit: &Circuit, query: &Query, value: &Expr) -> Formula {
    let reading = crate::ask::answer(db, document, query);
    let kind = reading.as_ref().map_or(analysis::Kind::Plain, |r| r.kind);
    let unit = reading.as_ref().map_or(quantity::Unit::One, |r| r.unit);
    let found = (|| {
        let reading = reading.ok_or("the circuit has no unique answer")?;
        if let Some(why) = reading.unknown() {
            let why = why.to_string();
            // A corner with its reference on a slope has no value, and one against another frequency may be what is meant.
            let plain = || {
                let rest: Vec<_> = circuit.controls.iter().map(|c| c.rest).collect();
                let z = worked_out(value, &Standing { circuit, positions: &rest }, circuit.reference).ok()?;
                let f = against(db, document, query, z.norm())?;
                quantity::computed(f, quantity::Unit::Hertz, quantity::Style::default())
            };
            return Err(match plain() {
                Some(f) => format!("{why}. Against {f} the formula is right: write `{} against {f}`", query.phrase),
                None => why,
            });
        }
        let exact = match reading.value {
            analysis::Value::Real(x) => x,
            analysis::Value::Complex(z) => analysis::print::signed(z).unwrap_or_else(|| z.norm()),
            _ => return Err("the circuit has no such value".into()),
        };
        let rest: Vec<_> = circuit.controls.iter().map(|c| c.rest).collect();
        let mut positions = rest;
        for (control, position) in query.when.iter().flat_map(|w| &w.positions) {
            positions[control.at()] = *position;
        }
        let hertz = query.at.unwrap_or(circuit.reference);
        let z = worked_out(value, &Standing { circuit, positions: &positions }, hertz)?;
        if !exact.is_finite() {
            return Err("the circuit has no bound there to hold it against".into());
        }
        // One that is complex at the reference has a magnitude beside a magnitude.
        let plain = analysis::print::signed(z).unwrap_or_else(|| z.norm());
        // An expression reckons with radians and ratios.
        let formula = match unit {
            quantity::Unit::Degree => plain.to_degrees(),
            quantity::Unit::Decibel => 20.0 * plain.abs().log10(),
            _ => plain,
        };
        let mut found = Found::Value { formula, exact, slip: None, instead: None, against: None };
        if !found.holds() {
            let against = against(db, document, query, formula);
            let slipped =
                if against.is_none() { slipped_value(circuit, value, &positions, hertz, unit, exact) } else { None };
            let instead = slipped.as_ref().map(|c| crate::slips::text(&c.expr));
            found = Found::Value { formula, exact, slip: slipped.map(|c| c.clause), instead, against };
        }
        Ok(found)
    })();
    Formula { phrase: query.phrase.clone(), kind, unit, found }
}

/// A corner is told against the level at the reference: where that lies on the slope, the frequency against which the formula is right.
fn against(db: &dyn Desk, document: Document, query: &Query, formula: f64) -> Option<f64> {
    let side = match query.quantity {
        circuit::Quantity::HighCorner(..) => 0.1,
        circuit::Quantity::LowCorner(..) => 10.0,
        _ => return None,
    };
    if query.against.is_some() || query.curve.is_some() || !(formula.is_finite() && formula > 0.0) {
        return None;
    }
    // Round, and well inside of what passes.
    let round = |x: f64| {
        let decade = 10f64.powf(x.log10().floor());
        [1.0, 2.0, 5.0, 10.0]
            .map(|s| s * decade)
            .into_iter()
            .min_by(|a, b| (a / x).ln().abs().total_cmp(&(b / x).ln().abs()))
    };
    [side, side * side].into_iter().filter_map(|s| round(formula * s)).find(|f| {
        let reading = crate::ask::answer(db, document, &Query { against: Some(*f), ..query.clone() });
        let value = reading.filter(|r| r.unknown().is_none()).and_then(|r| r.magnitude());
        value.is_some_and(|exact| Found::plain(formula, exact).holds())
    })
}

/// The slip that makes a formula for one value what the circuit has.
fn slipped_value(
    circuit: &Circuit,
    value: &Expr,
    positions: &[circuit::Position],
    hertz: f64,
    unit: quantity::Unit,
    exact: f64,
) -> Option<crate::slips::Change> {
    if matches!(unit, quantity::Unit::Degree | quantity::Unit::Decibel) {
        return None;
    }
    let fitted = circuit.parts.iter().filter(|p| !p.unfitted);
    let mut parts: Vec<Name> = fitted.map(|p| p.name.clone()).collect();
    // In a large circuit some part always has such a value.
    let spoken = expr::parts(value);
    if parts.len() > FEW {
        parts.retain(|p| spoken.contains(&p));
    }
    let scope = Standing { circuit, positions };
    crate::slips::change_of_value(value, &parts, &scope, hertz, exact, CLOSE)
}

/// In circuits of no more parts than this any of them may have been meant in a formula for one value.
const FEW: usize = 24;
/// A slip in a formula for one value explains it within this share: what is neglected costs some of it.
const CLOSE: f64 = 0.01;

/// What the file's assumptions neglect together.
pub(crate) fn neglects(db: &dyn Desk, document: Document, circuit: &Circuit) -> Result<Vec<Neglect>, String> {
    let mut all: Vec<Neglect> = assumptions(db, document, circuit)?.into_iter().flat_map(|a| a.neglects).collect();
    all.sort_unstable();
    all.dedup();
    Ok(all)
}

/// The band over which all of the file's assumptions are stated to hold that touch a response.
fn stated(
    db: &dyn Desk,
    document: Document,
    circuit: &Circuit,
    touched: &dyn Fn(&Neglect) -> bool,
) -> Result<(f64, f64), String> {
    let all = assumptions(db, document, circuit)?;
    let ends = all.into_iter().filter(|a| a.neglects.iter().any(touched)).map(|a| (a.from, a.to));
    Ok(ends.fold((0.0, f64::INFINITY), |(low, high), (from, to)| {
        (from.map_or(low, |f| low.max(f)), to.map_or(high, |f| high.min(f)))
    }))
}

pub(crate) fn assumptions(
    db: &dyn Desk,
    document: Document,
    circuit: &Circuit,
) -> Result<Vec<circuit::Assumption>, String> {
    let (layout, reads) = (layout(db, document), reads(db, document));
    let mut all = Vec::new();
    for (block, read) in layout.blocks.iter().zip(reads.iter()).filter(|(b, _)| b.kind == Some(BlockKind::Assume)) {
        for (lines, read) in block.entries.iter().zip(&read.entries) {
            let Read::Entry(_, piece) = &**read else { continue };
            let found = match &piece.kind {
                PieceKind::Assume(entry) if piece.findings.is_empty() => circuit::assumption(circuit, entry),
                _ => Err("it is unfinished or cannot be read".into()),
            };
            all.push(found.map_err(|why| format!("of the assumption in line {} {why}", lines.line + 1))?);
        }
    }
    Ok(all)
}

fn compared(
    db: &dyn Desk,
    document: Document,
    circuit: &Circuit,
    query: &Query,
    value: &Expr,
) -> Result<Found, String> {
    let none = || "the circuit has no unique answer".to_string();
    let look = Look { most: GLANCE, pulse: &|| db.unwind_if_revision_cancelled() };
    let neglected = neglects(db, document, circuit)?;
    let key = WayKey::new(db, way(db, document, &query.quantity, query.from));
    let exact = (planned(db, document, key).ok_or_else(none)?, inputs(db, document, key).ok_or_else(none)?);
    let hand = Hand::of(db, document, &neglected, key).ok_or_else(none)?;
    let band = match (query.at, query.over) {
        (Some(f), _) => (f, f),
        (None, Some(over)) => over,
        (None, None) => circuit.band,
    };
    let samples = samples(hand.side(), query, band, circuit, value, &look)
        .map_err(|why| if neglected.is_empty() { why } else { format!("with all assumptions made, {why}") })?;
    if !samples.iter().all(agrees) {
        // A formula that neglects less than the file does may be that of the exact circuit.
        let whole = self::samples(Side { plan: &exact.0, inputs: &exact.1 }, query, band, circuit, value, &look)?;
        if whole.iter().all(agrees) {
            return Ok(Found::Exact);
        }
        let worst = furthest(&samples).ok_or_else(none)?.clone();
        // What an assumption takes away and the formula keeps is no slip of the algebra.
        let spoken = expr::parts(value);
        let kept = |n: &&Neglect| part_of(**n).is_some_and(|id| spoken.contains(&&circuit.parts[id.at()].name));
        let kept: Vec<Neglect> = neglected.iter().filter(kept).copied().collect();
        if !kept.is_empty() {
            let less: Vec<Neglect> = neglected.iter().filter(|n| !kept.contains(n)).copied().collect();
            let question = (query, band, key);
            let unsaid = match right_with(db, document, circuit, question, &less, value, &look) {
                true => Some(Vec::new()),
                false => unsaid(db, document, circuit, question, &less, value, &look),
            };
            if let Some(unsaid) = unsaid {
                let kept = kept.iter().map(|n| said(circuit, *n)).collect();
                return Ok(Found::Wrong { worst, slip: None, instead: None, unsaid, kept });
            }
        }
        let other = drawn(circuit, 1, false);
        let others = hand.samples_of(query, band, &other, value, &look);
        // A slip that explains the difference with these values only is none.
        let holds = |found: &&str| others.as_ref().is_ok_and(|all| slip(all) == Some(*found));
        // Of what falls below nothing a 1 more and a 1 less look alike: where one is written, none is missing.
        let twice = |found: &&str| !(found.starts_with("`1 +` is missing") && crate::slips::begins_with_one(value));
        let slip = slip(&samples).filter(holds).filter(twice);
        if let Some(slip) = slip {
            let (slip, instead) = hand.told(slip, query, band, circuit, value, &[false, true], &look);
            return Ok(Found::Wrong { worst, slip: Some(slip), instead, unsaid: Vec::new(), kept: Vec::new() });
        }
        let unsaid = unsaid(db, document, circuit, (query, band, key), &neglected, value, &look);
        let slipped =
            if unsaid.is_some() { None } else { hand.slipped(query, band, circuit, value, &[false, true], &look) };
        let instead = slipped.as_ref().map(|c| crate::slips::text(&c.expr));
        let slip = slipped.map(|c| c.clause);
        return Ok(Found::Wrong { worst, slip, instead, unsaid: unsaid.unwrap_or_default(), kept: Vec::new() });
    }
    // What the assumptions cost is looked for where those that touch this response are stated to hold, all of them.
    let network = crate::database::network(db, document);
    let touched = |neglect: &Neglect| match neglect {
        Neglect::Short(id) | Neglect::Open(id) | Neglect::Ideal(id) => exact.0.local().is_none_or(|local| {
            local.amplifiers.contains(id) || local.parameters.iter().any(|p| network.parameters[*p as usize].0 == *id)
        }),
        Neglect::Undrawn(_) => true,
    };
    let (from, to) = stated(db, document, circuit, &touched)?;
    let (low, high) = (band.0.max(from), band.1.min(to));
    let first = Side { plan: &exact.0, inputs: &exact.1 };
    let cost = if low < high {
        let looked = compare::Band { low, high, weak: compare::Weak::Neither };
        compare::difference(first, hand.side(), query, looked, f64::INFINITY, &look)
    } else if band.0 == band.1 {
        compare::apart(first, hand.side(), query, band.0, &look)
    } else {
        Err("the assumptions are stated to hold at no frequency together".into())
    };
    let lets = circuit.lets.iter().any(|l| expr::names(value).contains(&&l.name));
    let when = if lets {
        Condition::NotTried
    } else if tried(&hand, query, band, circuit, value, false, &look) {
        Condition::None
    } else if tried(&hand, query, band, circuit, value, true, &look) {
        hand.while_equal(query, band, circuit, value, &look)
    } else {
        Condition::TheseValues
    };
    Ok(Found::Right { cost, when })
}

/// Whether a formula is right for the hand model, with some more neglected, with the file's values and with others, as long as equal ones
/// stay equal.
pub(crate) fn right(
    db: &dyn Desk,
    document: Document,
    circuit: &Circuit,
    query: &Query,
    value: &Expr,
    more: &[Neglect],
) -> bool {
    let look = Look { most: GLANCE, pulse: &|| db.unwind_if_revision_cancelled() };
    let Ok(mut neglected) = neglects(db, document, circuit) else { return false };
    neglected.extend(more);
    neglected.sort_unstable();
    let key = WayKey::new(db, way(db, document, &query.quantity, query.from));
    let Some(hand) = Hand::of(db, document, &neglected, key) else { return false };
    let agree = |found: Result<Vec<Sample>, String>| found.is_ok_and(|all| !all.is_empty() && all.iter().all(agrees));
    agree(samples(hand.side(), query, circuit.band, circuit, value, &look))
        && tried(&hand, query, circuit.band, circuit, value, true, &look)
}

/// The part that a neglect is of.
fn part_of(neglect: Neglect) -> Option<PartId> {
    match neglect {
        Neglect::Short(id) | Neglect::Open(id) | Neglect::Ideal(id) => Some(id),
        Neglect::Undrawn(_) => None,
    }
}

/// Whether a formula is right with just these neglects made, with the file's values and with others.
fn right_with<'db>(
    db: &'db dyn Desk,
    document: Document,
    circuit: &Circuit,
    (query, band, key): (&Query, (f64, f64), WayKey<'db>),
    neglected: &[Neglect],
    value: &Expr,
    look: &Look,
) -> bool {
    let Some(hand) = Hand::of(db, document, neglected, key) else { return false };
    // A few frequencies tell most of them apart; the band is looked at where those agree.
    let agree = |found: Result<Vec<Sample>, String>| found.is_ok_and(|all| all.iter().all(agrees));
    agree(hand.samples_of(query, band, circuit, value, look))
        && agree(samples(hand.side(), query, band, circuit, value, look))
        && [false, true].iter().any(|equal| tried(&hand, query, band, circuit, value, *equal, look))
}

/// What would have to be neglected besides for the formula to be right: all amplifiers as ideal, one part, or both.
fn unsaid<'db>(
    db: &'db dyn Desk,
    document: Document,
    circuit: &Circuit,
    (query, band, key): (&Query, (f64, f64), WayKey<'db>),
    neglected: &[Neglect],
    value: &Expr,
    look: &Look,
) -> Option<Vec<Name>> {
    let plan = planned(db, document, key)?;
    let local = plan.local()?;
    let real = |id: &PartId| {
        !matches!(&circuit.parts[id.at()].kind, PartKind::Amplifier { sheet, .. } if sheet.ideal)
            && !neglected.contains(&Neglect::Ideal(*id))
    };
    let ideal: Vec<Neglect> = local.amplifiers.iter().copied().filter(real).map(Neglect::Ideal).collect();
    let right = |more: &[Neglect]| -> bool {
        (look.pulse)();
        let mut all = [neglected, more].concat();
        all.sort_unstable();
        right_with(db, document, circuit, (query, band, key), &all, value, look)
    };
    if !ideal.is_empty() && right(&ideal) {
        return Some(ideal.iter().map(|n| said(circuit, *n)).collect());
    }
    // Each suspect is a circuit of its own to plan: in a large one nobody would wait for all of them.
    if circuit.parts.len() > LARGE {
        return None;
    }
    let network = crate::database::network(db, document);
    let mut parts: Vec<PartId> = local.parameters.iter().map(|p| network.parameters[*p as usize].0).collect();
    parts.sort_unstable();
    parts.dedup();
    let two_ended = |id: &PartId| {
        use PartKind::{Capacitor, Inductor, Resistor};
        matches!(circuit.parts[id.at()].kind, Capacitor { .. } | Inductor { .. } | Resistor { .. })
    };
    // Nobody neglects a part that stands in the formula.
    let spoken = expr::parts(value);
    let silent = |id: &PartId| !spoken.contains(&&circuit.parts[id.at()].name);
    let each = parts.into_iter().filter(two_ended).filter(silent).take(SUSPECTS);
    each.flat_map(|id| [Neglect::Open(id), Neglect::Short(id)]).find_map(|one| {
        let sets = [vec![one], [&ideal[..], &[one]].concat()];
        let least = sets.into_iter().take(if ideal.is_empty() { 1 } else { 2 }).find(|set| right(set))?;
        Some(least.iter().map(|n| said(circuit, *n)).collect())
    })
}

/// Circuits with more parts than this are not searched for what was neglected and not said.
const LARGE: usize = 200;
/// So many parts are tried, each as open and as short.
const SUSPECTS: usize = 24;

/// A neglect as an assumption says it: `U1a ideal`.
fn said(circuit: &Circuit, neglect: Neglect) -> Name {
    let (id, how) = match neglect {
        Neglect::Short(id) => (id, "short"),
        Neglect::Open(id) => (id, "open"),
        Neglect::Ideal(id) => (id, "ideal"),
        Neglect::Undrawn(stage) => return format!("stage {} open", circuit.stages[stage.at()].name).into(),
    };
    format!("{} {how}", circuit.parts[id.at()].name).into()
}

/// The formulas of a file: block, entry, and what was found.
pub(crate) fn all(db: &dyn Desk, document: Document) -> Vec<(u32, u32, Arc<Vec<Formula>>)> {
    let layout = layout(db, document);
    entries_of(&layout, BlockKind::Formula).map(|(b, e)| (b as u32, e as u32, of(db, document, b, e))).collect()
}

/// What was found of one formula of a file.
pub(crate) fn of(db: &dyn Desk, document: Document, block: usize, entry: usize) -> Arc<Vec<Formula>> {
    let (layout, text) = (layout(db, document), document.text(db));
    let block = &layout.blocks[block];
    formula(db, document, Chunk::new(db, block.kind, false, &text[block.entries[entry].range.clone()]))
}

/// What is to be said of formulas that do not hold, at the expression.
pub(crate) fn failures(
    db: &dyn Desk,
    document: Document,
    block: u32,
    entry: u32,
    all: &[Formula],
) -> Vec<(bool, Fault)> {
    let reads = reads(db, document);
    let (span, quantity) = match reads[block as usize].entries.get(entry as usize).map(|r| &**r) {
        Some(Read::Entry(entry, _)) => match &entry.tree {
            EntryTree::Formula(f) => {
                (f.value.as_ref().map_or(Span::default(), |v| v.span), f.quantity.as_ref().map(|q| q.span))
            }
            _ => return Vec::new(),
        },
        _ => return Vec::new(),
    };
    let one = |f: &Formula| {
        let found = f.found.as_ref().ok()?;
        let message = found.failure(&f.phrase, f.kind, f.unit)?;
        let warning = !found.is_error();
        let write =
            |at: Span, text: &str| Fix { title: format!("write {}", text.trim()), edits: vec![(at, text.into())] };
        let instead = found.instead().map(|text| write(span, text));
        // `against` stands with the quantity, behind which the equals sign comes.
        let against = found.against().and_then(|f| quantity::canonical(f, quantity::Unit::Hertz)).zip(quantity);
        let against = against.map(|(f, q)| write(Span::new(q.end as usize, q.end as usize), &format!(" against {f}")));
        let fixes = instead.into_iter().chain(against).collect();
        Some((warning, Fault { id: "formula-differs", span, message, unfinished: false, fixes }))
    };
    all.iter().filter_map(one).collect()
}
