//! Code lenses and the pages that they lead to.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::DOCUMENT;
use crate::client::{Client, range};

const DESIGN: &str = "design
  band 20 Hz .. 20 kHz

stage preamp: in -> out
  in  -- R1 1M -- gnd
  U1a ideal: + in, - fb, out out
  out -- R2 1k -- VR1 50k -- fb
  fb  -- R3 1k -- gnd

require
  gain in -> out when VR1 0 % = 6 dB ± 0.2 dB
  gain in -> out when VR1 100 % < 30 dB
";

fn begun(capabilities: Value, wishes: Value) -> Client {
    let mut client = Client::wishing(Workbench::new(), capabilities, wishes);
    client.open(DOCUMENT, DESIGN);
    client
}

fn lenses(client: &mut Client) -> Vec<Value> {
    let params = json!({ "textDocument": { "uri": DOCUMENT } });
    client.call("textDocument/codeLens", params).as_array().cloned().expect("a list")
}

fn titles(client: &mut Client) -> Vec<String> {
    let all = lenses(client);
    let said = |lens: Value| client.call("codeLens/resolve", lens)["command"]["title"].as_str().map(String::from);
    all.into_iter().map(said).collect::<Option<_>>().expect("titles")
}

fn change(client: &mut Client, version: i32, from: &str, to: &str) {
    client.replace(DOCUMENT, version, &DESIGN.replace(from, to));
}

#[test]
fn lenses_stand_above_headings_and_say_what_there_is_when_asked() {
    let mut client = begun(json!({}), Value::Null);
    let all = lenses(&mut client);
    let places: Vec<_> = all.iter().map(|lens| lens["range"].clone()).collect();
    assert_eq!(places, [range((0, 0), (0, 6)), range((3, 0), (3, 23)), range((3, 0), (3, 23))]);
    // Nothing is worked out before somebody looks.
    assert!(all[0]["command"].is_null() && all[2]["command"].is_null());
    assert_eq!(
        all[1]["command"],
        json!({ "title": "derive", "command": "stagewright.derive", "arguments": [DOCUMENT, "preamp"] })
    );
    // 1 + 1k/1k is 6.0 dB; 1 + 51k/1k is 34.3 dB.
    let failing = "requirements held 1 of 2: gain in -> out when VR1 100 % fails";
    assert_eq!(titles(&mut client), [failing, "derive", "VR1 6.0 … 34.3 dB"]);
}

#[test]
fn a_line_that_is_unfinished_leaves_the_lenses_as_they_were() {
    let mut client = begun(json!({}), Value::Null);
    let before = titles(&mut client);
    change(&mut client, 2, "R3 1k -- gnd", "R3 1k --");
    assert_eq!(titles(&mut client), before);
    change(&mut client, 3, "R3 1k", "R3 2k");
    assert_eq!(titles(&mut client)[2], "VR1 3.5 … 28.5 dB");
}

#[test]
fn lenses_can_be_turned_off() {
    let mut client = begun(json!({}), json!({ "lenses": false }));
    assert_eq!(lenses(&mut client), [Value::Null; 0]);
}

fn command(command: &str, arguments: Value) -> Value {
    json!({ "command": command, "arguments": arguments })
}

#[test]
fn a_command_shows_its_page_as_a_message_where_the_client_can_do_no_better() {
    let mut client = begun(json!({}), Value::Null);
    let page = client.call("workspace/executeCommand", command("stagewright.derive", json!([DOCUMENT, "preamp"])));
    assert_eq!(page["title"], "stage preamp: in → out");
    assert!(page["markdown"].as_str().is_some_and(|text| text.contains("preamp")), "{page}");
    assert_eq!(client.told("window/showMessage")["params"], json!({ "type": 3, "message": page["text"] }));
    let page = client.call("workspace/executeCommand", command("stagewright.requirements", json!([DOCUMENT])));
    let text = page["text"].as_str().expect("a text");
    let lines: Vec<&str> = text.lines().skip(2).map(str::trim).collect();
    // 34.3 dB, and less than 30 dB is wanted: that comes first.
    assert!(lines[0].starts_with("gain in -> out when VR1 100 % < 30 dB: 34.3 dB fails"), "{text}");
    assert!(lines[1].starts_with("gain in -> out when VR1 0 % = 6 dB ± 0.2 dB: 6.0 dB holds"), "{text}");
}

#[test]
fn a_client_that_opens_what_no_disk_holds_is_led_to_the_page() {
    let able = json!({ "window": { "showDocument": { "support": true } }, "workspace": { "textDocumentContent": {} } });
    let mut client = begun(able, Value::Null);
    let page = client.call("workspace/executeCommand", command("stagewright.derive", json!([DOCUMENT, "preamp"])));
    let asked = client.told("window/showDocument");
    assert_eq!(asked["params"]["uri"], page["uri"]);
    let content = client.call("workspace/textDocumentContent", json!({ "uri": page["uri"] }));
    assert_eq!(content["text"], page["markdown"]);
    // A page of what is no more has no text.
    change(&mut client, 2, "stage preamp", "stage front");
    let id = client.request("workspace/textDocumentContent", json!({ "uri": page["uri"] }));
    assert_eq!(client.answer(id)["error"]["code"], -32602);
}

#[test]
fn a_client_that_shows_pages_itself_is_not_told_twice() {
    let mut client = begun(json!({}), json!({ "pages": true }));
    client.call("workspace/executeCommand", command("stagewright.requirements", json!([DOCUMENT])));
    // What comes next is the answer to what is asked next, and no message in between.
    lenses(&mut client);
    assert!(client.messages().iter().all(|m| m["method"] != "window/showMessage"), "{:?}", client.messages());
}

#[test]
fn a_command_that_lacks_something_is_refused() {
    let mut client = begun(json!({}), Value::Null);
    let wrong = [
        command("stagewright.derive", json!([DOCUMENT])),
        command("stagewright.derive", json!([DOCUMENT, "owl"])),
        command("stagewright.requirements", json!(["untitled:nowhere"])),
        command("stagewright.hoot", json!([])),
    ];
    for params in wrong {
        let id = client.request("workspace/executeCommand", params.clone());
        assert_eq!(client.answer(id)["error"]["code"], -32602, "{params}");
    }
}
