//! The names that a file has, gathered block by block: an edit changes one block's.

use std::collections::{BTreeSet, HashMap, HashSet};
use std::sync::Arc;

use notation::Name;
use notation::layout::Layout;
use notation::tree::{
    Amount, Attribute, BlockKind, DesignEntry, Element, Entry, EntryTree, Heading, PartName, Pin, Ports, Step, Word,
};
use quantity::{Series, Unit};

use super::Cursor;
use crate::database::{BlockText, Desk, Document, Read, block_reads, block_text, included, layout};
use crate::editing::actions::want_of;

/// A part where it is made.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PartKnown {
    pub name: Name,
    pub class: Name,
    /// What stands behind its name: `10k 1%`.
    pub value: Name,
    /// The number in its name, and the unit letter.
    pub number: Option<u32>,
    pub unit: Option<char>,
    /// A selector's positions, rising.
    pub positions: Vec<u32>,
}

/// What a block makes.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct BlockKnown {
    pub kind: Option<BlockKind>,
    /// The name in its heading: a stage's, a copy's, a data sheet's.
    pub name: Option<Name>,
    /// The stage that a copy is of.
    pub pattern: Option<Name>,
    pub inputs: Vec<Name>,
    pub outputs: Vec<Name>,
    /// Nodes of its entries with how often each stands there, in the order written.
    pub nodes: Vec<(Name, u32)>,
    pub parts: Vec<PartKnown>,
    /// Each with what is written behind it.
    pub rails: Vec<(Name, Name)>,
    pub sources: Vec<(Name, Name)>,
    pub pairs: Vec<(Name, [Name; 2])>,
    pub settings: Vec<(Name, Name)>,
    pub lets: Vec<Name>,
    /// First words of entries of `design`; the words of a data sheet's entries.
    pub words: Vec<Name>,
    /// Classes that have a tolerance.
    pub tolerances: Vec<Name>,
    /// Amplifiers' types, as often as they are used.
    pub types: Vec<Name>,
    /// Figures behind parts that have a value, by its unit.
    pub values: Vec<(Unit, f64)>,
    /// How often a figure of a part is written as `4k7`, and how often as `4.7k`.
    pub spelt: [u32; 2],
    /// The ends of the band, as they are written.
    pub band: Option<[Name; 2]>,
    /// The reference, as it is written.
    pub reference: Option<Name>,
}

/// What a block makes, by what it says.
#[salsa::tracked(returns(clone))]
pub(crate) fn block_known<'db>(db: &'db dyn Desk, key: BlockText<'db>) -> Arc<BlockKnown> {
    let (reads, text) = (block_reads(db, key), key.text(db));
    let mut found =
        Gatherer { known: BlockKnown { kind: key.kind(db), ..BlockKnown::default() }, nodes: HashMap::new() };
    if let Some(Read::Heading(heading)) = reads.heading.as_deref() {
        found.heading(&heading.tree);
    }
    let chunks = key.chunks(db).iter().skip(usize::from(reads.heading.is_some()));
    for (&(start, end), read) in chunks.zip(&reads.entries) {
        if let Read::Entry(entry, _) = &**read {
            found.entry(entry, &text[start as usize..end as usize]);
        }
    }
    Arc::new(found.known)
}

struct Gatherer {
    known: BlockKnown,
    nodes: HashMap<Name, usize>,
}

impl Gatherer {
    fn heading(&mut self, heading: &Heading) {
        let name = |w: &Option<Word>| w.as_ref().map(|w| w.text.clone());
        let k = &mut self.known;
        let mut ports = |ports: &Option<Ports>| {
            let of = |list: &[Word]| list.iter().map(|w| w.text.clone()).collect();
            if let Some(p) = ports {
                (k.inputs, k.outputs) = (of(&p.inputs), of(&p.outputs));
            }
        };
        match heading {
            Heading::Stage { name: n, ports: p } => {
                ports(p);
                k.name = name(n);
            }
            Heading::Use { stage, name: n, ports: p } => {
                ports(p);
                (k.name, k.pattern) = (name(n), name(stage));
            }
            Heading::Datasheet { name: n, .. } => k.name = name(n),
            _ => {}
        }
    }

