//! The framework's handlers. Each sends to the owner first, without waiting; those that owe an answer then wait for it.
//!
//! Invariant: nothing is awaited before the send, and no handler ever awaits the client. The framework polls handlers in the order in
//! which their messages came, so that a send before the first wait keeps that order; it polls only so many at a time, so that one that
//! waited for the client could keep the client's answer from being read.

use std::path::PathBuf;

use crossbeam_channel::Sender;
use futures::channel::oneshot;
use tower_lsp::jsonrpc::{Error, ErrorCode, Result};
use tower_lsp::{LanguageServer, ls_types as lsp};

use super::abilities::Abilities;
use super::actions::{self, Actions};
use super::bench::View;
use super::completion::{Completion, Explain};
use super::definition::{self, Declaration, Definition, TypeDefinition};
use super::document::Change;
use super::finding::Finding;
use super::folding::Folding;
use super::format::{Lines, Typed, Whole};
use super::front::Session;
use super::highlight::Highlight;
use super::hints_resolved::{self, Resolved};
use super::hover::Hover;
use super::lenses;
use super::linked::Linked;
use super::links::Links;
use super::moving::Moving;
use super::offered::offered;
use super::outbox::{Outbox, Trace};
use super::owner::Event;
use super::pages::{About, Page};
use super::position::Position;
use super::progress::Running;
use super::pull::{Pull, Report};
use super::references::References;
use super::rename::{Answer, Prepare, Rename};
use super::selection::Selection;
use super::settings::section;
use super::signature::Signature;
use super::survey::{Designs, Survey, Surveyed};
use super::symbols::Symbols;
use super::tokens;
use super::tokens_delta::Delta;
use super::translate::{position_of, span_of};
use super::uri::path_of;
use super::watch::Watch;
use super::work::{Cancel, Feature, Refusal, Reply, Request};
use super::workspace::{AskedErrand, Errand};

/// The handlers' own state: ways to send, nothing else.
pub struct Handlers<V: View> {
    /// To the owner of the state.
    pub owner: Sender<Event<V>>,
    /// To the client, for what the framework has no types for.
    pub outbox: Outbox,
    /// Looks after the client's process.
    pub watch: Watch,
    /// What the client said at the beginning.
    pub session: Session,
    /// Long work that is under way.
    pub running: Running,
    /// What was found in designs that are not open.
    pub surveyed: Surveyed,
}

/// Sets the flag when the framework drops a handler, which is how it cancels.
struct CancelOnDrop(Cancel);

impl Drop for CancelOnDrop {
    fn drop(&mut self) {
        self.0.set();
    }
}

/// What the protocol says for each refusal.
pub fn error_of(refusal: Refusal) -> (i64, &'static str) {
    match refusal {
        Refusal::Overtaken => (-32801, "the text has changed"),
        Refusal::Cancelled => (-32800, "taken back"),
        Refusal::Broke => (-32603, "the work on this broke off; the log says where"),
    }
}

impl<V: View> Handlers<V> {
    fn tell(&self, event: Event<V>) {
        // The owner lives as long as the server; a message after its end has no reader and no sender who waits.
        let _ = self.owner.send(event);
    }

    async fn ask<F: Feature>(&self, feature: F) -> Result<F::Answer> {
        self.answered(|reply| Event::Ask(Box::new(Request::new(feature, reply)))).await
    }

    async fn ask_around<E: Errand>(&self, errand: E) -> Result<E::Answer> {
        self.answered(|reply| Event::Errand(AskedErrand::new(errand, reply))).await
    }

