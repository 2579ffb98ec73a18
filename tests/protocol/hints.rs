//! Hints, and how they keep still while a line is being broken.

use serde_json::{Value, json};

use crate::DOCUMENT;
use crate::client::{Client, labels, range};
use crate::toy::Toy;

fn open(text: &str, capabilities: Value) -> Client {
    let mut client = Client::begun(Toy::default(), capabilities);
    client.open(DOCUMENT, text);
    client
}

fn hints(client: &mut Client) -> Vec<Value> {
    let id = client.ask_hints(DOCUMENT);
    client.answer(id)["result"].as_array().unwrap().clone()
}

#[test]
fn a_client_that_says_nothing_of_hints_gets_them() {
    let mut client = open("owl 1\nbox 2", json!({}));
    assert_eq!(client.labels(DOCUMENT), ["sum 3", "sum 3"]);
}

#[test]
fn only_what_is_asked_for_is_answered() {
    let mut client = open("owl 1\nbox 2\nnest 3\n", json!({}));
    let params = json!({ "textDocument": { "uri": DOCUMENT }, "range": range((1, 0), (1, 9)) });
    let hints = client.call("textDocument/inlayHint", params);
    assert_eq!(hints, json!([{ "position": { "line": 1, "character": 5 }, "label": "sum 6", "paddingLeft": true }]));
}

#[test]
fn figures_stay_while_a_line_is_unfinished() {
    let mut client = open("owl 1\nbox 2\nnest 3", json!({}));
    assert_eq!(client.labels(DOCUMENT), ["sum 6"; 3]);
    client.change(DOCUMENT, 2, json!([{ "range": range((1, 5), (1, 5)), "text": " --" }]));
    let torn = hints(&mut client);
    assert_eq!(labels(&json!(torn)), ["sum 6 …"; 3]);
    let tooltip = torn[0]["tooltip"].as_str().unwrap();
    assert_eq!(tooltip, "As of the last finished text; line 2 is unfinished.");
    let own = torn.iter().find(|hint| hint["position"]["line"] == 1).expect("the unfinished line keeps its own");
    assert_eq!(own["position"]["character"], 8, "behind what is typed");
    client.change(DOCUMENT, 3, json!([{ "range": range((1, 5), (1, 8)), "text": "0" }]));
    assert_eq!(client.labels(DOCUMENT), ["sum 24"; 3]);
}

#[test]
fn an_unfinished_lines_figure_moves_with_the_lines_above() {
    let mut client = open("owl 1\nbox 2", json!({}));
    client.labels(DOCUMENT);
    client.change(
        DOCUMENT,
        2,
        json!([
            { "range": range((1, 5), (1, 5)), "text": " --" },
            { "range": range((0, 0), (0, 0)), "text": "\n\n" },
        ]),
    );
    let torn = hints(&mut client);
    let lines: Vec<_> = torn.iter().map(|hint| hint["position"]["line"].clone()).collect();
    assert_eq!(lines, [2, 3]);
}

#[test]
fn a_document_that_is_unfinished_from_the_start_shows_no_figure() {
    let mut client = open("owl 1 --\nbox 2", json!({}));
    assert_eq!(client.labels(DOCUMENT), ["unknown: line 1 is unfinished"]);
}

#[test]
fn a_line_that_was_not_there_before_shows_no_figure_of_its_own() {
    let mut client = open("owl 1\n", json!({}));
    client.labels(DOCUMENT);
    client.change(DOCUMENT, 2, json!([{ "range": range((1, 0), (1, 0)), "text": "box 5\nnest --" }]));
    assert_eq!(client.labels(DOCUMENT), ["sum 1 …", "unknown: line 3 is unfinished"]);
}

#[test]
fn figures_of_a_text_that_nobody_asked_for_are_called_older() {
    let mut client = open("owl 1\nbox 2", json!({}));
    client.labels(DOCUMENT);
    // Version 2 is whole and known to be; its figures were never asked for.
    client.replace(DOCUMENT, 2, "owl 1 bad \nbox 2");
    client.diagnostics(2);
    client.replace(DOCUMENT, 3, "owl 1 bad --\nbox 2");
    let torn = hints(&mut client);
    assert_eq!(torn[0]["label"], "sum 3 …");
    assert_eq!(torn[0]["tooltip"], "As of an earlier text; line 1 is unfinished.");
}

#[test]
fn a_value_that_is_missing_for_a_moment_does_not_take_the_figure_away() {
    let mut client = open("owl 1", json!({ "workspace": { "inlayHint": { "refreshSupport": true } } }));
    assert_eq!(client.labels(DOCUMENT), ["sum 1"]);
    client.change(DOCUMENT, 2, json!([{ "range": range((0, 4), (0, 5)), "text": "?" }]));
    let held = hints(&mut client);
    assert_eq!(held[0]["label"], "sum 1 …");
    // Once the word rests the figure is gone for good: the client did not ask for that, so it is told.
    let refresh = client.told("workspace/inlayHint/refresh");
    client.send(&json!({ "jsonrpc": "2.0", "id": refresh["id"], "result": null }));
    assert_eq!(client.labels(DOCUMENT), ["unknown: a value is missing"]);
}

