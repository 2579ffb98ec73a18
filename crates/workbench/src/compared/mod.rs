//! Two revisions of a design side by side: what was changed, and what follows from it.
//!
//! What is compared is what an editor shows, the hints and the messages, each under the name of what it speaks of; so a figure that prints
//! alike has not changed, and a comparison says nothing that the file does not say of itself.

mod named;
mod parts;

use std::collections::BTreeMap;
use std::ops::Range;

use notation::tree::BlockKind;

pub use named::Renamed;

use crate::database::{assembled, circuit_of, layout};
use crate::plain::{HintKind, Mark, Severity};
use crate::problems::range_of;
use crate::trial::{HERE, Trial};
use crate::{Edit, Snapshot};

/// What was changed, and what follows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Comparison {
    /// What only has another name: `R3 is called R7 now`. No change of the circuit.
    pub renamed: Vec<String>,
    /// What was changed in the text, but for comments, order and layout.
    pub changes: Vec<Change>,
    /// What reads otherwise because of it, in the order of the new text; what is gone comes last.
    pub effects: Vec<Effect>,
}

/// Something that was changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// What it is called in a cause: `R4`, `supply`.
    pub name: String,
    /// In words: `R4 10 kΩ → 12 kΩ`.
    pub said: String,
    /// The line in the new text, or in the old one of what is gone; from 0.
    pub line: Option<u32>,
}

/// Something that reads otherwise.
#[derive(Clone, Debug, PartialEq)]
pub struct Effect {
    /// What it speaks of: `stage preamp`, `require gain in -> out > 20 dB`, or the name of a rule.
    pub about: String,
    /// What was said; `None` where nothing was.
    pub old: Option<String>,
    /// What is said; `None` where nothing is.
    pub new: Option<String>,
    /// The line in the new text, from 0.
    pub line: Option<u32>,
    /// Whether it is for the better or the worse, where one can tell.
    pub turn: Turn,
    /// The changes of which each alone does it, by their places; empty where it takes several, or is not known.
    pub because: Vec<usize>,
}

/// Which way something went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// What held fails, or something is said against the design that was not.
    Worse,
    /// The other way round.
    Better,
    /// Another figure.
    Other,
}

/// Of more changes than this nobody is asked what each does alone.
const ALONE: usize = 24;

/// Something that a file says of itself.
#[derive(Clone, Debug, PartialEq)]
struct Fact {
    said: String,
    line: u32,
    /// Against the design, and how much.
    against: Option<Severity>,
    statement: bool,
}

type Facts = BTreeMap<String, Fact>;

/// Compares two files.
pub fn compare(old: (&Snapshot, &str), new: (&Snapshot, &str)) -> Option<Comparison> {
    let (before, after) = (old.0.document(old.1)?, new.0.document(new.1)?);
    let circuits = (circuit_of(&old.0.database, before), circuit_of(&new.0.database, after));
    let renamed = Renamed::between(&circuits.0, &circuits.1);
    let mut changes = Vec::new();
    let mut edits: Vec<Option<Edit>> = Vec::new();
    for change in parts::changes(&circuits.0, &circuits.1, &renamed) {
        let line = match change.at {
            (_, Some(at)) => part_line(new, at),
            (Some(at), None) => part_line(old, at),
            _ => None,
        };
        edits.push(if change.in_place { part_edit(old, new, change.at) } else { None });
        changes.push(Change { name: change.name, said: change.said, line });
    }
    for (change, edit) in entries(old, new, &renamed) {
        changes.push(change);
        edits.push(edit);
    }
    let plain = Renamed::default();
    let (was, is) = (facts(old, &renamed, true), facts(new, &plain, true));
    let mut effects = effects(&was, &is);
    causes(old, &renamed, &edits, &mut effects);
    Some(Comparison { renamed: said(&renamed), changes, effects })
}

/// `R3 is called R7 now`
fn said(renamed: &Renamed) -> Vec<String> {
    let of = |what: &str, all: &BTreeMap<notation::Name, notation::Name>| -> Vec<String> {
        all.iter().map(|(a, b)| format!("{what}{a} is called {b} now")).collect()
    };
    [of("", &renamed.parts), of("node ", &renamed.nodes), of("stage ", &renamed.stages)].concat()
}

