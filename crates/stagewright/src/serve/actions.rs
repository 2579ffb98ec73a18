//! Quick fixes: the ways out that problems name, as code actions.

use std::collections::HashMap;

use tower_lsp::ls_types as lsp;
use workbench::{Edit, Problem};

use super::bench::View;
use super::diagnostics::{diagnostic, touches};
use super::position::Span;
use super::translate;
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Actions {
    /// The document.
    pub uri: String,
    /// The selection.
    pub span: Span,
    /// The kinds that the client wants; none means all.
    pub only: Vec<String>,
}

impl Actions {
    /// A client that asks for a kind means the kinds below it too.
    fn wants_fixes(&self) -> bool {
        let kind = lsp::CodeActionKind::QUICKFIX;
        self.only.is_empty() || self.only.iter().any(|only| only.is_empty() || only == kind.as_str())
    }
}

impl Feature for Actions {
    type Answer = Option<lsp::CodeActionResponse>;
    const METHOD: &'static str = "textDocument/codeAction";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn describe(&self) -> String {
        format!("{self:?}")
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer {
        if !self.wants_fixes() || !context.abilities.action_literals {
            return Some(Vec::new());
        }
        let range = context.text.range(self.span);
        let problems = view.reviewed(&context.path);
        let here = problems.iter().filter(|problem| touches(&problem.range, &range));
        Some(here.flat_map(|problem| fixes(problem, context)).collect())
    }
}

fn fixes(problem: &Problem, context: &Context) -> Vec<lsp::CodeActionOrCommand> {
    // It is written for `publishDiagnostics` first; read back, the same value names the problem that the action answers.
    let answered: Option<lsp::Diagnostic> =
        serde_json::to_value(diagnostic(problem, context)).and_then(serde_json::from_value).ok();
    let action = |(i, fix): (usize, &workbench::Fix)| lsp::CodeAction {
        title: fix.title.clone(),
        kind: Some(lsp::CodeActionKind::QUICKFIX),
        diagnostics: answered.clone().map(|diagnostic| vec![diagnostic]),
        edit: workspace_edit(&fix.edits, context),
        is_preferred: context.abilities.preferred_actions.then_some(i == 0),
        ..lsp::CodeAction::default()
    };
    problem.fixes.iter().enumerate().map(action).map(lsp::CodeActionOrCommand::CodeAction).collect()
}

fn workspace_edit(edits: &[Edit], context: &Context) -> Option<lsp::WorkspaceEdit> {
    let uri = translate::uri(&context.uri)?;
    let edits = edits.iter().map(|edit| lsp::TextEdit {
        range: translate::range(context.text.span(&edit.range)),
        new_text: edit.text.clone(),
    });
    Some(if context.abilities.versioned_edits {
        let document = lsp::TextDocumentEdit {
            text_document: lsp::OptionalVersionedTextDocumentIdentifier { uri, version: Some(context.version) },
            edits: edits.map(lsp::OneOf::Left).collect(),
        };
        lsp::WorkspaceEdit {
            document_changes: Some(lsp::DocumentChanges::Edits(vec![document])),
            ..lsp::WorkspaceEdit::default()
        }
    } else {
        lsp::WorkspaceEdit { changes: Some(HashMap::from([(uri, edits.collect())])), ..lsp::WorkspaceEdit::default() }
    })
}
