//! How far long work has come, for a client that shows it; and the way to take it back.

use std::collections::HashMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, unbounded};
use serde_json::json;
use tower_lsp::ls_types as lsp;

use super::outbox::Outbox;
use super::work::Cancel;

/// Work that is done sooner is not told: what comes and goes in a moment only distracts.
const LONG: Duration = Duration::from_millis(500);

/// Steps that follow one another sooner are told together.
const OFTEN: Duration = Duration::from_millis(100);

/// What is under way, by the token that the client knows it by. Cheap to clone.
#[derive(Clone, Default)]
pub struct Running(Arc<Mutex<HashMap<String, Cancel>>>);

impl Running {
    /// Takes back the work of a token; says whether there is any.
    pub fn cancel(&self, token: &str) -> bool {
        let found = self.0.lock().ok().and_then(|running| running.get(token).cloned());
        found.inspect(Cancel::set).is_some()
    }

    fn begin(&self, token: &str, cancel: Cancel) {
        if let Ok(mut running) = self.0.lock() {
            running.insert(token.to_string(), cancel);
        }
    }

    fn end(&self, token: &str) {
        if let Ok(mut running) = self.0.lock() {
            running.remove(token);
        }
    }
}

/// Where work tells how far it has come. It ends when this is dropped.
pub struct Progress {
    steps: Option<Sender<(usize, usize)>>,
}

impl Progress {
    /// Tells nobody.
    pub fn silent() -> Self {
        Self { steps: None }
    }

    /// Tells that so many steps of so many are done.
    pub fn report(&self, done: usize, all: usize) {
        if let Some(steps) = &self.steps {
            let _ = steps.send((done, all));
        }
    }
}

/// Asks the client for a place to show progress under a token; answers whether there is one. It may wait.
pub type Place = Arc<dyn Fn(lsp::ProgressToken) -> bool + Send + Sync>;

/// What a progress needs of the session. Cheap to clone.
#[derive(Clone)]
pub struct Teller {
    /// To the client.
    pub outbox: Outbox,
    /// What is under way.
    pub running: Running,
    /// How a place is asked for.
    pub place: Place,
}

impl Teller {
    /// Begins to tell of work that `cancel` takes back, once it has lasted. A thread of its own waits for the client.
    pub fn begin(&self, title: &str, cancel: Cancel) -> Progress {
        let (sender, steps) = unbounded();
        let (teller, title) = (self.clone(), title.to_string());
        let told = thread::Builder::new().name("progress".into()).spawn(move || teller.tell(&title, cancel, &steps));
        Progress { steps: told.is_ok().then_some(sender) }
    }

    fn tell(&self, title: &str, cancel: Cancel, steps: &Receiver<(usize, usize)>) {
        thread::sleep(LONG);
        let mut newest = None;
        if drained(steps, &mut newest) {
            return;
        }
        static TOKENS: AtomicU64 = AtomicU64::new(0);
        let token = format!("stagewright/{}", TOKENS.fetch_add(1, Ordering::Relaxed));
        if !(self.place)(lsp::ProgressToken::String(token.clone())) {
            return;
        }
        self.running.begin(&token, cancel);
        let told = |value: serde_json::Value| self.outbox.progress(&token, value);
        told(json!({ "kind": "begin", "title": title, "cancellable": true, "percentage": 0 }));
        loop {
            let ended = drained(steps, &mut newest);
            if let Some((done, all)) = newest.take() {
                let percentage = 100 * done.min(all) / all.max(1);
                told(json!({ "kind": "report", "message": format!("{done} of {all}"), "percentage": percentage }));
            }
            if ended {
                break;
            }
            match steps.recv_timeout(Duration::from_secs(3600)) {
                Ok(step) => newest = Some(step),
                Err(RecvTimeoutError::Timeout) => continue,
                Err(RecvTimeoutError::Disconnected) => break,
            }
            thread::sleep(OFTEN);
        }
        self.running.end(&token);
        told(json!({ "kind": "end" }));
    }
}

/// Takes the newest of what has been told; says whether no more will come.
fn drained(steps: &Receiver<(usize, usize)>, newest: &mut Option<(usize, usize)>) -> bool {
    loop {
        match steps.try_recv() {
            Ok(step) => *newest = Some(step),
            Err(error) => return error.is_disconnected(),
        }
    }
}
