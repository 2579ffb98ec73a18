//! A file's lines, sorted into blocks of headings and entries, without looking inside any of them.

use std::ops::Range;

use crate::heading_word;
use crate::token::{TokenKind, tokens};
use crate::tree::{BlockKind, Fault, Fix, Span};
use crate::word::heading_word as word_of;

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

/// What a line is, blanks in front and a comment behind left aside.
struct Line<'t> {
    /// First byte of the line.
    start: usize,
    /// First byte that is no blank.
    first: usize,
    /// The text from there, without comment and blanks behind.
    code: &'t str,
    /// The comment, or an empty range.
    comment: Range<usize>,
    /// A carriage return that ends no line.
    lone_return: Option<usize>,
    number: u32,
}

fn is_blank(c: char) -> bool {
    matches!(c, ' ' | '\t' | '\u{00A0}' | '\u{2009}' | '\u{202F}')
}

/// Where the code of a line ends and its comment begins: at a `#` that stands in no quoted text.
fn comment_start(line: &str) -> usize {
    let mut quoted = false;
    for (i, b) in line.bytes().enumerate() {
        match b {
            b'"' => quoted = !quoted,
            b'#' if !quoted => return i,
            // A quoted text ends with its line, and a lone return ends it too.
            b'\r' => quoted = false,
            _ => {}
        }
    }
    line.len()
}

fn lines(text: &str) -> impl Iterator<Item = Line<'_>> {
    let mut start = if text.starts_with('\u{FEFF}') { '\u{FEFF}'.len_utf8() } else { 0 };
    let mut number = 0;
    std::iter::from_fn(move || {
        if start >= text.len() {
            return None;
        }
        let end = text[start..].find('\n').map_or(text.len(), |n| start + n);
        let line = &text[start..end];
        // Without its line feed a carriage return at the very end of the file ends no line either.
        let line = if end < text.len() { line.strip_suffix('\r').unwrap_or(line) } else { line };
        let trimmed = line.trim_start_matches(is_blank);
        let first = start + line.len() - trimmed.len();
        let cut = comment_start(trimmed);
        let code = trimmed[..cut].trim_end_matches(|c| is_blank(c) || c == '\r');
        let found = Line {
            start,
            first,
            code,
            comment: first + cut..start + line.len(),
            lone_return: line.find('\r').map(|at| start + at),
            number,
        };
        start = end + 1;
        number += 1;
        Some(found)
    })
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
            let fault = lone.unwrap_or_else(|| {
                let mark = if line.code.starts_with(',') {
                    ","
                } else {
                    &line.code[..line.code.chars().next().map_or(0, char::len_utf8).max(2).min(line.code.len())]
                };
                plain("continues-nothing", line, &format!("`{mark}` continues nothing: is its first line gone?"))
            });
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
                if chunk.fault.is_none() && !indented {
                    let at = (line.start - chunk.range.start) as u32;
                    let place = Span { start: at, end: at };
                    chunk.fault = Some(Fault {
                        id: "entry-unindented",
                        span: Span { start: at, end: at + 1 },
                        message: "A line that continues an entry is indented.".into(),
                        unfinished: false,
                        fixes: vec![Fix { title: "indent it".into(), edits: vec![(place, "    ".into())] }],
                    });
                }
            }
        }
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

/// Whether a line's code continues an entry: it begins with `--`, `||` or `,`, or with what is pasted for them.
fn is_continuation(code: &str) -> bool {
    code.starts_with("--") || code.starts_with("||") || code.starts_with([',', '∥', '–', '—'])
}

/// Whether the last step of a line begins with a part: `a -- R1 10k`; a link that nothing follows yet counts as well.
fn leaves_at_part(code: &str) -> bool {
    let mut begins: Option<TokenKind> = None;
    let mut fresh = true;
    for t in tokens(code) {
        match t.kind {
            TokenKind::Blank | TokenKind::Comment | TokenKind::LineEnd | TokenKind::LoneReturn => {}
            TokenKind::Link | TokenKind::Parallel => {
                fresh = true;
                begins = None;
            }
            kind if fresh => {
                fresh = false;
                let class = kind == TokenKind::Name && crate::part::is_class_letters(&code[t.span.range()]);
                begins = Some(if class { TokenKind::Part } else { kind });
            }
            _ => {}
        }
    }
    matches!(begins, None | Some(TokenKind::Part))
}

