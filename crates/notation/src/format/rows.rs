//! The lines of a text with what each of them is to the layout.

use std::ops::Range;

use crate::format::columns;
use crate::format::spacing::{Piece, laid};
use crate::layout::{Chunk, Layout, lay_out};
use crate::line::{Line, lines};
use crate::read::{read_entry, read_heading};
use crate::tree::{BlockKind, Fault};

/// A line.
#[derive(Debug)]
pub(crate) struct Row {
    /// Its first byte, a byte order mark left aside.
    pub start: usize,
    /// Its first byte that is no blank.
    pub first: usize,
    /// Where its code ends.
    pub code_end: usize,
    /// Its comment with the blanks behind it, or an empty range at `end`.
    pub comment: Range<usize>,
    /// Where it ends, its line end left aside.
    pub end: usize,
    /// Where the next line begins.
    pub next: usize,
    /// What it is.
    pub what: What,
    /// How many blanks stand in front; `None` leaves those that do.
    pub indent: Option<usize>,
    /// How many blanks stand between code and comment; `None` leaves those that do.
    pub before_comment: Option<usize>,
    /// The first line of a heading with its description.
    pub opens: bool,
    /// A comment line that describes what stands below it.
    pub describes: bool,
    /// Its entry is left off, and the next line may go on with it.
    pub unfinished: bool,
}

/// What a line is.
#[derive(Debug)]
pub(crate) enum What {
    /// Nothing stands in it.
    Blank,
    /// A comment and nothing else.
    Comment,
    /// A heading, or a line of an entry, that has been understood; `heading` tells which.
    Laid {
        /// Its words, each with the blanks in front of it.
        pieces: Vec<Piece>,
        /// Where its column begins, if it has one.
        cell: Option<columns::Cell>,
        /// A heading, as opposed to an entry.
        heading: bool,
    },
    /// A heading or a line of an entry that has a fault: to the letter.
    Kept {
        /// A heading, as opposed to an entry.
        heading: bool,
    },
    /// A line with a carriage return inside: nothing is known of how it looks, and nothing of it is touched.
    Untouched,
}

/// All lines of a text.
pub(crate) struct Rows<'t> {
    /// The text.
    pub text: &'t str,
    /// Its lines.
    pub list: Vec<Row>,
    /// How most of them end.
    pub line_end: &'static str,
}

