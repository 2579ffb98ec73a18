//! What a selection grows to, from the word outwards.

use tower_lsp::ls_types as lsp;

use super::bench::View;
use super::position::Position;
use super::translate;
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Selection {
    /// The document.
    pub uri: String,
    /// The places from which it grows.
    pub positions: Vec<Position>,
}

impl Feature for Selection {
    type Answer = Option<Vec<lsp::SelectionRange>>;
    const METHOD: &'static str = "textDocument/selectionRange";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let one = |position: &Position| {
            let offset = context.text.offset(*position);
            let ranges = view.around(&context.path, offset);
            let grown = |parent: Option<Box<lsp::SelectionRange>>, bytes: &std::ops::Range<usize>| {
                Some(Box::new(lsp::SelectionRange { range: translate::range(context.text.span(bytes)), parent }))
            };
            let found = ranges.iter().rev().fold(None, grown);
            // Each position has its answer, if only its own place.
            let here =
                || lsp::SelectionRange { range: translate::range(context.text.span(&(offset..offset))), parent: None };
            found.map_or_else(here, |found| *found)
        };
        Some(self.positions.iter().map(one).collect())
    }
}
