//! Completion and signature help as clients of several abilities see them.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::DOCUMENT;
use crate::client::{Client, range};

const DESIGN: &str = "\
design \"🎚 weir\"
  supply  vpos +12 V, vneg -12 V
  setting low: VR1 0 %

stage pre: in -> mid
  in  -- R1 10k -- gnd
  U1a tl072: + in, - fb, out mid
  mid -- VR1 10k lin -- fb
  fb  -- R3 4k7 -- gnd

stage post: mid -> out
  mid -- R4 47 -- out

";

fn able() -> Value {
    json!({ "textDocument": {
        "completion": { "completionItem": {
            "snippetSupport": true,
            "insertReplaceSupport": true,
            "labelDetailsSupport": true,
            "documentationFormat": ["markdown", "plaintext"],
            "insertTextModeSupport": { "valueSet": [1, 2] },
            "resolveSupport": { "properties": ["documentation"] },
        } },
        "signatureHelp": { "signatureInformation": {
            "documentationFormat": ["markdown"],
            "parameterInformation": { "labelOffsetSupport": true },
            "activeParameterSupport": true,
        } },
    } })
}

/// Line and column of the end of a text, whose columns are all of one unit.
fn end(text: &str) -> Value {
    let line = text.matches('\n').count();
    json!({ "line": line, "character": text.rsplit('\n').next().unwrap_or_default().chars().count() })
}

fn ask(client: &mut Client, method: &str, text: &str, context: Value) -> Value {
    client.open(DOCUMENT, text);
    let params = json!({ "textDocument": { "uri": DOCUMENT }, "position": end(text), "context": context });
    client.call(method, params)
}

fn complete(client: &mut Client, text: &str) -> Value {
    ask(client, "textDocument/completion", text, json!({ "triggerKind": 1 }))
}

fn item<'a>(list: &'a Value, label: &str) -> &'a Value {
    let items = list["items"].as_array().expect("a list");
    items.iter().find(|item| item["label"] == label).unwrap_or_else(|| panic!("{label} is not in {list}"))
}

#[test]
fn the_server_says_when_it_wants_to_be_asked() {
    let mut client = Client::in_process(Workbench::new());
    let capabilities = &client.begin(json!({}))["capabilities"];
    assert_eq!(capabilities["completionProvider"]["triggerCharacters"], json!([" ", ".", "\"", "/"]));
    assert_eq!(capabilities["completionProvider"]["resolveProvider"], true);
    assert_eq!(capabilities["signatureHelpProvider"]["triggerCharacters"], json!([":", ",", ">", " "]));
    client.leave();
}

#[test]
fn an_able_client_gets_places_to_fill_in_and_fetches_documentation() {
    let mut client = Client::begun(Workbench::new(), able());
    let list = complete(&mut client, &format!("{DESIGN}require\n  ga"));
    assert_eq!(list["isIncomplete"], false);
    let gain = item(&list, "gain").clone();
    let line = DESIGN.matches('\n').count() as u32 + 1;
    let word = range((line, 2), (line, 4));
    assert_eq!(
        gain["textEdit"],
        json!({ "newText": "gain ${1:in} -> ${2:out} at ${3:1 kHz}", "insert": word, "replace": word })
    );
    assert_eq!(gain["insertTextFormat"], 2);
    assert_eq!(gain["labelDetails"]["description"], "NODE -> NODE at FREQUENCY");
    assert!(gain["documentation"].is_null() && gain["commitCharacters"].is_null());
    let resolved = client.call("completionItem/resolve", gain.clone());
    assert_eq!(resolved["documentation"]["kind"], "markdown");
    let value = resolved["documentation"]["value"].as_str().expect("a page");
    assert!(value.starts_with("`gain A -> B` is the voltage at B") && value.ends_with("`stagewright explain gain`"));
    assert_eq!(resolved["textEdit"], gain["textEdit"]);
    client.leave();
}

#[test]
fn a_plain_client_gets_plain_text_that_replaces_the_word() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    let list = complete(&mut client, &format!("{DESIGN}require\n  ga"));
    let gain = item(&list, "gain").clone();
    assert_eq!(gain["textEdit"]["newText"], "gain in -> out at 1 kHz");
    assert_eq!(gain["detail"], "NODE -> NODE at FREQUENCY");
    assert!(gain["insertTextFormat"].is_null() && gain["labelDetails"].is_null());
    let resolved = client.call("completionItem/resolve", gain);
    assert_eq!(resolved["documentation"]["kind"], "plaintext");
    assert!(resolved["documentation"]["value"].as_str().is_some_and(|v| v.starts_with("gain A -> B is the voltage")));
    client.leave();
}

#[test]
fn a_type_has_its_sheet_and_a_stage_what_it_promises() {
    let mut client = Client::begun(Workbench::new(), able());
    let list = complete(&mut client, &format!("{DESIGN}stage more: out -> far\n  U2a "));
    let resolved = client.call("completionItem/resolve", item(&list, "ne5532").clone());
    assert!(
        resolved["documentation"]["value"].as_str().is_some_and(|v| v.contains("```stage\ndatasheet ne5532: opamp"))
    );
    let list = complete(&mut client, DESIGN);
    let stage = item(&list, "non-inverting amplifier");
    assert_eq!(stage["insertTextMode"], 1, "its lines are kept as they are");
    let text = stage["textEdit"]["newText"].as_str().expect("a text");
    assert!(
        text.starts_with("stage ${1:amp}: ${2:out} -> ${3:out2}\n  ${2:out} -- R5 ${4:100k} -- gnd\n  U2a ${5:tl072}:"),
        "{text}"
    );
    let said = stage["documentation"]["value"].as_str().expect("said at once");
    assert!(said.contains("`gain out -> out2` reads 20.8 dB."), "{said}");
    client.leave();
}

