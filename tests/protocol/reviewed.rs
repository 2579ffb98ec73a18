//! The reviewer's rules in an editor: asked when the typist pauses, and said where they stood until they are asked again.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::{Client, range};

pub const DOCUMENT: &str = "untitled:weir";

/// An amplifier of which a rule has something to say.
pub const DESIGN: &str = "\
design
  band 20 Hz .. 20 kHz

# The hydrophone's amplifier.
stage amp: in -> out
  in -- R1 100k -- gnd
  U1a fet_dual: + in, - fb, out out
  out -- R2 100k -- fb
  fb -- R3 1k -- gnd
";

fn codes(message: &Value) -> Vec<&str> {
    let list = message["params"]["diagnostics"].as_array();
    list.into_iter().flatten().filter_map(|d| d["code"].as_str()).collect()
}

/// A list for this version that says this, or says nothing of it.
fn published(client: &mut Client, version: i32, code: &str, said: bool) -> Value {
    let looked_for = |m: &Value| {
        m["method"] == "textDocument/publishDiagnostics"
            && m["params"]["version"] == version
            && codes(m).contains(&code) == said
    };
    client.wait(looked_for).message
}

#[test]
fn rules_are_asked_when_the_typist_pauses() {
    let mut client = Client::wishing(Workbench::new(), json!({}), json!({}));
    client.open(DOCUMENT, DESIGN);
    published(&mut client, 1, "loop-gain-low", true);
    // Ten times less gain: the pause over, nothing is left to say.
    client.change(DOCUMENT, 2, json!([{ "range": range((7, 12), (7, 16)), "text": "10k" }]));
    published(&mut client, 2, "loop-gain-low", false);
    client.change(DOCUMENT, 3, json!([{ "range": range((7, 12), (7, 15)), "text": "220k" }]));
    published(&mut client, 3, "loop-gain-low", true);
}

#[test]
fn what_a_rule_said_stands_until_it_is_asked_again() {
    let mut client = Client::wishing(Workbench::new(), json!({}), json!({}));
    client.open(DOCUMENT, DESIGN);
    let first = published(&mut client, 1, "loop-gain-low", true);
    let line = |m: &Value| m["params"]["diagnostics"][0]["range"]["start"]["line"].as_u64().unwrap();
    assert_eq!(line(&first), 6);
    // A line more in front: the message goes along with its entry at the key, before any rule is asked again.
    client.change(DOCUMENT, 2, json!([{ "range": range((3, 0), (3, 0)), "text": "\n" }]));
    let moved = published(&mut client, 2, "loop-gain-low", true);
    assert_eq!(line(&moved), 7);
}
