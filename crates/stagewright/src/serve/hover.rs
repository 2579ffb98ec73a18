//! Hovers.

use base64::prelude::{BASE64_STANDARD, Engine};
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
    fn compute<V: View>(&self, view: &V, context: &Context) -> Option<lsp::Hover> {
        let offset = context.text.offset(self.position);
        let pictures = context.abilities.markdown && context.settings.pictures;
        let hover =
            if pictures { view.hover_with_picture(&context.path, offset) } else { view.hover(&context.path, offset) };
        let hover = hover?;
        let picture = hover.picture.map_or_else(String::new, |svg| {
            format!("\n\n![response](data:image/svg+xml;base64,{})", BASE64_STANDARD.encode(svg))
        });
        let (kind, value) = if context.abilities.markdown {
            (lsp::MarkupKind::Markdown, hover.markdown + &picture)
        } else {
            (lsp::MarkupKind::PlainText, hover.plain)
        };
        Some(lsp::Hover {
            contents: lsp::HoverContents::Markup(lsp::MarkupContent { kind, value }),
            range: Some(translate::range(context.text.span(&hover.range))),
        })
    }
}
