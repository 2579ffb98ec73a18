//! Between this server's places and the framework's types.

use std::str::FromStr;

use tower_lsp::ls_types as lsp;

use super::position::{Position, Span};

/// A place that the client named.
pub fn position_of(position: lsp::Position) -> Position {
    Position { line: position.line, character: position.character }
}

/// A range that the client named.
pub fn span_of(range: lsp::Range) -> Span {
    Span { start: position_of(range.start), end: position_of(range.end) }
}

/// A range for the client.
pub fn range(span: Span) -> lsp::Range {
    let position = |at: Position| lsp::Position::new(at.line, at.character);
    lsp::Range::new(position(span.start), position(span.end))
}

/// An address for the client, which was the client's own.
pub fn uri(uri: &str) -> Option<lsp::Uri> {
    lsp::Uri::from_str(uri).ok()
}
