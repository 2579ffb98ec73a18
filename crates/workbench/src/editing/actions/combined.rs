//! One value made of two parts that can be bought: resistors in series or in parallel, capacitors in parallel.

use notation::tree::{Attribute, Element, EntryTree, Step};
use quantity::Series;

use super::nearest::{change, series};
use super::place::{Line, Valued, has_word, valued};
use super::{ActionKind, Offer, Place};
use crate::plain::Edit;

/// A part smaller than this share of the whole says nothing beside the other's tolerance.
const LEAST: f64 = 1e-3;

/// The best pairs for the value of the resistor or capacitor where it was asked, if no single part has it.
pub(super) fn offers<'a>(place: &'a Place<'a>) -> Vec<Offer<'a>> {
    let Some((line, element)) = place.element() else { return Vec::new() };
    let (class, name) = (&*element.part.class, &*element.part.text);
    let EntryTree::Path(path) = &line.tree.tree else { return Vec::new() };
    let Some(valued) = valued(element).filter(|_| matches!(class, "R" | "C") && plain(element)) else {
        return Vec::new();
    };
    let all = series(place, element);
    if all.iter().any(|s| s.contains(valued.value)) {
        return Vec::new();
    }
    let alone =
        path.steps.iter().any(|s| matches!(s, Step::Parts(p) if p.len() == 1 && p[0].as_ref() == Some(element)));
    let mut found = Vec::new();
    for parallel in [false, true] {
        // Parts in series end a group of parts in parallel. Between two capacitors in series a node has no path at rest, and they share a
        // direct voltage as their leakage has it.
        if !parallel && (!alone || class == "C") {
            continue;
        }
        let Some((a, b)) = best(all[0], valued.value, parallel == (class == "C")) else { continue };
        found.extend(offer(place, line, element, &valued, (a, b), parallel));
    }
    if let Some(other) = named_elsewhere(place, line, name) {
        // What it says there of one part would then be said of a half of it.
        let why = format!("line {other} names {name}, which would then be one of the two");
        found.iter_mut().for_each(|o| o.disabled = Some(why.clone()));
    }
    found
}

/// A part of which two can stand in the place: nothing is said of it that two would not bear.
fn plain(element: &Element) -> bool {
    let bears = |a: &Attribute| matches!(a, Attribute::Figure { .. } | Attribute::Series(_) | Attribute::Word(_));
    element.attributes.iter().all(bears) && !has_word(element, "external") && !has_word(element, "unfitted")
}

/// The two members of a series whose sum, or whose parallel value, is nearest to a value; the greater first.
fn best(series: Series, value: f64, sum: bool) -> Option<(f64, f64)> {
    // What adds up in parallel are the reciprocals.
    let whole = if sum { value } else { 1.0 / value };
    let (low, high) = if sum { (value / 2.0, value) } else { (value, 2.0 * value) };
    let mut found: Option<(f64, (f64, f64))> = None;
    let mut at = low * 0.999;
    while let Some((_, a)) = series.neighbours(at).filter(|(_, a)| *a <= high) {
        at = a * 1.0001;
        let rest = whole - if sum { a } else { 1.0 / a };
        if rest < LEAST * whole {
            continue;
        }
        let Some(b) = series.nearest(if sum { rest } else { 1.0 / rest }) else { continue };
        let made = if sum { a + b } else { a * b / (a + b) };
        let error = (made / value).ln().abs();
        if found.is_none_or(|f| error < f.0 - 1e-12) {
            found = Some((error, (a.max(b), a.min(b))));
        }
    }
    // For parallel parts the smaller one carries the value.
    found.map(|f| if sum { f.1 } else { (f.1.1, f.1.0) })
}

fn offer<'a>(
    place: &'a Place<'a>,
    line: Line<'a>,
    element: &Element,
    valued: &Valued,
    (a, b): (f64, f64),
    parallel: bool,
) -> Option<Offer<'a>> {
    let sum = parallel == (&*element.part.class == "C");
    let made = if sum { a + b } else { a * b / (a + b) };
    let (first, second) = (valued.like(a)?, valued.like(b)?);
    let (mark, how) = if parallel { ("||", "in parallel") } else { ("--", "in series") };
    let title = format!("make {} of {first} and {second} {how}: {}", element.part.text, change(made / valued.value)?);
    let range = line.range(element.span);
    let value = line.range(valued.figure.span);
    let attributes = place.text[value.end..range.end].to_string();
    let class = element.part.class.to_string();
    Some(Offer::new(ActionKind::Rewrite, title, move || {
        let other = place.free(&class);
        let text = format!("{first}{attributes} {mark} {other} {second}{attributes}");
        Some(vec![Edit { range: value.start..range.end, text }])
    }))
}

/// The line, from 1, of another entry that names a part, whether in this stage or in a copy.
fn named_elsewhere(place: &Place, own: Line, name: &str) -> Option<u32> {
    let copy = format!(".{name}");
    let names =
        |line: &Line| notation::names_of(line.tree).parts.iter().any(|p| *p.text == *name || p.text.ends_with(&copy));
    place.lines().filter(|l| (l.block, l.entry) != (own.block, own.entry)).find(names).map(|l| l.chunk.line + 1)
}
