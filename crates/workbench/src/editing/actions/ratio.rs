//! Two resistors whose ratio sets a stage's gain: the pair of series values that comes nearest to what is wanted.
//!
//! That it is their ratio that counts is found out by trying: the gain of their stage stays when both grow alike, and moves when one does.
//! Values are tried in the equations as they stand; what is offered has been decided with the pair written into the text.

use analysis::positions::{GLANCE, Look};
use analysis::{Inputs, Reading, Value};
use circuit::{Circuit, PartId, PartKind, Quantity, Query};
use quantity::{Style, Unit};

use super::nearest::series;
use super::place::{elements, has_word, valued};
use super::{ActionKind, Offer, Place, applied};
use crate::database::{WayKey, circuit_of, network, planned, stage_quantities, way};
use crate::plain::Edit;
use crate::trial::{HERE, Trial};

/// By so much values are moved to see what hangs on them.
const STEP: f64 = 1.1;
/// What moves by less than this share does not move: an amplifier's own gain feels the level of the resistors a little.
const STILL: f64 = 1e-3;
/// So many partners are tried at most.
const MOST: usize = 16;
/// How far the ratio is looked for.
const REACH: f64 = 1e3;
/// Errors of the ratio that are alike: a hundredth of a decibel.
const ALIKE: f64 = 1e-3;
/// So many pairs are told.
const TOLD: usize = 2;

/// Two resistors, as they are written.
struct Pair {
    parts: [PartId; 2],
    names: [String; 2],
    values: [f64; 2],
}

/// The best pairs for the resistor where it was asked and its partner.
pub(super) fn offers<'a>(place: &'a Place<'a>) -> Vec<Offer<'a>> {
    pairs(place).unwrap_or_default()
}

fn pairs<'a>(place: &'a Place<'a>) -> Option<Vec<Offer<'a>>> {
    let (line, element) = place.element()?;
    valued(element).filter(|_| &*element.part.class == "R" && !has_word(element, "external"))?;
    if crate::hints::blank(place.db, place.document).is_some() {
        return None;
    }
    let circuit = circuit_of(place.db, place.document);
    let own = free(&circuit, &element.part.text)?;
    let stage = circuit.parts[own.at()].stage;
    let gain = stage_quantities(&circuit, stage).0?[0].clone();
    let still = magnitudes(place, &circuit, &Query::of(gain.clone()))?;
    let moved = |changes: &[(PartId, f64)]| {
        let found = magnitudes(place, &changed(&circuit, changes), &Query::of(gain.clone()))?;
        let far = still.iter().zip(&found).map(|(a, b)| (b / a).ln().abs()).fold(0.0, f64::max);
        (still.len() == found.len()).then_some(far > STILL)
    };
    if !moved(&[(own, STEP)])? {
        return None;
    }
    let block = &place.reads.get(line.block)?.entries;
    let others = place.lines().filter(|l| l.block == line.block && l.entry < block.len()).flat_map(|l| {
        elements(&l.tree.tree)
            .into_iter()
            .filter(|e| &*e.part.class == "R" && e.part.text != element.part.text)
            .collect::<Vec<_>>()
    });
    let mut offers = Vec::new();
    for other in others.take(MOST) {
        place.db.unwind_if_revision_cancelled();
        let Some(part) = free(&circuit, &other.part.text) else { continue };
        if valued(other).is_none() || has_word(other, "external") {
            continue;
        }
        if moved(&[(own, STEP), (part, STEP)]) != Some(false) {
            continue;
        }
        let values = [valued(element)?.value, valued(other)?.value];
        let names = [element.part.text.to_string(), other.part.text.to_string()];
        offers.extend(offered(place, &circuit, &Pair { parts: [own, part], names, values }));
    }
    Some(offers)
}

/// A resistor whose figure may be changed: in the circuit, of no copy, and nothing else has to match it.
fn free(circuit: &Circuit, name: &str) -> Option<PartId> {
    let at = circuit.parts.iter().position(|p| *p.name == *name)?;
    let (part, id) = (&circuit.parts[at], PartId(at as u32));
    let plain = matches!(part.kind, PartKind::Resistor { .. }) && part.copy_of.is_none() && !part.unfitted;
    (plain && !circuit.matched.iter().any(|m| m.parts.contains(&id))).then_some(id)
}

