//! What stands in front of the framework's own service: hints, whose answers are written straight to bytes; the fence around handlers;
//! and how the session ended.
//!
//! A handler's answer is turned into a tree of JSON values and that into text. For the hints of a whole file this costs more than
//! computing them, so hint requests pass by the handlers: they go to the owner from here, in the same order as the handlers' messages,
//! and a worker writes the answer.

use std::collections::HashMap;
use std::panic::AssertUnwindSafe;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, OnceLock};

use crossbeam_channel::Sender;
use futures::FutureExt;
use futures::future::BoxFuture;
use serde::Deserialize;
use tower_lsp::jsonrpc::{self, Error, ErrorCode, Id, Response};
use tower_lsp::{LspService, ls_types as lsp};
use tower_service::Service;

use super::actions;
use super::bench::View;
use super::handlers::{Handlers, error_of};
use super::hints::{Hints, Written};
use super::outbox::Outbox;
use super::owner::Event;
use super::translate::span_of;
use super::work::{Cancel, Feature, Refusal, Reply, Request};
use super::workers::Broken;

/// How far the session has come. Cheap to clone.
#[derive(Clone, Debug, Default)]
pub struct Session {
    running: Arc<AtomicBool>,
    polite: Arc<AtomicBool>,
    capabilities: Arc<OnceLock<lsp::LSPAny>>,
}

impl Session {
    /// Whether requests are answered: between the agreement and the client's wish to shut down.
    fn running(&self) -> bool {
        self.running.load(Ordering::Acquire)
    }
    /// What is said of a request that comes before or behind that time.
    fn out_of_time(&self) -> Error {
        let (code, message) = if self.polite() {
            (-32600, "the server has been told to shut down")
        } else {
            (-32002, "a session begins with initialize")
        };
        Error { code: ErrorCode::from(code), message: message.into(), data: None }
    }
    /// The client's capabilities as it wrote them, with what the framework's types do not know.
    pub fn capabilities(&self) -> Option<&lsp::LSPAny> {
        self.capabilities.get()
    }
    fn run(&self) {
        self.running.store(true, Ordering::Release);
    }
    fn shut_down(&self) {
        self.running.store(false, Ordering::Release);
        self.polite.store(true, Ordering::Release);
    }
    /// Whether the client asked to shut down before it went.
    pub fn polite(&self) -> bool {
        self.polite.load(Ordering::Acquire)
    }
}

/// Hint requests that are owed an answer. Whoever takes a line out of it is the one who answers.
type Owed = Arc<Mutex<HashMap<Id, Cancel>>>;

/// The service in front.
pub struct Front<V: View> {
    inner: LspService<Handlers<V>>,
    desk: Desk<V>,
    session: Session,
}

/// Where hint requests are taken in.
#[derive(Clone)]
struct Desk<V: View> {
    owner: Sender<Event<V>>,
    outbox: Outbox,
    owed: Owed,
}

fn take(owed: &Owed, id: &Id) -> Option<Cancel> {
    owed.lock().ok()?.remove(id)
}

impl<V: View> Front<V> {
    /// Stands in front of `inner`.
    pub fn new(inner: LspService<Handlers<V>>, owner: Sender<Event<V>>, outbox: Outbox, session: Session) -> Self {
        let owed = Owed::default();
        Self { inner, desk: Desk { owner, outbox, owed }, session }
    }
}

impl<V: View> Desk<V> {
    /// Puts a hint request to the owner; the answer goes past the framework.
    fn hints(&self, id: Id, params: Option<lsp::LSPAny>) -> Option<Response> {
        let params = match lsp::InlayHintParams::deserialize(params.unwrap_or_default()) {
            Ok(params) => params,
            Err(error) => {
                return Some(Response::from_error(id, Error::invalid_params(error.to_string())));
            }
        };
        let cancel = Cancel::default();
        match self.owed.lock() {
            Ok(mut owed) if !owed.contains_key(&id) => owed.insert(id.clone(), cancel.clone()),
            // The same number twice, before the first is answered.
            _ => return Some(Response::from_error(id, Error::invalid_request())),
        };
        let (outbox, owed) = (self.outbox.clone(), self.owed.clone());
        let reply = Reply::new(cancel, move |answer: Result<Written, Refusal>| {
            if take(&owed, &id).is_some() {
                match answer {
                    Ok(written) => outbox.answer_written(&id, &written.0),
                    Err(refusal) => {
                        let (code, message) = error_of(refusal);
                        outbox.fail(&id, code, message);
                    }
                }
            }
        });
        let hints = Hints { uri: params.text_document.uri.as_str().to_string(), span: span_of(params.range) };
        let _ = self.owner.send(Event::Ask(Box::new(Request::new(hints, reply))));
        None
    }

