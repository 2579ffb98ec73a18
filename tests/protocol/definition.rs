//! Where a name is made: in the file, in an included one, in the embedded library.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::Client;

const URI: &str = "untitled:weir";

const DESIGN: &str = "\
let
  f_low = 10 Hz

stage pre: in -> mid
  in  -- R1 10k -- mid
  mid -- C1 (1 / (2*pi*R1*f_low)) -- gnd

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
    json!({ "line": before.matches('\n').count(), "character": offset - before.rfind('\n').map_or(0, |n| n + 1) })
}

fn ask(client: &mut Client, uri: &str, position: Value) -> Value {
    client.call("textDocument/definition", json!({ "textDocument": { "uri": uri }, "position": position }))
}

#[test]
fn names_lead_to_where_they_are_made() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(URI, DESIGN);
    for (asked, made) in [
        ("R1*f_low", "R1 10k"),
        ("f_low)", "f_low ="),
        ("mid, - fb", "mid\n  in"),
        ("fb  -- R3", "fb, out"),
        ("out = 6", "out\n  U1a"),
    ] {
        let found = ask(&mut client, URI, at(DESIGN, asked));
        assert_eq!(found["uri"], URI, "{asked}: {found}");
        assert_eq!(found["range"]["start"], at(DESIGN, made), "{asked}: {found}");
    }
    assert_eq!(ask(&mut client, URI, at(DESIGN, "require")), Value::Null);
    client.leave();
}

#[test]
fn a_type_leads_into_the_library_whose_text_the_server_gives() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(URI, DESIGN);
    let found = ask(&mut client, URI, at(DESIGN, "tl072"));
    assert_eq!(found["uri"], "stagewright:///library/industry.stage");
    let content = client.call("workspace/textDocumentContent", json!({ "uri": found["uri"] }));
    let text = content["text"].as_str().expect("the library's text");
    let line = text.lines().nth(found["range"]["start"]["line"].as_u64().unwrap() as usize).unwrap();
    assert_eq!(line, "datasheet tl072: opamp");
    client.leave();
}

#[test]
fn a_copy_leads_to_its_pattern_in_the_included_file() {
    let root = tempfile::tempdir().expect("a folder");
    let root = root.path().canonicalize().expect("its own name");
    let shelf = "stage pad: a -> b\n  a -- R1 1k -- b\n";
    std::fs::write(root.join("shelf.stage"), shelf).expect("a file");
    let design = "include \"shelf.stage\"\n\nuse pad as first: in -> out\n";
    let uri = format!("file://{}", root.join("weir.stage").display());
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(&uri, design);
    for (asked, made) in [("pad as", "pad:"), ("shelf.stage", "stage pad")] {
        let found = ask(&mut client, &uri, at(design, asked));
        assert_eq!(found["uri"], format!("file://{}", root.join("shelf.stage").display()), "{asked}: {found}");
        assert_eq!(found["range"]["start"], at(shelf, made), "{asked}: {found}");
    }
    client.leave();
}
