//! An open document: its text, what was last typed in it, and what the client was last told about it.

use std::collections::HashMap;
use std::ops::Range;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use workbench::Lensed;

use super::check::Depth;
use super::moved::Moved;
use super::position::{Encoding, Span, Text};
use super::reviewed::Reviewed;
use super::steady::Steady;
use super::tokens::Sent;

/// How long the word that was last touched is taken to be still under way: no message about it comes sooner, and a figure that it
/// took away for the moment stays. Everything else follows the keystroke at once.
pub const UNDER_WAY: Duration = Duration::from_millis(300);

/// One change of a document, as the client sends it.
#[derive(Clone, Debug)]
pub struct Change {
    /// What goes; `None` is the whole text.
    pub span: Option<Span>,
    /// What comes.
    pub text: String,
}

/// What was last typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Touched {
    /// The word at the caret, in bytes; `None` behind a blank or a line's end, and once the word has rested.
    pub word: Option<Range<usize>>,
    /// The entry at the caret with the lines that continue it, in bytes.
    pub entry: Range<usize>,
}

impl Touched {
    /// The lines of the entry, from 0, in the text that it was touched in.
    pub fn lines(&self, text: &Text) -> Range<u32> {
        text.line_of(self.entry.start)..text.line_of(self.entry.end) + 1
    }
}

