//! The targets by their names, and those that read one text by itself.

use notation::token::Token;
use notation::tree::{BlockKind, Fault, Grade, Span};
use notation::word::HEADING_WORDS;
use notation::{lay_out, names_of, nodes_of, read_entry, read_heading, read_phrase, tokens};

use crate::{edits, layouts};

/// Something that takes any bytes, and panics if what has to hold does not.
pub type Target = fn(&[u8]);

/// Bytes of an input that are looked at; the rest is left aside. Sizes beyond reason have tests of their own in the notation.
pub const LONGEST: usize = 4096;

/// The targets by name.
pub const TARGETS: &[(&str, Target)] = &[
    ("lexer", lexer),
    ("entries", entries),
    ("phrases", phrases),
    ("layout", layout),
    ("format", layouts::format),
    ("edits", edits::edits),
];

/// A target by its name.
pub fn target(name: &str) -> Option<Target> {
    TARGETS.iter().find(|(n, _)| *n == name).map(|(_, t)| *t)
}

/// The text that an input is.
pub(crate) fn text(data: &[u8]) -> String {
    String::from_utf8_lossy(&data[..data.len().min(LONGEST)]).into_owned()
}

/// Tokens stand one behind the other from the first byte to the last, on borders of characters.
fn lexer(data: &[u8]) {
    let text = text(data);
    let mut end = 0;
    for Token { span, kind } in tokens(&text) {
        assert_eq!(span.start, end, "a gap before {kind:?}");
        assert!(span.end > span.start, "{kind:?} is empty");
        assert!(text.is_char_boundary(span.end as usize), "{kind:?} ends inside a character");
        end = span.end;
    }
    assert_eq!(end as usize, text.len(), "the last bytes are in no token");
}

/// An entry of every kind of block and a heading: whole or with a fault, every place in the text, the same a second time.
fn entries(data: &[u8]) {
    let text = text(data);
    for (_, kind) in HEADING_WORDS {
        entry(*kind, &text);
    }
    heading(&text);
}

/// Reads an entry and looks at all of it.
fn entry(kind: BlockKind, text: &str) {
    let entry = read_entry(kind, text);
    assert_eq!(entry.grade == Grade::Whole, entry.fault.is_none(), "{kind:?}: {:?} {:?}", entry.grade, entry.fault);
    places(&format!("{entry:?}"), text);
    faults(text, entry.fault.as_ref());
    let names = names_of(&entry);
    for word in names.names.iter().copied().chain(nodes_of(&entry)) {
        // Of a quoted text the place holds the marks, too.
        let marks = ['"', '“', '”', '„'];
        assert_eq!(text[word.span.range()].trim_matches(marks), word.text.trim_matches(marks), "{kind:?}");
    }
    for part in names.parts {
        assert!(text[part.span.range()].eq_ignore_ascii_case(&part.text), "{kind:?}: {part:?}");
    }
    assert_eq!(read_entry(kind, text), entry, "{kind:?} read again");
}

/// Reads a heading and looks at all of it.
fn heading(text: &str) {
    let heading = read_heading(text);
    assert_eq!(heading.grade == Grade::Whole, heading.fault.is_none(), "{heading:?}");
    places(&format!("{heading:?}"), text);
    faults(text, heading.fault.as_ref());
}

/// A quantity as a command line gives it.
fn phrases(data: &[u8]) {
    let text = text(data);
    let (phrase, fault) = read_phrase(&text);
    places(&format!("{phrase:?}"), &text);
    faults(&text, fault.as_ref());
    assert_eq!(read_phrase(&text), (phrase, fault), "read again");
}

/// Blocks and entries stand in order, none of them empty, no code outside of them; each is read where it stands.
fn layout(data: &[u8]) {
    let text = text(data);
    let layout = lay_out(&text);
    let (mut end, mut line, mut counted) = (0, 0, 0);
    for (i, block) in layout.blocks.iter().enumerate() {
        assert_eq!(block.kind.is_none(), block.heading.is_none());
        assert!(block.kind.is_some() || i == 0, "a block without a heading stands first");
        for chunk in block.heading.iter().chain(&block.entries) {
            let range = chunk.range.clone();
            assert!(range.start >= end && range.end > range.start, "{range:?} behind {end}");
            nothing_said(&text[end..range.start]);
            line += text[counted..range.start].matches('\n').count();
            counted = range.start;
            assert_eq!(chunk.line as usize, line, "{range:?}");
            end = range.end;
            // What mends a run of lines reaches beyond the first of them.
            faults(&text[range.start..], chunk.fault.as_ref());
            if let Some(description) = &chunk.description {
                assert!(
                    text[description.clone()].starts_with('#') && description.end <= range.start,
                    "{description:?}"
                );
            }
        }
        for chunk in &block.entries {
            entry(block.kind.unwrap_or(BlockKind::Stage), &text[chunk.range.clone()]);
        }
        if let Some(chunk) = &block.heading {
            heading(&text[chunk.range.clone()]);
        }
    }
    nothing_said(&text[end..]);
    layout.faults.iter().for_each(|fault| faults(&text, Some(fault)));
}

/// Asserts that a stretch between two entries holds comments and blanks alone.
fn nothing_said(between: &str) {
    use notation::token::TokenKind as T;
    let code = tokens(between.trim_start_matches('\u{feff}'))
        .into_iter()
        .find(|t| !matches!(t.kind, T::Blank | T::LineEnd | T::LoneReturn | T::Comment));
    assert_eq!(code, None, "code in no entry: {between:?}");
}

/// Asserts that a fault's places are in the text, and that it is told as a sentence.
fn faults(text: &str, fault: Option<&Fault>) {
    let Some(fault) = fault else { return };
    let edits = fault.fixes.iter().flat_map(|fix| fix.edits.iter().map(|(span, _)| *span));
    [fault.span].into_iter().chain(edits).for_each(|span| place(span, text));
    assert!(fault.message.ends_with(['.', '?']), "{}", fault.message);
    for fix in &fault.fixes {
        let mut edits: Vec<Span> = fix.edits.iter().map(|(span, _)| *span).collect();
        edits.sort();
        assert!(edits.windows(2).all(|two| two[0].end <= two[1].start), "edits on top of one another: {fix:?}");
    }
}

/// Asserts that a place is one of the text.
fn place(span: Span, text: &str) {
    assert!(span.start <= span.end && text.get(span.range()).is_some(), "{span:?} is no place of the text");
}

/// Asserts that every place that a tree holds is one of the text. It reads them where no code can forget one: in the tree as it
/// prints itself.
fn places(printed: &str, text: &str) {
    const MARK: &str = "Span { start: ";
    for (at, _) in printed.match_indices(MARK) {
        let rest = &printed[at + MARK.len()..];
        let figures = rest.split_once(" }").and_then(|(inside, _)| inside.split_once(", end: "));
        // A text that prints such a thing itself is no tree's place.
        let Some((start, end)) = figures.and_then(|(a, b)| Some((a.parse().ok()?, b.parse().ok()?))) else { continue };
        if !text.contains("Span") {
            place(Span { start, end }, text);
        }
    }
}
