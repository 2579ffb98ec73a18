//! The parts of a file numbered in the order in which one reads them.
//!
//! A part is named in many places: where it stands, in statements, in copies of its stage and in what the author wrote beside it. All
//! of them follow. What an included file numbers stays as it is; a file that others include is theirs to number, and is left alone.

use std::collections::{BTreeMap, HashMap, HashSet};

use notation::token::{TokenKind, tokens};
use notation::tree::{BlockKind, Heading, PartName};

use super::place::elements;
use super::{ActionKind, Offer, Place};
use crate::database::{Read, included};
use crate::editing::family::{Family, Kind, Word};
use crate::editing::rename::{Anew, line};
use crate::plain::{Edit, Severity};
use crate::renumber::{Shaft, shaft};

const TITLE: &str = "number the parts in reading order";

/// The action, where some part stands out of its order.
pub(super) fn offers<'a>(place: &'a Place<'a>) -> Vec<Offer<'a>> {
    let renamed = order(place);
    if renamed.iter().all(|((_, old), new)| old == new) {
        return Vec::new();
    }
    if let Some(why) = in_the_way(place).or_else(|| confused(place, &renamed)) {
        return vec![Offer::disabled(ActionKind::Renumber, TITLE, why)];
    }
    let edits = move || {
        let family = Family::of(place.db, place.snapshot.known(), place.document);
        Some(edits(place, &family, &renamed))
    };
    vec![Offer::new(ActionKind::Renumber, TITLE, edits).same()]
}

/// Why the parts cannot be numbered now.
fn in_the_way(place: &Place) -> Option<String> {
    let problems = crate::problems::problems(place.db, place.document);
    // A requirement that fails is no fault of the drawing.
    let amiss = |id: &str| !matches!(id, "requirement-fails" | "formula-differs");
    if let Some(p) = problems.iter().find(|p| p.severity == Severity::Error && amiss(p.id)) {
        let line = place.text[..p.range.start].matches('\n').count() + 1;
        return Some(format!("line {line} has an error: {}", p.message.trim_end_matches('.')));
    }
    let above = place.snapshot.includer_of(place.document);
    above.map(|path| {
        let name = path.rsplit(['/', '\\']).next().unwrap_or(&path).to_string();
        format!("{name} includes this file and may name its parts")
    })
}

/// The new number of each device of the file, by its old one.
fn order(place: &Place) -> BTreeMap<Shaft, u32> {
    let mut last: HashMap<String, u32> = HashMap::new();
    let mut renamed = BTreeMap::new();
    for line in place.lines().filter(|l| l.kind == Some(BlockKind::Stage)) {
        for old in elements(&line.tree.tree).into_iter().filter(|e| e.part.prefix == 0).filter_map(|e| shaft(&e.part)) {
            renamed.entry(old.clone()).or_insert_with(|| {
                let next = last.entry(old.0).or_insert(0);
                *next += 1;
                *next
            });
        }
    }
    renamed
}

/// Why the new numbers would have a name mean something else: an expression below a copy of an included stage may name the file's parts
/// and the stage's own, and `all R1` takes in both. Within one file the new numbers are as many as the old ones, and nothing meets.
fn confused(place: &Place, renamed: &BTreeMap<Shaft, u32>) -> Option<String> {
    if included(place.db, place.document).files.is_empty() {
        return None;
    }
    let family = Family::of(place.db, place.snapshot.known(), place.document);
    let named = |word: &Word| {
        let text = family.files[word.file].document.text(place.db);
        format!("{} in {}", &text[word.range.clone()], line(place.db, &family, word))
    };
    let files = BTreeMap::from([(0, edits(place, &family, renamed))]);
    let Some(anew) = Anew::of(place.db, &family, &files) else {
        return Some("by their new numbers the parts would not be read as they are".into());
    };
    match (anew.joined(&family), anew.parted(&family)) {
        (Some((a, b)), _) => Some(format!("{} and {} would be one part by their new numbers", named(a), named(b))),
        (None, Some(word)) => {
            Some(format!("{} is a part of an included file too, which keeps its number there", named(word)))
        }
        (None, None) => None,
    }
}

