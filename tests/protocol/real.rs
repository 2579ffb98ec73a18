//! The server with the workbench that it ships with: figures of a real circuit, the same at every keystroke as if the text had been
//! opened as it stands.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::client::{Client, labels, range};

const DOCUMENT: &str = "untitled:bird-box";

/// A microphone in a bird box, its amplifier and the long lead to the house.
const DESIGN: &str = "\
design \"Bird box\"
  band   50 Hz .. 15 kHz
  supply vpos +9 V, vneg -9 V

stage capsule: mic -> in
  mic -- C1 1u -- in
  in  -- R1 100k -- gnd

stage preamp: in -> out
  U1a audio_dual: + in, - fb, out out
  out -- R2 22k -- fb
  fb  -- R3 1k -- C2 22u -- gnd
  # 40 Ω and 30 m of cable
  out -- R4 40 -- lead
  lead -- C3 3n external -- gnd

require
  gain in -> out at 1 kHz = 27 dB ± 1 dB
  low corner mic -> out   < 50 Hz
";

fn open(text: &str) -> Client {
    let mut client = Client::begun(Workbench::new(), json!({ "general": { "positionEncodings": ["utf-16"] } }));
    client.open(DOCUMENT, text);
    client
}

fn hints(client: &mut Client) -> Vec<Value> {
    let id = client.ask_hints(DOCUMENT);
    client.answer(id)["result"].as_array().expect("hints").clone()
}

/// What a server shows that sees the text for the first time.
fn afresh(text: &str) -> (Vec<Value>, Vec<Value>) {
    let mut client = open(text);
    let diagnostics = client.diagnostics(1);
    (hints(&mut client), diagnostics)
}

#[test]
fn a_design_shows_its_figures() {
    let mut client = open(DESIGN);
    assert_eq!(client.diagnostics(1), Vec::<Value>::new());
    let shown = hints(&mut client);
    let label = |line: u64| {
        let hint = shown.iter().find(|hint| hint["position"]["line"] == line);
        hint.unwrap_or_else(|| panic!("line {line} has none of {shown:#?}"))["label"].as_str().unwrap().to_string()
    };
    let heading = DESIGN.lines().position(|line| line.starts_with("stage preamp")).unwrap() as u64;
    assert!(label(heading).contains("dB"), "{}", label(heading));
    let statement = DESIGN.lines().position(|line| line.contains("27 dB")).unwrap() as u64;
    // 1 + 22 kΩ / 1 kΩ is 23, and 20 log 23 is 27.2 dB.
    assert!(label(statement).contains("27.2 dB"), "{}", label(statement));
    let symbols = client.call("textDocument/documentSymbol", json!({ "textDocument": { "uri": DOCUMENT } }));
    assert!(symbols.as_array().unwrap().iter().any(|symbol| symbol["name"] == "preamp"), "{symbols}");
    let place = json!({ "textDocument": { "uri": DOCUMENT }, "position": { "line": heading, "character": 7 } });
    assert!(client.call("textDocument/hover", place)["contents"]["value"].is_string());
}

#[test]
fn a_changed_value_changes_the_figures_and_what_is_said() {
    let mut client = open(DESIGN);
    assert_eq!(client.diagnostics(1), Vec::<Value>::new());
    let before = hints(&mut client);
    let (line, text) = DESIGN.lines().enumerate().find(|(_, line)| line.contains("R2 22k ")).unwrap();
    let (line, at) = (line as u32, text.find("22k ").unwrap() as u32);
    // Ohms of a size that is probably a slip; the blank says that the word is meant.
    client.change(DOCUMENT, 2, json!([{ "range": range((line, at), (line, at + 4)), "text": "22m " }]));
    let after = hints(&mut client);
    assert_ne!(before, after);
    let (hints_afresh, diagnostics_afresh) = afresh(&DESIGN.replace("R2 22k", "R2 22m"));
    assert_eq!(after, hints_afresh);
    let diagnostics = client.diagnostics(2);
    assert_eq!(diagnostics, diagnostics_afresh);
    assert!(diagnostics.iter().any(|d| d["message"].as_str().unwrap().contains("milliohm")), "{diagnostics:#?}");
}

#[test]
fn a_line_typed_key_by_key_shows_at_each_whole_state_what_opening_it_would() {
    let mut client = open(DESIGN);
    let steady = client.labels(DOCUMENT);
    let (line, _) = DESIGN.lines().enumerate().find(|(_, line)| line.contains("out -- R4")).unwrap();
    let line = line as u32;
    let typed = "  out -- R5 47k -- C4 1u -- gnd\n";
    client.change(DOCUMENT, 2, json!([{ "range": range((line, 0), (line, 0)), "text": "\n" }]));
    let mut whole = 0;
    for (i, key) in typed.trim_end().chars().enumerate() {
        let at = (line, i as u32);
        client.change(DOCUMENT, i as i32 + 3, json!([{ "range": range(at, at), "text": key.to_string() }]));
        let shown = hints(&mut client);
        let now: Vec<_> = DESIGN.lines().map(str::to_string).collect();
        let mut now = now;
        now.insert(line as usize, typed[..=i].to_string());
        let (fresh, _) = afresh(&(now.join("\n") + "\n"));
        if shown.iter().any(|hint| hint["label"].as_str().unwrap().ends_with('…')) {
            // Unfinished, or a figure is missing for the moment: nothing that was there is gone.
            assert!(shown.len() >= steady.len(), "after {:?}: {shown:#?}", &typed[..=i]);
        } else {
            assert_eq!(labels(&json!(shown)), labels(&json!(fresh)), "after {:?}", &typed[..=i]);
            whole += usize::from(!fresh.is_empty());
        }
    }
    assert!(whole >= 3, "{whole} states were whole");
}

