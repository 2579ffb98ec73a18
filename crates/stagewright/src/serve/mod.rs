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
//! * The **workspace** (a thread, begun where the client has folders) reads the designs of those folders; what is asked of all of them, and what wants
//!   to know which files include a document, goes by way of it, so that nobody else waits for a disk.
//!
//! Invariants: the types of the protocol, JSON and tokio stay inside this module; places are bytes everywhere but in [`position`]'s
//! callers that write to the client; every request is answered exactly once; a panic ends the work that it happened in and nothing else;
//! nothing waits on purpose, except for messages about the word that is being typed ([`document::UNDER_WAY`]).

use std::io::{self, Read, Write};
use std::sync::Arc;

use crossbeam_channel::Sender;
use tower_lsp::LspService;

pub use bench::{Bench, View};

mod abilities;
mod actions;
pub mod bench;
mod check;
mod completion;
mod definition;
mod diagnostics;
pub mod document;
mod elsewhere;
mod finding;
mod folding;
mod format;
mod front;
mod handlers;
mod highlight;
mod hints;
mod hints_resolved;
mod hover;
mod lenses;
mod linked;
mod links;
mod moved;
mod moving;
mod offered;
mod outbox;
mod owner;
mod pages;
pub mod position;
mod progress;
mod pull;
mod references;
mod rename;
mod reviewed;
pub mod schedule;
mod selection;
mod settings;
mod signature;
mod snippet;
mod steady;
mod survey;
mod symbols;
mod tokens;
mod tokens_delta;
mod translate;
mod transport;
mod uri;
mod watch;
mod work;
mod workers;
mod workspace;

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
        let runtime = runtime.handle().clone();
        let running = progress::Running::default();
        let client = |owner| Client { client, runtime, owner };
        let sender = owner::start(bench, client, outbox.clone(), running.clone());
        owner = Some(sender.clone());
        handlers::Handlers {
            owner: sender,
            outbox: outbox.clone(),
            watch: watch::Watch::new(closer),
            session: session.clone(),
            running,
            surveyed: survey::Surveyed::default(),
        }
    });
    let (service, socket) = build
        .custom_method(definition::CONTENT, handlers::Handlers::content)
        .custom_method(actions::OWN_METHOD, handlers::Handlers::own_code_action)
        .custom_method(actions::OWN_RESOLVE, handlers::Handlers::own_code_action_resolve)
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
struct Client<V: View> {
    client: tower_lsp::Client,
    runtime: tokio::runtime::Handle,
    owner: Sender<owner::Event<V>>,
}

impl<V: View> Client<V> {
    /// Asks the client to tell the server something from now on.
    fn register(&self, id: &str, method: &'static str, options: serde_json::Value) {
        let client = self.client.clone();
        let registration = tower_lsp::ls_types::Registration {
            id: id.to_string(),
            method: method.to_string(),
            register_options: Some(options),
        };
        self.runtime.spawn(async move {
            if let Err(error) = client.register_capability(vec![registration]).await {
                tracing::debug!("the client does not tell {method}: {error}");
            }
        });
    }
}

impl<V: View> owner::Client for Client<V> {
    fn refresh_hints(&self) {
        let client = self.client.clone();
        self.runtime.spawn(async move {
            if let Err(error) = client.inlay_hint_refresh().await {
                tracing::debug!("the client did not fetch its hints again: {error}");
            }
        });
    }

    fn refresh_lenses(&self) {
        let client = self.client.clone();
        self.runtime.spawn(async move {
            if let Err(error) = client.code_lens_refresh().await {
                tracing::debug!("the client did not fetch its lenses again: {error}");
            }
        });
    }

    fn show_document(&self, uri: tower_lsp::ls_types::Uri) {
        let client = self.client.clone();
        let shown =
            tower_lsp::ls_types::ShowDocumentParams { uri, external: None, take_focus: Some(true), selection: None };
        self.runtime.spawn(async move {
            if let Err(error) = client.show_document(shown).await {
                tracing::debug!("the client did not show a page: {error}");
            }
        });
    }

    fn refresh_diagnostics(&self) {
        let client = self.client.clone();
        self.runtime.spawn(async move {
            if let Err(error) = client.workspace_diagnostic_refresh().await {
                tracing::debug!("the client did not ask for diagnostics again: {error}");
            }
        });
    }

    fn place(&self) -> progress::Place {
        let (client, runtime) = (self.client.clone(), self.runtime.clone());
        Arc::new(move |token| runtime.block_on(client.create_work_done_progress(token)).is_ok())
    }

    fn ask_settings(&self) {
        let (client, owner) = (self.client.clone(), self.owner.clone());
        let asked = tower_lsp::ls_types::ConfigurationItem { scope_uri: None, section: Some(settings::SECTION.into()) };
        self.runtime.spawn(async move {
            match client.configuration(vec![asked]).await {
                Ok(sections) => {
                    drop(owner.send(owner::Event::Settings(sections.into_iter().next().unwrap_or_default())))
                }
                Err(error) => tracing::debug!("the client did not tell its configuration: {error}"),
            }
        });
    }

    fn hear_settings(&self) {
        let options = serde_json::json!({ "section": settings::SECTION });
        self.register("settings", "workspace/didChangeConfiguration", options);
    }

    fn watch_files(&self) {
        let options = serde_json::json!({ "watchers": [{ "globPattern": "**/*.stage" }] });
        self.register("designs-on-disk", "workspace/didChangeWatchedFiles", options);
    }
}
