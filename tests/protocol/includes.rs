//! A design that includes another file: the editor's text of that file goes before the disk's, and both are followed.

use std::fs;

use serde_json::json;
use workbench::Workbench;

use crate::client::{Client, range};

#[test]
fn an_included_file_is_read_from_the_editor_first_and_then_from_disk() {
    let root = tempfile::tempdir().expect("a folder");
    let root = root.path().canonicalize().expect("its own name");
    let shelf = |r: &str| format!("stage pad: a -> b\n  a -- R1 {r} -- b\n  b -- R2 1k -- gnd\n");
    fs::write(root.join("shelf.stage"), shelf("1k")).expect("a file");
    let design = "include \"shelf.stage\"\n\nuse pad as first: in -> out\n";
    fs::write(root.join("weir.stage"), design).expect("a file");
    let uri = |name: &str| format!("file://{}", root.join(name).display());
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(&uri("weir.stage"), design);
    let shown = |client: &mut Client, gain: &str| {
        let labels = client.labels(&uri("weir.stage"));
        assert!(labels.iter().any(|l| l.starts_with(gain)), "{gain}: {labels:?}");
    };
    shown(&mut client, "−6.0 dB");
    // What the editor holds and nobody has saved yet goes first.
    client.open(&uri("shelf.stage"), &shelf("3k"));
    client.change(&uri("weir.stage"), 2, json!([{ "range": range((1, 0), (1, 0)), "text": "\n" }]));
    shown(&mut client, "−12.0 dB");
    client.replace(&uri("shelf.stage"), 2, &shelf("9k"));
    shown(&mut client, "−20.0 dB");
    client.notify("textDocument/didClose", json!({ "textDocument": { "uri": uri("shelf.stage") } }));
    shown(&mut client, "−6.0 dB");
    client.leave();
}

const DESIGN: &str = "include \"shelf.stage\"\n\nuse pad as first: in -> out\n";

fn shelf(r: &str) -> String {
    format!("stage pad: a -> b\n  a -- R1 {r} -- b\n  b -- R2 1k -- gnd\n")
}

fn root() -> (tempfile::TempDir, std::path::PathBuf) {
    let root = tempfile::tempdir().expect("a folder");
    let path = root.path().canonicalize().expect("its own name");
    (root, path)
}

#[test]
fn an_included_file_that_changes_on_disk_is_read_again_without_an_edit() {
    let (_kept, root) = root();
    fs::write(root.join("shelf.stage"), shelf("1k")).expect("a file");
    let uri = |name: &str| format!("file://{}", root.join(name).display());
    let able = json!({ "workspace": {
        "didChangeWatchedFiles": { "dynamicRegistration": true }, "inlayHint": { "refreshSupport": true },
    } });
    let mut client = Client::begun(Workbench::new(), able);
    let asked = client.told("client/registerCapability");
    let wanted = &asked["params"]["registrations"][0];
    assert_eq!(wanted["method"], "workspace/didChangeWatchedFiles");
    assert_eq!(wanted["registerOptions"]["watchers"][0]["globPattern"], "**/*.stage");
    client.send(&json!({ "jsonrpc": "2.0", "id": asked["id"], "result": null }));
    client.open(&uri("weir.stage"), DESIGN);
    assert_eq!(client.diagnostics(1), Vec::<serde_json::Value>::new());
    let changed = |client: &mut Client, kind: u32| {
        let change = json!({ "changes": [{ "uri": uri("shelf.stage"), "type": kind }] });
        client.notify("workspace/didChangeWatchedFiles", change);
    };
    fs::write(root.join("shelf.stage"), shelf("9k")).expect("a file");
    changed(&mut client, 2);
    let refresh = client.told("workspace/inlayHint/refresh");
    client.send(&json!({ "jsonrpc": "2.0", "id": refresh["id"], "result": null }));
    let labels = client.labels(&uri("weir.stage"));
    assert!(labels.iter().any(|l| l.starts_with("−20.0 dB")), "{labels:?}");
    fs::remove_file(root.join("shelf.stage")).expect("it was there");
    changed(&mut client, 3);
    let said = client.diagnostics(1);
    assert!(said.iter().any(|d| d["code"] == "include-missing"), "{said:?}");
    client.leave();
}