    async fn answered<T: Send + 'static>(&self, event: impl FnOnce(Reply<T>) -> Event<V>) -> Result<T> {
        let cancel = Cancel::default();
        let (send, answer) = oneshot::channel();
        let reply = Reply::new(cancel.clone(), move |answer| drop(send.send(answer)));
        self.tell(event(reply));
        let _cancel = CancelOnDrop(cancel);
        answer.await.unwrap_or(Err(Refusal::Broke)).map_err(|refusal| {
            let (code, message) = error_of(refusal);
            Error { code: ErrorCode::ServerError(code), message: message.into(), data: None }
        })
    }

    /// `$/setTrace`.
    pub async fn set_trace(&self, params: lsp::SetTraceParams) {
        self.outbox.set_trace(trace_of(params.value));
    }

    /// `workspace/textDocumentContent`: the text of a file of the embedded library.
    pub async fn content(&self, params: definition::ContentParams) -> Result<definition::Content> {
        if let Some((uri, about)) = About::at(&params.uri) {
            let page = self.ask(Page { uri, about }).await?;
            let gone = || Error::invalid_params("the document of this page is not open, or has no such stage any more");
            return page.map(|page| definition::Content { text: page.markdown.into() }).ok_or_else(gone);
        }
        definition::content(&params.uri)
            .ok_or_else(|| tower_lsp::jsonrpc::Error::invalid_params(format!("the library has no {}", params.uri)))
    }

    /// `textDocument/codeAction`.
    pub async fn own_code_action(&self, params: lsp::CodeActionParams) -> Result<Option<Vec<actions::Shown>>> {
        let only = params.context.only.unwrap_or_default();
        self.ask(Actions {
            uri: params.text_document.uri.as_str().to_string(),
            span: span_of(params.range),
            only: only.iter().map(|kind| kind.as_str().to_string()).collect(),
            by_hand: params.context.trigger_kind != Some(lsp::CodeActionTriggerKind::AUTOMATIC),
        })
        .await
    }

    /// `codeAction/resolve`.
    pub async fn own_code_action_resolve(&self, action: lsp::LSPAny) -> Result<lsp::LSPAny> {
        let resolve = actions::Resolve::of(action);
        if resolve.whole() {
            return Ok(resolve.into_action());
        }
        self.ask(resolve).await?.ok_or_else(changed)
    }

    /// `window/workDoneProgress/cancel`. What is done already cannot be taken back; the client is not told off.
    pub async fn cancel_progress(&self, params: lsp::WorkDoneProgressCancelParams) {
        let token = match &params.token {
            lsp::ProgressToken::String(token) => token.clone(),
            lsp::ProgressToken::Number(token) => token.to_string(),
        };
        if !self.running.cancel(&token) {
            tracing::debug!(token, "a progress that is not under way was taken back");
        }
    }
}

/// The document and the place in it that a request points at.
fn pointed_at(at: lsp::TextDocumentPositionParams) -> (String, Position) {
    (at.text_document.uri.as_str().to_string(), position_of(at.position))
}

/// An answer, or the sentence that refuses it, which a client shows to the person.
fn told<T>(Answer(answer): Answer<T>) -> Result<Option<T>> {
    answer.map_err(|sentence| Error {
        code: ErrorCode::ServerError(REQUEST_FAILED),
        message: sentence.into(),
        data: None,
    })
}

/// The protocol's code for a request that is in order and cannot be granted.
const REQUEST_FAILED: i64 = -32803;

fn trace_of(value: lsp::TraceValue) -> Trace {
    match value {
        lsp::TraceValue::Off => Trace::Off,
        lsp::TraceValue::Messages | lsp::TraceValue::Verbose => Trace::On,
    }
}

/// What was asked about is not there any more: the client asks again.
fn changed() -> Error {
    let (code, message) = error_of(Refusal::Overtaken);
    Error { code: ErrorCode::ServerError(code), message: message.into(), data: None }
}

impl<V: View> LanguageServer for Handlers<V> {
    async fn initialize(&self, params: lsp::InitializeParams) -> Result<lsp::InitializeResult> {
        let mut abilities = Abilities::of(&params);
        if let Some(capabilities) = self.session.capabilities() {
            abilities.learn(capabilities);
        }
        let capabilities = offered(&abilities);
        self.tell(Event::Begin(abilities, params.initialization_options.unwrap_or_default()));
        self.outbox.set_trace(params.trace.map_or(Trace::Off, trace_of));
        if let Some(process) = params.process_id {
            self.watch.over(process);
        }
        Ok(lsp::InitializeResult {
            capabilities,
            server_info: Some(lsp::ServerInfo {
                name: "stagewright".to_string(),
                version: Some(env!("CARGO_PKG_VERSION").to_string()),
            }),
            ..lsp::InitializeResult::default()
        })
    }

