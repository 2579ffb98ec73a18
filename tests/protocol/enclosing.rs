//! Folds, selections that grow, and links, as a client sees them.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::Client;

const URI: &str = "untitled:owl-box";

const TEXT: &str = "\
# an owl box 🎚
# with a microphone
stage amp: in -> out   # source: https://example.org/owl
  in -- R1 10 kΩ
     -- out
";

fn folds(abilities: Value) -> Vec<Value> {
    let mut client = Client::begun(Workbench::new(), json!({ "textDocument": { "foldingRange": abilities } }));
    client.open(URI, TEXT);
    let found = client.call("textDocument/foldingRange", json!({ "textDocument": { "uri": URI } }));
    client.leave();
    found.as_array().expect("a list").clone()
}

#[test]
fn folds_have_columns_where_the_client_folds_more_than_lines() {
    assert_eq!(
        folds(json!({})),
        [
            json!({ "startLine": 0, "startCharacter": 15, "endLine": 1, "endCharacter": 19, "kind": "comment" }),
            json!({ "startLine": 2, "startCharacter": 56, "endLine": 4, "endCharacter": 11 }),
            json!({ "startLine": 3, "startCharacter": 16, "endLine": 4, "endCharacter": 11 }),
        ]
    );
    assert_eq!(folds(json!({ "lineFoldingOnly": true }))[1], json!({ "startLine": 2, "endLine": 4 }));
    let few = folds(json!({ "rangeLimit": 1 }));
    assert_eq!((few.len(), &few[0]["startLine"]), (1, &json!(2)), "blocks go before the rest");
}

#[test]
fn a_selection_grows_from_each_place() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(URI, TEXT);
    let positions =
        json!([{ "line": 3, "character": 11 }, { "line": 99, "character": 99 }, { "line": 0, "character": 3 }]);
    let params = json!({ "textDocument": { "uri": URI }, "positions": positions });
    let found = client.call("textDocument/selectionRange", params);
    assert_eq!(found.as_array().map(Vec::len), Some(3));
    let mut columns = Vec::new();
    let mut at = &found[0];
    while !at.is_null() {
        let place =
            |end: &str| (at["range"][end]["line"].as_u64().unwrap(), at["range"][end]["character"].as_u64().unwrap());
        columns.push((place("start"), place("end")));
        at = &at["parent"];
    }
    assert_eq!(columns[..3], [((3, 11), (3, 13)), ((3, 11), (3, 16)), ((3, 8), (3, 16))]);
    assert_eq!(columns.last(), Some(&((0, 0), (5, 0))));
    client.leave();
}

#[test]
fn links_lead_out_with_a_word_where_the_client_shows_one() {
    for (able, tooltip) in [(true, json!("the source on the web")), (false, Value::Null)] {
        let abilities = json!({ "textDocument": { "documentLink": { "tooltipSupport": able } } });
        let mut client = Client::begun(Workbench::new(), abilities);
        client.open(URI, TEXT);
        let found = client.call("textDocument/documentLink", json!({ "textDocument": { "uri": URI } }));
        assert_eq!(found[0]["target"], "https://example.org/owl");
        assert_eq!((&found[0]["tooltip"], found.as_array().map(Vec::len)), (&tooltip, Some(1)));
        client.leave();
    }
}

#[test]
fn an_included_file_is_linked() {
    let folder = tempfile::tempdir().expect("a folder");
    let root = folder.path().canonicalize().expect("its own name");
    std::fs::write(root.join("shelf.stage"), "stage pad: a -> b\n").expect("a file");
    let uri = |name: &str| format!("file://{}", root.join(name).display());
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(&uri("box.stage"), "include \"shelf.stage\"\ninclude \"none.stage\"\n");
    let found = client.call("textDocument/documentLink", json!({ "textDocument": { "uri": uri("box.stage") } }));
    assert_eq!(found.as_array().map(Vec::len), Some(1), "{found}");
    assert_eq!(found[0]["target"], uri("shelf.stage"));
    let expected = json!({ "start": { "line": 0, "character": 9 }, "end": { "line": 0, "character": 20 } });
    assert_eq!(found[0]["range"], expected);
    client.leave();
}
