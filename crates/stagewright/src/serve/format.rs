//! The canonical layout: of a whole document, of a range of it, and as a line is ended.
//!
//! The client's wishes for tabs are not asked: the notation has one layout. Its edits are as small as they can be, so that the
//! caret, marks and hints of an editor stay where they are.

use notation::format::{self, Edit};
use tower_lsp::ls_types as lsp;

use super::bench::View;
use super::position::{Position, Span};
use super::translate;
use super::work::{Context, Feature};

/// What a client gets: edits, none if the text stands as it should.
type Edits = Option<Vec<lsp::TextEdit>>;

fn edits(edits: Vec<Edit>, context: &Context) -> Edits {
    let edit =
        |edit: Edit| lsp::TextEdit { range: translate::range(context.text.span(&edit.range)), new_text: edit.text };
    Some(edits.into_iter().map(edit).collect())
}

/// The request for a whole document.
#[derive(Debug)]
pub struct Whole {
    /// The document.
    pub uri: String,
}

impl Feature for Whole {
    type Answer = Edits;
    const METHOD: &'static str = "textDocument/formatting";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, _: &V, context: &Context) -> Edits {
        edits(format::edits(context.text.as_str()), context)
    }
}

/// The request for the lines that a range touches.
#[derive(Debug)]
pub struct Lines {
    /// The document.
    pub uri: String,
    /// The range.
    pub span: Span,
}

impl Feature for Lines {
    type Answer = Edits;
    const METHOD: &'static str = "textDocument/rangeFormatting";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, _: &V, context: &Context) -> Edits {
        edits(format::edits_within(context.text.as_str(), context.text.range(self.span)), context)
    }
}

/// What ends a line.
pub const ENDS_A_LINE: &str = "\n";

/// The request as something is typed.
#[derive(Debug)]
pub struct Typed {
    /// The document.
    pub uri: String,
    /// The caret, behind what was typed.
    pub position: Position,
    /// What was typed.
    pub typed: String,
}

impl Feature for Typed {
    type Answer = Edits;
    const METHOD: &'static str = "textDocument/onTypeFormatting";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, _: &V, context: &Context) -> Edits {
        if self.typed != ENDS_A_LINE {
            return Some(Vec::new());
        }
        edits(format::edits_after_enter(context.text.as_str(), context.text.offset(self.position)), context)
    }
}
