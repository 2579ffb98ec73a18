//! Where a name is made; and the text of the embedded library's files, which no disk holds.

use std::str::FromStr;

use serde::{Deserialize, Serialize};
use tower_lsp::ls_types as lsp;
use workbench::Where;

use super::bench::View;
use super::position::{Position, Text};
use super::translate;
use super::work::{Context, Feature};

/// In front of the name of a file of the library, as an address.
const LIBRARY: &str = "stagewright:///library/";

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

/// The text of a file of the library by its address.
pub fn content(uri: &str) -> Option<Content> {
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
    fn describe(&self) -> String {
        format!("{self:?}")
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let found = view.definition(&context.path, context.text.offset(self.position))?;
        let encoding = context.text.encoding();
        let (uri, span) = match found.place {
            Where::Here => (lsp::Uri::from_str(&context.uri).ok()?, context.text.span(&found.name)),
            Where::File(path, text) => (lsp::Uri::from_file_path(path)?, Text::new(text, encoding).span(&found.name)),
            Where::Library(file, text) => {
                (lsp::Uri::from_str(&format!("{LIBRARY}{file}")).ok()?, Text::new(text, encoding).span(&found.name))
            }
        };
        Some(lsp::GotoDefinitionResponse::Scalar(lsp::Location { uri, range: translate::range(span) }))
    }
}
