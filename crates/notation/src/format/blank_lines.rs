//! Blank lines: one between blocks, none at the ends and below a heading, at most one anywhere else.

use crate::format::edit::Change;
use crate::format::rows::{Row, Rows, What};

/// The changes of blank lines, those that come included, and the end of the last line.
pub(crate) fn changes(rows: &Rows, out: &mut Vec<Change>) {
    let list = &rows.list;
    let mut above: Option<usize> = None;
    let mut i = 0;
    loop {
        let begin = i;
        while i < list.len() && matches!(list[i].what, What::Blank) {
            i += 1;
        }
        let found = i - begin;
        let wanted = wanted(rows, above.map(|a| &list[a]), list.get(i), found);
        for (row, line) in list.iter().enumerate().take(i).skip(begin) {
            let goes = row >= begin + wanted;
            let text = if goes { "" } else { rows.line_end };
            if rows.text[line.start..line.next] != *text {
                out.push(Change { row, range: line.start..line.next, text: text.into(), moves: goes });
            }
        }
        if i == list.len() {
            break;
        }
        if wanted > found {
            let at = list[i].start;
            out.push(Change { row: i, range: at..at, text: rows.line_end.to_string(), moves: true });
        }
        above = Some(i);
        i += 1;
    }
    if let Some(last) = above {
        let row = &list[last];
        // Behind a lone return a line feed would make another line end of it.
        if row.end == row.next && !rows.text.ends_with('\r') {
            out.push(Change { row: last, range: row.end..row.end, text: rows.line_end.to_string(), moves: true });
        }
    }
}

/// How many blank lines stand between two lines, where `found` do.
fn wanted(rows: &Rows, above: Option<&Row>, below: Option<&Row>, found: usize) -> usize {
    let few = found.min(1);
    let Some(below) = below else { return 0 };
    let Some(above) = above else {
        // A byte order mark that stands further down is a fault; at the beginning it would be none.
        return if rows.text[below.start..].starts_with('\u{FEFF}') { few } else { 0 };
    };
    let heading = matches!(above.what, What::Laid { heading: true, .. } | What::Kept { heading: true });
    match (heading, below.opens) {
        // Headings without entries stand in a row or not, as the author likes.
        (true, true) => few,
        (false, true) => 1,
        // A comment that describes nothing keeps its distance: without it, it would describe the entry below.
        (true, false) if below.describes || !matches!(below.what, What::Comment | What::Untouched) => 0,
        _ => few,
    }
}
