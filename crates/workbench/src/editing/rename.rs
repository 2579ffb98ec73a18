//! A name gets another one, in all files that hang together by `include`.
//!
//! A new name is refused with a sentence where it would be no name, or another's: whatever the notation's rules of scope are, the files are
//! read again with the new name in them, and every word must then mean what it meant before.

use std::collections::{BTreeMap, HashMap};
use std::ops::Range;

use notation::token::{TokenKind, tokens};
use notation::tree::PartName;
use notation::word::{CLASSES, EXPRESSION_NAMES, FUNCTIONS};

use super::actions::applied;
use super::family::{Family, Kind, Word};
use super::mentions::Role;
use super::names::same_name;
use crate::database::{Desk, Document, Include, Read, assembled, reads};
use crate::desk::{Snapshot, Workbench};
use crate::plain::Edit;

/// What a rename changes in one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Renamed {
    /// The file's name in the workbench.
    pub path: String,
    /// Its text before.
    pub text: std::sync::Arc<str>,
    /// What is replaced, in the order of the places.
    pub edits: Vec<Edit>,
}

/// The name at a byte that may be renamed, with its place; nothing where no name stands.
///
/// # Errors
/// A sentence that says why this name stays.
pub(crate) fn prepare(
    db: &dyn Desk,
    known: &HashMap<String, Document>,
    document: Document,
    offset: usize,
) -> Result<Option<(Range<usize>, String)>, String> {
    let family = Family::of(db, known, document);
    let Some(asked) = family.word_at(offset) else { return Ok(None) };
    stays(db, &family, asked)?;
    let text = document.text(db);
    Ok(text.get(asked.range.clone()).map(|name| (asked.range.clone(), name.to_string())))
}

/// The edits that give the name at a byte another one; nothing where no name stands.
///
/// # Errors
/// A sentence that says why it cannot be called so.
pub(crate) fn rename(
    snapshot: &Snapshot,
    document: Document,
    offset: usize,
    new: &str,
) -> Result<Option<Vec<Renamed>>, String> {
    let db = &snapshot.database;
    let family = Family::of(db, snapshot.known(), document);
    let Some(asked) = family.word_at(offset) else { return Ok(None) };
    stays(db, &family, asked)?;
    let new = new.trim();
    let old = &document.text(db)[asked.range.clone()];
    if old == new {
        return Ok(Some(Vec::new()));
    }
    let all: Vec<&Word> = family.words.iter().filter(|w| same_name(&family, w, asked)).collect();
    let part = match family.key(asked.name).kind {
        Kind::Part => Some(part(&family, asked, &all, old, new)?),
        kind => {
            well_formed(kind, new)?;
            None
        }
    };
    let mut files: BTreeMap<usize, Vec<Edit>> = BTreeMap::new();
    for word in all {
        let text = match &part {
            Some((device, unit)) => {
                let letter = if word.unit == asked.unit { *unit } else { word.unit };
                letter.map_or_else(|| device.clone(), |letter| format!("{device}{letter}"))
            }
            None => new.to_string(),
        };
        files.entry(word.file).or_default().push(Edit { range: word.range.clone(), text });
    }
    files.values_mut().for_each(|edits| edits.sort_by_key(|e| e.range.start));
    means_the_same(db, &family, asked, new, &files)?;
    let one = |(file, edits): (usize, Vec<Edit>)| {
        let file = &family.files[file];
        Some(Renamed { path: file.path.clone()?, text: file.document.text(db).clone(), edits })
    };
    Ok(Some(files.into_iter().filter_map(one).collect()))
}

/// Says why a name stays what it is, if it does.
fn stays(db: &dyn Desk, family: &Family, asked: &Word) -> Result<(), String> {
    let sheet = family.one_with(asked.name).find(|key| key.kind == Kind::Library);
    if let Some(sheet) = sheet {
        return Err(if &*sheet.name == "ideal" {
            "ideal is the amplifier that lacks nothing: it keeps its name.".into()
        } else {
            format!("{} is a type of the library, which keeps its names.", sheet.name)
        });
    }
    let key = family.key(asked.name);
    if key.kind == Kind::Node && &*key.name == "gnd" {
        return Err("gnd is the reference node, in every file: it keeps its name.".into());
    }
    if let Some(either) = family.words.iter().find(|w| w.either && same_text(db, family, w, &key.name)) {
        let line = line(db, family, either);
        return Err(format!(
            "{0} is a node and a stage, and the concession in {line} may be for either: which of the two is renamed there is not for a tool to say.",
            key.name
        ));
    }
    Ok(())
}

