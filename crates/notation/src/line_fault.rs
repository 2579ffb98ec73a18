//! What there is to say about lines: headings and entries in the wrong column, misspelt headings, lone carriage returns.

use crate::heading_word;
use crate::layout::Block;
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
pub(crate) fn begun(line: &Line, words: &[&str]) -> Fault {
    let span = Span::new(0, line.code.len());
    Fault {
        id: "heading-begun",
        span,
        message: format!("`{}` opens nothing yet: {}.", line.code, crate::grammar::element::list(words)),
        unfinished: true,
        fixes: words.iter().map(|w| Fix { title: format!("write {w}"), edits: vec![(span, w.to_string())] }).collect(),
    }
}
