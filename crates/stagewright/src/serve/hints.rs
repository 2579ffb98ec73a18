//! Inlay hints, kept steady while the text has no figure for the moment.

use std::collections::{HashMap, HashSet};
use std::ops::Range;
use std::time::Instant;

use serde::Serialize;
use workbench::{Hint, Mark};

use super::bench::View;
use super::outbox::json;
use super::position::{Position, Span};
use super::work::{Context, Feature};

/// Stands behind a figure that is not of the text as it is now.
pub const NOT_OF_NOW: &str = " …";

/// The figures that the client last saw.
#[derive(Debug, Default)]
pub struct Steady {
    last: HashMap<String, Last>,
    /// The newest version that had figures.
    finished: i32,
    /// Some figure that was shown stands for one that the text has not got, and only for a moment.
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

impl Steady {
    /// Moves what is remembered with the lines: from `first`, `gone` line ends went and `come` came.
    pub fn shift(&mut self, first: u32, gone: u32, come: u32) {
        if gone == come {
            return;
        }
        // What stood in a line that went stays in the first: the entry that is being broken goes on there.
        for last in self.last.values_mut().filter(|last| last.line > first) {
            last.line = if last.line <= first + gone { first } else { last.line - gone + come };
        }
    }

    /// Remembers that this version has figures.
    pub fn finished(&mut self, version: i32) {
        self.finished = self.finished.max(version);
    }

    /// Whether a figure was kept only until the word under way has rested; forgets it.
    pub fn take_held(&mut self) -> bool {
        std::mem::take(&mut self.held)
    }

    fn remember(&mut self, hint: &Hint, line: u32, version: i32) {
        if self.last.get(&hint.key).is_some_and(|last| last.version > version) {
            return;
        }
        let last = Last { label: hint.label.clone(), tooltip: hint.tooltip.clone(), mark: hint.mark, version, line };
        self.last.insert(hint.key.clone(), last);
    }
}

/// What an editor shows.
#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
struct Shown {
    position: Position,
    label: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    tooltip: Option<String>,
    padding_left: bool,
}

/// The request.
#[derive(Debug)]
pub struct Hints {
    /// The document.
    pub uri: String,
    /// What the editor shows of it.
    pub span: Span,
}

/// The answer, written as JSON: an answer of thousands of hints is not built as a tree first.
#[derive(Debug)]
pub struct Written(pub Vec<u8>);

impl Default for Written {
    fn default() -> Self {
        Self(b"[]".to_vec())
    }
}

impl Feature for Hints {
    type Answer = Written;
    const METHOD: &'static str = "textDocument/inlayHint";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn describe(&self) -> String {
        format!("{self:?}")
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Written {
        let range = context.text.range(self.span);
        let torn = view.torn(&context.path);
        let hints = view.hints(&context.path, Some(range.clone()));
        let Ok(mut steady) = context.steady.lock() else {
            return Written::default();
        };
        let shown = match torn {
            Some(line) => torn_hints(hints, line, range, &mut steady, context),
            None => whole_hints(hints, &mut steady, context),
        };
        Written(json(&shown))
    }
}

fn shown(context: &Context, at: usize, label: String, tooltip: Option<String>) -> Shown {
    Shown { position: context.text.position(at), label, tooltip, padding_left: true }
}

/// The hints of a text that has figures. Where the word under way takes one away for the moment, the last one stays, marked.
fn whole_hints(hints: Vec<Hint>, steady: &mut Steady, context: &Context) -> Vec<Shown> {
    steady.finished(context.version);
    let under_way = context.rests_at.is_some_and(|at| Instant::now() < at);
    let mut out = Vec::with_capacity(hints.len());
    for hint in hints {
        let last = steady.last.get(&hint.key).filter(|last| last.mark != Mark::Unknown);
        match last {
            Some(last) if under_way && hint.mark == Mark::Unknown => {
                let why = format!("The last figure; just now: {}.", hint.label);
                out.push(shown(context, hint.at, last.label.clone() + NOT_OF_NOW, Some(why)));
                steady.held = true;
            }
            _ => {
                steady.remember(&hint, context.text.line_of(hint.at), context.version);
                out.push(shown(context, hint.at, hint.label, hint.tooltip));
            }
        }
    }
    out
}

/// The hints of a text that has no figures, because a line is unfinished: the last ones stay, marked, the unfinished line's own included.
fn torn_hints(hints: Vec<Hint>, line: u32, range: Range<usize>, steady: &mut Steady, context: &Context) -> Vec<Shown> {
    let stale = |last: &Last| {
        let when = if last.version == steady.finished { "the last finished text" } else { "an earlier text" };
        let mut tooltip = format!("As of {when}; line {} is unfinished.", line + 1);
        if let Some(more) = &last.tooltip {
            tooltip.push('\n');
            tooltip.push_str(more);
        }
        (last.label.clone() + NOT_OF_NOW, Some(tooltip))
    };
    let mut out = Vec::with_capacity(hints.len());
    for hint in &hints {
        let (label, tooltip) = match steady.last.get(&hint.key) {
            Some(last) if hint.mark == Mark::Unknown => stale(last),
            _ => (hint.label.clone(), hint.tooltip.clone()),
        };
        out.push(shown(context, hint.at, label, tooltip));
    }
    let end = end_of_entry(&context.text.as_str()[context.text.line(line)]) + context.text.line(line).start;
    if range.start <= end && end <= range.end {
        let there: HashSet<&str> = hints.iter().map(|hint| hint.key.as_str()).collect();
        let mut gone: Vec<_> =
            steady.last.iter().filter(|(key, last)| last.line == line && !there.contains(key.as_str())).collect();
        gone.sort_by_key(|(key, _)| *key);
        for (_, last) in gone {
            let (label, tooltip) = stale(last);
            out.push(shown(context, end, label, tooltip));
        }
    }
    out
}

/// Where the entry's text ends in a line: in front of the comment and of the blanks before it.
fn end_of_entry(line: &str) -> usize {
    let mut quoted = false;
    let comment = line.char_indices().find(|&(_, c)| {
        quoted ^= c == '"';
        c == '#' && !quoted
    });
    line[..comment.map_or(line.len(), |(at, _)| at)].trim_end().len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_ends_before_its_comment() {
        for (line, end) in [("  a -- R1 1k # way home", 12), ("  C1 \"47#63\"  ", 12), ("", 0), ("# all", 0)] {
            assert_eq!(end_of_entry(line), end, "{line}");
        }
    }

    #[test]
    fn what_is_remembered_moves_with_its_line() {
        let mut steady = Steady::default();
        let hint = |key: &str| Hint {
            key: key.into(),
            at: 0,
            line: 0,
            label: "7.2 Hz".into(),
            kind: workbench::HintKind::Part,
            mark: Mark::Exact,
            tooltip: None,
        };
        for (key, line) in [("above", 2), ("at", 3), ("below", 7)] {
            steady.remember(&hint(key), line, 1);
        }
        steady.shift(3, 0, 2);
        let line = |steady: &Steady, key: &str| steady.last[key].line;
        assert_eq!([line(&steady, "above"), line(&steady, "at"), line(&steady, "below")], [2, 3, 9]);
        steady.shift(2, 4, 0);
        assert_eq!([line(&steady, "above"), line(&steady, "at"), line(&steady, "below")], [2, 2, 5]);
    }
}
