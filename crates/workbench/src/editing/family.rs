//! The files that belong together by their `include` headings, and what each mention in them means.
//!
//! A name is a [`Key`]: the file that it is one of, what it is, and how it is called. Several keys are one name where a rename of one must
//! take the other along: a node of a pattern that is a rail of the file that copies it, a part that `all` takes in. Those are joined.
//! [`Family::means`] is the root of what is joined.
//!
//! A pattern's names are those of its own file, whichever copy speaks of them: `left.out` is the copy `left` and the pattern's `out`.

use std::collections::{HashMap, HashSet};
use std::ops::Range;

use notation::Name;
use notation::tree::{BlockKind, Heading, PartName};

use super::mentions::{Mention, PartAt, Role, What, block_mentions};
use crate::database::{Desk, Document, Read, block_text, included, layout, reads};

/// What kind of thing a name is of. Names of one kind share one space, in one file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    /// A node, or a pair of them.
    Node,
    /// A stage, or a copy of one.
    Stage,
    /// A part; the units of one device are one name.
    Part,
    /// A `let` name.
    Value,
    /// A setting.
    Setting,
    /// A data sheet.
    Sheet,
    /// A data sheet of the library, which no file makes.
    Library,
}

/// A name: of a file (by its number in the family), of a kind, and how it is called there.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Key {
    pub file: usize,
    pub kind: Kind,
    pub name: Name,
}

/// A word of a file, or a member of one, with the name that it is.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Word {
    /// In which file of the family.
    pub file: usize,
    /// Bytes of that file.
    pub range: Range<usize>,
    /// The name, by its number.
    pub name: usize,
    /// The letter behind a part's number.
    pub unit: Option<char>,
    /// The copy that it is named in, with its dot: `left.`
    pub copy: Option<Name>,
    /// What is done to it there.
    pub role: Role,
    /// The block and the entry that it stands in; no entry is the heading.
    pub place: (usize, Option<u32>),
    /// It stands in a stage or a copy: where a node may be made.
    pub in_stage: bool,
    /// Two kinds of thing are called so and either may be meant.
    pub either: bool,
}

/// A file of the family.
pub(crate) struct File {
    pub document: Document,
    /// Its name in the workbench, if it has one.
    pub path: Option<String>,
    /// The files that it includes, over all steps, by their numbers.
    includes: Vec<usize>,
    /// Its blocks.
    blocks: Vec<Block>,
    /// Blocks that make stages, by name; of two of one name the first.
    stages: HashMap<Name, usize>,
    /// Copies by name, with what they are of.
    copies: HashMap<Name, Name>,
    /// Names by kind, as they stand there: parts in full, with their unit's letter.
    known: HashSet<(Kind, Name)>,
    /// Nodes that all copies share.
    shared: HashSet<Name>,
}

struct Block {
    kind: Option<BlockKind>,
    start: usize,
    mentions: std::sync::Arc<Vec<Mention>>,
    /// The copy that a `use` block makes.
    copy: Option<Name>,
    /// The ports that a heading names.
    ports: HashSet<Name>,
}

/// The files, and what is named in them.
pub(crate) struct Family {
    pub files: Vec<File>,
    /// All words that are names, file by file in the order of their places.
    pub words: Vec<Word>,
    keys: Vec<Key>,
    numbers: HashMap<Key, usize>,
    /// To the root, over some steps.
    parents: Vec<usize>,
}

/// The pattern of a copy: a stage's block in a file.
#[derive(Clone, Copy)]
struct Pattern {
    file: usize,
    block: usize,
}

