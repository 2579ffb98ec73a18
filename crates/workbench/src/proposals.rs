//! What an argument could say of a part: the widest band over which it may be neglected.

use std::ops::Range;
use std::sync::Arc;

use analysis::Value;
use argument::Verdict;
use argument::assume::Costs;
use circuit::{Allowed, Assumption, Circuit, Measure, Neglect, PartId, PartKind, Point, Quantity, Query};
use notation::tree::BlockKind;

use crate::assumed::{budget, points, weigh};
use crate::bent::{self, Neglected};
use crate::database::{Chunk, Desk, Document, assembled, circuit_of, entries_of, layout, query, whole};
use crate::hints::blank;
use crate::plain::{Edit, Fix};
use crate::problems::{lines_of, range_of};

/// Which end of the design's band is left to be found.
#[derive(Clone, Copy)]
enum Side {
    Above,
    Below,
    Neither,
}

/// The assumptions that the parts of a range of bytes would bear, each as a line to write. The widest band is told over which the
/// neglect costs no more than the file's budget, if the design's reference lies in it; a file without assumptions has the budget that is
/// wished, in decibels. What the file assumes already is not told again.
pub(crate) fn proposals(db: &dyn Desk, document: Document, range: &Range<usize>, wished: Option<f64>) -> Vec<Fix> {
    if blank(db, document).is_some() {
        return Vec::new();
    }
    let (circuit, all, layout) = (circuit_of(db, document), assembled(db, document), layout(db, document));
    let here = |part: &usize| {
        let place = all.places.part_names.get(*part).and_then(|p| range_of(&layout, *p));
        place.is_some_and(|r| r.start <= range.end && range.start <= r.end)
    };
    let assumed = crate::assumed::all(db, document);
    let said = |part: PartId| {
        let neglects = assumed.iter().filter_map(|(.., found)| found.as_ref().as_ref().ok()).flat_map(|c| &c.all);
        neglects
            .into_iter()
            .any(|c| matches!(c.neglect, Neglect::Short(p) | Neglect::Open(p) | Neglect::Ideal(p) if p == part))
    };
    let first = entries_of(&layout, BlockKind::Assume).next().is_none();
    let wished = wished.filter(|_| first).map(Allowed::Decibels);
    let allowed = wished.unwrap_or_else(|| allowed(db, document, &circuit));
    let circuit = &*circuit;
    let parts = (0..all.circuit.parts.len()).filter(here).map(|p| PartId(p as u32)).filter(|p| !said(*p));
    parts
        .flat_map(|part| {
            db.unwind_if_revision_cancelled();
            tries(circuit, part).into_iter().filter_map(move |(neglect, is, side)| {
                let line = line(db, document, circuit, part, (neglect, is, side), allowed)?;
                Some(Fix { title: format!("assume {}", line.0), edits: vec![appended(db, document, &line.1, wished)] })
            })
        })
        .collect()
}

/// The budget of the last `assume` of the file, under which a further line would stand.
fn allowed(db: &dyn Desk, document: Document, circuit: &Circuit) -> Allowed {
    let (layout, text) = (layout(db, document), document.text(db));
    let last = layout.blocks.iter().rev().find(|b| b.kind == Some(BlockKind::Assume));
    let heading = last.and_then(|b| Some(Chunk::new(db, b.kind, true, &text[b.heading.as_ref()?.range.clone()])));
    budget(db, circuit, heading).unwrap_or_default()
}

/// How a part can be neglected by hand.
fn tries(circuit: &Circuit, part: PartId) -> Vec<(Neglect, &'static str, Side)> {
    let it = &circuit.parts[part.at()];
    if it.unfitted {
        return Vec::new();
    }
    let (short, open) = (Neglect::Short(part), Neglect::Open(part));
    match &it.kind {
        PartKind::Capacitor { .. } => vec![(short, "short", Side::Above), (open, "open", Side::Below)],
        PartKind::Inductor { .. } => vec![(short, "short", Side::Below), (open, "open", Side::Above)],
        PartKind::Resistor { .. } => vec![(short, "short", Side::Neither), (open, "open", Side::Neither)],
        PartKind::Amplifier { sheet, .. } if !sheet.ideal => vec![(Neglect::Ideal(part), "ideal", Side::Below)],
        _ => Vec::new(),
    }
}

/// A line of `assume` with what it costs, and the line alone.
fn line(
    db: &dyn Desk,
    document: Document,
    circuit: &Circuit,
    part: PartId,
    (neglect, is, side): (Neglect, &str, Side),
    allowed: Allowed,
) -> Option<(String, String)> {
    let name = &circuit.parts[part.at()].name;
    let (low, high) = circuit.band;
    let over = |from, to| Assumption { neglects: vec![neglect], from, to, on: None, within: None };
    let costs = |assumption: &Assumption| weigh(db, document, circuit, assumption, allowed).ok();
    let whole = match side {
        Side::Above => over(Some(low), None),
        Side::Below => over(None, Some(high)),
        Side::Neither => over(None, None),
    };
    let found = costs(&whole)?;
    if matches!(side, Side::Neither) && found.verdict() == Verdict::Holds && !rests(db, document, circuit, neglect) {
        return None;
    }
    let free =
        |found: &Costs| found.verdict() == Verdict::Holds && !turns(found) && !felt(db, document, circuit, part, found);
    if free(&found) {
        return Some((format!("{name} {is}: {}", found.hint()), format!("{name} {is}")));
    }
    // What was rounded to the safe side is weighed again, and tells what it costs.
    let end = found.mended_end(found.all.first()?.found.as_ref().ok()?)?;
    let (word, narrower) = match side {
        Side::Above if end < circuit.reference => ("above", over(Some(end), None)),
        Side::Below if end > circuit.reference => ("below", over(None, Some(end))),
        _ => return None,
    };
    let found = costs(&narrower).filter(free)?;
    let text = format!("{name} {is} {word} {}", quantity::canonical(end, quantity::Unit::Hertz)?);
    Some((format!("{text}: {}", found.hint()), text))
}

