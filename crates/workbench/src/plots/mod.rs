//! What a plot of a phrase, a stage, a node or an assumption shows, as plain data.

mod answers;
mod assumption;
mod levels;
mod limits;
mod noise;
mod phrase;
mod response;
mod sampled;
mod scene;
pub(crate) mod small;
mod span;
mod step;
mod travel;

use notation::tree::Fault;
use plot::{Axis, Band, Curve, Dash, Limit, Mark, Plot, Side};

use crate::desk::Snapshot;
use phrase::Subject;
use scene::Scene;

/// Why there is no plot.
#[derive(Clone, Debug, PartialEq)]
pub enum Refused {
    /// A phrase cannot be meant.
    Wrong {
        /// The phrase as it was read.
        phrase: String,
        /// What is wrong with it.
        fault: Fault,
    },
    /// It is not known, or it has no curve: a sentence without its full stop.
    Not(String),
}

/// What is chosen for all phrases of a plot.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Chosen<'a> {
    /// A band as it stands behind `over`: `20 Hz .. 20 kHz`.
    pub over: Option<&'a str>,
    /// A position as it stands behind `when`.
    pub setting: Option<&'a str>,
    /// Responses have a band of drawn builds about them.
    pub tolerance: bool,
}

/// What one phrase draws.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    /// What it shows, in words.
    title: String,
    x: Axis,
    y: Axis,
    curves: Vec<Curve>,
    bands: Vec<Band>,
    marks: Vec<Mark>,
    limits: Vec<Limit>,
    notes: Vec<String>,
}

impl Part {
    fn new(title: String, x: Axis, y: Axis) -> Part {
        let (curves, bands, marks) = (Vec::new(), Vec::new(), Vec::new());
        Part { title, x, y, curves, bands, marks, limits: Vec::new(), notes: Vec::new() }
    }

    /// As a plot by itself.
    fn alone(self) -> Plot {
        let Part { title, x, y, curves, bands, marks, limits, notes } = self;
        Plot { title, curves, bands, marks, limits, notes, ..Plot::new(x, y) }
    }
}

impl Snapshot {
    /// The plot of one or several phrases.
    ///
    /// # Errors
    /// Which phrase cannot be meant, or why there is no curve.
    pub fn plot(&self, path: &str, phrases: &[String], chosen: Chosen) -> Result<Plot, Refused> {
        let document = self.document(path).ok_or_else(|| Refused::Not("the file is not open".into()))?;
        if let Some(why) = crate::hints::blank(&self.database, document) {
            return Err(Refused::Not(format!("nothing is known: {why}")));
        }
        let mut scene = Scene::new(&self.database, document);
        scene.set(chosen)?;
        let wrong = |phrase: &String, why: String| Refused::Not(format!("{phrase}: {why}"));
        let mut subjects = Vec::new();
        for phrase in phrases {
            subjects.extend(phrase::subjects(&scene, phrase)?.into_iter().map(|s| (phrase, s)));
        }
        let alone = subjects.len() == 1;
        // All curves over frequency go over one span.
        let spans = subjects.iter().filter_map(|(_, s)| span::of(&scene, s));
        let span = spans.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))).unwrap_or(scene.circuit.band);
        let mut parts = Vec::new();
        for (phrase, subject) in &subjects {
            parts.push(drawn(&scene, subject, span, alone).map_err(|why| wrong(phrase, why))?);
        }
        together(parts).map_err(Refused::Not)
    }
}

/// What a subject draws; one that is alone shows what its controls do.
///
/// # Errors
/// Why there is no curve: a clause.
pub(crate) fn drawn(scene: &Scene, subject: &Subject, span: (f64, f64), alone: bool) -> Result<Part, String> {
    if let (true, Subject::Step(_) | Subject::Travel(..) | Subject::Levels) = (scene.over.is_some(), subject) {
        return Err("it does not go over frequency, and takes no span of it".into());
    }
    match subject {
        Subject::Response(query) => response::part(scene, query, span, alone),
        Subject::Noise(query, point) => noise::part(scene, query, point, span, alone),
        Subject::Sampled(query) => sampled::part(scene, query, span),
        Subject::Step(query) => step::part(scene, query, alone),
        Subject::Burst(query) => step::burst(scene, query, alone),
        Subject::Travel(query, control) => travel::part(scene, query, *control),
        Subject::Assumption(block, entry) => assumption::part(scene, *block, *entry, alone),
        Subject::Levels => levels::part(scene),
    }
}

