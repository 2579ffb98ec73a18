//! From the first message to the last.

use serde_json::{Value, json};
use stagewright::serve::Ended;

use crate::DOCUMENT;
use crate::client::Client;
use crate::toy::Toy;

fn code(answer: &Value) -> i64 {
    answer["error"]["code"].as_i64().unwrap_or_else(|| panic!("{answer} should be an error"))
}

#[test]
fn the_server_says_what_it_can_do() {
    let mut client = Client::in_process(Toy::default());
    let answer = client.begin(json!({}));
    let can = &answer["capabilities"];
    assert_eq!(can["positionEncoding"], "utf-16");
    assert_eq!(can["textDocumentSync"], json!({ "openClose": true, "change": 2, "save": true }));
    for provider in ["inlayHintProvider", "hoverProvider", "documentSymbolProvider"] {
        assert_eq!(can[provider], true, "{provider}");
    }
    assert_eq!(
        can["codeActionProvider"]["codeActionKinds"],
        json!(["quickfix", "refactor.rewrite", "refactor.extract", "source.fixAll", "source.renumber"])
    );
    assert_eq!(answer["serverInfo"]["name"], "stagewright");
}

#[test]
fn a_client_that_shuts_down_first_leaves_politely() {
    let mut client = Client::begun(Toy::default(), json!({}));
    assert_eq!(client.shut_down(), Ended::Politely);
}

#[test]
fn exit_without_shutdown_and_a_closed_pipe_are_abrupt() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.notify("exit", Value::Null);
    assert_eq!(client.leave(), Ended::Abruptly);
    let mut client = Client::begun(Toy::default(), json!({}));
    assert_eq!(client.leave(), Ended::Abruptly);
}

#[test]
fn requests_out_of_their_time_are_errors_and_answered_all_the_same() {
    let mut client = Client::in_process(Toy::default());
    for method in ["textDocument/inlayHint", "textDocument/hover", "shutdown"] {
        let early = client.request(method, json!({}));
        assert_eq!(code(&client.answer(early)), -32002, "{method} before initialize");
    }
    client.begin(json!({}));
    let again = client.request("initialize", json!({ "capabilities": {} }));
    assert_eq!(code(&client.answer(again)), -32600, "a second initialize");
    client.call("shutdown", Value::Null);
    for method in ["textDocument/inlayHint", "textDocument/hover", "shutdown"] {
        let late = client.request(method, json!({}));
        assert_eq!(code(&client.answer(late)), -32600, "{method} after shutdown");
    }
}

#[test]
fn unknown_requests_are_answered_and_unknown_notifications_are_not() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.notify("owl/hoot", json!({}));
    client.notify("$/owl", json!({}));
    for method in ["owl/hoot", "$/owl"] {
        let id = client.request(method, json!({}));
        assert_eq!(code(&client.answer(id)), -32601, "{method}");
    }
    assert_eq!(client.messages(), Vec::<Value>::new());
}

#[test]
fn numbers_of_requests_may_be_text() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.open(DOCUMENT, "owl 1");
    for method in ["textDocument/inlayHint", "textDocument/documentSymbol"] {
        let range = crate::client::range((0, 0), (9, 0));
        let params = json!({ "textDocument": { "uri": DOCUMENT }, "range": range });
        client.send(&json!({ "jsonrpc": "2.0", "id": "hoot-1", "method": method, "params": params }));
        client.wait(|message| message["id"] == "hoot-1" && message.get("result").is_some());
    }
}

#[test]
fn parameters_that_cannot_be_read_are_the_requests_error_and_nothing_elses() {
    let mut client = Client::begun(Toy::default(), json!({}));
    for method in ["textDocument/inlayHint", "textDocument/hover"] {
        let id = client.request(method, json!({ "textDocument": 7 }));
        assert_eq!(code(&client.answer(id)), -32602, "{method}");
    }
    client.notify("textDocument/didChange", json!({ "textDocument": 7 }));
    client.open(DOCUMENT, "owl 1");
    assert_eq!(client.labels(DOCUMENT), ["sum 1"]);
}

