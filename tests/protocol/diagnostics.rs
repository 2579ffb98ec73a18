//! What is published, when, and how often.

use serde_json::{Value, json};

use crate::DOCUMENT;
use crate::client::{Client, range};
use crate::toy::Toy;

fn open(text: &str) -> (Client, Vec<Value>) {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.open(DOCUMENT, text);
    let diagnostics = client.diagnostics(1);
    (client, diagnostics)
}

/// All that the server published by now: the request makes sure that "now" is after the last edit was looked through.
fn published(client: &mut Client) -> Vec<Value> {
    let mut messages = client.messages();
    messages.retain(|message| message["method"] == "textDocument/publishDiagnostics");
    messages.into_iter().map(|message| message["params"].clone()).collect()
}

fn codes(diagnostics: &[Value]) -> Vec<(&str, i64)> {
    diagnostics.iter().map(|d| (d["code"].as_str().unwrap(), d["severity"].as_i64().unwrap())).collect()
}

#[test]
fn each_says_who_what_and_how_much_it_matters() {
    let (_, diagnostics) = open("owl bad\nbox odd\nnest fyi");
    assert_eq!(codes(&diagnostics), [("bad", 1), ("odd", 2), ("fyi", 3)]);
    assert!(diagnostics.iter().all(|d| d["source"] == "stagewright"));
    assert_eq!(diagnostics[0]["message"], "bad is said here");
    let fix = json!({ "title": "write good", "edits": [{ "range": range((0, 4), (0, 7)), "newText": "good" }] });
    assert_eq!(diagnostics[0]["data"], json!({ "fixes": [fix] }));
    assert_eq!(diagnostics[1].get("data"), None);
}

#[test]
fn a_clean_document_is_said_to_be_clean_once() {
    let (mut client, diagnostics) = open("owl 1");
    assert_eq!(diagnostics, Vec::<Value>::new());
    for version in 2..6 {
        client.replace(DOCUMENT, version, &format!("owl {version}"));
        client.labels(DOCUMENT);
    }
    // A change that is told comes after all that might have been told before it.
    client.replace(DOCUMENT, 6, "owl bad ");
    assert_eq!(client.diagnostics(6).len(), 1);
    assert_eq!(published(&mut client), Vec::<Value>::new(), "the same set is not sent again");
}

#[test]
fn an_empty_set_clears_and_so_does_closing() {
    let (mut client, _) = open("owl bad");
    client.replace(DOCUMENT, 2, "owl good");
    assert_eq!(client.diagnostics(2), Vec::<Value>::new());
    client.replace(DOCUMENT, 3, "owl bad ");
    assert_eq!(client.diagnostics(3).len(), 1);
    client.notify("textDocument/didClose", json!({ "textDocument": { "uri": DOCUMENT } }));
    assert_eq!(client.diagnostics(3), Vec::<Value>::new());
}

#[test]
fn what_is_missing_at_the_end_is_faint_while_it_is_typed() {
    let (mut client, _) = open("owl 1\nbox 2\n");
    client.change(DOCUMENT, 2, json!([{ "range": range((0, 5), (0, 5)), "text": " --" }]));
    assert_eq!(codes(&client.diagnostics(2)), [("unfinished-line", 4)]);
    client.change(DOCUMENT, 3, json!([{ "range": range((1, 5), (1, 5)), "text": " 3" }]));
    assert_eq!(codes(&client.diagnostics(3)), [("unfinished-line", 1)], "another entry is edited");
    client.change(DOCUMENT, 4, json!([{ "range": range((0, 0), (0, 0)), "text": "o" }]));
    assert_eq!(codes(&client.diagnostics(4)), [("unfinished-line", 4)], "back at it");
    client.notify("textDocument/didSave", json!({ "textDocument": { "uri": DOCUMENT } }));
    assert_eq!(codes(&client.diagnostics(4)), [("unfinished-line", 1)], "saved");
}

#[test]
fn what_is_missing_when_a_document_is_opened_is_no_draft() {
    let (_, diagnostics) = open("owl 1 --");
    assert_eq!(codes(&diagnostics), [("unfinished-line", 1)]);
}

#[test]
fn a_word_that_is_being_typed_is_not_judged_until_it_rests() {
    let (mut client, _) = open("owl 1\nbox odd\n");
    client.change(DOCUMENT, 2, json!([{ "range": range((0, 5), (0, 5)), "text": " bad" }]));
    client.labels(DOCUMENT);
    // The first set of version 2 has the message about the word; before it, nothing new was said.
    assert_eq!(codes(&client.diagnostics(2)), [("bad", 1), ("odd", 2)]);
    assert_eq!(published(&mut client), Vec::<Value>::new());
}

#[test]
fn a_blank_behind_the_word_ends_the_wait() {
    let (mut client, _) = open("owl 1\n");
    client.change(DOCUMENT, 2, json!([{ "range": range((0, 5), (0, 5)), "text": " bad" }]));
    client.change(DOCUMENT, 3, json!([{ "range": range((0, 9), (0, 9)), "text": " " }]));
    assert_eq!(codes(&client.diagnostics(3)), [("bad", 1)]);
}

#[test]
fn what_was_said_of_the_word_before_goes_on_being_said() {
    let (mut client, _) = open("owl bad\n");
    client.change(DOCUMENT, 2, json!([{ "range": range((0, 7), (0, 7)), "text": "x" }]));
    client.change(DOCUMENT, 3, json!([{ "range": range((0, 0), (0, 0)), "text": "the-\nfyi " }]));
    let next = client.told("textDocument/publishDiagnostics");
    let diagnostics = next["params"]["diagnostics"].as_array().unwrap().clone();
    assert!(codes(&diagnostics).contains(&("bad", 1)), "no set without it was sent between: {next}");
}
