//! Semantic tokens: what each word is, for editors that colour by meaning. Whole documents and ranges; [`super::tokens_delta`] tells what
//! changed.
//!
//! The names are the protocol's where it has one for the thing; `unit` is of this server's own, and a client that does not know it leaves
//! the word as its grammar has it. Separators and slips have no token.

use std::sync::atomic::{AtomicU64, Ordering};

use tower_lsp::ls_types as lsp;
use workbench::{Token, TokenKind};

use super::bench::View;
use super::position::{Span, Text};
use super::work::{Context, Feature};

/// The kinds of token, in the order of their numbers.
const TYPES: [&str; 14] = [
    "keyword",
    "namespace",
    "function",
    "class",
    "type",
    "variable",
    "property",
    "number",
    "unit",
    "enumMember",
    "modifier",
    "operator",
    "string",
    "comment",
];

/// What more there is to a token, in the order of its bits.
const MODIFIERS: [&str; 3] = ["definition", "readonly", "defaultLibrary"];
const DEFINITION: u32 = 1;
const READONLY: u32 = 2;
const LIBRARY: u32 = 4;

/// A kind by its name here, and what more there is to it.
fn named(kind: TokenKind) -> Option<(&'static str, u32)> {
    Some(match kind {
        TokenKind::Heading | TokenKind::Word | TokenKind::Clause => ("keyword", 0),
        TokenKind::Stage => ("namespace", 0),
        TokenKind::Reading | TokenKind::Function => ("function", LIBRARY),
        TokenKind::Part => ("class", 0),
        TokenKind::Type => ("type", 0),
        TokenKind::Node => ("variable", 0),
        TokenKind::Ground => ("variable", READONLY),
        TokenKind::Datum => ("property", 0),
        TokenKind::Figure => ("number", 0),
        TokenKind::Unit => ("unit", 0),
        TokenKind::Constant => ("enumMember", READONLY),
        TokenKind::Attribute => ("modifier", 0),
        TokenKind::Operator => ("operator", 0),
        TokenKind::String => ("string", 0),
        TokenKind::Comment => ("comment", 0),
        TokenKind::Separator | TokenKind::Slip => return None,
    })
}

/// What the server says of itself.
pub fn options() -> lsp::SemanticTokensServerCapabilities {
    let legend = lsp::SemanticTokensLegend {
        token_types: TYPES.iter().map(|name| lsp::SemanticTokenType::new(name)).collect(),
        token_modifiers: MODIFIERS.iter().map(|name| lsp::SemanticTokenModifier::new(name)).collect(),
    };
    lsp::SemanticTokensServerCapabilities::SemanticTokensOptions(lsp::SemanticTokensOptions {
        legend,
        range: Some(true),
        full: Some(lsp::SemanticTokensFullOptions::Delta { delta: Some(true) }),
        ..lsp::SemanticTokensOptions::default()
    })
}

/// Tokens as the protocol has them: each by its distance from the one before, none longer than its line.
pub fn encode(tokens: &[Token], text: &Text) -> Vec<lsp::SemanticToken> {
    let mut out = Vec::with_capacity(tokens.len());
    // The line that the reading has come to, and the token before it.
    let (mut here, mut last_line, mut last_column) = (0, 0, 0);
    // A byte of the line with its column: a column is counted from there on.
    let mut counted = (0, 0);
    for token in tokens {
        let Some((name, more)) = named(token.kind) else { continue };
        let token_type = TYPES.iter().position(|kind| *kind == name).unwrap_or_default() as u32;
        let token_modifiers_bitset = more | if token.definition { DEFINITION } else { 0 };
        let mut start = token.range.start;
        // A carriage return inside of a comment ends a line of the protocol's.
        while start < token.range.end {
            while here + 1 < text.lines() as u32 && text.line(here + 1).start <= start {
                here += 1;
                counted = (text.line(here).start, 0);
            }
            let end = token.range.end.min(text.line(here).end);
            if start < end {
                let column = counted.1 + text.units(counted.0..start);
                let length = text.units(start..end);
                counted = (end, column + length);
                let delta_line = here - last_line;
                let delta_start = column - if delta_line == 0 { last_column } else { 0 };
                (last_line, last_column) = (here, column);
                out.push(lsp::SemanticToken { delta_line, delta_start, length, token_type, token_modifiers_bitset });
            }
            start = if here + 1 < text.lines() as u32 { text.line(here + 1).start } else { token.range.end };
        }
    }
    out
}

/// What was sent last, for the difference to what comes next.
#[derive(Debug)]
pub struct Sent {
    /// Its name.
    pub id: String,
    /// All of it.
    pub tokens: Vec<lsp::SemanticToken>,
}

impl Sent {
    /// Gives tokens a name that no others had, of whichever document.
    pub fn new(tokens: Vec<lsp::SemanticToken>) -> Self {
        static COUNT: AtomicU64 = AtomicU64::new(1);
        Self { id: COUNT.fetch_add(1, Ordering::Relaxed).to_string(), tokens }
    }

    /// For the client.
    pub fn whole(&self) -> lsp::SemanticTokens {
        lsp::SemanticTokens { result_id: Some(self.id.clone()), data: self.tokens.clone() }
    }
}

/// The request for a whole document.
#[derive(Debug)]
pub struct Whole {
    /// The document.
    pub uri: String,
}

impl Feature for Whole {
    type Answer = Option<lsp::SemanticTokensResult>;
    const METHOD: &'static str = "textDocument/semanticTokens/full";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let sent = Sent::new(encode(&view.tokens(&context.path, None), &context.text));
        let whole = sent.whole();
        *context.coloured.lock().ok()? = Some(sent);
        Some(whole.into())
    }
}

/// The request for what a range touches.
#[derive(Debug)]
pub struct Part {
    /// The document.
    pub uri: String,
    /// The range.
    pub span: Span,
}

impl Feature for Part {
    type Answer = Option<lsp::SemanticTokensRangeResult>;
    const METHOD: &'static str = "textDocument/semanticTokens/range";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let tokens = view.tokens(&context.path, Some(context.text.range(self.span)));
        let data = encode(&tokens, &context.text);
        Some(lsp::SemanticTokens { result_id: None, data }.into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::serve::position::Encoding;

    #[test]
    fn every_kind_has_its_number() {
        for name in [TokenKind::Heading, TokenKind::Unit, TokenKind::Ground, TokenKind::Comment]
            .map(|kind| named(kind).unwrap().0)
        {
            assert!(TYPES.contains(&name), "{name}");
        }
        assert_eq!(MODIFIERS.map(|m| m.len()), [10, 8, 14]);
        assert_eq!(DEFINITION | READONLY | LIBRARY, (1 << MODIFIERS.len()) - 1);
    }

    #[test]
    fn a_token_ends_with_its_line_and_counts_as_agreed() {
        let source = "🎚 # é🎚\rx\n";
        let text = Text::new(source, Encoding::Utf16);
        let comment = Token { range: 5..source.len() - 1, kind: TokenKind::Comment, definition: false };
        let found = encode(&[comment], &text);
        let shown: Vec<_> = found.iter().map(|t| (t.delta_line, t.delta_start, t.length)).collect();
        assert_eq!(shown, [(0, 3, 5), (1, 0, 1)]);
    }
}
