//! What may be folded away.

use tower_lsp::ls_types as lsp;
use workbench::editing::fold::FoldKind;

use super::bench::View;
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Folding {
    /// The document.
    pub uri: String,
}

impl Feature for Folding {
    type Answer = Option<Vec<lsp::FoldingRange>>;
    const METHOD: &'static str = "textDocument/foldingRange";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let abilities = &context.abilities;
        let mut folds = view.folds(&context.path);
        if let Some(limit) = abilities.fold_limit.filter(|limit| folds.len() > *limit) {
            // Blocks are what one looks for first.
            folds.sort_by_key(|f| f.kind != FoldKind::Block);
            folds.truncate(limit);
            folds.sort_by_key(|f| f.range.start);
        }
        let one = |fold: workbench::editing::fold::Fold| {
            let span = context.text.span(&fold.range);
            let column = |column| (!abilities.folds_lines_only).then_some(column);
            lsp::FoldingRange {
                start_line: span.start.line,
                start_character: column(span.start.character),
                end_line: span.end.line,
                end_character: column(span.end.character),
                kind: match fold.kind {
                    FoldKind::Comment => Some(lsp::FoldingRangeKind::Comment),
                    FoldKind::Includes => Some(lsp::FoldingRangeKind::Imports),
                    FoldKind::Block | FoldKind::Entry => None,
                },
                collapsed_text: None,
            }
        };
        let mut found: Vec<lsp::FoldingRange> = folds.into_iter().map(one).collect();
        if abilities.folds_lines_only {
            // Of two that begin in one line such a client can show one.
            found.dedup_by_key(|f| f.start_line);
        }
        Some(found)
    }
}
