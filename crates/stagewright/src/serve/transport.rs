//! Messages in and out of the framework.
//!
//! The framework's own transport is not used, for two reasons that were seen in it: it ends at the first message that cannot be read,
//! where a server has to answer with an error and go on; and it looks at no more messages while so many handlers wait. Here a thread
//! reads as fast as the client writes, so that a burst is drained before anything is computed, and every handler is begun in the order
//! in which its message came.

use std::io::{BufRead, BufReader, Read};
use std::thread;

use futures::stream::FuturesUnordered;
use futures::{FutureExt, SinkExt, StreamExt};
use serde::Deserialize;
use serde_json::Value;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};
use tower_lsp::ClientSocket;
use tower_lsp::jsonrpc::{Error, Id, Request, Response};

use super::bench::View;
use super::front::Front;
use super::outbox::Outbox;

/// A message from the client.
#[derive(Debug)]
pub enum Incoming {
    /// It asks or tells something.
    Request(Request),
    /// It answers.
    Response(Response),
    /// It is no message; this is what the client is told.
    Unreadable(Response),
    /// There will be no more.
    End,
}

/// The messages that came.
pub type Inbox = UnboundedReceiver<Incoming>;

/// Ends an [`Inbox`] from outside, as when the client's process is gone.
#[derive(Clone)]
pub struct Closer(UnboundedSender<Incoming>);

impl Closer {
    /// Ends it.
    pub fn close(&self) {
        let _ = self.0.send(Incoming::End);
    }
    /// Whether nobody reads it any more.
    pub fn is_closed(&self) -> bool {
        self.0.is_closed()
    }
}

/// Starts the thread that reads.
pub fn inbox(input: impl Read + Send + 'static) -> (Inbox, Closer) {
    let (queue, inbox) = unbounded_channel();
    let closer = Closer(queue.clone());
    let read = move || {
        let mut input = BufReader::with_capacity(64 << 10, input);
        while let Some(message) = next(&mut input) {
            if queue.send(message).is_err() {
                return;
            }
        }
        let _ = queue.send(Incoming::End);
    };
    thread::Builder::new().name("reader".into()).spawn(read).expect("the system gives the server its threads");
    (inbox, closer)
}

/// The next message; `None` at the end of the input.
fn next(input: &mut impl BufRead) -> Option<Incoming> {
    let Some(length) = header(input)? else {
        return Some(Incoming::Unreadable(Response::from_error(Id::Null, Error::parse_error())));
    };
    // A length that was made up reserves no memory: the body grows as it comes.
    let mut body = Vec::new();
    let read = input.take(length).read_to_end(&mut body).ok()?;
    (read as u64 == length).then(|| message(&body))
}

/// Reads up to the blank line; the length of the body, or `None` within if no line says it. Lines that are no header are passed over,
/// which is how the reader finds back after a body whose length was wrong.
fn header(input: &mut impl BufRead) -> Option<Option<u64>> {
    let mut length = None;
    let mut line = Vec::new();
    loop {
        line.clear();
        if input.read_until(b'\n', &mut line).ok()? == 0 {
            return None;
        }
        let text = String::from_utf8_lossy(&line);
        let text = text.trim_end();
        if text.is_empty() {
            return Some(length);
        }
        if let Some((name, value)) = text.split_once(':')
            && name.eq_ignore_ascii_case("content-length")
        {
            length = value.trim().parse().ok();
        }
    }
}

/// Sorts a body.
fn message(body: &[u8]) -> Incoming {
    let Ok(value) = serde_json::from_slice::<Value>(body) else {
        return Incoming::Unreadable(Response::from_error(Id::Null, Error::parse_error()));
    };
    let id = value.get("id").and_then(|id| Id::deserialize(id).ok()).unwrap_or_default();
    let sorted = if value.get("method").is_some() {
        Request::deserialize(value).map(Incoming::Request)
    } else {
        Response::deserialize(value).map(Incoming::Response)
    };
    sorted.unwrap_or_else(|_| Incoming::Unreadable(Response::from_error(id, Error::invalid_request())))
}