#[test]
fn text_that_is_no_message_is_told_and_passed_over() {
    let mut client = Client::begun(Toy::default(), json!({}));
    let not_json = "{\"jsonrpc\": \"2.0\", \"method\": ";
    client.send_bytes(format!("Content-Length: {}\r\n\r\n{not_json}", not_json.len()).as_bytes());
    let told = client.wait(|message| message["error"]["code"] == -32700).message;
    assert_eq!(told["id"], Value::Null);
    client.send_bytes(b"Content-Length: owl\r\n\r\n");
    client.send_bytes(b"what is this\r\n\r\n");
    client.open(DOCUMENT, "owl 1");
    assert_eq!(client.labels(DOCUMENT), ["sum 1"]);
}

#[test]
fn messages_may_come_in_any_pieces() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.open(DOCUMENT, "owl 1");
    let params = json!({ "textDocument": { "uri": DOCUMENT } });
    let request = json!({ "jsonrpc": "2.0", "id": 77, "method": "textDocument/documentSymbol", "params": params });
    let mut bytes = crate::client::framed(&request);
    bytes.extend(crate::client::framed(
        &json!({ "jsonrpc": "2.0", "method": "$/setTrace", "params": { "value": "off" } }),
    ));
    for byte in bytes {
        client.send_bytes(&[byte]);
    }
    client.answer(77);
}

#[test]
fn a_trace_is_told_when_it_is_wanted() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.open(DOCUMENT, "owl 1");
    client.diagnostics(1);
    client.labels(DOCUMENT);
    assert_eq!(client.messages(), Vec::<Value>::new());
    client.notify("$/setTrace", json!({ "value": "messages" }));
    client.labels(DOCUMENT);
    let line = client.told("$/logTrace")["params"]["message"].to_string();
    assert!(line.contains("textDocument/inlayHint on version 1"), "{line}");
    client.notify("$/setTrace", json!({ "value": "off" }));
    client.labels(DOCUMENT);
    client.messages();
    client.labels(DOCUMENT);
    assert_eq!(client.messages(), Vec::<Value>::new());
}

#[test]
fn a_progress_that_is_not_under_way_may_be_taken_back() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.notify("window/workDoneProgress/cancel", json!({ "token": "owl" }));
    client.open(DOCUMENT, "owl 1");
    assert_eq!(client.labels(DOCUMENT), ["sum 1"]);
}

#[test]
fn documents_open_change_close_and_open_again() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.open(DOCUMENT, "owl 1");
    client.open("file:///nest/box.stage", "box 5");
    client.replace(DOCUMENT, 2, "owl 2");
    assert_eq!(client.labels(DOCUMENT), ["sum 2"]);
    assert_eq!(client.labels("file:///nest/box.stage"), ["sum 5"]);
    client.notify("textDocument/didClose", json!({ "textDocument": { "uri": DOCUMENT } }));
    assert_eq!(client.labels(DOCUMENT), Vec::<String>::new());
    client.replace(DOCUMENT, 9, "owl 9");
    assert_eq!(client.labels(DOCUMENT), Vec::<String>::new(), "a change of what is not open");
    client.open(DOCUMENT, "owl 3");
    assert_eq!(client.labels(DOCUMENT), ["sum 3"]);
}

#[test]
fn before_the_first_message_only_exit_is_heard() {
    let mut client = Client::in_process(Toy::default());
    let early = client.request("owl/hoot", json!({}));
    assert_eq!(code(&client.answer(early)), -32002, "even of a method that nobody knows");
    client.open(DOCUMENT, "owl 1 bad");
    client.notify("$/setTrace", json!({ "value": "verbose" }));
    client.begin(json!({}));
    assert_eq!(client.labels(DOCUMENT), Vec::<String>::new(), "the document was opened too early");
    assert_eq!(client.messages(), Vec::<Value>::new());

    let mut client = Client::in_process(Toy::default());
    client.notify("exit", Value::Null);
    assert_eq!(client.leave(), Ended::Abruptly);
}