/// The circuit with some values times a factor.
fn changed(circuit: &Circuit, changes: &[(PartId, f64)]) -> Circuit {
    let mut circuit = circuit.clone();
    for (part, factor) in changes {
        let kind = &mut circuit.parts[part.at()].kind;
        if let Some(value) = kind.value().and_then(circuit::Given::number) {
            kind.set_value(value * factor);
        }
    }
    circuit
}

/// The answer to a question with the values of another circuit of the same topology.
fn answer(place: &Place, circuit: &Circuit, query: &Query) -> Option<Reading> {
    if matches!(query.quantity, Quantity::Measure(_)) {
        return None;
    }
    let (db, document) = (place.db, place.document);
    let key = WayKey::new(db, way(db, document, &query.quantity, query.from));
    let plan = planned(db, document, key)?;
    let inputs = Inputs::of(plan.local(), &network(db, document), circuit);
    let pulse: &dyn Fn() = &|| db.unwind_if_revision_cancelled();
    Some(analysis::answer(&plan, &inputs, query, &Look { most: GLANCE, pulse })).filter(|r| r.unknown().is_none())
}

/// The magnitudes that a question gives: at rest, and at the ends of its range.
fn magnitudes(place: &Place, circuit: &Circuit, query: &Query) -> Option<Vec<f64>> {
    let reading = answer(place, circuit, query)?;
    let own = match reading.value {
        Value::Complex(z) => Some(z.norm()),
        Value::Real(x) => Some(x.abs()),
        Value::None | Value::Never => None,
    };
    let ends = reading.range.iter().flat_map(|r| r.ends.iter().filter_map(|e| e.value));
    let all: Vec<f64> = own.into_iter().chain(ends).filter(|x| *x > 0.0 && x.is_finite()).collect();
    (!all.is_empty()).then_some(all)
}

/// A requirement of a gain that hangs on the pair, with both of its limits.
struct Wanted {
    at: (u32, u32),
    query: Query,
    /// The middle of what is wanted, as a ratio.
    ratio: f64,
    /// The same as it is written.
    text: String,
}

/// The first requirement that says what the pair's gain is to be.
fn wanted(place: &Place, circuit: &Circuit, pair: &Pair) -> Option<Wanted> {
    crate::decided::all(place.db, place.document).iter().find_map(|(block, entry, all)| {
        let [d] = &all[..] else { return None };
        let (query, limit) = (d.query.as_ref()?, d.limit.as_ref()?);
        let (Quantity::Gain(..), Some(low), Some(high)) = (&query.quantity, limit.low, limit.high) else { return None };
        let middle = 0.5 * (low + high);
        let ratio = match limit.unit {
            Unit::Decibel => quantity::from_db(middle),
            Unit::One => middle.abs(),
            _ => return None,
        };
        // One position, or the same at all of them: else several gains are one requirement's.
        let found = magnitudes(place, circuit, query)?;
        let alike = found.iter().all(|m| (m / found[0]).ln().abs() < STILL);
        let other = magnitudes(place, &changed(circuit, &[(pair.parts[0], STEP)]), query)?;
        let moves = (other[0] / found[0]).ln().abs() > STILL;
        let text = argument::require::text(middle, limit);
        (alike && moves && ratio > 0.0).then(|| Wanted { at: (*block, *entry), query: query.clone(), ratio, text })
    })
}

/// The factor on the first of a pair at which a gain is what is wanted, between a thousandth and a thousandfold.
fn factor(place: &Place, circuit: &Circuit, pair: &Pair, wanted: &Wanted) -> Option<f64> {
    let off = |log: f64| {
        let found = magnitudes(place, &changed(circuit, &[(pair.parts[0], log.exp())]), &wanted.query)?;
        Some((found[0] / wanted.ratio).ln())
    };
    let (mut low, mut high) = (-REACH.ln(), REACH.ln());
    let side = off(low)?.signum();
    if side == off(high)?.signum() {
        return None;
    }
    for _ in 0..48 {
        let middle = 0.5 * (low + high);
        if off(middle)?.signum() == side { low = middle } else { high = middle }
    }
    Some((0.5 * (low + high)).exp())
}

