//! A file's lines, sorted into blocks of headings and entries, without looking inside any of them.

use std::ops::Range;

use crate::tree::{BlockKind, Fault};

/// A whole file, sorted.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// The blocks in the order written. Entries in front of the first heading stand in a first block without one.
    pub blocks: Vec<Block>,
}

/// A heading and its entries.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// `None` only for a first block of entries in front of any heading.
    pub kind: Option<BlockKind>,
    /// The heading's line.
    pub heading: Option<Chunk>,
    /// The entries.
    pub entries: Vec<Chunk>,
}

/// The text of one heading or entry: from its first token to the end of its last line, comment lines between continued lines included.
#[derive(Clone, Debug, PartialEq)]
pub struct Chunk {
    /// Bytes of the file. Spans of the chunk's tree count from `range.start`.
    pub range: Range<usize>,
    /// The line that it begins in, from 0.
    pub line: u32,
    /// The comment lines directly above, as bytes of the file.
    pub description: Option<Range<usize>>,
    /// What the sorting itself found: an unindented entry, an indented heading, a continuation of nothing, a misspelt heading word.
    pub fault: Option<Fault>,
}
