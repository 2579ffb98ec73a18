//! Code actions: the ways out that problems name as quick fixes, and what could be written for the sake of the argument.

use std::collections::HashMap;

use tower_lsp::ls_types as lsp;
use workbench::{Edit, Fix, Problem, Ways};

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
    fn wants(&self, kind: &lsp::CodeActionKind) -> bool {
        let below =
            |only: &str| kind.as_str().strip_prefix(only).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'));
        self.only.is_empty() || self.only.iter().any(|only| only.is_empty() || below(only))
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
        if !context.abilities.action_literals {
            return Some(Vec::new());
        }
        let range = context.text.range(self.span);
        let mut all = Vec::new();
        if self.wants(&lsp::CodeActionKind::QUICKFIX) {
            let problems = view.reviewed(&context.path);
            let here = problems.iter().filter(|problem| touches(&problem.range, &range));
            all.extend(here.flat_map(|problem| fixes(problem, &view.ways_out(&context.path, problem), context)));
        }
        if self.wants(&PROPOSAL) {
            all.extend(
                view.proposals(&context.path, range, context.settings.budget).iter().map(|fix| proposal(fix, context)),
            );
        }
        Some(all)
    }
}

/// What could be written in addition: nothing is wrong without it.
pub const PROPOSAL: lsp::CodeActionKind = lsp::CodeActionKind::REFACTOR_REWRITE;

fn proposal(fix: &Fix, context: &Context) -> lsp::CodeActionOrCommand {
    lsp::CodeActionOrCommand::CodeAction(lsp::CodeAction {
        title: fix.title.clone(),
        kind: Some(PROPOSAL),
        edit: workspace_edit(&fix.edits, context),
        ..lsp::CodeAction::default()
    })
}

fn fixes(problem: &Problem, ways: &Ways, context: &Context) -> Vec<lsp::CodeActionOrCommand> {
    // It is written for `publishDiagnostics` first; read back, the same value names the problem that the action answers.
    let answered: Option<lsp::Diagnostic> =
        serde_json::to_value(diagnostic(problem, context)).and_then(serde_json::from_value).ok();
    let action = |(i, fix): (usize, &Fix)| lsp::CodeAction {
        title: fix.title.clone(),
        kind: Some(lsp::CodeActionKind::QUICKFIX),
        diagnostics: answered.clone().map(|diagnostic| vec![diagnostic]),
        edit: workspace_edit(&fix.edits, context),
        is_preferred: context.abilities.preferred_actions.then_some(i == 0),
        ..lsp::CodeAction::default()
    };
    // That nothing was found is an answer too, where the client can show it.
    let none = ways.none.iter().filter(|_| context.abilities.disabled_actions).map(|why| lsp::CodeAction {
        title: "change one part's value".into(),
        kind: Some(lsp::CodeActionKind::QUICKFIX),
        disabled: Some(lsp::CodeActionDisabled { reason: why.clone() }),
        ..lsp::CodeAction::default()
    });
    ways.fixes.iter().enumerate().map(action).chain(none).map(lsp::CodeActionOrCommand::CodeAction).collect()
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
