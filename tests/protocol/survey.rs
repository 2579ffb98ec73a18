//! Diagnostics of designs in the client's folders that nobody has open.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::Client;

const SHELF: &str = "stage pad: a -> b\n  a -- R1 1k -- b\n  b -- R2 1k -- gnd\n";

const WEIR: &str = "\
include \"shelf.stage\"

design
  band 20 Hz .. 20 kHz

use pad as first: in -> mid

stage lone: mid -> out
  mid -- R5 1k -- out
  out -- R6 -- gnd
";

struct Tower {
    root: PathBuf,
    client: Client,
    _folder: tempfile::TempDir,
}

impl Tower {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let root = folder.path().canonicalize().expect("its own name");
        std::fs::write(root.join("shelf.stage"), SHELF).expect("a file");
        std::fs::write(root.join("weir.stage"), WEIR).expect("a file");
        let mut client = Client::in_process(Workbench::new());
        let offered = client.begin_as(json!({
            "processId": null, "rootUri": null,
            "workspaceFolders": [{ "uri": uri(&root), "name": "tower" }],
            "capabilities": {
                "textDocument": { "diagnostic": {} },
                "workspace": { "diagnostics": { "refreshSupport": true } },
            },
        }));
        assert_eq!(offered["capabilities"]["diagnosticProvider"]["workspaceDiagnostics"], true);
        Self { root, client, _folder: folder }
    }

    fn reports(&mut self, previous: &[Value]) -> Vec<Value> {
        let ids = |r: &Value| json!({ "uri": r["uri"], "value": r["resultId"] });
        let previous: Vec<Value> = previous.iter().map(ids).collect();
        let answer = self.client.call("workspace/diagnostic", json!({ "previousResultIds": previous }));
        answer["items"].as_array().expect("a list").clone()
    }
}

fn uri(path: &Path) -> String {
    format!("file://{}", path.display())
}

/// `weir.stage full value-missing`
fn told(reports: &[Value]) -> Vec<String> {
    let one = |r: &Value| {
        let file = r["uri"].as_str().unwrap().rsplit('/').next().unwrap();
        let codes = r["items"].as_array().into_iter().flatten().map(|d| format!(" {}", d["code"].as_str().unwrap()));
        format!("{file} {}{}", r["kind"].as_str().unwrap(), codes.collect::<String>())
    };
    reports.iter().map(one).collect()
}

#[test]
fn files_that_are_not_open_are_looked_through_and_told_once() {
    let mut tower = Tower::new();
    let first = tower.reports(&[]);
    assert_eq!(told(&first), ["shelf.stage full", "weir.stage full value-missing"]);
    let again = tower.reports(&first);
    assert_eq!(told(&again), ["shelf.stage unchanged", "weir.stage unchanged"]);
    // What an included file says is what the including one goes by.
    std::fs::write(tower.root.join("shelf.stage"), SHELF.replace("R2 1k", "R2")).expect("a file");
    let broken = tower.reports(&first);
    assert_eq!(told(&broken)[0], "shelf.stage full value-missing");
    assert!(told(&broken)[1].starts_with("weir.stage full "), "{broken:?}");
}

#[test]
fn what_an_open_document_includes_before_it_is_saved_counts() {
    let mut tower = Tower::new();
    let far = tower.root.join("far.stage");
    std::fs::write(&far, "datasheet wren: opamp\n  gain bandwidth typ 1 MHz\n").expect("a file");
    let open = format!("include \"far.stage\"\n\n{SHELF}  U1 wren: + a, - o, out o\n");
    tower.client.open(&uri(&tower.root.join("shelf.stage")), &open);
    let first = tower.reports(&[]);
    assert_eq!(told(&first), ["far.stage full", "weir.stage full value-missing"]);
    std::fs::write(&far, "datasheet wren\n  gain bandwidth typ 1 MHz\n").expect("a file");
    let broken = tower.reports(&first);
    assert!(told(&broken)[1].starts_with("weir.stage full "), "{broken:?}");
    assert_ne!(first[1]["items"], broken[1]["items"]);
}

#[test]
fn an_open_document_has_its_own_and_a_file_that_is_gone_has_none() {
    let mut tower = Tower::new();
    std::fs::write(tower.root.join("shelf.stage"), SHELF.replace("R2 1k", "R2")).expect("a file");
    let first = tower.reports(&[]);
    assert_eq!(told(&first)[0], "shelf.stage full value-missing");
    tower.client.open(&uri(&tower.root.join("weir.stage")), WEIR);
    std::fs::remove_file(tower.root.join("shelf.stage")).expect("it was there");
    let gone = tower.reports(&first);
    assert_eq!(told(&gone), ["shelf.stage full"]);
    assert_eq!(gone[0]["items"], json!([]));
}

#[test]
fn reports_come_in_parts_with_progress_for_who_wants_them_so() {
    let mut tower = Tower::new();
    let params = json!({ "previousResultIds": [], "workDoneToken": "work", "partialResultToken": "part" });
    let answer = tower.client.call("workspace/diagnostic", params);
    assert_eq!(answer["items"], json!([]));
    let sent = tower.client.messages();
    let of = |token: &str| {
        let of = sent.iter().filter(|m| m["method"] == "$/progress" && m["params"]["token"] == token);
        of.map(|m| m["params"]["value"].clone()).collect::<Vec<_>>()
    };
    let parts: Vec<Value> = of("part").iter().map(|v| v["items"][0].clone()).collect();
    assert_eq!(told(&parts), ["shelf.stage full", "weir.stage full value-missing"]);
    let kinds: Vec<Value> = of("work").iter().map(|v| v["kind"].clone()).collect();
    assert_eq!((&kinds[0], kinds.last()), (&json!("begin"), Some(&json!("end"))));
}
