//! The figures that the client last saw, for the time that the text has none: while a line is being broken or a value is missing for a
//! moment, the labels keep still, marked as not of now.

use std::collections::{HashMap, HashSet};
use std::ops::Range;

use workbench::{Hint, Mark};

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
}

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

/// Why a text has not the figures that it had.
#[derive(Clone, Copy, Debug)]
pub enum Why {
    /// This line (from 0) is unfinished.
    Unfinished(u32),
    /// A word is being typed and stands for nothing yet.
    UnderWay,
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

impl Steady {
    /// Follows an edit to the text that it left. What stood in a line that is no more goes where its name stands now.
    pub fn follow(&mut self, moved: &Moved, new: &Text) {
        for (key, last) in &mut self.last {
            last.line = match last.line {
                Some(line) if moved.stayed(line) => moved.line(line),
                line => moved.named(key, new).or_else(|| moved.line(line?)),
            };
        }
    }

    /// Learns that this version has figures.
    pub fn finished(&mut self, version: i32) {
        self.finished = self.finished.max(version);
    }

    /// Whether a figure was kept only until the word under way has rested; forgets it.
    pub fn take_held(&mut self) -> bool {
        std::mem::take(&mut self.held)
    }

    /// The labels of a text that has its figures, which are remembered. `lines` are those that were asked for.
    pub fn whole(
        &mut self,
        hints: Vec<Hint>,
        lines: Range<u32>,
        version: i32,
        place: impl Fn(usize) -> Place,
    ) -> Vec<Label> {
        self.finished(version);
        let there: HashSet<&str> = hints.iter().map(|hint| hint.key.as_str()).collect();
        // What is no more is forgotten, lest it come back with the next unfinished line.
        let asked = |last: &Last| last.line.is_none_or(|line| lines.contains(&line));
        self.last.retain(|key, last| last.version > version || !asked(last) || there.contains(key.as_str()));
        drop(there);
        let label = |hint: Hint| {
            let place = place(hint.at);
            self.remember(&hint, place, version);
            Label { at: At::Byte(hint.at), line: place.line, label: hint.label, tooltip: hint.tooltip }
        };
        hints.into_iter().map(label).collect()
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

    /// The labels of a text that lacks figures: the last ones stay where it has none now, in the lines of their entries.
    pub fn kept(
        &mut self,
        hints: Vec<Hint>,
        lines: Range<u32>,
        why: Why,
        version: i32,
        place: impl Fn(usize) -> Place,
    ) -> Vec<Label> {
        let mut out = Vec::with_capacity(hints.len());
        let there: HashSet<String> = hints.iter().map(|hint| hint.key.clone()).collect();
        // What was in a line under a key that is there no more: a statement whose words are being changed.
        let mut renamed = HashMap::new();
        for (key, last) in &self.last {
            if let Some(line) = last.line.filter(|_| !there.contains(key)) {
                renamed.insert((line, kind_of(key).to_string()), key.clone());
            }
        }
        let mut speaking = HashSet::new();
        for hint in hints {
            let place = place(hint.at);
            speaking.insert(place.line);
            if is_figure(&hint) {
                self.remember(&hint, place, version);
            } else if let Some(last) = self
                .last
                .get(&hint.key)
                .or_else(|| self.last.get(renamed.get(&(place.line, kind_of(&hint.key).into()))?))
            {
                out.push(self.stale(last, At::Byte(hint.at), place.line, why));
                continue;
            }
            out.push(Label { at: At::Byte(hint.at), line: place.line, label: hint.label, tooltip: hint.tooltip });
        }
        let mut gone: Vec<(u32, &String, &Last)> = self
            .last
            .iter()
            .filter(|(key, _)| !there.contains(*key))
            .filter_map(|(key, last)| Some((last.line?, key, last)))
            .filter(|(line, ..)| lines.contains(line) && !speaking.contains(line))
            .collect();
        gone.sort_by_key(|&(line, key, last)| (line, last.column, key));
        let torn = |line| matches!(why, Why::Unfinished(torn) if torn == line);
        out.extend(gone.into_iter().map(|(line, _, last)| {
            let at = if torn(line) { At::End } else { At::Column(last.column) };
            self.stale(last, at, line, why)
        }));
        if matches!(why, Why::UnderWay) && out.iter().any(|label| label.label.ends_with(NOT_OF_NOW)) {
            self.held = true;
        }
        out
    }

    fn stale(&self, last: &Last, at: At, line: u32, why: Why) -> Label {
        let when = if last.version == self.finished { "the last finished text" } else { "an earlier text" };
        let mut tooltip = match why {
            Why::Unfinished(line) => format!("As of {when}; line {} is unfinished.", line + 1),
            Why::UnderWay => "As of the text before the word that is being typed.".to_string(),
        };
        if let Some(more) = &last.tooltip {
            tooltip.push('\n');
            tooltip.push_str(more);
        }
        Label { at, line, label: last.label.clone() + NOT_OF_NOW, tooltip: Some(tooltip) }
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

    fn shown() -> Steady {
        let mut steady = Steady::default();
        let hints = vec![
            hint("stage a", 1, "6.0 dB", Mark::Exact),
            hint("part C2", 4, "7.2 Hz with R3", Mark::Exact),
            hint("statement", 9, "12.0 dB holds", Mark::Exact),
        ];
        steady.whole(hints, 0..20, 1, place);
        steady
    }

    #[test]
    fn what_says_nothing_now_goes_on_saying_what_it_said() {
        let mut steady = shown();
        let now = vec![
            hint("stage a", 1, "unknown: line 5 is unfinished", Mark::Unknown),
            hint("statement", 9, "not decided yet", Mark::Undecided),
        ];
        let kept = steady.kept(now, 0..20, Why::Unfinished(4), 9, place);
        assert_eq!(labels(&kept), [(1, "6.0 dB …"), (9, "12.0 dB holds …"), (4, "7.2 Hz with R3 …")]);
        assert_eq!(kept[2].at, At::End, "behind the entry, wherever that ends now");
    }

    #[test]
    fn what_still_says_something_says_it() {
        let mut steady = shown();
        let kept = steady.kept(vec![hint("stage a", 1, "9.5 dB", Mark::Exact)], 0..2, Why::UnderWay, 9, place);
        assert_eq!(labels(&kept), [(1, "9.5 dB")]);
        assert!(!steady.take_held());
    }

    #[test]
    fn a_line_with_a_label_gets_no_second_one() {
        let mut steady = shown();
        let kept = steady.kept(vec![hint("part C21", 4, "8 Hz", Mark::Exact)], 4..5, Why::UnderWay, 9, place);
        assert_eq!(labels(&kept), [(4, "8 Hz")]);
    }

    #[test]
    fn what_is_gone_for_good_does_not_come_back() {
        let mut steady = shown();
        steady.whole(vec![hint("stage a", 1, "6.0 dB", Mark::Exact)], 0..20, 2, place);
        assert_eq!(labels(&steady.kept(Vec::new(), 0..20, Why::Unfinished(7), 9, place)), [(1, "6.0 dB …")]);
    }

    #[test]
    fn only_the_lines_asked_for_are_answered_and_forgotten() {
        let mut steady = shown();
        steady.whole(Vec::new(), 4..5, 2, place);
        let kept = steady.kept(Vec::new(), 0..5, Why::Unfinished(7), 9, place);
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
            labels(&steady.whole(now, 0..20, 2, place)),
            [(1, "unknown: R3 has no value"), (9, "not decided yet")],
            "a finished text says what it has"
        );
        let now = vec![
            hint("stage a", 1, "unknown: line 5 is unfinished", Mark::Unknown),
            hint("statement", 9, "not decided yet", Mark::Undecided),
        ];
        let kept = steady.kept(now, 0..20, Why::Unfinished(4), 9, place);
        assert_eq!(labels(&kept), [(1, "6.0 dB …"), (9, "12.0 dB holds …")]);
        assert!(kept[0].tooltip.as_ref().unwrap().starts_with("As of an earlier text"));
    }

    #[test]
    fn what_was_never_known_stays_unknown() {
        let mut steady = Steady::default();
        let unknown = || vec![hint("stage a", 1, "unknown: R3 has no value", Mark::Unknown)];
        steady.whole(unknown(), 0..20, 1, place);
        let now = vec![hint("stage a", 1, "unknown: line 5 is unfinished", Mark::Unknown)];
        assert_eq!(
            labels(&steady.kept(now, 0..20, Why::Unfinished(4), 2, place)),
            [(1, "unknown: line 5 is unfinished")]
        );
    }

    #[test]
    fn a_reading_that_is_not_judged_yet_is_a_figure_all_the_same() {
        let mut steady = Steady::default();
        steady.whole(vec![hint("require a", 3, "12.0 dB · not decided yet", Mark::Undecided)], 0..9, 1, place);
        let now = vec![hint("require a = 3", 3, "not decided yet", Mark::Undecided)];
        let kept = steady.kept(now, 0..9, Why::Unfinished(5), 2, place);
        assert_eq!(labels(&kept), [(3, "12.0 dB · not decided yet …")], "though the statement goes by other words now");
    }

    #[test]
    fn a_label_keeps_its_column_in_a_line_that_nobody_touches() {
        let mut steady = Steady::default();
        let mut behind_c2 = hint("part C2", 4, "7.2 Hz", Mark::Exact);
        behind_c2.at += 17;
        steady.whole(vec![behind_c2], 0..9, 1, place);
        assert_eq!(steady.kept(Vec::new(), 0..9, Why::Unfinished(7), 2, place)[0].at, At::Column(17));
        assert_eq!(steady.kept(Vec::new(), 0..9, Why::Unfinished(4), 2, place)[0].at, At::End);
    }

    #[test]
    fn figures_follow_their_lines_and_their_names() {
        let text = |text: &str| Text::new(text, crate::serve::position::Encoding::Utf8);
        let old = text("design\nstage a: in -> out\n  x\n  y\n  in -- C2 1u -- gnd\n");
        let new = text("# new\nstage a : in -> b\nlet\n  k = 1\n  other -- C2 22u --\n  x\n");
        let mut steady = shown();
        steady.follow(&Moved::between(&old, &new), &new);
        let kept = steady.kept(Vec::new(), 0..20, Why::Unfinished(4), 9, place);
        assert_eq!(labels(&kept)[..2], [(1, "6.0 dB …"), (4, "7.2 Hz with R3 …")]);
    }
}
