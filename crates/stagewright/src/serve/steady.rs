//! The figures that the client last saw, for the time that the text has none: while a line is being broken or a value is missing for a
//! moment, the labels keep still, marked as not of now.

use std::collections::{HashMap, HashSet};
use std::ops::Range;

use workbench::{Hint, Mark};

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
    mark: Mark,
    version: i32,
    line: u32,
}

/// How an edit moved the lines.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moved {
    /// The first line that it touched.
    pub first: u32,
    /// Line ends that went.
    pub gone: u32,
    /// Line ends that came.
    pub come: u32,
    /// Nothing but blanks stands in the first line in front of the edit.
    pub from_the_start: bool,
    /// Nothing but blanks stands in the last line behind it.
    pub to_the_end: bool,
}

impl Moved {
    /// Where an entry of the old text's line stands now; `None` if all of it went.
    pub fn line(&self, line: u32) -> Option<u32> {
        let (first, last) = (self.first, self.first + self.gone);
        if line < first {
            Some(line)
        } else if line > last {
            Some(line - self.gone + self.come)
        } else if line == last && !self.to_the_end {
            // What is left behind the edit goes where the edit's text ends.
            Some(first + self.come)
        } else if line == first && !(self.from_the_start && self.gone > 0) {
            Some(first)
        } else {
            None
        }
    }
}

/// Why a text has not the figures that it had.
#[derive(Clone, Copy, Debug)]
pub enum Why {
    /// This line (from 0) is unfinished.
    Unfinished(u32),
    /// A word is being typed and stands for nothing yet.
    UnderWay,
}

/// A label in its place.
#[derive(Debug, PartialEq, Eq)]
pub struct Label {
    /// Behind this byte; `None` is the end of the line's entry.
    pub at: Option<usize>,
    /// In this line, from 0.
    pub line: u32,
    /// What it says.
    pub label: String,
    /// What it says more.
    pub tooltip: Option<String>,
}

/// Whether a figure says nothing where a former one said something.
fn says_nothing(mark: Mark) -> bool {
    matches!(mark, Mark::Unknown | Mark::Undecided)
}

