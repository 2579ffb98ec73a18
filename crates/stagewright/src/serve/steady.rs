//! The figures that the client last saw, for the time that the text has none: while a line is being broken or a value is missing for a
//! moment, the labels keep still, marked as not of now.

use std::collections::{HashMap, HashSet};
use std::ops::Range;
use std::time::Duration;

use workbench::{Hint, Mark, Unfinished};

use super::moved::Moved;
use super::position::Text;

/// Stands behind a figure that is not of the text as it is now.
pub const NOT_OF_NOW: &str = " …";

/// The figures that the client last saw, each with the line in which its entry stands now.
#[derive(Debug, Default)]
pub struct Steady {
    last: HashMap<String, Last>,
    /// The newest version that had figures.
    finished: i32,
    /// Some figure is shown in the place of one that the text has not got, and only for a moment.
    held: bool,
    /// What was unfinished when the document was opened and has not been touched since, by file and first line: nobody is at it, and
    /// nothing is kept for its sake. `None` before anybody looked.
    from_the_start: Option<Vec<(Option<String>, u32)>>,
    /// The generation of the texts whose statements were read last.
    read: Option<u64>,
    /// Reading the statements of a text that had figures took long.
    slow: bool,
    /// Some statement is shown without its reading, which is still being worked out.
    late: bool,
}

/// Statements that took longer than this to read are not waited for at the next key.
const LONG: Duration = Duration::from_millis(100);

#[derive(Debug)]
struct Last {
    label: String,
    tooltip: Option<String>,
    version: i32,
    /// `None` while nobody knows where it went.
    line: Option<u32>,
    /// In bytes of the line.
    column: usize,
}

/// What of a text is being edited and not whole, so that figures may be missing.
#[derive(Clone, Debug, Default)]
pub struct Edited {
    /// What is unfinished.
    pub unfinished: Vec<Unfinished>,
    /// A word is being typed and may stand for nothing yet.
    pub under_way: bool,
    /// Statements are still being read.
    pub late: bool,
}

/// Why a figure may be missing.
#[derive(Clone, Copy, Debug)]
enum Why<'a> {
    Unfinished(&'a Unfinished),
    UnderWay,
    Late,
}

impl Edited {
    /// Why any figure of the circuit may be missing.
    fn everywhere(&self) -> Option<Why<'_>> {
        let unfinished = self.unfinished.iter().find(|u| !u.alone).map(Why::Unfinished);
        unfinished.or_else(|| self.under_way.then_some(Why::UnderWay))
    }

    /// Why a line's figure of some kind may be missing: its own entry first.
    fn why(&self, line: u32, kind: &str) -> Option<Why<'_>> {
        let own = self.unfinished.iter().find(|u| holds(u, line)).map(Why::Unfinished);
        own.or_else(|| self.everywhere()).or_else(|| (self.late && is_statement(kind)).then_some(Why::Late))
    }
}

/// Whether a line of the file itself is an unfinished entry's.
fn holds(unfinished: &Unfinished, line: u32) -> bool {
    unfinished.file.is_none() && unfinished.lines.contains(&line)
}

/// A byte by its line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// The line, from 0.
    pub line: u32,
    /// The byte in the line.
    pub column: usize,
}

/// Where a label stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum At {
    /// Behind this byte of the text.
    Byte(usize),
    /// Behind this byte of its line, which is as it was but for the entries that others edit; behind the line's entry, if there is no such
    /// byte.
    Column(usize),
    /// Behind the line's entry, wherever that ends now.
    End,
}

/// A label in its place.
#[derive(Debug, PartialEq, Eq)]
pub struct Label {
    /// Where it stands.
    pub at: At,
    /// In this line, from 0.
    pub line: u32,
    /// What it says.
    pub label: String,
    /// What it says more.
    pub tooltip: Option<String>,
    /// The key of the hint that it is; `None` where it is not of now.
    pub key: Option<String>,
}

/// Whether a hint tells a figure. What is unknown tells none, and what is not decided yet only where the reading stands in front.
fn is_figure(hint: &Hint) -> bool {
    match hint.mark {
        Mark::Exact | Mark::Typical | Mark::Holds | Mark::Fails => true,
        Mark::Undecided => hint.label.contains(|c: char| c.is_ascii_digit()),
        Mark::Unknown => false,
    }
}

/// What a hint is about where it stands, whatever the words of its entry: a statement goes by its text, which changes as it is edited.
fn kind_of(key: &str) -> &str {
    key.split(' ').next().unwrap_or(key)
}

/// Whether a line has one hint of that kind at most: an entry makes several parts, but states one thing.
fn is_one_a_line(kind: &str) -> bool {
    kind != "part"
}