    async fn initialized(&self, _: lsp::InitializedParams) {
        self.tell(Event::Ready);
    }

    async fn did_change_configuration(&self, params: lsp::DidChangeConfigurationParams) {
        // A client that can be asked often sends nothing but the word that something has changed.
        let sent = section(&params.settings);
        self.tell(if sent.is_null() { Event::AskSettings } else { Event::Settings(sent.clone()) });
    }

    async fn did_change_watched_files(&self, params: lsp::DidChangeWatchedFilesParams) {
        self.tell(Event::Disk(params.changes.iter().map(|change| change.uri.as_str().to_string()).collect()));
    }

    async fn did_change_workspace_folders(&self, params: lsp::DidChangeWorkspaceFoldersParams) {
        let paths = |folders: &[lsp::WorkspaceFolder]| {
            folders.iter().map(|folder| PathBuf::from(path_of(folder.uri.as_str()))).collect()
        };
        self.tell(Event::Folders(paths(&params.event.added), paths(&params.event.removed)));
    }

    async fn shutdown(&self) -> Result<()> {
        Ok(())
    }

    async fn did_open(&self, params: lsp::DidOpenTextDocumentParams) {
        let document = params.text_document;
        self.tell(Event::Open {
            uri: document.uri.as_str().to_string(),
            version: document.version,
            text: document.text,
        });
    }

    async fn did_change(&self, params: lsp::DidChangeTextDocumentParams) {
        let change =
            |change: lsp::TextDocumentContentChangeEvent| Change { span: change.range.map(span_of), text: change.text };
        self.tell(Event::Change {
            uri: params.text_document.uri.as_str().to_string(),
            version: params.text_document.version,
            changes: params.content_changes.into_iter().map(change).collect(),
        });
    }

    async fn did_save(&self, params: lsp::DidSaveTextDocumentParams) {
        self.tell(Event::Save(params.text_document.uri.as_str().to_string()));
    }

    async fn did_close(&self, params: lsp::DidCloseTextDocumentParams) {
        self.tell(Event::Close(params.text_document.uri.as_str().to_string()));
    }

    async fn goto_definition(&self, params: lsp::GotoDefinitionParams) -> Result<Option<lsp::GotoDefinitionResponse>> {
        let at = params.text_document_position_params;
        self.ask(Definition { uri: at.text_document.uri.as_str().to_string(), position: position_of(at.position) })
            .await
    }

    async fn goto_declaration(
        &self,
        params: lsp::request::GotoDeclarationParams,
    ) -> Result<Option<lsp::request::GotoDeclarationResponse>> {
        let (uri, position) = pointed_at(params.text_document_position_params);
        self.ask(Declaration(Definition { uri, position })).await
    }

    async fn goto_type_definition(
        &self,
        params: lsp::request::GotoTypeDefinitionParams,
    ) -> Result<Option<lsp::request::GotoTypeDefinitionResponse>> {
        let (uri, position) = pointed_at(params.text_document_position_params);
        self.ask(TypeDefinition { uri, position }).await
    }

    async fn references(&self, params: lsp::ReferenceParams) -> Result<Option<Vec<lsp::Location>>> {
        let (uri, position) = pointed_at(params.text_document_position);
        self.ask(References { uri, position, with_declaration: params.context.include_declaration }).await
    }

    async fn document_highlight(
        &self,
        params: lsp::DocumentHighlightParams,
    ) -> Result<Option<Vec<lsp::DocumentHighlight>>> {
        let (uri, position) = pointed_at(params.text_document_position_params);
        self.ask(Highlight { uri, position }).await
    }

    async fn prepare_rename(
        &self,
        params: lsp::TextDocumentPositionParams,
    ) -> Result<Option<lsp::PrepareRenameResponse>> {
        let (uri, position) = pointed_at(params);
        self.ask(Prepare { uri, position }).await.and_then(told)
    }

