//! The incremental database: which question hangs on which other, and what is kept.
//!
//! ```text
//! text → layout → chunks (by their text) → read (one an entry)
//!                    └→ assembled → circuit → outline → network → sound → plan (one a question)
//!                                      └──────────────→ inputs (one a question) → reading
//! ```
//! Everything is a pure function of the text, so answers from scratch and by increments are equal; the test
//! `incremental` asserts which of these ran again. An edit of a value runs `layout`, `read` of one entry, `assembled`,
//! `circuit`, `outline` (which comes out equal: no equation is made, nothing is planned or ordered anew), the `inputs` of the questions on the
//! screen, and only those readings whose inputs changed. An edit of a comment stops at `assembled`.

use std::collections::BTreeMap;
use std::sync::Arc;

use analysis::measure::Whole;
use analysis::positions::Look;
use analysis::{Inputs, Network, Plan, Reading, Sound, meter};
use circuit::{
    Assembled, Circuit, File, FileBlock, Included, Part, PartId, Piece, Point, Quantity, Query, SourceId, StageId, When,
};
use notation::Name;
use notation::layout::Layout;
use notation::tree::{BlockKind, Entry, Fault, Heading, HeadingEntry, Word};
use quantity::Style;

use crate::astray::{NOTHING, Run, astray};

/// What the database's questions are asked of.
#[salsa::db]
pub trait Desk: salsa::Database {
    /// How figures beside the text are printed. Invariant: no tracked question asks for it, since nothing would ask that again when it
    /// changes; what the database keeps is printed as usual, or not yet.
    fn style(&self) -> Style;
}

/// The database.
#[salsa::db]
#[derive(Clone)]
pub struct Database {
    storage: salsa::Storage<Self>,
    pub(crate) style: Style,
}

#[salsa::db]
impl salsa::Database for Database {}
#[salsa::db]
impl Desk for Database {
    fn style(&self) -> Style {
        self.style
    }
}

impl Default for Database {
    fn default() -> Self {
        Database { storage: salsa::Storage::new(None), style: Style::default() }
    }
}

impl Database {
    /// A database that tells the name of each question that it works out.
    pub fn telling(tell: impl Fn(String) + Send + Sync + 'static) -> Self {
        let event = move |event: salsa::Event| {
            if let salsa::EventKind::WillExecute { database_key } = event.kind {
                tell(format!("{database_key:?}"));
            }
        };
        Database { storage: salsa::Storage::new(Some(Box::new(event))), style: Style::default() }
    }
}

/// A file's text.
#[salsa::input(debug)]
pub struct Document {
    /// As the editor has it.
    #[returns(ref)]
    pub text: Arc<str>,
    /// What its `include` headings name, by the words in their quotes, as far as it has been looked up.
    #[returns(ref)]
    pub includes: Arc<BTreeMap<String, Include>>,
}

/// What an `include` heading names.
#[derive(Clone, Debug, PartialEq)]
pub enum Include {
    /// A file, and how it is called in messages.
    File(Document, Name),
    /// Nothing that can be read: a clause behind the name.
    Missing(String),
}

/// An entry or heading by what it says: equal text at equal places of the language is one chunk, wherever it stands.
#[salsa::interned]
pub struct Chunk<'db> {
    /// The kind of block that an entry stands in; `None` in front of the first heading.
    #[returns(copy)]
    pub kind: Option<BlockKind>,
    /// It is a heading.
    #[returns(copy)]
    pub heading: bool,
    /// Its text.
    #[returns(ref)]
    pub text: Box<str>,
}

/// A block by what it says: its text from its first chunk to its last, and where the chunks stand in it. Most blocks of a file
/// are the same after an edit, and are looked up in one step.
#[salsa::interned]
pub struct BlockText<'db> {
    /// Its kind.
    #[returns(copy)]
    pub kind: Option<BlockKind>,
    /// The first chunk is a heading.
    #[returns(copy)]
    pub headed: bool,
    /// Its text.
    #[returns(ref)]
    pub text: Box<str>,
    /// The chunks' first byte and the one past their last.
    #[returns(ref)]
    pub chunks: Box<[(u32, u32)]>,
}

/// A chunk, read. It always lives behind an [`Arc`], so nothing is moved that the size of its variants would slow down.
#[derive(Clone, Debug, PartialEq)]
#[allow(clippy::large_enum_variant)]
pub enum Read {
    /// A heading.
    Heading(HeadingEntry),
    /// An entry: its tree, and what it says.
    Entry(Entry, Piece),
}