/// Passes messages between the client and the framework until the client leaves.
pub async fn run<V: View>(mut front: Front<V>, mut inbox: Inbox, socket: ClientSocket, outbox: Outbox) {
    let (mut asked, mut answers) = socket.split();
    let mut under_way = FuturesUnordered::new();
    loop {
        tokio::select! {
            biased;
            message = inbox.recv() => match message {
                Some(Incoming::Request(request)) => {
                    let last = request.method() == "exit";
                    let mut handler = front.call(request);
                    // Begun here and now: what it sends first is sent before the next message is looked at.
                    match (&mut handler).now_or_never() {
                        Some(response) => put(&outbox, response),
                        None => under_way.push(handler),
                    }
                    if last {
                        return;
                    }
                }
                Some(Incoming::Response(response)) => drop(answers.send(response).await),
                Some(Incoming::Unreadable(response)) => put(&outbox, Some(response)),
                Some(Incoming::End) | None => return,
            },
            Some(response) = under_way.next() => put(&outbox, response),
            Some(request) = asked.next() => outbox.message(&request),
        }
    }
}

fn put(outbox: &Outbox, response: Option<Response>) {
    if let Some(response) = response {
        outbox.message(&response);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(bytes: &[u8]) -> Vec<String> {
        let mut input = BufReader::new(bytes);
        let told = |message| match message {
            Incoming::Request(request) => request.method().to_string(),
            Incoming::Response(response) => format!("answer to {}", response.id()),
            Incoming::Unreadable(response) => response.error().unwrap().code.to_string(),
            Incoming::End => "end".to_string(),
        };
        std::iter::from_fn(|| next(&mut input)).map(told).collect()
    }

    fn framed(body: &str) -> String {
        format!("Content-Length: {}\r\n\r\n{body}", body.len())
    }

    #[test]
    fn requests_and_answers_are_told_apart() {
        let bytes = [
            framed(r#"{"jsonrpc":"2.0","id":1,"method":"owl/hoot"}"#),
            framed(r#"{"jsonrpc":"2.0","id":2,"result":null}"#),
            framed(r#"{"jsonrpc":"2.0","id":2,"error":{"code":-32601,"message":"no"}}"#),
        ];
        assert_eq!(all(bytes.concat().as_bytes()), ["owl/hoot", "answer to 2", "answer to 2"]);
    }

    #[test]
    fn header_names_are_of_any_case_and_others_are_passed_over() {
        let body = r#"{"jsonrpc":"2.0","method":"owl/hoot"}"#;
        let bytes =
            format!("Content-Type: application/json; charset=utf-8\r\ncontent-length:{}\r\n\r\n{body}", body.len());
        assert_eq!(all(bytes.as_bytes()), ["owl/hoot"]);
    }

    #[test]
    fn what_is_no_message_is_answered_and_the_next_is_read() {
        let good = framed(r#"{"jsonrpc":"2.0","method":"owl/hoot"}"#);
        for (bad, code) in [
            (framed("{\"jsonrpc\":"), "Parse error"),
            (framed("[1, 2]"), "Invalid request"),
            (framed(r#"{"jsonrpc":"1.0","method":"owl/hoot"}"#), "Invalid request"),
            (framed("\u{fffd}"), "Parse error"),
            ("Content-Length: owl\r\n\r\n".to_string(), "Parse error"),
            ("hoot\r\n\r\n".to_string(), "Parse error"),
        ] {
            let told = all(format!("{bad}{good}").as_bytes());
            assert_eq!(told.last().unwrap(), "owl/hoot", "after {bad}");
            assert_eq!(told.len(), 2, "{bad}: {told:?} {code}");
        }
    }

    #[test]
    fn a_body_that_breaks_off_and_a_length_without_end_are_the_end() {
        assert_eq!(all(b"Content-Length: 900\r\n\r\n{"), Vec::<String>::new());
        assert_eq!(all(b"Content-Length: 18446744073709551615\r\n\r\n{"), Vec::<String>::new());
    }
}