#[test]
fn a_blank_is_answered_only_where_a_name_is_asked_for() {
    let mut client = Client::begun(Workbench::new(), able());
    let blank = json!({ "triggerKind": 2, "triggerCharacter": " " });
    let mut asked = |line: &str| {
        let text = format!("{DESIGN}stage more: out -> far\n  {line}");
        !ask(&mut client, "textDocument/completion", &text, blank.clone()).is_null()
    };
    assert!(asked("out -- ") && asked("U2a ") && asked("U2a tl072: ") && asked("U2a tl072: + "));
    assert!(!asked("out ") && !asked("out -- R9 ") && !asked("out -- R9 10k ") && !asked("# out -- "));
    client.leave();
}

#[test]
fn a_heading_takes_the_blanks_in_front_of_it_away() {
    let mut client = Client::begun(Workbench::new(), able());
    let list = complete(&mut client, &format!("{DESIGN}stage more: out -> far\n  out -- R9 1k -- far\n  req"));
    let heading = item(&list, "require");
    let line = DESIGN.matches('\n').count() as u32 + 2;
    assert_eq!(heading["additionalTextEdits"], json!([{ "range": range((line, 0), (line, 2)), "newText": "" }]));
    client.leave();
}

#[test]
// The slider takes two units of sixteen bits.
fn columns_count_as_agreed_behind_an_emoji() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    client.open(DOCUMENT, "stage a: in -> out\n  in -- R1 1k \"🎚\" -- ou");
    let params = json!({ "textDocument": { "uri": DOCUMENT }, "position": { "line": 1, "character": 24 } });
    let list = client.call("textDocument/completion", params);
    assert_eq!(item(&list, "out")["textEdit"]["range"], range((1, 22), (1, 24)));
    client.leave();
}

#[test]
fn an_include_is_offered_the_files_of_its_folders_and_none_outside() {
    let root = tempfile::tempdir().expect("a folder");
    let root = root.path().canonicalize().expect("its own name");
    let place = root.join("work");
    std::fs::create_dir_all(place.join("shelf")).expect("folders");
    std::fs::create_dir_all(place.join(".git")).expect("folders");
    for file in ["work/weir.stage", "work/lead.stage", "work/notes.txt", "work/shelf/pad.stage", "secret.stage"] {
        std::fs::write(root.join(file), "stage a: in -> out\n").expect("a file");
    }
    let uri = format!("file://{}", place.join("weir.stage").display());
    let mut client = Client::begun(Workbench::new(), json!({}));
    let mut offered = |path: &str| {
        let text = format!("include \"{path}\"\n");
        client.open(&uri, &text);
        let position = json!({ "line": 0, "character": 9 + path.len() });
        let list =
            client.call("textDocument/completion", json!({ "textDocument": { "uri": uri }, "position": position }));
        let labels = list["items"].as_array().cloned().unwrap_or_default();
        labels.iter().map(|item| item["label"].as_str().unwrap_or_default().to_string()).collect::<Vec<_>>()
    };
    assert_eq!(offered(""), ["lead.stage", "shelf/"]);
    assert_eq!(offered("shelf/"), ["pad.stage"]);
    assert_eq!(offered("shelf/../"), ["lead.stage", "shelf/"]);
    assert_eq!(offered("../"), [""; 0]);
    assert_eq!(offered("/"), [""; 0]);
    client.leave();
}

#[test]
fn a_signature_follows_the_cursor() {
    let mut client = Client::begun(Workbench::new(), able());
    let stage = format!("{DESIGN}stage more: out -> far\n  U2a tl072: + out, ");
    let help =
        ask(&mut client, "textDocument/signatureHelp", &stage, json!({ "triggerKind": 1, "isRetrigger": false }));
    let signature = &help["signatures"][0];
    assert_eq!(signature["label"], "U2a tl072: + NODE, - NODE, out NODE[, supply RAIL RAIL]");
    assert_eq!(signature["activeParameter"], 2);
    assert_eq!(signature["parameters"][2]["label"], json!([19, 25]));
    assert_eq!(signature["parameters"][2]["documentation"], "the inverting input");
    assert_eq!(signature["documentation"]["kind"], "markdown");

    // A blank in the middle of a quantity says nothing by itself; once help is shown, it stays.
    let line = format!("{DESIGN}require\n  gain in ");
    let blank = |shown: bool| json!({ "triggerKind": 2, "triggerCharacter": " ", "isRetrigger": shown });
    assert!(ask(&mut client, "textDocument/signatureHelp", &line, blank(false)).is_null());
    assert!(!ask(&mut client, "textDocument/signatureHelp", &line, blank(true)).is_null());
    client.leave();
}

#[test]
fn a_client_without_offsets_gets_the_places_by_their_text() {
    let mut client = Client::begun(Workbench::new(), json!({}));
    let help = ask(&mut client, "textDocument/signatureHelp", "stage pre: in -> ", json!(null));
    assert_eq!(help["signatures"][0]["parameters"][2]["label"], "OUTPUT, …");
    assert_eq!(help["activeParameter"], 2);
    assert!(help["signatures"][0]["activeParameter"].is_null());
    client.leave();
}
