//! What changes in a line.

use crate::format::edit::Change;
use crate::format::rows::{Row, Rows, What};
use crate::token::{TokenKind, tokens};

/// The changes of a line that is not blank.
pub(crate) fn changes(rows: &Rows, index: usize, row: &Row, out: &mut Vec<Change>) {
    let text = rows.text;
    let mut change = |range: std::ops::Range<usize>, new: &str| {
        if &text[range.clone()] != new {
            out.push(Change { row: index, range, text: new.to_string(), moves: false });
        }
    };
    let blanks = |count: usize| " ".repeat(count);
    if matches!(row.what, What::Blank | What::Untouched) {
        return;
    }
    if let Some(indent) = row.indent {
        change(row.start..row.first, &blanks(indent));
    }
    if let What::Laid { pieces, .. } = &row.what {
        let mut at = row.first;
        for piece in pieces {
            change(at..piece.range.start, &blanks(piece.gap));
            if let Some(plain) = piece.plain {
                change(piece.range.clone(), plain);
            }
            at = piece.range.end;
        }
    }
    if row.comment.is_empty() {
        // A text without its closing mark reaches to the line's end, blanks included.
        let kept = matches!(row.what, What::Kept { .. });
        let open = kept && tokens(&text[row.first..row.code_end]).last().is_some_and(|t| t.kind == TokenKind::OpenText);
        if !open {
            change(row.code_end..row.end, "");
        }
    } else {
        if let Some(count) = row.before_comment {
            change(row.code_end..row.comment.start, &blanks(count));
        }
        let comment = text[row.comment.clone()].trim_end_matches(crate::line::is_blank);
        change(row.comment.start + comment.len()..row.end, "");
    }
    if row.end < row.next {
        change(row.end..row.next, rows.line_end);
    }
}
