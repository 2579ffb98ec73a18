//! Requirements over tolerance: looked at when the typist pauses, with progress where it lasts, and taken back by the client.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::{Client, range};

const DOCUMENT: &str = "untitled:lock-gate";

/// One stage of a chain: it holds at its nominal values, and not in every build.
const DESIGN: &str = "\
design
  band 20 Hz .. 20 kHz
  tolerance R 5 %

stage amp: in -> out
  U1a ideal: + in, - fb, out out
  out -- R2 20k -- fb
  fb -- R3 9k1 -- gnd

require
  gain in -> out at 1 kHz = 10.1 dB ± 0.1 dB
";

fn over_tolerance(message: &Value) -> bool {
    let list = message["params"]["diagnostics"].as_array();
    list.into_iter().flatten().any(|d| d["code"] == "requirement-tolerance")
}

fn published(client: &mut Client, version: i32, said: bool) {
    client.wait(|m| {
        m["method"] == "textDocument/publishDiagnostics"
            && m["params"]["version"] == version
            && over_tolerance(m) == said
    });
}

#[test]
fn builds_are_drawn_behind_a_pause_and_what_they_said_stands() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(DOCUMENT, DESIGN);
    published(&mut client, 1, true);
    // An edit elsewhere: the message stands, at the key and behind the next review.
    client.change(DOCUMENT, 2, json!([{ "range": range((3, 0), (3, 0)), "text": "# Made of what is there.\n" }]));
    published(&mut client, 2, true);
    // Better parts: gone, behind the next builds.
    client.change(DOCUMENT, 3, json!([{ "range": range((2, 14), (2, 15)), "text": "0.1" }]));
    published(&mut client, 3, false);
}

#[test]
fn nobody_who_does_not_want_them_has_builds() {
    let mut client = Client::wishing(Workbench::new(), json!({}), json!({ "tolerance": "never", "pause": 0 }));
    // A stage of which the reviewer's rules have something to say: that tells when they were asked.
    let weir = "stage weir: out -> far\n  U2a fet_dual: + out, - tap, out far\n  far -- R5 100k -- tap\n  tap -- R6 1k -- gnd\n";
    let design = DESIGN.replace("require\n", &format!("{weir}\nrequire\n"));
    let reviewed = |m: &Value, uri: &str, version: i32| {
        let list = m["params"]["diagnostics"].as_array();
        m["params"]["uri"] == uri
            && m["params"]["version"] == version
            && list.into_iter().flatten().any(|d| d["code"] == "loop-gain-low")
    };
    client.open(DOCUMENT, DESIGN);
    client.diagnostics(1);
    for version in 2..4 {
        client.change(DOCUMENT, version, json!([{ "range": range((3, 0), (3, 0)), "text": " " }]));
        client.labels(DOCUMENT);
    }
    client.replace(DOCUMENT, 4, &design);
    let mut told = vec![client.wait(|m| reviewed(m, DOCUMENT, 4)).message];
    // Builds would come behind the review, as soon as they come to somebody who wants them and opens the same text now.
    let mut wanting = Client::wishing(Workbench::new(), json!({}), json!({ "pause": 0 }));
    wanting.open(DOCUMENT, &design);
    wanting.wait(over_tolerance);
    client.labels(DOCUMENT);
    told.extend(client.messages());
    assert!(!told.iter().any(over_tolerance));
}

#[test]
fn a_save_is_when_builds_are_drawn_for_those_who_want_them_then() {
    let mut client = Client::wishing(Workbench::new(), json!({}), json!({ "tolerance": "save", "pause": 0 }));
    client.open(DOCUMENT, &DESIGN.replace("5 %", "0.01 %"));
    client.change(DOCUMENT, 2, json!([{ "range": range((2, 14), (2, 18)), "text": "5" }]));
    client.diagnostics(2);
    client.notify("textDocument/didSave", json!({ "textDocument": { "uri": DOCUMENT } }));
    published(&mut client, 2, true);
}

/// A chain whose builds take their time: many requirements that are searched for.
fn long() -> String {
    let mut text = String::from("design\n  band 20 Hz .. 20 kHz\n  tolerance R 5 %, C 5 %\n\n");
    for i in 0..12 {
        text += &format!(
            "stage s{i}: n{i} -> n{}\n  n{i} -- R{i}1 10k -- a{i} -- R{i}2 10k -- p{i} -- C{i}1 1n -- gnd\n  U{i} ideal: + p{i}, - n{}, out n{}\n  a{i} -- C{i}2 2n2 -- n{}\n\n",
            i + 1,
            i + 1,
            i + 1,
            i + 1
        );
    }
    text += "require\n";
    for i in 0..12 {
        text += &format!("  high corner n{i} -> n{} > 1 kHz\n  high corner n0 -> n{} > 1 kHz\n", i + 1, i + 1);
    }
    text
}

#[test]
fn long_work_is_told_and_can_be_taken_back() {
    let mut client = Client::begun(Workbench::new(), json!({ "window": { "workDoneProgress": true } }));
    client.open(DOCUMENT, &long());
    let asked = client.told("window/workDoneProgress/create");
    let token = asked["params"]["token"].clone();
    client.send(&json!({ "jsonrpc": "2.0", "id": asked["id"], "result": null }));
    let begun = client.told("$/progress");
    assert_eq!(begun["params"]["token"], token);
    assert_eq!(begun["params"]["value"]["kind"], "begin");
    assert_eq!(begun["params"]["value"]["cancellable"], true);
    client.notify("window/workDoneProgress/cancel", json!({ "token": token }));
    client.wait(|m| m["method"] == "$/progress" && m["params"]["value"]["kind"] == "end");
    // The server goes on with what else there is.
    assert!(client.labels(DOCUMENT).len() > 12);
}