    fn entry(&mut self, entry: &Entry, text: &str) {
        for word in notation::nodes_of(entry) {
            match self.nodes.get(&word.text) {
                Some(i) => self.known.nodes[*i].1 += 1,
                None => {
                    self.nodes.insert(word.text.clone(), self.known.nodes.len());
                    self.known.nodes.push((word.text.clone(), 1));
                }
            }
        }
        match &entry.tree {
            EntryTree::Path(path) => {
                for step in &path.steps {
                    if let Step::Parts(parts) = step {
                        parts.iter().flatten().for_each(|e| self.element(e, text, Vec::new()));
                    }
                }
            }
            EntryTree::Device(device) => {
                let position = |pin: &Pin| match pin {
                    Pin::Position(figure) => figure.text.parse().ok(),
                    _ => None,
                };
                let mut positions: Vec<u32> = device.terminals.iter().filter_map(|t| position(&t.pin)).collect();
                positions.sort_unstable();
                self.element(&device.element, text, positions);
            }
            EntryTree::Override(e) => self.element(e, text, Vec::new()),
            EntryTree::Let(l) => self.known.lets.extend(l.name.as_ref().map(|w| w.text.clone())),
            EntryTree::Datum(d) => {
                self.known.words.push(d.words.iter().map(|w| &*w.text).collect::<Vec<_>>().join(" ").into());
            }
            EntryTree::Design(design) => self.design(design, text),
            EntryTree::Unread { parts, .. } => parts.iter().for_each(|p| self.part(p, "".into(), Vec::new())),
            EntryTree::Assume(_) | EntryTree::Formula(_) | EntryTree::Require(_) => return,
        }
        entry.strays.parts.iter().for_each(|p| self.part(p, "".into(), Vec::new()));
    }

    fn part(&mut self, part: &PartName, value: Name, positions: Vec<u32>) {
        // A name in a copy is not made here.
        let number = part.number.filter(|_| part.prefix == 0);
        if part.number.is_some() {
            let (name, class, unit) = (part.text.clone(), part.class.clone(), part.unit);
            self.known.parts.push(PartKnown { name, class, value, number, unit, positions });
        }
    }

    fn element(&mut self, e: &Element, text: &str, positions: Vec<u32>) {
        let behind = text.get(e.part.span.end as usize..e.span.end as usize).unwrap_or_default();
        self.part(&e.part, behind.trim().into(), positions);
        if &*e.part.class == "U" {
            let kind = match (&e.value, e.attributes.first()) {
                (Some(Amount::Figure(figure)), _) => Some(figure.text.clone()),
                (None, Some(Attribute::Word(word))) => Some(word.text.clone()),
                _ => None,
            };
            self.known.types.extend(kind);
            return;
        }
        let (Some(Amount::Figure(figure)), Some((want, unit))) = (&e.value, want_of(&e.part.class)) else { return };
        if let Ok((value, _)) = quantity::read(&figure.text, figure.unit.as_deref(), want) {
            self.known.values.push((unit, value.value));
            let between =
                |c: char| figure.text.split_once(c).is_some_and(|(_, d)| d.starts_with(|c: char| c.is_ascii_digit()));
            self.known.spelt[0] += u32::from("RkKMGpnum".chars().any(between));
            self.known.spelt[1] += u32::from(figure.text.contains('.'));
        }
    }

    fn design(&mut self, entry: &DesignEntry, text: &str) {
        let k = &mut self.known;
        let first: String = text.chars().take_while(char::is_ascii_alphabetic).collect();
        k.words.push(first.into());
        let amount = |a: &Option<Amount>| -> Option<Name> {
            let span = a.as_ref()?.span();
            text.get(span.range()).map(Name::from)
        };
        match entry {
            DesignEntry::Band(a, b) => k.band = amount(a).zip(amount(b)).map(|(a, b)| [a, b]),
            DesignEntry::Reference(a) => k.reference = amount(a),
            DesignEntry::Supply(rails) => {
                let volts = |t: &notation::tree::Tolerated| amount(&Some(t.amount.clone()));
                k.rails.extend(
                    rails.iter().map(|(w, t)| (w.text.clone(), t.as_ref().and_then(volts).unwrap_or_default())),
                );
            }
            DesignEntry::Source { node: Some(node), amount: a, .. } => {
                k.sources.push((node.text.clone(), amount(a).unwrap_or_default()));
            }
            DesignEntry::Tolerance(list) => k.tolerances.extend(list.iter().map(|(w, _)| w.text.clone())),
            DesignEntry::Balanced { name: Some(name), hot: Some(hot), cold: Some(cold) } => {
                k.pairs.push((name.text.clone(), [hot.text.clone(), cold.text.clone()]));
            }
            DesignEntry::Setting(Some(name), _) => {
                let behind = text.split_once(':').map_or("", |(_, states)| states.trim());
                k.settings.push((name.text.clone(), behind.into()));
            }
            _ => {}
        }
    }
}

