//! What stands above a heading and can be clicked: a stage's working and its gain at the controls' ends, the requirements of a design.
//!
//! Where lenses stand follows from the text alone, so that to open a file costs nothing; what they say is worked out for those that are
//! looked at.

use std::ops::Range;

use analysis::{Reading, Value};
use argument::Verdict;
use circuit::query::When;
use circuit::{Circuit, ControlId, ControlKind, Position, Quantity, StageId};
use derivation::page;
use notation::tree::{BlockKind, EntryTree, Heading};
use quantity::Unit;

use crate::database::{Desk, Document, Read, circuit_of, layout, query, reads, stage_quantities};
use crate::desk::Snapshot;
use crate::editing::actions::elements;
use crate::hints::blank;
use crate::plain::{HintKind, Mark};

/// What a lens is about.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Lensed {
    /// The hand working of a stage.
    Working(String),
    /// The gain of a stage where its controls come to their ends.
    Ends(String),
    /// The requirements of the design.
    Requirements,
}

/// A lens in its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lens {
    /// The heading's first line.
    pub range: Range<usize>,
    /// What it is about.
    pub about: Lensed,
}

/// What a lens says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LensTitle {
    /// In a few words.
    pub text: String,
    /// It is not known for the moment: a line is unfinished, and what was said before may stand.
    pub waits: bool,
}

/// A page to read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// What it is about.
    pub title: String,
    /// In Markdown.
    pub markdown: String,
    /// In plain text.
    pub plain: String,
}

/// More controls of one stage than this are not told.
const CONTROLS: usize = 3;
/// More positions of a switch than this are told by their ends.
const STEPS: usize = 4;

impl Snapshot {
    /// The lenses of a file in the order of their places.
    pub fn lenses(&self, path: &str) -> Vec<Lens> {
        self.document(path).map(|d| lenses(&self.database, d)).unwrap_or_default()
    }

    /// What a lens says; `None` where there is nothing that it is about.
    pub fn lens_title(&self, path: &str, about: &Lensed) -> Option<LensTitle> {
        let (db, document): (&dyn Desk, Document) = (&self.database, self.document(path)?);
        let said = |text: String| Some(LensTitle { text, waits: false });
        if let Lensed::Working(_) = about {
            return said("derive".into());
        }
        if let Some(why) = blank(db, document) {
            return Some(LensTitle { text: format!("unknown: {why}"), waits: true });
        }
        match about {
            Lensed::Working(_) => None,
            Lensed::Ends(stage) => said(ends(db, document, stage)?),
            Lensed::Requirements => said(held(db, document)?),
        }
    }

    /// The page that a lens leads to.
    pub fn lens_page(&self, path: &str, about: &Lensed) -> Option<Sheet> {
        match about {
            Lensed::Working(stage) | Lensed::Ends(stage) => {
                let at = self.stages(path).iter().position(|s| s == stage)?;
                let page = &self.derivation(path, at)?.page;
                Some(Sheet { title: page.title.clone(), markdown: page::markdown(page), plain: page::text(page) })
            }
            Lensed::Requirements => self.requirements_page(path),
        }
    }

    /// The requirements, those that fail first.
    fn requirements_page(&self, path: &str) -> Option<Sheet> {
        let (db, document): (&dyn Desk, Document) = (&self.database, self.document(path)?);
        let title = held(db, document).unwrap_or_else(|| "requirements".into());
        let text = document.text(db);
        let hints = self.hints(path, None).into_iter();
        let mut all: Vec<(u8, String, String, u32)> = hints
            .filter(|h| h.kind == HintKind::Statement && h.key.starts_with("require"))
            .filter_map(|h| {
                let rank = match h.mark {
                    Mark::Fails => 0,
                    Mark::Unknown | Mark::Undecided => 1,
                    _ => 2,
                };
                let line = text.lines().nth(h.line as usize)?;
                Some((rank, crate::line::said(line), h.label, h.line + 1))
            })
            .collect();
        all.sort_by_key(|one| one.0);
        let mut markdown = format!("# {title}\n\n");
        let mut plain = format!("{title}\n\n");
        for (_, said, label, line) in &all {
            markdown.push_str(&format!("* `{said}`: **{label}** (line {line})\n"));
            plain.push_str(&format!("  {said}: {label} (line {line})\n"));
        }
        Some(Sheet { title, markdown, plain })
    }
}