    async fn rename(&self, params: lsp::RenameParams) -> Result<Option<lsp::WorkspaceEdit>> {
        let (uri, position) = pointed_at(params.text_document_position);
        self.ask(Rename { uri, position, new: params.new_name }).await.and_then(told)
    }

    async fn folding_range(&self, params: lsp::FoldingRangeParams) -> Result<Option<Vec<lsp::FoldingRange>>> {
        self.ask(Folding { uri: params.text_document.uri.as_str().to_string() }).await
    }

    async fn selection_range(&self, params: lsp::SelectionRangeParams) -> Result<Option<Vec<lsp::SelectionRange>>> {
        let positions = params.positions.into_iter().map(position_of).collect();
        self.ask(Selection { uri: params.text_document.uri.as_str().to_string(), positions }).await
    }

    async fn document_link(&self, params: lsp::DocumentLinkParams) -> Result<Option<Vec<lsp::DocumentLink>>> {
        self.ask(Links { uri: params.text_document.uri.as_str().to_string() }).await
    }

    async fn symbol(&self, params: lsp::WorkspaceSymbolParams) -> Result<Option<lsp::WorkspaceSymbolResponse>> {
        self.ask_around(Finding { query: params.query }).await
    }

    async fn will_rename_files(&self, params: lsp::RenameFilesParams) -> Result<Option<lsp::WorkspaceEdit>> {
        let moves = params.files.into_iter().map(|file| (file.old_uri, file.new_uri)).collect();
        self.ask_around(Moving { moves }).await
    }

    async fn linked_editing_range(
        &self,
        params: lsp::LinkedEditingRangeParams,
    ) -> Result<Option<lsp::LinkedEditingRanges>> {
        let (uri, position) = pointed_at(params.text_document_position_params);
        self.ask(Linked { uri, position }).await
    }

    async fn hover(&self, params: lsp::HoverParams) -> Result<Option<lsp::Hover>> {
        let at = params.text_document_position_params;
        self.ask(Hover { uri: at.text_document.uri.as_str().to_string(), position: position_of(at.position) }).await
    }

    async fn completion(&self, params: lsp::CompletionParams) -> Result<Option<lsp::CompletionResponse>> {
        let at = params.text_document_position;
        self.ask(Completion {
            uri: at.text_document.uri.as_str().to_string(),
            position: position_of(at.position),
            trigger: params.context.and_then(|context| context.trigger_character),
        })
        .await
    }

    async fn completion_resolve(&self, mut item: lsp::CompletionItem) -> Result<lsp::CompletionItem> {
        if let Some(explain) = Explain::of(item.data.as_ref()) {
            item.documentation = self.ask(explain).await?;
        }
        Ok(item)
    }

    async fn signature_help(&self, params: lsp::SignatureHelpParams) -> Result<Option<lsp::SignatureHelp>> {
        self.ask(Signature::of(&params)).await
    }

    async fn document_symbol(&self, params: lsp::DocumentSymbolParams) -> Result<Option<lsp::DocumentSymbolResponse>> {
        self.ask(Symbols { uri: params.text_document.uri.as_str().to_string() }).await
    }

    async fn code_lens(&self, params: lsp::CodeLensParams) -> Result<Option<Vec<lsp::CodeLens>>> {
        self.ask(lenses::Lenses { uri: params.text_document.uri.as_str().to_string() }).await
    }

    async fn code_lens_resolve(&self, lens: lsp::CodeLens) -> Result<lsp::CodeLens> {
        let resolve = lenses::Resolve::of(lens);
        if resolve.whole() {
            return Ok(resolve.into_lens());
        }
        self.ask(resolve).await?.ok_or_else(changed)
    }

    async fn execute_command(&self, params: lsp::ExecuteCommandParams) -> Result<Option<lsp::LSPAny>> {
        let Some((uri, about)) = About::commanded(&params.command, &params.arguments) else {
            return Err(Error::invalid_params(format!("there is no command {} with these arguments", params.command)));
        };
        let Some(page) = self.ask(Page { uri, about }).await? else {
            return Err(Error::invalid_params("the document is not open, or has no such stage"));
        };
        let answer = serde_json::to_value(&page).ok();
        self.tell(Event::Show(page));
        Ok(answer)
    }

