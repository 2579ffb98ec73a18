//! What a typist hears of the word and of the entry that are being typed, and when. The pause after which a word counts as meant is a
//! client's wish; here it is an hour, so that nothing but the text itself ends it.

use serde_json::{Value, json};
use workbench::Workbench;

use crate::DOCUMENT;
use crate::client::{Client, range};
use crate::toy::Toy;

const AN_HOUR: u64 = 3_600_000;

/// A weir's hydrophone and its amplifier.
const DESIGN: &str = "\
stage preamp: water -> out
  water -- C1 1u -- in
  in  -- R1 100k -- gnd
  U1a ideal: + in, - fb, out out
  out -- R2 22k -- fb
  fb  -- R3 1k -- C2 22u -- gnd

";
/// The line behind it, which the tests type in.
const LAST: u32 = 7;

struct Typist {
    client: Client,
    version: i32,
}

impl Typist {
    fn at(bench: impl stagewright::serve::Bench, text: &str, wishes: Value) -> Self {
        let mut client = Client::wishing(bench, json!({}), wishes);
        client.notify("$/setTrace", json!({ "value": "messages" }));
        client.open(DOCUMENT, text);
        client.diagnostics(1);
        Self { client, version: 1 }
    }

    fn change(&mut self, start: (u32, u32), end: (u32, u32), text: &str) {
        self.version += 1;
        self.client.change(DOCUMENT, self.version, json!([{ "range": range(start, end), "text": text }]));
    }

    /// Types into a line from a column on, key by key, and waits after each key until the document has been looked through.
    fn types(&mut self, line: u32, mut column: u32, keys: &str) -> Vec<Value> {
        let mut published = Vec::new();
        for key in keys.chars() {
            self.change((line, column), (line, column), &key.to_string());
            column += 1;
            published.extend(self.settled());
        }
        published
    }

    /// The messages of the sets that were published until the newest text was looked through.
    fn settled(&mut self) -> Vec<Value> {
        let looked_through = format!("textDocument/publishDiagnostics on version {}:", self.version);
        self.client.wait(|message| {
            message["method"] == "$/logTrace"
                && message["params"]["message"].as_str().is_some_and(|line| line.starts_with(&looked_through))
        });
        // Whatever was found is sent before the answer to this.
        self.client.labels(DOCUMENT);
        let messages = self.client.messages();
        let sets = messages.iter().filter(|message| message["method"] == "textDocument/publishDiagnostics");
        sets.flat_map(|set| set["params"]["diagnostics"].as_array().expect("a list").clone()).collect()
    }
}

fn said(diagnostics: &[Value], what: &str) -> bool {
    diagnostics.iter().any(|d| d["message"].as_str().expect("a text").contains(what))
}

#[test]
fn figures_follow_every_key_at_once() {
    let mut typist = Typist::at(Toy::default(), "owl 1\nbox 2\n", json!({ "pause": AN_HOUR }));
    for (i, sum) in [32, 302, 3002].into_iter().enumerate() {
        typist.change((0, 4), (0, 5 + i as u32), &format!("3{}", "0".repeat(i + 1)));
        assert_eq!(typist.client.labels(DOCUMENT), vec![format!("sum {sum}"); 2]);
    }
}

#[test]
fn a_node_that_is_being_typed_is_not_said_to_be_used_once() {
    let mut typist = Typist::at(Workbench::new(), DESIGN, json!({ "pause": AN_HOUR }));
    let typed = typist.types(LAST, 0, "  fb -- R4 1k -- gn");
    assert!(!said(&typed, "gn "), "{typed:#?}");
    // A blank says that the word is meant.
    let typed = typist.types(LAST, 19, " ");
    assert!(said(&typed, "gn "), "{typed:#?}");
}

