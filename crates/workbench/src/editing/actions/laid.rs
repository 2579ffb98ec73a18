//! Edits with what the layout makes of them: columns move where a line grew.

use notation::format;

use crate::plain::Edit;

/// Edits of a text so that what they leave is laid out. Where the text was laid out before, it is so afterwards; else the lines that
/// are touched are. The edits may come in any order; what comes back stands in order and does not overlap.
pub(crate) fn laid(text: &str, edits: &[Edit]) -> Vec<Edit> {
    let edits = ordered(text, edits);
    let new = applied(text, &edits);
    let all = if format::edits(text).is_empty() { format::edits(&new) } else { within(&new, &edits) };
    if all.is_empty() { edits } else { between(text, &format::apply(&new, &all)) }
}

/// Edits in order, line ends as those of the text; one that overlaps another is left out.
fn ordered(text: &str, edits: &[Edit]) -> Vec<Edit> {
    let end = format::line_end(text);
    let mut all: Vec<Edit> = edits.to_vec();
    all.sort_by_key(|e| (e.range.start, e.range.end));
    let mut out: Vec<Edit> = Vec::with_capacity(all.len());
    for mut edit in all {
        if end != "\n" && edit.text.contains('\n') {
            edit.text = edit.text.replace("\r\n", "\n").replace('\n', end);
        }
        if out.last().is_none_or(|last| last.range.end <= edit.range.start) {
            out.push(edit);
        }
    }
    out
}

/// The text with edits made, which may come in any order and do not overlap.
pub(crate) fn applied(text: &str, edits: &[Edit]) -> String {
    let edit = |e: &Edit| format::Edit { range: e.range.clone(), text: e.text.clone() };
    let mut all: Vec<_> = edits.iter().map(edit).collect();
    // Stable: of two that come in at one place the first given stands first.
    all.sort_by_key(|e| (e.range.start, e.range.end));
    format::apply(text, &all)
}

/// What the layout changes in the lines of `new` that the edits touched.
fn within(new: &str, edits: &[Edit]) -> Vec<format::Edit> {
    let mut out: Vec<format::Edit> = Vec::new();
    let mut grown = 0isize;
    for edit in edits {
        let start = (edit.range.start as isize + grown) as usize;
        grown += edit.text.len() as isize - edit.range.len() as isize;
        // A line end in front closes a line that is not touched, and one behind begins none.
        let front = edit.text.len() - edit.text.trim_start_matches(['\r', '\n']).len();
        let back = edit.text[front..].len() - edit.text[front..].trim_end_matches(['\r', '\n']).len();
        for found in format::edits_within(new, start + front..start + edit.text.len() - back) {
            if out.last().is_none_or(|last| last.range.end <= found.range.start && last.range != found.range) {
                out.push(found);
            }
        }
    }
    out
}

/// The few edits that lead from one text to another: whole lines that come or go, and of lines that change what differs.
pub(crate) fn between(old: &str, new: &str) -> Vec<Edit> {
    let (before, after): (Vec<&str>, Vec<&str>) =
        (old.split_inclusive('\n').collect(), new.split_inclusive('\n').collect());
    let starts: Vec<usize> = before
        .iter()
        .scan(0, |at, line| {
            *at += line.len();
            Some(*at - line.len())
        })
        .chain([old.len()])
        .collect();
    let mut out = Vec::new();
    for op in similar::capture_diff_slices(similar::Algorithm::Myers, &before, &after) {
        let (gone, come) = (op.old_range(), op.new_range());
        if op.tag() == similar::DiffTag::Equal {
            continue;
        }
        if gone.len() == come.len() {
            let pairs = gone.clone().zip(come);
            out.extend(pairs.filter_map(|(a, b)| inside(starts[a], before[a], after[b])));
        } else {
            out.push(Edit { range: starts[gone.start]..starts[gone.end], text: after[come].concat() });
        }
    }
    out
}

/// What differs between a line and the one in its place, its line end left whole.
fn inside(start: usize, old: &str, new: &str) -> Option<Edit> {
    let (a, b) = (old.trim_end_matches(['\r', '\n']), new.trim_end_matches(['\r', '\n']));
    if old[a.len()..] != new[b.len()..] {
        return Some(Edit { range: start..start + old.len(), text: new.to_string() });
    }
    if a == b {
        return None;
    }
    let front: usize = a.chars().zip(b.chars()).take_while(|(x, y)| x == y).map(|(x, _)| x.len_utf8()).sum();
    let rest = |line: &str| line[front..].chars().rev().collect::<Vec<_>>();
    let back: usize = rest(a).iter().zip(rest(b).iter()).take_while(|(x, y)| x == y).map(|(x, _)| x.len_utf8()).sum();
    Some(Edit { range: start + front..start + a.len() - back, text: b[front..b.len() - back].to_string() })
}