fn lenses(db: &dyn Desk, document: Document) -> Vec<Lens> {
    let (layout, reads, text) = (layout(db, document), reads(db, document), document.text(db));
    let limits = layout.blocks.iter().any(|b| b.kind == Some(BlockKind::Require) && !b.entries.is_empty());
    let has = |kind| layout.blocks.iter().position(|b| b.kind == Some(kind) && b.heading.is_some());
    let summary = has(BlockKind::Design).or(has(BlockKind::Require)).filter(|_| limits);
    let mut found = Vec::new();
    for (b, (block, read)) in layout.blocks.iter().zip(reads.iter()).enumerate() {
        let (Some(chunk), Some(Read::Heading(h))) = (&block.heading, read.heading.as_deref()) else { continue };
        let line = text[chunk.range.clone()].lines().next().unwrap_or_default().trim_end();
        let range = chunk.range.start..chunk.range.start + line.len();
        let mut put = |about| found.push(Lens { range: range.clone(), about });
        if summary == Some(b) {
            put(Lensed::Requirements);
        }
        let (stage, pattern) = match &h.tree {
            Heading::Stage { name: Some(name), ports: Some(ports) } if !ports.outputs.is_empty() => (&name.text, b),
            Heading::Use { stage: Some(stage), name: Some(name), .. } => {
                let own = reads.iter().position(|r| match r.heading.as_deref() {
                    Some(Read::Heading(h)) => {
                        matches!(&h.tree, Heading::Stage { name: Some(n), .. } if n.text == stage.text)
                    }
                    _ => false,
                });
                (&name.text, own.unwrap_or(b))
            }
            _ => continue,
        };
        put(Lensed::Working(stage.to_string()));
        let moved = |r: &std::sync::Arc<Read>| match &**r {
            Read::Entry(entry, _) => moves(&entry.tree),
            Read::Heading(_) => false,
        };
        if reads[pattern].entries.iter().any(moved) {
            put(Lensed::Ends(stage.to_string()));
        }
    }
    found
}

/// Whether an entry has a control.
fn moves(tree: &EntryTree) -> bool {
    elements(tree).iter().any(|e| matches!(&*e.part.class, "VR" | "SW"))
}

/// The gain of a stage at the ends of each of its controls, the others at rest.
fn ends(db: &dyn Desk, document: Document, stage: &str) -> Option<String> {
    let circuit = circuit_of(db, document);
    let id = circuit.stage(stage)?;
    let Some(gain) = stage_quantities(&circuit, id).0.map(|g| g[0].clone()) else {
        return Some("no gain: it has no output".into());
    };
    let own = controls(&circuit, id);
    if own.is_empty() {
        return Some("presets alone: no hand moves them".into());
    }
    let told: Vec<String> = own
        .iter()
        .take(CONTROLS)
        .map(|control| {
            db.unwind_if_revision_cancelled();
            one(db, document, &circuit, &gain, *control)
        })
        .collect();
    let more = own.len().saturating_sub(CONTROLS);
    let more = if more > 0 { format!(" · {more} more") } else { String::new() };
    Some(format!("{}{more}", told.join(" · ")))
}

/// The controls that stand in a stage, in the order of its parts.
fn controls(circuit: &Circuit, stage: StageId) -> Vec<ControlId> {
    let mut found = Vec::new();
    for part in circuit.parts.iter().filter(|p| p.stage == stage && !p.unfitted) {
        let control = match &part.kind {
            circuit::PartKind::Variable { control, .. } | circuit::PartKind::Switch { control, .. } => *control,
            _ => continue,
        };
        if !found.contains(&control) && !circuit.controls[control.at()].preset {
            found.push(control);
        }
    }
    found
}

