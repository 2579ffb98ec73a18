//! What a word names, and where else the name stands: in its file and in those that hang together with it by `include`.
//!
//! A place *makes* the name, or *drives* it (an output port, a source, an amplifier's output; a setting drives a control), or is *driven*
//! by it.

use std::collections::HashMap;
use std::ops::Range;

use super::family::{Family, Kind, Word};
use super::mentions::Role;
use crate::database::{Desk, Document};
use crate::definition::{Definition, Where};

/// A place where a name stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Occurrence {
    /// In which file.
    pub place: Where,
    /// Bytes of that file: the name alone, without the copy in front of it.
    pub range: Range<usize>,
    /// The name is made here.
    pub makes: bool,
    /// It is driven or set here: by a source, an output, a control's position; a name that is made is given its value too.
    pub drives: bool,
}

/// Places of one name in one file that may be typed over together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Linked {
    /// The places, in their order.
    pub ranges: Vec<Range<usize>>,
    /// What the name may be, as a regular expression.
    pub pattern: String,
}

/// All places of the name at a byte, file by file, the asking file first. Asked of a copy's node or part (`left.out`), those of other copies
/// are left out; asked of a unit (`U1a`), the other units.
pub(crate) fn occurrences(
    db: &dyn Desk,
    known: &HashMap<String, Document>,
    document: Document,
    offset: usize,
) -> Vec<Occurrence> {
    let family = Family::of(db, known, document);
    let Some(asked) = family.word_at(offset) else { return Vec::new() };
    let mut found: Vec<Occurrence> = same(&family, asked)
        .filter_map(|word| {
            let file = &family.files[word.file];
            let place = if word.file == 0 {
                Where::Here
            } else {
                Where::File(file.path.clone()?, file.document.text(db).clone())
            };
            let makes = makes(&family, word);
            Some(Occurrence { place, range: word.range.clone(), makes, drives: word.role.writes() })
        })
        .collect();
    let library = family.key(asked.name);
    if library.kind == Kind::Library
        && let Some(origin) = circuit::library::origin(&library.name)
    {
        let place = Where::Library(origin.volume.file, origin.volume.text);
        found.push(Occurrence { place, range: origin.name, makes: true, drives: true });
    }
    found
}

/// The places in the asking file of the name at a byte, each with whether it is driven there.
pub(crate) fn highlighted(
    db: &dyn Desk,
    known: &HashMap<String, Document>,
    document: Document,
    offset: usize,
) -> Vec<(Range<usize>, bool)> {
    let family = Family::of(db, known, document);
    let Some(asked) = family.word_at(offset) else { return Vec::new() };
    same(&family, asked).filter(|w| w.file == 0).map(|w| (w.range.clone(), w.role.writes())).collect()
}

/// The data sheet that the amplifier at a byte goes by.
pub(crate) fn type_of(
    db: &dyn Desk,
    known: &HashMap<String, Document>,
    document: Document,
    offset: usize,
) -> Option<Definition> {
    let family = Family::of(db, known, document);
    let asked = family.word_at(offset)?;
    if family.key(asked.name).kind != Kind::Part {
        return None;
    }
    // What a copy replaces goes before what its pattern says.
    let typed = |word: &&Word| {
        let sheet = |w: &&Word| {
            matches!(family.key(w.name).kind, Kind::Sheet | Kind::Library)
                && (w.file, w.place) == (word.file, word.place)
        };
        family.words.iter().find(sheet)
    };
    let told: Vec<&Word> = same(&family, asked).filter(|w| matches!(w.role, Role::Made | Role::Driven)).collect();
    let replaced = told.iter().find(|w| w.role == Role::Driven && w.copy.is_some() && w.copy == asked.copy);
    let sheet = replaced.and_then(typed).or_else(|| told.iter().filter(|w| w.role == Role::Made).find_map(typed))?;
    let key = family.key(sheet.name);
    let word = asked.range.clone();
    if let Some(made) = family.words.iter().find(|w| same_name(&family, w, sheet) && w.role == Role::Made) {
        let file = &family.files[made.file];
        let place =
            if made.file == 0 { Where::Here } else { Where::File(file.path.clone()?, file.document.text(db).clone()) };
        return Some(Definition { word, place, name: made.range.clone() });
    }
    let origin = circuit::library::origin(&key.name)?;
    Some(Definition { word, place: Where::Library(origin.volume.file, origin.volume.text), name: origin.name })
}

/// The places that may be typed over together with the name at a byte, if that is safe: the name is made there (and is no node's, whose
/// places a typist changes one by one to wire something elsewhere), all its places stand in this file, and all of them look the same.
pub(crate) fn linked(
    db: &dyn Desk,
    known: &HashMap<String, Document>,
    document: Document,
    offset: usize,
) -> Option<Linked> {
    let family = Family::of(db, known, document);
    let asked = family.word_at(offset)?;
    let key = family.key(asked.name);
    if asked.role != Role::Made || matches!(key.kind, Kind::Node | Kind::Library) {
        return None;
    }
    let all: Vec<&Word> = family.words.iter().filter(|w| same_name(&family, w, asked)).collect();
    let alike = |w: &&Word| w.file == 0 && w.unit == asked.unit && !w.either;
    // Made twice, it is two things under one name, and typing is how they are told apart.
    let once = all.iter().filter(|w| w.role == Role::Made).count() == 1;
    if !once || all.len() < 2 || !all.iter().all(alike) {
        return None;
    }
    let pattern = match key.kind {
        Kind::Part => {
            let letters = key.name.trim_end_matches(|c: char| c.is_ascii_digit());
            format!("{letters}[0-9]*[a-z]?")
        }
        Kind::Sheet => "[A-Za-z0-9_]+".to_string(),
        _ => "[A-Za-z_][A-Za-z0-9_]*".to_string(),
    };
    let mut ranges: Vec<_> = all.into_iter().map(|w| w.range.clone()).collect();
    ranges.sort_by_key(|r| r.start);
    Some(Linked { ranges, pattern })
}

/// Whether two words are one name, of whichever unit and in whichever copy.
pub(crate) fn same_name(family: &Family, a: &Word, b: &Word) -> bool {
    family.means(a.name) == family.means(b.name)
}

/// The words that speak of the same thing as one of them.
fn same<'f>(family: &'f Family, asked: &'f Word) -> impl Iterator<Item = &'f Word> {
    let unit = |w: &Word| asked.unit.is_none() || w.unit.is_none() || w.unit == asked.unit;
    let copy = |w: &Word| asked.copy.is_none() || w.copy.is_none() || (w.file == asked.file && w.copy == asked.copy);
    family.words.iter().filter(move |w| same_name(family, w, asked) && unit(w) && copy(w))
}

/// Whether a name is made at a word. Of a node that is the first output port of that name, else where it first stands in a stage, as
/// its definition has it.
fn makes(family: &Family, word: &Word) -> bool {
    if family.key(word.name).kind != Kind::Node {
        return word.role == Role::Made;
    }
    let same_file =
        || family.words.iter().filter(|w| w.file == word.file && w.copy.is_none() && same_name(family, w, word));
    let port = same_file().find(|w| w.in_stage && w.place.1.is_none() && w.role == Role::Driven);
    let made = port
        .or_else(|| same_file().find(|w| w.role == Role::Paired))
        .or_else(|| same_file().find(|w| w.in_stage))
        .or_else(|| same_file().find(|w| w.role == Role::Driven));
    made.is_some_and(|w| w.range == word.range)
}
