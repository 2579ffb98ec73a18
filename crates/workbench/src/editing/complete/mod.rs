//! What can stand at the cursor: by the grammar, by the block that it is in, and by the names that the file has.
//!
//! The tokens of the entry up to the cursor say what is wanted there ([`cursor`], then one file a kind of block), whatever is wrong or
//! missing further on: a half-typed line is the normal case. What could stand there is then told by one file a kind of thing (parts,
//! nodes, types, values …). Nothing here computes a circuit; names are gathered block by block ([`known`]), so that a key costs one
//! block.
//!
//! Invariants: nothing is offered inside a comment, nor inside a quoted text but the path of an `include`; whatever is offered reads
//! without a fault of its own at its place; spellings that are read but not written (`Ω`, `µ`) are never put into a text.

mod assume;
mod attributes;
mod basket;
mod clauses;
pub(crate) mod cursor;
mod design;
mod expressions;
mod headings;
pub(crate) mod known;
mod lets;
mod nodes;
mod parts;
pub(crate) mod phrases;
mod rules;
mod sheets;
mod skeletons;
mod stages;
mod statements;
mod told;
mod types;
mod units;
mod values;

use std::ops::Range;

use notation::tree::BlockKind;

use crate::database::{Desk, Document, layout};

pub(crate) use basket::Basket;
pub(crate) use cursor::{Cursor, Inside};
pub(crate) use known::Known;
pub use told::Told;
pub(crate) use told::told;

/// What can stand at a place of a text.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Completions {
    /// The word at the cursor, all of which goes; empty where there is none.
    pub word: Range<usize>,
    /// The cursor: what of the word is in front of it was typed for the completion.
    pub at: usize,
    /// What can stand there, the likeliest first.
    pub items: Vec<Completion>,
    /// Another key in the same word may bring others.
    pub incomplete: bool,
    /// What stands in front of the cursor asks for something: worth showing unasked, behind a blank.
    pub wanted: bool,
    /// The path of an `include` is being typed: what stands between its first quote and the cursor. Whoever can read folders adds the
    /// files; `word` is then the last member of the path.
    pub path: Option<String>,
}

/// One thing that can stand at a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Completion {
    /// As a list shows it.
    pub label: String,
    /// What it is.
    pub kind: CompletionKind,
    /// A few words beside it: a value, a stage's ports, how far it is from what was typed.
    pub detail: String,
    /// What comes in the word's place.
    pub insert: Vec<Piece>,
    /// What is compared with what was typed, where it is not the label.
    pub filter: Option<String>,
    /// Blanks in front of the word that go, since a heading stands in column 0.
    pub unindent: Option<Range<usize>>,
    /// Where its documentation is found.
    pub about: About,
}

impl Completion {
    /// What it puts into the text where nothing is changed in it.
    pub fn plain(&self) -> String {
        self.insert.iter().map(Piece::plain).collect()
    }
}

/// A piece of what a completion puts into the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// As it stands.
    Text(String),
    /// A place to be filled in, by its number, with what stands there at first. Places of one number are filled in together.
    Stop(u32, String),
    /// The same with a few words to choose from, the first to begin with.
    Choice(u32, Vec<String>),
}

impl Piece {
    /// As it stands where nobody fills anything in.
    pub fn plain(&self) -> &str {
        match self {
            Piece::Text(text) | Piece::Stop(_, text) => text,
            Piece::Choice(_, words) => words.first().map_or("", |w| w),
        }
    }
}

/// What a completion is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CompletionKind {
    /// A word that opens a block.
    Heading,
    /// A word of the notation at its place.
    Word,
    /// A stage or a copy.
    Stage,
    /// A node or a pair.
    Node,
    /// `gnd`, a rail.
    Rail,
    /// A part.
    Part,
    /// An amplifier's type.
    Type,
    /// A figure.
    Value,
    /// A unit behind a figure.
    Unit,
    /// A quantity.
    Quantity,
    /// `at`, `when` …
    Clause,
    /// A setting, or a control's position.
    Setting,
    /// A `let` name.
    Let,
    /// A function of expressions.
    Function,
    /// A rule.
    Rule,
    /// What a data sheet tells.
    Datum,
    /// What stands behind a part's value.
    Attribute,
    /// A whole stage.
    Skeleton,
}

