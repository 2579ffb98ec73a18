//! Assumptions with what they cost.

use std::sync::Arc;

use analysis::compare::{self, Band, Difference, Side, Weak};
use analysis::positions::{GLANCE, Look};
use argument::assume::{Cost, Costs};
use circuit::{Allowed, Assumption, Circuit, Neglect, NodeId, PieceKind, Point, Quantity, Query, StageId};
use notation::tree::{BlockKind, Fault, Fix, Heading, Span};

use crate::bent::{self, Neglected};
use crate::database::{
    Chunk, Desk, Document, Read, WayKey, circuit_of, entries_of, inputs, layout, network, planned, query, reads, way,
};
use crate::hints::blank;

/// What an entry's neglects cost, or why that is not known: a clause.
pub(crate) type Found = Arc<Result<Costs, String>>;

/// Decides an entry of `assume`, by its text and that of its heading.
#[salsa::tracked(returns(clone))]
pub fn assumed<'db>(db: &'db dyn Desk, document: Document, heading: Option<Chunk<'db>>, chunk: Chunk<'db>) -> Found {
    Arc::new(costs(db, document, heading, chunk))
}

fn costs<'db>(
    db: &'db dyn Desk,
    document: Document,
    heading: Option<Chunk<'db>>,
    chunk: Chunk<'db>,
) -> Result<Costs, String> {
    let read = crate::database::read(db, chunk);
    let Read::Entry(_, piece) = &*read else { return Err("it cannot be read".into()) };
    let PieceKind::Assume(entry) = &piece.kind else { return Err("it cannot be read".into()) };
    if let Some((_, fault)) = piece.findings.first() {
        return Err(if fault.unfinished { "it is unfinished" } else { "it cannot be read" }.into());
    }
    if let Some(why) = blank(db, document) {
        return Err(why);
    }
    let circuit = circuit_of(db, document);
    let assumption = circuit::assumption(&circuit, entry).map_err(|why| why.to_string())?;
    let allowed = match assumption.within {
        Some(own) => own,
        None => budget(db, &circuit, heading)?,
    };
    weigh(db, document, &circuit, &assumption, allowed)
}

/// What the neglects of an assumption cost.
///
/// # Errors
/// Why that is not known: a clause.
pub(crate) fn weigh(
    db: &dyn Desk,
    document: Document,
    circuit: &Circuit,
    assumption: &Assumption,
    allowed: Allowed,
) -> Result<Costs, String> {
    let mut band = band(circuit, assumption)?;
    if assumption.from.is_none() && assumption.to.is_none() {
        band.weak = weak(circuit, &assumption.neglects);
    }
    let mut costs = Costs { allowed, band, all: Vec::new() };
    for &neglect in &assumption.neglects {
        let queries = queries(circuit, assumption, neglect);
        let found = queries.and_then(|queries| {
            // What is looked for elsewhere than in its own stage is named.
            let named = assumption.on.is_some() || feeds_only(circuit, neglect);
            worst(db, document, neglect, (&queries, named), &costs)
        });
        costs.all.push(match found {
            Ok((on, found, mend)) => Cost { name: name(circuit, neglect), neglect, on, found: Ok(found), mend },
            Err(why) => Cost { name: name(circuit, neglect), neglect, on: String::new(), found: Err(why), mend: None },
        });
    }
    Ok(costs)
}

/// What the heading allows.
pub(crate) fn budget(db: &dyn Desk, circuit: &Circuit, heading: Option<Chunk>) -> Result<Allowed, String> {
    let Some(heading) = heading else { return Ok(Allowed::default()) };
    match &*crate::database::read(db, heading) {
        Read::Heading(h) => match &h.tree {
            Heading::Assume { within: Some(amount) } => {
                circuit::allowed(circuit, amount).map_err(|why| format!("under its heading {why}"))
            }
            _ if h.fault.is_some() => Err("its heading cannot be read".into()),
            _ => Ok(Allowed::default()),
        },
        Read::Entry(..) => Ok(Allowed::default()),
    }
}