fn offered<'a>(place: &'a Place<'a>, circuit: &Circuit, pair: &Pair) -> Vec<Offer<'a>> {
    let wanted = wanted(place, circuit, pair);
    let now = pair.values[0] / pair.values[1];
    let ratio = match &wanted {
        Some(wanted) => factor(place, circuit, pair, wanted).map(|f| f * now),
        None => Some(now),
    };
    let Some(ratio) = ratio else { return Vec::new() };
    let found = place.lines().find_map(|l| {
        elements(&l.tree.tree).into_iter().find(|e| *e.part.text == *pair.names[0]).map(|e| series(place, e))
    });
    let Some(all) = found else { return Vec::new() };
    let mut told: Vec<(f64, f64, f64)> = Vec::new();
    for series in &all {
        // Around the second's own value, half a decade to either side.
        for p in series.pairs(ratio, pair.values[1] / 10f64.sqrt(), series.count()) {
            if !told.iter().any(|t| (t.0, t.1) == (p.first, p.second)) {
                told.push((p.first, p.second, p.error));
            }
        }
    }
    // Of those that are equally near, the one nearest to what is written: its noise and its load were chosen.
    let step = |t: &(f64, f64, f64)| (t.2.abs() / ALIKE).floor();
    let away = |t: &(f64, f64, f64)| (t.1 / pair.values[1]).ln().abs();
    told.sort_by(|a, b| step(a).total_cmp(&step(b)).then(away(a).total_cmp(&away(b))));
    // What is written already is as near as that.
    let written = (now / ratio).ln().abs();
    let members = pair.values.iter().all(|v| all.iter().any(|s| s.contains(*v)));
    let mut trial = None;
    let better = told.into_iter().filter(|t| t.2.abs() < written - ALIKE || (wanted.is_none() && !members));
    better
        .take(TOLD)
        .filter_map(|(first, second, error)| {
            let edits = written_in(place, pair, [first, second])?;
            let trial = trial.get_or_insert_with(|| Trial::of(place.db, place.document));
            title(place, trial, pair, wanted.as_ref(), &edits, error)
                .map(|title| Offer::new(ActionKind::Rewrite, title, move || Some(edits.clone())))
        })
        .collect()
}

/// The edits that write two values where the pair's stand, each as the other was written.
fn written_in(place: &Place, pair: &Pair, values: [f64; 2]) -> Option<Vec<Edit>> {
    let one = |i: usize| {
        place.lines().find_map(|line| {
            let element = elements(&line.tree.tree).into_iter().find(|e| *e.part.text == *pair.names[i])?;
            let valued = valued(element)?;
            Some(Edit { range: line.range(valued.figure.span), text: valued.like(values[i])? })
        })
    };
    Some(vec![one(0)?, one(1)?])
}

/// What comes of it, decided with the values written.
fn title(
    place: &Place,
    trial: &mut Trial,
    pair: &Pair,
    wanted: Option<&Wanted>,
    edits: &[Edit],
    error: f64,
) -> Option<String> {
    let write = format!("write {} {} and {} {}", pair.names[0], edits[0].text, pair.names[1], edits[1].text);
    let Some(wanted) = wanted else {
        let off = super::nearest::change(1.0 + error)?;
        return Some(format!("{write}: the ratio is {off}"));
    };
    let then = trial.holding(applied(place.text, edits));
    let document = then.document(HERE)?;
    let all = crate::decided::one(&then.database, document, wanted.at.0, wanted.at.1);
    let (reading, limit) = (all.first()?.reading.as_ref()?, all.first()?.limit.as_ref()?);
    let value = all.first()?.decision.as_ref()?.value?;
    let off = quantity::db(
        match limit.unit {
            Unit::Decibel => quantity::from_db(value),
            _ => value.abs(),
        } / wanted.ratio,
    );
    let style = Style { decimals: 2, ..Style::default() };
    let said = argument::require::value_text(reading, value, limit, 0);
    let off = match off.abs() {
        x if x < 0.005 => "as wanted".to_string(),
        x => {
            let side = if off > 0.0 { "above" } else { "below" };
            format!("{} {side} the {} wanted", quantity::decibels(x, style)?, wanted.text)
        }
    };
    Some(format!("{write}: {said}, {off}"))
}