/// Several drawings in one plot: what has another unit stands on the right axis.
///
/// # Errors
/// What cannot stand together.
fn together(parts: Vec<Part>) -> Result<Plot, String> {
    if parts.is_empty() {
        return Err("there is nothing to draw".into());
    }
    let titles: Vec<String> = parts.iter().map(|p| p.title.clone()).collect();
    let (names, common) = apart(&titles);
    let several = parts.len() > 1;
    let mut all = parts.into_iter();
    let Some(first) = all.next() else { return Err("there is nothing to draw".into()) };
    let mut plot = first.alone();
    if several {
        plot.title = format!("{}{common}", quantity::list(&names.iter().map(|n| &**n).collect::<Vec<_>>(), "and"));
        plot.curves.iter_mut().for_each(|c| named(c, &names[0]));
    }
    let along = |x: &Axis| (x.unit, x.label.clone(), x.names.clone());
    let mut hue = plot.curves.iter().map(|c| c.hue).max().unwrap_or(0);
    for (part, name) in all.zip(&names[1..]) {
        if along(&part.x) != along(&plot.x) {
            let (one, other) = (said(&plot.x), said(&part.x));
            return Err(format!("{} goes over {one}, {} over {other}: two plots", titles[0], part.title));
        }
        let same = |y: &Axis| y.unit == part.y.unit && y.scale == part.y.scale;
        let side = if same(&plot.y) {
            Side::Left
        } else if plot.right.as_ref().is_none_or(same) {
            plot.right.get_or_insert(part.y.clone());
            Side::Right
        } else {
            return Err(format!("{} has a third unit, and a plot has two edges: two plots", part.title));
        };
        let axis = if side == Side::Left { Some(&mut plot.y) } else { plot.right.as_mut() };
        if let Some(axis) = axis.filter(|a| !a.label.contains(&part.y.label)) {
            axis.label = format!("{}, {}", axis.label, part.y.label);
        }
        let base = hue + 1;
        for mut curve in part.curves {
            named(&mut curve, name);
            (curve.side, curve.hue) = (side, base + curve.hue);
            if side == Side::Right {
                curve.dash = Dash::Dashed;
            }
            hue = hue.max(curve.hue);
            plot.curves.push(curve);
        }
        plot.bands.extend(part.bands.into_iter().map(|b| Band { side, hue: base + b.hue, ..b }));
        plot.marks.extend(part.marks.into_iter().map(|m| Mark { side, ..m }));
        plot.limits.extend(part.limits.into_iter().map(|l| Limit { side, ..l }));
        let new: Vec<String> = part.notes.into_iter().filter(|n| !plot.notes.contains(n)).collect();
        plot.notes.extend(new);
    }
    if plot.is_empty() {
        return Err(format!("{}: nothing of it can be drawn", plot.title));
    }
    Ok(plot)
}

/// Titles without the words at their ends that all of them have, and those words: `gain`, `phase` and ` in -> out`. One that would be left without
/// a word keeps all.
fn apart(titles: &[String]) -> (Vec<String>, String) {
    let words: Vec<Vec<&str>> = titles.iter().map(|t| t.split(' ').collect()).collect();
    let shortest = words.iter().map(Vec::len).min().unwrap_or(0);
    let last = |n: usize| words[0][words[0].len() - n..].to_vec();
    let alike = |n: usize| words.iter().all(|w| w[w.len() - n..] == last(n)[..]);
    let mut common = (0..shortest).rev().find(|n| alike(*n)).unwrap_or(0);
    // An arrow is not left behind: what leads from A to B stays together.
    while common > 0 && words.iter().any(|w| w[..w.len() - common].last() == Some(&"->") || w[w.len() - common] == "->")
    {
        common -= 1;
    }
    let names = words.iter().map(|w| w[..w.len() - common].join(" ")).collect();
    let rest = if common == 0 { String::new() } else { format!(" {}", last(common).join(" ")) };
    (names, rest)
}

/// A curve among those of other phrases says what it is of.
fn named(curve: &mut Curve, title: &str) {
    curve.name = if curve.name.is_empty() { title.to_string() } else { format!("{title}, {}", curve.name) };
}

fn said(axis: &Axis) -> String {
    if axis.label.is_empty() { "places".into() } else { axis.label.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_share_what_they_have_in_common() {
        let split = |titles: &[&str]| apart(&titles.iter().map(|t| t.to_string()).collect::<Vec<_>>());
        assert_eq!(
            split(&["gain in -> out", "phase in -> out"]),
            (vec!["gain".into(), "phase".into()], " in -> out".into())
        );
        assert_eq!(split(&["gain a -> out", "gain b -> out"]).1, "");
        assert_eq!(split(&["gain in -> a when low", "gain in -> b when low"]).1, " when low");
        assert_eq!(split(&["gain in -> a", "gain in -> a"]).0, ["gain", "gain"]);
        assert_eq!(split(&["level diagram"]).0, ["level"]);
    }
}