impl<'t> Rows<'t> {
    /// Reads a text. A blank line of the index `through` does not end a run: somebody is about to fill it.
    pub fn of(text: &'t str, through: Option<usize>) -> Rows<'t> {
        let list = plain_rows(text);
        let mut rows = Rows { text, line_end: line_end(text, &list), list };
        rows.sort(&lay_out(text));
        columns::align(&mut rows.list, through);
        rows
    }

    fn sort(&mut self, layout: &Layout) {
        let first = layout.blocks.first().and_then(|b| b.heading.as_ref().or(b.entries.first()));
        let first = first.map_or(self.list.len(), |chunk| chunk.line as usize);
        for row in self.list.iter_mut().take(first) {
            // Above all blocks there is nothing to be indented under.
            row.indent = row.indent.map(|_| 0);
        }
        for block in &layout.blocks {
            if let Some(chunk) = &block.heading {
                self.heading(chunk);
            }
            for chunk in &block.entries {
                self.entry(block.kind, chunk);
            }
        }
    }

    fn heading(&mut self, chunk: &Chunk) {
        let at = chunk.line as usize;
        let code = &self.text[chunk.range.clone()];
        let pieces = (only(chunk, &["heading-indented"]) && read_heading(code).fault.is_none())
            .then(|| self.laid(at..at + 1, None))
            .flatten();
        let what = match pieces.and_then(|mut lines| lines.pop()) {
            Some(pieces) => What::Laid { pieces, cell: None, heading: true },
            None => What::Kept { heading: true },
        };
        self.put(at, what, Some(0));
        let begins = self.describe(chunk, Some(0));
        self.list[begins].opens = true;
    }

    fn entry(&mut self, kind: Option<BlockKind>, chunk: &Chunk) {
        let at = chunk.line as usize;
        let behind = self.row_of(chunk.range.end) + 1;
        let read = kind.map(|kind| read_entry(kind, &self.text[chunk.range.clone()]));
        let whole = read.as_ref().is_some_and(|read| read.fault.is_none()) && only(chunk, &["entry-unindented"]);
        let lines = whole.then(|| self.laid(at..behind, kind)).flatten();
        let indented = self.list[at].first > self.list[at].start;
        let astray = chunk.fault.as_ref().is_some_and(|f| f.id == "continues-nothing");
        // In column 0 a line with a fault may be a heading under way, and a continuation of nothing may find its first line again.
        let indent = (!astray && (indented || lines.is_some())).then_some(2);
        let mut cell = match (&lines, &read, kind) {
            (Some(lines), Some(read), Some(kind)) => columns::cell(kind, &read.tree, &lines[0]),
            _ => None,
        };
        let mut lines = lines.map(|lines| lines.into_iter());
        for i in at..behind {
            let further = i > at;
            let pieces = lines.as_mut().and_then(Iterator::next);
            let indent = if further && !astray { Some(4) } else { indent };
            if matches!(self.list[i].what, What::Comment) {
                self.list[i].indent = indent;
                continue;
            }
            let what = match pieces {
                Some(pieces) => What::Laid { pieces, cell: cell.take(), heading: false },
                None => What::Kept { heading: false },
            };
            self.put(i, what, indent);
        }
        let unfinished =
            kind == Some(BlockKind::Stage) && read.and_then(|r| r.fault).is_some_and(|f: Fault| f.unfinished);
        self.list[behind - 1].unfinished = unfinished;
        self.describe(chunk, indent);
    }

    fn put(&mut self, at: usize, what: What, indent: Option<usize>) {
        let row = &mut self.list[at];
        if !matches!(row.what, What::Untouched) {
            row.what = what;
            row.indent = indent;
        }
    }

    /// Gives the comment lines above a chunk its indentation, and returns the first line of all.
    fn describe(&mut self, chunk: &Chunk, indent: Option<usize>) -> usize {
        let at = chunk.line as usize;
        let Some(description) = &chunk.description else { return at };
        let begins = self.row_of(description.start);
        for row in &mut self.list[begins..at] {
            row.indent = indent;
            row.describes = true;
        }
        begins
    }

    /// The line that a byte stands in.
    pub fn row_of(&self, at: usize) -> usize {
        self.list.partition_point(|row| row.start <= at).saturating_sub(1)
    }

    /// The words of lines, or nothing if the spacing would make others of them.
    fn laid(&self, rows: Range<usize>, kind: Option<BlockKind>) -> Option<Vec<Vec<Piece>>> {
        let codes: Vec<(usize, &str)> =
            self.list[rows].iter().map(|row| (row.first, &self.text[row.first..row.code_end])).collect();
        laid(&codes, kind)
    }
}

/// Whether a chunk has no fault of the sorting but these.
fn only(chunk: &Chunk, faults: &[&str]) -> bool {
    chunk.fault.as_ref().is_none_or(|fault| faults.contains(&fault.id))
}

/// The lines with what each is by itself.
pub(super) fn plain_rows(text: &str) -> Vec<Row> {
    let all: Vec<Line> = lines(text).collect();
    let next = |i: usize| all.get(i + 1).map_or(text.len(), |line| line.start);
    let row = |(i, line): (usize, &Line)| {
        let what = if line.lone_return.is_some() {
            What::Untouched
        } else if !line.code.is_empty() {
            What::Kept { heading: false }
        } else if line.comment.is_empty() {
            What::Blank
        } else {
            What::Comment
        };
        let indent = match what {
            What::Comment if line.first == line.start => Some(0),
            What::Comment => Some(2),
            _ => None,
        };
        Row {
            start: line.start,
            first: line.first,
            code_end: line.first + line.code.len(),
            comment: line.comment.clone(),
            end: line.comment.end,
            next: next(i),
            what,
            indent,
            before_comment: None,
            opens: false,
            describes: false,
            unfinished: false,
        }
    };
    all.iter().enumerate().map(row).collect()
}

/// LF, unless more of the lines in which something stands end with CRLF. Those are the lines that come out again.
pub(super) fn line_end(text: &str, rows: &[Row]) -> &'static str {
    let (mut without, mut with) = (0usize, 0usize);
    for row in rows.iter().filter(|row| !matches!(row.what, What::Blank | What::Untouched)) {
        match &text[row.end..row.next] {
            "" => {}
            "\r\n" => with += 1,
            _ => without += 1,
        }
    }
    if with > without { "\r\n" } else { "\n" }
}
