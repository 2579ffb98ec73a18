//! Code actions on a real design: other values of a part, and assumptions that would hold.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::DOCUMENT;
use crate::client::{Client, range};

/// A bird box's microphone amplifier.
const DESIGN: &str = "\
design
  band 100 Hz .. 10 kHz

stage preamp: in -> out
  in  -- R1 1M -- gnd
  U1a ideal: + in, - fb, out out
  out -- R2 10k -- fb
  fb  -- R3 1k -- C2 10u -- gnd

require
  gain in -> out = 20 dB ± 0.2 dB
  gain in -> out < -1 dB
";

fn actions(line: u32, column: u32, only: &str) -> Vec<Value> {
    let abilities =
        json!({ "codeActionLiteralSupport": { "codeActionKind": { "valueSet": [] } }, "disabledSupport": true });
    let mut client = Client::begun(Workbench::new(), json!({ "textDocument": { "codeAction": abilities } }));
    client.open(DOCUMENT, DESIGN);
    let place = range((line, column), (line, column));
    let context = json!({ "diagnostics": [], "only": [only] });
    let params = json!({ "textDocument": { "uri": DOCUMENT }, "range": place, "context": context });
    client.call("textDocument/codeAction", params).as_array().cloned().expect("a list")
}

fn edits(action: &Value) -> &Value {
    &action["edit"]["changes"][DOCUMENT]
}

#[test]
fn another_value_of_a_part_is_offered_at_a_requirement_that_fails() {
    let found = actions(10, 4, "quickfix");
    assert_eq!(found[0]["title"], "make R2 9.1 kΩ: 20.1 dB");
    assert_eq!(edits(&found[0]), &json!([{ "range": range((6, 12), (6, 15)), "newText": "9.1k" }]));
    assert!(found.iter().all(|action| action["disabled"].is_null()));
}

#[test]
fn where_no_value_would_do_that_is_the_answer() {
    let found = actions(11, 4, "quickfix");
    assert_eq!(found.len(), 1);
    let why = "no value of R2, R3 or C2 alone, from a hundredth to a hundredfold, would meet it";
    assert_eq!(found[0]["disabled"]["reason"], why);
    assert!(found[0]["edit"].is_null());
}

#[test]
fn an_assumption_that_would_hold_is_offered_at_its_part() {
    let found = actions(7, 18, "refactor");
    assert_eq!(found[0]["title"], "assume C2 short above 110 Hz: 0.089 dB at 110 Hz");
    let end = (11, 24);
    assert_eq!(
        edits(&found[0]),
        &json!([{ "range": range(end, end), "newText": "\n\nassume\n  C2 short above 110 Hz" }])
    );
    assert_eq!(actions(7, 18, "quickfix"), [Value::Null; 0]);
}

#[test]
fn the_formula_of_a_stage_is_offered_at_its_heading() {
    let found = actions(3, 8, "refactor");
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0]["title"], "write preamp's formula");
    let written = edits(&found[0])[0]["newText"].as_str().expect("a text");
    assert!(written.starts_with("\nformula\n  gain in -> out = "), "{written}");
}
