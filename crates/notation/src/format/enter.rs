//! What a new line brings with it while somebody types.

use crate::format::changes;
use crate::format::edit::{Change, Edit, as_edits};
use crate::format::rows::{Row, Rows, What};

/// The changes after a line was ended at the caret `at`: the line just left is laid out, and the caret's own line gets its
/// blanks in front. No line comes or goes, and no other line is touched.
///
/// ```
/// use notation::format::{apply, edits_after_enter};
///
/// let text = "stage a: in->out\n";
/// assert_eq!(apply(text, &edits_after_enter(text, text.len())), "stage a: in -> out\n  ");
/// let text = "stage a: in -> out\n  in--R1 1k\n  ";
/// assert_eq!(apply(text, &edits_after_enter(text, text.len())), "stage a: in -> out\n  in--R1 1k\n    ");
/// ```
pub fn edits_after_enter(text: &str, at: usize) -> Vec<Edit> {
    let at = at.min(text.len());
    let caret = text.as_bytes()[..at].iter().filter(|b| **b == b'\n').count();
    let Some(left) = caret.checked_sub(1) else { return Vec::new() };
    let rows = Rows::of(text, Some(caret));
    let Some(above) = rows.list.get(left) else { return Vec::new() };
    let mut out: Vec<Change> = changes(&rows);
    let here = rows.list.get(caret);
    out.retain(|change| {
        let in_front = here.is_some_and(|row| at <= row.first && change.range == (row.start..row.first));
        !change.moves && (change.row == left || (change.row == caret && in_front))
    });
    if matches!(above.what, What::Blank) {
        out.retain(|change| change.row != left);
        out.push(Change { row: left, range: above.start..above.end, text: String::new(), moves: false });
    }
    let own = match here {
        None => Some(text.len()..text.len()),
        Some(row) if matches!(row.what, What::Blank) => Some(row.start..row.end),
        Some(_) => None,
    };
    if let (Some(range), Some(indent)) = (own, below(above)) {
        out.retain(|change| change.row != caret);
        out.push(Change { row: caret, range, text: " ".repeat(indent), moves: false });
    }
    as_edits(text, out)
}

/// The blanks in front of a new line below another; `None` leaves those that the editor put there.
fn below(row: &Row) -> Option<usize> {
    match row.what {
        // A heading may come here, and an entry is indented when it is left.
        What::Blank => Some(0),
        What::Comment => row.indent,
        What::Laid { heading: true, .. } | What::Kept { heading: true } => Some(2),
        _ if row.unfinished && row.indent.is_some() => Some(4),
        What::Laid { .. } | What::Kept { .. } => row.indent.map(|_| 2),
        What::Untouched => None,
    }
}