fn same_text(db: &dyn Desk, family: &Family, word: &Word, name: &str) -> bool {
    family.files[word.file].document.text(db).get(word.range.clone()) == Some(name)
}

/// What a kind of thing is called.
fn noun(kind: Kind) -> &'static str {
    match kind {
        Kind::Node => "node",
        Kind::Stage => "stage",
        Kind::Part => "part",
        Kind::Value => "value",
        Kind::Setting => "setting",
        Kind::Sheet | Kind::Library => "data sheet",
    }
}

/// Whether a word can be the name of a node, a stage and the like.
fn well_formed(kind: Kind, new: &str) -> Result<(), String> {
    let noun = noun(kind);
    if let Some(why) = notation::word::reserved_because(new) {
        return Err(format!("{new} {why}: no {noun} can be called so."));
    }
    if new.contains('.') {
        return Err(format!("A dot stands between a copy and what is in it: a {noun} has none in its own name."));
    }
    let sheet = kind == Kind::Sheet;
    let one = match tokens(new)[..] {
        [token] => token.kind == TokenKind::Name || (sheet && token.kind == TokenKind::Figure),
        _ => false,
    };
    if !one {
        return Err(match new.chars().next() {
            None => format!("A {noun} has a name of one letter at least."),
            Some(c) if c.is_ascii_digit() && !sheet => {
                format!("{new} begins with a digit and would be read as a figure: a name begins with a letter.")
            }
            Some(_) => format!("`{new}` is no name: a name is one word of letters, digits and `_`."),
        });
    }
    match kind {
        Kind::Node if new == "gnd" => {
            Err("gnd is the reference node: a node that is called so is connected to it.".into())
        }
        Kind::Value if EXPRESSION_NAMES.contains(&new) || FUNCTIONS.contains(&new) => {
            Err(format!("{new} means something of its own in an expression: a value needs another name."))
        }
        Kind::Sheet if new == "ideal" => {
            Err("ideal is the amplifier that lacks nothing: a data sheet needs another name.".into())
        }
        Kind::Sheet if circuit::library::sheet(new).is_some() => {
            Err(format!("{new} is a type of the library: amplifiers of that type would take this data sheet for it."))
        }
        _ => Ok(()),
    }
}

/// A part's new device and unit. The class stays, and so does what shares a package, a shaft or a spindle.
fn part(family: &Family, asked: &Word, all: &[&Word], old: &str, new: &str) -> Result<(String, Option<char>), String> {
    let class = PartName::parse(old).map(|p| p.class).unwrap_or_default();
    let word = CLASSES.iter().find(|(letters, ..)| *letters == &*class).map_or("part", |(_, word, _)| word);
    let a = if word.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    let free = next_free(family, &class);
    let name = PartName::parse(new).filter(|n| notation::has_part_shape(new) && n.prefix == 0);
    let Some(name) = name.filter(|n| n.class == class) else {
        return Err(format!("{old} is {a} {word}: its name is {class} and a number. {free} is free."));
    };
    let device = name.device().to_string();
    let others: Vec<char> = {
        let mut units: Vec<char> = all.iter().filter(|w| w.unit != asked.unit).filter_map(|w| w.unit).collect();
        units.sort_unstable();
        units.dedup();
        units
    };
    let own = super::family::device(old);
    let list = || others.iter().map(|u| format!("{own}{u}")).collect::<Vec<_>>().join(", ");
    match (asked.unit, name.unit) {
        (Some(_), None) if !others.is_empty() => {
            Err(format!("{old} and {} are one device, whose units have a letter each: {new} has none.", list()))
        }
        (None, Some(_)) if !others.is_empty() => {
            Err(format!("{old} is what {} share: its name has no letter, and {new} has one.", list()))
        }
        (_, Some(unit)) if others.contains(&unit) => {
            Err(format!("{own}{unit} is another unit of the same device: {old} needs a letter of its own."))
        }
        _ => Ok((device, name.unit)),
    }
}

