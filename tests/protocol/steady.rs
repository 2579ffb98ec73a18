//! Figures stay while a line is edited: for each kind of line its value is deleted key by key and typed again, and no other line loses
//! its figure on the way.

use std::collections::BTreeMap;
use std::fs;

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::{Client, range};

/// A pause that no word rests in: what is asked for is what a typist sees who does not stop.
const AN_HOUR: u64 = 3_600_000;
const LISTENER: &str = include_str!("../../examples/river-listener.stage");
const URI: &str = "untitled:river";

/// A word that finds the line, and the value in it.
const VALUES: &[(&str, &str)] = &[
    ("drive -- R2", "1k"),
    ("mirror -- R5", "22p c0g"),
    ("drive -- R2", "50k log"),
    ("band  ", "20 Hz .. 20 kHz"),
    ("supply  ", "+12 V, vneg -12 V"),
    ("tolerance  ", "1 %"),
    ("source  ", "5 mV"),
    ("setting    low", "VR1 0 %"),
    ("gain in -> line at 1 kHz when low", "1 kHz when low"),
    ("gain in -> line at 1 kHz when low", "12 dB ± 0.5 dB"),
    ("balance of line", "40 dB"),
    ("C2 short", "100 Hz"),
    ("low corner in -> drive", "1 / (2*pi*R3*C2)"),
];

type Shown = BTreeMap<u64, Vec<String>>;

fn shown(client: &mut Client, uri: &str) -> Shown {
    let id = client.ask_hints(uri);
    let mut all = Shown::new();
    for hint in client.answer(id)["result"].as_array().expect("hints") {
        let line = hint["position"]["line"].as_u64().expect("a line");
        all.entry(line).or_default().push(hint["label"].as_str().expect("a label").to_string());
    }
    all
}

/// The lines that say less than they said: a label is gone, or is no figure any more.
fn lost(before: &Shown, now: &Shown) -> Vec<(u64, Vec<String>, Option<Vec<String>>)> {
    let says = |now: &Vec<String>, before: &Vec<String>| {
        now.len() == before.len() && !now.iter().any(|label| label.contains("unknown"))
    };
    let lost = before.iter().filter(|(line, labels)| now.get(line).is_none_or(|now| !says(now, labels)));
    lost.map(|(line, labels)| (*line, labels.clone(), now.get(line).cloned())).collect()
}

/// What is typed on the way from a value to nothing and back, from the caret's first place.
fn keys(value: &str) -> Vec<String> {
    let mut states: Vec<String> = value.char_indices().map(|(at, _)| value[..at].to_string()).rev().collect();
    states.extend(value.char_indices().map(|(at, c)| value[..at + c.len_utf8()].to_string()));
    states
}

#[test]
fn no_other_line_loses_its_figure_while_a_value_is_deleted_and_typed_again() {
    for (found_by, value) in VALUES {
        let start = LISTENER.find(found_by).expect("the line is there");
        let at = start + LISTENER[start..].find(value).expect("its value is there");
        let (front, behind) = (&LISTENER[..at], &LISTENER[at + value.len()..]);
        let line = front.matches('\n').count() as u64;
        let mut client = Client::wishing(Workbench::new(), json!({}), json!({ "pause": AN_HOUR }));
        client.open(URI, LISTENER);
        let before = shown(&mut client, URI);
        let mut version = 1;
        for typed in keys(value) {
            version += 1;
            client.replace(URI, version, &format!("{front}{typed}{behind}"));
            let mut lost = lost(&before, &shown(&mut client, URI));
            // A part whose value is gone has no figure of its own in front of the first one; a statement keeps its own.
            lost.retain(|(other, ..)| *other != line || LISTENER[..at].rfind("\nrequire").is_some());
            assert!(lost.is_empty(), "{found_by} … {typed}: {lost:#?}");
        }
        assert_eq!(shown(&mut client, URI), before, "{found_by}: the text is as it was");
        client.leave();
    }
}