/// What a question hangs on besides numbers.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Way {
    /// The quantity; phases and corners go the way of their gain or transimpedance.
    pub quantity: Quantity,
    /// Who drives.
    pub from: Option<SourceId>,
}

/// A way by its content.
#[salsa::interned]
pub struct WayKey<'db> {
    /// The way.
    #[returns(ref)]
    pub way: Way,
}

/// A standing question: what a hint asks at the reference, over all positions or at a setting.
#[salsa::interned]
pub struct Asked<'db> {
    /// The quantity.
    #[returns(ref)]
    pub quantity: Quantity,
    /// The setting by its number, if it is asked at one.
    #[returns(copy)]
    pub setting: Option<u32>,
}

/// A file's lines, sorted.
#[salsa::tracked(returns(clone))]
pub fn layout(db: &dyn Desk, document: Document) -> Arc<Layout> {
    let _running = meter::stage("layout and reading");
    Arc::new(notation::layout::lay_out(document.text(db)))
}

/// A chunk, read.
#[salsa::tracked(returns(clone))]
pub fn read<'db>(db: &'db dyn Desk, chunk: Chunk<'db>) -> Arc<Read> {
    let _running = meter::stage("layout and reading");
    let text = chunk.text(db);
    Arc::new(if chunk.heading(db) {
        Read::Heading(notation::read_heading(text))
    } else {
        // An entry in front of the first heading is read as a stage's, which is what most files begin with.
        let entry = notation::read_entry(chunk.kind(db).unwrap_or(BlockKind::Stage), text);
        let piece = circuit::piece::read(&entry);
        Read::Entry(entry, piece)
    })
}

/// A block's heading and its entries.
#[derive(Debug, PartialEq)]
pub struct BlockReads {
    /// The heading.
    pub heading: Option<Arc<Read>>,
    /// The entries.
    pub entries: Vec<Arc<Read>>,
    /// No heading and no entry of it has anything to say.
    pub silent: bool,
}

/// A block's chunks, read.
#[salsa::tracked(returns(clone), no_eq)]
pub fn block_reads<'db>(db: &'db dyn Desk, block: BlockText<'db>) -> Arc<BlockReads> {
    let _running = meter::stage("layout and reading");
    let (kind, text, headed) = (block.kind(db), block.text(db), block.headed(db));
    let mut all = block.chunks(db).iter().enumerate().map(|(i, (start, end))| {
        read(db, Chunk::new(db, kind, headed && i == 0, &text[*start as usize..*end as usize]))
    });
    let heading = if headed { all.next() } else { None };
    let entries: Vec<_> = all.collect();
    let quiet = |r: &Arc<Read>| match &**r {
        Read::Heading(h) => h.fault.is_none(),
        Read::Entry(_, piece) => piece.findings.is_empty(),
    };
    let silent = heading.iter().chain(&entries).all(quiet);
    Arc::new(BlockReads { heading, entries, silent })
}

/// All chunks of a file, read, block by block. They are not compared: one that changed has changed its file's text.
#[salsa::tracked(returns(clone), no_eq)]
pub fn reads(db: &dyn Desk, document: Document) -> Arc<Vec<Arc<BlockReads>>> {
    let _running = meter::stage("layout and reading");
    let (layout, text) = (layout(db, document), document.text(db));
    Arc::new(layout.blocks.iter().map(|b| block_reads(db, block_text(db, b, text).1)).collect())
}

/// The entries of all blocks of a kind: block and entry.
pub(crate) fn entries_of(layout: &Layout, kind: BlockKind) -> impl Iterator<Item = (usize, usize)> {
    let blocks = layout.blocks.iter().enumerate().filter(move |(_, b)| b.kind == Some(kind));
    blocks.flat_map(|(b, block)| (0..block.entries.len()).map(move |e| (b, e)))
}

/// A block by what it says, and the byte of the file that it begins at.
pub fn block_text<'db>(db: &'db dyn Desk, b: &notation::layout::Block, text: &str) -> (usize, BlockText<'db>) {
    let chunks = || b.heading.iter().chain(&b.entries);
    let start = chunks().next().map_or(0, |c| c.range.start);
    let end = chunks().last().map_or(start, |c| c.range.end);
    let places: Box<[(u32, u32)]> =
        chunks().map(|c| ((c.range.start - start) as u32, (c.range.end - start) as u32)).collect();
    (start, BlockText::new(db, b.kind, b.heading.is_some(), &text[start..end], places))
}

