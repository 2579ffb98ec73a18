//! Hovers, outlines and quick fixes, for clients of different abilities.

use serde_json::{Value, json};

use crate::DOCUMENT;
use crate::client::{Client, range};
use crate::toy::Toy;

fn open(text: &str, capabilities: Value) -> Client {
    let mut client = Client::begun(Toy::default(), capabilities);
    client.open(DOCUMENT, text);
    client
}

fn hover(client: &mut Client, line: u32, character: u32) -> Value {
    let position = json!({ "line": line, "character": character });
    client.call("textDocument/hover", json!({ "textDocument": { "uri": DOCUMENT }, "position": position }))
}

#[test]
fn a_hover_is_markdown_where_the_client_reads_it() {
    let mut plain = open("owl 1\nbox 2", json!({}));
    let answer = hover(&mut plain, 1, 1);
    assert_eq!(answer["contents"], json!({ "kind": "plaintext", "value": "box of 3" }));
    assert_eq!(answer["range"], range((1, 0), (1, 3)));
    let mut markdown = open("owl 1\nbox 2", json!({ "textDocument": { "hover": { "contentFormat": ["markdown"] } } }));
    assert_eq!(hover(&mut markdown, 1, 1)["contents"], json!({ "kind": "markdown", "value": "*box of 3*" }));
}

#[test]
fn an_outline_has_levels_where_the_client_knows_them() {
    let params = json!({ "textDocument": { "uri": DOCUMENT } });
    let levels = json!({ "textDocument": { "documentSymbol": { "hierarchicalDocumentSymbolSupport": true } } });
    let mut client = open("owl 1\nbox 2", levels);
    let nested = client.call("textDocument/documentSymbol", params.clone());
    assert_eq!(nested[0]["name"], "owl");
    assert_eq!(nested[0]["detail"], "3");
    assert_eq!(nested[0]["children"][0]["name"], "box");
    assert_eq!(nested[0]["children"][0]["selectionRange"], range((1, 0), (1, 1)));

    let mut client = open("owl 1\nbox 2", json!({}));
    let flat = client.call("textDocument/documentSymbol", params);
    assert_eq!(flat[1]["name"], "box");
    assert_eq!(flat[1]["containerName"], "owl");
    assert_eq!(flat[1]["location"], json!({ "uri": DOCUMENT, "range": range((1, 0), (1, 5)) }));
}

fn actions(client: &mut Client, only: Value) -> Value {
    let context = match only {
        Value::Null => json!({ "diagnostics": [] }),
        only => json!({ "diagnostics": [], "only": only }),
    };
    let place = range((0, 5), (0, 5));
    client.call(
        "textDocument/codeAction",
        json!({ "textDocument": { "uri": DOCUMENT }, "range": place, "context": context }),
    )
}

fn able(more: Value) -> Value {
    let literals = json!({ "codeActionKind": { "valueSet": ["quickfix"] } });
    json!({
        "textDocument": { "codeAction": { "codeActionLiteralSupport": literals, "isPreferredSupport": true } },
        "workspace": more,
    })
}

#[test]
fn a_way_out_is_offered_where_the_problem_stands() {
    let mut client = open("owl bad\nbox bad", able(json!({})));
    let found = actions(&mut client, Value::Null);
    assert_eq!(found.as_array().unwrap().len(), 1);
    assert_eq!(found[0]["title"], "write good");
    assert_eq!(found[0]["kind"], "quickfix");
    assert_eq!(found[0]["isPreferred"], true);
    assert_eq!(found[0]["diagnostics"][0]["code"], "bad");
    let edit = json!([{ "range": range((0, 4), (0, 7)), "newText": "good" }]);
    assert_eq!(found[0]["edit"], json!({ "changes": { DOCUMENT: edit } }));
}

#[test]
fn an_edit_names_its_version_where_the_client_looks_at_it() {
    let mut client = open("owl bad", able(json!({ "workspaceEdit": { "documentChanges": true } })));
    let found = actions(&mut client, json!(["quickfix"]));
    let change = &found[0]["edit"]["documentChanges"][0];
    assert_eq!(change["textDocument"], json!({ "uri": DOCUMENT, "version": 1 }));
    assert_eq!(change["edits"][0]["newText"], "good");
}

#[test]
fn fixes_are_for_those_who_want_and_can_read_them() {
    let mut client = open("owl bad", able(json!({})));
    assert_eq!(actions(&mut client, json!(["refactor"])), json!([]));
    let mut client = open("owl bad", json!({}));
    assert_eq!(actions(&mut client, Value::Null), json!([]));
}

#[test]
fn a_document_that_is_not_open_has_nothing() {
    let mut client = Client::begun(Toy::default(), able(json!({})));
    assert_eq!(hover(&mut client, 0, 0), Value::Null);
    assert_eq!(actions(&mut client, Value::Null), Value::Null);
    assert_eq!(client.labels(DOCUMENT), Vec::<String>::new());
}
