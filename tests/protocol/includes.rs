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