/// Whether a hint of that kind tells a statement's reading.
fn is_statement(kind: &str) -> bool {
    matches!(kind, "require" | "formula" | "assume")
}

impl Steady {
    /// Follows an edit to the text that it left. What stood in a line that is no more goes where its name stands now.
    pub fn follow(&mut self, moved: &Moved, new: &Text) {
        for (key, last) in &mut self.last {
            last.line = match last.line {
                Some(line) if moved.stayed(line) => moved.line(line),
                line => moved.named(key, new).or_else(|| moved.line(line?)),
            };
        }
        for start in self.from_the_start.iter_mut() {
            start.retain_mut(|(file, line)| {
                let now = if file.is_some() { Some(*line) } else { moved.line(*line).filter(|_| moved.stayed(*line)) };
                *line = now.unwrap_or(*line);
                now.is_some()
            });
        }
    }

    /// Learns that the entry in these lines was touched: from now on somebody is at it.
    pub fn touch(&mut self, lines: &Range<u32>) {
        if let Some(start) = &mut self.from_the_start {
            start.retain(|(file, line)| file.is_some() || !lines.contains(line));
        }
    }

    /// Of what is unfinished, that which is being edited: it was whole before, or is new, or `touched` since the document was opened.
    pub fn edited(&mut self, mut unfinished: Vec<Unfinished>, touched: Option<Range<u32>>) -> Vec<Unfinished> {
        let key = |u: &Unfinished| (u.file.clone(), u.lines.start);
        match &mut self.from_the_start {
            Some(start) => start.retain(|(file, line)| {
                // Lines of another file move unseen; that file is whole again when nothing in it is unfinished.
                unfinished.iter().any(|u| u.file == *file && (file.is_some() || u.lines.start == *line))
            }),
            None => {
                let own =
                    |u: &&Unfinished| u.file.is_some() || touched.as_ref().is_none_or(|t| !t.contains(&u.lines.start));
                self.from_the_start = Some(unfinished.iter().filter(own).map(key).collect());
            }
        }
        let start = self.from_the_start.iter().flatten();
        let old: Vec<_> = start.collect();
        unfinished
            .retain(|u| old.iter().all(|(file, line)| *file != u.file || (file.is_none() && *line != u.lines.start)));
        unfinished
    }

    /// Learns that this version has figures.
    pub fn finished(&mut self, version: i32) {
        self.finished = self.finished.max(version);
    }

    /// Learns that the statements of this generation of the texts have been read, and how long that took. A text without figures tells
    /// nothing of how long it takes.
    pub fn read(&mut self, generation: u64, took: Duration, figures: bool) {
        // What is read a second time has been read already.
        if figures && self.read != Some(generation) {
            self.slow = took > LONG;
        }
        self.read = Some(generation);
    }

    /// Whether the statements of this generation have been read, so that they are there at once.
    pub fn has_read(&self, generation: u64) -> bool {
        self.read == Some(generation)
    }

    /// Whether statements took long to read.
    pub fn reads_slowly(&self) -> bool {
        self.slow
    }

    /// Whether some statement was shown without its reading; forgets it.
    pub fn take_late(&mut self) -> bool {
        std::mem::take(&mut self.late)
    }

    /// Whether a figure was kept only until the word under way has rested; forgets it.
    pub fn take_held(&mut self) -> bool {
        std::mem::take(&mut self.held)
    }

    /// Whether some of these lines had a figure and has no label now.
    pub fn misses(&self, hints: &[Hint], lines: &Range<u32>) -> bool {
        let there: HashSet<u32> = hints.iter().map(|hint| hint.line).collect();
        self.last.values().filter_map(|last| last.line).any(|line| lines.contains(&line) && !there.contains(&line))
    }

