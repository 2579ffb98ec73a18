//! The places that are typed over together.

use tower_lsp::ls_types as lsp;

use super::bench::View;
use super::position::Position;
use super::translate;
use super::work::{Context, Feature, Reach};

/// The request.
#[derive(Debug)]
pub struct Linked {
    /// The document.
    pub uri: String,
    /// The place pointed at.
    pub position: Position,
}

impl Feature for Linked {
    type Answer = Option<lsp::LinkedEditingRanges>;
    const METHOD: &'static str = "textDocument/linkedEditingRange";
    const REACH: Reach = Reach::Family;
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let linked = view.linked(&context.path, context.text.offset(self.position))?;
        let ranges = linked.ranges.iter().map(|bytes| translate::range(context.text.span(bytes))).collect();
        Some(lsp::LinkedEditingRanges { ranges, word_pattern: Some(linked.pattern) })
    }
}