/// All that a file says of itself, under the names that things have now.
fn facts((snapshot, path): (&Snapshot, &str), renamed: &Renamed, tolerance: bool) -> Facts {
    let mut found = Facts::new();
    for hint in snapshot.hints(path, None) {
        // What a part's hint repeats of its value stands among the changes.
        if hint.kind == HintKind::Part && hint.key.ends_with(" value") {
            continue;
        }
        let fact = Fact {
            said: renamed.text(&hint.label),
            line: hint.line,
            against: (hint.mark == Mark::Fails).then_some(Severity::Error),
            statement: hint.kind == HintKind::Statement,
        };
        found.insert(renamed.text(&hint.key), fact);
    }
    let document = snapshot.document(path);
    let text = document.map(|d| d.text(&snapshot.database).to_string()).unwrap_or_default();
    // What the hint behind a statement says already is not said again.
    let told = ["requirement-fails", "assumption-fails", "formula-differs"];
    for problem in snapshot.problems_reviewed(path, tolerance).iter().filter(|p| !told.contains(&p.id)) {
        let mut names: Vec<String> = problem.names.iter().map(|n| renamed.text(n)).collect();
        names.sort();
        let line = text[..problem.range.start.min(text.len())].matches('\n').count() as u32;
        let key = format!("{} of {}", problem.id, names.join(", "));
        let against = (problem.severity != Severity::Note).then_some(problem.severity);
        let fact = Fact { said: renamed.text(&problem.message), line, against, statement: false };
        found.insert(key.trim_end_matches(" of ").to_string(), fact);
    }
    found
}

/// What a statement is about: one with another limit is the same statement.
fn phrase(text: &str) -> String {
    // The arrow of a gain is no limit.
    text.replace("->", "→").split(['=', '<', '>', '±']).next().unwrap_or_default().trim().replace('→', "->")
}

fn effects(was: &Facts, is: &Facts) -> Vec<Effect> {
    let mut found = Vec::new();
    let mut gone: Vec<&String> = was.keys().filter(|k| !is.contains_key(*k)).collect();
    for (key, fact) in is {
        let before = match was.get(key) {
            Some(before) => Some(before),
            None if fact.statement => {
                let at = gone.iter().position(|k| was[*k].statement && phrase(k) == phrase(key));
                at.map(|at| &was[gone.remove(at)])
            }
            None => None,
        };
        let same = was.contains_key(key) && before.is_some_and(|b| b.said == fact.said && b.against == fact.against);
        // A part that is new tells of itself among the changes.
        if same || before.is_none() && key.starts_with("part ") {
            continue;
        }
        let turn = match (before.map(|b| b.against), fact.against) {
            (None | Some(None), Some(_)) => Turn::Worse,
            (Some(Some(_)), None) => Turn::Better,
            _ => Turn::Other,
        };
        found.push(Effect {
            about: key.clone(),
            old: before.map(|b| b.said.clone()),
            new: Some(fact.said.clone()),
            line: Some(fact.line),
            turn,
            because: Vec::new(),
        });
    }
    found.sort_by_key(|e| e.line);
    for key in gone.into_iter().filter(|k| !k.starts_with("part ")) {
        let before = &was[key];
        let turn = if before.against.is_some() { Turn::Better } else { Turn::Other };
        let (about, old) = (key.clone(), Some(before.said.clone()));
        found.push(Effect { about, old, new: None, line: None, turn, because: Vec::new() });
    }
    found
}

/// Makes each change alone that can be made alone, and notes what it does.
fn causes(old: (&Snapshot, &str), renamed: &Renamed, edits: &[Option<Edit>], effects: &mut [Effect]) {
    if edits.len() == 1 {
        effects.iter_mut().for_each(|e| e.because = vec![0]);
        return;
    }
    let Some(document) = old.0.document(old.1) else { return };
    if edits.len() > ALONE {
        return;
    }
    let was = facts(old, renamed, false);
    let mut trial = Trial::of(&old.0.database, document);
    for (k, edit) in edits.iter().enumerate() {
        let Some(edit) = edit else { continue };
        let then = facts((&trial.with(edit), HERE), renamed, false);
        for effect in effects.iter_mut() {
            let (a, b) = (was.get(&effect.about), then.get(&effect.about));
            if a.map(|f| (&f.said, f.against)) != b.map(|f| (&f.said, f.against)) {
                effect.because.push(k);
            }
        }
    }
    // What no change does that can be made alone, those do that cannot, if it is one.
    let rest: Vec<usize> = (0..edits.len()).filter(|k| edits[*k].is_none()).collect();
    if rest.len() == 1 {
        effects.iter_mut().filter(|e| e.because.is_empty()).for_each(|e| e.because = rest.clone());
    }
}

fn part_line((snapshot, path): (&Snapshot, &str), part: usize) -> Option<u32> {
    let document = snapshot.document(path)?;
    let range = part_range(snapshot, path, part)?;
    Some(document.text(&snapshot.database)[..range.start].matches('\n').count() as u32)
}