fn edits(place: &Place, family: &Family, renamed: &BTreeMap<Shaft, u32>) -> Vec<Edit> {
    let mut out = Vec::new();
    let mut rename = |start: usize, word: &str| {
        let Some(name) = PartName::parse(word) else { return };
        let Some(number) = shaft(&name).and_then(|old| renamed.get(&old)) else { return };
        let unit = name.unit.map(String::from).unwrap_or_default();
        let new = format!("{}{}{number}{unit}", &word[..name.prefix as usize], name.class);
        if new != word {
            out.push(Edit { range: start..start + word.len(), text: new });
        }
    };
    let text = place.text;
    let own = |word: &&Word| family.one_with(word.name).any(|key| key.file == 0 && key.kind == Kind::Part);
    for word in family.words.iter().filter(|w| w.file == 0).filter(own) {
        rename(word.range.start, &text[word.range.clone()]);
    }
    // What is written beside the parts speaks of them by name.
    let stages = own_stages(place);
    let copies = copies(place, &stages);
    // Which block a byte stands in: blocks follow one another.
    let starts: Vec<usize> = place
        .layout
        .blocks
        .iter()
        .map(|b| b.heading.as_ref().or(b.entries.first()).map_or(usize::MAX, |c| c.range.start))
        .collect();
    let foreign = |at: usize| {
        let block = starts.iter().rposition(|s| *s <= at);
        block.is_some_and(|b| place.layout.blocks[b].kind == Some(BlockKind::Use) && !of_own(place, b, &stages))
    };
    let local = |at: usize, word: &str| match word.rsplit_once('.') {
        None => !foreign(at),
        Some((copy, _)) => copies.contains(copy),
    };
    for token in tokens(text) {
        let range = token.span.range();
        let said = token.kind == TokenKind::Comment || token.kind == TokenKind::Text && is_reason(text, range.start);
        if said {
            words(text, range).filter(|(at, word)| local(*at, word)).for_each(|(at, word)| rename(at, word));
        }
    }
    out
}

/// Whether what stands in quotes is the reason of a concession.
fn is_reason(text: &str, at: usize) -> bool {
    let start = crate::line::line_start(text, at);
    text[start..at].trim_start().starts_with("accept ")
}

/// The words of a stretch of text that may be names.
fn words(text: &str, range: std::ops::Range<usize>) -> impl Iterator<Item = (usize, &str)> {
    let word = |c: char| c.is_alphanumeric() || matches!(c, '_' | '.');
    text[range.clone()].split(move |c| !word(c)).filter(|w| !w.is_empty()).map(move |w| {
        let start = w.as_ptr() as usize - text.as_ptr() as usize;
        (start, w.trim_end_matches('.'))
    })
}

/// The stages that stand in this file.
fn own_stages(place: &Place) -> HashSet<String> {
    place
        .reads
        .iter()
        .filter_map(|b| match b.heading.as_deref() {
            Some(Read::Heading(h)) => match &h.tree {
                Heading::Stage { name: Some(name), .. } => Some(name.text.to_string()),
                _ => None,
            },
            _ => None,
        })
        .collect()
}

/// Whether a block of replacements is about a copy of one of the file's own stages.
fn of_own(place: &Place, block: usize, own: &HashSet<String>) -> bool {
    match place.reads.get(block).and_then(|b| b.heading.as_deref()) {
        Some(Read::Heading(h)) => {
            matches!(&h.tree, Heading::Use { stage: Some(stage), .. } if own.contains(&*stage.text))
        }
        _ => false,
    }
}

/// The names of the copies of the file's own stages.
fn copies(place: &Place, own: &HashSet<String>) -> HashSet<String> {
    let headings = place.reads.iter().filter_map(|b| b.heading.as_deref());
    headings
        .filter_map(|h| match h {
            Read::Heading(h) => match &h.tree {
                Heading::Use { stage: Some(stage), name: Some(name), .. } if own.contains(&*stage.text) => {
                    Some(name.text.to_string())
                }
                _ => None,
            },
            Read::Entry(..) => None,
        })
        .collect()
}

impl crate::Snapshot {
    /// The path of another file that includes this one, if any does.
    pub(crate) fn includer_of(&self, document: crate::database::Document) -> Option<String> {
        let mut all: Vec<String> = self
            .known()
            .iter()
            .filter(|(_, other)| **other != document)
            .filter(|(_, other)| included(&self.database, **other).files.iter().any(|(_, _, file)| *file == document))
            .map(|(path, _)| path.to_string())
            .collect();
        all.sort();
        all.into_iter().next()
    }
}