impl Family {
    /// The family of a document among those that are known, itself first.
    pub fn of(db: &dyn Desk, known: &HashMap<String, Document>, document: Document) -> Family {
        let related = related(db, known, document);
        let numbers: HashMap<Document, usize> = related.iter().enumerate().map(|(i, d)| (*d, i)).collect();
        let paths: HashMap<Document, &String> = known.iter().map(|(path, d)| (*d, path)).collect();
        let files = related.iter().map(|d| File::of(db, *d, paths.get(d).map(|p| (*p).clone()), &numbers));
        let mut family = Family {
            files: files.collect(),
            words: Vec::new(),
            keys: Vec::new(),
            numbers: HashMap::new(),
            parents: Vec::new(),
        };
        for file in 0..family.files.len() {
            family.join_copies(file);
            family.take_words(file);
        }
        family
    }

    /// What a word means: the root of all names that are one with its own.
    pub fn means(&self, name: usize) -> usize {
        let mut at = name;
        while self.parents[at] != at {
            at = self.parents[at];
        }
        at
    }

    /// All names that are one with this.
    pub fn one_with(&self, name: usize) -> impl Iterator<Item = &Key> {
        let root = self.means(name);
        (0..self.keys.len()).filter(move |n| self.means(*n) == root).map(|n| &self.keys[n])
    }

    /// A word's name as its file calls it.
    pub fn key(&self, name: usize) -> &Key {
        &self.keys[name]
    }

    /// The word at a byte of the first file. Between two members of a word the one behind the dot counts.
    pub fn word_at(&self, offset: usize) -> Option<&Word> {
        let mut at = self.words.iter().filter(|w| w.file == 0 && w.range.start <= offset && offset <= w.range.end);
        let first = at.next()?;
        Some(at.next().unwrap_or(first))
    }

    /// Whether a file has a name of that kind.
    pub fn has(&self, file: usize, kind: Kind, name: &str) -> bool {
        self.files[file].known.contains(&(kind, name.into()))
    }