/// `VR1 6.0 … 34.3 dB`, `SW1 0.0, 20.0, 40.0 dB`
fn one(db: &dyn Desk, document: Document, circuit: &Circuit, gain: &Quantity, control: ControlId) -> String {
    let it = &circuit.controls[control.at()];
    let positions: Vec<Position> = match &it.kind {
        ControlKind::Travel(_) => vec![Position::Travel(0.0), Position::Travel(1.0)],
        ControlKind::Steps { positions, .. } if positions.len() <= STEPS => {
            positions.iter().map(|p| Position::Step(*p)).collect()
        }
        ControlKind::Steps { positions, .. } => {
            positions.first().into_iter().chain(positions.last()).map(|p| Position::Step(*p)).collect()
        }
    };
    let style = db.style();
    let mut figures: Vec<(f64, Unit)> = Vec::new();
    for position in &positions {
        let name = format!("{} {}", it.name, circuit.say(control, *position)).into();
        let when = When { name, positions: vec![(control, *position)], unread: Vec::new() };
        let reading = crate::ask::answer(db, document, &query(gain.clone(), Some(when), None));
        match reading.as_ref().map(figure) {
            Some(Ok(found)) => figures.push(found),
            Some(Err(why)) => return format!("{} unknown: {why}", it.name),
            None => return format!("{} unknown", it.name),
        }
    }
    // No signal has no decibels.
    let text = |(x, unit): &(f64, Unit)| match x {
        x if *x == f64::NEG_INFINITY => "no signal".to_string(),
        x => quantity::computed(*x, *unit, style).unwrap_or_else(|| "unknown".into()),
    };
    let texts: Vec<String> = figures.iter().map(text).collect();
    let travel = matches!(it.kind, ControlKind::Travel(_)) || positions.len() > STEPS;
    let both = match &figures[..] {
        [a, b] if travel => quantity::range(a.0, b.0, a.1, style),
        _ => None,
    };
    let several = || {
        // One unit behind the last says it for all.
        let unit = texts.last().and_then(|t| t.split_once(' ')).map(|(_, u)| format!(" {u}")).unwrap_or_default();
        let bare: Option<Vec<&str>> = texts.iter().map(|t| t.strip_suffix(&unit)).collect();
        match bare.filter(|_| !unit.is_empty()) {
            Some(bare) if texts.iter().all(|t| t != "no signal") => format!("{}{unit}", bare.join(", ")),
            _ => texts.join(", "),
        }
    };
    let dots = if travel { Some(texts.join(" … ")) } else { None };
    format!("{} {}", it.name, both.or(dots).unwrap_or_else(several))
}

/// A gain in decibels, or a transimpedance in ohms; or why it is not known.
fn figure(reading: &Reading) -> Result<(f64, Unit), String> {
    if let Some(why) = reading.unknown() {
        return Err(why.to_string());
    }
    let size = match reading.value {
        Value::Complex(z) => z.norm(),
        Value::Real(x) => x.abs(),
        Value::None | Value::Never => return Err("there is nothing to read".into()),
    };
    Ok(match reading.unit {
        Unit::Ohm => (size, Unit::Ohm),
        _ => (quantity::db(size), Unit::Decibel),
    })
}

/// How many of the requirements hold, and the first that does not.
fn held(db: &dyn Desk, document: Document) -> Option<String> {
    let all = crate::decided::all(db, document);
    let mut failing: Vec<String> = Vec::new();
    let (mut holds, mut unknown, mut count) = (0, 0, 0);
    for d in all.iter().flat_map(|(.., all)| all.iter()) {
        let Some(decision) = &d.decision else { continue };
        count += 1;
        match &decision.verdict {
            Verdict::Holds => holds += 1,
            Verdict::Fails => failing.extend(d.reading.as_ref().map(|r| r.phrase.to_string())),
            Verdict::Unknown(_) => unknown += 1,
        }
    }
    if count == 0 {
        return Some("no requirement has a limit".into());
    }
    let mut text = format!("requirements held {holds} of {count}");
    match &failing[..] {
        [] => {}
        [one] => text.push_str(&format!(": {one} fails")),
        [one, rest @ ..] => text.push_str(&format!(": {one} and {} more fail", rest.len())),
    }
    if unknown > 0 {
        text.push_str(&format!("{} {unknown} unknown", if failing.is_empty() { ":" } else { "," }));
    }
    Some(text)
}