/// An open document.
#[derive(Debug)]
pub struct Document {
    /// As the client named it; it is named so in every answer.
    pub uri: Arc<str>,
    /// Its name in the workbench.
    pub path: Arc<str>,
    /// The text of `version`.
    pub text: Text,
    /// The client's count.
    pub version: i32,
    /// What was last typed since the document was opened or saved.
    pub touched: Option<Touched>,
    /// How long a word is under way.
    pub pause: Duration,
    /// When the word that was last touched has rested.
    pub rests_at: Option<Instant>,
    /// When the reviewer's rules are to be asked.
    pub review_at: Option<Instant>,
    /// When builds are to be drawn.
    pub build_at: Option<Instant>,
    /// They are to be drawn once the rules have been asked: the document was opened or saved.
    pub settled: bool,
    /// What such looks found last.
    pub reviewed: Arc<Reviewed>,
    /// The figures that the client last saw, for the time that the text has none.
    pub steady: Arc<Mutex<Steady>>,
    /// The semantic tokens last sent.
    pub coloured: Arc<Mutex<Option<Sent>>>,
    /// What the lenses said last.
    pub lenses: Arc<Mutex<HashMap<Lensed, String>>>,
    /// The name of the diagnostics that the client last asked for, and their version.
    pub pulled: Option<(i32, String)>,
    /// The diagnostics last sent, as written; `None` before the first.
    pub published: Option<Vec<u8>>,
    /// What they say, in which lines.
    pub said: Arc<[(&'static str, u32)]>,
}

impl Document {
    /// A document as opened.
    pub fn new(uri: &str, version: i32, text: String, encoding: Encoding, pause: Duration) -> Self {
        Self {
            pause,
            uri: uri.into(),
            path: super::uri::path_of(uri).into(),
            text: Text::new(text, encoding),
            version,
            touched: None,
            rests_at: None,
            review_at: Some(Instant::now()),
            build_at: None,
            settled: true,
            reviewed: Arc::default(),
            steady: Arc::default(),
            coloured: Arc::default(),
            lenses: Arc::default(),
            pulled: None,
            published: None,
            said: Arc::default(),
        }
    }

    /// Applies changes in their order, each to the text that the one before it left.
    pub fn apply(&mut self, version: i32, changes: &[Change], encoding: Encoding, now: Instant) {
        self.version = version;
        let before = self.text.clone();
        self.review_later(now);
        for change in changes {
            if !self.reviewed.is_empty() {
                let (gone, come) = replaced(&self.text, change);
                Arc::make_mut(&mut self.reviewed).follow(&gone, come);
            }
            let (text, touched) = applied(&self.text, change, encoding);
            self.text = text;
            if let Some(touched) = touched {
                self.rests_at = touched.word.is_some().then(|| now + self.pause);
                self.touched = Some(touched);
            }
        }
        // A change inside of one line, which is nearly every key, moves nothing.
        if changes.len() != 1
            || before.lines() != self.text.lines()
            || changes[0].span.is_none_or(|span| !span.in_a_line())
        {
            self.follow(&before);
        }
        if let Some(touched) = &self.touched
            && let Ok(mut steady) = self.steady.lock()
        {
            steady.touch(&touched.lines(&self.text));
        }
    }

    /// Has what is known of lines go where the lines went.
    fn follow(&mut self, before: &Text) {
        let moved = Moved::between(before, &self.text);
        if moved.is_nothing() {
            return;
        }
        if let Ok(mut steady) = self.steady.lock() {
            steady.follow(&moved, &self.text);
        }
        self.said = self.said.iter().filter_map(|&(id, line)| Some((id, moved.line(line)?))).collect();
    }

    /// Has the reviewer's rules asked when the typist has paused.
    pub fn review_later(&mut self, now: Instant) {
        self.review_at = Some(now + self.pause);
        self.build_at = None;
        self.settled = false;
    }

    /// Has builds drawn as soon as there is nothing else to do.
    pub fn build(&mut self, now: Instant) {
        self.build_at = Some(now);
        self.settled = false;
    }

    /// Says once how far a look is due to go beyond every key's, if any is.
    pub fn due(&mut self, now: Instant) -> Option<Depth> {
        if self.review_at.take_if(|at| *at <= now).is_some() {
            return Some(Depth::Reviewed);
        }
        self.build_at.take_if(|at| *at <= now).map(|_| Depth::Built)
    }

    /// Takes what was last typed as meant: the document was saved.
    pub fn settle(&mut self) {
        // The rules are asked once more, and builds are drawn behind that.
        self.settled = true;
        self.review_at.get_or_insert_with(Instant::now);
        self.touched = None;
        self.rests_at = None;
    }

    /// Takes the word last touched as meant, if it has rested. Says whether it did so.
    pub fn rest(&mut self, now: Instant) -> bool {
        let rested = self.rests_at.is_some_and(|at| at <= now);
        if rested {
            self.rests_at = None;
            if let Some(touched) = &mut self.touched {
                touched.word = None;
            }
        }
        rested
    }
}

/// The text with one change applied, and what it touched (nothing, if it changed nothing).
fn applied(text: &Text, change: &Change, encoding: Encoding) -> (Text, Option<Touched>) {
    let old = text.as_str();
    let (range, new) = match change.span {
        Some(span) => {
            let range = text.range(span);
            let mut new = String::with_capacity(old.len() + change.text.len());
            new.push_str(&old[..range.start]);
            new.push_str(&change.text);
            new.push_str(&old[range.end..]);
            (range, new)
        }
        // A client that sends whole texts types in one place all the same: what differs is found from both ends.
        None => (difference(old, &change.text), change.text.clone()),
    };
    if new == old {
        return (text.clone(), None);
    }
    let caret = new.len() - (old.len() - range.end);
    let text = Text::new(new, encoding);
    let touched = Touched { word: word_at(text.as_str(), caret), entry: entry_at(&text, caret) };
    (text, Some(touched))
}

/// The bytes that a change takes away, and how many come in their place.
fn replaced(text: &Text, change: &Change) -> (Range<usize>, usize) {
    match change.span {
        Some(span) => (text.range(span), change.text.len()),
        None => {
            let gone = difference(text.as_str(), &change.text);
            let kept = text.as_str().len() - gone.len();
            (gone, change.text.len() - kept)
        }
    }
}

/// The part of `old` that is not the same in `new`, found from both ends.
fn difference(old: &str, new: &str) -> Range<usize> {
    let mut start = old.bytes().zip(new.bytes()).take_while(|(a, b)| a == b).count();
    while !old.is_char_boundary(start) || !new.is_char_boundary(start) {
        start -= 1;
    }
    let most = old.len().min(new.len()) - start;
    let mut same = old.bytes().rev().zip(new.bytes().rev()).take(most).take_while(|(a, b)| a == b).count();
    while !old.is_char_boundary(old.len() - same) || !new.is_char_boundary(new.len() - same) {
        same -= 1;
    }
    start..old.len() - same
}

/// The word that the caret stands in or behind. A blank behind a bare figure ends nothing yet: its unit may be to come.
fn word_at(text: &str, caret: usize) -> Option<Range<usize>> {
    let inside =
        |c: char| !(c.is_whitespace() || matches!(c, ',' | ';' | ':' | '(' | ')' | '"' | '#' | '|' | '=' | '<' | '>'));
    let before: usize = text[..caret].chars().rev().take_while(|&c| inside(c)).map(char::len_utf8).sum();
    let after: usize = text[caret..].chars().take_while(|&c| inside(c)).map(char::len_utf8).sum();
    if before > 0 {
        return Some(caret - before..caret + after);
    }
    let written = text[..caret].trim_end_matches([' ', '\t', '\u{a0}']);
    let word: usize = written.chars().rev().take_while(|&c| inside(c)).map(char::len_utf8).sum();
    let start = written.len() - word;
    (after == 0 && written.len() < caret && is_figure(&written[start..])).then_some(start..caret)
}

/// Whether a word is a figure without a prefix or a unit: `15`, `-1.5`, `2e-9`.
fn is_figure(word: &str) -> bool {
    word.trim_start_matches(['+', '-', '−']).starts_with(|c: char| c.is_ascii_digit())
        && word.ends_with(|c: char| c.is_ascii_digit())
        && word.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | 'e' | '+' | '-' | '−'))
}