#[test]
fn figures_stay_marked_while_a_line_is_unfinished_and_come_back() {
    let mut client = open(DESIGN);
    let before = hints(&mut client);
    let (line, text) = DESIGN.lines().enumerate().find(|(_, line)| line.contains("R3 1k")).unwrap();
    let (line, end) = (line as u32, text.len() as u32);
    client.change(DOCUMENT, 2, json!([{ "range": range((line, end - 4), (line, end)), "text": " " }]));
    let torn = hints(&mut client);
    let plain = |hint: &Value| hint["label"].as_str().unwrap().trim_end_matches(" …").to_string();
    let sorted = |hints: &[Value]| {
        let mut labels: Vec<_> = hints.iter().map(plain).collect();
        labels.sort();
        labels
    };
    assert_eq!(sorted(&torn), sorted(&before), "the same figures");
    assert!(torn.iter().any(|hint| hint["label"].as_str().unwrap().ends_with(" …")), "marked: {torn:#?}");
    client.change(DOCUMENT, 3, json!([{ "range": range((line, end - 4), (line, end - 3)), "text": " gnd" }]));
    assert_eq!(hints(&mut client), before);
}

#[test]
fn a_burst_ends_with_the_newest_figures() {
    let mut client = open(DESIGN);
    let mut asked = Vec::new();
    let mut text = String::new();
    for version in 2..202 {
        text = DESIGN.replace("R2 22k", &format!("R2 {version}k"));
        client.replace(DOCUMENT, version, &text);
        asked.push(client.ask_hints(DOCUMENT));
    }
    let mut last = Value::Null;
    for id in asked {
        let answer = client.answer(id);
        assert!(answer["result"].is_array() || answer["error"]["code"] == -32801, "{answer}");
        last = answer["result"].clone();
    }
    let (fresh, _) = afresh(&text);
    assert_eq!(last, json!(fresh));
    // A set that the client has already is not sent again; one that is new to it comes, and is the newest text's.
    text = DESIGN.replace("R2 22k", "R2 22m");
    client.replace(DOCUMENT, 202, &text);
    let (_, diagnostics) = afresh(&text);
    assert_ne!(diagnostics, Vec::<Value>::new());
    let first = client.diagnostics(202);
    assert!(diagnostics.iter().all(|d| first.contains(d)), "{first:?}");
    // In a slow burst the reviewer was asked in between, and what it said of an earlier text stands until it is asked again.
    let reviewed: Vec<&str> = workbench::reviewed_rules().collect();
    let beside = first.iter().filter(|d| !diagnostics.contains(d)).map(|d| d["code"].as_str().unwrap());
    assert!(beside.clone().all(|code| reviewed.contains(&code)), "{first:?}");
    if beside.count() > 0 {
        client.wait(|m| m["params"]["version"] == 202 && m["params"]["diagnostics"] == json!(diagnostics));
    }
}

/// What a formatter or an editor that sends whole texts does to a design of which a line is unfinished.
#[test]
fn a_new_text_of_the_whole_design_keeps_the_figures_of_an_unfinished_one() {
    let mut client = open(DESIGN);
    let plain = |hints: &[Value]| {
        let mut labels: Vec<_> =
            hints.iter().map(|hint| hint["label"].as_str().unwrap().trim_end_matches(" …").to_string()).collect();
        labels.sort();
        labels
    };
    let before = plain(&hints(&mut client));
    let torn = DESIGN.replace("  fb  -- R3 1k -- C2 22u -- gnd", "  fb  -- R3 1k -- C2 22u --");
    client.replace(DOCUMENT, 2, &torn);
    assert_eq!(plain(&hints(&mut client)), before);
    // Laid out anew: every line differs, some come, some go.
    let laid: String =
        torn.lines().filter(|line| !line.is_empty()).map(|line| format!("{}\n\n", line.replace("  ", "   "))).collect();
    client.replace(DOCUMENT, 3, &laid);
    let kept = hints(&mut client);
    assert_eq!(plain(&kept), before, "{kept:#?}");
    let heading = laid.lines().position(|line| line.starts_with("stage preamp")).unwrap();
    let hint = kept.iter().find(|hint| hint["position"]["line"] == heading).expect("the stage has its figures");
    assert!(hint["label"].as_str().unwrap().ends_with(" …"), "{hint}");
}