/// All that a file makes, and what it includes.
pub(crate) struct Known {
    /// The file's own blocks, in the order written.
    pub blocks: Vec<Arc<BlockKnown>>,
    /// The cursor's block.
    pub here: Option<usize>,
    /// Blocks of included files, each with the file's name.
    pub included: Vec<(Name, Arc<BlockKnown>)>,
    /// The word at the cursor, which may stand in its block for itself alone.
    word: String,
}

impl Known {
    /// Gathers them.
    pub fn of(db: &dyn Desk, document: Document, layout: &Layout, cursor: &Cursor) -> Known {
        let text = document.text(db);
        let known = |layout: &Layout, text: &str| -> Vec<Arc<BlockKnown>> {
            layout.blocks.iter().map(|b| block_known(db, block_text(db, b, text).1)).collect()
        };
        let including = included(db, document);
        let others = including.files.iter().flat_map(|(_, name, other)| {
            let blocks = known(&self::layout(db, *other), other.text(db));
            blocks.into_iter().map(|b| (name.clone(), b)).collect::<Vec<_>>()
        });
        Known {
            blocks: known(layout, text),
            here: cursor.block,
            included: others.collect(),
            word: text[cursor.word.clone()].to_string(),
        }
    }

    fn own(&self) -> Option<&BlockKnown> {
        self.here.and_then(|b| self.blocks.get(b)).map(|b| &**b)
    }

    /// The stage or copy that the cursor stands in.
    pub fn stage(&self) -> Option<&BlockKnown> {
        self.own().filter(|b| matches!(b.kind, Some(BlockKind::Stage | BlockKind::Use) | None))
    }

    /// The data sheet or `design` that the cursor stands in.
    pub fn block(&self) -> Option<&BlockKnown> {
        self.own()
    }

    /// All blocks of the file, the cursor's first, then the nearest above and below.
    pub fn nearest(&self) -> Vec<&BlockKnown> {
        let here = self.here.unwrap_or(self.blocks.len());
        let mut order: Vec<usize> = (0..self.blocks.len()).collect();
        order.sort_by_key(|b| (b.abs_diff(here), *b > here));
        order.into_iter().map(|b| &*self.blocks[b]).collect()
    }

    /// The stages of the file in the order written.
    pub fn stages(&self) -> impl DoubleEndedIterator<Item = &BlockKnown> {
        let stage = |b: &&BlockKnown| matches!(b.kind, Some(BlockKind::Stage | BlockKind::Use) | None);
        self.blocks.iter().map(|b| &**b).filter(stage)
    }

    /// The stage that a copy is of, of this file or an included one.
    pub fn pattern(&self, name: &str) -> Option<&BlockKnown> {
        let stage = |b: &&BlockKnown| b.kind == Some(BlockKind::Stage) && b.name.as_deref() == Some(name);
        let own = self.blocks.iter().map(|b| &**b).find(stage);
        own.or_else(|| self.included.iter().map(|(_, b)| &**b).find(stage))
    }

    /// The nodes of a block's entries, without the word that is being typed.
    pub fn nodes<'a>(&'a self, block: &'a BlockKnown) -> impl Iterator<Item = &'a Name> {
        let own = self.own().is_some_and(|b| std::ptr::eq(b, block));
        block.nodes.iter().filter(move |(n, times)| !own || *times > 1 || **n != *self.word).map(|(n, _)| n)
    }

    /// The parts of a block, without the one whose name is being typed.
    pub fn parts<'a>(&'a self, block: &'a BlockKnown) -> impl Iterator<Item = &'a PartKnown> {
        let own = self.own().is_some_and(|b| std::ptr::eq(b, block));
        let typed = own && block.parts.iter().filter(|p| *p.name == *self.word).count() == 1;
        block.parts.iter().filter(move |p| !typed || *p.name != *self.word)
    }

    /// All parts of the circuit with the stage that they stand in, those of copies under the copy's name.
    pub fn all_parts(&self) -> Vec<(String, &PartKnown, &str)> {
        let mut all = Vec::new();
        for block in self.nearest() {
            match block.kind {
                Some(BlockKind::Stage) | None => {
                    let stage = block.name.as_deref().unwrap_or_default();
                    all.extend(self.parts(block).map(|p| (p.name.to_string(), p, stage)));
                }
                Some(BlockKind::Use) => {
                    let pattern = block.pattern.as_deref().and_then(|p| self.pattern(p));
                    let (Some(copy), Some(pattern)) = (block.name.as_deref(), pattern) else { continue };
                    all.extend(self.parts(pattern).map(|p| (format!("{copy}.{}", p.name), p, copy)));
                }
                _ => {}
            }
        }
        all
    }