/// The number behind the highest of a class.
fn next_free(family: &Family, class: &str) -> String {
    let keys = family.words.iter().map(|w| family.key(w.name)).filter(|key| key.kind == Kind::Part);
    format!("{class}{}", notation::next_free(keys.map(|key| &*key.name), class))
}

/// `line 12`, of the asking file or with the other file's name.
pub(super) fn line(db: &dyn Desk, family: &Family, word: &Word) -> String {
    let file = &family.files[word.file];
    let text = file.document.text(db);
    let line = text[..word.range.start.min(text.len())].matches('\n').count() + 1;
    match (&file.path, word.file) {
        (Some(path), 1..) => {
            let name = path.rsplit(['/', '\\']).next().unwrap_or(path);
            format!("line {line} of {name}")
        }
        _ => format!("line {line}"),
    }
}

/// Reads all files with the new name in them, and refuses it if any word then means something else, or if there is more to find fault
/// with than before.
fn means_the_same(
    db: &dyn Desk,
    family: &Family,
    asked: &Word,
    new: &str,
    files: &BTreeMap<usize, Vec<Edit>>,
) -> Result<(), String> {
    let Some(anew) = Anew::of(db, family, files) else {
        return Err(format!("{new} is not read as a name where it would stand."));
    };
    // What has become one with another name comes first: that a copy then is of something else follows from it.
    if let Some((first, second)) = anew.joined(family) {
        let other = if same_name(family, first, asked) { second } else { first };
        return Err(taken(db, family, asked, other, new));
    }
    if let Some(word) = anew.parted(family) {
        let line = line(db, family, word);
        return Err(format!("As {new} it would no longer be the same thing everywhere: see {line}."));
    }
    let Anew { snapshot, paths, .. } = anew;
    for (path, file) in paths.iter().zip(&family.files) {
        let faults = snapshot.document(path).map(|d| faults(&snapshot.database, d)).unwrap_or_default();
        let known = self::faults(db, file.document);
        let more = |(id, all): (&&'static str, &Vec<String>)| {
            (all.len() > known.get(id).map_or(0, Vec::len)).then(|| all.last().cloned()).flatten()
        };
        if let Some(message) = faults.iter().find_map(more) {
            return Err(format!("As {new} it would be at fault: {}.", message.trim_end_matches('.')));
        }
    }
    Ok(())
}

/// The family's files read again with edits made.
pub(super) struct Anew<'f> {
    snapshot: Snapshot,
    /// The files' names in it, in the family's order.
    paths: Vec<String>,
    /// Each word with what it means now.
    paired: Vec<(&'f Word, usize)>,
}

impl<'f> Anew<'f> {
    /// Reads them; `None` where there are not the same words any more.
    pub fn of(db: &dyn Desk, family: &'f Family, files: &BTreeMap<usize, Vec<Edit>>) -> Option<Anew<'f>> {
        let (bench, paths) = copied(db, family, files);
        let snapshot = bench.snapshot();
        let after = Family::of(&snapshot.database, snapshot.known(), snapshot.document(paths.first()?)?);
        let number: HashMap<&str, usize> =
            after.files.iter().enumerate().filter_map(|(i, f)| Some((f.path.as_deref()?, i))).collect();
        let mut paired: Vec<(&Word, usize)> = Vec::new();
        for (file, path) in paths.iter().enumerate() {
            let same = *number.get(&**path)?;
            let before: Vec<&Word> = family.words.iter().filter(|w| w.file == file).collect();
            let now: Vec<&Word> = after.words.iter().filter(|w| w.file == same).collect();
            if before.len() != now.len() {
                return None;
            }
            paired.extend(before.into_iter().zip(now).map(|(before, now)| (before, after.means(now.name))));
        }
        Some(Anew { snapshot, paths, paired })
    }

    /// Two words that were two names and are one: the first of that name, and the first that has come to it.
    pub fn joined(&self, family: &Family) -> Option<(&'f Word, &'f Word)> {
        let mut there: HashMap<usize, &Word> = HashMap::new();
        self.paired.iter().find_map(|(word, is)| {
            let first = *there.entry(*is).or_insert(word);
            (!same_name(family, first, word)).then_some((first, *word))
        })
    }

    /// A word that is no longer one name with all that it was one with.
    pub fn parted(&self, family: &Family) -> Option<&'f Word> {
        let mut back: HashMap<usize, usize> = HashMap::new();
        let parted = |(word, is): &&(&Word, usize)| *back.entry(family.means(word.name)).or_insert(*is) != *is;
        self.paired.iter().find(parted).map(|(word, _)| *word)
    }
}