/// The stated band; an end that is not stated is the design's.
fn band(circuit: &Circuit, assumption: &Assumption) -> Result<Band, String> {
    let (low, high) = (assumption.from.unwrap_or(circuit.band.0), assumption.to.unwrap_or(circuit.band.1));
    let weak = match (assumption.from, assumption.to) {
        (Some(_), None) => Weak::Low,
        (None, Some(_)) => Weak::High,
        _ => Weak::Neither,
    };
    if low < high {
        return Ok(Band { low, high, weak });
    }
    Err(match weak {
        Weak::Low => format!("the band ends at {}: say `over`", analysis::print::hertz(high)),
        _ => format!("the band begins at {}: say `over`", analysis::print::hertz(low)),
    })
}

/// The end of the band at which neglects without one of their own give way: amplifiers at the upper, a capacitor that is taken as short at
/// the lower.
fn weak(circuit: &Circuit, neglects: &[Neglect]) -> Weak {
    use circuit::PartKind::{Capacitor, Inductor};
    let one = |neglect: &Neglect| match *neglect {
        Neglect::Ideal(_) => Weak::High,
        Neglect::Short(id) | Neglect::Open(id) => {
            let short = matches!(neglect, Neglect::Short(_));
            match circuit.parts[id.at()].kind {
                Capacitor { .. } if short => Weak::Low,
                Inductor { .. } if !short => Weak::Low,
                Capacitor { .. } | Inductor { .. } => Weak::High,
                _ => Weak::Neither,
            }
        }
        Neglect::Undrawn(_) => Weak::Neither,
    };
    let mut all = neglects.iter().map(one);
    let first = all.next().unwrap_or(Weak::Neither);
    if all.all(|w| w == first) { first } else { Weak::Neither }
}

fn name(circuit: &Circuit, neglect: Neglect) -> String {
    match neglect {
        Neglect::Short(part) | Neglect::Open(part) | Neglect::Ideal(part) => circuit.parts[part.at()].name.to_string(),
        Neglect::Undrawn(stage) => format!("stage {}", circuit.stages[stage.at()].name),
    }
}

/// The quantities in which the cost is looked for.
fn queries(circuit: &Circuit, assumption: &Assumption, neglect: Neglect) -> Result<Vec<Query>, String> {
    if let Some(phrase) = &assumption.on {
        return match circuit::resolve::resolve(circuit, phrase) {
            Ok(queries) => Ok(queries),
            Err(circuit::Refusal::Wrong(fault)) => Err(fault.message),
            Err(circuit::Refusal::Undecided(why)) => Err(why),
            Err(circuit::Refusal::Unfinished) => Err("its quantity is unfinished".into()),
        };
    }
    let stages: Vec<StageId> = match neglect {
        Neglect::Short(p) | Neglect::Open(p) | Neglect::Ideal(p) => vec![circuit.parts[p.at()].stage],
        // What a stage draws is felt by those that drive it.
        Neglect::Undrawn(stage) => {
            let inputs = &circuit.stages[stage.at()].inputs;
            let all = circuit.stages.iter().enumerate();
            all.filter(|(_, s)| s.outputs.iter().any(|o| inputs.contains(o))).map(|(i, _)| StageId(i as u32)).collect()
        }
    };
    let gains = |stage: &StageId| {
        let stage = &circuit.stages[stage.at()];
        let outputs = points(circuit, &stage.outputs);
        let inputs = points(circuit, &stage.inputs);
        let pairs = inputs.iter().flat_map(|a| outputs.iter().map(move |b| (a, b)));
        // What a current source drives is told per ampere, as in the heading.
        pairs.map(|(a, b)| circuit.response(a, b)).collect::<Vec<Quantity>>()
    };
    let signals = if feeds_only(circuit, neglect) { signals(circuit, &stages) } else { Vec::new() };
    let found = if signals.is_empty() { stages.iter().flat_map(gains).collect() } else { signals };
    let found: Vec<Query> = found.into_iter().map(|q| query(q, None, None)).collect();
    if found.is_empty() {
        return Err(match neglect {
            Neglect::Undrawn(_) => "no stage drives it: say on what, `on gain a -> b`".into(),
            _ => "its stage has no input or no output: say on what, `on gain a -> b`".into(),
        });
    }
    Ok(found)
}

