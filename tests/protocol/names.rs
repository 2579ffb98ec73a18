//! References, highlights, renames and linked places, as a client sees them.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::{Client, edited};

const URI: &str = "untitled:weir";

const DESIGN: &str = "\
stage pre: in -> mid   # 🎚 in front
  in  -- R1 10kΩ -- mid
  mid -- C1 10n -- gnd

stage post: mid -> out
  U1a tl072: + mid, - fb, out out
  out -- R2 1k -- fb
  fb  -- R3 1k -- gnd

require
  gain in -> out = 6 dB ± 1 dB
";

fn at(text: &str, needle: &str) -> Value {
    let offset = text.find(needle).unwrap_or_else(|| panic!("{needle} is there"));
    let before = &text[..offset];
    let line = before.rfind('\n').map_or(0, |n| n + 1);
    json!({ "line": before.matches('\n').count(), "character": before[line..].encode_utf16().count() })
}

fn ask(client: &mut Client, method: &str, uri: &str, position: &Value, more: Value) -> Value {
    let mut params = json!({ "textDocument": { "uri": uri }, "position": position });
    let object = params.as_object_mut().expect("an object");
    object.extend(more.as_object().expect("an object").clone());
    client.call(method, params)
}

#[test]
fn references_come_with_and_without_the_place_that_makes_the_name() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(URI, DESIGN);
    let lines = |found: &Value| -> Vec<u64> {
        found.as_array().expect("a list").iter().map(|l| l["range"]["start"]["line"].as_u64().unwrap()).collect()
    };
    let position = at(DESIGN, "mid, - fb");
    for (with, expected) in [(true, vec![0, 1, 2, 4, 5]), (false, vec![1, 2, 4, 5])] {
        let context = json!({ "context": { "includeDeclaration": with } });
        let found = ask(&mut client, "textDocument/references", URI, &position, context);
        assert_eq!(lines(&found), expected);
        assert_eq!(found[0]["uri"], URI);
    }
    let nothing = ask(
        &mut client,
        "textDocument/references",
        URI,
        &at(DESIGN, "gain"),
        json!({ "context": { "includeDeclaration": true } }),
    );
    assert_eq!(nothing, json!([]));
    client.leave();
}

#[test]
fn what_drives_a_node_is_highlighted_as_written() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(URI, DESIGN);
    let found = ask(&mut client, "textDocument/documentHighlight", URI, &at(DESIGN, "out\n  U1a"), json!({}));
    let kinds: Vec<(u64, u64)> = found
        .as_array()
        .expect("a list")
        .iter()
        .map(|h| (h["range"]["start"]["line"].as_u64().unwrap(), h["kind"].as_u64().unwrap()))
        .collect();
    // 3 is written, 2 is read: the port, the amplifier's output, the resistor's end, the requirement.
    assert_eq!(kinds, [(4, 3), (5, 3), (6, 2), (10, 2)]);
    assert_eq!(found[1]["range"]["start"], at(DESIGN, "out\n  out --"));
    // Behind the last line there is nothing, and no harm.
    let behind = json!({ "line": 999, "character": 999 });
    assert_eq!(ask(&mut client, "textDocument/documentHighlight", URI, &behind, json!({})), json!([]));
    client.leave();
}

#[test]
fn a_rename_is_prepared_made_and_refused() {
    let mut client = Client::in_process(Workbench::new());
    let able = json!({
        "textDocument": { "rename": { "prepareSupport": true } },
        "workspace": { "workspaceEdit": { "documentChanges": true, "changeAnnotationSupport": {} } },
    });
    let offered = client.begin(able);
    assert_eq!(offered["capabilities"]["renameProvider"]["prepareProvider"], true);
    client.open(URI, DESIGN);
    let mid = at(DESIGN, "mid   #");
    let prepared = ask(&mut client, "textDocument/prepareRename", URI, &mid, json!({}));
    assert_eq!((&prepared["placeholder"], &prepared["range"]["start"]), (&json!("mid"), &mid));
    assert_eq!(ask(&mut client, "textDocument/prepareRename", URI, &at(DESIGN, "10kΩ"), json!({})), Value::Null);

    let found = ask(&mut client, "textDocument/rename", URI, &mid, json!({ "newName": "middle" }));
    let document = &found["documentChanges"][0];
    assert_eq!(document["textDocument"], json!({ "uri": URI, "version": 1 }));
    assert_eq!(edited(DESIGN, &document["edits"], char::len_utf16), DESIGN.replace("mid", "middle"));
    let label = document["edits"][0]["annotationId"].as_str().expect("a label");
    assert_eq!(found["changeAnnotations"][label]["needsConfirmation"], false);

    let params = json!({ "textDocument": { "uri": URI }, "position": mid, "newName": "fb" });
    let id = client.request("textDocument/rename", params);
    let refused = client.answer(id);
    assert_eq!(refused["error"]["code"], -32803);
    assert_eq!(refused["error"]["message"], "fb is a node already, in line 6: the two would be connected.");
    client.leave();
}

