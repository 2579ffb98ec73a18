//! Diagnostics: what the workbench has to say about a document, written for the client.

use std::ops::Range;

use serde::Serialize;
use tower_lsp::ls_types as lsp;
use workbench::{Problem, Severity, Where};

use super::bench::View;
use super::definition::MANUAL;
use super::elsewhere::location;
use super::position::Span;
use super::work::Context;

/// More places than a person follows up are not looked for, and not for more messages than one reads.
const MOST_PLACES: usize = 4;

/// See [`MOST_PLACES`].
pub const MOST_RELATED: usize = 100;

/// The name under which they are published.
pub const SOURCE: &str = "stagewright";

/// A diagnostic as the protocol has it.
#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
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
    /// The page that explains it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub code_description: Option<Page>,
    /// Where what it names is made.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub related_information: Vec<Related>,
    /// The ways out, for a client that wants to offer them itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub data: Option<Data<'a>>,
}

/// A page of the manual.
#[derive(Debug, Serialize)]
pub struct Page {
    /// Its address, under which the server has it.
    pub href: String,
}

/// A place that a diagnostic speaks of.
#[derive(Debug, Serialize)]
pub struct Related {
    /// Where.
    pub location: lsp::Location,
    /// What stands there.
    pub message: String,
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
        code_description: page(problem.id, context),
        related_information: Vec::new(),
        data: (!problem.fixes.is_empty()).then(|| fixes(problem)),
    }
}

/// The page that explains a problem, for a client that shows it.
fn page(id: &str, context: &Context) -> Option<Page> {
    let found = Some(id).filter(|_| context.abilities.explains).and_then(manual::find);
    found.map(|_| Page { href: format!("{MANUAL}{id}.md") })
}

/// Where the names of a problem are made, but for those that it stands at itself.
pub fn related<V: View>(problem: &Problem, view: &V, context: &Context) -> Vec<Related> {
    let elsewhere = |(place, range): &(Where, Range<usize>)| *place != Where::Here || !touches(range, &problem.range);
    let place = |name: &String| {
        let (place, range) = view.made(&context.path, name).filter(elsewhere)?;
        Some(Related { location: location(place, &range, context)?, message: name.clone() })
    };
    problem.names.iter().take(MOST_PLACES).filter_map(place).collect()
}

/// Whether the problem is that something is missing at the end of the entry that is being typed.
pub fn is_begun(problem: &Problem, context: &Context) -> bool {
    problem.unfinished && context.touched.as_ref().is_some_and(|touched| touches(&problem.range, &touched.entry))
}

/// Whether two ranges have a byte or an end in common.
pub fn touches(a: &Range<usize>, b: &Range<usize>) -> bool {
    a.start <= b.end && b.start <= a.end
}