/// Where a completion's documentation is found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum About {
    /// Nowhere.
    #[default]
    Nothing,
    /// In the manual, under a word.
    Page(String),
    /// In an amplifier's data sheet.
    Sheet(String),
    /// Here, in Markdown.
    Said(String),
}

/// The file with the place in it, for all that tells what can stand there.
pub(crate) struct Scene<'t> {
    pub db: &'t dyn Desk,
    pub document: Document,
    pub cursor: Cursor<'t>,
    pub known: Known,
}

/// What can stand at a byte.
pub fn completions(db: &dyn Desk, document: Document, offset: usize) -> Completions {
    let (text, layout) = (document.text(db), layout(db, document));
    let Some(cursor) = Cursor::at(text, &layout, offset) else { return Completions::default() };
    let (word, at, inside) = (cursor.word.clone(), cursor.at, cursor.inside);
    if let Inside::Text(from) = inside {
        let include = matches!(&cursor.before[..], [first] if first.text == "include");
        if !include {
            return Completions::default();
        }
        let path = text[from..at].to_string();
        let member = path.rfind('/').map_or(from, |slash| from + slash + 1);
        return Completions { word: member..word.end.max(at), at, path: Some(path), ..Completions::default() };
    }
    let known = Known::of(db, document, &layout, &cursor);
    let scene = Scene { db, document, cursor, known };
    let mut basket = Basket::new(&scene.cursor);
    offer(&scene, &mut basket);
    let (items, incomplete) = basket.finish();
    Completions { word, at, items, incomplete, wanted: wanted(&scene.cursor), path: None }
}

/// Whether what stands in front of the cursor asks for a name that the file has: a list there is no noise.
fn wanted(c: &Cursor) -> bool {
    use notation::token::TokenKind as K;
    let Some(last) = c.last() else { return false };
    let copied = c.typed.ends_with('.');
    let device = c.before.len() == 1 && matches!(c.kind, Some(BlockKind::Stage) | None) && last.text.starts_with('U');
    copied
        || last.kind == K::Part && device
        || matches!(last.kind, K::Link | K::Parallel | K::Arrow | K::Colon | K::Comma)
        || matches!(last.text, "of" | "when" | "from" | "for" | "accept") && !c.heading
        || c.heading && last.text == "use"
        || matches!(last.kind, K::Plus | K::Minus) && c.before.iter().any(|t| t.kind == K::Colon)
        || matches!(last.text, "out" | "supply" | "cw" | "wiper" | "ccw" | "pole")
            && c.before.iter().any(|t| t.kind == K::Colon)
}

/// Puts all that can stand at the cursor into the basket.
fn offer(scene: &Scene, out: &mut Basket) {
    let c = &scene.cursor;
    if c.parenthesis().is_some() {
        return expressions::operand(scene, out);
    }
    if c.before.is_empty() {
        headings::words(scene, out);
        if !c.indented || c.heading {
            return;
        }
    } else if c.heading {
        return headings::line(scene, out);
    }
    match c.kind {
        Some(BlockKind::Design) => design::entry(scene, out),
        Some(BlockKind::Let) => lets::entry(scene, out),
        Some(BlockKind::Stage) | None => stages::entry(scene, out),
        Some(BlockKind::Use) => stages::replacement(scene, out),
        Some(BlockKind::Include) => {}
        Some(BlockKind::Datasheet) => sheets::entry(scene, out),
        Some(BlockKind::Assume) => assume::entry(scene, out),
        Some(BlockKind::Formula) => statements::formula(scene, out),
        Some(BlockKind::Require) => statements::require(scene, out),
    }
}
