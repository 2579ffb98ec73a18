//! Inlay hints. What is seen only by who looks closer, the working and the places that a label leads to, is left until then where the
//! client can ask for it.

use std::time::Instant;

use serde::{Deserialize, Serialize};
use workbench::{Hint, Mark, named_parts};

use super::bench::View;
use super::outbox::json;
use super::position::{Position, Span};
use super::steady::{At, Edited, Label, Place};
use super::work::{Context, Feature};

/// What an editor shows.
#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
struct Shown {
    position: Position,
    label: Said,
    #[serde(skip_serializing_if = "Option::is_none")]
    tooltip: Option<String>,
    padding_left: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    data: Option<Data>,
}

/// A label, whole or in parts, of which some lead to what they name.
#[derive(Debug, Serialize)]
#[serde(untagged)]
enum Said {
    Whole(String),
    Parts(Vec<Part>),
}

#[derive(Debug, Serialize)]
struct Part {
    value: String,
}

/// How a hint is found again.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Data {
    /// The document.
    pub uri: String,
    /// The hint's key.
    pub key: String,
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
    fn compute<V: View>(&self, view: &V, context: &Context) -> Written {
        let text = &context.text;
        let range = text.range(self.span);
        let lines = text.line_of(range.start)..text.line_of(range.end) + 1;
        let unfinished = view.unfinished(&context.path);
        // Statements that take long come later: with the problems, after which the client is asked to fetch its hints again.
        let mut late = context.abilities.refresh_hints && {
            let waits = context.steady.lock().map(|s| (s.has_read(context.generation), s.reads_slowly()));
            waits.is_ok_and(|(read, slowly)| !read && (slowly || view.takes_long(&context.path)))
        };
        let wanted = |mut hints: Vec<Hint>| {
            hints.retain(|hint| !context.settings.without.contains(&hint.kind));
            hints
        };
        let all = || wanted(view.hints(&context.path, Some(range.clone())));
        let mut hints = if late { wanted(view.quick_hints(&context.path, Some(range.clone()))) } else { all() };
        let Ok(mut steady) = context.steady.lock() else {
            return Written::default();
        };
        if late && steady.has_read(context.generation) {
            // They have come in the meantime: nobody would be told to fetch them.
            drop(steady);
            (late, hints) = (false, all());
            steady = match context.steady.lock() {
                Ok(steady) => steady,
                Err(_) => return Written::default(),
            };
        }
        // Asked for under the lock: whoever looks whether something was held does so under it too, and later.
        let resting = context.rests_at.is_none_or(|at| Instant::now() >= at);
        let unfinished = steady.edited(unfinished, context.touched_lines());
        // Whether a word under way may have taken a figure away: where every hint says something, nothing is kept.
        let under_way = !resting && (lacks(&hints) || (!late && steady.misses(&hints, &lines)));
        let place = |at| {
            let line = text.line_of(at);
            Place { line, column: at - text.line(line).start }
        };
        let labels = steady.labels(hints, lines, &Edited { unfinished, under_way, late }, context.version, place);
        drop(steady);
        let shown: Vec<_> = labels.into_iter().map(|label| shown(context, label)).collect();
        Written(json(&shown))
    }
}

/// Whether some figure is not known.
fn lacks(hints: &[Hint]) -> bool {
    hints.iter().any(|hint| hint.mark == Mark::Unknown)
}

fn shown(context: &Context, label: Label) -> Shown {
    let at = match label.at {
        At::Byte(at) => at,
        At::Column(_) | At::End => {
            let line = context.text.line(label.line);
            let end = end_of_entry(&context.text.as_str()[line.clone()]);
            line.start + if let At::Column(column) = label.at { column.min(end) } else { end }
        }
    };
    let resolves = context.abilities.resolves_hints;
    let position = context.text.position(at);
    let Some(key) = label.key.filter(|_| resolves.tooltip || resolves.places) else {
        return Shown {
            position,
            label: Said::Whole(label.label),
            tooltip: label.tooltip,
            padding_left: true,
            data: None,
        };
    };
    let data = Some(Data { uri: context.uri.to_string(), key });
    let tooltip = label.tooltip.filter(|_| !resolves.tooltip);
    let parts = if resolves.places { named_parts(&label.label) } else { Vec::new() };
    let label = if parts.len() > 1 {
        Said::Parts(parts.into_iter().map(|(part, _)| Part { value: part.into() }).collect())
    } else {
        Said::Whole(label.label)
    };
    Shown { position, label, tooltip, padding_left: true, data }
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
}