#[test]
fn a_client_that_can_do_little_gets_plain_edits() {
    let mut client = Client::in_process(Workbench::new());
    let offered = client.begin(json!({}));
    assert_eq!(offered["capabilities"]["renameProvider"], true);
    client.open(URI, DESIGN);
    let found = ask(&mut client, "textDocument/rename", URI, &at(DESIGN, "R1"), json!({ "newName": "R11" }));
    assert_eq!(edited(DESIGN, &found["changes"][URI], char::len_utf16), DESIGN.replace("R1 ", "R11 "));
    assert_eq!(found.get("documentChanges"), None);
    client.leave();
}

#[test]
fn a_rename_reaches_the_files_that_include_and_are_included() {
    let root = tempfile::tempdir().expect("a folder");
    let root = root.path().canonicalize().expect("its own name");
    let shelf = "stage pad: a -> b\n  a -- R1 1k -- tap -- R2 1k -- b\n";
    let design = "include \"shelf.stage\"\n\nuse pad as first: in -> out\n  R1 2k\n\nrequire\n  gain in -> first.tap\n";
    std::fs::write(root.join("shelf.stage"), shelf).expect("a file");
    let uri = |name: &str| format!("file://{}", root.join(name).display());
    let mut client =
        Client::begun(Workbench::new(), json!({ "workspace": { "workspaceEdit": { "documentChanges": true } } }));
    client.open(&uri("weir.stage"), design);
    let ask_tap = |client: &mut Client| {
        let position = at(design, "tap");
        ask(client, "textDocument/rename", &uri("weir.stage"), &position, json!({ "newName": "half" }))
    };
    let found = ask_tap(&mut client);
    let documents = found["documentChanges"].as_array().expect("a list");
    let by = |name: &str| documents.iter().find(|d| d["textDocument"]["uri"] == uri(name)).expect("a document");
    assert_eq!(edited(design, &by("weir.stage")["edits"], char::len_utf16), design.replace("tap", "half"));
    assert_eq!(edited(shelf, &by("shelf.stage")["edits"], char::len_utf16), shelf.replace("tap", "half"));
    // Nobody has the included file open: no count of its text is known.
    assert_eq!(by("shelf.stage")["textDocument"]["version"], Value::Null);
    client.open(&uri("shelf.stage"), shelf);
    let found = ask_tap(&mut client);
    let documents = found["documentChanges"].as_array().expect("a list");
    assert!(documents.iter().all(|d| d["textDocument"]["version"] == 1), "{found}");
    client.leave();
}

#[test]
fn places_that_are_typed_over_together_are_told() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    let text = DESIGN.replace("require\n", "require\n  voltage of R1\n");
    client.open(URI, &text);
    let found = ask(&mut client, "textDocument/linkedEditingRange", URI, &at(&text, "R1"), json!({}));
    assert_eq!(found["ranges"].as_array().map(Vec::len), Some(2));
    assert_eq!(found["wordPattern"], "R[0-9]*[a-z]?");
    assert_eq!(ask(&mut client, "textDocument/linkedEditingRange", URI, &at(&text, "mid"), json!({})), Value::Null);
    client.leave();
}

#[test]
fn a_declaration_is_where_the_name_is_made_and_a_type_is_a_data_sheet() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(URI, DESIGN);
    let found = ask(&mut client, "textDocument/declaration", URI, &at(DESIGN, "mid, - fb"), json!({}));
    assert_eq!(found["range"]["start"], at(DESIGN, "mid   #"));
    let found = ask(&mut client, "textDocument/typeDefinition", URI, &at(DESIGN, "U1a"), json!({}));
    assert_eq!(found["uri"], "stagewright:///library/industry.stage");
    assert_eq!(ask(&mut client, "textDocument/typeDefinition", URI, &at(DESIGN, "R1"), json!({})), Value::Null);
    client.leave();
}
