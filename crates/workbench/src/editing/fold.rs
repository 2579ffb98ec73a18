//! What an editor may fold away: a block below its heading, a run of comment lines, an entry of several lines, a run of `include` headings.

use std::ops::Range;

use notation::tree::BlockKind;

use crate::database::{Desk, Document, layout};
use crate::line::line_end;

/// Something that may be folded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fold {
    /// Bytes: from the end of the line that stays to the end of the last one that goes, both without their line ends.
    pub range: Range<usize>,
    /// What it is.
    pub kind: FoldKind,
}

/// What is folded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FoldKind {
    /// A heading's entries.
    Block,
    /// The lines that continue an entry.
    Entry,
    /// Comment lines.
    Comment,
    /// `include` headings.
    Includes,
}

/// All folds of a file, in the order of their first lines; a longer one goes before those inside it.
pub(crate) fn folds(db: &dyn Desk, document: Document) -> Vec<Fold> {
    let (layout, text) = (layout(db, document), document.text(db));
    let mut found = Vec::new();
    let mut add = |start: usize, end: usize, kind| {
        let range = line_end(text, start)..line_end(text, end.max(1) - 1);
        // What ends in its first line hides nothing.
        if text[start..range.end].contains('\n') && range.start < range.end {
            found.push(Fold { range, kind });
        }
    };
    for block in &layout.blocks {
        if let (Some(heading), Some(last)) = (&block.heading, block.entries.last()) {
            add(heading.range.start, last.range.end, FoldKind::Block);
        }
        block.entries.iter().for_each(|e| add(e.range.start, e.range.end, FoldKind::Entry));
    }
    let include = |b: &&notation::layout::Block| b.kind == Some(BlockKind::Include) && b.entries.is_empty();
    let mut blocks = layout.blocks.iter();
    while let Some(first) = blocks.find(include) {
        let mut last = first;
        while let Some(next) = blocks.clone().next().filter(include) {
            last = next;
            blocks.next();
        }
        if let (Some(first), Some(last)) = (&first.heading, &last.heading) {
            add(first.range.start, last.range.end, FoldKind::Includes);
        }
    }
    for run in comments(text) {
        add(run.start, run.end, FoldKind::Comment);
    }
    found.sort_by_key(|f| (f.range.start, std::cmp::Reverse(f.range.end)));
    found.dedup_by_key(|f| f.range.clone());
    found
}

/// Runs of lines that hold nothing but a comment, each with its last line's end.
pub(crate) fn comments(text: &str) -> Vec<Range<usize>> {
    let mut found: Vec<Range<usize>> = Vec::new();
    let mut at = 0;
    let mut open = false;
    for line in text.split_inclusive('\n') {
        let comment = line.trim_start_matches(|c| c == '\u{feff}' || notation::is_blank(c)).starts_with('#');
        let end = at + line.trim_end_matches(['\n', '\r']).len();
        match found.last_mut() {
            Some(run) if comment && open => run.end = end,
            _ if comment => found.push(at..end),
            _ => {}
        }
        open = comment;
        at += line.len();
    }
    found
}
