//! The values of a preferred series around a part's own.

use notation::tree::{Attribute, Element};
use quantity::Series;

use super::place::{has_word, valued};
use super::{ActionKind, Offer, Place};
use crate::database::circuit_of;
use crate::plain::Edit;

/// Resistors of this tolerance or less are made in E96 too (IEC 60063 gives the series, common practice which is kept for what).
const FINE: f64 = 0.01;

/// The values around that of the part where it was asked: of the series that its entry names, else of those in which such parts are made.
pub(super) fn offers<'a>(place: &'a Place<'a>) -> Vec<Offer<'a>> {
    let Some((line, element)) = place.element() else { return Vec::new() };
    let Some(valued) = valued(element).filter(|_| &*element.part.class != "VR" && !has_word(element, "external"))
    else {
        return Vec::new();
    };
    let (value, range) = (valued.value, line.range(valued.figure.span));
    let mut found: Vec<(f64, Series, &str)> = Vec::new();
    let mut all = series(place, element);
    // A member is no worse for lying between those of a finer series.
    if let Some(own) = all.iter().copied().find(|s| s.contains(value)) {
        all = vec![own];
    }
    for series in all {
        let Some((below, above)) = around(series, value) else { continue };
        let nearer = if value / below <= above / value { (below, above) } else { (above, below) };
        for (i, other) in [nearer.0, nearer.1].into_iter().enumerate() {
            let word = match (series.contains(value), i) {
                (false, 0) => "nearest",
                _ if other > value => "next above",
                _ => "next below",
            };
            if !found.iter().any(|f| f.0 == other) {
                found.push((other, series, word));
            }
        }
    }
    let name = element.part.text.clone();
    let one = |(other, series, word): (f64, Series, &str)| {
        let text = valued.like(other)?;
        let title = format!("write {name} {text}: {word} in {}, {}", series.name(), change(other / value)?);
        let edit = Edit { range: range.clone(), text };
        Some(Offer::new(ActionKind::Rewrite, title, move || Some(vec![edit.clone()])))
    };
    found.into_iter().filter_map(one).collect()
}

/// The members below and above a value that is no member, else its neighbours.
fn around(series: Series, value: f64) -> Option<(f64, f64)> {
    let (below, above) = series.neighbours(value)?;
    if below < above {
        return Some((below, above));
    }
    // A member's neighbours lie a little beside it: E192 has steps of 1 %.
    Some((series.neighbours(value * 0.9999)?.0, series.neighbours(value * 1.0001)?.1))
}

/// `2.2 % less`
pub(super) fn change(ratio: f64) -> Option<String> {
    let percent = 100.0 * (ratio - 1.0).abs();
    let word = if ratio > 1.0 { "more" } else { "less" };
    if percent < 1e-7 {
        return Some("the same".into());
    }
    let digits = if percent < 0.95 { 1 } else { 2 };
    let style = quantity::Style { digits, ..quantity::Style::default() };
    Some(format!("{} {word}", quantity::computed(percent, quantity::Unit::Percent, style)?))
}

/// The series to look in, the likeliest first.
pub(super) fn series(place: &Place, element: &Element) -> Vec<Series> {
    let named = element.attributes.iter().find_map(|a| match a {
        Attribute::Series(word) => Series::read(&word.text),
        _ => None,
    });
    match (named, &*element.part.class) {
        (Some(series), _) => vec![series],
        (None, "R") if tolerance(place, element).is_some_and(|t| t <= FINE) => vec![Series::E24, Series::E96],
        (None, "R") => vec![Series::E24],
        (None, _) => vec![Series::E12],
    }
}

/// The share by which a part may be off: its own, else its class's.
fn tolerance(place: &Place, element: &Element) -> Option<f64> {
    let own = element.attributes.iter().find_map(|a| match a {
        Attribute::Figure { figure, .. } if figure.unit.as_deref() == Some("%") => figure.text.parse::<f64>().ok(),
        _ => None,
    });
    if let Some(percent) = own {
        return Some(percent / 100.0);
    }
    let circuit = circuit_of(place.db, place.document);
    let class = circuit.tolerances.iter().find(|(class, _)| *class == element.part.class)?;
    class.1.number()
}
