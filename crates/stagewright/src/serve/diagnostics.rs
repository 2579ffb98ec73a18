//! Diagnostics: what the workbench has to say about a document, written for the client.

use std::ops::Range;
use std::time::Instant;

use crossbeam_channel::Sender;
use serde::Serialize;
use workbench::{Problem, Severity};

use super::bench::View;
use super::outbox::json;
use super::owner::Event;
use super::position::Span;
use super::schedule::{Line, line_of};
use super::work::{Context, Refusal, Work};

/// The name under which they are published.
pub const SOURCE: &str = "stagewright";

/// The method, as the scheduling table has it.
pub const METHOD: &str = "textDocument/publishDiagnostics";

/// A diagnostic as the protocol has it.
#[derive(Debug, Serialize)]
pub struct Diagnostic<'a> {
    /// Where.
    pub range: Span,
    /// 1 error, 2 warning, 3 information, 4 hint.
    pub severity: u8,
    /// The problem's stable name.
    pub code: &'static str,
    /// Who says it.
    pub source: &'static str,
    /// What to say.
    pub message: &'a str,
    /// The ways out, for a client that wants to offer them itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub data: Option<Data<'a>>,
}

/// What stands in a diagnostic's `data`.
#[derive(Debug, Serialize)]
pub struct Data<'a> {
    /// The preferred first.
    pub fixes: Vec<FixData<'a>>,
}

/// A way out.
#[derive(Debug, Serialize)]
pub struct FixData<'a> {
    /// What it does.
    pub title: &'a str,
    /// How.
    pub edits: Vec<EditData<'a>>,
}

/// A replacement.
#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
pub struct EditData<'a> {
    /// What goes.
    pub range: Span,
    /// What comes.
    pub new_text: &'a str,
}

/// A problem as the protocol has it. One about something missing at the end of the entry that is being typed is faint.
pub fn diagnostic<'a>(problem: &'a Problem, context: &Context) -> Diagnostic<'a> {
    let faint = is_begun(problem, context);
    let fixes = |problem: &'a Problem| Data {
        fixes: problem
            .fixes
            .iter()
            .map(|fix| FixData {
                title: &fix.title,
                edits: fix
                    .edits
                    .iter()
                    .map(|edit| EditData { range: context.text.span(&edit.range), new_text: &edit.text })
                    .collect(),
            })
            .collect(),
    };
    Diagnostic {
        range: context.text.span(&problem.range),
        severity: match problem.severity {
            _ if faint => 4,
            Severity::Error => 1,
            Severity::Warning => 2,
            Severity::Note => 3,
        },
        code: problem.id,
        source: SOURCE,
        message: &problem.message,
        data: (!problem.fixes.is_empty()).then(|| fixes(problem)),
    }
}

/// Whether the problem is that something is missing at the end of the entry that is being typed.
fn is_begun(problem: &Problem, context: &Context) -> bool {
    problem.unfinished && context.touched.as_ref().is_some_and(|touched| touches(&problem.range, &touched.entry))
}

/// Whether two ranges have a byte or an end in common.
pub fn touches(a: &Range<usize>, b: &Range<usize>) -> bool {
    a.start <= b.end && b.start <= a.end
}

/// What was found out about a document.
#[derive(Debug)]
pub struct Checked {
    /// The document.
    pub uri: String,
    /// Of which version.
    pub version: i32,
    /// The list, written as JSON.
    pub list: Vec<u8>,
    /// What it says in which line.
    pub said: Vec<(&'static str, u32)>,
    /// What the reviewer's rules found, if they were asked.
    pub reviewed: Option<Vec<Problem>>,
    /// The version of the review whose findings are in the list.
    pub reviewed_in: i32,
    /// Some message waits until the word that is being typed has rested.
    pub held: bool,
}

/// The work of finding out. Nobody asked for it: an edit starts it.
pub struct Check<V: View> {
    uri: String,
    /// The reviewer's rules are asked too.
    deep: bool,
    owner: Sender<Event<V>>,
    found: Option<Checked>,
}

impl<V: View> Check<V> {
    /// A check of a document, which tells the owner what it found. A `deep` one asks the reviewer's rules too.
    pub fn new(uri: &str, deep: bool, owner: Sender<Event<V>>) -> Self {
        Self { uri: uri.to_string(), deep, owner, found: None }
    }
}

impl<V: View> Work<V> for Check<V> {
    fn line(&self) -> Line {
        line_of(METHOD)
    }
    fn uri(&self) -> &str {
        &self.uri
    }
    fn describe(&self) -> String {
        format!("of {}", self.uri)
    }
    fn cancelled(&self) -> bool {
        false
    }
    fn run(&mut self, view: &V, context: &Context) {
        let unfinished = view.unfinished(&context.path);
        let whole = unfinished.iter().all(|u| u.alone);
        if let Ok(mut steady) = context.steady.lock()
            && steady.edited(unfinished, context.touched_lines()).iter().all(|u| u.alone)
        {
            steady.finished(context.version);
        }
        let began = Instant::now();
        let problems = if self.deep { view.reviewed(&context.path) } else { view.problems(&context.path) };
        if let Ok(mut steady) = context.steady.lock()
            && !self.deep
        {
            steady.read(context.generation, began.elapsed(), whole);
        }
        let under_way = context.rests_at.is_some_and(|at| Instant::now() < at);
        let touched = context.touched.as_ref().filter(|_| under_way);
        let touched = touched.and_then(|touched| Some((touched.word.as_ref()?, &touched.entry)));
        let place = |problem: &Problem| (problem.id, context.text.line_of(problem.range.start));
        // Of a word under way nothing new is said, neither where it stands nor of other entries, where it may have cut a node off.
        // What was said before goes on being said: a message that blinks at every key is worse than one too many.
        let waits = |problem: &Problem| {
            !problem.unfinished
                && touched.is_some_and(|(word, entry)| touches(&problem.range, word) || !touches(&problem.range, entry))
                && !context.said.contains(&place(problem))
        };
        let hidden = |problem: &Problem| context.settings.hides_unfinished && is_begun(problem, context);
        // Between two reviews what the last one said stands where it stood.
        let kept = if self.deep { &[][..] } else { &context.reviewed.problems[..] };
        let now: Vec<&Problem> = problems.iter().filter(|problem| !waits(problem)).collect();
        let held = now.len() < problems.len();
        let now = now.into_iter().chain(kept);
        let mut now: Vec<&Problem> = now.filter(|problem| !hidden(problem)).collect();
        now.sort_by_key(|problem| (problem.range.start, problem.range.end));
        let list: Vec<_> = now.iter().map(|problem| diagnostic(problem, context)).collect();
        self.found = Some(Checked {
            uri: self.uri.clone(),
            version: context.version,
            held,
            reviewed: self.deep.then(|| problems.iter().filter(|p| workbench::is_reviewed(p.id)).cloned().collect()),
            reviewed_in: if self.deep { context.version } else { context.reviewed.version },
            list: json(&list),
            // A faint mark on the way to a word has not said yet what the word may come to be told.
            said: now.iter().filter(|problem| !is_begun(problem, context)).map(|problem| place(problem)).collect(),
        });
    }
    fn deliver(self: Box<Self>) {
        if let Some(found) = self.found {
            let _ = self.owner.send(Event::Checked(found));
        }
    }
    fn refuse(self: Box<Self>, _: Refusal) {}
}
