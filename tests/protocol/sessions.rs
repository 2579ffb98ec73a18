//! Sessions of real editors, played back: what each said to the server, in the order in which it said it, with the server's replies where
//! the editor had them. `tests/editors/keep_sessions.py` keeps them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::{Client, labels};

/// What the protocol has for requests that the text, or the client, has overtaken.
const OVERTAKEN: [i64; 3] = [-32800, -32801, -32802];

/// How long the server may take to show at last what it owes. No test measures time with it.
const PATIENCE: Duration = Duration::from_secs(30);

/// An editor at its keys again.
struct Player {
    client: Client,
    /// The replies that came, by the number of their request.
    replies: BTreeMap<String, Vec<Value>>,
    /// What the editor said to a request of the server's, by the method.
    says: BTreeMap<String, Value>,
    /// The editor has gone and answers no more.
    gone: bool,
}

impl Player {
    /// Takes in what has come, and answers the server's own requests as the editor did.
    fn attend(&mut self) {
        for message in self.client.messages() {
            self.take(&message);
        }
    }

    fn take(&mut self, message: &Value) {
        match (message.get("method").and_then(Value::as_str), message.get("id")) {
            (Some(_), _) if self.gone => {}
            (None, Some(id)) => self.replies.entry(id.to_string()).or_default().push(message.clone()),
            (Some("workspace/configuration"), Some(id)) => {
                let items = message["params"]["items"].as_array().map_or(0, Vec::len);
                let said = self
                    .says
                    .get("workspace/configuration")
                    .filter(|said| said.as_array().is_some_and(|s| s.len() == items));
                let result = said.cloned().unwrap_or_else(|| json!(vec![Value::Null; items]));
                self.client.send(&json!({ "jsonrpc": "2.0", "id": id, "result": result }));
            }
            (Some(method), Some(id)) => {
                let result = self.says.get(method).cloned().unwrap_or(Value::Null);
                self.client.send(&json!({ "jsonrpc": "2.0", "id": id, "result": result }));
            }
            _ => {}
        }
    }

    /// Waits for the reply to a request.
    fn wait(&mut self, id: &Value) -> Value {
        let key = id.to_string();
        loop {
            if let Some(reply) = self.replies.get(&key).and_then(|replies| replies.first()) {
                return reply.clone();
            }
            let next = self.client.wait(|message| message.get("id").is_some());
            self.take(&next.message);
        }
    }
}

impl Player {
    /// The last thing before the end: what the server would show now is what `show` prints.
    fn ends(&mut self, uri: Option<&str>, text: &str, path: &Path) {
        let uri = uri.unwrap_or_else(|| panic!("{} opens nothing", path.display()));
        let range = json!({ "start": { "line": 0, "character": 0 }, "end": { "line": 10_000, "character": 0 } });
        let params = json!({ "textDocument": { "uri": uri }, "range": range });
        // Readings that take long come a moment later, and a word that was just typed counts as meant a moment later.
        let until = Instant::now() + PATIENCE;
        for turn in 0.. {
            let id = json!(format!("at the end {turn}"));
            self.client
                .send(&json!({ "jsonrpc": "2.0", "id": id, "method": "textDocument/inlayHint", "params": params }));
            let reply = self.wait(&id);
            self.replies.remove(&id.to_string());
            let now = labels(&reply["result"]);
            if now == shown(text) {
                return;
            }
            assert!(Instant::now() < until, "{}: {now:#?} in place of {:#?}", path.display(), shown(text));
            sleep(Duration::from_millis(50));
        }
    }
}

/// The recording of an editor, with a folder of this test in the place of the one that it had.
fn recording(path: &Path, folder: &Path) -> Vec<Value> {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let folder = folder.to_str().expect("a folder that can be written down");
    let text = ["@FOLDER@", "@HOME@", "@TEST@", "@ROOT@"].iter().fold(text, |text, name| text.replace(name, folder));
    text.lines().map(|line| serde_json::from_str(line).expect("a line is JSON")).collect()
}

/// The labels that `show` prints for a text, in order.
fn shown(text: &str) -> Vec<String> {
    let mut bench = Workbench::new();
    bench.set_text("design", text.into());
    let mut hints = bench.snapshot().hints("design", None);
    hints.sort_by_key(|hint| hint.at);
    hints.into_iter().map(|hint| hint.label).collect()
}