#[test]
fn a_word_cuts_off_what_others_hang_on_and_nothing_is_said_of_them_either() {
    let mut typist = Typist::at(Workbench::new(), DESIGN, json!({ "pause": AN_HOUR }));
    let (line, column) = (2, "  in  -- R1 100k -- gn".len() as u32);
    typist.change((line, column), (line, column + 1), "");
    let typed = typist.settled();
    assert_eq!(
        typed,
        Vec::<Value>::new(),
        "the amplifier in the next line has lost the path of its bias current for the moment"
    );
    let typed = typist.types(line, column, " ");
    assert!(said(&typed, "gn is used once") && said(&typed, "bias current"), "now it is meant: {typed:#?}");
    typist.change((line, column), (line, column + 1), "d");
    assert_eq!(typist.settled(), Vec::<Value>::new());
}

#[test]
fn a_value_out_of_range_is_told_when_its_word_is_meant() {
    let mut typist = Typist::at(Workbench::new(), DESIGN, json!({ "pause": AN_HOUR }));
    let typed = typist.types(LAST, 0, "  fb -- R4 10m");
    assert!(!said(&typed, "milliohm"), "{typed:#?}");
    let typed = typist.types(LAST, 14, " -- gnd ");
    assert!(said(&typed, "milliohm"), "{typed:#?}");
}

#[test]
fn a_word_of_one_slip_is_asked_about_when_it_is_meant() {
    let text = format!("{DESIGN}require\n");
    let mut typist = Typist::at(Workbench::new(), &text, json!({ "pause": AN_HOUR }));
    let typed = typist.types(LAST + 1, 0, "  gian");
    assert!(!said(&typed, "did you mean gain"), "{typed:#?}");
    let typed = typist.types(LAST + 1, 6, " ");
    assert!(said(&typed, "did you mean gain"), "{typed:#?}");
}

#[test]
fn the_pause_is_the_clients_wish_and_ends_by_itself() {
    let mut typist = Typist::at(Toy::default(), "owl 1\n", json!({ "pause": 1 }));
    typist.change((0, 5), (0, 5), " bad");
    assert_eq!(typist.client.diagnostics(2).len(), 1);
    // What cannot be a wish is none.
    let mut typist = Typist::at(Toy::default(), "owl 1\n", json!({ "pause": "long", "unfinished": 7 }));
    typist.change((0, 5), (0, 5), " bad");
    assert_eq!(typist.client.diagnostics(2).len(), 1);
}

fn severities(diagnostics: &[Value]) -> Vec<(&str, i64)> {
    let one = |d: &Value| d["severity"].as_i64().expect("a number");
    diagnostics.iter().map(|d| (d["code"].as_str().expect("a code"), one(d))).collect()
}

#[test]
fn the_entry_that_is_being_typed_stays_a_draft_until_another_is_begun() {
    let mut typist = Typist::at(Toy::default(), "owl 1\nbox 2\n", json!({ "pause": AN_HOUR }));
    typist.change((1, 5), (1, 5), " --");
    assert_eq!(severities(&typist.settled()), [("unfinished-line", 4)]);
    // A line below, blank and then with the first half of a link, may go it on.
    typist.change((1, 8), (1, 8), "\n  ");
    assert_eq!(severities(&typist.settled()), [], "nothing has changed for the client");
    typist.change((2, 2), (2, 2), "-");
    assert_eq!(severities(&typist.settled()), []);
    typist.change((2, 2), (2, 3), "n");
    assert_eq!(severities(&typist.settled()), [("unfinished-line", 1)], "another entry is begun");
    typist.change((1, 0), (1, 0), "o");
    assert_eq!(severities(&typist.settled()), [("unfinished-line", 4)]);
    typist.client.notify("textDocument/didSave", json!({ "textDocument": { "uri": DOCUMENT } }));
    assert_eq!(severities(&typist.client.diagnostics(typist.version)), [("unfinished-line", 1)], "saved");
}

#[test]
fn a_client_may_wish_to_hear_nothing_of_drafts() {
    let mut typist = Typist::at(Toy::default(), "owl 1\nbox 2\n", json!({ "pause": AN_HOUR, "unfinished": "hidden" }));
    typist.change((1, 5), (1, 5), " --");
    assert_eq!(typist.settled(), Vec::<Value>::new());
    typist.change((0, 5), (0, 5), " 3");
    assert_eq!(severities(&typist.settled()), [("unfinished-line", 1)], "what was left unfinished is an error");
}