/// Below which frequency amplifiers may be taken as ideal within the file's budget, each alone; `None` where that is so over the whole band,
/// or nowhere.
pub(crate) fn ideal_below(db: &dyn Desk, document: Document, circuit: &Circuit, parts: &[PartId]) -> Option<f64> {
    let allowed = allowed(db, document, circuit);
    let one = |part: &PartId| {
        let neglects = vec![Neglect::Ideal(*part)];
        let whole = Assumption { neglects, from: None, to: Some(circuit.band.1), on: None, within: None };
        let found = weigh(db, document, circuit, &whole, allowed).ok()?;
        found.mended_end(found.all.first()?.found.as_ref().ok()?)
    };
    parts.iter().filter_map(one).filter(|end| *end > circuit.band.0).reduce(f64::min)
}

/// A neglect that leaves a magnitude as it is and turns the phase by more than this, in degrees, takes away what the part is for, as in an
/// all-pass: 0.1 dB of a first-order corner come with 9°.
const MOST_TURNED: f64 = 15.0;

/// Whether a neglect turns a phase.
fn turns(costs: &Costs) -> bool {
    costs.all.iter().filter_map(|c| c.found.as_ref().ok()).any(|d| d.degrees.abs() > MOST_TURNED)
}

/// Whether what the sources send to the outputs of the part's stage is felt to change: a load that is let go leaves the gain of its own
/// stage as it is, and not what comes through a source's resistance.
fn felt(db: &dyn Desk, document: Document, circuit: &Circuit, part: PartId, costs: &Costs) -> bool {
    let outputs = points(circuit, &circuit.stages[circuit.parts[part.at()].stage.at()].outputs);
    let sources = circuit.sources.iter().map(|s| match circuit.pair_of(s.plus, s.minus) {
        Some((pair, _)) => Point::pair(pair),
        None => Point::node(circuit, s.plus),
    });
    let ways = sources.flat_map(|from| outputs.iter().map(move |to| (from.clone(), to))).filter(|(a, b)| a != *b);
    let queries: Vec<Query> = ways.map(|(a, b)| query(circuit.response(&a, b), None, None)).collect();
    // Where nothing arrives there is nothing to feel.
    queries
        .iter()
        .filter_map(|q| crate::assumed::felt(db, document, costs.all[0].neglect, q, costs))
        .any(|d| d.decibels.abs() > costs.limit() || d.degrees.abs() > MOST_TURNED)
}

/// A neglect that moves an amplifier's output at rest by more than this, in volts, takes away what the part is for.
const MOST_MOVED: f64 = 0.05;

/// Whether every amplifier's output rests where it does without the neglect.
fn rests(db: &dyn Desk, document: Document, circuit: &Circuit, neglect: Neglect) -> bool {
    let neglected = Neglected::new(db, vec![neglect].into_boxed_slice());
    let (Some(exact), Some(bent)) = (whole(db, document), bent::whole(db, document, neglected)) else { return false };
    let moved = bent::bent(db, document, neglected);
    let out = |part: &circuit::Part| match part.kind {
        PartKind::Amplifier { out, .. } if !part.unfitted => Some(out),
        _ => None,
    };
    circuit.parts.iter().filter_map(out).all(|node| {
        let ask = |whole: &analysis::measure::Whole, circuit: &Arc<Circuit>| {
            let quantity = Quantity::Measure(Measure::Dc(Point::node(circuit, node)));
            let pulse: &dyn Fn() = &|| db.unwind_if_revision_cancelled();
            analysis::measure::answer(whole, circuit, &Query::of(quantity), pulse).value
        };
        match (ask(&exact, &circuit_of(db, document)), ask(&bent, &moved)) {
            (Value::Real(a), Value::Real(b)) => (a - b).abs() <= MOST_MOVED,
            (Value::Real(_), _) => false,
            _ => true,
        }
    })
}

/// A line at the end of the last `assume`, or such a block at the end of the file, which says what was wished.
fn appended(db: &dyn Desk, document: Document, line: &str, wished: Option<Allowed>) -> Edit {
    let (layout, text) = (layout(db, document), document.text(db));
    let last = entries_of(&layout, BlockKind::Assume).last();
    let place = last.map(|(b, e)| circuit::Place { block: b as u32, entry: Some(e as u32), span: Default::default() });
    if let Some(lines) = place.and_then(|p| lines_of(&layout, p)) {
        // Behind a comment on the same line.
        let end = lines.range.end + text[lines.range.end..].find(['\n', '\r']).unwrap_or(text.len() - lines.range.end);
        return Edit { range: end..end, text: format!("\n  {line}") };
    }
    let end = text.trim_end().len();
    let within = match wished {
        Some(Allowed::Decibels(db)) => format!(" within {db} dB"),
        _ => String::new(),
    };
    Edit { range: end..end, text: format!("\n\nassume{within}\n  {line}") }
}