/// The lines of the entry at the caret: a line that begins with `--`, `||` or `,` continues the one above, comment lines between
/// included. A blank line right below an entry is still that entry's, which it may go on: another one is begun by its first word.
fn entry_at(text: &Text, caret: usize) -> Range<usize> {
    let line = |i: u32| text.as_str()[text.line(i)].trim_start();
    // `-` alone is on the way to `--`.
    let continues = |i: u32| {
        ["--", "||", ","].iter().any(|mark| line(i).starts_with(mark)) || matches!(line(i).trim_end(), "-" | "|")
    };
    let comment = |i: u32| line(i).starts_with('#');
    let mut first = text.line_of(caret);
    let last_line = text.lines() as u32 - 1;
    let mut last = first;
    if first > 0 && line(first).is_empty() && !line(first - 1).is_empty() {
        first -= 1;
    }
    while first > 0 && (continues(first) || comment(first)) {
        first -= 1;
    }
    loop {
        let mut next = last + 1;
        while next < last_line && comment(next) {
            next += 1;
        }
        if next > last_line || !continues(next) {
            break;
        }
        last = next;
    }
    text.line(first).start..text.line(last).end
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::serve::position::Position;
    use proptest::prelude::*;

    fn open(text: &str) -> Document {
        Document::new("untitled:carillon", 1, text.to_string(), Encoding::Utf16, UNDER_WAY)
    }

    fn span(a: (u32, u32), b: (u32, u32)) -> Option<Span> {
        let at = |(line, character)| Position { line, character };
        Some(Span { start: at(a), end: at(b) })
    }

    fn change(document: &mut Document, span: Option<Span>, text: &str) {
        let changes = [Change { span, text: text.to_string() }];
        document.apply(document.version + 1, &changes, Encoding::Utf16, Instant::now());
    }

    fn word(document: &Document) -> Option<&str> {
        let range = document.touched.as_ref()?.word.clone()?;
        Some(&document.text.as_str()[range])
    }

    #[test]
    fn the_word_at_the_caret_is_under_way_until_a_blank() {
        let mut document = open("stage bell: in -> out\n  in -- R1 1 -- out\n");
        change(&mut document, span((1, 12), (1, 12)), "0k");
        assert_eq!(word(&document), Some("10k"));
        change(&mut document, span((1, 14), (1, 14)), " ");
        assert_eq!(word(&document), None);
        assert_eq!(document.rests_at, None);
    }

    #[test]
    fn a_figure_is_under_way_behind_a_blank_until_its_unit_is_there() {
        let mut document = open("let\n  f_low = 1\n");
        change(&mut document, span((1, 11), (1, 11)), "5");
        change(&mut document, span((1, 12), (1, 12)), " ");
        assert_eq!(word(&document), Some("15 "));
        assert!(document.rests_at.is_some());
        change(&mut document, span((1, 13), (1, 13)), "H");
        assert_eq!(word(&document), Some("H"));
        // What follows already is no unit that is to come.
        let mut document = open("stage bell: in -> out\n  in -- R1 1-- out\n");
        change(&mut document, span((1, 12), (1, 12)), " ");
        assert_eq!(word(&document), None);
    }

    #[test]
    fn a_whole_new_text_touches_only_what_differs() {
        let mut document = open("a\n  in -- R1 10k -- out\nb\n");
        change(&mut document, None, "a\n  in -- R1 12k -- out\nb\n");
        assert_eq!(word(&document), Some("12k"));
        change(&mut document, None, "a\n  in -- R1 12k -- out\nb\n");
        assert_eq!(word(&document), Some("12k"));
    }

    #[test]
    fn an_entry_reaches_over_the_lines_that_continue_it() {
        let text =
            "stage bell: in -> out\n  in -- R1 10k\n  # the damper\n     -- C1 1n -- out\n  out -- R2 1M -- gnd\n";
        for line in [1, 3] {
            let mut document = open(text);
            change(&mut document, span((line, 99), (line, 99)), " ");
            let entry = document.touched.unwrap().entry;
            assert!(document.text.as_str()[entry.clone()].starts_with("  in"), "line {line}");
            assert!(document.text.as_str()[entry].contains("-- C1 1n -- out"), "line {line}");
        }
    }

    #[test]
    fn a_word_rests_after_its_time_and_only_once() {
        let mut document = open("  in -- R1 1");
        change(&mut document, span((0, 12), (0, 12)), "0");
        let soon = Instant::now();
        assert!(!document.rest(soon));
        let later = soon + 2 * UNDER_WAY;
        assert!(document.rest(later));
        assert_eq!(word(&document), None);
        assert!(!document.rest(later));
    }

    fn texts() -> impl Strategy<Value = String> {
        let piece = prop_oneof![
            Just("\n"),
            Just("\r\n"),
            Just("Ω"),
            Just("🎚"),
            Just("--"),
            Just(" "),
            Just("R1"),
            Just("10k"),
            Just("#")
        ];
        proptest::collection::vec(piece, 0..20).prop_map(|pieces| pieces.concat())
    }

    proptest! {
        /// Any batch gives the text that plain replacement in a string of sixteen-bit units gives, which is how most editors keep theirs.
        #[test]
        fn a_batch_of_changes_gives_the_editors_text(
            text in texts(),
            edits in proptest::collection::vec((0usize..60, 0usize..8, texts()), 0..6),
        ) {
            let mut document = open(&text);
            let mut wide: Vec<u16> = text.encode_utf16().collect();
            let mut changes = Vec::new();
            for (start, length, new) in edits {
                let now = String::from_utf16(&wide).unwrap();
                let read = Text::new(now.clone(), Encoding::Utf16);
                let byte = |unit: usize| {
                    let mut seen = 0;
                    now.char_indices().find(|(_, c)| { seen += c.len_utf16(); seen > unit }).map_or(now.len(), |(i, _)| i)
                };
                // Both ends as an editor would name them: whole characters, never between the CR and the LF of one line end.
                let ends = [byte(start), byte(start + length)].map(|b| read.offset(read.position(b)));
                let units = |b: usize| now[..b].encode_utf16().count();
                wide.splice(units(ends[0])..units(ends[1]), new.encode_utf16());
                changes.push(Change { span: Some(read.span(&(ends[0]..ends[1]))), text: new });
            }
            document.apply(2, &changes, Encoding::Utf16, Instant::now());
            prop_assert_eq!(document.text.as_str(), String::from_utf16(&wide).unwrap());
        }

        #[test]
        fn what_differs_is_replaced_to_the_new_text(old in texts(), new in texts()) {
            let range = difference(&old, &new);
            let middle = &new[range.start..new.len() - (old.len() - range.end)];
            let mut mended = old.clone();
            mended.replace_range(range, middle);
            prop_assert_eq!(mended, new);
        }
    }
}
