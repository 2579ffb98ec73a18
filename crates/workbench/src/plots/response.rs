//! A gain, an angle or an impedance over frequency, as a family over its controls.

use analysis::positions::Stand;
use analysis::sweep::{at_positions, sweep};
use circuit::{Quantity, Query};
use plot::{Axis, Band, Curve, Mark, Scale, Side};

use super::Part;
use super::answers::{answer, axis, followed, shown, typical};
use super::limits::{self, Member};
use super::scene::{Scene, ends};

/// So many corners are marked at most.
const MARKS: usize = 8;
/// So many builds are drawn about a curve.
const BUILDS: usize = 200;
/// Corners that lie nearer than this share of the sheet's width are told once.
const NEAR: f64 = 0.012;

/// Draws it.
///
/// # Errors
/// Why it is not known: a clause.
pub(crate) fn part(scene: &Scene, query: &Query, span: (f64, f64), alone: bool) -> Result<Part, String> {
    // What is told of a response as a whole is drawn with the response itself.
    let asked = drawn(scene, query);
    let query = &asked;
    let (plan, inputs) = scene.planned(query)?;
    let on = analysis::sweep::controls(&plan, &inputs);
    let stands = if alone { scene.family(query, &on) } else { vec![scene.stand(query, &on)] };
    // What makes the reading unknown makes the curve so.
    let plain = Query { at: None, over: None, ..query.clone() };
    let first = stands.first().ok_or("no position was examined")?;
    let reference = Query { quantity: response_of(scene, query), ..plain.clone() };
    answer(scene, &reference, first)?;
    let mut notes: Vec<String> = Vec::new();
    let high = bandwidth(scene, &reference, first, span, &inputs, &mut notes);
    let mut members = Vec::new();
    for stand in &stands {
        scene.pulse();
        let swept = sweep(&plan, &inputs, stand, (span.0, high.max(span.0 * 1.01)))?;
        let mut points: Vec<(f64, f64)> = swept.iter().map(|(f, z)| (*f, shown(&query.quantity, *z))).collect();
        if matches!(query.quantity, Quantity::Phase(..)) {
            followed(&mut points);
        }
        members.push(Member { stand: stand.clone(), points, level: None });
    }
    merge(&mut members, axis(query).scale == Scale::Logarithmic, &mut notes);
    let family = members.len() > 1;
    let controls = if family { &on[..] } else { &[] };
    let mut part = Part::new(scene.titled(query, controls), Axis::frequency().from_to(span.0, span.1), axis(query));
    if ends(&query.quantity).is_some() && !matches!(query.quantity, Quantity::Phase(..)) {
        corners(scene, &plain, (&plan, &inputs), &mut members, &mut part);
    }
    silent(&members, &mut notes);
    let count = members.len();
    for (i, member) in members.iter().enumerate() {
        let name = if family { member.stand.name.to_string() } else { String::new() };
        let shade = family.then(|| i as f64 / (count - 1) as f64);
        part.curves.push(Curve { name, points: member.points.clone(), shade, ..Curve::default() });
    }
    part.limits = limits::of(scene, query, &members, span);
    if scene.tolerance {
        let network = crate::database::network(scene.db, scene.document);
        for member in &members {
            scene.pulse();
            match band(scene, query, (&plan, &network), member) {
                Ok(band) => part.bands.push(band),
                Err(why) => {
                    notes.push(format!("no band of tolerance: {why}"));
                    break;
                }
            }
        }
        if !part.bands.is_empty() {
            notes.push(format!("the band holds {BUILDS} drawn builds"));
        }
    }
    notes.extend(typical(inputs.types.iter().map(|t| &t.0)));
    if !family && !on.is_empty() && query.when.is_none() && scene.when.is_none() && !alone {
        notes.push("the controls are at rest".into());
    }
    part.notes = notes;
    Ok(part)
}

/// The least and the greatest of drawn builds about a curve.
fn band(
    scene: &Scene,
    query: &Query,
    (plan, network): (&analysis::Plan, &analysis::Network),
    member: &Member,
) -> Result<Band, String> {
    let hertz: Vec<f64> = member.points.iter().map(|p| p.0).collect();
    let rows = analysis::sweep::builds(plan, network, &scene.circuit, &member.stand, &hertz, BUILDS)?;
    let angle = matches!(query.quantity, Quantity::Phase(..));
    let mut points: Vec<(f64, f64, f64)> = member.points.iter().map(|p| (p.0, p.1, p.1)).collect();
    for row in rows {
        for ((point, z), nominal) in points.iter_mut().zip(row).zip(&member.points) {
            let mut y = shown(&query.quantity, z);
            if angle {
                y += 360.0 * ((nominal.1 - y) / 360.0).round();
            }
            // What is no number in a build leaves no place to the band there.
            (point.1, point.2) = if y.is_nan() { (y, y) } else { (point.1.min(y), point.2.max(y)) };
        }
    }
    Ok(Band { name: String::new(), points, side: Side::Left, hue: 0 })
}

