//! A file's lines, sorted into blocks of headings and entries, without looking inside any of them.

use std::ops::Range;

use crate::heading_word;
use crate::line::{Line, has_colon_first, has_link, is_continuation, leaves_at_part, lines};
use crate::line_fault::{begun, continues_nothing, heading_fault, joins_run, lone_return, plain, unindented};
use crate::tree::{BlockKind, Fault, Fix, Span};

/// A whole file, sorted.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// The blocks in the order written. Entries in front of the first heading stand in a first block without one.
    pub blocks: Vec<Block>,
    /// What is wrong with lines that belong to no heading and no entry: a carriage return inside a comment line, which
    /// other programs show as the end of the comment. Their spans count from the file's first byte.
    pub faults: Vec<Fault>,
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

/// The text of one heading or entry: from its first token to the end of its last one, comment lines between continued lines included.
///
/// The comment at the end of the last line does not belong to it, so that an edit of the comment leaves the text as it is.
/// Only the chunk of an indented heading begins earlier, in column 0, so that its fault can offer to take the blanks away.
#[derive(Clone, Debug, PartialEq)]
pub struct Chunk {
    /// Bytes of the file. Spans of the chunk's tree count from `range.start`.
    pub range: Range<usize>,
    /// The line that it begins in, from 0.
    pub line: u32,
    /// The comment lines directly above, as bytes of the file.
    pub description: Option<Range<usize>>,
    /// What the sorting itself found: an unindented entry, an indented heading, a continuation of nothing, a misspelt heading word.
    ///
    /// Its edits may reach beyond the chunk: the fix for a run of unindented entries mends all of them.
    pub fault: Option<Fault>,
}

/// Sorts the lines of a file. Linear in its length.
///
/// ```
/// use notation::layout::lay_out;
/// use notation::tree::BlockKind;
///
/// let text = "# two resistors\nstage divider: in -> out\n  in -- R1 10k -- out   # upper\n  out -- R2 10k\n    -- gnd\n";
/// let layout = lay_out(text);
/// let block = &layout.blocks[0];
/// assert_eq!(block.kind, Some(BlockKind::Stage));
/// assert_eq!(&text[block.entries[0].range.clone()], "in -- R1 10k -- out");
/// assert_eq!(&text[block.entries[1].range.clone()], "out -- R2 10k\n    -- gnd");
/// ```
pub fn lay_out(text: &str) -> Layout {
    let mut sorter = Sorter {
        text,
        layout: Layout { blocks: Vec::new(), faults: Vec::new() },
        description: None,
        open: None,
        run: None,
    };
    for line in lines(text) {
        sorter.take(line);
    }
    sorter.layout
}

/// The entry that a continuation may join.
#[derive(Clone, Copy)]
struct Open {
    /// Bytes of its last line's code.
    last: (usize, usize),
    /// Whether a `--` stands in front of any `:`, so that it is a path and has no list.
    path: bool,
}

struct Sorter<'t> {
    text: &'t str,
    layout: Layout,
    /// Comment lines that nothing but comment lines followed yet.
    description: Option<Range<usize>>,
    open: Option<Open>,
    /// The first entry of a run of unindented entries in the block at work.
    run: Option<usize>,
}

impl<'t> Sorter<'t> {
    fn take(&mut self, line: Line<'t>) {
        if line.code.is_empty() {
            self.blank_or_comment(&line);
            return;
        }
        let lone = line.lone_return.map(|at| lone_return(at, line.first));
        let indented = line.first > line.start;
        if is_continuation(line.code) {
            self.continuation(&line, lone, indented);
            return;
        }
        let description = self.description.take();
        match self.heading_kind(&line, indented) {
            Some((kind, misspelt)) => {
                let lone = line.lone_return.map(|at| lone_return(at, line.start));
                let fault = lone.or_else(|| heading_fault(&line, kind, misspelt));
                let mut chunk = self.chunk(&line, description, fault);
                if indented {
                    chunk.range.start = line.start;
                }
                self.layout.blocks.push(Block { kind: Some(kind), heading: Some(chunk), entries: Vec::new() });
                self.open = None;
                self.run = None;
            }
            None => {
                let chunk = self.chunk(&line, description, lone);
                self.entry(chunk, &line, indented);
                self.open = Some(self.left_off(&line, false));
            }
        }
    }

    fn blank_or_comment(&mut self, line: &Line<'t>) {
        if let Some(at) = line.lone_return {
            self.layout.faults.push(lone_return(at, 0));
        }
        if line.comment.is_empty() {
            // A blank line ends an entry and parts a comment from what follows.
            self.description = None;
            self.open = None;
            return;
        }
        match &mut self.description {
            Some(range) => range.end = line.comment.end,
            None => self.description = Some(line.comment.clone()),
        }
    }

    /// The heading that a line is.
    fn heading_kind(&self, line: &Line<'t>, indented: bool) -> Option<(BlockKind, bool)> {
        if !indented {
            return heading_word::of(line.code);
        }
        let kind = heading_word::exact(line.code)?;
        // `stage recorder open` is an assumption about a stage.
        let assuming = self.layout.blocks.last().is_some_and(|b| b.kind == Some(BlockKind::Assume));
        let subject = assuming && kind == BlockKind::Stage && !line.code.contains(':');
        (!subject).then_some((kind, false))
    }

