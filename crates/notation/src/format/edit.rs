//! Replacements: gathered line by line, given back as few and as small as they can be.

use std::ops::Range;

/// A replacement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edit {
    /// Bytes that go.
    pub range: Range<usize>,
    /// What comes.
    pub text: String,
}

/// A replacement that belongs to a line.
#[derive(Clone, Debug)]
pub(crate) struct Change {
    /// The line's index.
    pub row: usize,
    /// Bytes that go.
    pub range: Range<usize>,
    /// What comes.
    pub text: String,
    /// Whether the lines below move up or down with it.
    pub moves: bool,
}

/// The text with the edits made, which stand in order and do not overlap.
///
/// ```
/// use notation::format::{Edit, apply};
///
/// let edits = [Edit { range: 2..2, text: " ".into() }, Edit { range: 4..7, text: " ".into() }];
/// assert_eq!(apply("fb--   R3", &edits), "fb -- R3");
/// ```
pub fn apply(text: &str, edits: &[Edit]) -> String {
    let mut out = String::with_capacity(text.len() + edits.len() * 4);
    let mut at = 0;
    for edit in edits {
        out.push_str(&text[at..edit.range.start]);
        out.push_str(&edit.text);
        at = edit.range.end;
    }
    out.push_str(&text[at..]);
    out
}

/// Changes as edits: in order, those that touch as one, without what would stay the same at either end.
pub(crate) fn as_edits(text: &str, mut changes: Vec<Change>) -> Vec<Edit> {
    // Stable: of two at one place the one found first stands first.
    changes.sort_by_key(|change| (change.range.start, change.range.end));
    let mut out: Vec<Edit> = Vec::with_capacity(changes.len());
    for change in changes {
        match out.last_mut() {
            Some(last) if last.range.end == change.range.start => {
                last.range.end = change.range.end;
                last.text.push_str(&change.text);
            }
            _ => out.push(Edit { range: change.range, text: change.text }),
        }
    }
    out.into_iter()
        .map(|edit| least(text, edit))
        .filter(|edit| !edit.range.is_empty() || !edit.text.is_empty())
        .collect()
}

/// Takes off what is the same in front and behind. Line ends are left whole: no editor has a place between CR and LF.
fn least(text: &str, edit: Edit) -> Edit {
    let Edit { mut range, text: mut new } = edit;
    let gone = &text[range.clone()];
    if gone == new {
        return Edit { range: range.start..range.start, text: String::new() };
    }
    if gone.contains(['\r', '\n']) || new.contains(['\r', '\n']) {
        return Edit { range, text: new };
    }
    let front: usize = gone.chars().zip(new.chars()).take_while(|(a, b)| a == b).map(|(a, _)| a.len_utf8()).sum();
    let (gone, rest) = (&gone[front..], &new[front..]);
    let back: usize =
        gone.chars().rev().zip(rest.chars().rev()).take_while(|(a, b)| a == b).map(|(a, _)| a.len_utf8()).sum();
    let kept = rest.len() - back;
    range = range.start + front..range.end - back;
    new = new[front..front + kept].to_string();
    Edit { range, text: new }
}
