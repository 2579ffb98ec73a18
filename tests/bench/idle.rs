//! A server on the same framework, with the framework's own transport, that does nothing: it has no hints and publishes an empty set at
//! every edit. What it takes is the floor that `latency` compares with.

use tower_lsp::jsonrpc::Result;
use tower_lsp::ls_types::*;
use tower_lsp::{Client, LanguageServer, LspService, Server};

struct Idle(Client);

impl LanguageServer for Idle {
    async fn initialize(&self, _: InitializeParams) -> Result<InitializeResult> {
        let capabilities = ServerCapabilities {
            text_document_sync: Some(TextDocumentSyncCapability::Kind(TextDocumentSyncKind::INCREMENTAL)),
            inlay_hint_provider: Some(OneOf::Left(true)),
            ..ServerCapabilities::default()
        };
        Ok(InitializeResult { capabilities, ..InitializeResult::default() })
    }
    async fn shutdown(&self) -> Result<()> {
        Ok(())
    }
    async fn did_open(&self, params: DidOpenTextDocumentParams) {
        let document = params.text_document;
        self.0.publish_diagnostics(document.uri, Vec::new(), Some(document.version)).await;
    }
    async fn did_change(&self, params: DidChangeTextDocumentParams) {
        let document = params.text_document;
        self.0.publish_diagnostics(document.uri, Vec::new(), Some(document.version)).await;
    }
    async fn inlay_hint(&self, _: InlayHintParams) -> Result<Option<Vec<InlayHint>>> {
        Ok(Some(Vec::new()))
    }
}

#[tokio::main]
async fn main() {
    let (service, socket) = LspService::new(Idle);
    Server::new(tokio::io::stdin(), tokio::io::stdout(), socket).serve(service).await;
}