/// All entries of a file together.
#[salsa::tracked(returns(clone))]
pub fn assembled(db: &dyn Desk, document: Document) -> Arc<Assembled> {
    let _running = meter::stage("assembling");
    let (layout, reads) = (layout(db, document), reads(db, document));
    let including = included(db, document);
    let others: Vec<_> = including
        .files
        .iter()
        .map(|(block, name, other)| {
            (*block, name.clone(), self::layout(db, *other), self::reads(db, *other), astray(db, *other))
        })
        .collect();
    let includes = others.iter().map(|(block, name, layout, reads, astray)| Included {
        name: name.clone(),
        block: *block,
        blocks: file_blocks(layout, reads, astray),
    });
    let astray = astray(db, document);
    Arc::new(circuit::assemble(&File {
        blocks: file_blocks(&layout, &reads, &astray),
        astray: astray.iter().find(|r| r.of_circuit).map(|r| (r.block, r.entries.start as u32)),
        includes: includes.collect(),
        incomplete: including.faults.first().map(|(_, fault)| clause(&fault.message)),
    }))
}

/// What cannot be read, without the reason, which stands at the heading.
fn clause(message: &str) -> Name {
    message.split_once(": ").map_or(message, |(what, _)| what).into()
}

fn file_blocks<'a>(layout: &Layout, reads: &'a [Arc<BlockReads>], astray: &[Run]) -> Vec<FileBlock<'a>> {
    let blocks = layout.blocks.iter().zip(reads).enumerate();
    blocks
        .map(|(b, (block, read))| FileBlock {
            kind: block.kind,
            heading: read.heading.as_deref().and_then(|r| match r {
                Read::Heading(h) => Some(h),
                Read::Entry(..) => None,
            }),
            entries: read
                .entries
                .iter()
                .enumerate()
                .filter_map(|(e, r)| match &**r {
                    Read::Entry(..) if astray.iter().any(|r| r.holds(b, e)) => Some(&NOTHING),
                    Read::Entry(_, piece) => Some(piece),
                    Read::Heading(_) => None,
                })
                .collect(),
        })
        .collect()
}

/// What a file includes, over all steps, and what is wrong with that.
#[derive(Debug, Default, PartialEq)]
pub struct Including {
    /// Each file once: the including file's block that it came by, its name, its text.
    pub files: Vec<(u32, Name, Document)>,
    /// Faults of the file's own `include` headings.
    pub faults: Vec<(u32, Fault)>,
}

/// Follows the `include` headings of a file.
#[salsa::tracked(returns(clone))]
pub fn included(db: &dyn Desk, document: Document) -> Arc<Including> {
    let mut found = Including::default();
    for (block, word) in include_headings(db, document) {
        let mut above = vec![document];
        if let Some((id, message)) = follow(db, document, &word, block, &mut above, &mut found.files) {
            let fault = Fault { id, span: word.span, message, unfinished: false, fixes: Vec::new() };
            found.faults.push((block, fault));
        }
    }
    Arc::new(found)
}

/// The `include` headings of a file with their block.
pub fn include_headings(db: &dyn Desk, document: Document) -> Vec<(u32, Word)> {
    let layout = layout(db, document);
    if !layout.blocks.iter().any(|b| b.kind == Some(BlockKind::Include)) {
        return Vec::new();
    }
    let reads = reads(db, document);
    let one = |(b, read): (usize, &Arc<BlockReads>)| match read.heading.as_deref() {
        Some(Read::Heading(HeadingEntry { tree: Heading::Include { path: Some(path) }, .. })) => {
            Some((b as u32, path.clone()))
        }
        _ => None,
    };
    reads.iter().enumerate().filter_map(one).collect()
}

/// Stands between an included file and what is wrong further on.
const BY_ANOTHER: &str = " includes another file: ";

