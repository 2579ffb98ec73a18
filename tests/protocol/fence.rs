//! Work that breaks off ends alone.

use serde_json::json;

use crate::DOCUMENT;
use crate::client::Client;
use crate::toy::Toy;

fn hover_params() -> serde_json::Value {
    json!({ "textDocument": { "uri": DOCUMENT }, "position": { "line": 0, "character": 1 } })
}

#[test]
fn a_panic_is_answered_and_told_and_the_server_lives_on() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.open(DOCUMENT, "panic 1");
    for _ in 0..20 {
        let id = client.request("textDocument/hover", hover_params());
        assert_eq!(client.answer(id)["error"]["code"], -32603);
        let line = client.told("window/logMessage")["params"]["message"].to_string();
        assert!(line.contains("textDocument/hover") && line.contains("the toy was told to"), "{line}");
        assert!(line.contains(env!("CARGO_PKG_VERSION")), "{line}");
    }
    assert_eq!(client.labels(DOCUMENT), ["sum 1"]);
    client.replace(DOCUMENT, 2, "owl 2");
    assert_eq!(client.call("textDocument/hover", hover_params())["contents"]["value"], "owl of 2");
}
