//! Wishes: told at the beginning, asked of the client, and heard again whenever they change.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::Client;

const DOCUMENT: &str = "untitled:sluice";

const DESIGN: &str = "\
design
  band 20 Hz .. 20 kHz
  source in -20 dBu

# The sluice gauge's amplifier.
stage amp: in -> out
  U1a ideal: + in, - fb, out out
  out -- R2 20k -- fb
  fb -- R3 9k1 -- gnd

require
  gain in -> out at 1 kHz = 10 dB ± 0.2 dB
";

fn label(labels: &[String], start: &str) -> Option<String> {
    labels.iter().find(|label| label.starts_with(start)).cloned()
}

#[test]
fn kinds_digits_and_levels_are_heard_at_the_beginning() {
    let wishes = json!({ "digits": 5, "levels": "dBu", "hints": { "parts": false } });
    let mut client = Client::wishing(Workbench::new(), json!({}), wishes);
    client.open(DOCUMENT, DESIGN);
    let labels = client.labels(DOCUMENT);
    assert_eq!(label(&labels, "−20"), Some("−20.000 dBu".into()), "{labels:?}");
    assert!(labels.contains(&"10.097 dB holds, 0.103 dB to spare".to_string()), "{labels:?}");
    assert_eq!(label(&labels, "ideal"), None, "{labels:?}");
}

/// A client that can be asked is asked at the beginning, and again when it says that something has changed.
#[test]
fn a_client_that_can_be_asked_is_asked() {
    let capabilities = json!({ "workspace": {
        "configuration": true,
        "didChangeConfiguration": { "dynamicRegistration": true },
        "inlayHint": { "refreshSupport": true },
    } });
    let mut client = Client::begun(Workbench::new(), capabilities);
    let registered = client.told("client/registerCapability");
    assert_eq!(registered["params"]["registrations"][0]["method"], "workspace/didChangeConfiguration");
    client.send(&json!({ "jsonrpc": "2.0", "id": registered["id"], "result": null }));
    client.open(DOCUMENT, DESIGN);
    assert_eq!(label(&client.labels(DOCUMENT), "−20"), Some("−20.0 dBu (77.5 mV)".into()));
    answer(&mut client, json!({ "hints": { "design": false } }));
    client.refreshed("workspace/inlayHint/refresh");
    assert_eq!(label(&client.labels(DOCUMENT), "−20"), None);
    client.notify("workspace/didChangeConfiguration", json!({ "settings": null }));
    answer(&mut client, json!({ "levels": "V" }));
    client.refreshed("workspace/inlayHint/refresh");
    let labels = client.labels(DOCUMENT);
    assert_eq!(label(&labels, "77.5 mV"), Some("77.5 mV".into()), "{labels:?}");
}

fn answer(client: &mut Client, section: Value) {
    let asked = client.told("workspace/configuration");
    assert_eq!(asked["params"]["items"], json!([{ "section": "stagewright" }]));
    client.send(&json!({ "jsonrpc": "2.0", "id": asked["id"], "result": [section] }));
}

/// Some clients send their configuration, whole or as much as is meant for this server.
#[test]
fn a_client_that_sends_its_configuration_is_heard() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(DOCUMENT, DESIGN);
    for (sent, level) in [
        (json!({ "stagewright": { "levels": "V" } }), "77.5 mV"),
        (json!({ "levels": "dBu" }), "−20.0 dBu"),
        (json!({ "levels": "both" }), "−20.0 dBu (77.5 mV)"),
    ] {
        client.notify("workspace/didChangeConfiguration", json!({ "settings": sent }));
        let labels = client.labels(DOCUMENT);
        assert!(labels.contains(&level.to_string()), "{level}: {labels:?}");
    }
}

#[test]
fn a_wish_that_is_not_understood_is_told() {
    let mut client = Client::wishing(Workbench::new(), json!({}), json!({ "digits": "many" }));
    let told = client.told("window/showMessage");
    let message = "The setting stagewright.digits is \"many\", and a number from 3 to 9 is wanted.";
    assert_eq!(told["params"], json!({ "type": 2, "message": message }));
}
