//! What a text says, its layout aside, and the rules that every canonical layout keeps.

#![allow(dead_code)]

use std::collections::BTreeSet;
use std::path::Path;

use notation::format::{apply, edits, edits_after_enter, edits_within, formatted};
use notation::layout::Chunk;
use notation::token::TokenKind;
use notation::tree::Grade;
use notation::{lay_out, read_entry, read_heading, tokens};

use crate::show;

const BLANKS: [char; 5] = [' ', '\t', '\u{a0}', '\u{2009}', '\u{202f}'];

/// The designs and broken designs of the workspace, each with its path.
pub fn corpus() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folders = [
        "tests/ok",
        "tests/err",
        "tests/laid/before",
        "../../examples",
        "../../tests/outside",
        "../../tests/messages",
        "../../tests/editors/highlighting",
        "../circuit/library",
    ];
    let mut found = Vec::new();
    for folder in folders {
        for file in std::fs::read_dir(root.join(folder)).expect(folder) {
            let path = file.expect("a file").path();
            if path.extension().is_some_and(|e| e == "stage" || e == "txt")
                && let Ok(text) = std::fs::read_to_string(&path)
            {
                found.push((path.to_string_lossy().into_owned(), text));
            }
        }
    }
    assert!(found.len() > 150, "{}", found.len());
    found.sort();
    found
}

/// All that a text says, in order, without a word on where it stands: two texts that say the same are equal in it.
pub fn said(text: &str) -> Vec<String> {
    let layout = lay_out(text);
    let mut out = Vec::new();
    for block in &layout.blocks {
        out.push(format!("block {:?}", block.kind));
        if let Some(chunk) = &block.heading {
            let own = &text[chunk.range.clone()];
            let read = read_heading(own);
            out.push(format!("{:?} {}", read.grade, show::heading(&read.tree)));
            about(text, chunk, read.fault.as_ref().map(|f| (f.id, &*f.message)), &mut out);
        }
        for chunk in &block.entries {
            let own = &text[chunk.range.clone()];
            let read = block.kind.map(|kind| read_entry(kind, own));
            let fault = read.as_ref().and_then(|r| r.fault.as_ref()).map(|f| (f.id, &*f.message));
            match &read {
                Some(read) => out.push(format!("{:?} {}", read.grade, show::entry(read))),
                None => out.push("of no block".into()),
            }
            about(text, chunk, fault, &mut out);
        }
    }
    out.extend(layout.faults.iter().map(|f| f.id.to_string()));
    for token in tokens(text) {
        let slice = &text[token.span.range()];
        match token.kind {
            TokenKind::Comment => out.push(slice.trim_end_matches(BLANKS).to_string()),
            TokenKind::Text | TokenKind::OpenText | TokenKind::CurlyText => out.push(slice.to_string()),
            _ => {}
        }
    }
    out
}

fn about(text: &str, chunk: &Chunk, fault: Option<(&str, &str)>, out: &mut Vec<String>) {
    let own = &text[chunk.range.clone()];
    // Where an entry or a heading stands is what a layout is there to mend.
    let sorted = chunk.fault.as_ref().map(|f| f.id).filter(|id| !["entry-unindented", "heading-indented"].contains(id));
    if fault.is_some() || sorted.is_some() {
        let letters: Vec<&str> = own.split('\n').map(|line| line.trim_end_matches('\r').trim_matches(BLANKS)).collect();
        out.push(format!("{fault:?} {sorted:?} {letters:?}"));
    }
    if let Some(description) = &chunk.description {
        out.extend(text[description.clone()].lines().map(|line| format!("above: {}", line.trim_matches(BLANKS))));
    }
}

/// Asserts everything that holds of the layout of any text.
pub fn check(text: &str) {
    let found = edits(text);
    let mut at = 0;
    for edit in &found {
        assert!(edit.range.start >= at && edit.range.end >= edit.range.start, "{found:?} of {text:?}");
        assert!(text.is_char_boundary(edit.range.start) && text.is_char_boundary(edit.range.end), "{text:?}");
        let gone = &text[edit.range.clone()];
        assert_ne!(gone, edit.text, "an edit that changes nothing in {text:?}");
        if !gone.contains(['\r', '\n']) && !edit.text.contains(['\r', '\n']) {
            let both = gone.chars().next().zip(edit.text.chars().next());
            assert!(both.is_none_or(|(a, b)| a != b), "an edit that is greater than it need be: {edit:?} of {text:?}");
        }
        at = edit.range.end;
    }
    let laid = apply(text, &found);
    assert_eq!(formatted(text), laid);
    assert_eq!(said(&laid), said(text), "\n--- of\n{text}\n--- to\n{laid}\n({text:?})");
    assert_eq!(edits(&laid), [], "laid out again it changes: {text:?}, {laid:?}");
    rules(text, &laid);
}