/// Whether the stage of a neglected part has rails alone at its inputs: no signal comes in there, and a rail's ripple is no signal.
fn feeds_only(circuit: &Circuit, neglect: Neglect) -> bool {
    let (Neglect::Short(part) | Neglect::Open(part) | Neglect::Ideal(part)) = neglect else { return false };
    let inputs = &circuit.stages[circuit.parts[part.at()].stage.at()].inputs;
    let rail = |n: &NodeId| *n == circuit::GROUND || circuit.supplies.iter().flat_map(|s| &s.rails).any(|r| r.0 == *n);
    !inputs.is_empty() && inputs.iter().all(rail)
}

/// The gains of the signal: from each source to each output of the other stages.
fn signals(circuit: &Circuit, but: &[StageId]) -> Vec<Quantity> {
    let own: Vec<NodeId> = but.iter().flat_map(|s| circuit.stages[s.at()].outputs.iter().copied()).collect();
    let mut outputs: Vec<Point> = Vec::new();
    for stage in circuit.stages.iter() {
        let others: Vec<NodeId> = stage.outputs.iter().copied().filter(|n| !own.contains(n)).collect();
        for point in points(circuit, &others) {
            if !outputs.contains(&point) {
                outputs.push(point);
            }
        }
    }
    let sources = circuit.sources.iter().map(|s| match circuit.pair_of(s.plus, s.minus) {
        Some((pair, _)) => Point::pair(pair),
        None => Point::node(circuit, s.plus),
    });
    let sources: Vec<Point> = sources.collect();
    let each = sources.iter().flat_map(|a| outputs.iter().map(move |b| (a, b)));
    each.filter(|(a, b)| a != b).map(|(a, b)| circuit.response(a, b)).collect()
}

/// The ports as points; two in a row that are a declared pair are one.
pub(crate) fn points(circuit: &Circuit, ports: &[NodeId]) -> Vec<Point> {
    let mut found = Vec::new();
    let mut rest = ports;
    while let [first, more @ ..] = rest {
        rest = more;
        if let Some((pair, _)) = more.first().and_then(|second| circuit.pair_of(*first, *second)) {
            found.push(Point::pair(pair));
            rest = &more[1..];
        } else {
            found.push(Point::node(circuit, *first));
        }
    }
    found
}

/// What a neglect whose costs are known does to one more quantity over the same band; `None` where it is not told.
pub(crate) fn felt(
    db: &dyn Desk,
    document: Document,
    neglect: Neglect,
    on: &Query,
    costs: &Costs,
) -> Option<Difference> {
    worst(db, document, neglect, (std::slice::from_ref(on), true), costs).ok().map(|(_, found, _)| found)
}

type Worst = (String, Difference, Option<argument::assume::Mend>);

/// The quantity in which a neglect costs most, with what it costs and what value would mend it.
fn worst(
    db: &dyn Desk,
    document: Document,
    neglect: Neglect,
    (queries, named): (&[Query], bool),
    costs: &Costs,
) -> Result<Worst, String> {
    let neglected = Neglected::new(db, vec![neglect].into_boxed_slice());
    let none = || "the circuit has no unique answer".to_string();
    let look = Look { most: GLANCE, pulse: &|| db.unwind_if_revision_cancelled() };
    let limit = costs.limit();
    let mut worst: Option<(String, Difference)> = None;
    let mut sides = Vec::new();
    for query in queries {
        if !compare::comparable(query) {
            return Err(format!("what it costs is told of gains and impedances, and {} is neither", query.phrase));
        }
        let key = WayKey::new(db, way(db, document, &query.quantity, query.from));
        let exact = (planned(db, document, key).ok_or_else(none)?, inputs(db, document, key).ok_or_else(none)?);
        let other = (
            bent::planned(db, document, neglected, key).ok_or_else(none)?,
            bent::inputs(db, document, neglected, key).ok_or_else(none)?,
        );
        let (a, b) = (Side { plan: &exact.0, inputs: &exact.1 }, Side { plan: &other.0, inputs: &other.1 });
        if let Some(why) = compare::lacks(b) {
            // A virtual earth is no place to take a gain from.
            let way_out = if named { "" } else { ": say on what, `on gain a -> b`" };
            return Err(format!("with that neglected {why}{way_out}"));
        }
        let found = compare::difference(a, b, query, costs.band, limit, &look)?;
        if worst.as_ref().is_none_or(|w| found.decibels.abs() > w.1.decibels.abs()) {
            // Where there is one gain only that may be meant, it needs no name.
            let on = if queries.len() > 1 || named { query.phrase.to_string() } else { String::new() };
            worst = Some((on, found));
        }
        sides.push((exact, other));
    }
    let (on, found) = worst.ok_or("there is nothing to look for it in")?;
    let mend = if found.decibels.abs() > limit { mend(db, document, neglect, queries, &sides, costs) } else { None };
    Ok((on, found, mend))
}

