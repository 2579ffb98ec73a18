//! All places of a name.

use tower_lsp::ls_types as lsp;

use super::bench::View;
use super::elsewhere::location;
use super::position::Position;
use super::work::{Context, Feature, Reach};

/// The request.
#[derive(Debug)]
pub struct References {
    /// The document.
    pub uri: String,
    /// The place pointed at.
    pub position: Position,
    /// Where the name is made belongs to them.
    pub with_declaration: bool,
}

impl Feature for References {
    type Answer = Option<Vec<lsp::Location>>;
    const METHOD: &'static str = "textDocument/references";
    const REACH: Reach = Reach::Family;
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let all = view.occurrences(&context.path, context.text.offset(self.position));
        let wanted = all.into_iter().filter(|found| self.with_declaration || !found.makes);
        Some(wanted.filter_map(|found| location(found.place, &found.range, context)).collect())
    }
}
