//! Lines and columns in each encoding, and texts that are sent in pieces.

use serde_json::{Value, json};

use crate::DOCUMENT;
use crate::client::{Client, range};
use crate::toy::Toy;

/// Columns at which `bad` begins in `Ω µ √ ° 🎚 bad` in each encoding.
const COLUMNS: [(&str, u32); 3] = [("utf-8", 18), ("utf-16", 11), ("utf-32", 10)];

fn begun(encoding: &str) -> Client {
    let mut client = Client::in_process(Toy::default());
    let answer = client.begin(json!({ "general": { "positionEncodings": [encoding] } }));
    assert_eq!(answer["capabilities"]["positionEncoding"], encoding);
    client
}

#[test]
fn what_is_said_stands_where_the_editor_counts_it() {
    for (encoding, column) in COLUMNS {
        let mut client = begun(encoding);
        client.open(DOCUMENT, "first 1\r\nΩ µ √ ° 🎚 bad");
        let diagnostics = client.diagnostics(1);
        assert_eq!(diagnostics[0]["range"], range((1, column), (1, column + 3)), "{encoding}");
        let id = client.ask_hints(DOCUMENT);
        let hints = client.answer(id)["result"].clone();
        assert_eq!(hints[0]["position"], json!({ "line": 0, "character": 7 }), "{encoding}: in front of the CRLF");
        assert_eq!(hints[1]["position"], json!({ "line": 1, "character": column + 3 }), "{encoding}");
    }
}

#[test]
fn an_edit_goes_where_the_editor_counts_it() {
    for (encoding, column) in COLUMNS {
        let mut client = begun(encoding);
        client.open(DOCUMENT, "Ω µ √ ° 🎚 bad 1");
        assert_eq!(client.diagnostics(1).len(), 1);
        client.change(DOCUMENT, 2, json!([{ "range": range((0, column), (0, column + 3)), "text": "good" }]));
        assert_eq!(client.diagnostics(2), Vec::<Value>::new(), "{encoding}");
        assert_eq!(client.labels(DOCUMENT), ["sum 1"], "{encoding}");
    }
}

#[test]
fn the_changes_of_one_message_follow_each_other() {
    let mut client = begun("utf-16");
    client.open(DOCUMENT, "owl 1\nbox 2\n");
    client.change(
        DOCUMENT,
        2,
        json!([
            { "range": range((0, 0), (0, 0)), "text": "🦉 4\r\n" },
            { "range": range((1, 4), (1, 5)), "text": "10" },
            { "range": range((2, 0), (3, 0)), "text": "" },
            { "range": range((0, 2), (0, 4)), "text": " 5" },
        ]),
    );
    assert_eq!(client.labels(DOCUMENT), ["sum 15", "sum 15"]);
}

#[test]
fn whole_texts_and_pieces_may_be_mixed() {
    let mut client = begun("utf-16");
    client.open(DOCUMENT, "owl 1");
    client.change(DOCUMENT, 2, json!([{ "text": "owl 2" }, { "range": range((0, 4), (0, 5)), "text": "3" }]));
    assert_eq!(client.labels(DOCUMENT), ["sum 3"]);
}

#[test]
fn places_past_the_end_are_taken_as_the_end() {
    let mut client = begun("utf-16");
    client.open(DOCUMENT, "owl 1\nbox 2");
    client.change(DOCUMENT, 2, json!([{ "range": range((0, 99), (0, 99)), "text": "0" }]));
    assert_eq!(client.labels(DOCUMENT), ["sum 12", "sum 12"]);
    client.change(DOCUMENT, 3, json!([{ "range": range((99, 0), (99, 7)), "text": "0" }]));
    assert_eq!(client.labels(DOCUMENT), ["sum 30", "sum 30"]);
}

#[test]
fn an_empty_text_is_a_text() {
    let mut client = begun("utf-16");
    client.open(DOCUMENT, "");
    assert_eq!(client.diagnostics(1), Vec::<Value>::new());
    assert_eq!(client.labels(DOCUMENT), Vec::<String>::new());
    client.change(DOCUMENT, 2, json!([{ "range": range((0, 0), (0, 0)), "text": "owl 1" }]));
    assert_eq!(client.labels(DOCUMENT), ["sum 1"]);
}
