//! What may be done at a place: each action over all examples, and what each is offered for.

mod said;

use std::collections::BTreeSet;
use std::ops::Range;

use said::bench;
use notation::token::TokenKind;
use workbench::{Action, ActionKind, Asking, Edit, HintKind, Severity, Snapshot, Workbench};

const ALL: [ActionKind; 5] =
    [ActionKind::QuickFix, ActionKind::Rewrite, ActionKind::Extract, ActionKind::FixAll, ActionKind::Renumber];

fn asking(by_hand: bool) -> Asking<'static> {
    Asking { kinds: &ALL, by_hand, edits: true }
}

fn applied(text: &str, edits: &[Edit]) -> String {
    let mut out = String::new();
    let mut at = 0;
    for edit in edits {
        assert!(edit.range.start >= at, "in order and apart: {edits:?}");
        out.push_str(&text[at..edit.range.start]);
        out.push_str(&edit.text);
        at = edit.range.end;
    }
    out + &text[at..]
}

/// The text without its marks, and the range between them (or at the one).
fn marked(fixture: &str) -> (String, Range<usize>) {
    let first = fixture.find('¦').expect("a mark");
    let rest = fixture.replacen('¦', "", 1);
    let second = rest.find('¦').unwrap_or(first);
    (rest.replacen('¦', "", 1), first..second)
}

fn offered(fixture: &str, kind: ActionKind) -> (String, Vec<Action>) {
    let (text, range) = marked(fixture);
    let asking = Asking { kinds: &[kind], by_hand: true, edits: true };
    let all = bench(&text).snapshot().actions("a", range, &asking);
    (text, all)
}

fn titles(fixture: &str, kind: ActionKind) -> Vec<String> {
    offered(fixture, kind).1.into_iter().map(|a| a.title).collect()
}

/// The text after the action whose title begins so.
fn taken(fixture: &str, kind: ActionKind, title: &str) -> String {
    let (text, all) = offered(fixture, kind);
    let found = all.iter().find(|a| a.title.starts_with(title));
    let action = found.unwrap_or_else(|| panic!("{title} is not offered: {:?}", all.iter().map(|a| &a.title).collect::<Vec<_>>()));
    applied(&text, action.edits.as_ref().expect("edits"))
}

/// What is wrong, figures left out where a value may be another one afterwards.
fn errors(snapshot: &Snapshot) -> BTreeSet<(&'static str, String)> {
    let all = snapshot.problems("a");
    all.iter().filter(|p| p.severity == Severity::Error).map(|p| (p.id, p.message.clone())).collect()
}

/// The labels of the statements, designators left out: a part may be called otherwise afterwards. What an assumption costs hangs on the
/// ports of its stage.
fn readings(snapshot: &Snapshot, required: bool) -> Vec<String> {
    let hints = snapshot.hints("a", None).into_iter().filter(|h| h.kind == HintKind::Statement);
    let hints = hints.filter(|h| !required || h.key.starts_with("require"));
    let plain = |label: &str| {
        let word = |w: &str| !w.starts_with(|c: char| c.is_ascii_uppercase());
        label.split([' ', ',']).filter(|w| word(w)).collect::<Vec<_>>().join(" ")
    };
    hints.map(|h| plain(&h.label)).collect()
}

/// An example without the requirements that draw builds, which take their time in a build for tests.
fn quick(text: &str) -> String {
    text.lines().filter(|l| !l.trim_start().starts_with("rejection")).map(|l| format!("{l}\n")).collect()
}

/// A design without its argument.
fn drawing(text: &str) -> &str {
    let end = ["\nassume", "\nformula", "\nrequire"].iter().filter_map(|h| text.find(h)).min();
    &text[..end.unwrap_or(text.len())]
}

fn examples() -> Vec<(String, String)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples");
    let mut all: Vec<_> = std::fs::read_dir(folder)
        .expect("examples")
        .map(|f| f.expect("a file").path())
        .filter(|p| p.extension().is_some_and(|e| e == "stage"))
        .map(|p| (p.file_name().unwrap().to_string_lossy().into_owned(), quick(&std::fs::read_to_string(&p).expect("text"))))
        .collect();
    all.sort();
    assert!(all.len() >= 5);
    all
}