    /// The declared pairs with their nodes.
    pub fn pairs(&self) -> impl Iterator<Item = &(Name, [Name; 2])> {
        self.blocks.iter().flat_map(|b| &b.pairs)
    }
    /// The rails with their voltages.
    pub fn rails(&self) -> impl Iterator<Item = &(Name, Name)> {
        self.blocks.iter().flat_map(|b| &b.rails)
    }
    /// The sources with their levels.
    pub fn sources(&self) -> impl Iterator<Item = &(Name, Name)> {
        self.blocks.iter().flat_map(|b| &b.sources)
    }
    /// The settings with what they set.
    pub fn settings(&self) -> impl Iterator<Item = &(Name, Name)> {
        self.blocks.iter().flat_map(|b| &b.settings).filter(|(n, _)| **n != *self.word || self.word.is_empty())
    }
    /// The `let` names.
    pub fn lets(&self) -> impl Iterator<Item = &Name> {
        self.blocks.iter().flat_map(|b| &b.lets)
    }
    /// The ends of the band as they are written, or the notation's own.
    pub fn band(&self) -> [Name; 2] {
        let written = self.blocks.iter().find_map(|b| b.band.clone());
        written.unwrap_or_else(|| ["20 Hz".into(), "20 kHz".into()])
    }
    /// The reference as it is written.
    pub fn reference(&self) -> Option<Name> {
        self.blocks.iter().find_map(|b| b.reference.clone())
    }

    /// Every name of the file that a new one must not be.
    pub fn taken(&self) -> HashSet<&str> {
        let mut all = HashSet::from(["gnd"]);
        for b in &self.blocks {
            all.extend(b.nodes.iter().map(|(n, _)| &**n));
            all.extend(b.name.iter().chain(&b.inputs).chain(&b.outputs).chain(&b.lets).map(|n| &**n));
            all.extend(b.rails.iter().chain(&b.sources).chain(&b.settings).map(|(n, _)| &**n));
            all.extend(b.pairs.iter().flat_map(|(n, ends)| [&**n, &*ends[0], &*ends[1]]));
        }
        all
    }

    /// The numbers of a class that the file's own parts have.
    fn numbers<'a>(&'a self, class: &'a str) -> impl Iterator<Item = u32> + 'a {
        let own = self.blocks.iter().filter(|b| b.kind != Some(BlockKind::Use));
        own.flat_map(|b| self.parts(b)).filter(move |p| *p.class == *class).filter_map(|p| p.number)
    }

    /// The next number of a class that no part of the file has.
    pub fn free(&self, class: &str) -> u32 {
        self.numbers(class).max().unwrap_or(0).saturating_add(1)
    }

    /// The least number of a class that no part of the file has, where one is left out below its last.
    pub fn gap(&self, class: &str) -> Option<u32> {
        let taken: BTreeSet<u32> = self.numbers(class).collect();
        let last = *taken.last()?;
        (1..last).find(|n| !taken.contains(n))
    }

    /// The types of amplifiers, the one that is used most first.
    pub fn types(&self) -> Vec<&Name> {
        let mut times: Vec<(&Name, u32)> = Vec::new();
        for kind in self.blocks.iter().flat_map(|b| &b.types).filter(|t| ***t != *self.word) {
            match times.iter_mut().find(|(name, _)| *name == kind) {
                Some((_, n)) => *n += 1,
                None => times.push((kind, 1)),
            }
        }
        times.sort_by_key(|(_, n)| std::cmp::Reverse(*n));
        times.into_iter().map(|(name, _)| name).collect()
    }

    /// Whether parts' figures are written as `4k7` rather than `4.7k`.
    pub fn lettered(&self) -> bool {
        let [letters, points] = self.blocks.iter().fold([0, 0], |[a, b], k| [a + k.spelt[0], b + k.spelt[1]]);
        letters >= points
    }

    /// The figures of the parts whose values have a unit.
    pub fn values(&self, unit: Unit) -> impl Iterator<Item = f64> {
        self.blocks.iter().flat_map(|b| &b.values).filter(move |(u, _)| *u == unit).map(|(_, x)| *x)
    }

    /// The series that the file's values of a unit are taken from: the coarsest that has them all, of four at least; without such,
    /// the trade's usual one.
    pub fn series(&self, unit: Unit) -> Series {
        let values: Vec<f64> = self.values(unit).filter(|x| *x > 0.0).collect();
        let usual = if unit == Unit::Ohm { Series::E24 } else { Series::E12 };
        if values.len() < 4 {
            return usual;
        }
        let holds = |s: &Series| values.iter().all(|x| s.contains(*x));
        Series::ALL.into_iter().filter(|s| *s != Series::E192).find(holds).unwrap_or(usual)
    }
}
