//! A small client of the language server protocol, for tests and for the benchmark: it writes messages and reads them, and knows no more.

use std::collections::VecDeque;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use stagewright::serve::{Bench, Ended, serve};

/// How long a client waits for a message before it gives the server up. No test measures time with it.
const PATIENCE: Duration = Duration::from_secs(60);

/// A message with the moment at which it had been read.
pub struct Received {
    /// What.
    pub message: Value,
    /// When.
    pub at: Instant,
}

/// A connection to a server.
pub struct Client {
    input: Option<Box<dyn Write + Send>>,
    output: Receiver<Received>,
    kept: VecDeque<Received>,
    next: i64,
    server: Option<JoinHandle<io::Result<Ended>>>,
}

impl Client {
    /// Talks to a server over the two ends of its pipes.
    pub fn over(input: impl Write + Send + 'static, output: impl Read + Send + 'static) -> Self {
        let (sender, messages) = channel();
        thread::spawn(move || {
            let mut output = BufReader::new(output);
            while let Some(body) = read(&mut output) {
                let at = Instant::now();
                let message = serde_json::from_slice(&body).expect("a server sends JSON");
                if sender.send(Received { message, at }).is_err() {
                    return;
                }
            }
        });
        Self { input: Some(Box::new(input)), output: messages, kept: VecDeque::new(), next: 0, server: None }
    }

    /// Starts a server on a thread of this process, with any workbench.
    pub fn in_process(bench: impl Bench) -> Self {
        let (server_input, input) = io::pipe().expect("a pipe");
        let (output, server_output) = io::pipe().expect("a pipe");
        let server = thread::spawn(move || serve(server_input, server_output, bench));
        Self { server: Some(server), ..Self::over(input, output) }
    }

    /// The same, and both have agreed to begin.
    pub fn begun(bench: impl Bench, capabilities: Value) -> Self {
        Self::wishing(bench, capabilities, Value::Null)
    }

    /// The same, of a client with wishes of its own.
    pub fn wishing(bench: impl Bench, capabilities: Value, wishes: Value) -> Self {
        let mut client = Self::in_process(bench);
        client.begin_with(capabilities, wishes);
        client
    }

    /// Agrees to begin; gives the server's answer.
    pub fn begin(&mut self, capabilities: Value) -> Value {
        self.begin_with(capabilities, Value::Null)
    }

    fn begin_with(&mut self, capabilities: Value, wishes: Value) -> Value {
        self.begin_as(json!({
            "processId": null, "rootUri": null, "capabilities": capabilities, "initializationOptions": wishes,
        }))
    }

    /// Agrees to begin with parameters of one's own; gives the server's answer.
    pub fn begin_as(&mut self, params: Value) -> Value {
        let answer = self.call("initialize", params);
        self.notify("initialized", json!({}));
        answer
    }

    /// Sends bytes as they are.
    pub fn send_bytes(&mut self, bytes: &[u8]) {
        let input = self.input.as_mut().expect("the input is still open");
        input.write_all(bytes).and_then(|()| input.flush()).expect("the server reads");
    }

    /// Sends a message.
    pub fn send(&mut self, message: &Value) {
        let framed = framed(message);
        self.send_bytes(&framed);
    }

    /// Sends a notification.
    pub fn notify(&mut self, method: &str, params: Value) {
        self.send(&json!({ "jsonrpc": "2.0", "method": method, "params": params }));
    }

    /// Sends a request and gives its number.
    pub fn request(&mut self, method: &str, params: Value) -> i64 {
        self.next += 1;
        self.send(&json!({ "jsonrpc": "2.0", "id": self.next, "method": method, "params": params }));
        self.next
    }

    /// Sends a request and waits for its result.
    pub fn call(&mut self, method: &str, params: Value) -> Value {
        let id = self.request(method, params);
        let answer = self.answer(id);
        assert!(answer.get("error").is_none(), "{method} was answered {answer}");
        answer["result"].clone()
    }

    /// Waits for the answer to a request; everything else that comes is kept.
    pub fn answer(&mut self, id: i64) -> Value {
        self.wait(|message| message.get("method").is_none() && message["id"] == id).message
    }

    /// Waits for a notification or a request of the server's.
    pub fn told(&mut self, method: &str) -> Value {
        self.wait(|message| message["method"] == method).message
    }

    /// Waits until the server asks that something be fetched again, and agrees.
    pub fn refreshed(&mut self, method: &str) {
        let asked = self.told(method);
        self.send(&json!({ "jsonrpc": "2.0", "id": asked["id"], "result": null }));
    }

    /// Waits for diagnostics of a version.
    pub fn diagnostics(&mut self, version: i32) -> Vec<Value> {
        let published = |message: &Value| {
            message["method"] == "textDocument/publishDiagnostics" && message["params"]["version"] == version
        };
        self.wait(published).message["params"]["diagnostics"].as_array().expect("a list").clone()
    }

    /// The first message that is looked for, of those kept and those to come.
    pub fn wait(&mut self, looked_for: impl Fn(&Value) -> bool) -> Received {
        if let Some(at) = self.kept.iter().position(|received| looked_for(&received.message)) {
            return self.kept.remove(at).expect("it was there");
        }
        let give_up = Instant::now() + PATIENCE;
        loop {
            match self.output.recv_timeout(give_up.saturating_duration_since(Instant::now())) {
                Ok(received) if looked_for(&received.message) => return received,
                Ok(received) => self.kept.push_back(received),
                Err(RecvTimeoutError::Timeout) => {
                    panic!("the server did not say what was waited for; kept: {:?}", self.messages())
                }
                Err(RecvTimeoutError::Disconnected) => panic!("the server left; kept: {:?}", self.messages()),
            }
        }
    }

