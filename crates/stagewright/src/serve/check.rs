//! Looking through a document: what is known at once at every key, what the reviewer's rules find when the typist pauses, and what shows
//! over the parts' tolerances after that.
//!
//! Between two such looks what the last one found stands where its text went ([`super::reviewed`]).

use std::sync::Arc;
use std::time::Instant;

use workbench::Problem;

use super::bench::View;
use super::diagnostics::{MOST_RELATED, diagnostic, is_begun, related, touches};
use super::outbox::json;
use super::progress::Progress;
use super::schedule::{Line, line_of};
use super::settings::Builds;
use super::work::{Cancel, Context, Refusal, Tell, Work};

/// The method, as the scheduling table has it.
pub const METHOD: &str = "textDocument/publishDiagnostics";

/// How far a look goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Depth {
    /// What every key is told.
    #[default]
    Typed,
    /// The reviewer's rules too.
    Reviewed,
    /// Requirements over tolerance too, which draws builds.
    Built,
}

/// What was found out about a document.
#[derive(Debug)]
pub struct Checked {
    /// The document.
    pub uri: String,
    /// Of which version.
    pub version: i32,
    /// How far the look went.
    pub depth: Depth,
    /// The list, written as JSON.
    pub list: Vec<u8>,
    /// What it says in which line.
    pub said: Vec<(&'static str, u32)>,
    /// What a look that goes further than every key's found in addition.
    pub found: Option<Found>,
    /// Of which such look the findings are that the list has.
    pub reviewed_in: (i32, Depth),
    /// Some message waits until the word that is being typed has rested.
    pub held: bool,
}

/// What a look found that went further than every key's.
#[derive(Debug)]
pub struct Found {
    /// What the reviewer's rules say.
    pub review: Vec<Problem>,
    /// What shows over tolerance only; `None` if nothing was looked at over tolerance.
    pub built: Option<Vec<Problem>>,
}

impl Found {
    fn by<V: View>(view: &V, context: &Context, depth: Depth, typed: &[Problem]) -> Option<Self> {
        let path = &context.path;
        let reviewed = (depth > Depth::Typed).then(|| view.reviewed(path))?;
        let built = match depth {
            Depth::Built => Some(beyond(&reviewed, &view.built(path))),
            // Nothing is to be looked at any more.
            _ if context.settings.builds == Builds::Never || !view.states_tolerances(path) => Some(Vec::new()),
            _ => None,
        };
        Some(Self { review: beyond(typed, &reviewed), built })
    }
}

/// What is in a longer list of problems that a shorter one has not got. Both are in the order of their places.
fn beyond(less: &[Problem], more: &[Problem]) -> Vec<Problem> {
    let in_less = |problem: &Problem| {
        let from = less.partition_point(|p| p.range.start < problem.range.start);
        less[from..].iter().take_while(|p| p.range.start == problem.range.start).any(|p| p == problem)
    };
    more.iter().filter(|problem| !in_less(problem)).cloned().collect()
}

/// Looks through a document.
pub fn look<V: View>(view: &V, context: &Context, depth: Depth) -> Checked {
    let unfinished = view.unfinished(&context.path);
    let whole = unfinished.iter().all(|u| u.alone);
    if let Ok(mut steady) = context.steady.lock()
        && steady.edited(unfinished, context.touched_lines()).iter().all(|u| u.alone)
    {
        steady.finished(context.version);
    }
    let began = Instant::now();
    let typed = view.problems(&context.path);
    if let Ok(mut steady) = context.steady.lock() {
        steady.read(context.generation, began.elapsed(), whole);
    }
    let found = Found::by(view, context, depth, &typed);
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
    let new = found.iter().flat_map(|found| found.review.iter().chain(found.built.iter().flatten()));
    let all: Vec<&Problem> = typed.iter().chain(new).collect();
    let mut now: Vec<&Problem> = all.iter().copied().filter(|problem| !waits(problem)).collect();
    let held = now.len() < all.len();
    // What was not looked at again stands where it stood.
    let last = &context.reviewed;
    now.extend(last.review.iter().filter(|_| found.is_none()));
    now.extend(last.built.iter().filter(|_| found.as_ref().is_none_or(|found| found.built.is_none())));
    now.retain(|problem| !hidden(problem));
    now.sort_by_key(|problem| (problem.range.start, problem.range.end));
    let mut list: Vec<_> = now.iter().map(|problem| diagnostic(problem, context)).collect();
    if context.abilities.related_places {
        for (diagnostic, problem) in list.iter_mut().zip(&now).take(MOST_RELATED) {
            diagnostic.related_information = related(problem, view, context);
        }
    }
    Checked {
        uri: context.uri.to_string(),
        version: context.version,
        depth,
        held,
        reviewed_in: if found.is_some() { (context.version, depth) } else { context.reviewed.of },
        list: json(&list),
        // A faint mark on the way to a word has not said yet what the word may come to be told.
        said: now.iter().filter(|problem| !is_begun(problem, context)).map(|problem| place(problem)).collect(),
        found,
    }
}

/// The work of looking through. Nobody asked for it: an edit starts it.
pub struct Check {
    uri: String,
    depth: Depth,
    cancel: Cancel,
    found: Option<(Checked, Arc<dyn Tell>)>,
}

impl Check {
    /// A look through a document, which tells the owner what it found.
    pub fn new(uri: &str, depth: Depth) -> Self {
        Self { uri: uri.to_string(), depth, cancel: Cancel::default(), found: None }
    }
}

impl<V: View> Work<V> for Check {
    fn line(&self) -> Line {
        line_of(METHOD)
    }
    fn uri(&self) -> &str {
        &self.uri
    }
    fn describe(&self) -> String {
        format!("of {}", self.uri)
    }
    fn cancel(&self) -> &Cancel {
        &self.cancel
    }
    fn run(&mut self, view: &V, context: &Context) {
        if self.depth == Depth::Built {
            let shown = context.abilities.progress;
            let progress = shown.then(|| context.tell.progress("Looking over the tolerances", self.cancel.clone()));
            let progress = progress.unwrap_or_else(Progress::silent);
            view.build(&context.path, &mut |done, all| progress.report(done, all));
        }
        self.found = Some((look(view, context, self.depth), context.tell.clone()));
    }
    fn deliver(self: Box<Self>) {
        if let Some((found, tell)) = self.found {
            tell.checked(found);
        }
    }
    fn refuse(self: Box<Self>, _: Refusal) {}
}