#[test]
fn an_included_file_that_is_edited_in_another_pane_has_the_hints_fetched_again() {
    let (_kept, root) = root();
    fs::write(root.join("shelf.stage"), shelf("1k")).expect("a file");
    let tray = "include \"shelf.stage\"\n";
    fs::write(root.join("tray.stage"), tray).expect("a file");
    let uri = |name: &str| format!("file://{}", root.join(name).display());
    let able = json!({ "workspace": { "inlayHint": { "refreshSupport": true } } });
    let mut client = Client::begun(Workbench::new(), able);
    // By way of a file that nobody has open.
    client.open(&uri("weir.stage"), &DESIGN.replace("shelf", "tray"));
    assert_eq!(client.diagnostics(1), Vec::<serde_json::Value>::new());
    let refreshed = |client: &mut Client, gain: &str| {
        let refresh = client.told("workspace/inlayHint/refresh");
        client.send(&json!({ "jsonrpc": "2.0", "id": refresh["id"], "result": null }));
        let labels = client.labels(&uri("weir.stage"));
        assert!(labels.iter().any(|l| l.starts_with(gain)), "{gain}: {labels:?}");
    };
    client.open(&uri("shelf.stage"), &shelf("1k"));
    refreshed(&mut client, "−6.0 dB");
    client.replace(&uri("shelf.stage"), 2, &shelf("9k"));
    refreshed(&mut client, "−20.0 dB");
    // What is wrong there now is told here too, though this text did not change.
    client.replace(&uri("shelf.stage"), 3, &shelf("9k oops"));
    client.wait(|m| {
        m["params"]["uri"] == uri("weir.stage") && m["params"]["diagnostics"].as_array().is_some_and(|d| !d.is_empty())
    });
    refreshed(&mut client, "");
    client.notify("textDocument/didClose", json!({ "textDocument": { "uri": uri("shelf.stage") } }));
    refreshed(&mut client, "−6.0 dB");
    // A text of its own is nobody else's matter.
    client.open(&uri("other.stage"), "stage pad: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n");
    client.labels(&uri("other.stage"));
    let asked = client.messages();
    assert!(asked.iter().all(|m| m["method"] != "workspace/inlayHint/refresh"), "{asked:?}");
    client.leave();
}

#[test]
fn what_hangs_on_a_missing_file_says_so_at_its_line() {
    let (_kept, root) = root();
    let uri = format!("file://{}", root.join("weir.stage").display());
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(&uri, &format!("{DESIGN}\nrequire\n  gain in -> out\n  noise of out < 1 uV\n"));
    let labels = client.labels(&uri);
    let why = "unknown: what first copies is not known: shelf.stage cannot be read";
    assert_eq!(labels, [why, why, why]);
    client.leave();
}

#[test]
fn a_client_that_watches_nothing_is_not_asked_to() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open("untitled:weir", "stage pad: in -> out\n  in -- R1 1k -- out\n  out -- R2 1k -- gnd\n");
    client.diagnostics(1);
    let asked = client.messages();
    assert!(asked.iter().all(|m| m["method"] != "client/registerCapability"), "{asked:?}");
    client.leave();
}

#[test]
fn the_folder_that_is_open_in_the_client_bounds_what_may_be_included() {
    let (_kept, root) = root();
    fs::create_dir_all(root.join("bells/weir")).expect("folders");
    fs::write(root.join("bells/shelf.stage"), shelf("1k")).expect("a file");
    fs::write(root.join("shelf.stage"), shelf("1k")).expect("a file");
    let uri = |name: &str| format!("file://{}", root.join(name).display());
    let mut client = Client::in_process(Workbench::new());
    client.begin_as(json!({
        "processId": null, "rootUri": null, "capabilities": {},
        "workspaceFolders": [{ "uri": uri("bells"), "name": "bells" }],
    }));
    let design = |way: &str| DESIGN.replace("shelf", way);
    client.open(&uri("bells/weir/weir.stage"), &design("../shelf"));
    assert_eq!(client.diagnostics(1), Vec::<serde_json::Value>::new(), "it lies in the folder");
    client.replace(&uri("bells/weir/weir.stage"), 2, &design("../../shelf"));
    let said = client.diagnostics(2);
    assert!(said.iter().any(|d| d["message"].as_str().is_some_and(|m| m.contains("outside"))), "{said:?}");
    // The folder above is opened too, and the one below is closed.
    client.notify(
        "workspace/didChangeWorkspaceFolders",
        json!({ "event": {
        "added": [{ "uri": uri(""), "name": "all" }], "removed": [{ "uri": uri("bells"), "name": "bells" }],
    } }),
    );
    assert_eq!(client.diagnostics(2), Vec::<serde_json::Value>::new());
    client.leave();
}