#[test]
fn what_was_unfinished_when_the_document_was_opened_has_no_figure_to_keep() {
    let open = LISTENER.replace("R2 1k", "R2");
    let mut client = Client::wishing(Workbench::new(), json!({}), json!({ "pause": AN_HOUR }));
    client.open(URI, &open);
    let before = shown(&mut client, URI);
    let unknown = |shown: &Shown| shown.values().flatten().filter(|l| l.contains("R2 has no value")).count();
    assert!(unknown(&before) > 10, "{before:#?}");
    // Another line is edited, and is whole again: nothing has come of it.
    client.replace(URI, 2, &open.replace("22p", ""));
    assert!(shown(&mut client, URI).values().flatten().any(|l| l.contains("unknown")));
    client.replace(URI, 3, &open);
    assert_eq!(shown(&mut client, URI), before);
    client.replace(URI, 4, LISTENER);
    let known = shown(&mut client, URI);
    assert!(!known.values().flatten().any(|l| l.contains("unknown")), "{known:#?}");
    client.replace(URI, 5, &open);
    assert_eq!(lost(&known, &shown(&mut client, URI)), [], "now somebody is at it");
    client.leave();
}

#[test]
fn what_is_wrong_and_not_unfinished_is_told_as_such() {
    let mut client = Client::wishing(Workbench::new(), json!({}), json!({ "pause": AN_HOUR }));
    client.open(URI, LISTENER);
    shown(&mut client, URI);
    // The blank says that the word is meant.
    let column = LISTENER.lines().find_map(|l| l.find("R2 1k")).expect("it is there") as u32 + 5;
    let line = LISTENER.lines().position(|l| l.contains("R2 1k")).expect("it is there") as u32;
    client.change(URI, 2, json!([{ "range": range((line, column - 1), (line, column)), "text": "x " }]));
    assert!(shown(&mut client, URI).values().flatten().any(|l| l.contains("unknown")));
    client.leave();
}

/// A weir's level shifter takes its pad from a shelf.
#[test]
fn figures_stay_while_an_included_file_is_edited_and_while_it_is_named() {
    let root = tempfile::tempdir().expect("a folder");
    let root = root.path().canonicalize().expect("its own name");
    let shelf = "stage pad: a -> b\n  a -- R1 3k -- b\n  b -- R2 1k -- gnd\n";
    let design = "include \"shelf.stage\"\n\nuse pad as first: in -> out\n\nstage load: out\n  out -- R9 10k -- gnd\n";
    for (name, text) in [("shelf.stage", shelf), ("weir.stage", design)] {
        fs::write(root.join(name), text).expect("a file");
    }
    let uri = |name: &str| format!("file://{}", root.join(name).display());
    let (shelf_uri, design_uri) = (uri("shelf.stage"), uri("weir.stage"));
    let mut client = Client::wishing(Workbench::new(), json!({}), json!({ "pause": AN_HOUR }));
    client.open(&design_uri, design);
    client.open(&shelf_uri, shelf);
    let before = shown(&mut client, &design_uri);
    assert!(before.contains_key(&2) && before.contains_key(&4), "{before:#?}");
    let mut version = 1;
    for typed in keys("R1 3k -- b") {
        version += 1;
        client.replace(&shelf_uri, version, &shelf.replacen("R1 3k -- b", &typed, 1));
        let now = shown(&mut client, &design_uri);
        assert_eq!(lost(&before, &now), [], "{typed}");
    }
    assert_eq!(shown(&mut client, &design_uri), before);
    let mut version = 1;
    for typed in keys("\"shelf.stage\"") {
        version += 1;
        client.replace(&design_uri, version, &design.replacen("\"shelf.stage\"", &typed, 1));
        let now = shown(&mut client, &design_uri);
        assert_eq!(lost(&before, &now), [], "include {typed}");
    }
    assert_eq!(shown(&mut client, &design_uri), before);
    let said: Vec<Value> = client.messages();
    let missing = |m: &Value| m["params"]["diagnostics"].to_string().contains("missing");
    assert!(said.iter().any(missing), "what is missing is said at once");
    client.leave();
}
