//! Code actions on a real design: other values of a part, and assumptions that would hold.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::DOCUMENT;
use crate::client::{Client, range};

/// A bird box's microphone amplifier.
const DESIGN: &str = "\
design
  band 100 Hz .. 10 kHz

stage preamp: in -> out
  in  -- R1 1M -- gnd
  U1a ideal: + in, - fb, out out
  out -- R2 10k -- fb
  fb  -- R3 1k -- C2 10u -- gnd

require
  gain in -> out = 20 dB ± 0.2 dB
  gain in -> out < -1 dB
";

fn actions(line: u32, column: u32, only: &str) -> Vec<Value> {
    let abilities =
        json!({ "codeActionLiteralSupport": { "codeActionKind": { "valueSet": [] } }, "disabledSupport": true });
    let mut client = Client::begun(Workbench::new(), json!({ "textDocument": { "codeAction": abilities } }));
    client.open(DOCUMENT, DESIGN);
    let place = range((line, column), (line, column));
    let context = json!({ "diagnostics": [], "only": [only] });
    let params = json!({ "textDocument": { "uri": DOCUMENT }, "range": place, "context": context });
    client.call("textDocument/codeAction", params).as_array().cloned().expect("a list")
}

fn edits(action: &Value) -> &Value {
    &action["edit"]["changes"][DOCUMENT]
}

#[test]
fn another_value_of_a_part_is_offered_at_a_requirement_that_fails() {
    let found = actions(10, 4, "quickfix");
    assert_eq!(found[0]["title"], "make R2 9.1 kΩ: 20.1 dB");
    assert_eq!(edits(&found[0]), &json!([{ "range": range((6, 12), (6, 15)), "newText": "9.1k" }]));
    assert!(found.iter().all(|action| action["disabled"].is_null()));
}

#[test]
fn where_no_value_would_do_that_is_the_answer() {
    let found = actions(11, 4, "quickfix");
    assert_eq!(found.len(), 1);
    let why = "no value of R2, R3 or C2 alone, from a hundredth to a hundredfold, would meet it";
    assert_eq!(found[0]["disabled"]["reason"], why);
    assert!(found[0]["edit"].is_null());
}

#[test]
fn an_assumption_that_would_hold_is_offered_at_its_part() {
    let found = actions(7, 18, "refactor");
    let titles: Vec<&str> = found.iter().filter_map(|action| action["title"].as_str()).collect();
    let expected = [
        "assume C2 short above 110 Hz: 0.089 dB at 110 Hz",
        "write C2 12u: next above in E12, 20 % more",
        "write C2 8.2u: next below in E12, 18 % less",
    ];
    assert_eq!(titles, expected);
    let end = (11, 24);
    assert_eq!(
        edits(&found[0]),
        &json!([{ "range": range(end, end), "newText": "\n\nassume\n  C2 short above 110 Hz" }])
    );
    assert_eq!(actions(7, 18, "quickfix"), [Value::Null; 0]);
}

#[test]
fn the_formula_of_a_stage_is_offered_at_its_heading() {
    let found = actions(3, 8, "refactor");
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0]["title"], "write preamp's formula");
    let written = edits(&found[0])[0]["newText"].as_str().expect("a text");
    assert!(written.starts_with("\nformula\n  gain in -> out = "), "{written}");
}

/// A client that can do what the newest editors can.
fn able() -> Value {
    json!({
        "textDocument": { "codeAction": {
            "codeActionLiteralSupport": { "codeActionKind": { "valueSet": [] } },
            "isPreferredSupport": true, "disabledSupport": true, "dataSupport": true,
            "resolveSupport": { "properties": ["edit"] },
        } },
        "workspace": { "workspaceEdit": { "documentChanges": true, "snippetEditSupport": true } },
    })
}

fn asked(client: &mut Client, line: u32, column: u32, context: Value) -> Vec<Value> {
    let place = range((line, column), (line, column));
    let params = json!({ "textDocument": { "uri": DOCUMENT }, "range": place, "context": context });
    client.call("textDocument/codeAction", params).as_array().cloned().expect("a list")
}

fn begun(text: &str) -> Client {
    let mut client = Client::begun(Workbench::new(), able());
    client.open(DOCUMENT, text);
    client
}

#[test]
fn edits_wait_until_somebody_takes_the_action() {
    let mut client = begun(DESIGN);
    let context = json!({ "diagnostics": [], "only": ["refactor"] });
    let found = asked(&mut client, 6, 14, context);
    let up =
        found.iter().find(|a| a["title"].as_str().is_some_and(|t| t.starts_with("write R2 11k"))).expect("offered");
    assert!(up["edit"].is_null() && !up["data"].is_null(), "{up}");
    let resolved = client.call("codeAction/resolve", up.clone());
    let change = &resolved["edit"]["documentChanges"][0];
    assert_eq!(change["textDocument"], json!({ "uri": DOCUMENT, "version": 1 }));
    assert_eq!(change["edits"], json!([{ "range": range((6, 12), (6, 15)), "newText": "11k" }]));
    assert_eq!(resolved["title"], up["title"]);
    // What has its edits already comes back as it is.
    assert_eq!(client.call("codeAction/resolve", resolved.clone()), resolved);
}

