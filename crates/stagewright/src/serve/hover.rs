//! Hovers.

use tower_lsp::ls_types as lsp;

use super::bench::View;
use super::position::Position;
use super::translate;
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Hover {
    /// The document.
    pub uri: String,
    /// The place pointed at.
    pub position: Position,
}

impl Feature for Hover {
    type Answer = Option<lsp::Hover>;
    const METHOD: &'static str = "textDocument/hover";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn describe(&self) -> String {
        format!("{self:?}")
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Option<lsp::Hover> {
        let hover = view.hover(&context.path, context.text.offset(self.position))?;
        let (kind, value) = if context.abilities.markdown {
            (lsp::MarkupKind::Markdown, hover.markdown)
        } else {
            (lsp::MarkupKind::PlainText, hover.plain)
        };
        Some(lsp::Hover {
            contents: lsp::HoverContents::Markup(lsp::MarkupContent { kind, value }),
            range: Some(translate::range(context.text.span(&hover.range))),
        })
    }
}