    fn number(&mut self, file: usize, kind: Kind, name: &str) -> usize {
        // A sheet of the library is one for all files.
        let key = Key { file: if kind == Kind::Library { 0 } else { file }, kind, name: name.into() };
        if let Some(&number) = self.numbers.get(&key) {
            return number;
        }
        let number = self.keys.len();
        self.keys.push(key.clone());
        self.numbers.insert(key, number);
        self.parents.push(number);
        number
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.means(a), self.means(b));
        // The smaller number stays, so that what comes out does not hang on the order of what was joined.
        self.parents[a.max(b)] = a.min(b);
    }

    /// The stage that a name is a pattern of, in the eyes of a file: its own, what one of its copies is of, or an included one's.
    fn pattern(&self, file: usize, stage: &str) -> Option<Pattern> {
        let own = &self.files[file];
        let mut name: Name = stage.into();
        let mut passed = HashSet::new();
        while passed.insert(name.clone()) {
            if let Some(&block) = own.stages.get(&name) {
                return Some(Pattern { file, block });
            }
            match own.copies.get(&name) {
                Some(of) => name = of.clone(),
                None => return self.included_stage(file, &name),
            }
        }
        None
    }

    fn included_stage(&self, file: usize, name: &Name) -> Option<Pattern> {
        let find = |other: &usize| Some(Pattern { file: *other, block: *self.files[*other].stages.get(name)? });
        self.files[file].includes.iter().find_map(find)
    }

    /// The data sheets that a type's name means in the eyes of a file.
    fn sheets(&mut self, file: usize, name: &str) -> Vec<usize> {
        if name == "ideal" {
            return vec![self.number(file, Kind::Library, name)];
        }
        if self.has(file, Kind::Sheet, name) {
            return vec![self.number(file, Kind::Sheet, name)];
        }
        let includes = self.files[file].includes.clone();
        let others: Vec<usize> = includes.into_iter().filter(|other| self.has(*other, Kind::Sheet, name)).collect();
        if !others.is_empty() {
            return others.into_iter().map(|other| self.number(other, Kind::Sheet, name)).collect();
        }
        let kind = if circuit::library::sheet(name).is_some() { Kind::Library } else { Kind::Sheet };
        vec![self.number(file, kind, name)]
    }

    /// Joins what a file's copies have in common with the file itself.
    fn join_copies(&mut self, file: usize) {
        let patterns: Vec<Pattern> = self.files[file].copies.values().filter_map(|of| self.pattern(file, of)).collect();
        let mut done = HashSet::new();
        for pattern in patterns {
            if pattern.file == file || !done.insert((pattern.file, pattern.block)) {
                continue;
            }
            let block = &self.files[pattern.file].blocks[pattern.block];
            let mentions = block.mentions.clone();
            let own: HashSet<Name> = parts_made(&mentions).map(|m| m.text.clone()).collect();
            for mention in mentions.iter().filter(|m| m.entry.is_some()) {
                let name = &mention.text;
                match mention.what {
                    What::Node => {
                        let port = self.files[pattern.file].blocks[pattern.block].ports.contains(name);
                        if !port && self.files[file].shared.contains(name) {
                            self.join_of(file, pattern.file, Kind::Node, name);
                        }
                    }
                    // A part that the pattern has not got is the copying file's.
                    What::Part(PartAt::Value) if !own.contains(name) && self.has(file, Kind::Part, name) => {
                        self.join_of(file, pattern.file, Kind::Part, device(name));
                    }
                    What::Sheet => {
                        let mut all = self.sheets(file, name);
                        all.extend(self.sheets(pattern.file, name));
                        all.windows(2).map(|w| (w[0], w[1])).collect::<Vec<_>>().into_iter().for_each(|(a, b)| {
                            self.join(a, b);
                        });
                    }
                    _ => {}
                }
            }
        }
    }

    fn join_of(&mut self, a: usize, b: usize, kind: Kind, name: &str) {
        let (a, b) = (self.number(a, kind, name), self.number(b, kind, name));
        self.join(a, b);
    }

    /// Finds what all mentions of a file mean.
    fn take_words(&mut self, file: usize) {
        for b in 0..self.files[file].blocks.len() {
            let block = &self.files[file].blocks[b];
            let (mentions, start, copy) = (block.mentions.clone(), block.start, block.copy.clone());
            let in_stage = matches!(block.kind, None | Some(BlockKind::Stage | BlockKind::Use));
            for mention in mentions.iter() {
                let range = start + mention.range.start..start + mention.range.end;
                let word = Word {
                    file,
                    range,
                    name: 0,
                    unit: None,
                    copy: None,
                    role: mention.role,
                    place: (b, mention.entry),
                    in_stage,
                    either: false,
                };
                let text = &*mention.text;
                match mention.what {
                    What::Node => self.node(file, text, word),
                    What::Stage => self.stage(file, text, word),
                    What::Any => self.any(file, text, word),
                    What::Part(at) => self.part(file, text, at, copy.as_ref(), word),
                    What::Let => self.plain(file, Kind::Value, text, word),
                    What::Setting => self.plain(file, Kind::Setting, text, word),
                    What::Sheet => {
                        let all = self.sheets(file, text);
                        all.windows(2).for_each(|w| self.join(w[0], w[1]));
                        self.words.push(Word { name: all[0], ..word });
                    }
                }
            }
        }
    }

    fn plain(&mut self, file: usize, kind: Kind, text: &str, word: Word) {
        let name = self.number(file, kind, text);
        self.words.push(Word { name, ..word });
    }

    /// The copies that a dotted word begins with, as far as they are copies: pushes each, and gives the file that the rest is a name
    /// of, with the rest.
    fn copies<'t>(&mut self, file: usize, text: &'t str, word: &mut Word) -> (usize, &'t str) {
        let (mut file, mut rest) = (file, text);
        let mut copy = String::new();
        'members: loop {
            for (dot, _) in rest.match_indices('.') {
                let name: Name = rest[..dot].into();
                let Some(of) = self.files[file].copies.get(&name).cloned() else { continue };
                let at = word.range.start;
                let own = Word { range: at..at + dot, role: Role::Read, ..word.clone() };
                self.plain(file, Kind::Stage, &name, own);
                word.range.start = at + dot + 1;
                copy.push_str(&rest[..=dot]);
                let Some(pattern) = self.pattern(file, &of) else { break 'members };
                (file, rest) = (pattern.file, &rest[dot + 1..]);
                continue 'members;
            }
            break;
        }
        if !copy.is_empty() {
            word.copy = Some(copy.into());
        }
        (file, &text[text.len() - word.range.len()..])
    }

    fn node(&mut self, file: usize, text: &str, mut word: Word) {
        let (file, rest) = self.copies(file, text, &mut word);
        self.plain(file, Kind::Node, rest, word);
    }

    fn stage(&mut self, file: usize, text: &str, word: Word) {
        let own = &self.files[file];
        let name: Name = text.into();
        let known = own.stages.contains_key(&name) || own.copies.contains_key(&name);
        let of = if known { file } else { self.included_stage(file, &name).map_or(file, |p| p.file) };
        self.plain(of, Kind::Stage, text, word);
    }

    fn any(&mut self, file: usize, text: &str, word: Word) {
        let (node, stage) = (self.has(file, Kind::Node, text), self.has(file, Kind::Stage, text));
        let word = Word { either: node && stage, ..word };
        match (node, stage) {
            (false, true) => self.stage(file, text, word),
            _ => self.node(file, text, word),
        }
    }

    fn part(&mut self, file: usize, text: &str, at: PartAt, copy: Option<&Name>, mut word: Word) {
        let Some(name) = PartName::parse(text) else { return };
        word.unit = name.unit;
        // Below `use` a part is the pattern's; in an expression there the pattern's goes before the file's.
        let pattern = copy.and_then(|c| self.pattern(file, c));
        if let Some(pattern) = pattern.filter(|_| name.prefix == 0) {
            let replaced = at == PartAt::Replaced;
            let block = &self.files[pattern.file].blocks[pattern.block];
            if replaced || (at == PartAt::Value && parts_made(&block.mentions).any(|m| *m.text == *text)) {
                word.copy = copy.map(|c| format!("{c}.").into());
                return self.plain(pattern.file, Kind::Part, device(text), word);
            }
        }
        if at == PartAt::All && name.prefix == 0 {
            let all = self.all_of(file, text);
            all.windows(2).for_each(|w| self.join(w[0], w[1]));
            if let Some(&first) = all.first() {
                return self.words.push(Word { name: first, ..word });
            }
        }
        let (file, rest) = self.copies(file, text, &mut word);
        self.plain(file, Kind::Part, device(rest), word);
    }

    /// What `all` takes in: the file's own part, and those of its copies' patterns.
    fn all_of(&mut self, file: usize, text: &str) -> Vec<usize> {
        let own = device(text);
        let mut found = Vec::new();
        if self.files[file].known.iter().any(|(kind, name)| *kind == Kind::Part && device(name) == own) {
            found.push(self.number(file, Kind::Part, own));
        }
        let patterns: Vec<Pattern> = self.files[file].copies.values().filter_map(|of| self.pattern(file, of)).collect();
        for pattern in patterns {
            let block = &self.files[pattern.file].blocks[pattern.block];
            if parts_made(&block.mentions).any(|m| device(&m.text) == own) {
                found.push(self.number(pattern.file, Kind::Part, own));
            }
        }
        found.sort_unstable();
        found.dedup();
        found
    }
}

