//! What is asked of all designs in the client's folders: names, moves of files, and files that nobody has open.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::Client;

const SHELF: &str =
    "stage pad: a -> b\n  a -- R1 1k -- tap -- R2 1k -- b\n\ndatasheet quiet: opamp\n  gain bandwidth 3 MHz\n";

const WEIR: &str = "\
# µ and 🎚 in front
include \"parts/shelf.stage\"

design
  setting low: VR1 0 %

use pad as first: in -> out

let
  f_low = 10 Hz
";

/// A folder with designs, and a client that has it open.
struct Tower {
    root: PathBuf,
    client: Client,
    _folder: tempfile::TempDir,
}

impl Tower {
    fn new(watches: bool) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let root = folder.path().canonicalize().expect("its own name");
        std::fs::create_dir(root.join("parts")).expect("a folder");
        std::fs::write(root.join("parts/shelf.stage"), SHELF).expect("a file");
        std::fs::write(root.join("weir.stage"), WEIR).expect("a file");
        let mut client = Client::in_process(Workbench::new());
        let offered = client.begin_as(json!({
            "processId": null, "rootUri": null,
            "workspaceFolders": [{ "uri": uri(&root), "name": "tower" }],
            "capabilities": { "workspace": {
                "workspaceEdit": { "documentChanges": true },
                "fileOperations": { "willRename": true },
                "didChangeWatchedFiles": { "dynamicRegistration": watches },
            } },
        }));
        let filters = &offered["capabilities"]["workspace"]["fileOperations"]["willRename"]["filters"];
        assert_eq!(filters[0]["pattern"], json!({ "glob": "**/*.stage", "matches": "file" }));
        assert_eq!(filters[1]["pattern"], json!({ "glob": "**", "matches": "folder" }));
        Self { root, client, _folder: folder }
    }

    fn uri(&self, name: &str) -> String {
        uri(&self.root.join(name))
    }

    /// What is found, as `name kind container file:line`.
    fn found(&mut self, query: &str) -> Vec<String> {
        let found = self.client.call("workspace/symbol", json!({ "query": query }));
        let one = |s: &Value| {
            let file = s["location"]["uri"].as_str().unwrap().rsplit('/').next().unwrap().to_string();
            let container = s["containerName"].as_str().unwrap_or("-");
            let line = &s["location"]["range"]["start"]["line"];
            format!("{} {} {container} {file}:{line}", s["name"].as_str().unwrap(), s["kind"])
        };
        found.as_array().expect("a list").iter().map(one).collect()
    }

    /// The texts of the files that a move changes.
    fn moved(&mut self, moves: &[(&str, &str)]) -> Vec<(String, String)> {
        let files: Vec<Value> =
            moves.iter().map(|(a, b)| json!({ "oldUri": self.uri(a), "newUri": self.uri(b) })).collect();
        let edit = self.client.call("workspace/willRenameFiles", json!({ "files": files }));
        let documents = edit["documentChanges"].as_array().cloned().unwrap_or_default();
        let one = |d: &Value| {
            let file = d["textDocument"]["uri"].as_str().unwrap().rsplit('/').next().unwrap().to_string();
            (file, d["edits"][0]["newText"].as_str().unwrap().to_string())
        };
        documents.iter().map(one).collect()
    }
}

fn uri(path: &Path) -> String {
    format!("file://{}", path.display())
}

#[test]
fn names_are_found_in_files_that_nobody_has_open() {
    let mut tower = Tower::new(false);
    assert_eq!(tower.found("pad"), ["pad 2 - shelf.stage:0"]);
    assert_eq!(tower.found("quiet"), ["quiet 23 - shelf.stage:3"]);
    assert_eq!(tower.found("flow"), ["f_low 14 let weir.stage:9"]);
    assert_eq!(tower.found("LOW")[0], "low 22 design weir.stage:4");
    // In front of a dot or a blank stands what it is in.
    assert_eq!(tower.found("pad.R2"), ["R2 8 pad shelf.stage:1"]);
    assert_eq!(tower.found("first R2"), [""; 0]);
    assert_eq!(tower.found("").len(), 7);
    assert_eq!(tower.found("nothing so called"), [""; 0]);
    tower.client.leave();
}

#[test]
fn what_the_editor_holds_goes_before_the_disk_and_the_disk_is_followed() {
    let mut tower = Tower::new(false);
    let shelf = tower.uri("parts/shelf.stage");
    tower.client.open(&shelf, "stage tray: a -> b\n");
    assert_eq!(tower.found("pad"), [""; 0]);
    assert_eq!(tower.found("tray"), ["tray 2 - shelf.stage:0"]);
    std::fs::write(tower.root.join("bell.stage"), "\nstage clapper: a -> b\n").expect("a file");
    assert_eq!(tower.found("clapper"), ["clapper 2 - bell.stage:1"]);
    tower.client.leave();
}

#[test]
fn a_client_that_watches_files_tells_of_them() {
    let mut tower = Tower::new(true);
    assert_eq!(tower.found("clapper"), [""; 0]);
    let bell = tower.root.join("bell.stage");
    std::fs::write(&bell, "stage clapper: a -> b\n").expect("a file");
    let changes = json!({ "changes": [{ "uri": uri(&bell), "type": 1 }] });
    tower.client.notify("workspace/didChangeWatchedFiles", changes);
    assert_eq!(tower.found("clapper"), ["clapper 2 - bell.stage:0"]);
    std::fs::remove_file(&bell).expect("it goes");
    let changes = json!({ "changes": [{ "uri": uri(&bell), "type": 3 }] });
    tower.client.notify("workspace/didChangeWatchedFiles", changes);
    assert_eq!(tower.found("clapper"), [""; 0]);
    tower.client.leave();
}

