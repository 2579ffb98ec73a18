//! Where a name is made; and the text of the embedded library's files, which no disk holds.

use serde::{Deserialize, Serialize};
use tower_lsp::ls_types as lsp;

use super::bench::View;
use super::elsewhere::location;
use super::position::Position;
use super::work::{Context, Feature};

/// In front of the name of a file of the library, as an address.
pub const LIBRARY: &str = "stagewright:///library/";

/// The request for the text of a document that no disk holds (LSP 3.18).
pub const CONTENT: &str = "workspace/textDocumentContent";

/// What that request names.
#[derive(Debug, Deserialize)]
pub struct ContentParams {
    /// The document.
    pub uri: String,
}

/// Its answer.
#[derive(Debug, Serialize)]
pub struct Content {
    /// The document's text.
    pub text: std::borrow::Cow<'static, str>,
}

/// In front of the name of a page of the manual, as an address.
pub const MANUAL: &str = "stagewright:///manual/";

/// The text of a file of the library, or of a page of the manual, by its address.
pub fn content(uri: &str) -> Option<Content> {
    if let Some(name) = uri.strip_prefix(MANUAL) {
        let page = manual::find(name.strip_suffix(".md").unwrap_or(name))?;
        return Some(Content { text: format!("# {}\n\n{}", page.title, page.text).into() });
    }
    let name = uri.strip_prefix(LIBRARY)?;
    workbench::library().find(|(file, _)| *file == name).map(|(_, text)| Content { text: text.into() })
}

/// The request.
#[derive(Debug)]
pub struct Definition {
    /// The document.
    pub uri: String,
    /// The place pointed at.
    pub position: Position,
}

impl Feature for Definition {
    type Answer = Option<lsp::GotoDefinitionResponse>;
    const METHOD: &'static str = "textDocument/definition";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let found = view.definition(&context.path, context.text.offset(self.position))?;
        Some(lsp::GotoDefinitionResponse::Scalar(location(found.place, &found.name, context)?))
    }
}

/// The request for where a name is declared, which is where it is made.
#[derive(Debug)]
pub struct Declaration(pub Definition);

impl Feature for Declaration {
    type Answer = Option<lsp::GotoDefinitionResponse>;
    const METHOD: &'static str = "textDocument/declaration";
    fn uri(&self) -> &str {
        &self.0.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        self.0.compute(view, context)
    }
}

/// The request for what an amplifier is: its data sheet.
#[derive(Debug)]
pub struct TypeDefinition {
    /// The document.
    pub uri: String,
    /// The place pointed at.
    pub position: Position,
}

impl Feature for TypeDefinition {
    type Answer = Option<lsp::GotoDefinitionResponse>;
    const METHOD: &'static str = "textDocument/typeDefinition";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let found = view.type_definition(&context.path, context.text.offset(self.position))?;
        Some(lsp::GotoDefinitionResponse::Scalar(location(found.place, &found.name, context)?))
    }
}