/// Plays a recording back; how many requests it held.
fn play(path: &Path) -> usize {
    let folder = tempfile::tempdir().expect("a folder");
    let lines = recording(path, folder.path());
    let mut says = BTreeMap::new();
    let mut asked_by_server: BTreeMap<String, String> = BTreeMap::new();
    for line in &lines {
        if let Some(method) = line["asks"].as_str() {
            asked_by_server.insert(line["id"].to_string(), method.to_string());
        }
        let said = &line["editor"];
        if said.get("method").is_none()
            && let Some(method) = said.get("id").and_then(|id| asked_by_server.get(&id.to_string()))
        {
            says.insert(method.clone(), said["result"].clone());
        }
    }
    let mut player =
        Player { client: Client::in_process(Workbench::new()), replies: BTreeMap::new(), says, gone: false };
    let mut requests: BTreeMap<String, (Value, Value)> = BTreeMap::new();
    let mut refused: BTreeMap<String, i64> = BTreeMap::new();
    let ends = lines.last().and_then(|line| line["ends"].as_str()).expect("the last line is the text at the end");
    let mut uri = None;
    let mut checked = false;
    let mut exited = false;
    // What closes the document behind its last edit ends the session, as far as there is anything to show.
    let edits = |line: &Value| {
        matches!(line["editor"]["method"].as_str(), Some("textDocument/didOpen" | "textDocument/didChange"))
    };
    let edited = lines.iter().rposition(edits).expect("something is opened");
    for (at, line) in lines.iter().enumerate() {
        player.attend();
        if let Some(id) = line.get("reply") {
            player.wait(id);
            if let Some(code) = line["error"].as_i64() {
                refused.insert(id.to_string(), code);
            }
        }
        let Some(said) = line.get("editor").filter(|said| said.get("method").is_some()) else { continue };
        let method = said["method"].as_str().expect("a method is text");
        if method == "textDocument/didOpen" {
            uri = said["params"]["textDocument"]["uri"].as_str().map(str::to_string);
        }
        if at > edited && matches!(method, "textDocument/didClose" | "shutdown" | "exit") {
            if !checked {
                player.ends(uri.as_deref(), ends, path);
                checked = true;
            }
            exited |= method == "exit";
        }
        let mut message = said.clone();
        message["jsonrpc"] = json!("2.0");
        if let Some(id) = said.get("id") {
            requests.insert(id.to_string(), (id.clone(), json!(method)));
        }
        player.client.send(&message);
    }
    // Some editors simply go.
    if !checked {
        player.ends(uri.as_deref(), ends, path);
    }
    for (id, _) in requests.values() {
        player.wait(id);
    }
    player.gone = true;
    if exited {
        player.client.left();
    } else {
        player.client.leave();
    }
    // Whatever was still to come has come by now.
    player.attend();
    for (key, (_, method)) in &requests {
        let replies = &player.replies[key];
        assert_eq!(replies.len(), 1, "{}: {method} got {replies:?}", path.display());
        if let Some(code) = replies[0]["error"]["code"].as_i64() {
            let expected = OVERTAKEN.contains(&code) || refused.get(key) == Some(&code);
            assert!(expected, "{}: {method} was answered {}", path.display(), replies[0]);
        }
    }
    let strangers: Vec<_> = player.replies.keys().filter(|key| !requests.contains_key(*key)).collect();
    assert!(strangers.is_empty(), "{}: replies to nothing: {strangers:?}", path.display());
    requests.len()
}

#[test]
fn every_editor_is_served_as_it_was_when_it_was_recorded() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocol/sessions");
    let mut recordings: Vec<PathBuf> =
        folder.read_dir().expect("the recordings").map(|entry| entry.expect("a file").path()).collect();
    recordings.sort();
    let names: Vec<_> = recordings.iter().map(|path| path.file_stem().expect("a name").to_string_lossy()).collect();
    for editor in ["emacs", "helix", "kakoune", "kate", "neovim-0.10", "neovim-0.11", "vim", "vscode"] {
        assert!(names.iter().any(|name| name == editor), "{editor} is not among {names:?}");
    }
    for path in &recordings {
        let requests = play(path);
        assert!(requests >= 5, "{} holds {requests} requests", path.display());
    }
}