    /// The labels of a text. Its figures are remembered; where it has none for the sake of what is being edited, the last ones stay, in
    /// the lines of their entries. `lines` are those that were asked for.
    pub fn labels(
        &mut self,
        hints: Vec<Hint>,
        lines: Range<u32>,
        edited: &Edited,
        version: i32,
        place: impl Fn(usize) -> Place,
    ) -> Vec<Label> {
        if edited.everywhere().is_none() {
            self.finished(version);
        }
        self.late |= edited.late;
        let mut out = Vec::with_capacity(hints.len());
        let there: HashSet<String> = hints.iter().map(|hint| hint.key.clone()).collect();
        // What was in a line under a key that is there no more: a statement whose words are being changed.
        let mut renamed: HashMap<(u32, String), (i32, String)> = HashMap::new();
        for (key, last) in &self.last {
            if let Some(line) = last.line.filter(|_| !there.contains(key)) {
                let found = (last.version, key.clone());
                let newest = renamed.entry((line, kind_of(key).to_string())).or_insert_with(|| found.clone());
                *newest = found.max(std::mem::take(newest));
            }
        }
        let mut speaking = HashSet::new();
        for hint in hints {
            let place = place(hint.at);
            speaking.insert(place.line);
            let before = renamed.get(&(place.line, kind_of(&hint.key).to_string())).map(|(_, key)| key);
            if is_figure(&hint) {
                if let Some(before) = before.filter(|_| is_one_a_line(kind_of(&hint.key))) {
                    self.last.remove(before);
                }
            } else if let Some(why) = edited.why(place.line, kind_of(&hint.key))
                && let Some(last) = self.last.get(&hint.key).or_else(|| self.last.get(before?))
            {
                out.push(self.stale(last, At::Byte(hint.at), place.line, why));
                continue;
            }
            self.remember(&hint, place, version);
            let (label, tooltip, key) = (hint.label, hint.tooltip, Some(hint.key));
            out.push(Label { at: At::Byte(hint.at), line: place.line, label, tooltip, key });
        }
        // What is no more is forgotten, lest it come back with the next unfinished line.
        let why = |key: &str, last: &Last| edited.why(last.line.unwrap_or(u32::MAX), kind_of(key));
        let asked = |last: &Last| last.line.is_none_or(|line| lines.contains(&line));
        self.last.retain(|key, last| {
            last.version > version || !asked(last) || there.contains(key) || why(key, last).is_some()
        });
        let mut gone: Vec<(u32, &String, &Last)> = self
            .last
            .iter()
            .filter(|(key, _)| !there.contains(*key))
            .filter_map(|(key, last)| Some((last.line?, key, last)))
            .filter(|(line, ..)| lines.contains(line) && !speaking.contains(line))
            .collect();
        gone.sort_by_key(|&(line, key, last)| (line, last.column, key));
        // Of a line that states one thing, the newest.
        gone.retain(|(line, key, last)| {
            let kind = kind_of(key);
            let newest = renamed.get(&(*line, kind.to_string())).is_none_or(|(_, newest)| newest == *key);
            !is_one_a_line(kind) || newest || last.version > version
        });
        let torn = |line| edited.unfinished.iter().any(|u| holds(u, line));
        out.extend(gone.into_iter().filter_map(|(line, key, last)| {
            let at = if torn(line) { At::End } else { At::Column(last.column) };
            Some(self.stale(last, at, line, edited.why(line, kind_of(key))?))
        }));
        if matches!(edited.everywhere(), Some(Why::UnderWay))
            && out.iter().any(|label| label.label.ends_with(NOT_OF_NOW))
        {
            self.held = true;
        }
        out
    }

    /// Remembers a figure. A hint without one leaves the figure before it: that is the last good one.
    fn remember(&mut self, hint: &Hint, place: Place, version: i32) {
        let (label, tooltip) = (&hint.label, &hint.tooltip);
        let line = Some(place.line);
        match self.last.get_mut(&hint.key) {
            Some(last) if last.version > version => {}
            Some(last) if !is_figure(hint) => (last.line, last.column) = (line, place.column),
            Some(last) => {
                // Most labels do not change from key to key.
                if last.label != *label || last.tooltip != *tooltip {
                    (last.label, last.tooltip) = (label.clone(), tooltip.clone());
                }
                (last.version, last.line, last.column) = (version, line, place.column);
            }
            None if is_figure(hint) => {
                let (label, tooltip) = (label.clone(), tooltip.clone());
                self.last.insert(hint.key.clone(), Last { label, tooltip, version, line, column: place.column });
            }
            None => {}
        }
    }

