//! Semantic tokens: whole, in a range, and as the difference to what the client has.

use proptest::prelude::*;
use serde_json::{Value, json};
use workbench::Workbench;

use crate::DOCUMENT;
use crate::client::{Client, range};
use crate::toy::Toy;

/// A carillon's pick-up.
const DESIGN: &str = "\
stage pre: in -> out    # é 🔔
  in -- R1 10 kΩ 1% -- gnd
  U1a 5532: + in, - out, out out
require
  gain in -> out at 1 kHz < 6 dB
";

fn open(bench: impl stagewright::serve::Bench, text: &str, encoding: &str) -> Client {
    let mut client = Client::begun(bench, json!({ "general": { "positionEncodings": [encoding] } }));
    client.open(DOCUMENT, text);
    client
}

fn document() -> Value {
    json!({ "textDocument": { "uri": DOCUMENT } })
}

fn full(client: &mut Client) -> Value {
    client.call("textDocument/semanticTokens/full", document())
}

fn delta(client: &mut Client, previous: &str) -> Value {
    let mut params = document();
    params["previousResultId"] = json!(previous);
    client.call("textDocument/semanticTokens/full/delta", params)
}

fn numbers(list: &Value) -> Vec<u64> {
    list.as_array()
        .unwrap_or_else(|| panic!("numbers are a list, not {list}"))
        .iter()
        .map(|n| n.as_u64().unwrap())
        .collect()
}

/// The tokens as `line:column word kind [modifiers]`, with the legend of the session.
fn shown(text: &str, legend: &Value, data: &[u64], width: Width) -> Vec<String> {
    let (mut line, mut column) = (0, 0);
    let name = |list: &str, i: u64| legend[list][i as usize].as_str().expect("it stands in the legend").to_string();
    let one = |token: &[u64]| {
        let &[down, right, length, kind, bits] = token else { panic!("five numbers each") };
        (line, column) = if down == 0 { (line, column + right) } else { (line + down, right) };
        let (mut at, mut word) = (0, String::new());
        for c in text.lines().nth(line as usize).expect("a line").chars() {
            if (column..column + length).contains(&at) {
                word.push(c);
            }
            at += width(c) as u64;
        }
        let modifiers =
            (0..8).filter(|bit| bits & (1 << bit) != 0).map(|bit| format!(" {}", name("tokenModifiers", bit)));
        format!("{word} {}{}", name("tokenTypes", kind), modifiers.collect::<String>())
    };
    data.chunks(5).map(one).collect()
}

/// What a column counts a character as.
type Width = fn(char) -> usize;

const EXPECTED: [&str; 34] = [
    "stage keyword",
    "pre namespace definition",
    "in variable",
    "-> operator",
    "out variable",
    "# é 🔔 comment",
    "in variable",
    "-- operator",
    "R1 class definition",
    "10 number",
    "kΩ unit",
    "1 number",
    "% unit",
    "-- operator",
    "gnd variable readonly",
    "U1a class definition",
    "5532 type",
    "+ keyword",
    "in variable",
    "- keyword",
    "out variable",
    "out keyword",
    "out variable",
    "require keyword",
    "gain function defaultLibrary",
    "in variable",
    "-> operator",
    "out variable",
    "at keyword",
    "1 number",
    "kHz unit",
    "< operator",
    "6 number",
    "dB unit",
];

#[test]
fn every_word_is_told_for_what_it_is_whatever_a_column_counts() {
    let expected: Vec<_> = EXPECTED.iter().map(|line| line.to_string()).collect();
    let widths: [(&str, Width); 3] = [("utf-8", char::len_utf8), ("utf-16", char::len_utf16), ("utf-32", |_| 1)];
    for (encoding, width) in widths {
        let mut client = Client::in_process(Workbench::new());
        let answer = client.begin(json!({ "general": { "positionEncodings": [encoding] } }));
        let provider = &answer["capabilities"]["semanticTokensProvider"];
        assert_eq!((&provider["full"], &provider["range"]), (&json!({ "delta": true }), &json!(true)));
        client.open(DOCUMENT, DESIGN);
        let data = numbers(&full(&mut client)["data"]);
        assert_eq!(shown(DESIGN, &provider["legend"], &data, width), expected, "{encoding}");
    }
}