fn has_link(code: &str) -> bool {
    code.contains("--")
}

fn has_colon_first(code: &str) -> bool {
    match (code.find(':'), code.find("--")) {
        (Some(colon), Some(link)) => colon < link,
        (colon, _) => colon.is_some(),
    }
}

fn plain(id: &'static str, line: &Line, message: &str) -> Fault {
    Fault { id, span: Span::new(0, line.code.len()), message: message.into(), unfinished: false, fixes: Vec::new() }
}

fn lone_return(at: usize, origin: usize) -> Fault {
    let at = at - origin.min(at);
    let span = Span::new(at, at + 1);
    Fault {
        id: "lone-return",
        span,
        message: "A carriage return stands here without its line feed: other programs show a new line where this one reads on.".into(),
        unfinished: false,
        fixes: vec![Fix { title: "end the line here".into(), edits: vec![(span, "\n".into())] }],
    }
}

/// What is wrong with a heading as a line. An indented one's chunk begins in column 0, so that the fix has a place.
fn heading_fault(line: &Line, kind: BlockKind, misspelt: bool) -> Option<Fault> {
    let word = heading_word::first_word(line.code);
    let indent = line.first - line.start;
    let span = Span::new(indent, indent + word.len());
    let (id, message, fix) = if misspelt {
        let meant = word_of(kind);
        let message = match word.eq_ignore_ascii_case(meant) {
            true => format!("Headings are written small: {meant}."),
            false => format!("{word} opens no block: did you mean {meant}?"),
        };
        ("heading-misspelt", message, Fix { title: format!("write {meant}"), edits: vec![(span, meant.into())] })
    } else if indent > 0 {
        let message = format!("{word} opens a block, and a heading starts in column 0.");
        let edits = vec![(Span::new(0, indent), String::new())];
        ("heading-indented", message, Fix { title: "start it in column 0".into(), edits })
    } else {
        return None;
    };
    Some(Fault { id, span, message, unfinished: false, fixes: vec![fix] })
}

/// An entry in column 0: one fault and one fix for a run of them.
fn unindented(block: &mut Block, run: Option<usize>, line: &Line) -> Option<Fault> {
    if let Some(first) = run.and_then(|r| block.entries.get_mut(r)) {
        let at = (line.first - first.range.start) as u32;
        if let Some(fault) = &mut first.fault {
            if let Some(fix) = fault.fixes.first_mut() {
                fix.edits.push((Span { start: at, end: at }, "  ".into()));
                fix.title = format!("indent these {} entries", fix.edits.len());
            }
            let count = fault.fixes.first().map_or(1, |f| f.edits.len());
            fault.message = format!("An entry is indented, and {count} of them stand in column 0 from here on.");
        }
        return None;
    }
    let start = Span::default();
    let message = match block.kind {
        Some(_) => "An entry is indented, and this one stands in column 0.".to_string(),
        None => "This stands in column 0 and opens no block: is a `stage` heading missing above it?".to_string(),
    };
    Some(Fault {
        id: "entry-unindented",
        span: Span::new(0, line.code.len()),
        message,
        unfinished: false,
        fixes: vec![Fix { title: "indent it".into(), edits: vec![(start, "  ".into())] }],
    })
}

/// The beginning of a heading's word in column 0.
fn begun(line: &Line, words: &[&str]) -> Fault {
    let span = Span::new(0, line.code.len());
    Fault {
        id: "heading-begun",
        span,
        message: format!("`{}` opens nothing yet: {}.", line.code, crate::grammar::element::list(words)),
        unfinished: true,
        fixes: words.iter().map(|w| Fix { title: format!("write {w}"), edits: vec![(span, w.to_string())] }).collect(),
    }
}
