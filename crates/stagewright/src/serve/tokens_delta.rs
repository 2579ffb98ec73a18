//! Semantic tokens as the difference to those that the client has: a key changes a few of thousands.

use tower_lsp::ls_types as lsp;

use super::bench::View;
use super::tokens::{Sent, encode};
use super::work::{Context, Feature};

/// Numbers that a token takes in the protocol's list.
const NUMBERS: usize = 5;

/// The request.
#[derive(Debug)]
pub struct Delta {
    /// The document.
    pub uri: String,
    /// The name of what the client has.
    pub previous: String,
}

impl Feature for Delta {
    type Answer = Option<lsp::SemanticTokensFullDeltaResult>;
    const METHOD: &'static str = "textDocument/semanticTokens/full/delta";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        let sent = Sent::new(encode(&view.tokens(&context.path, None), &context.text));
        let mut last = context.coloured.lock().ok()?;
        let answer = match last.as_ref().filter(|last| last.id == self.previous) {
            Some(last) => lsp::SemanticTokensDelta {
                result_id: Some(sent.id.clone()),
                edits: difference(&last.tokens, &sent.tokens).into_iter().collect(),
            }
            .into(),
            // The client has something else, of which nothing is known here any more.
            None => sent.whole().into(),
        };
        *last = Some(sent);
        Some(answer)
    }
}

/// The one replacement that makes the new list out of the old one; none if they are the same.
fn difference(old: &[lsp::SemanticToken], new: &[lsp::SemanticToken]) -> Option<lsp::SemanticTokensEdit> {
    let start = old.iter().zip(new).take_while(|(a, b)| a == b).count();
    let most = old.len().min(new.len()) - start;
    let same = old.iter().rev().zip(new.iter().rev()).take(most).take_while(|(a, b)| a == b).count();
    let (gone, come) = (&old[start..old.len() - same], &new[start..new.len() - same]);
    (!gone.is_empty() || !come.is_empty()).then(|| lsp::SemanticTokensEdit {
        start: (start * NUMBERS) as u32,
        delete_count: (gone.len() * NUMBERS) as u32,
        data: (!come.is_empty()).then(|| come.to_vec()),
    })
}
