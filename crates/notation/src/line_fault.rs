//! What there is to say about lines: headings and entries in the wrong column, misspelt headings, lone carriage returns.

use crate::heading_word;
use crate::layout::{Block, Chunk};
use crate::line::Line;
use crate::tree::{BlockKind, Fault, Fix, Span};
use crate::word::heading_word as word_of;

pub(crate) fn plain(id: &'static str, line: &Line, message: &str) -> Fault {
    Fault { id, span: Span::new(0, line.code.len()), message: message.into(), unfinished: false, fixes: Vec::new() }
}

pub(crate) fn lone_return(at: usize, origin: usize) -> Fault {
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

/// A line that continues an entry, and none that it could join.
pub(crate) fn continues_nothing(line: &Line, below_entry: bool) -> Fault {
    let mark = match line.code.starts_with(',') {
        true => ",",
        false => &line.code[..line.code.char_indices().nth(2).map_or(line.code.len(), |(at, _)| at)],
    };
    let mark = if mark.starts_with(['∥', '–', '—']) {
        &mark[..mark.chars().next().map_or(0, char::len_utf8)]
    } else {
        mark
    };
    let why = match (below_entry, mark) {
        (false, _) => "it joins the line right above it, and no entry stands there",
        (true, ",") => "the entry above leaves off at no list",
        (true, _) => "the entry above leaves off at a node, and a line joins it only at a part",
    };
    plain("continues-nothing", line, &format!("`{mark}` continues nothing: {why}. Is its first line gone?"))
}

/// What is wrong with a heading as a line. An indented one's chunk begins in column 0, so that the fix has a place.
pub(crate) fn heading_fault(line: &Line, kind: BlockKind, misspelt: bool) -> Option<Fault> {
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
pub(crate) fn unindented(block: &mut Block, run: Option<usize>, line: &Line) -> Option<Fault> {
    let headed = block.kind.is_some();
    if let Some(first) = run.and_then(|r| block.entries.get_mut(r)) {
        joins_run(first, line, "  ");
        let fault = first.fault.as_mut()?;
        let fix = fault.fixes.first_mut()?;
        let count = fix.edits.iter().filter(|(_, blanks)| blanks == "  ").count();
        fix.title = format!("indent these {count} entries");
        fault.message = match headed {
            true => format!("An entry is indented, and {count} of them stand in column 0 from here on."),
            false => format!(
                "These {count} entries stand in column 0 and below no heading: is a `stage` heading missing above them?"
            ),
        };
        return None;
    }
    let message = match headed {
        true => "An entry is indented, and this one stands in column 0.",
        false => "This stands in column 0 and opens no block: is a `stage` heading missing above it?",
    };
    let fixes = vec![Fix { title: "indent it".into(), edits: vec![(Span::default(), "  ".into())] }];
    Some(Fault { fixes, ..plain("entry-unindented", line, message) })
}

/// Adds a line to the fix of the run that an entry begins.
pub(crate) fn joins_run(first: &mut Chunk, line: &Line, blanks: &str) {
    let at = (line.start - first.range.start) as u32;
    if let Some(fix) = first.fault.as_mut().and_then(|f| f.fixes.first_mut()) {
        fix.edits.push((Span { start: at, end: at }, blanks.into()));
    }
}

/// The beginning of a heading's word in column 0.
pub(crate) fn begun(line: &Line, words: &[&str]) -> Fault {
    let span = Span::new(0, line.code.len());
    Fault {
        id: "heading-begun",
        span,
        message: format!("`{}` opens nothing yet: {} would.", line.code, crate::grammar::element::list(words)),
        unfinished: true,
        fixes: words.iter().map(|w| Fix { title: format!("write {w}"), edits: vec![(span, w.to_string())] }).collect(),
    }
}
