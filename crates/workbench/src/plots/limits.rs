//! The limits of requirements that speak of what is drawn.

use analysis::positions::Stand;
use circuit::{LimitPiece, Measure, Quantity, Query};
use plot::{Forbidden, Limit, Side};
use quantity::Unit;

use super::scene::{Scene, ends};

/// A curve of a family, and its level at the reference.
pub(crate) struct Member {
    pub stand: Stand,
    pub points: Vec<(f64, f64)>,
    pub level: Option<f64>,
}

/// A limit in words: `> 30 dB`, `11.5 … 12.5 dB`.
pub(crate) fn text(limit: &LimitPiece) -> String {
    let one = |x: f64| argument::require::text(x, limit);
    match (limit.low, limit.high) {
        (Some(a), Some(b)) => {
            let (a, b) = (one(a), one(b));
            match (a.rsplit_once(' '), b.rsplit_once(' ')) {
                (Some((number, unit)), Some((_, other))) if unit == other => format!("{number} … {b}"),
                _ => format!("{a} … {b}"),
            }
        }
        (Some(a), None) => format!("> {}", one(a)),
        (None, Some(b)) => format!("< {}", one(b)),
        (None, None) => String::new(),
    }
}

/// An end of a limit on the axis of what is drawn.
pub(crate) fn height(quantity: &Quantity, limit: &LimitPiece, x: f64) -> Option<f64> {
    let found = match (quantity, limit.unit) {
        (Quantity::Gain(..), Unit::One) => 20.0 * x.abs().log10(),
        (Quantity::Measure(_), Unit::Volt) => quantity::dbu(x),
        (Quantity::Measure(_), Unit::Dbv) => quantity::dbu(quantity::dbv_to_volts(x)),
        _ => x,
    };
    found.is_finite().then_some(found)
}

/// The lines of a limit over a span; on an axis in decibels a ratio that turns over has its ends in the other order.
pub(crate) fn lines(quantity: &Quantity, limit: &LimitPiece, over: (f64, f64), name: &str) -> Vec<Limit> {
    let turned = matches!(quantity, Quantity::Gain(..))
        && limit.unit == Unit::One
        && limit.low.into_iter().chain(limit.high).all(|x| x <= 0.0);
    let ends = if turned { [limit.high, limit.low] } else { [limit.low, limit.high] };
    let sides = [(ends[0], Forbidden::Below), (ends[1], Forbidden::Above)];
    let mut found: Vec<Limit> = Vec::new();
    for (end, forbidden) in sides {
        let Some(at) = end.and_then(|x| height(quantity, limit, x)) else { continue };
        // Of two lines one has the words.
        let name = if found.is_empty() { name.to_string() } else { String::new() };
        found.push(Limit { over, at, side: Side::Left, forbidden, name });
    }
    found
}

/// The limits that speak of a question's curves.
pub(crate) fn of(scene: &Scene, query: &Query, members: &[Member], span: (f64, f64)) -> Vec<Limit> {
    let mut found = Vec::new();
    for (asked, limit) in crate::decided::stated(scene.db, scene.document) {
        // A limit at another position than the one that is drawn is not about these curves.
        let drawn = query.when.as_ref().or(scene.when.as_ref());
        let elsewhere = match (drawn, &asked.when) {
            (Some(a), Some(b)) => a.positions != b.positions,
            (None, Some(b)) => {
                !members.iter().any(|m| b.positions.iter().all(|(c, p)| m.stand.positions[c.at()] == *p))
            }
            _ => false,
        };
        if elsewhere || asked.from != query.from {
            continue;
        }
        let said = match (&asked.when, drawn) {
            (Some(when), None) => format!("{} when {}", text(&limit), when.name),
            _ => text(&limit),
        };
        if asked.quantity == query.quantity {
            let reference = scene.circuit.reference;
            let over = asked.over.unwrap_or_else(|| {
                let f = asked.at.unwrap_or(reference);
                (f, f)
            });
            found.extend(lines(&query.quantity, &limit, over, &said));
        } else if let Quantity::Gain(a, b) = &query.quantity
            && ends(&asked.quantity) == Some((a, b))
        {
            // What is asked of each position is drawn at each one's own level.
            for (i, level) in levels(&asked, members).into_iter().enumerate() {
                let reference = asked.against.unwrap_or(scene.circuit.reference);
                let lines = about(scene, &asked, &limit, (level, reference), &said);
                found.extend(lines.into_iter().map(|l| if i == 0 { l } else { Limit { name: String::new(), ..l } }));
            }
        }
    }
    found.retain(|l| l.over.1 >= span.0 && l.over.0 <= span.1);
    found
}

/// So many levels of a family have their own lines.
const LEVELS: usize = 4;

/// The levels at the reference that a limit hangs on: that of its own position, or those of all.
fn levels(asked: &Query, members: &[Member]) -> Vec<f64> {
    if asked.against.is_some() || asked.curve.is_some() {
        return Vec::new();
    }
    let own = |m: &&Member| {
        asked.when.as_ref().is_none_or(|w| w.positions.iter().all(|(c, p)| m.stand.positions[c.at()] == *p))
    };
    let mut found: Vec<f64> = Vec::new();
    for level in members.iter().filter(own).filter_map(|m| m.level) {
        if !found.iter().any(|l| (l - level).abs() < 0.05) {
            found.push(level);
        }
    }
    if found.len() > LEVELS { Vec::new() } else { found }
}

/// What a limit on a corner or on the flatness says of the curve itself.
fn about(scene: &Scene, asked: &Query, limit: &LimitPiece, (level, reference): (f64, f64), said: &str) -> Vec<Limit> {
    let down = level - 20.0 * 2f64.sqrt().log10();
    let line = |over: (f64, f64), at: f64, forbidden: Forbidden, name: String| Limit {
        over,
        at,
        side: Side::Left,
        forbidden,
        name,
    };
    let ordered = |a: f64, b: f64| (a.min(b), a.max(b));
    let mut found = Vec::new();
    match &asked.quantity {
        // To the corner that is wanted the response may not fall by 3 dB; at one that it must not reach, it must have.
        Quantity::LowCorner(..) => {
            let name = format!("low corner {said}");
            if let Some(f) = limit.high {
                found.push(line(ordered(f, reference), down, Forbidden::Below, name.clone()));
            }
            if let Some(f) = limit.low {
                let name = if found.is_empty() { name } else { String::new() };
                found.push(line((f, f), down, Forbidden::Above, name));
            }
        }
        Quantity::HighCorner(..) => {
            let name = format!("high corner {said}");
            if let Some(f) = limit.low {
                found.push(line(ordered(reference, f), down, Forbidden::Below, name.clone()));
            }
            if let Some(f) = limit.high {
                let name = if found.is_empty() { name } else { String::new() };
                found.push(line((f, f), down, Forbidden::Above, name));
            }
        }
        Quantity::Measure(Measure::Flatness(..)) => {
            let Some(most) = limit.high.filter(|_| limit.unit == Unit::Decibel) else { return found };
            let over = asked.over.unwrap_or(scene.circuit.band);
            found.push(line(over, level - most, Forbidden::Below, format!("flatness {said}")));
            found.push(line(over, level + most, Forbidden::Above, String::new()));
        }
        _ => {}
    }
    found
}