    /// Answers `$/cancelRequest` for a hint request; other numbers are the framework's business.
    fn cancel(&self, params: Option<&lsp::LSPAny>) -> bool {
        let Some(id) = params.and_then(|params| Id::deserialize(params.get("id")?).ok()) else {
            return false;
        };
        let Some(cancel) = take(&self.owed, &id) else {
            return false;
        };
        cancel.set();
        let (code, message) = error_of(Refusal::Cancelled);
        self.outbox.fail(&id, code, message);
        true
    }
}

/// Requests whose answers hold what the framework's types do not know go to handlers of this server's own.
fn own(request: jsonrpc::Request) -> jsonrpc::Request {
    let method = match request.method() {
        "textDocument/codeAction" => actions::OWN_METHOD,
        "codeAction/resolve" => actions::OWN_RESOLVE,
        _ => return request,
    };
    let (_, id, params) = request.into_parts();
    let mut own = jsonrpc::Request::build(method);
    if let Some(id) = id {
        own = own.id(id);
    }
    own.params(params.unwrap_or_default()).finish()
}

impl<V: View> Front<V> {
    /// Begins a handler. Polled first in the order of the calls, handlers send in that order.
    pub fn call(&mut self, request: jsonrpc::Request) -> BoxFuture<'static, Option<Response>> {
        let method = request.method();
        // The framework looks first whether it knows the method; the protocol asks first whether it is time for one.
        if let Some(id) =
            request.id().filter(|_| !self.session.running() && !matches!(method, "initialize" | "shutdown"))
        {
            let response = Response::from_error(id.clone(), self.session.out_of_time());
            return Box::pin(async move { Some(response) });
        }
        if method == Hints::METHOD && self.session.running() && request.id().is_some() {
            let desk = self.desk.clone();
            let (_, id, params) = request.into_parts();
            // Sent when first polled, which is when the handlers of earlier messages have sent theirs.
            return Box::pin(async move { id.and_then(|id| desk.hints(id, params)) });
        }
        if method == "$/cancelRequest" {
            let desk = self.desk.clone();
            let params = request.params().cloned();
            let inner = self.inner.call(request);
            return Box::pin(async move {
                if !desk.cancel(params.as_ref()) {
                    let _ = inner.await;
                }
                None
            });
        }
        if method == "shutdown" && request.id().is_some() && self.session.running() {
            self.session.shut_down();
        }
        let begins = method == "initialize";
        if begins && let Some(able) = request.params().and_then(|params| params.get("capabilities")) {
            let _ = self.session.capabilities.set(able.clone());
        }
        let request = own(request);
        let id = request.id().cloned();
        let (session, outbox) = (self.session.clone(), self.desk.outbox.clone());
        // Only a request's parameters are kept for the log: a document is too long to copy for a case that has never come up.
        let params = id.as_ref().and_then(|_| request.params().cloned());
        let method = request.method().to_string();
        let inner = self.inner.call(request);
        Box::pin(async move {
            match AssertUnwindSafe(inner).catch_unwind().await {
                Ok(done) => {
                    let response = done.unwrap_or_default();
                    if begins && response.as_ref().is_some_and(Response::is_ok) {
                        session.run();
                    }
                    // The framework leaves unknown requests whose names begin with `$/` without an answer; the protocol does not.
                    response.or_else(|| id.map(|id| Response::from_error(id, Error::method_not_found())))
                }
                Err(payload) => {
                    let params = params.map_or_else(String::new, |params| params.to_string());
                    Broken { method: &method, params, document: None }.log(payload.as_ref(), &outbox);
                    id.map(|id| Response::from_error(id, Error::internal_error()))
                }
            }
        })
    }
}