    fn stale(&self, last: &Last, at: At, line: u32, why: Why) -> Label {
        let when = if last.version >= self.finished { "the last finished text" } else { "an earlier text" };
        let mut tooltip = match why {
            Why::Unfinished(Unfinished { lines, file: None, .. }) => {
                format!("As of {when}; line {} is unfinished.", lines.start + 1)
            }
            Why::Unfinished(Unfinished { lines, file: Some(file), .. }) => {
                format!("As of {when}; line {} of {file} is unfinished.", lines.start + 1)
            }
            Why::UnderWay => "As of the text before the word that is being typed.".to_string(),
            Why::Late => format!("As of {when}; this one is being worked out."),
        };
        if let Some(more) = &last.tooltip {
            tooltip.push('\n');
            tooltip.push_str(more);
        }
        Label { at, line, label: last.label.clone() + NOT_OF_NOW, tooltip: Some(tooltip), key: None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use workbench::HintKind;

    fn hint(key: &str, line: u32, label: &str, mark: Mark) -> Hint {
        let (key, label) = (key.to_string(), label.to_string());
        Hint { key, at: line as usize * 100, line, label, kind: HintKind::Part, mark, tooltip: None }
    }

    fn place(at: usize) -> Place {
        Place { line: at as u32 / 100, column: at % 100 }
    }

    fn labels(labels: &[Label]) -> Vec<(u32, &str)> {
        labels.iter().map(|label| (label.line, label.label.as_str())).collect()
    }

    fn whole(steady: &mut Steady, hints: Vec<Hint>, lines: Range<u32>, version: i32) -> Vec<Label> {
        steady.labels(hints, lines, &Edited::default(), version, place)
    }

    fn unfinished(line: u32, alone: bool) -> Unfinished {
        Unfinished { lines: line..line + 1, file: None, alone }
    }

    /// The labels while a line is unfinished, or else a word under way.
    fn kept(steady: &mut Steady, hints: Vec<Hint>, lines: Range<u32>, line: Option<u32>, version: i32) -> Vec<Label> {
        let unfinished = line.into_iter().map(|line| unfinished(line, false)).collect();
        steady.labels(hints, lines, &Edited { unfinished, under_way: line.is_none(), late: false }, version, place)
    }

    fn shown() -> Steady {
        let mut steady = Steady::default();
        let hints = vec![
            hint("stage a", 1, "6.0 dB", Mark::Exact),
            hint("part C2", 4, "7.2 Hz with R3", Mark::Exact),
            hint("statement", 9, "12.0 dB holds", Mark::Exact),
        ];
        whole(&mut steady, hints, 0..20, 1);
        steady
    }

    #[test]
    fn what_says_nothing_now_goes_on_saying_what_it_said() {
        let mut steady = shown();
        let now = vec![
            hint("stage a", 1, "unknown: line 5 is unfinished", Mark::Unknown),
            hint("statement", 9, "not decided yet", Mark::Undecided),
        ];
        let kept = kept(&mut steady, now, 0..20, Some(4), 9);
        assert_eq!(labels(&kept), [(1, "6.0 dB …"), (9, "12.0 dB holds …"), (4, "7.2 Hz with R3 …")]);
        assert_eq!(kept[2].at, At::End, "behind the entry, wherever that ends now");
    }

    #[test]
    fn what_was_unfinished_from_the_start_is_not_being_edited_until_it_is_touched() {
        let mut steady = Steady::default();
        let now = || vec![unfinished(4, false), unfinished(9, true)];
        assert_eq!(steady.edited(now(), Some(9..10)), [unfinished(9, true)]);
        assert_eq!(steady.edited(now(), None), [unfinished(9, true)]);
        steady.touch(&(4..6));
        assert_eq!(steady.edited(now(), None), now());
        // Once whole it was never so, however it comes to be unfinished again.
        let mut steady = Steady::default();
        assert_eq!(steady.edited(now(), None), []);
        assert_eq!(steady.edited(vec![unfinished(9, true)], None), []);
        assert_eq!(steady.edited(now(), None), [unfinished(4, false)]);
    }

    #[test]
    fn an_unfinished_statement_keeps_its_own_figure_and_no_other() {
        let mut steady = shown();
        let now = vec![
            hint("stage a", 1, "unknown: R3 has no value", Mark::Unknown),
            hint("statement of", 9, "unknown: its limit is unfinished", Mark::Unknown),
        ];
        let edited = Edited { unfinished: vec![unfinished(9, true)], ..Edited::default() };
        let shown = steady.labels(now, 0..20, &edited, 2, place);
        assert_eq!(labels(&shown), [(1, "unknown: R3 has no value"), (9, "12.0 dB holds …")]);
    }

    #[test]
    fn statements_that_come_later_show_what_they_said_and_are_asked_for_again() {
        let mut steady = Steady::default();
        let stated =
            vec![hint("require a", 9, "12.0 dB holds", Mark::Holds), hint("part C2", 4, "7.2 Hz", Mark::Exact)];
        whole(&mut steady, stated, 0..20, 1);
        let edited = Edited { late: true, ..Edited::default() };
        assert_eq!(labels(&steady.labels(Vec::new(), 0..20, &edited, 2, place)), [(9, "12.0 dB holds …")]);
        assert!(steady.take_late() && !steady.take_late());
    }

    #[test]
    fn what_still_says_something_says_it() {
        let mut steady = shown();
        let kept = kept(&mut steady, vec![hint("stage a", 1, "9.5 dB", Mark::Exact)], 0..2, None, 9);
        assert_eq!(labels(&kept), [(1, "9.5 dB")]);
        assert!(!steady.take_held());
    }

    #[test]
    fn a_line_with_a_label_gets_no_second_one() {
        let mut steady = shown();
        let kept = kept(&mut steady, vec![hint("part C21", 4, "8 Hz", Mark::Exact)], 4..5, None, 9);
        assert_eq!(labels(&kept), [(4, "8 Hz")]);
    }

    #[test]
    fn what_is_gone_for_good_does_not_come_back() {
        let mut steady = shown();
        whole(&mut steady, vec![hint("stage a", 1, "6.0 dB", Mark::Exact)], 0..20, 2);
        assert_eq!(labels(&kept(&mut steady, Vec::new(), 0..20, Some(7), 9)), [(1, "6.0 dB …")]);
    }

    #[test]
    fn only_the_lines_asked_for_are_answered_and_forgotten() {
        let mut steady = shown();
        whole(&mut steady, Vec::new(), 4..5, 2);
        let kept = kept(&mut steady, Vec::new(), 0..5, Some(7), 9);
        assert_eq!(labels(&kept), [(1, "6.0 dB …")]);
    }

    #[test]
    fn what_is_unknown_is_no_figure_to_keep() {
        let mut steady = shown();
        let now = vec![
            hint("stage a", 1, "unknown: R3 has no value", Mark::Unknown),
            hint("statement", 9, "not decided yet", Mark::Undecided),
        ];
        assert_eq!(
            labels(&whole(&mut steady, now, 0..20, 2)),
            [(1, "unknown: R3 has no value"), (9, "not decided yet")],
            "a finished text says what it has"
        );
        let now = vec![
            hint("stage a", 1, "unknown: line 5 is unfinished", Mark::Unknown),
            hint("statement", 9, "not decided yet", Mark::Undecided),
        ];
        let kept = kept(&mut steady, now, 0..20, Some(4), 9);
        assert_eq!(labels(&kept), [(1, "6.0 dB …"), (9, "12.0 dB holds …")]);
        assert!(kept[0].tooltip.as_ref().unwrap().starts_with("As of an earlier text"));
    }

    #[test]
    fn what_was_never_known_stays_unknown() {
        let mut steady = Steady::default();
        let unknown = || vec![hint("stage a", 1, "unknown: R3 has no value", Mark::Unknown)];
        whole(&mut steady, unknown(), 0..20, 1);
        let now = vec![hint("stage a", 1, "unknown: line 5 is unfinished", Mark::Unknown)];
        assert_eq!(labels(&kept(&mut steady, now, 0..20, Some(4), 2)), [(1, "unknown: line 5 is unfinished")]);
    }

    #[test]
    fn a_reading_that_is_not_judged_yet_is_a_figure_all_the_same() {
        let mut steady = Steady::default();
        whole(&mut steady, vec![hint("require a", 3, "12.0 dB · not decided yet", Mark::Undecided)], 0..9, 1);
        let now = vec![hint("require a = 3", 3, "not decided yet", Mark::Undecided)];
        let kept = kept(&mut steady, now, 0..9, Some(5), 2);
        assert_eq!(labels(&kept), [(3, "12.0 dB · not decided yet …")], "though the statement goes by other words now");
    }

    #[test]
    fn a_label_keeps_its_column_in_a_line_that_nobody_touches() {
        let mut steady = Steady::default();
        let mut behind_c2 = hint("part C2", 4, "7.2 Hz", Mark::Exact);
        behind_c2.at += 17;
        whole(&mut steady, vec![behind_c2], 0..9, 1);
        assert_eq!(kept(&mut steady, Vec::new(), 0..9, Some(7), 2)[0].at, At::Column(17));
        assert_eq!(kept(&mut steady, Vec::new(), 0..9, Some(4), 2)[0].at, At::End);
    }

    #[test]
    fn figures_follow_their_lines_and_their_names() {
        let text = |text: &str| Text::new(text, crate::serve::position::Encoding::Utf8);
        let old = text("design\nstage a: in -> out\n  x\n  y\n  in -- C2 1u -- gnd\n");
        let new = text("# new\nstage a : in -> b\nlet\n  k = 1\n  other -- C2 22u --\n  x\n");
        let mut steady = shown();
        steady.follow(&Moved::between(&old, &new), &new);
        let kept = kept(&mut steady, Vec::new(), 0..20, Some(4), 9);
        assert_eq!(labels(&kept)[..2], [(1, "6.0 dB …"), (4, "7.2 Hz with R3 …")]);
    }
}
