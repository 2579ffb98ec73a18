//! The canonical layout of a text: where everything stands, and nothing of what it says.
//!
//! * A heading stands in column 0, an entry behind two blanks, a line that continues an entry behind four. Blanks at a
//!   line's end go; every line ends as most of the file's do, the last one too.
//! * One blank line stands between blocks, none below a heading, at most one anywhere else. Headings without entries may
//!   stand in a row. A comment line goes where what it describes goes; one that describes nothing stays in column 0 or is
//!   indented like an entry.
//! * One blank stands around `--`, `||`, `->`, `=`, `..`, `<` and `>` and behind `,` and `:`, and around the `+` and
//!   `-` of a sum. `^` stands close; so do `*` and `/` if they did on both sides, so that `2*pi*f` and `R5 / R4` both stay. The blank
//!   between a figure and its unit or `%` is the author's.
//! * `−`, `→`, `×`, `·`, `∥` and the blanks of typeset pages become what is typed for them. `µ` and `u`, `Ω` and `ohm`, `±` and `+/-`
//!   stay as they were written, as does the text of comments and of what stands in quotes.
//! * Columns are aligned in runs. A run ends at a blank line, a comment line and a heading; entries without the column,
//!   like devices among paths, do not end it. The table below names the columns.
//! * What has a fault stays to the letter, however it is laid out: only a blank in front or behind may go or come, and in
//!   front only where the line is an entry for certain.
//!
//! | entries | aligned | takes part up to |
//! |---|---|---|
//! | paths | the first `--` | a node of 16 characters |
//! | `design` | what stands behind the key, in the 11th column of the entry or further | any |
//! | `datasheet` | the figures | words of 32 characters |
//! | `let` | `=` | a name of 16 characters |
//! | `formula` | `=` | a quantity of 56 characters |
//! | `require` | `=`, `<`, `>`, four blanks behind the longest quantity | a quantity of 56 characters |
//! | all | comments, four blanks behind the longest code | code up to the 64th column |
//!
//! Where nothing else is said, one blank stands behind the longest. What is longer than the limit stands out of its run by
//! itself and pushes nobody.
//!
//! All of it is linear in the text, and laying out what is laid out changes nothing.

use std::ops::Range;

use crate::format::edit::{Change, as_edits};
use crate::format::rows::Rows;

mod blank_lines;
mod columns;
mod edit;
mod enter;
mod render;
mod rows;
mod spacing;

pub use edit::{Edit, apply};
pub use enter::edits_after_enter;

/// How the lines of a text end: with a line feed alone, unless more of those in which something stands have a carriage return too.
///
/// ```
/// assert_eq!(notation::format::line_end("let a = 1\r\n\nlet b = 2\r\n\n"), "\r\n");
/// ```
pub fn line_end(text: &str) -> &'static str {
    rows::line_end(text, &rows::plain_rows(text))
}

/// The changes that give a text its canonical layout: the least ones, in order, each in one place.
///
/// ```
/// use notation::format::edits;
///
/// let text = "stage divider: in->out\n  in -- R1 10k -- out\n  out -- R2 10k -- gnd\n";
/// let found: Vec<_> = edits(text).into_iter().map(|e| (e.range, e.text)).collect();
/// assert_eq!(found, [(17..17, " ".into()), (19..19, " ".into()), (28..28, " ".into())]);
/// ```
pub fn edits(text: &str) -> Vec<Edit> {
    as_edits(text, changes(&Rows::of(text, None)))
}

/// A text in its canonical layout.
///
/// ```
/// use notation::format::formatted;
///
/// let text = "let\n f0=8kHz\n  q1   = 0.54 # of the first\nstage a:in→out\n\tin--R1 10 kΩ∥C1 1n--out";
/// let laid = "let\n  f0 = 8kHz\n  q1 = 0.54    # of the first\n\nstage a: in -> out\n  in -- R1 10 kΩ || C1 1n -- out\n";
/// assert_eq!(formatted(text), laid);
/// ```
pub fn formatted(text: &str) -> String {
    apply(text, &edits(text))
}

/// The changes in the lines that a range of bytes touches. A range that ends in column 0 does not touch that line.
///
/// Columns are those of the whole run, so that the lines come to stand as they will when all of them are laid out.
pub fn edits_within(text: &str, range: Range<usize>) -> Vec<Edit> {
    let rows = Rows::of(text, None);
    let touched = |row: usize| {
        let Some(row) = rows.list.get(row) else { return false };
        let before = row.start > range.end || (row.start == range.end && range.start < range.end);
        // Behind the last line's end there is a line without a row; a caret there touches nothing.
        let behind = row.next < range.start || (row.next == range.start && row.next > row.end);
        !before && !behind
    };
    let mut found = changes(&rows);
    found.retain(|change| touched(change.row));
    as_edits(text, found)
}

/// All changes, each belonging to one line.
fn changes(rows: &Rows) -> Vec<Change> {
    let mut out = Vec::new();
    blank_lines::changes(rows, &mut out);
    for (i, row) in rows.list.iter().enumerate() {
        render::changes(rows, i, row, &mut out);
    }
    out
}