impl Steady {
    /// Follows an edit.
    pub fn follow(&mut self, moved: &Moved) {
        if (moved.gone, moved.come) != (0, 0) {
            self.last.retain(|_, last| moved.line(last.line).map(|line| last.line = line).is_some());
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
        line_of: impl Fn(usize) -> u32,
    ) -> Vec<Label> {
        self.finished(version);
        let there: HashSet<&str> = hints.iter().map(|hint| hint.key.as_str()).collect();
        // What is no more is forgotten, lest it come back with the next unfinished line.
        self.last
            .retain(|key, last| last.version > version || !lines.contains(&last.line) || there.contains(key.as_str()));
        drop(there);
        let label = |hint: Hint| {
            let line = line_of(hint.at);
            self.remember(&hint, line, version);
            Label { at: Some(hint.at), line, label: hint.label, tooltip: hint.tooltip }
        };
        hints.into_iter().map(label).collect()
    }

    fn remember(&mut self, hint: &Hint, line: u32, version: i32) {
        let (label, tooltip) = (&hint.label, &hint.tooltip);
        match self.last.get_mut(&hint.key) {
            Some(last) if last.version > version => {}
            Some(last) => {
                // Most labels do not change from key to key.
                if last.label != *label || last.tooltip != *tooltip {
                    (last.label, last.tooltip) = (label.clone(), tooltip.clone());
                }
                (last.mark, last.version, last.line) = (hint.mark, version, line);
            }
            None => {
                let last = Last { label: label.clone(), tooltip: tooltip.clone(), mark: hint.mark, version, line };
                self.last.insert(hint.key.clone(), last);
            }
        }
    }

    /// The labels of a text that lacks figures: the last ones stay where it has none now, in the lines of their entries.
    pub fn kept(
        &mut self,
        hints: Vec<Hint>,
        lines: Range<u32>,
        why: Why,
        version: i32,
        line_of: impl Fn(usize) -> u32,
    ) -> Vec<Label> {
        let mut out = Vec::with_capacity(hints.len());
        let mut there = HashSet::new();
        let mut speaking = HashSet::new();
        for hint in hints {
            let line = line_of(hint.at);
            let at = Some(hint.at);
            let last = self.last.get(&hint.key).filter(|last| says_nothing(hint.mark) && last.label != hint.label);
            match last.filter(|last| matches!(why, Why::Unfinished(_)) || !says_nothing(last.mark)) {
                Some(last) => out.push(self.stale(last, at, line, why)),
                None => {
                    if !says_nothing(hint.mark) {
                        self.remember(&hint, line, version);
                    }
                    out.push(Label { at, line, label: hint.label, tooltip: hint.tooltip });
                }
            }
            there.insert(hint.key);
            speaking.insert(line);
        }
        let gone = |key: &String, last: &Last| {
            lines.contains(&last.line) && !there.contains(key) && !speaking.contains(&last.line)
        };
        let mut gone: Vec<_> = self.last.iter().filter(|(key, last)| gone(key, last)).collect();
        gone.sort_by(|a, b| (a.1.line, a.0).cmp(&(b.1.line, b.0)));
        out.extend(gone.into_iter().map(|(_, last)| self.stale(last, None, last.line, why)));
        if matches!(why, Why::UnderWay) && out.iter().any(|label| label.label.ends_with(NOT_OF_NOW)) {
            self.held = true;
        }
        out
    }

    fn stale(&self, last: &Last, at: Option<usize>, line: u32, why: Why) -> Label {
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

    fn line_of(at: usize) -> u32 {
        at as u32 / 100
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
        steady.whole(hints, 0..20, 1, line_of);
        steady
    }

    #[test]
    fn what_says_nothing_now_goes_on_saying_what_it_said() {
        let mut steady = shown();
        let now = vec![
            hint("stage a", 1, "unknown: line 5 is unfinished", Mark::Unknown),
            hint("statement", 9, "not decided yet", Mark::Undecided),
        ];
        let kept = steady.kept(now, 0..20, Why::Unfinished(4), 9, line_of);
        assert_eq!(labels(&kept), [(1, "6.0 dB …"), (9, "12.0 dB holds …"), (4, "7.2 Hz with R3 …")]);
        assert_eq!(kept[2].at, None, "behind the entry, wherever that ends now");
    }

    #[test]
    fn what_still_says_something_says_it() {
        let mut steady = shown();
        let kept = steady.kept(vec![hint("stage a", 1, "9.5 dB", Mark::Exact)], 0..2, Why::UnderWay, 9, line_of);
        assert_eq!(labels(&kept), [(1, "9.5 dB")]);
        assert!(!steady.take_held());
    }

    #[test]
    fn a_line_with_a_label_gets_no_second_one() {
        let mut steady = shown();
        let kept = steady.kept(vec![hint("part C21", 4, "8 Hz", Mark::Exact)], 4..5, Why::UnderWay, 9, line_of);
        assert_eq!(labels(&kept), [(4, "8 Hz")]);
    }

    #[test]
    fn what_is_gone_for_good_does_not_come_back() {
        let mut steady = shown();
        steady.whole(vec![hint("stage a", 1, "6.0 dB", Mark::Exact)], 0..20, 2, line_of);
        assert_eq!(labels(&steady.kept(Vec::new(), 0..20, Why::Unfinished(7), 9, line_of)), [(1, "6.0 dB …")]);
    }

    #[test]
    fn only_the_lines_asked_for_are_answered_and_forgotten() {
        let mut steady = shown();
        steady.whole(Vec::new(), 4..5, 2, line_of);
        let kept = steady.kept(Vec::new(), 0..5, Why::Unfinished(7), 9, line_of);
        assert_eq!(labels(&kept), [(1, "6.0 dB …")]);
    }

    #[test]
    fn entries_move_with_their_lines() {
        let moved =
            |first, gone, come, from_the_start, to_the_end| Moved { first, gone, come, from_the_start, to_the_end };
        let lines = |moved: Moved| [2, 3, 4, 5, 6].map(|line| moved.line(line));
        // Enter at the end of line 3, and at its start.
        assert_eq!(lines(moved(3, 0, 1, false, true)), [Some(2), Some(3), Some(5), Some(6), Some(7)]);
        assert_eq!(lines(moved(3, 0, 1, true, false)), [Some(2), Some(4), Some(5), Some(6), Some(7)]);
        // Line 3 is cut with its end; lines 3 and 4 are.
        assert_eq!(lines(moved(3, 1, 0, true, false)), [Some(2), None, Some(3), Some(4), Some(5)]);
        assert_eq!(lines(moved(3, 2, 0, true, false)), [Some(2), None, None, Some(3), Some(4)]);
        // The tail of line 3 up to the end of line 5 is typed over.
        assert_eq!(lines(moved(3, 2, 0, false, true)), [Some(2), Some(3), None, None, Some(4)]);
    }
}
