//! What is told to who looks closer: a hint's working and the places that its label leads to; where else a message speaks of, and the page
//! that explains it.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::{Client, range};

const DOCUMENT: &str = "untitled:millrace";

const DESIGN: &str = "\
design
  band 20 Hz .. 20 kHz

stage amp: in -> out
  in -- C1 100n -- p -- R1 220k -- gnd
  U1a fet_dual: + p, - fb, out out
  out -- R2 22k -- fb
  fb -- R3 1k -- gnd
";

fn hints(client: &mut Client) -> Vec<Value> {
    let asked = json!({ "textDocument": { "uri": DOCUMENT }, "range": range((0, 0), (100, 0)) });
    client.call("textDocument/inlayHint", asked).as_array().expect("a list").clone()
}

fn looking() -> Client {
    let support = json!({ "properties": ["tooltip", "label.location"] });
    let mut client =
        Client::begun(Workbench::new(), json!({ "textDocument": { "inlayHint": { "resolveSupport": support } } }));
    client.open(DOCUMENT, DESIGN);
    client
}

#[test]
fn a_hint_leads_to_what_it_names_once_somebody_looks() {
    let mut client = looking();
    let all = hints(&mut client);
    assert!(all.iter().all(|hint| hint.get("tooltip").is_none()), "{all:?}");
    let corner = all.iter().find(|hint| hint["label"][1]["value"] == "R1").expect("C1's corner names R1");
    assert_eq!(corner["label"][0]["value"], "7.23 Hz with ");
    let resolved = client.call("inlayHint/resolve", corner.clone());
    assert_eq!(resolved["tooltip"], "C1 sees 220 kΩ and makes a corner with it: 7.23 Hz");
    let location = &resolved["label"][1]["location"];
    assert_eq!(*location, json!({ "uri": DOCUMENT, "range": range((4, 24), (4, 26)) }));
    assert!(resolved["label"][0].get("location").is_none_or(Value::is_null));
}

#[test]
fn a_hint_whose_text_is_gone_stays_as_it_is() {
    let mut client = looking();
    let corner = hints(&mut client).into_iter().find(|hint| hint["label"][1]["value"] == "R1").unwrap();
    client.replace(DOCUMENT, 2, "design\n");
    let resolved = client.call("inlayHint/resolve", corner.clone());
    assert_eq!(resolved["label"][1]["value"], "R1");
    assert!(resolved.get("tooltip").is_none_or(Value::is_null));
    client.notify("textDocument/didClose", json!({ "textDocument": { "uri": DOCUMENT } }));
    assert_eq!(client.call("inlayHint/resolve", corner.clone())["position"], corner["position"]);
}

#[test]
fn a_client_that_cannot_ask_is_told_everything() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(DOCUMENT, DESIGN);
    let all = hints(&mut client);
    assert!(all.iter().all(|hint| hint["label"].is_string() && hint.get("data").is_none()), "{all:?}");
    assert!(all.iter().any(|hint| hint["tooltip"] == "C1 sees 220 kΩ and makes a corner with it: 7.23 Hz"));
}

#[test]
fn a_message_names_other_places_and_its_page() {
    let able = json!({ "textDocument": { "publishDiagnostics": { "relatedInformation": true, "codeDescriptionSupport": true } } });
    let mut client = Client::begun(Workbench::new(), able);
    client.open(DOCUMENT, &DESIGN.replace("  out -- R2 22k -- fb\n", ""));
    let open = |m: &Value| {
        let list = m["params"]["diagnostics"].as_array();
        list.into_iter().flatten().find(|d| d["code"] == "no-feedback").cloned()
    };
    let told = client.wait(|m| open(m).is_some()).message;
    let told = open(&told).unwrap();
    let page = told["codeDescription"]["href"].as_str().unwrap();
    assert_eq!(page, "stagewright:///manual/no-feedback.md");
    let text = client.call("workspace/textDocumentContent", json!({ "uri": page }));
    assert!(text["text"].as_str().is_some_and(|text| text.starts_with("# no-feedback\n")), "{text}");
    let related = told["relatedInformation"].as_array().expect("it names places elsewhere");
    assert!(related.iter().any(|r| r["message"] == "out" && r["location"]["uri"] == DOCUMENT), "{related:?}");
}

/// A client that shows pictures has one in the place of the plot in text, also when its configuration says nothing of that.
#[test]
fn a_hover_has_a_picture_for_who_shows_pictures() {
    let hover = |wishes: Value| {
        let able = json!({ "textDocument": { "hover": { "contentFormat": ["markdown"] } } });
        let mut client = Client::wishing(Workbench::new(), able, wishes);
        client.notify("workspace/didChangeConfiguration", json!({ "settings": { "stagewright": { "digits": 3 } } }));
        client.open(DOCUMENT, DESIGN);
        let at = json!({ "textDocument": { "uri": DOCUMENT }, "position": { "line": 3, "character": 7 } });
        client.call("textDocument/hover", at)["contents"]["value"].as_str().expect("it is text").to_string()
    };
    let braille = |text: &str| text.chars().any(|c| ('\u{2801}'..='\u{28ff}').contains(&c));
    let (plain, pictured) = (hover(json!({})), hover(json!({ "pictures": true })));
    assert!(braille(&plain) && !plain.contains("data:image"), "{plain}");
    assert!(!braille(&pictured) && pictured.contains("](data:image/svg+xml;base64,PHN2Zy"), "{pictured}");
}