/// What can be seen in a canonical layout without understanding it.
fn rules(text: &str, laid: &str) {
    let body = laid.strip_prefix('\u{feff}').unwrap_or(laid);
    assert!(body.is_empty() || body.ends_with('\n') || body.ends_with('\r'), "{laid:?}");
    let lines: Vec<&str> = body.split('\n').collect();
    let lines = &lines[..lines.len() - usize::from(body.ends_with('\n'))];
    // Of a line with a carriage return inside nobody knows how it looks. Without its line feed, the last of all is one, too.
    let untouched = |i: usize| {
        let ended = i + 1 < lines.len() || body.ends_with('\n');
        lines[i].strip_suffix('\r').filter(|_| ended).unwrap_or(lines[i]).contains('\r')
    };
    let blank = |i: usize| i < lines.len() && !untouched(i) && lines[i].trim_end_matches('\r').is_empty();
    let mut ends = BTreeSet::new();
    for (i, line) in lines.iter().enumerate().filter(|(i, _)| !untouched(*i)) {
        if i + 1 < lines.len() || body.ends_with('\n') {
            ends.insert(line.ends_with('\r'));
        }
        let line = line.strip_suffix('\r').unwrap_or(line);
        let open = tokens(line).last().is_some_and(|t| t.kind == TokenKind::OpenText);
        assert!(open || line.trim_end_matches(BLANKS) == line, "blanks behind {line:?} of {text:?}");
        assert!(!(blank(i) && blank(i + 1)), "two blank lines in {laid:?}");
    }
    assert!(ends.len() <= 1, "two kinds of line end in {laid:?}");
    // Above a byte order mark that is none, a blank line keeps it from becoming one.
    let begins = body.trim_start_matches(['\r', '\n']);
    assert!(body.is_empty() || !blank(0) || begins.starts_with('\u{feff}'), "{laid:?}");
}

/// Asserts what holds of the layout of some lines, and of what a new line brings with it.
pub fn check_parts(text: &str, from: usize, to: usize) {
    let (from, to) = (from.min(to), from.max(to));
    let line_of = |at: usize| text[..at].matches('\n').count();
    let part = edits_within(text, from..to);
    let whole = edits(text);
    let last = if from < to && text[..to].ends_with('\n') { line_of(to) - 1 } else { line_of(to) };
    for edit in &part {
        assert!(line_of(edit.range.start) >= line_of(from), "{edit:?} above {from}..{to} of {text:?}");
        let end = edit.range.end;
        let behind = !edit.range.is_empty() && text[..end].ends_with('\n');
        assert!(line_of(end) - usize::from(behind) <= last, "{edit:?} below {from}..{to} of {text:?}");
    }
    assert_eq!(said(&apply(text, &part)), said(text), "{from}..{to} of {text:?}");
    assert_eq!(edits_within(text, 0..text.len()), whole, "{text:?}");

    let caret = to;
    let found = edits_after_enter(text, caret);
    let after = apply(text, &found);
    assert_eq!(said(&after), said(text), "{caret} of {text:?}");
    let (old, new): (Vec<&str>, Vec<&str>) = (text.split('\n').collect(), after.split('\n').collect());
    assert_eq!(old.len(), new.len(), "{caret} of {text:?}");
    let here = line_of(caret);
    for (i, (old, new)) in old.iter().zip(&new).enumerate() {
        if i + 1 == here {
            continue;
        }
        let line = |l: &str| if i == here { l.trim_start_matches(BLANKS).to_string() } else { l.to_string() };
        assert_eq!(line(old), line(new), "line {i}, caret {caret} of {text:?}");
    }
}

/// A whole design's readings: nothing in it is open or torn.
pub fn is_whole(text: &str) -> bool {
    lay_out(text).blocks.iter().all(|block| {
        let entries = block.entries.iter().all(|chunk| {
            block.kind.is_some_and(|kind| read_entry(kind, &text[chunk.range.clone()]).grade == Grade::Whole)
        });
        entries && block.heading.as_ref().is_some_and(|chunk| read_heading(&text[chunk.range.clone()]).fault.is_none())
    })
}
