//! A place in a file, with what stands there.

use std::ops::Range;
use std::sync::Arc;

use notation::layout::{Chunk, Layout};
use notation::tree::{Attribute, BlockKind, Element, Entry, EntryTree, Step};
use quantity::{Unit, Want};

use crate::database::{BlockReads, Desk, Document, Read, layout, reads};
use crate::desk::Snapshot;

/// Where something is asked.
pub(crate) struct Place<'a> {
    pub snapshot: &'a Snapshot,
    pub db: &'a dyn Desk,
    pub document: Document,
    pub text: &'a str,
    pub range: Range<usize>,
    pub layout: Arc<Layout>,
    pub reads: Arc<Vec<Arc<BlockReads>>>,
}

/// An entry in its file.
#[derive(Clone, Copy)]
pub(crate) struct Line<'p> {
    pub block: usize,
    pub entry: usize,
    pub kind: Option<BlockKind>,
    pub chunk: &'p Chunk,
    pub tree: &'p Entry,
}

impl Line<'_> {
    /// A place of the entry in bytes of the file.
    pub fn range(&self, span: notation::tree::Span) -> Range<usize> {
        self.chunk.range.start + span.start as usize..self.chunk.range.start + span.end as usize
    }
}

impl<'a> Place<'a> {
    pub fn new(snapshot: &'a Snapshot, document: Document, range: Range<usize>) -> Place<'a> {
        let db: &dyn Desk = &snapshot.database;
        let text: &str = document.text(db);
        let whole = |at: usize| {
            let at = at.min(text.len());
            (0..=at).rev().find(|i| text.is_char_boundary(*i)).unwrap_or(0)
        };
        let range = whole(range.start)..whole(range.end.max(range.start));
        Place { snapshot, db, document, text, range, layout: layout(db, document), reads: reads(db, document) }
    }

    /// Whether a range has a byte or an end in common with what was asked about.
    pub fn touches(&self, range: &Range<usize>) -> bool {
        range.start <= self.range.end && self.range.start <= range.end
    }

    /// All entries of the file that are read.
    pub fn lines(&self) -> impl Iterator<Item = Line<'_>> {
        let blocks = self.layout.blocks.iter().zip(self.reads.iter()).enumerate();
        blocks.flat_map(|(b, (block, read))| {
            block.entries.iter().zip(&read.entries).enumerate().filter_map(move |(e, (chunk, read))| match &**read {
                Read::Entry(tree, _) => Some(Line { block: b, entry: e, kind: block.kind, chunk, tree }),
                Read::Heading(_) => None,
            })
        })
    }

    /// The entries that were asked about.
    pub fn lines_here(&self) -> impl Iterator<Item = Line<'_>> {
        self.lines().filter(|line| self.touches(&line.chunk.range))
    }

    /// The part with a value or a type that stands where it was asked, if it is one alone.
    pub fn element(&self) -> Option<(Line<'_>, &Element)> {
        let mut found = self.lines_here().flat_map(|line| {
            let here = move |e: &&Element| self.touches(&line.range(e.span));
            elements(&line.tree.tree).into_iter().filter(here).map(move |e| (line, e))
        });
        let first = found.next()?;
        // Where two parts meet at a blank, the cursor stands at the one that it touches by name.
        match found.next() {
            None => Some(first),
            Some(_) => None,
        }
    }
}

/// The parts that an entry writes with their values.
pub(crate) fn elements(tree: &EntryTree) -> Vec<&Element> {
    match tree {
        EntryTree::Path(path) => path.steps.iter().flat_map(parts_of).collect(),
        EntryTree::Device(device) => vec![&device.element],
        EntryTree::Override(element) => vec![element],
        _ => Vec::new(),
    }
}

fn parts_of(step: &Step) -> Vec<&Element> {
    match step {
        Step::Parts(parts) => parts.iter().flatten().collect(),
        Step::Node(_) | Step::Missing(_) => Vec::new(),
    }
}

/// What the value of a part of this class is, and in which unit; `None` of those that have none.
pub(crate) fn want_of(class: &str) -> Option<(Want, Unit)> {
    match class {
        "R" | "VR" => Some((Want::ResistorValue, Unit::Ohm)),
        "C" => Some((Want::CapacitorValue, Unit::Farad)),
        "L" => Some((Want::InductorValue, Unit::Henry)),
        _ => None,
    }
}

/// A part's figure as it is written, with its value.
pub(crate) struct Valued<'e> {
    pub figure: &'e notation::tree::Figure,
    pub value: f64,
    pub unit: Unit,
    pub want: Want,
}

/// The value that is written at a part; `None` where it is an expression, or cannot be read.
pub(crate) fn valued(element: &Element) -> Option<Valued<'_>> {
    let (want, unit) = want_of(&element.part.class)?;
    let Some(notation::tree::Amount::Figure(figure)) = &element.value else { return None };
    let value = quantity::read(&figure.text, figure.unit.as_deref(), want).ok()?.0.value;
    (!figure.negative && value > 0.0 && value.is_finite()).then_some(Valued { figure, value, unit, want })
}

impl Valued<'_> {
    /// Another value, written as this one is.
    pub fn like(&self, value: f64) -> Option<String> {
        let blank =
            self.figure.unit.is_some() && self.figure.span.end > self.figure.figure_span.end + self.unit_length();
        let spelling = quantity::Spelling::of(&self.figure.text, self.figure.unit.as_deref(), blank);
        let same = |text: &String| self.reads(text, value);
        quantity::spelled(value, self.unit, spelling)
            .filter(same)
            .or_else(|| quantity::canonical(value, self.unit).filter(same))
    }

    fn unit_length(&self) -> u32 {
        self.figure.unit.as_ref().map_or(0, |u| u.len() as u32)
    }

    /// Whether a text says exactly this value here, and nothing is to be said of it.
    pub fn reads(&self, text: &str, value: f64) -> bool {
        let (figure, unit) = text.split_once(' ').map_or((text, None), |(f, u)| (f, Some(u)));
        let (figure, unit) = match unit {
            Some(unit) => (figure, Some(unit)),
            None => close_unit(figure),
        };
        quantity::read(figure, unit, self.want).is_ok_and(|(q, caution)| q.value == value && caution.is_none())
    }
}

/// A figure's own word and the unit that stands close behind it, as tokens tell them apart.
fn close_unit(text: &str) -> (&str, Option<&str>) {
    let tokens = notation::tokens(text);
    match &tokens[..] {
        [figure, unit] => (&text[figure.span.range()], Some(&text[unit.span.range()])),
        _ => (text, None),
    }
}

/// A word among a part's attributes.
pub(crate) fn has_word(element: &Element, word: &str) -> bool {
    element.attributes.iter().any(|a| matches!(a, Attribute::Word(w) if *w.text == *word))
}

impl Place<'_> {
    /// The next designator of a class that the file does not name.
    pub fn free(&self, class: &str) -> String {
        let tokens = notation::tokens(self.text);
        let parts = tokens.iter().filter(|t| t.kind == notation::token::TokenKind::Part);
        format!("{class}{}", notation::next_free(parts.map(|t| &self.text[t.span.range()]), class))
    }
}