#[test]
fn behind_shutdown_only_exit_is_heard() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.call("shutdown", Value::Null);
    client.open(DOCUMENT, "owl 1 bad");
    let late = client.request("owl/hoot", json!({}));
    assert_eq!(code(&client.answer(late)), -32600);
    assert_eq!(client.messages(), Vec::<Value>::new());
    client.notify("exit", Value::Null);
    assert_eq!(client.leave(), Ended::Politely);

    let mut client = Client::begun(Toy::default(), json!({}));
    client.call("shutdown", Value::Null);
    assert_eq!(client.leave(), Ended::Politely, "a pipe that closes behind it is as good");
}

#[test]
fn the_server_leaves_when_the_clients_process_is_gone_already() {
    let mut gone = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--list", "no test is called so"])
        .stdout(std::process::Stdio::null())
        .spawn()
        .expect("a process that ends");
    gone.wait().unwrap();
    let mut client = Client::in_process(Toy::default());
    let id = client.request("initialize", json!({ "processId": gone.id(), "rootUri": null, "capabilities": {} }));
    assert!(client.answer(id)["result"].is_object());
    assert_eq!(client.left(), Ended::Abruptly);
}

#[test]
fn a_trace_may_be_asked_for_from_the_start_and_what_is_no_trace_changes_nothing() {
    let mut client = Client::in_process(Toy::default());
    let params = json!({ "processId": null, "rootUri": null, "capabilities": {}, "trace": "verbose" });
    client.call("initialize", params);
    client.notify("initialized", json!({}));
    client.notify("$/setTrace", json!({ "value": "owl" }));
    client.notify("$/setTrace", json!({}));
    client.open(DOCUMENT, "owl 1");
    client.labels(DOCUMENT);
    client.wait(|message| message["params"]["message"].to_string().contains("textDocument/inlayHint on version 1"));
}

#[test]
fn a_request_for_a_document_that_was_never_opened_has_an_empty_answer() {
    let mut client = Client::begun(Toy::default(), json!({}));
    let document = json!({ "uri": "file:///nowhere/at/all.stage" });
    let place = json!({ "line": 3, "character": 1 });
    let all = crate::client::range((0, 0), (9, 0));
    let options = json!({ "tabSize": 2, "insertSpaces": true });
    for (method, more, answer) in [
        ("textDocument/inlayHint", json!({ "range": all }), json!([])),
        ("textDocument/hover", json!({ "position": place }), Value::Null),
        ("textDocument/documentSymbol", json!({}), Value::Null),
        ("textDocument/codeAction", json!({ "range": all, "context": { "diagnostics": [] } }), Value::Null),
        ("textDocument/semanticTokens/full", json!({}), Value::Null),
        ("textDocument/semanticTokens/full/delta", json!({ "previousResultId": "1" }), Value::Null),
        ("textDocument/semanticTokens/range", json!({ "range": all }), Value::Null),
        ("textDocument/formatting", json!({ "options": options }), Value::Null),
        ("textDocument/rangeFormatting", json!({ "range": all, "options": options }), Value::Null),
        ("textDocument/onTypeFormatting", json!({ "position": place, "ch": "\n", "options": options }), Value::Null),
    ] {
        let mut params = more;
        params["textDocument"] = document.clone();
        assert_eq!(client.call(method, params), answer, "{method}");
    }
    client.notify("textDocument/didSave", json!({ "textDocument": document }));
    client.notify("textDocument/didClose", json!({ "textDocument": document }));
    client.open(DOCUMENT, "owl 1");
    assert_eq!(client.labels(DOCUMENT), ["sum 1"]);
}

#[test]
fn answers_and_cancellations_of_what_nobody_asked_are_passed_over() {
    let mut client = Client::begun(Toy::default(), json!({}));
    client.send(&json!({ "jsonrpc": "2.0", "id": 4711, "result": null }));
    client.send(&json!({ "jsonrpc": "2.0", "id": "owl", "error": { "code": -1, "message": "no" } }));
    client.notify("$/cancelRequest", json!({ "id": 4711 }));
    client.notify("$/cancelRequest", json!({}));
    client.open(DOCUMENT, "owl 1");
    assert_eq!(client.labels(DOCUMENT), ["sum 1"]);
}