    fn chunk(&self, line: &Line<'t>, description: Option<Range<usize>>, fault: Option<Fault>) -> Chunk {
        Chunk { range: line.first..line.first + line.code.len(), line: line.number, description, fault }
    }

    /// The block at work; one without a heading, if there is none yet.
    fn block(&mut self) -> &mut Block {
        if self.layout.blocks.is_empty() {
            self.layout.blocks.push(Block { kind: None, heading: None, entries: Vec::new() });
        }
        let last = self.layout.blocks.len() - 1;
        &mut self.layout.blocks[last]
    }

    fn entry(&mut self, mut chunk: Chunk, line: &Line<'t>, indented: bool) {
        let run = self.run;
        let block = self.block();
        let index = block.entries.len();
        if chunk.fault.is_none() {
            chunk.fault = if block.kind.is_none() && index == 0 && indented {
                Some(plain(
                    "no-heading",
                    line,
                    "This entry stands before any heading: is a `stage` heading missing above it?",
                ))
            } else if indented {
                None
            } else {
                match heading_word::begun(line.code).as_slice() {
                    [] => unindented(block, run, line),
                    words => Some(begun(line, words)),
                }
            };
        }
        let new_run = chunk.fault.as_ref().is_some_and(|f| f.id == "entry-unindented");
        block.entries.push(chunk);
        if new_run {
            self.run = Some(index);
        } else if indented {
            self.run = None;
        }
    }

    /// How an entry leaves off with a line.
    fn left_off(&self, line: &Line<'t>, path: bool) -> Open {
        Open { last: (line.first, line.first + line.code.len()), path }
    }

    fn continuation(&mut self, line: &Line<'t>, lone: Option<Fault>, indented: bool) {
        let joins = self.open.is_some_and(|open| self.joins(open, line.code));
        if !joins {
            let description = self.description.take();
            let fault = lone.unwrap_or_else(|| continues_nothing(line, self.open.is_some()));
            let chunk = self.chunk(line, description, Some(fault));
            let block = self.block();
            block.entries.push(chunk);
            // The line may be continued itself.
            self.open = Some(self.left_off(line, line.code.starts_with('-')));
            return;
        }
        // Comment lines in between belong to the entry.
        self.description = None;
        let path = self.open.is_some_and(|o| o.path || has_link(&self.text[o.last.0..o.last.1]));
        self.open = Some(self.left_off(line, path));
        let end = line.first + line.code.len();
        if let Some(chunk) = self.layout.blocks.last_mut().and_then(|b| b.entries.last_mut()) {
            chunk.range.end = end;
            if chunk.fault.is_none() {
                chunk.fault = lone.map(|mut f| {
                    // The fault counts from the line; the chunk began above it.
                    let shift = (line.first - chunk.range.start) as u32;
                    f.span = Span { start: f.span.start + shift, end: f.span.end + shift };
                    for (span, _) in f.fixes.iter_mut().flat_map(|f| f.edits.iter_mut()) {
                        *span = Span { start: span.start + shift, end: span.end + shift };
                    }
                    f
                });
            }
        }
        if !indented {
            self.unindented_continuation(line);
        }
    }

    /// A line in column 0 that continues an entry goes with the run that the entry stands in, or is a fault of its own.
    fn unindented_continuation(&mut self, line: &Line<'t>) {
        let Some(entries) = self.layout.blocks.last_mut().map(|b| &mut b.entries) else { return };
        if let Some(first) = self.run.and_then(|r| entries.get_mut(r)) {
            joins_run(first, line, "    ");
            return;
        }
        let Some(chunk) = entries.last_mut().filter(|c| c.fault.is_none()) else { return };
        let at = (line.start - chunk.range.start) as u32;
        let place = Span { start: at, end: at };
        chunk.fault = Some(Fault {
            id: "entry-unindented",
            // A pasted dash takes three bytes.
            span: Span { start: at, end: at + line.code.chars().next().map_or(0, char::len_utf8) as u32 },
            message: "A line that continues an entry is indented, and this one stands in column 0.".into(),
            unfinished: false,
            fixes: vec![Fix { title: "indent it".into(), edits: vec![(place, "    ".into())] }],
        });
    }

    /// Whether a continuation joins: the entry leaves off at a part for `--` and `||`, at a terminal or list item for `,`.
    fn joins(&self, open: Open, code: &str) -> bool {
        let last = &self.text[open.last.0..open.last.1];
        let kind = self.layout.blocks.last().and_then(|b| b.kind);
        if code.starts_with(',') {
            return !(open.path || (has_link(last) && !has_colon_first(last)));
        }
        // An expression goes on with `||` wherever it leaves off.
        if matches!(kind, Some(BlockKind::Let | BlockKind::Formula)) {
            return code.starts_with(['|', '∥']);
        }
        leaves_at_part(last)
    }
}