/// Says whose name it is already.
fn taken(db: &dyn Desk, family: &Family, asked: &Word, other: &Word, new: &str) -> String {
    // Where it is made says more than where it is used, and in its own file more than in a copy.
    let own = || family.words.iter().filter(|w| same_name(family, w, other) && w.copy.is_none());
    let made = own().find(|w| w.role == Role::Made && w.unit == other.unit).or_else(|| own().find(|w| w.in_stage));
    let other = made.unwrap_or(other);
    let line = line(db, family, other);
    let key = family.key(other.name);
    let text = family.files[other.file].document.text(db);
    let name = text.get(other.range.clone()).unwrap_or(&key.name);
    match key.kind {
        Kind::Part if name != new && super::family::device(name) == super::family::device(new) => {
            format!("{new} would be one device with {name} of {line}.")
        }
        Kind::Part => format!("{name} is a part already, in {line}: a designator names one part."),
        Kind::Node if family.key(asked.name).kind == Kind::Node => {
            format!("{name} is a node already, in {line}: the two would be connected.")
        }
        kind => format!("{name} is a {} already, in {line}.", noun(kind)),
    }
}

/// The family's files in a workbench of their own, with the edits made, and their paths in the family's order.
fn copied(db: &dyn Desk, family: &Family, files: &BTreeMap<usize, Vec<Edit>>) -> (Workbench, Vec<String>) {
    let mut bench = Workbench::new();
    let path = |(i, f): (usize, &super::family::File)| f.path.clone().unwrap_or_else(|| format!("\0{i}"));
    let paths: Vec<String> = family.files.iter().enumerate().map(path).collect();
    for (i, file) in family.files.iter().enumerate() {
        let text = file.document.text(db);
        let text = files.get(&i).map_or_else(|| text.to_string(), |edits| applied(text, edits));
        bench.set_text(&paths[i], text);
    }
    let numbers: HashMap<Document, usize> = family.files.iter().enumerate().map(|(i, f)| (f.document, i)).collect();
    for (i, file) in family.files.iter().enumerate() {
        let named = file.document.includes(db).iter().map(|(written, what)| {
            let path = match what {
                Include::File(other, _) => numbers.get(other).map(|n| paths[*n].clone()).ok_or_else(String::new),
                Include::Missing(why) => Err(why.clone()),
            };
            (written.clone(), path)
        });
        bench.set_included(&paths[i], named.collect());
    }
    (bench, paths)
}

/// What there is to find fault with in a file's lines and in how they meet: the messages, by rule.
fn faults(db: &dyn Desk, document: Document) -> BTreeMap<&'static str, Vec<String>> {
    let mut found: BTreeMap<&'static str, Vec<String>> = BTreeMap::new();
    let mut take = |fault: &notation::tree::Fault| found.entry(fault.id).or_default().push(fault.message.clone());
    for block in reads(db, document).iter() {
        for read in block.heading.iter().chain(&block.entries) {
            match &**read {
                Read::Heading(h) => h.fault.iter().for_each(&mut take),
                Read::Entry(_, piece) => piece.findings.iter().for_each(|(_, fault)| take(fault)),
            }
        }
    }
    assembled(db, document).findings.iter().for_each(|f| take(&f.fault));
    found
}