impl File {
    fn of(db: &dyn Desk, document: Document, path: Option<String>, numbers: &HashMap<Document, usize>) -> File {
        let (layout, reads, text) = (layout(db, document), reads(db, document), document.text(db));
        let includes = included(db, document).files.iter().filter_map(|(_, _, d)| numbers.get(d).copied()).collect();
        let mut file = File {
            document,
            path,
            includes,
            blocks: Vec::new(),
            stages: HashMap::new(),
            copies: HashMap::new(),
            known: HashSet::new(),
            shared: HashSet::from(["gnd".into()]),
        };
        for (b, (lines, read)) in layout.blocks.iter().zip(reads.iter()).enumerate() {
            let (start, key) = block_text(db, lines, text);
            let mut block =
                Block { kind: lines.kind, start, mentions: block_mentions(db, key), copy: None, ports: HashSet::new() };
            let heading = match read.heading.as_deref() {
                Some(Read::Heading(h)) => Some(&h.tree),
                _ => None,
            };
            let ports = match heading {
                Some(Heading::Stage { name, ports }) => {
                    if let Some(name) = name {
                        file.stages.entry(name.text.clone()).or_insert(b);
                    }
                    ports.as_ref()
                }
                Some(Heading::Use { stage, name: Some(name), ports }) => {
                    block.copy = Some(name.text.clone());
                    if let Some(stage) = stage {
                        file.copies.entry(name.text.clone()).or_insert(stage.text.clone());
                    }
                    ports.as_ref()
                }
                _ => None,
            };
            let ports = ports.into_iter().flat_map(|p| p.inputs.iter().chain(&p.outputs));
            block.ports = ports.map(|w| w.text.clone()).collect();
            file.shared.extend(block.ports.iter().cloned());
            file.know(&block);
            file.blocks.push(block);
        }
        file
    }