    /// What came and was not waited for, up to now.
    pub fn messages(&mut self) -> Vec<Value> {
        self.kept.extend(self.output.try_iter());
        self.kept.drain(..).map(|received| received.message).collect()
    }

    /// Opens a document as version 1.
    pub fn open(&mut self, uri: &str, text: &str) {
        let document = json!({ "uri": uri, "languageId": "stage", "version": 1, "text": text });
        self.notify("textDocument/didOpen", json!({ "textDocument": document }));
    }

    /// Changes a document.
    pub fn change(&mut self, uri: &str, version: i32, changes: Value) {
        let document = json!({ "uri": uri, "version": version });
        self.notify("textDocument/didChange", json!({ "textDocument": document, "contentChanges": changes }));
    }

    /// Puts another text in the place of the whole document.
    pub fn replace(&mut self, uri: &str, version: i32, text: &str) {
        self.change(uri, version, json!([{ "text": text }]));
    }

    /// Asks for the hints of the first thousand lines.
    pub fn ask_hints(&mut self, uri: &str) -> i64 {
        self.request(
            "textDocument/inlayHint",
            json!({ "textDocument": { "uri": uri }, "range": range((0, 0), (1000, 0)) }),
        )
    }

    /// The labels of those hints.
    pub fn labels(&mut self, uri: &str) -> Vec<String> {
        let id = self.ask_hints(uri);
        let answer = self.answer(id);
        labels(&answer["result"])
    }

    /// Closes the server's input and waits until it has left.
    pub fn leave(&mut self) -> Ended {
        self.input = None;
        self.left()
    }

    /// Waits until the server has left.
    pub fn left(&mut self) -> Ended {
        let server = self.server.take().expect("it runs in this process");
        server.join().expect("the server does not panic").expect("the server ran")
    }

    /// Shuts down as the protocol wants it and waits until the server has left.
    pub fn shut_down(&mut self) -> Ended {
        assert_eq!(self.call("shutdown", Value::Null), Value::Null);
        self.notify("exit", Value::Null);
        let server = self.server.take().expect("it runs in this process");
        server.join().expect("the server does not panic").expect("the server ran")
    }
}

/// A message with its header.
pub fn framed(message: &Value) -> Vec<u8> {
    let body = message.to_string();
    format!("Content-Length: {}\r\n\r\n{body}", body.len()).into_bytes()
}

/// The labels of hints, put together where they come in parts.
pub fn labels(hints: &Value) -> Vec<String> {
    let hints = hints.as_array().unwrap_or_else(|| panic!("hints are a list, not {hints}"));
    hints.iter().map(|hint| label(&hint["label"])).collect()
}

fn label(label: &Value) -> String {
    let parts = || label.as_array().into_iter().flatten().filter_map(|part| part["value"].as_str()).collect();
    label.as_str().map_or_else(parts, str::to_string)
}

/// A range as the protocol has it.
pub fn range(start: (u32, u32), end: (u32, u32)) -> Value {
    let at = |(line, character)| json!({ "line": line, "character": character });
    json!({ "start": at(start), "end": at(end) })
}

/// What a column counts a character as.
pub type Width = fn(char) -> usize;

/// The text after edits whose columns count in units of `width`, as an editor makes them: all of them in the text as it was.
pub fn edited(text: &str, edits: &Value, width: Width) -> String {
    let byte = |at: &Value| {
        let line = at["line"].as_u64().expect("a line") as usize;
        let start: usize = text.split_inclusive('\n').take(line).map(str::len).sum();
        let mut column = at["character"].as_u64().expect("a column") as usize;
        let mut byte = start;
        for c in text[start..].chars().take_while(|c| *c != '\n') {
            if column == 0 {
                break;
            }
            column -= width(c);
            byte += c.len_utf8();
        }
        assert_eq!(column, 0, "a column behind the line's end");
        byte
    };
    let mut edits: Vec<(usize, usize, &str)> = edits
        .as_array()
        .unwrap_or_else(|| panic!("edits are a list, not {edits}"))
        .iter()
        .map(|e| (byte(&e["range"]["start"]), byte(&e["range"]["end"]), e["newText"].as_str().expect("text")))
        .collect();
    edits.sort();
    assert!(edits.windows(2).all(|two| two[0].1 <= two[1].0), "no two edits overlap");
    let mut out = text.to_string();
    for (start, end, new) in edits.into_iter().rev() {
        out.replace_range(start..end, new);
    }
    out
}

/// The next message's body; `None` at the end.
fn read(output: &mut impl BufRead) -> Option<Vec<u8>> {
    let mut length = None;
    loop {
        let mut line = String::new();
        if output.read_line(&mut line).ok()? == 0 {
            return None;
        }
        let line = line.trim_end();
        if line.is_empty() {
            break;
        }
        length = line.strip_prefix("Content-Length: ").map_or(length, |n| n.parse::<usize>().ok());
    }
    let mut body = vec![0; length?];
    output.read_exact(&mut body).ok()?;
    Some(body)
}