/// Takes in what one heading names, and what that includes in turn; what is wrong with it, if anything is.
fn follow(
    db: &dyn Desk,
    document: Document,
    word: &Word,
    block: u32,
    above: &mut Vec<Document>,
    files: &mut Vec<(u32, Name, Document)>,
) -> Option<(&'static str, String)> {
    match document.includes(db).get(&*word.text) {
        None => Some(("include-missing", format!("{} has not been read", word.text))),
        Some(Include::Missing(_)) if word.text.trim().is_empty() => {
            Some(("include-missing", "no file stands between the quotes".to_string()))
        }
        Some(Include::Missing(why)) => Some(("include-missing", format!("{} {why}", word.text))),
        Some(Include::File(other, name)) => {
            if above.contains(other) {
                return Some((
                    "include-circle",
                    if above.len() == 1 {
                        format!("{} is this file: a file cannot include itself", word.text)
                    } else {
                        format!("{} is included by what it includes: the circle has no beginning", word.text)
                    },
                ));
            }
            if files.iter().any(|f| f.2 == *other) {
                return None;
            }
            files.push((block, name.clone(), *other));
            above.push(*other);
            let inner = include_headings(db, *other).into_iter().find_map(|(_, inner)| {
                let (id, message) = follow(db, *other, &inner, block, above, files)?;
                // Of a long way the first file and the end are told.
                let end = message.split_once(BY_ANOTHER).map_or(&*message, |(_, end)| end);
                Some((id, format!("{name}{BY_ANOTHER}{end}")))
            });
            above.pop();
            inner
        }
    }
}

/// The circuit as it is drawn, without places.
#[salsa::tracked(returns(clone))]
pub fn drawn(db: &dyn Desk, document: Document) -> Arc<Circuit> {
    assembled(db, document).circuit.clone()
}

/// The circuit with its presets set.
#[salsa::tracked(returns(clone))]
pub fn circuit_of(db: &dyn Desk, document: Document) -> Arc<Circuit> {
    crate::trim::trimmed(db, document).circuit.clone()
}

/// What the equations follow from; an edit of a value leaves it equal, and everything that follows stands.
#[salsa::tracked(returns(clone))]
pub fn outline(db: &dyn Desk, document: Document) -> Arc<Network> {
    let _running = meter::stage("network and plans");
    Arc::new(Network::outline(&drawn(db, document)))
}

/// The circuit's topology as equations.
#[salsa::tracked(returns(clone))]
pub fn network(db: &dyn Desk, document: Document) -> Arc<Network> {
    let _running = meter::stage("network and plans");
    Arc::new(outline(db, document).complete())
}

/// The topology's structure and flaws; `None` where nothing can be made of it.
#[salsa::tracked(returns(clone))]
pub fn sound(db: &dyn Desk, document: Document) -> Option<Arc<Sound>> {
    let _running = meter::stage("network and plans");
    Sound::of(&network(db, document)).map(Arc::new)
}

/// The equations of the whole circuit, ordered.
#[salsa::tracked(returns(clone), no_eq)]
pub fn whole(db: &dyn Desk, document: Document) -> Option<Arc<Whole>> {
    let _running = meter::stage("network and plans");
    Some(Arc::new(Whole::of(&network(db, document), &sound(db, document)?)))
}

/// A question's plan.
#[salsa::tracked(returns(clone), no_eq)]
pub fn planned<'db>(db: &'db dyn Desk, document: Document, way: WayKey<'db>) -> Option<Arc<Plan>> {
    let _running = meter::stage("network and plans");
    let (network, sound) = (network(db, document), sound(db, document)?);
    let way = way.way(db);
    let query = query(way.quantity.clone(), None, way.from);
    Some(Arc::new(analysis::plan(&network, &sound, &query)))
}

/// The numbers that a question's plan needs.
#[salsa::tracked(returns(clone))]
pub fn inputs<'db>(db: &'db dyn Desk, document: Document, way: WayKey<'db>) -> Option<Arc<Inputs>> {
    let _running = meter::stage("readings");
    let plan = planned(db, document, way)?;
    Some(Arc::new(Inputs::of(plan.local(), &network(db, document), &circuit_of(db, document))))
}

/// The reading of a standing question.
#[salsa::tracked(returns(clone))]
pub fn reading<'db>(db: &'db dyn Desk, document: Document, asked: Asked<'db>) -> Option<Arc<Reading>> {
    let _running = meter::stage("readings");
    let quantity = asked.quantity(db).clone();
    if let Quantity::Measure(_) = &quantity {
        return None;
    }
    let key = WayKey::new(db, way(db, document, &quantity, None));
    let (plan, inputs) = (planned(db, document, key)?, inputs(db, document, key)?);
    let when = match asked.setting(db) {
        Some(s) => {
            let setting = inputs.hands.settings.get(s as usize)?;
            Some(setting.when())
        }
        None => None,
    };
    Some(Arc::new(analysis::answer(
        &plan,
        &inputs,
        &query(quantity, when, None),
        &glance(&|| db.unwind_if_revision_cancelled()),
    )))
}