    /// Takes in what a block's mentions make known.
    fn know(&mut self, block: &Block) {
        let design = block.kind == Some(BlockKind::Design);
        for mention in block.mentions.iter() {
            let kind = match (mention.what, mention.role) {
                (What::Node, _) => Kind::Node,
                (What::Stage, Role::Made) => Kind::Stage,
                (What::Part(PartAt::Plain), Role::Made) => Kind::Part,
                (What::Sheet, Role::Made) => Kind::Sheet,
                (What::Let, Role::Made) => Kind::Value,
                (What::Setting, Role::Made) => Kind::Setting,
                _ => continue,
            };
            // Rails, sources and the ends of a declared pair are shared; a name in a phrase makes no node.
            let declared = mention.role != Role::Read;
            if kind == Kind::Node && design && declared && mention.role != Role::Paired {
                self.shared.insert(mention.text.clone());
            }
            let drawn = matches!(block.kind, None | Some(BlockKind::Stage | BlockKind::Use));
            if kind != Kind::Node || drawn || (design && declared) {
                self.known.insert((kind, mention.text.clone()));
            }
        }
    }
}

/// The parts that a stage's entries make.
fn parts_made(mentions: &[Mention]) -> impl Iterator<Item = &Mention> {
    mentions.iter().filter(|m| matches!(m.what, What::Part(_)) && m.role == Role::Made)
}

/// The device that a part is a unit of.
pub(crate) fn device(part: &str) -> &str {
    part.trim_end_matches(|c: char| c.is_ascii_lowercase())
}

/// A document and all that hang together with it by `include`, the document first, the others in the order of their paths.
fn related(db: &dyn Desk, known: &HashMap<String, Document>, document: Document) -> Vec<Document> {
    let mut paths: Vec<&String> = known.keys().collect();
    paths.sort();
    let all: Vec<(Document, Vec<Document>)> = paths
        .into_iter()
        .map(|path| (known[path], included(db, known[path]).files.iter().map(|(_, _, d)| *d).collect()))
        .collect();
    let mut found = vec![document];
    let mut taken = HashSet::from([document]);
    // Each round takes in what touches what is there; most have one.
    loop {
        let before = found.len();
        for (from, to) in &all {
            if taken.contains(from) || to.iter().any(|d| taken.contains(d)) {
                found.extend(std::iter::once(from).chain(to).filter(|d| taken.insert(**d)));
            }
        }
        if found.len() == before {
            return found;
        }
    }
}