/// An example with what is known of it.
struct Example {
    name: String,
    text: String,
    bench: Workbench,
    errors: BTreeSet<(&'static str, String)>,
    readings: [Vec<String>; 2],
}

impl Example {
    fn all() -> Vec<Example> {
        examples()
            .into_iter()
            .map(|(name, text)| {
                let bench = bench(&text);
                let snapshot = bench.snapshot();
                let (errors, readings) = (errors(&snapshot), [false, true].map(|only| readings(&snapshot, only)));
                drop(snapshot);
                Example { name, text, bench, errors, readings }
            })
            .collect()
    }

    fn actions(&self, range: Range<usize>, asking: &Asking) -> Vec<Action> {
        self.bench.snapshot().actions("a", range, asking)
    }

    /// What an action comes to: no new error, laid out, and no reading changed where it says so.
    fn holds(&mut self, action: &Action) {
        let (name, title) = (&self.name, &action.title);
        let Some(edits) = &action.edits else {
            assert!(action.disabled.is_some(), "{name}: {title} does nothing");
            return;
        };
        assert!(!edits.is_empty(), "{name}: {title} does nothing");
        let new = applied(&self.text, edits);
        assert_ne!(new, self.text, "{name}: {title}");
        // Another value may well fail a requirement: what is said of the drawing by itself is looked at.
        let valued = !action.same && drawing(&new) != drawing(&self.text);
        self.bench.set_text("a", if valued { drawing(&new).to_string() } else { new.clone() });
        let after = self.bench.snapshot();
        let more: Vec<_> = errors(&after).difference(&self.errors).cloned().collect();
        assert!(more.is_empty(), "{name}: {title}: {more:?}\n{new}");
        assert_eq!(notation::format::formatted(&new), new, "{name}: {title}");
        if action.same {
            let required = action.kind == ActionKind::Extract;
            let mut then = readings(&after, required);
            for label in &self.readings[usize::from(required)] {
                let at = then.iter().position(|l| l == label);
                let at = at.unwrap_or_else(|| panic!("{name}: {title}: {label} is gone: {then:?}\n{new}"));
                then.remove(at);
            }
        }
        // A value that the title names stands there afterwards, with that name.
        if let Some(written) = title.strip_prefix("write ").filter(|w| w.contains(':')) {
            let said = written.split(':').next().unwrap_or_default();
            for pair in said.split(" and ") {
                assert!(new.contains(pair), "{name}: {title}: {pair}\n{new}");
            }
        }
        drop(after);
        self.bench.set_text("a", self.text.clone());
    }
}

#[test]
fn every_action_of_the_examples_does_what_it_says() {
    let mut seen = BTreeSet::new();
    for mut example in Example::all() {
        let mut done = BTreeSet::new();
        let (mut line, mut first) = (0, true);
        for token in notation::tokens(&example.text.clone()) {
            let at = token.span.start as usize;
            if token.kind == TokenKind::LineEnd {
                (line, first) = (line + 1, true);
                continue;
            }
            // What takes a search is asked for once a line, and at each part.
            let by_hand = first || token.kind == TokenKind::Part;
            first = false;
            for action in example.actions(at..at, &asking(by_hand)) {
                if done.insert((action.title.clone(), format!("{:?}", action.edits))) {
                    seen.insert(action.title.split(' ').next().unwrap_or_default().to_string());
                    println!("{} {}: {:?} {}", example.name, line + 1, action.kind, action.title);
                    example.holds(&action);
                }
            }
        }
    }
    for word in ["write", "assume", "turn", "number"] {
        assert!(seen.contains(word), "{word}: {seen:?}");
    }
}

#[test]
fn every_stretch_of_a_stage_can_be_taken_out_or_says_why_not() {
    let asking = Asking { kinds: &[ActionKind::Extract], by_hand: true, edits: true };
    let (mut out, mut not) = (0, 0);
    for mut example in Example::all() {
        let layout = notation::lay_out(&example.text);
        for block in layout.blocks.iter().filter(|b| b.kind == Some(notation::tree::BlockKind::Stage)) {
            let count = block.entries.len();
            // The upper line by itself, and the lower lines together.
            for (first, last) in [(0, 0)].into_iter().chain((1..count).map(|i| (i, count - 1))) {
                let range = block.entries[first].range.start..block.entries[last].range.end;
                for action in example.actions(range, &asking) {
                    println!("{}: {} {:?}", example.name, action.title, action.disabled);
                    match action.disabled {
                        Some(_) => not += 1,
                        None => out += 1,
                    }
                    example.holds(&action);
                }
            }
        }
    }
    assert!(out > 10, "{out} can, {not} cannot");
}