type Planned = (Arc<analysis::Plan>, Arc<analysis::Inputs>);

/// The nearest value of its part from which on the neglect keeps to what is allowed: of a part that is taken as short the impedance falls, of one
/// that is open it rises.
fn mend(
    db: &dyn Desk,
    document: Document,
    neglect: Neglect,
    queries: &[Query],
    sides: &[(Planned, Planned)],
    costs: &Costs,
) -> Option<argument::assume::Mend> {
    use circuit::PartKind::{Capacitor, Inductor, Resistor};
    let (part, short) = match neglect {
        Neglect::Short(part) => (part, true),
        Neglect::Open(part) => (part, false),
        _ => return None,
    };
    let circuit = circuit_of(db, document);
    let (value, unit, larger) = match &circuit.parts[part.at()].kind {
        Capacitor { farads, .. } => (farads.number()?, quantity::Unit::Farad, short),
        Resistor { ohms, .. } => (ohms.number()?, quantity::Unit::Ohm, !short),
        Inductor { henries, .. } => (henries.number()?, quantity::Unit::Henry, !short),
        _ => return None,
    };
    let series = if unit == quantity::Unit::Ohm { quantity::Series::E12 } else { quantity::Series::E6 };
    let mut values = vec![series.nearest(value)?];
    for _ in 0..4 * series.count() {
        let at = *values.last()?;
        // A little beyond a member its neighbours are itself and the next.
        let beyond = if larger { at * 1.0001 } else { at / 1.0001 };
        let (below, above) = series.neighbours(beyond)?;
        values.push(if larger { above } else { below });
    }
    let network = network(db, document);
    let look = Look { most: GLANCE, pulse: &|| db.unwind_if_revision_cancelled() };
    let cost = |to: f64| -> Option<f64> {
        let mut circuit = (*circuit).clone();
        circuit.parts[part.at()].kind.set_value(to);
        let each = queries.iter().zip(sides).map(|(query, (exact, other))| {
            let scaled = analysis::Inputs::of(exact.0.local(), &network, &circuit);
            let (a, b) = (Side { plan: &exact.0, inputs: &scaled }, Side { plan: &other.0, inputs: &other.1 });
            let band = Band { weak: Weak::Neither, ..costs.band };
            compare::difference(a, b, query, band, costs.limit(), &look).ok().map(|d| d.decibels.abs())
        });
        each.collect::<Option<Vec<f64>>>().map(|all| all.into_iter().fold(0.0, f64::max))
    };
    let keeps = |to: f64| cost(to).is_some_and(|db| db <= costs.limit());
    // The cost falls with the impedance that is neglected: the first value that keeps to the limit is found by halving, and tried.
    let first = values.partition_point(|v| !keeps(*v));
    let value = *values.get(first)?;
    cost(value).filter(|db| *db <= costs.limit()).map(|decibels| argument::assume::Mend { value, unit, decibels })
}

/// Another value of its part as a way out of the neglect that costs most.
pub(crate) fn value_fix(db: &dyn Desk, document: Document, costs: &Costs) -> Option<crate::plain::Fix> {
    let worst = costs.worst()?;
    let mend = worst.mend?;
    let place = crate::written::written(db, document, &worst.name)?;
    let shown = quantity::exact(mend.value, mend.unit, quantity::Style::default())?;
    let text = quantity::canonical(mend.value, mend.unit)?;
    let edits = vec![crate::plain::Edit { range: place.range, text }];
    Some(crate::plain::Fix { title: format!("make {} {shown}", worst.name), edits })
}