/// Where a part stands in its file with its value and attributes; a copy's parts stand nowhere of their own.
fn part_range(snapshot: &Snapshot, path: &str, part: usize) -> Option<Range<usize>> {
    let (db, document) = (&snapshot.database, snapshot.document(path)?);
    let all = assembled(db, document);
    let place = all.places.parts.get(part).filter(|p| p.entry.is_some())?;
    range_of(&layout(db, document), *place)
}

/// The edit of the old text that makes one part what it is in the new one.
fn part_edit(old: (&Snapshot, &str), new: (&Snapshot, &str), at: (Option<usize>, Option<usize>)) -> Option<Edit> {
    let range = part_range(old.0, old.1, at.0?)?;
    let other = part_range(new.0, new.1, at.1?)?;
    let (was, is) = (old.0.text(old.1)?, new.0.text(new.1)?);
    let (was, text) = (&was[range.clone()], &is[other]);
    // Under another name it would leave what speaks of it behind.
    let name = |text: &str| text.split_whitespace().next().map(str::to_string);
    (name(was) == name(text)).then(|| Edit { range, text: text.to_string() })
}

/// An entry that is no part's.
struct Entry {
    block: BlockKind,
    /// The block's heading: what it belongs to.
    under: String,
    text: String,
    range: Range<usize>,
    line: u32,
}

fn entries_of((snapshot, path): (&Snapshot, &str), renamed: &Renamed) -> Vec<Entry> {
    let Some(document) = snapshot.document(path) else { return Vec::new() };
    let (db, mut found) = (&snapshot.database, Vec::new());
    let (layout, text) = (layout(db, document), document.text(db));
    let said = |range: &Range<usize>| renamed.text(&crate::line::said(&text[range.clone()]));
    for block in &layout.blocks {
        let Some(kind) = block.kind.filter(|k| !matches!(k, BlockKind::Stage | BlockKind::Use | BlockKind::Include))
        else {
            continue;
        };
        let under = block.heading.as_ref().map(|h| said(&h.range)).unwrap_or_default();
        for entry in &block.entries {
            let text = said(&entry.range);
            if !text.is_empty() {
                found.push(Entry {
                    block: kind,
                    under: under.clone(),
                    text,
                    range: entry.range.clone(),
                    line: entry.line,
                });
            }
        }
    }
    found
}

/// What was changed in `design`, `let`, data sheets and statements, each with the edit that makes it alone.
fn entries(old: (&Snapshot, &str), new: (&Snapshot, &str), renamed: &Renamed) -> Vec<(Change, Option<Edit>)> {
    let (was, is) = (entries_of(old, renamed), entries_of(new, &Renamed::default()));
    let same = |a: &Entry, b: &Entry| {
        a.block == b.block && a.text == b.text && (a.block != BlockKind::Datasheet || a.under == b.under)
    };
    let mut gone: Vec<&Entry> = was.iter().filter(|a| !is.iter().any(|b| same(a, b))).collect();
    let come = is.iter().filter(|b| !was.iter().any(|a| same(a, b)));
    // What it is called in a cause; of a statement what it is about, since all of them begin alike.
    let word = |e: &Entry| match e.block {
        BlockKind::Require | BlockKind::Formula => phrase(&e.text),
        _ => e.text.split([' ', '=', ':']).next().unwrap_or_default().to_string(),
    };
    let place = |e: &Entry| match e.block {
        BlockKind::Datasheet => format!("{}, ", e.under),
        BlockKind::Design => String::new(),
        kind => format!("{} ", crate::statement::word(kind)),
    };
    let full = new.0.text(new.1).unwrap_or_default();
    let mut found = Vec::new();
    for entry in come {
        let pair = gone.iter().position(|g| {
            g.block == entry.block
                && word(g) == word(entry)
                && (g.block != BlockKind::Datasheet || g.under == entry.under)
        });
        let before = pair.map(|at| gone.remove(at));
        let said = match before {
            Some(b) => format!("{}{} → {}", place(entry), b.text, entry.text),
            None => format!("{}{} is new", place(entry), entry.text),
        };
        let edit = before.map(|b| Edit { range: b.range.clone(), text: full[entry.range.clone()].to_string() });
        found.push((Change { name: word(entry), said, line: Some(entry.line) }, edit));
    }
    for entry in gone {
        let said = format!("{}{} is gone", place(entry), entry.text);
        let edit = Edit { range: entry.range.clone(), text: String::new() };
        found.push((Change { name: word(entry), said, line: Some(entry.line) }, Some(edit)));
    }
    found
}