#[test]
fn a_range_has_the_tokens_that_it_touches() {
    let mut client = open(Workbench::new(), DESIGN, "utf-16");
    let mut params = document();
    params["range"] = range((3, 0), (3, 7));
    let answer = client.call("textDocument/semanticTokens/range", params);
    assert_eq!(numbers(&answer["data"]), [3, 0, 7, 0, 0]);
    assert_eq!(answer.get("resultId"), None, "a difference is told of whole documents only");
}

/// The numbers after edits, as the protocol has them made.
fn edited(mut data: Vec<u64>, delta: &Value) -> Vec<u64> {
    let Some(edits) = delta["edits"].as_array() else { return numbers(&delta["data"]) };
    let mut edits: Vec<_> = edits.iter().collect();
    edits.sort_by_key(|edit| edit["start"].as_u64());
    for edit in edits.into_iter().rev() {
        let start = edit["start"].as_u64().unwrap() as usize;
        let end = start + edit["deleteCount"].as_u64().unwrap() as usize;
        let new = edit.get("data").map(numbers).unwrap_or_default();
        data.splice(start..end, new);
    }
    data
}

#[test]
fn a_difference_is_no_longer_than_what_changed() {
    let mut client = open(Workbench::new(), DESIGN, "utf-16");
    let first = full(&mut client);
    client.change(DOCUMENT, 2, json!([{ "range": range((1, 11), (1, 13)), "text": "220" }]));
    let next = delta(&mut client, first["resultId"].as_str().unwrap());
    assert_eq!(next["edits"], json!([{ "start": 45, "deleteCount": 10, "data": [0, 3, 3, 7, 0, 0, 4, 2, 8, 0] }]));
    let same = delta(&mut client, next["resultId"].as_str().unwrap());
    assert_eq!(same["edits"], json!([]));
    assert_ne!(same["resultId"], first["resultId"]);
}

#[test]
fn what_the_server_does_not_remember_is_told_whole() {
    let mut client = open(Toy::default(), "owl 1\nbox 2", "utf-16");
    let first = full(&mut client);
    let unknown = delta(&mut client, "owl");
    assert_eq!(unknown["data"], first["data"]);
    let late = delta(&mut client, first["resultId"].as_str().unwrap());
    assert_eq!(late["data"], first["data"], "the name of the one before the last");
    // A document that is opened again begins afresh.
    client.notify("textDocument/didClose", document());
    client.open(DOCUMENT, "owl 1");
    let again = delta(&mut client, late["resultId"].as_str().unwrap());
    assert_eq!(numbers(&again["data"]), [0, 0, 3, 0, 1]);
}

fn texts() -> impl Strategy<Value = String> {
    let piece = prop::sample::select(vec![
        "\n",
        "\n  ",
        "in -- R1 1k -- gnd",
        "stage a: in -> out",
        "require",
        "gain in -> out",
        " 10 kΩ",
        "# 🔔",
        "\"é\"",
        " --",
        "(",
        "\r\n",
    ]);
    prop::collection::vec(piece, 0..6).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Whatever is edited, the tokens that a client has from differences are those of a server that sees the text for the first time.
    #[test]
    fn differences_add_up_to_the_whole(edits in prop::collection::vec((0usize..300, 0usize..20, texts()), 1..8)) {
        let mut client = open(Workbench::new(), DESIGN, "utf-16");
        let first = full(&mut client);
        let mut data = numbers(&first["data"]);
        let mut id = first["resultId"].as_str().unwrap().to_string();
        let mut text = DESIGN.to_string();
        for (i, (start, length, new)) in edits.into_iter().enumerate() {
            let byte = |at: usize| text.char_indices().nth(at).map_or(text.len(), |(byte, _)| byte);
            text.replace_range(byte(start)..byte(start + length), &new);
            client.replace(DOCUMENT, i as i32 + 2, &text);
            let next = delta(&mut client, &id);
            data = edited(data, &next);
            id = next["resultId"].as_str().unwrap().to_string();
            let afresh = full(&mut open(Workbench::new(), &text, "utf-16"));
            prop_assert_eq!(&data, &numbers(&afresh["data"]), "of {:?}", text);
        }
    }
}