/// How closely what is shown at every key is looked at.
fn glance(pulse: &dyn Fn()) -> Look<'_> {
    Look { most: analysis::positions::GLANCE, pulse }
}

/// Phases and corners go the way of their gain, or of what a current source's own node gives per ampere; everything else goes its own.
pub fn way(db: &dyn Desk, document: Document, quantity: &Quantity, from: Option<SourceId>) -> Way {
    let quantity = match quantity {
        Quantity::Phase(a, b) | Quantity::LowCorner(a, b) | Quantity::HighCorner(a, b) => {
            network(db, document).response(a, b)
        }
        other => other.clone(),
    };
    Way { quantity, from }
}

/// A question without clauses.
pub(crate) fn query(quantity: Quantity, when: Option<When>, from: Option<SourceId>) -> Query {
    let (words, a, b): (&str, &Point, Option<&Point>) = match &quantity {
        Quantity::Gain(a, b) => ("gain", a, Some(b)),
        Quantity::Phase(a, b) => ("phase", a, Some(b)),
        Quantity::LowCorner(a, b) => ("low corner", a, Some(b)),
        Quantity::HighCorner(a, b) => ("high corner", a, Some(b)),
        Quantity::Transimpedance(a, b) => ("transimpedance", a, Some(b)),
        Quantity::Impedance(a) => ("impedance", a, None),
        Quantity::InputImpedance(_, a) => ("input impedance", a, None),
        Quantity::OutputImpedance(_, a) => ("output impedance", a, None),
        Quantity::Measure(_) => unreachable!("no standing question takes the whole circuit"),
    };
    let mut phrase = match b {
        Some(b) => format!("{words} {} -> {}", a.name, b.name),
        None => format!("{words} at {}", a.name),
    };
    if let Some(w) = &when {
        phrase.push_str(&format!(" when {}", w.name));
    }
    Query { phrase: phrase.into(), when, from, ..Query::of(quantity) }
}

/// What is known of one part where it stands: for capacitors and inductors, the impedance that they see.
#[salsa::tracked(returns(clone))]
pub fn seen<'db>(db: &'db dyn Desk, document: Document, part: PartAt<'db>) -> Option<Arc<analysis::seen::Seen>> {
    let _running = meter::stage("readings");
    let key = WayKey::new(db, Way { quantity: part.across(db).clone(), from: None });
    let (plan, inputs) = (planned(db, document, key)?, inputs(db, document, key)?);
    let part = part_of(db, document, part)?;
    Some(Arc::new(analysis::seen::seen(&plan, &inputs, &part, &glance(&|| db.unwind_if_revision_cancelled()))))
}

/// A part by itself, so that what is known of it stands while the others change.
#[salsa::tracked(returns(clone))]
pub fn part_of<'db>(db: &'db dyn Desk, document: Document, part: PartAt<'db>) -> Option<Arc<Part>> {
    let id = PartId(part.part(db));
    circuit_of(db, document).parts.get(id.at()).cloned().map(Arc::new)
}

/// A part with the impedance between its ends.
#[salsa::interned]
pub struct PartAt<'db> {
    /// Its number.
    #[returns(copy)]
    pub part: u32,
    /// The impedance between its ends.
    #[returns(ref)]
    pub across: Quantity,
}

/// A stage's own standing questions: gain (per ampere behind a current source), corners and input impedance.
pub fn stage_quantities(circuit: &Circuit, stage: StageId) -> (Option<[Quantity; 3]>, Option<Quantity>) {
    let (a, b) = (circuit::query::port_point(circuit, stage, true), circuit::query::port_point(circuit, stage, false));
    let impedance = a.clone().map(|a| Quantity::InputImpedance(stage, a));
    let gain = a.zip(b).map(|(a, b)| {
        [circuit.response(&a, &b), Quantity::LowCorner(a.clone(), b.clone()), Quantity::HighCorner(a, b)]
    });
    (gain, impedance)
}