#[test]
fn no_refresh_is_asked_of_a_client_for_what_it_asks_itself() {
    let mut client = open("owl 1", json!({ "workspace": { "inlayHint": { "refreshSupport": true } } }));
    for version in 2..20 {
        client.replace(DOCUMENT, version, &format!("owl {version}"));
        client.labels(DOCUMENT);
    }
    client.replace(DOCUMENT, 20, "owl bad ");
    client.diagnostics(20);
    assert!(client.messages().iter().all(|message| message["method"] != "workspace/inlayHint/refresh"));
}

/// The labels with the lines that they stand in.
fn shown(client: &mut Client) -> Vec<(u64, String)> {
    let text = |hint: &Value| hint["label"].as_str().expect("a label").to_string();
    hints(client).iter().map(|hint| (hint["position"]["line"].as_u64().expect("a line"), text(hint))).collect()
}

fn of(lines: &[u64], label: &str) -> Vec<(u64, String)> {
    lines.iter().map(|&line| (line, label.to_string())).collect()
}

#[test]
fn what_is_unknown_is_never_kept_as_a_figure() {
    let mut client = open("owl 1\nbox 2\n", json!({ "workspace": { "inlayHint": { "refreshSupport": true } } }));
    assert_eq!(shown(&mut client), of(&[0, 1], "sum 3"));
    client.change(DOCUMENT, 2, json!([{ "range": range((0, 4), (0, 5)), "text": "? " }]));
    assert_eq!(shown(&mut client), of(&[0, 1], "unknown: a value is missing"), "the blank says that this is meant");
    client.change(DOCUMENT, 3, json!([{ "range": range((1, 5), (1, 5)), "text": " --" }]));
    assert_eq!(shown(&mut client), of(&[0, 1], "sum 3 …"), "the last figure, not the last label");
    client.change(DOCUMENT, 4, json!([{ "range": range((1, 5), (1, 8)), "text": "\n" }]));
    assert_eq!(shown(&mut client), of(&[0, 1], "unknown: a value is missing"));
}

#[test]
fn kept_figures_survive_a_new_text_of_the_whole_document() {
    let mut client = open("owl 1\nbox 2\nnest 3\nfeather 4\n", json!({}));
    assert_eq!(shown(&mut client), of(&[0, 1, 2, 3], "sum 10"));
    client.replace(DOCUMENT, 2, "owl 1\nbox 2 --\nnest 3\nfeather 4\n");
    assert_eq!(shown(&mut client), of(&[0, 2, 3, 1], "sum 10 …"));
    // Every line differs, and some move.
    client.replace(DOCUMENT, 3, "  owl 1\n\n  nest 3\n  box 2 --\n  feather  4\n");
    assert_eq!(shown(&mut client), of(&[0, 2, 4, 3], "sum 10 …"));
    client.replace(DOCUMENT, 4, "  owl 1\n\n  nest 3\n  box 2\n  feather  4\n");
    assert_eq!(shown(&mut client), of(&[0, 2, 3, 4], "sum 10"));
}

#[test]
fn kept_figures_survive_the_edits_of_a_formatter_from_the_end_to_the_beginning() {
    let mut client = open("owl 1\nbox 2\nnest 3\nfeather 4\n", json!({}));
    client.labels(DOCUMENT);
    client.change(DOCUMENT, 2, json!([{ "range": range((1, 5), (1, 5)), "text": " --" }]));
    client.labels(DOCUMENT);
    client.change(
        DOCUMENT,
        3,
        json!([
            { "range": range((3, 0), (4, 0)), "text": "  feather 4\n" },
            { "range": range((2, 0), (3, 0)), "text": "  nest 3\n" },
            { "range": range((1, 0), (2, 0)), "text": "\n  box 2 --\n" },
            { "range": range((0, 0), (1, 0)), "text": "  owl 1\n" },
        ]),
    );
    assert_eq!(shown(&mut client), of(&[0, 3, 4, 2], "sum 10 …"));
    // All of it is taken out and put in again, in two steps of one change.
    client.change(
        DOCUMENT,
        4,
        json!([
            { "range": range((0, 0), (9, 0)), "text": "" },
            { "range": range((0, 0), (0, 0)), "text": "owl 1\nbox 2 --\nnest 3\nfeather 4\n" },
        ]),
    );
    assert_eq!(shown(&mut client), of(&[0, 2, 3, 1], "sum 10 …"));
}

#[test]
fn a_line_that_stays_unfinished_keeps_the_figures_of_the_others_marked() {
    let mut client =
        open("owl 1\nbox 2\nnest 3\n", json!({ "workspace": { "inlayHint": { "refreshSupport": true } } }));
    client.labels(DOCUMENT);
    client.change(DOCUMENT, 2, json!([{ "range": range((1, 5), (1, 5)), "text": " odd--" }]));
    // The message about the word comes when it has rested: by then the line has been unfinished for longer than a word is under way.
    client.wait(|message| {
        message["params"]["version"] == 2 && message["params"]["diagnostics"].to_string().contains("odd is said here")
    });
    assert_eq!(shown(&mut client), of(&[0, 2, 1], "sum 6 …"));
    client.change(DOCUMENT, 3, json!([{ "range": range((1, 5), (1, 11)), "text": "" }]));
    assert_eq!(shown(&mut client), of(&[0, 1, 2], "sum 6"), "at once, since the line is whole");
}
