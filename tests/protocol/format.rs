//! Layout of a document, of some lines, and as a line is ended: the edits, made as an editor makes them.

use serde_json::{Value, json};

use crate::DOCUMENT;
use crate::client::{Client, Width, edited, range};
use crate::toy::Toy;

const OPTIONS: fn() -> Value = || json!({ "tabSize": 8, "insertSpaces": false });

fn open(text: &str, encoding: &str) -> Client {
    let mut client = Client::begun(Toy::default(), json!({ "general": { "positionEncodings": [encoding] } }));
    client.open(DOCUMENT, text);
    client
}

fn whole(client: &mut Client) -> Value {
    client.call("textDocument/formatting", json!({ "textDocument": { "uri": DOCUMENT }, "options": OPTIONS() }))
}

fn lines(client: &mut Client, place: Value) -> Value {
    let params = json!({ "textDocument": { "uri": DOCUMENT }, "range": place, "options": OPTIONS() });
    client.call("textDocument/rangeFormatting", params)
}

fn typed(client: &mut Client, at: (u32, u32), ch: &str) -> Value {
    let params = json!({
        "textDocument": { "uri": DOCUMENT }, "position": { "line": at.0, "character": at.1 }, "ch": ch, "options": OPTIONS(),
    });
    client.call("textDocument/onTypeFormatting", params)
}

#[test]
fn a_client_is_told_that_it_can_ask() {
    let answer = Client::in_process(Toy::default()).begin(json!({}));
    let can = &answer["capabilities"];
    assert_eq!(can["documentFormattingProvider"], true);
    assert_eq!(can["documentRangeFormattingProvider"], true);
    assert_eq!(can["documentOnTypeFormattingProvider"], json!({ "firstTriggerCharacter": "\n" }));
}

const CROOKED: &str = "stage a: in→out\r\n in--R1 10 kΩ∥C1 22 µF \"🎚\"--out# Ω\r\n   drive--R2 1k --out\r\n";
const LAID: &str =
    "stage a: in -> out\r\n  in    -- R1 10 kΩ || C1 22 µF \"🎚\" -- out    # Ω\r\n  drive -- R2 1k -- out\r\n";

#[test]
fn a_document_comes_to_its_layout_whatever_a_column_counts() {
    let widths: [(&str, Width); 3] = [("utf-8", char::len_utf8), ("utf-16", char::len_utf16), ("utf-32", |_| 1)];
    for (encoding, width) in widths {
        let mut client = open(CROOKED, encoding);
        let found = whole(&mut client);
        assert_eq!(edited(CROOKED, &found, width), LAID, "{encoding}: {found:#}");
        client.replace(DOCUMENT, 2, LAID);
        assert_eq!(whole(&mut client), json!([]), "what stands as it should has no edits");
    }
}

#[test]
fn edits_are_no_greater_than_they_need_be() {
    let mut client = open("stage a: in -> out\n  in -- R1 1k --out\n", "utf-16");
    assert_eq!(whole(&mut client), json!([{ "range": range((1, 16), (1, 16)), "newText": " " }]));
}

#[test]
fn some_lines_are_laid_out_as_they_will_stand() {
    let mut client = open(CROOKED, "utf-8");
    let found = lines(&mut client, range((1, 0), (2, 0)));
    let lines: Vec<&str> = LAID.split_inclusive('\n').collect();
    let crooked: Vec<&str> = CROOKED.split_inclusive('\n').collect();
    assert_eq!(edited(CROOKED, &found, char::len_utf8), [crooked[0], lines[1], crooked[2]].concat());
}

#[test]
fn a_line_is_laid_out_when_it_is_left() {
    let text = "stage a: in->out\n  in--R1 1k--out\n\n";
    let mut client = open(text, "utf-16");
    let found = typed(&mut client, (2, 0), "\n");
    assert_eq!(edited(text, &found, char::len_utf16), "stage a: in->out\n  in -- R1 1k -- out\n  \n");
    assert_eq!(typed(&mut client, (2, 0), "x"), json!([]));
    assert_eq!(typed(&mut client, (0, 0), "\n"), json!([]));
    // Behind the last line, and far behind it.
    let found = typed(&mut client, (3, 0), "\n");
    assert_eq!(edited(text, &found, char::len_utf16), text);
    assert!(typed(&mut client, (99, 99), "\n").is_array());
}

#[test]
fn a_document_that_is_not_open_has_no_layout() {
    let mut client = Client::begun(Toy::default(), json!({}));
    assert_eq!(whole(&mut client), Value::Null);
    assert_eq!(lines(&mut client, range((0, 0), (0, 0))), Value::Null);
    assert_eq!(typed(&mut client, (0, 0), "\n"), Value::Null);
}

/// What was asked of a text that is no more is refused, as the scheduling table has it, or answered about that text: never a layout
/// of another one.
#[test]
fn an_overtaken_layout_is_refused() {
    let mut client = open(CROOKED, "utf-8");
    let params = json!({ "textDocument": { "uri": DOCUMENT }, "options": OPTIONS() });
    let mut refused = 0;
    for version in 2..40 {
        let id = client.request("textDocument/formatting", params.clone());
        client.replace(DOCUMENT, version, if version % 2 == 0 { LAID } else { CROOKED });
        let answer = client.answer(id);
        match answer["error"]["code"].as_i64() {
            Some(code) => {
                assert_eq!(code, -32801, "{answer}");
                refused += 1;
            }
            None => {
                let before = if version % 2 == 0 { CROOKED } else { LAID };
                assert_eq!(edited(before, &answer["result"], char::len_utf8), LAID);
            }
        }
    }
    println!("{refused} of 38 were refused");
}