#[test]
fn folders_come_and_go() {
    let mut tower = Tower::new(true);
    let other = tempfile::tempdir().expect("a folder");
    std::fs::write(other.path().join("far.stage"), "stage horn: a -> b\n").expect("a file");
    let far = json!({ "uri": uri(other.path()), "name": "far" });
    let change = |added: Value, removed: Value| json!({ "event": { "added": added, "removed": removed } });
    tower.client.notify("workspace/didChangeWorkspaceFolders", change(json!([far]), json!([])));
    assert_eq!(tower.found("horn"), ["horn 2 - far.stage:0"]);
    tower.client.notify("workspace/didChangeWorkspaceFolders", change(json!([]), json!([far])));
    assert_eq!(tower.found("horn"), [""; 0]);
    tower.client.leave();
}

#[test]
fn no_more_are_told_than_anybody_reads() {
    let mut tower = Tower::new(false);
    let many: String = (0..300).map(|i| format!("stage many_{i}: a -> b\n")).collect();
    std::fs::write(tower.root.join("many.stage"), many).expect("a file");
    let found = tower.found("many");
    assert_eq!(found.len(), 128);
    assert!(found[0].starts_with("many_0 "), "{found:?}");
    tower.client.leave();
}

#[test]
fn an_include_follows_a_file_and_a_folder() {
    let mut tower = Tower::new(false);
    let to = |file: &str, text: &str| vec![(file.to_string(), text.to_string())];
    assert_eq!(tower.moved(&[("parts/shelf.stage", "shelf.stage")]), to("weir.stage", "shelf.stage"));
    assert_eq!(tower.moved(&[("parts", "stock")]), to("weir.stage", "stock/shelf.stage"));
    assert_eq!(tower.moved(&[("weir.stage", "parts/weir.stage")]), to("weir.stage", "shelf.stage"));
    assert_eq!(tower.moved(&[("nothing.stage", "other.stage")]), []);
    // An open document is named as the client names it, with the version that the edit is for.
    let weir = tower.uri("weir.stage");
    tower.client.open(&weir, WEIR);
    let files = json!({ "files": [{ "oldUri": tower.uri("parts"), "newUri": tower.uri("stock") }] });
    let edit = tower.client.call("workspace/willRenameFiles", files);
    let document = &edit["documentChanges"][0];
    assert_eq!(document["textDocument"], json!({ "uri": weir, "version": 1 }));
    let expected = json!({ "start": { "line": 1, "character": 9 }, "end": { "line": 1, "character": 26 } });
    assert_eq!(document["edits"][0]["range"], expected);
    tower.client.leave();
}

#[test]
fn a_rename_reaches_a_file_that_nobody_has_open() {
    let mut tower = Tower::new(true);
    let weir = WEIR.replace("\nlet\n", "\nrequire\n  gain in -> first.tap\n\nlet\n");
    std::fs::write(tower.root.join("weir.stage"), &weir).expect("a file");
    let shelf = tower.uri("parts/shelf.stage");
    tower.client.open(&shelf, SHELF);
    let position = json!({ "line": 1, "character": SHELF.lines().nth(1).unwrap().find("tap").unwrap() });
    let params = json!({ "textDocument": { "uri": shelf }, "position": position, "newName": "half" });
    let edit = tower.client.call("textDocument/rename", params);
    let documents = edit["documentChanges"].as_array().expect("documents");
    let of = |uri: &str| documents.iter().find(|d| d["textDocument"]["uri"] == *uri);
    assert_eq!(of(&shelf).expect("the shelf")["edits"].as_array().unwrap().len(), 1);
    let above = of(&tower.uri("weir.stage")).expect("the file that includes it");
    assert_eq!(above["edits"][0]["newText"], "half");
    let line = weir.lines().position(|l| l.contains("first.tap")).unwrap();
    assert_eq!(above["edits"][0]["range"]["start"], json!({ "line": line, "character": 19 }));

    // A new text on disk is read again, and one that is gone has no say.
    let params =
        json!({ "textDocument": { "uri": shelf }, "position": position, "context": { "includeDeclaration": true } });
    let changed = |tower: &mut Tower, kind: u32| {
        let changes = json!({ "changes": [{ "uri": tower.uri("weir.stage"), "type": kind }] });
        tower.client.notify("workspace/didChangeWatchedFiles", changes);
        tower.client.call("textDocument/references", params.clone()).as_array().expect("a list").len()
    };
    assert_eq!(tower.client.call("textDocument/references", params.clone()).as_array().map(Vec::len), Some(2));
    std::fs::write(tower.root.join("weir.stage"), format!("{weir}\nrequire\n  impedance of first.tap\n"))
        .expect("a file");
    assert_eq!(changed(&mut tower, 2), 3);
    std::fs::remove_file(tower.root.join("weir.stage")).expect("it goes");
    assert_eq!(changed(&mut tower, 3), 1);
    tower.client.leave();
}
