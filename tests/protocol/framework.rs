//! Six ways in which a server on this framework goes wrong, each of which was seen in a measured program. None of them may come back.

use serde_json::{Value, json};

use crate::DOCUMENT;
use crate::client::Client;
use crate::toy::{Gate, Toy};

fn open(gate: &Gate, text: &str) -> Client {
    let mut client =
        Client::begun(Toy::with(gate), json!({ "workspace": { "inlayHint": { "refreshSupport": true } } }));
    client.open(DOCUMENT, text);
    client
}

fn ask_hover(client: &mut Client, character: u32) -> i64 {
    let position = json!({ "line": 0, "character": character });
    client.request("textDocument/hover", json!({ "textDocument": { "uri": DOCUMENT }, "position": position }))
}

fn cancel(client: &mut Client, id: i64) {
    client.notify("$/cancelRequest", json!({ "id": id }));
}

/// Row 1: a handler that changes the state before its first wait is never overtaken by a read behind it.
#[test]
fn a_read_behind_an_edit_sees_it() {
    let mut client = open(&Gate::default(), "owl 1");
    for version in 2..2002 {
        client.replace(DOCUMENT, version, &format!("owl {version}"));
        match version % 2 {
            0 => assert_eq!(client.labels(DOCUMENT), [format!("sum {version}")]),
            _ => {
                let id = ask_hover(&mut client, 1);
                assert_eq!(client.answer(id)["result"]["contents"]["value"], format!("owl of {version}"));
            }
        }
    }
}

/// Row 2: nothing yields between a message and its effect, so the order holds without waiting for answers too. A read that a later edit
/// overtakes is refused, never answered from another text.
#[test]
fn reads_and_edits_sent_in_one_go_keep_their_order() {
    let mut client = open(&Gate::default(), "owl 1");
    let mut asked = Vec::new();
    for version in 2..2002 {
        client.replace(DOCUMENT, version, &format!("owl {version}"));
        asked.push((version, client.ask_hints(DOCUMENT), ask_hover(&mut client, 1)));
    }
    let mut answered = 0;
    for (version, hints, hover) in asked {
        let (hints, hover) = (client.answer(hints), client.answer(hover));
        for (answer, value) in [
            (&hints, hints["result"][0]["label"].as_str().map(|label| label == format!("sum {version}"))),
            (&hover, hover["result"]["contents"]["value"].as_str().map(|text| text == format!("owl of {version}"))),
        ] {
            match value {
                Some(right) => {
                    assert!(right, "of version {version}: {answer}");
                    answered += 1;
                }
                None => assert_eq!(answer["error"]["code"], -32801, "{answer}"),
            }
        }
    }
    assert!(answered >= 2, "the last are answered in any case");
}

/// Row 3: a cancel is seen while the work is still computing, and the requests behind it do not wait.
#[test]
fn a_cancel_is_seen_while_work_goes_on() {
    let gate = Gate::default();
    let mut client = open(&gate, "gate 1");
    let id = ask_hover(&mut client, 1);
    gate.wait_for(1);
    cancel(&mut client, id);
    assert_eq!(client.answer(id)["error"]["code"], -32800);
    // The gate is shut still: the first piece of work has not come to its end.
    let symbols = client.call("textDocument/documentSymbol", json!({ "textDocument": { "uri": DOCUMENT } }));
    assert_eq!(symbols[0]["name"], "gate");
    gate.open();
}

/// Row 4: a thread that computes cannot be stopped from outside, so work that was taken back before its turn is never begun, and work
/// that is under way stops at the next edit.
#[test]
fn work_that_was_taken_back_is_not_begun() {
    let gate = Gate::default();
    let mut client = open(&gate, "gate 1");
    let first = ask_hover(&mut client, 1);
    gate.wait_for(1);
    let waiting: Vec<_> = (0..40).map(|_| ask_hover(&mut client, 1)).collect();
    for &id in &waiting {
        cancel(&mut client, id);
    }
    for &id in &waiting {
        assert_eq!(client.answer(id)["error"]["code"], -32800);
    }
    gate.open();
    assert_eq!(client.answer(first)["result"]["contents"]["value"], "gate of 1");
    let last = ask_hover(&mut client, 1);
    client.answer(last);
    // The first, the last, and those that the other workers had begun before they were taken back.
    let most = 2 + 1 + std::thread::available_parallelism().map_or(2, |n| n.get()).max(2);
    assert!(gate.entered() <= most, "{} of 42 were computed", gate.entered());
}

#[test]
fn work_under_way_stops_at_the_next_edit() {
    let gate = Gate::default();
    let mut client = open(&gate, "gate 1");
    let id = ask_hover(&mut client, 1);
    gate.wait_for(1);
    client.replace(DOCUMENT, 2, "owl 2");
    assert_eq!(client.answer(id)["error"]["code"], -32801, "the gate is never opened");
    assert_eq!(client.labels(DOCUMENT), ["sum 2"]);
}

/// Row 5: a panic takes neither the serving task nor the other requests with it.
#[test]
fn a_panic_takes_nothing_with_it() {
    let gate = Gate::default();
    let mut client = open(&gate, "gate panic 1");
    let waits = ask_hover(&mut client, 1);
    gate.wait_for(1);
    cancel(&mut client, waits);
    gate.open();
    let breaks: Vec<_> = (0..10).map(|_| ask_hover(&mut client, 6)).collect();
    let works: Vec<_> = (0..10).map(|_| ask_hover(&mut client, 1)).collect();
    for id in breaks {
        assert_eq!(client.answer(id)["error"]["code"], -32603);
    }
    for id in works {
        assert_eq!(client.answer(id)["result"]["contents"]["value"], "gate of 1");
    }
}

/// Row 6: requests to the client that it never answers hold nothing up, however much is queued.
#[test]
fn a_client_that_never_answers_holds_nothing_up() {
    let mut client = open(&Gate::default(), "owl 1");
    client.labels(DOCUMENT);
    for round in 0..6 {
        // A figure that was kept for the word's sake and then goes: the server asks for a refresh, and waits for the answer in vain.
        client.replace(DOCUMENT, 2 + 2 * round, "owl ?");
        client.labels(DOCUMENT);
        client.told("workspace/inlayHint/refresh");
        client.replace(DOCUMENT, 3 + 2 * round, "owl 1");
        client.labels(DOCUMENT);
    }
    let asked: Vec<_> =
        (0..150).map(|i| if i % 2 == 0 { client.ask_hints(DOCUMENT) } else { ask_hover(&mut client, 1) }).collect();
    for id in asked {
        assert!(client.answer(id).get("result").is_some());
    }
}

/// More requests wait than the framework serves at a time unless told otherwise, and an edit behind them is still seen at once.
#[test]
fn many_that_wait_do_not_keep_an_edit_from_being_seen() {
    let gate = Gate::default();
    let mut client = open(&gate, "gate 1");
    let waiting: Vec<_> = (0..150).map(|_| ask_hover(&mut client, 1)).collect();
    gate.wait_for(1);
    client.replace(DOCUMENT, 2, "owl 2");
    assert_eq!(client.labels(DOCUMENT), ["sum 2"]);
    for id in waiting {
        assert_eq!(client.answer(id)["error"]["code"], -32801);
    }
    assert_eq!(client.messages().iter().filter(|message| message.get("id").is_some()).count(), 0, "each once");
    assert_eq!(client.call("shutdown", Value::Null), Value::Null);
}
