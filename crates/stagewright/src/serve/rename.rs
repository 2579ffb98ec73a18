//! A name gets another one: what may be renamed, and what changes where.

use tower_lsp::ls_types as lsp;

use super::bench::View;
use super::definition::LIBRARY;
use super::elsewhere::{Changed, addressed, workspace_edit};
use super::position::{Position, Text};
use super::translate;
use super::work::{Context, Feature, Reach};

/// An answer, or a sentence that says why there is none.
pub type Told<T> = Result<Option<T>, String>;

/// An answer that is none where the document is not open.
#[derive(Debug)]
pub struct Answer<T>(pub Told<T>);

impl<T> Default for Answer<T> {
    fn default() -> Self {
        Answer(Ok(None))
    }
}

/// Why nothing is renamed in a text that no disk holds and nobody may write.
fn of_the_library(context: &Context) -> Option<String> {
    let library = context.uri.starts_with(LIBRARY);
    library.then(|| "This is a file of the library, which keeps its names.".to_string())
}

/// The request before the name is typed.
#[derive(Debug)]
pub struct Prepare {
    /// The document.
    pub uri: String,
    /// The place pointed at.
    pub position: Position,
}

impl Feature for Prepare {
    type Answer = Answer<lsp::PrepareRenameResponse>;
    const METHOD: &'static str = "textDocument/prepareRename";
    const REACH: Reach = Reach::Family;
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        if let Some(refused) = of_the_library(context) {
            return Answer(Err(refused));
        }
        let prepared = view.prepare_rename(&context.path, context.text.offset(self.position));
        let one = |(bytes, placeholder)| lsp::PrepareRenameResponse::RangeWithPlaceholder {
            range: translate::range(context.text.span(&bytes)),
            placeholder,
        };
        Answer(prepared.map(|found| found.map(one)))
    }
}

/// The request.
#[derive(Debug)]
pub struct Rename {
    /// The document.
    pub uri: String,
    /// The place pointed at.
    pub position: Position,
    /// What the name is to be.
    pub new: String,
}

impl Feature for Rename {
    type Answer = Answer<lsp::WorkspaceEdit>;
    const METHOD: &'static str = "textDocument/rename";
    const REACH: Reach = Reach::Family;
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        if let Some(refused) = of_the_library(context) {
            return Answer(Err(refused));
        }
        let renamed = view.rename(&context.path, context.text.offset(self.position), &self.new);
        let encoding = context.text.encoding();
        let one = |renamed: workbench::editing::rename::Renamed| {
            let here = *renamed.path == *context.path;
            let label = if here { "here" } else { "in a file that belongs to this one" };
            Some(Changed {
                document: addressed(&renamed.path, &context.open)?,
                text: Text::new(renamed.text, encoding),
                edits: renamed.edits,
                label: label.to_string(),
            })
        };
        let edit = |files: Vec<_>| workspace_edit(files.into_iter().filter_map(one).collect(), &context.abilities);
        Answer(renamed.map(|files| files.map(edit)))
    }
}
