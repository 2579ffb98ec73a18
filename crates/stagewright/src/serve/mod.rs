//! The language server.
//!
//! ```text
//!   reader ──> framework ──> owner ──> workers ──┐
//!   (thread)   (one task)    (thread)  (threads) │
//!   writer <─────────────────────────────────────┘
//! ```
//!
//! * The **reader** and the **writer** only move bytes, so that neither side of the pipe ever waits for a computation.
//! * The **framework** (tower-lsp) routes messages and keeps the order of life; its handlers send to the owner and compute nothing.
//! * The **owner** has the open documents and the workbench. It applies edits at once and in order.
//! * The **workers** compute on views. A newer text overtakes them: they unwind, and the [`schedule`] says what becomes of the work.
//!
//! Invariants: the types of the protocol, JSON and tokio stay inside this module; places are bytes everywhere but in [`position`]'s
//! callers that write to the client; every request is answered exactly once; a panic ends the work that it happened in and nothing else;
//! nothing waits on purpose, except for messages about the word that is being typed ([`document::UNDER_WAY`]).

use std::io::{self, Read, Write};

use tower_lsp::LspService;

pub use bench::{Bench, View};

mod abilities;
mod actions;
pub mod bench;
mod completion;
mod definition;
mod diagnostics;
pub mod document;
mod format;
mod front;
mod handlers;
mod hints;
mod hover;
mod moved;
mod offered;
mod outbox;
mod owner;
pub mod position;
mod reviewed;
pub mod schedule;
mod signature;
mod steady;
mod symbols;
mod tokens;
mod tokens_delta;
mod translate;
mod transport;
mod uri;
mod watch;
mod work;
mod workers;

/// How a session ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// The client asked to shut down first.
    Politely,
    /// It did not.
    Abruptly,
}

/// Serves one client until it leaves.
///
/// # Errors
/// If the system gives no runtime.
pub fn serve<B: Bench>(
    input: impl Read + Send + 'static,
    output: impl Write + Send + 'static,
    bench: B,
) -> io::Result<Ended> {
    let runtime = tokio::runtime::Builder::new_current_thread().build()?;
    let (inbox, closer) = transport::inbox(input);
    let outbox = outbox::Outbox::start(output);
    let session = front::Session::default();

    let mut owner = None;
    let build = LspService::build(|client| {
        let client = Client { client, runtime: runtime.handle().clone() };
        let sender = owner::start(bench, client, outbox.clone());
        owner = Some(sender.clone());
        handlers::Handlers { owner: sender, outbox: outbox.clone(), watch: watch::Watch::new(closer) }
    });
    let (service, socket) = build
        .custom_method(definition::CONTENT, handlers::Handlers::content)
        .custom_method("$/setTrace", handlers::Handlers::set_trace)
        .custom_method("window/workDoneProgress/cancel", handlers::Handlers::cancel_progress)
        .finish();
    let Some(owner) = owner else {
        return Err(io::Error::other("the framework did not build its handlers"));
    };
    let front = front::Front::new(service, owner.clone(), outbox.clone(), session.clone());
    runtime.block_on(transport::run(front, inbox, socket, outbox.clone()));

    let _ = owner.send(owner::Event::End);
    outbox.flush();
    Ok(if session.polite() { Ended::Politely } else { Ended::Abruptly })
}

/// The framework's handle on the client. What it is asked is sent by a task of its own: nobody waits for the answer.
struct Client {
    client: tower_lsp::Client,
    runtime: tokio::runtime::Handle,
}

impl owner::Client for Client {
    fn refresh_hints(&self) {
        let client = self.client.clone();
        self.runtime.spawn(async move {
            if let Err(error) = client.inlay_hint_refresh().await {
                tracing::debug!("the client did not fetch its hints again: {error}");
            }
        });
    }

    fn watch_files(&self) {
        let client = self.client.clone();
        let options = serde_json::json!({ "watchers": [{ "globPattern": "**/*.stage" }] });
        let registration = tower_lsp::ls_types::Registration {
            id: "designs-on-disk".to_string(),
            method: "workspace/didChangeWatchedFiles".to_string(),
            register_options: Some(options),
        };
        self.runtime.spawn(async move {
            if let Err(error) = client.register_capability(vec![registration]).await {
                tracing::debug!("the client does not watch the designs on disk: {error}");
            }
        });
    }
}