/// The response that stands for a question about it.
fn drawn(scene: &Scene, query: &Query) -> Query {
    use circuit::Measure::Flatness;
    match &query.quantity {
        Quantity::LowCorner(a, b) | Quantity::HighCorner(a, b) | Quantity::Measure(Flatness(a, b)) => {
            let quantity = scene.circuit.response(a, b);
            let words = if matches!(quantity, Quantity::Gain(..)) { "gain" } else { "transimpedance" };
            let phrase = format!("{words} {} -> {}", a.name, b.name).into();
            Query { quantity, phrase, over: None, curve: None, against: None, ..query.clone() }
        }
        _ => query.clone(),
    }
}

/// The gain that an angle belongs to, or the question itself.
fn response_of(scene: &Scene, query: &Query) -> Quantity {
    match &query.quantity {
        Quantity::Phase(a, b) => scene.circuit.response(a, b),
        other => other.clone(),
    }
}

/// How far up a response is known: where an amplifier has no gain-bandwidth product, to a decade below the corner.
fn bandwidth(
    scene: &Scene,
    query: &Query,
    stand: &Stand,
    (low, high): (f64, f64),
    inputs: &analysis::Inputs,
    notes: &mut Vec<String>,
) -> f64 {
    let Some((sheet, _)) = inputs.types.iter().find(|t| t.1) else { return high };
    let known = |f: f64| answer(scene, &Query { at: Some(f), ..query.clone() }, stand).is_ok();
    if known(high) {
        return high;
    }
    let (mut good, mut bad) = (low, high);
    for _ in 0..24 {
        let middle = (good * bad).sqrt();
        if known(middle) { good = middle } else { bad = middle }
    }
    notes.push(format!("above {} it is unknown: {sheet} has no gain bandwidth", analysis::print::hertz(good)));
    good
}

/// Curves that a sheet would show as one are one, and a note says so.
fn merge(members: &mut Vec<Member>, decades: bool, notes: &mut Vec<String>) {
    // What lies a hundred decibels below the rest is off the sheet.
    let place = |y: f64| if decades { 20.0 * y.log10() } else { y };
    let seen = members.iter().flat_map(|m| &m.points).map(|p| place(p.1)).filter(|y| y.is_finite());
    let (low, high) = seen.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), y| (a.min(y), b.max(y)));
    let apart = 2e-3 * (high - low).min(100.0) + 1e-6;
    let near = |a: f64, b: f64| {
        let (a, b) = (place(a).max(high - 100.0), place(b).max(high - 100.0));
        (a.is_nan() && b.is_nan()) || (a - b).abs() <= apart
    };
    // Each has frequencies of its own where it is sharp; where they differ, so do the curves.
    let alike = |a: &Member, b: &Member| {
        a.points.len() == b.points.len() && a.points.iter().zip(&b.points).all(|(a, b)| near(a.1, b.1))
    };
    let mut kept: Vec<(Member, Vec<String>)> = Vec::new();
    for member in members.drain(..) {
        match kept.iter_mut().find(|k| alike(&k.0, &member)) {
            Some((_, also)) => also.push(member.stand.name.to_string()),
            None => kept.push((member, Vec::new())),
        }
    }
    for (member, also) in kept.iter().filter(|k| !k.1.is_empty()) {
        let mut all: Vec<&str> = vec![&member.stand.name];
        all.extend(also.iter().map(String::as_str));
        notes.push(format!("{} lie on one curve", quantity::list(&all, "and")));
    }
    members.extend(kept.into_iter().map(|k| k.0));
}

/// What a member without a curve is silent about.
fn silent(members: &[Member], notes: &mut Vec<String>) {
    for member in members {
        if member.points.iter().all(|p| p.1 == f64::NEG_INFINITY) {
            notes.push(format!("{}: nothing arrives", member.stand.name));
        }
    }
}

/// Marks the corners of each member, and tells its level at the reference.
fn corners(
    scene: &Scene,
    query: &Query,
    (plan, inputs): (&analysis::Plan, &analysis::Inputs),
    members: &mut [Member],
    part: &mut Part,
) {
    let Some((a, b)) = ends(&query.quantity) else { return };
    let plot::Ends::Exactly(low, high) = part.x.ends else { return };
    let span = (high / low).ln();
    for member in members.iter_mut() {
        let level = |f: f64| {
            let z = at_positions(plan, inputs, std::slice::from_ref(&member.stand), f).ok()?.first().copied()?;
            Some(shown(&query.quantity, z)).filter(|y| y.is_finite())
        };
        member.level = level(query.against.unwrap_or(scene.circuit.reference));
        for quantity in [Quantity::LowCorner(a.clone(), b.clone()), Quantity::HighCorner(a.clone(), b.clone())] {
            let asked = Query { quantity, ..query.clone() };
            let Ok(reading) = answer(scene, &asked, &member.stand) else { continue };
            let Some(f) = reading.magnitude().filter(|f| *f > 0.0 && f.is_finite()) else { continue };
            let Some(y) = level(f) else { continue };
            // Of corners that lie together one has its figure.
            let together = |m: &Mark| (m.x / f).ln().abs() < NEAR * span;
            let text = if part.marks.iter().any(together) { String::new() } else { analysis::print::hertz(f) };
            if part.marks.len() < MARKS {
                part.marks.push(Mark { x: f, y, side: Side::Left, text });
            }
        }
    }
}
