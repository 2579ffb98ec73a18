//! The statements of a file with their verdicts.

use notation::tree::{BlockKind, EntryTree};

use crate::database::{Read, layout, reads};
use crate::desk::Snapshot;

/// A statement and what was decided.
#[derive(Clone, Debug, PartialEq)]
pub struct Statement {
    /// The line, from 0.
    pub line: u32,
    /// `require`, `assume`, `formula` or `trim`.
    pub kind: &'static str,
    /// As written, comments left out.
    pub text: String,
    /// The verdict.
    pub verdict: Verdict,
}

/// What was decided.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// Nothing yet: a clause that says why.
    Unknown(String),
}

/// The word of a block.
pub(crate) fn word(kind: BlockKind) -> &'static str {
    match kind {
        BlockKind::Design => "design",
        BlockKind::Let => "let",
        BlockKind::Stage => "stage",
        BlockKind::Use => "use",
        BlockKind::Include => "include",
        BlockKind::Datasheet => "datasheet",
        BlockKind::Assume => "assume",
        BlockKind::Formula => "formula",
        BlockKind::Require => "require",
    }
}

impl Snapshot {
    /// The statements of a file in the order written.
    pub fn statements(&self, path: &str) -> Vec<Statement> {
        let Some(document) = self.document(path) else { return Vec::new() };
        let db = &self.database;
        let (layout, reads, text) = (layout(db, document), reads(db, document), document.text(db));
        let mut found = Vec::new();
        for (block, read) in layout.blocks.iter().zip(reads.iter()) {
            for (lines, read) in block.entries.iter().zip(&read.entries) {
                let Read::Entry(entry, piece) = &**read else { continue };
                let kind = match &entry.tree {
                    EntryTree::Require(_) => "require",
                    EntryTree::Assume(_) => "assume",
                    EntryTree::Formula(_) => "formula",
                    EntryTree::Design(notation::tree::DesignEntry::Trim(..)) => "trim",
                    _ => continue,
                };
                let first = text[lines.range.clone()].lines().next().unwrap_or_default();
                let said = first.split('#').next().unwrap_or_default().split_whitespace().collect::<Vec<_>>().join(" ");
                let why = piece.undecided.unwrap_or("not decided yet").to_string();
                found.push(Statement { line: lines.line, kind, text: said, verdict: Verdict::Unknown(why) });
            }
        }
        found
    }
}