#[test]
fn an_action_of_an_older_text_is_not_resolved() {
    let mut client = begun(DESIGN);
    let found = asked(&mut client, 6, 14, json!({ "diagnostics": [], "only": ["refactor"] }));
    let change = json!([{ "range": range((6, 12), (6, 15)), "text": "12k" }]);
    client.notify(
        "textDocument/didChange",
        json!({ "textDocument": { "uri": DOCUMENT, "version": 2 }, "contentChanges": change }),
    );
    let id = client.request("codeAction/resolve", found[0].clone());
    assert_eq!(client.answer(id)["error"]["code"], -32801);
    // Nor is one of a document that is closed, or that the client made up.
    client.notify("textDocument/didClose", json!({ "textDocument": { "uri": DOCUMENT } }));
    let id = client.request("codeAction/resolve", found[0].clone());
    assert_eq!(client.answer(id)["error"]["code"], -32801);
    let made_up = json!({ "title": "owl", "data": { "uri": 7 } });
    assert_eq!(client.call("codeAction/resolve", made_up.clone()), made_up);
}

#[test]
fn an_editor_that_only_wants_a_mark_starts_no_search() {
    let mut client = begun(DESIGN);
    let titles =
        |found: Vec<Value>| found.iter().map(|a| a["title"].as_str().unwrap_or_default().to_string()).collect();
    let by_itself: Vec<String> = titles(asked(&mut client, 10, 4, json!({ "diagnostics": [], "triggerKind": 2 })));
    assert!(by_itself.iter().all(|t| !t.starts_with("make")), "{by_itself:?}");
    let by_hand: Vec<String> = titles(asked(&mut client, 10, 4, json!({ "diagnostics": [], "triggerKind": 1 })));
    assert!(by_hand.iter().any(|t| t.starts_with("make R2")), "{by_hand:?}");
}

const FOLLOWER: &str = "stage follower: in -> out\n  in -- C7 1u -- p\n  U1a tl072: + p, - out, out out\n";

#[test]
fn a_concession_leaves_its_reason_selected() {
    let mut client = begun(FOLLOWER);
    let found = asked(&mut client, 2, 3, json!({ "diagnostics": [], "only": ["quickfix"] }));
    let accept = found.iter().find(|a| a["title"] == "accept no bias return for U1a, with a reason").expect("offered");
    let resolved = client.call("codeAction/resolve", accept.clone());
    let edit = &resolved["edit"]["documentChanges"][0]["edits"][0];
    let wanted = "design\n  accept     no bias return for U1a: \"${0:say why}\"\n\n";
    assert_eq!(edit["snippet"], json!({ "kind": "snippet", "value": wanted }), "{resolved}");
    // The way home for the bias current stands first, and is preferred.
    assert_eq!(found[0]["title"], "add p -- R1 100k -- gnd: 1.59 Hz with C7");
    assert_eq!(found[0]["isPreferred"], true);
    assert_eq!(found[0]["diagnostics"][0]["code"], "no-bias-return");
}

#[test]
fn kinds_are_those_asked_for() {
    let mut client = begun(&FOLLOWER.replace("1u", "1 uf"));
    let kinds =
        |found: &[Value]| found.iter().map(|a| a["kind"].as_str().unwrap_or_default().to_string()).collect::<Vec<_>>();
    for (only, wanted) in
        [("source.fixAll", vec!["source.fixAll"]), ("source", vec!["source.fixAll", "source.renumber"])]
    {
        let found = asked(&mut client, 1, 3, json!({ "diagnostics": [], "only": [only] }));
        assert_eq!(kinds(&found), wanted, "{only}");
    }
    // A line has an error, so that the parts are not numbered now.
    let found = asked(&mut client, 1, 3, json!({ "diagnostics": [], "only": ["source.renumber"] }));
    assert!(
        found[0]["disabled"]["reason"].as_str().is_some_and(|why| why.starts_with("line 2 has an error")),
        "{found:?}"
    );
    // Away from the design's heading nobody looks for what is about the whole file.
    let found = asked(&mut client, 1, 3, json!({ "diagnostics": [] }));
    assert!(kinds(&found).iter().all(|kind| !kind.starts_with("source")), "{found:?}");
    let fix = asked(&mut client, 0, 0, json!({ "diagnostics": [], "only": ["source.fixAll"] }));
    let resolved = client.call("codeAction/resolve", fix[0].clone());
    let edits = &resolved["edit"]["documentChanges"][0]["edits"];
    assert_eq!(edits.as_array().map(Vec::len), Some(1), "{resolved}");
}

#[test]
fn a_client_without_newer_abilities_gets_all_at_once() {
    let literals = json!({ "codeActionLiteralSupport": { "codeActionKind": { "valueSet": [] } } });
    let mut client = Client::begun(Workbench::new(), json!({ "textDocument": { "codeAction": literals } }));
    client.open(DOCUMENT, FOLLOWER);
    let found = asked(&mut client, 2, 3, json!({ "diagnostics": [] }));
    assert!(!found.is_empty());
    for action in found {
        assert!(action["data"].is_null() && action["disabled"].is_null(), "{action}");
        let edits = action["edit"]["changes"][DOCUMENT].as_array().expect("edits");
        assert!(edits.iter().all(|edit| edit["newText"].is_string() && edit["snippet"].is_null()), "{action}");
    }
}