    async fn diagnostic(&self, params: lsp::DocumentDiagnosticParams) -> Result<lsp::DocumentDiagnosticReportResult> {
        let uri = params.text_document.uri.as_str().to_string();
        let Report(report) = self.ask(Pull { uri, previous: params.previous_result_id }).await?;
        serde_json::from_value(report).map_err(|_| Error::internal_error())
    }

    async fn workspace_diagnostic(
        &self,
        params: lsp::WorkspaceDiagnosticParams,
    ) -> Result<lsp::WorkspaceDiagnosticReportResult> {
        let held = self.ask_around(Designs).await?;
        let previous =
            params.previous_result_ids.into_iter().map(|id| (id.uri.as_str().to_string(), id.value)).collect();
        let token = |token: Option<lsp::ProgressToken>| token.and_then(|token| serde_json::to_value(token).ok());
        let survey = Survey {
            previous,
            progress: token(params.work_done_progress_params.work_done_token),
            partial: token(params.partial_result_params.partial_result_token),
            outbox: self.outbox.clone(),
            surveyed: self.surveyed.clone(),
        };
        let cancel = Cancel::default();
        let (send, answer) = oneshot::channel();
        let _cancel = CancelOnDrop(cancel.clone());
        let run = move || drop(send.send(survey.run(&held, &cancel)));
        let thread = std::thread::Builder::new().name("survey".into()).stack_size(super::workers::STACK).spawn(run);
        if let Err(error) = thread {
            tracing::warn!("nobody looks through the designs: {error}");
        }
        let report = answer.await.map_err(|_| Error::internal_error())?;
        serde_json::from_value(report).map_err(|_| Error::internal_error())
    }

    async fn inlay_hint_resolve(&self, hint: lsp::InlayHint) -> Result<lsp::InlayHint> {
        let asked = serde_json::to_value(&hint).unwrap_or_default();
        let Resolved(found) = self.ask(hints_resolved::Resolve::of(asked)).await?;
        // A hint of a document that has been closed since stays as it is.
        Ok(found.and_then(|found| serde_json::from_value(found).ok()).unwrap_or(hint))
    }

    async fn semantic_tokens_full(
        &self,
        params: lsp::SemanticTokensParams,
    ) -> Result<Option<lsp::SemanticTokensResult>> {
        self.ask(tokens::Whole { uri: params.text_document.uri.as_str().to_string() }).await
    }

    async fn semantic_tokens_full_delta(
        &self,
        params: lsp::SemanticTokensDeltaParams,
    ) -> Result<Option<lsp::SemanticTokensFullDeltaResult>> {
        let uri = params.text_document.uri.as_str().to_string();
        self.ask(Delta { uri, previous: params.previous_result_id }).await
    }

    async fn semantic_tokens_range(
        &self,
        params: lsp::SemanticTokensRangeParams,
    ) -> Result<Option<lsp::SemanticTokensRangeResult>> {
        let uri = params.text_document.uri.as_str().to_string();
        self.ask(tokens::Part { uri, span: span_of(params.range) }).await
    }

    async fn formatting(&self, params: lsp::DocumentFormattingParams) -> Result<Option<Vec<lsp::TextEdit>>> {
        self.ask(Whole { uri: params.text_document.uri.as_str().to_string() }).await
    }

    async fn range_formatting(&self, params: lsp::DocumentRangeFormattingParams) -> Result<Option<Vec<lsp::TextEdit>>> {
        self.ask(Lines { uri: params.text_document.uri.as_str().to_string(), span: span_of(params.range) }).await
    }

    async fn on_type_formatting(
        &self,
        params: lsp::DocumentOnTypeFormattingParams,
    ) -> Result<Option<Vec<lsp::TextEdit>>> {
        let at = params.text_document_position;
        self.ask(Typed {
            uri: at.text_document.uri.as_str().to_string(),
            position: position_of(at.position),
            typed: params.ch,
        })
        .await
    }
}
