//! Diagnostics for a client that asks for them instead of having them sent.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::{Client, range};
use crate::reviewed::{DESIGN, DOCUMENT};

fn asking() -> Client {
    let capabilities = json!({
        "textDocument": { "diagnostic": {} },
        "workspace": { "diagnostics": { "refreshSupport": true } },
    });
    Client::begun(Workbench::new(), capabilities)
}

fn pull(client: &mut Client, previous: Option<&str>) -> Value {
    let mut params = json!({ "textDocument": { "uri": DOCUMENT } });
    if let Some(previous) = previous {
        params["previousResultId"] = json!(previous);
    }
    client.call("textDocument/diagnostic", params)
}

fn codes(report: &Value) -> Vec<&str> {
    report["items"].as_array().into_iter().flatten().filter_map(|d| d["code"].as_str()).collect()
}

#[test]
fn what_is_known_at_once_is_answered_and_what_is_found_later_is_told_of() {
    let mut client = asking();
    client.open(DOCUMENT, DESIGN);
    let mut report = pull(&mut client, None);
    // The reviewer's rules are asked in the meantime: if they were not done before the answer, the client is told to ask again.
    while !codes(&report).contains(&"loop-gain-low") {
        client.refreshed("workspace/diagnostic/refresh");
        let name = report["resultId"].as_str().map(str::to_string);
        report = pull(&mut client, name.as_deref());
    }
    assert_eq!(report["kind"], "full");
    let name = report["resultId"].as_str().unwrap();
    assert_eq!(pull(&mut client, Some(name)), json!({ "kind": "unchanged", "resultId": name }));
    client.change(DOCUMENT, 2, json!([{ "range": range((7, 12), (7, 16)), "text": "" }]));
    let broken = pull(&mut client, Some(name));
    assert!(codes(&broken).contains(&"value-missing"), "{broken}");
    assert!(client.messages().iter().all(|m| m["method"] != "textDocument/publishDiagnostics"));
}

#[test]
fn a_document_that_is_not_open_has_none() {
    let mut client = asking();
    let report = pull(&mut client, None);
    assert_eq!((&report["kind"], &report["items"]), (&json!("full"), &json!([])));
}

#[test]
fn a_client_that_cannot_be_told_to_ask_again_has_them_sent() {
    let mut client = Client::begun(Workbench::new(), json!({ "textDocument": { "diagnostic": {} } }));
    client.open(DOCUMENT, DESIGN);
    client.diagnostics(1);
}
