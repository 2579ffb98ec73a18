//! Entries that stand in another block than they belong to: below a heading that is still being typed, or whose heading is gone.

use std::collections::HashSet;
use std::ops::Range;
use std::sync::Arc;

use circuit::Piece;
use circuit::piece::PieceKind;
use notation::layout::{Block, Layout};
use notation::tree::{BlockKind, Grade};
use notation::word::{class_meant, heading_kind};

use crate::database::{BlockReads, Desk, Document, Read, layout, reads};
use crate::plain::{Edit, Fix, Problem, Severity};

/// A run of entries that the circuit is made without and about which one thing is said.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Run {
    /// The block that they stand in.
    pub block: u32,
    /// Which of its entries.
    pub entries: Range<usize>,
    /// What to say of them, unless the heading under way above them says it already.
    pub problem: Option<Problem>,
    /// They may hold a piece of the circuit, which is unfinished without them.
    pub of_circuit: bool,
}

impl Run {
    /// Whether an entry of a block is one of them.
    pub fn holds(&self, block: usize, entry: usize) -> bool {
        self.block as usize == block && self.entries.contains(&entry)
    }
}

/// What an entry adds to the circuit from a block that it does not belong to.
pub(crate) static NOTHING: Piece =
    Piece { kind: PieceKind::Aside, grade: Grade::Whole, findings: Vec::new(), pending: None };

/// The runs of a file in the order written.
#[salsa::tracked(returns(clone))]
pub(crate) fn astray(db: &dyn Desk, document: Document) -> Arc<Vec<Run>> {
    let (layout, reads) = (layout(db, document), reads(db, document));
    let text = document.text(db);
    let mut found = Vec::new();
    for (b, (block, read)) in layout.blocks.iter().zip(reads.iter()).enumerate() {
        if read.silent && block.entries.iter().all(|e| e.fault.is_none()) {
            continue;
        }
        let until = begun(b, block, read, &mut found);
        missing(b, block, read, text, until, &mut found);
    }
    found.sort_by_key(|r: &Run| (r.block, r.entries.start));
    Arc::new(found)
}

/// The names that stand in runs of which the circuit may be made.
pub(crate) fn names<'r>(reads: &'r [Arc<BlockReads>], runs: &[Run]) -> HashSet<&'r str> {
    let mut held = HashSet::new();
    for run in runs.iter().filter(|r| r.of_circuit) {
        for read in &reads[run.block as usize].entries[run.entries.clone()] {
            let Read::Entry(entry, _) = &**read else { continue };
            let names = notation::names_of(entry);
            held.extend(names.names.iter().map(|w| &*w.text));
            held.extend(names.parts.iter().map(|p| &*p.text));
        }
    }
    held
}

/// Names that the file misspells or declares where they are not read: what the rest says about them follows from that.
pub(crate) fn misdeclared(layout: &Layout, reads: &[Arc<BlockReads>], text: &str) -> HashSet<String> {
    let mut held = HashSet::new();
    for (block, read) in layout.blocks.iter().zip(reads).filter(|(_, r)| !r.silent) {
        // `let f = 1 kHz` on one line.
        if let (Some(BlockKind::Let), Some(lines), Some(Read::Heading(h))) =
            (block.kind, &block.heading, read.heading.as_deref())
            && let Some(fault) = h.fault.as_ref().filter(|f| f.id == "heading-extra")
        {
            let extra = text[lines.range.clone()].get(fault.span.range()).unwrap_or_default();
            held.extend(extra.split_once('=').map(|(name, _)| name.trim().to_string()));
        }
        for read in &read.entries {
            let Read::Entry(entry, piece) = &**read else { continue };
            if piece.findings.iter().any(|(_, f)| f.id == "class-unknown") {
                let parts = notation::names_of(entry).parts;
                let meant = |p: &&notation::tree::PartName| {
                    class_meant(&p.class).map(|meant| format!("{meant}{}", &p.text[p.class.len()..]))
                };
                held.extend(parts.iter().filter_map(meant));
            }
        }
    }
    held
}

/// Where the beginning of a heading's word stands, what follows and cannot be read in the block above waits for it. Gives the
/// number of entries in front of it.
fn begun(b: usize, block: &Block, read: &BlockReads, found: &mut Vec<Run>) -> usize {
    let heading = |e: &notation::layout::Chunk| e.fault.as_ref().is_some_and(|f| f.id == "heading-begun");
    let Some(first) = block.entries.iter().position(heading) else { return block.entries.len() };
    let words = block.entries[first].fault.iter().flat_map(|f| &f.fixes).flat_map(|f| &f.edits);
    let of_circuit = words.filter_map(|(_, word)| heading_kind(word)).any(makes_circuit);
    for (e, chunk) in block.entries.iter().enumerate().skip(first) {
        if heading(chunk) || !whole(read, e) {
            found.push(Run { block: b as u32, entries: e..e + 1, problem: None, of_circuit });
        }
    }
    first
}

/// Runs whose heading is gone.
fn missing(b: usize, block: &Block, read: &BlockReads, text: &str, until: usize, found: &mut Vec<Run>) {
    let entries: Vec<(&str, Grade)> = block.entries[..until]
        .iter()
        .enumerate()
        .map(|(e, chunk)| (&text[chunk.range.clone()], if whole(read, e) { Grade::Whole } else { Grade::Torn }))
        .collect();
    for run in notation::misplaced(block.kind.unwrap_or(BlockKind::Stage), &entries) {
        let first = &block.entries[run.entries.start].range;
        let last = &block.entries[run.entries.end - 1].range;
        let line = crate::line::line_start(text, first.start);
        found.push(Run {
            block: b as u32,
            problem: Some(Problem {
                range: first.start..last.end,
                severity: Severity::Error,
                id: "no-heading",
                message: run.message(),
                names: Vec::new(),
                fixes: vec![Fix {
                    title: format!("write {} above", run.heading()),
                    edits: vec![Edit { range: line..line, text: format!("{}\n", run.heading()) }],
                }],
                unfinished: false,
            }),
            of_circuit: makes_circuit(run.kind),
            entries: run.entries,
        });
    }
}

fn whole(read: &BlockReads, entry: usize) -> bool {
    matches!(&*read.entries[entry], Read::Entry(e, _) if e.grade == Grade::Whole)
}

fn makes_circuit(kind: BlockKind) -> bool {
    !matches!(kind, BlockKind::Assume | BlockKind::Formula | BlockKind::Require)
}
