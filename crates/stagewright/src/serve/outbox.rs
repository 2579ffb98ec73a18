//! What goes to the client: whole messages in one queue, written by one thread, so that nothing that computes ever waits for a reader.

use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};
use std::thread;

use crossbeam_channel::{Sender, bounded, unbounded};
use serde::Serialize;

enum Out {
    Message(Vec<u8>),
    Flushed(Sender<()>),
}

/// The queue's end that messages are put into. Cheap to clone.
#[derive(Clone)]
pub struct Outbox {
    queue: Sender<Out>,
    trace: Arc<AtomicU8>,
}

/// How much the client wants to hear of what the server does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trace {
    /// Nothing.
    Off = 0,
    /// A line a piece of work.
    On = 1,
}

impl Outbox {
    /// Starts the thread that writes.
    pub fn start(mut output: impl Write + Send + 'static) -> Self {
        let (queue, messages) = unbounded();
        thread::Builder::new()
            .name("writer".into())
            .spawn(move || {
                // Once the client is gone its messages are thrown away; the reader's end ends the server.
                let mut gone = false;
                for out in messages {
                    match out {
                        Out::Message(bytes) => {
                            gone |= !gone && output.write_all(&bytes).and_then(|()| output.flush()).is_err()
                        }
                        Out::Flushed(done) => drop(done),
                    }
                }
            })
            .expect("the system gives the server its threads");
        Self { queue, trace: Arc::default() }
    }

    /// Queues one message with its header.
    fn put(&self, bytes: Vec<u8>) {
        let _ = self.queue.send(Out::Message(bytes));
    }

    /// Queues a message of parts that are JSON when they stand in a row.
    fn put_parts(&self, parts: &[&[u8]]) {
        let length: usize = parts.iter().map(|part| part.len()).sum();
        let mut message = Vec::with_capacity(length + 40);
        // A `Vec` takes whatever is written to it.
        let _ = write!(message, "Content-Length: {length}\r\n\r\n");
        for part in parts {
            message.extend_from_slice(part);
        }
        self.put(message);
    }

    /// Queues a message.
    pub fn message(&self, message: &impl Serialize) {
        self.put_parts(&[&json(message)]);
    }

    /// Queues a notification whose parameters are written as JSON already.
    pub fn notify_written(&self, method: &str, params: &[u8]) {
        self.put_parts(&[br#"{"jsonrpc":"2.0","method":"#, &json(&method), br#","params":"#, params, b"}"]);
    }

    /// Queues a notification.
    pub fn notify(&self, method: &str, params: impl Serialize) {
        self.notify_written(method, &json(&params));
    }

    /// Tells something under a token that the client gave or was given.
    pub fn progress(&self, token: &impl Serialize, value: impl Serialize) {
        self.notify("$/progress", serde_json::json!({ "token": token, "value": value }));
    }

    /// Queues the answer of a request, written as JSON already.
    pub fn answer_written(&self, id: &impl Serialize, result: &[u8]) {
        self.put_parts(&[br#"{"jsonrpc":"2.0","id":"#, &json(id), br#","result":"#, result, b"}"]);
    }

    /// Queues that a request has no answer.
    pub fn fail(&self, id: &impl Serialize, code: i64, message: &str) {
        let error = json(&serde_json::json!({ "code": code, "message": message }));
        self.put_parts(&[br#"{"jsonrpc":"2.0","id":"#, &json(id), br#","error":"#, &error, b"}"]);
    }

    /// Shows a line in the client's log, as an error.
    pub fn log_message(&self, message: &str) {
        self.notify("window/logMessage", serde_json::json!({ "type": 1, "message": message }));
    }

    /// Shows a sentence to whoever sits at the client, as a warning.
    pub fn show_warning(&self, message: &str) {
        self.notify("window/showMessage", serde_json::json!({ "type": 2, "message": message }));
    }

    /// Sets how much the client wants to hear.
    pub fn set_trace(&self, trace: Trace) {
        self.trace.store(trace as u8, Ordering::Relaxed);
    }

    /// Tells the client a line about the server's work, if it wants to hear it.
    pub fn trace(&self, message: impl FnOnce() -> String) {
        if self.trace.load(Ordering::Relaxed) != Trace::Off as u8 {
            self.notify("$/logTrace", serde_json::json!({ "message": message() }));
        }
    }

    /// Waits until everything queued so far is written.
    pub fn flush(&self) {
        let (done, written) = bounded::<()>(0);
        let _ = self.queue.send(Out::Flushed(done));
        let _ = written.recv();
    }
}

/// Plain data as JSON. It has no maps with keys that are not text, so it can always be written.
pub fn json(value: &impl Serialize) -> Vec<u8> {
    serde_json::to_vec(value).unwrap_or_else(|_| b"null".to_vec())
}