/// The assumptions of a file: block, entry, and what they cost.
pub(crate) fn all(db: &dyn Desk, document: Document) -> Vec<(u32, u32, Found)> {
    let layout = layout(db, document);
    entries_of(&layout, BlockKind::Assume).map(|(b, e)| (b as u32, e as u32, of(db, document, b, e))).collect()
}

/// What one assumption of a file costs.
pub(crate) fn of(db: &dyn Desk, document: Document, block: usize, entry: usize) -> Found {
    let (layout, text) = (layout(db, document), document.text(db));
    let block = &layout.blocks[block];
    let heading = block.heading.as_ref().map(|h| Chunk::new(db, block.kind, true, &text[h.range.clone()]));
    assumed(db, document, heading, Chunk::new(db, block.kind, false, &text[block.entries[entry].range.clone()]))
}

/// The question in which a neglect of an assumption costs most, by its phrase; where that is not named, the only one.
///
/// # Errors
/// Why there is none: a clause.
pub(crate) fn asked(
    db: &dyn Desk,
    document: Document,
    block: usize,
    entry: usize,
    neglect: Neglect,
    on: &str,
) -> Result<Query, String> {
    let circuit = circuit_of(db, document);
    let reads = reads(db, document);
    let read = reads.get(block).and_then(|b| b.entries.get(entry)).ok_or("it cannot be read")?;
    let Read::Entry(_, piece) = &**read else { return Err("it cannot be read".into()) };
    let PieceKind::Assume(entry) = &piece.kind else { return Err("it cannot be read".into()) };
    let assumption = circuit::assumption(&circuit, entry).map_err(|why| why.to_string())?;
    let all = queries(&circuit, &assumption, neglect)?;
    let named = all.iter().find(|q| *q.phrase == *on).or(all.first()).cloned();
    named.ok_or_else(|| "there is nothing to look for it in".into())
}

/// The place in an entry of the frequency that a mended band replaces; where no band is written an empty one behind the entry's words.
pub(crate) fn clause_span(db: &dyn Desk, document: Document, block: usize, entry: usize) -> Option<Span> {
    use notation::tree::{AssumeClause, EntryTree};
    let (reads, layout) = (reads(db, document), layout(db, document));
    let lines = layout.blocks.get(block)?.entries.get(entry)?;
    let Read::Entry(read, _) = &**reads.get(block)?.entries.get(entry)? else { return None };
    let EntryTree::Assume(assume) = &read.tree else { return None };
    let amount = assume.clauses.iter().find_map(|c| match c {
        AssumeClause::Above(Some(amount)) | AssumeClause::Below(Some(amount)) => Some(amount.span()),
        _ => None,
    });
    let banded =
        |c: &AssumeClause| matches!(c, AssumeClause::Above(_) | AssumeClause::Below(_) | AssumeClause::Over(..));
    if amount.is_some() || assume.clauses.iter().any(banded) {
        return amount;
    }
    // Of an entry that goes on in another line the end is not to be told so.
    let text = &document.text(db)[lines.range.clone()];
    let words = notation::code_of(text).trim_end();
    (!words.contains('\n')).then(|| Span::new(words.len(), words.len()))
}

/// What is to be said of neglects that cost too much, each with the names in it; a band that would do is a fix.
pub(crate) fn failures(
    costs: &Costs,
    clause: Option<Span>,
    length: usize,
) -> impl Iterator<Item = (Fault, Vec<String>)> {
    // Of an entry the one that costs most is told; the hint has them all.
    let worst = costs.worst();
    worst.into_iter().filter_map(move |worst| {
        let message = costs.failure(worst)?;
        let band = worst.found.as_ref().ok().and_then(|d| costs.mended_band(d));
        let fix = band.zip(clause).map(|(f, span)| {
            let side = if costs.band.weak == Weak::High { "below" } else { "above" };
            let text = if span.start == span.end { format!(" {side} {f}") } else { f };
            Fix { title: format!("write {}", text.trim()), edits: vec![(span, text)] }
        });
        let span = Span::new(0, length);
        let fault =
            Fault { id: "assumption-fails", span, message, unfinished: false, fixes: fix.into_iter().collect() };
        Some((fault, vec![worst.name.trim_start_matches("stage ").to_string()]))
    })
}
