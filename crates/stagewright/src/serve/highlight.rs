//! The places of a name in the document, told apart by what is done there: what drives, sets or makes it is written, all else is read.

use tower_lsp::ls_types as lsp;

use super::bench::View;
use super::position::Position;
use super::translate;
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Highlight {
    /// The document.
    pub uri: String,
    /// The place pointed at.
    pub position: Position,
}

impl Feature for Highlight {
    type Answer = Option<Vec<lsp::DocumentHighlight>>;
    const METHOD: &'static str = "textDocument/documentHighlight";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let all = view.highlighted(&context.path, context.text.offset(self.position));
        let one = |(bytes, drives)| lsp::DocumentHighlight {
            range: translate::range(context.text.span(&bytes)),
            kind: Some(if drives { lsp::DocumentHighlightKind::WRITE } else { lsp::DocumentHighlightKind::READ }),
        };
        Some(all.into_iter().map(one).collect())
    }
}
