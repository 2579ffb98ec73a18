//! A typist who is faster than any.

use std::collections::HashMap;
use std::thread::sleep;
use std::time::Duration;

use serde_json::{Value, json};

use crate::DOCUMENT;
use crate::client::Client;
use crate::toy::Toy;

const EDITS: i32 = 200;

/// Types with a pause between the keys, asking for hints and an outline at each; then everything that came.
fn burst(pause: Duration) -> (HashMap<i64, Vec<Value>>, Vec<i64>, Vec<Value>) {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.open(DOCUMENT, "owl 1 bad\n");
    let mut hints = Vec::new();
    let mut outlines = Vec::new();
    for version in 2..2 + EDITS {
        // One more figure a key, and the message moves each time.
        client.replace(DOCUMENT, version, &format!("owl {} bad \n", "1 ".repeat(version as usize)));
        hints.push(client.ask_hints(DOCUMENT));
        outlines.push(client.request("textDocument/documentSymbol", json!({ "textDocument": { "uri": DOCUMENT } })));
        sleep(pause);
    }
    client.diagnostics(1 + EDITS);
    let mut answers: HashMap<i64, Vec<Value>> = HashMap::new();
    for &id in hints.iter().chain(&outlines) {
        answers.entry(id).or_default().push(client.answer(id));
    }
    client.call("shutdown", Value::Null);
    let rest = client.messages();
    for message in rest.iter().filter(|message| message.get("method").is_none()) {
        answers.entry(message["id"].as_i64().unwrap_or(-1)).or_default().push(message.clone());
    }
    for &id in &outlines {
        let answer = &answers[&id][0];
        assert!(answer["result"].is_array(), "an outline is done again, not refused: {answer}");
    }
    let published = rest.into_iter().filter(|message| message["method"] == "textDocument/publishDiagnostics").collect();
    (answers, hints, published)
}

fn check(pause: Duration) {
    let (answers, hints, published) = burst(pause);
    for (id, answers) in &answers {
        assert_eq!(answers.len(), 1, "{id} is answered once");
    }
    for (i, id) in hints.iter().enumerate() {
        let answer = &answers[id][0];
        match answer["result"][0]["label"].as_str() {
            Some(label) => assert_eq!(label, format!("sum {}", i + 2)),
            None => assert_eq!(answer["error"]["code"], -32801, "{answer}"),
        }
    }
    let last = &answers[hints.last().unwrap()][0];
    assert_eq!(last["result"][0]["label"], format!("sum {}", 1 + EDITS), "the newest is answered");
    let versions: Vec<_> = published.iter().map(|message| message["params"]["version"].as_i64().unwrap()).collect();
    assert!(versions.is_sorted_by(|a, b| a < b), "each version once, in order: {versions:?}");
    assert!(versions.iter().all(|&version| version < i64::from(1 + EDITS)), "the newest was the last: {versions:?}");
}

#[test]
fn two_hundred_keys_at_five_milliseconds() {
    check(Duration::from_millis(5));
}

#[test]
fn two_hundred_keys_at_once() {
    check(Duration::ZERO);
}
