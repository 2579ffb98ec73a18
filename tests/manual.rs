//! The manual against the program: every example is run, every word and every rule has its page.

use std::collections::BTreeSet;
use std::path::Path;

use manual::{Intent, Kind};
use workbench::{Severity, Workbench};

/// What the program says about a design, notes left out but for those of some rules: rule and message.
fn said(path: &str, text: &str, files: &[(&str, &str)], notes: &[&str]) -> Vec<(Severity, &'static str, String)> {
    let mut bench = Workbench::new();
    for (name, text) in files {
        bench.set_text(name, text.to_string());
    }
    bench.set_text(path, text.to_string());
    let there = |name: String| match files.iter().any(|f| f.0 == name) {
        true => (name.clone(), Ok(name)),
        false => (name, Err("cannot be read: there is no such file".to_string())),
    };
    let included = bench.included(path).into_iter().map(there).collect();
    bench.set_included(path, included);
    let problems = bench.snapshot().problems_reviewed(path, true);
    let loud = problems.iter().filter(|p| p.severity != Severity::Note || notes.contains(&p.id));
    loud.map(|p| (p.severity, p.id, p.message.clone())).collect()
}

#[test]
fn every_example_is_what_its_page_says() {
    let mut failures = Vec::new();
    let mut count = 0;
    for page in manual::pages() {
        let mut files: Vec<(&str, &str)> = Vec::new();
        for example in page.examples() {
            count += 1;
            // A note is looked for where the example is there to show it.
            let notes: Vec<&str> = match &example.intent {
                Intent::Broken(wanted) => wanted.to_vec(),
                _ => Vec::new(),
            };
            let found = said("example.stage", example.text, &files, &notes);
            let ids: BTreeSet<&str> = found.iter().map(|f| f.1).collect();
            match example.intent {
                Intent::Broken(wanted) => {
                    if ids != wanted.iter().copied().collect() {
                        failures.push(format!("{}: {wanted:?} wanted: {found:?}\n{}", page.title, example.text));
                    }
                }
                Intent::Clean(allowed) => {
                    if ids.iter().any(|id| !allowed.contains(id)) {
                        failures.push(format!("{}: {found:?}\n{}", page.title, example.text));
                    }
                }
                Intent::File(name) => {
                    if !ids.is_empty() {
                        failures.push(format!("{}: {name}: {found:?}", page.title));
                    }
                    files.push((name, example.text));
                }
            }
        }
        assert!(
            page.examples().iter().any(|e| matches!(e.intent, Intent::Clean(_))),
            "{} shows no design that is right",
            page.title
        );
    }
    assert!(failures.is_empty(), "{} of {count} examples:\n{}", failures.len(), failures.join("\n"));
    assert!(count > manual::pages().len(), "{count} examples were run");
}

/// A broken example of a rule's page shows that rule or one of its relations on the same page.
#[test]
fn broken_examples_stand_on_the_pages_of_their_rules() {
    for page in manual::pages() {
        for example in page.examples() {
            let Intent::Broken(ids) = example.intent else { continue };
            assert_eq!(page.kind, Kind::Rule, "{} is no rule and shows what is wrong", page.title);
            assert!(ids.iter().any(|id| page.words().any(|w| w == *id)), "{} shows {ids:?}", page.title);
        }
    }
}

/// The sources of a crate in one text, tests at the feet of files left out.
fn sources(name: &str) -> String {
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates").join(name).join("src")];
    let mut all = String::new();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("sources are there") {
            let path = entry.expect("a file").path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let text = std::fs::read_to_string(&path).expect("UTF-8 source");
                all.push_str(text.split("#[cfg(test)]").next().unwrap_or_default());
            }
        }
    }
    all
}

/// Literals of a shape like a rule's name that are none.
const NO_RULES: [&str; 2] = ["468-weighted", "gain-bandwidth"];

/// The names of rules in a source: literals in kebab case, and single words where a fault is made.
fn rules(source: &str) -> BTreeSet<&str> {
    const MAKERS: [&str; 6] = ["Said::open(", "Said::torn(", "fault(", "id:", "wanted(", "lack_open("];
    let mut found = BTreeSet::new();
    for (quote, _) in source.match_indices('"') {
        let behind = &source[quote + 1..];
        let end = behind.find(|c: char| !(c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'));
        let Some(end) = end.filter(|e| behind[*e..].starts_with('"')) else { continue };
        let literal = &behind[..end];
        let words = literal.split('-').count();
        let kebab = words > 1 && literal.split('-').all(|w| !w.is_empty());
        let before = source[..quote].trim_end();
        if kebab || (words == 1 && !literal.is_empty() && MAKERS.iter().any(|m| before.ends_with(m))) {
            found.insert(literal);
        }
    }
    found.retain(|id| !NO_RULES.contains(id));
    found
}

#[test]
fn every_rule_has_a_page() {
    let crates = ["notation", "circuit", "analysis", "argument", "workbench"];
    let source: Vec<String> = crates.iter().map(|c| sources(c)).collect();
    let ids: BTreeSet<&str> = source.iter().flat_map(|s| rules(s)).collect();
    assert!(ids.len() > 100 && ids.contains("undetermined") && ids.contains("no-bias-return"), "{ids:?}");
    let lacking: Vec<&&str> = ids.iter().filter(|id| manual::find(id).is_none_or(|p| p.kind != Kind::Rule)).collect();
    assert!(lacking.is_empty(), "no page in crates/manual/pages/rules speaks of {lacking:?}");
}

/// A message sends the reader to the page of `accept` for the rules that may be conceded.
#[test]
fn the_page_of_accept_lists_what_may_be_conceded() {
    let source = sources("workbench");
    let (_, list) =
        source.split_once("pub const RULES: &[&str] = &[").expect("the list of the rules that may be conceded");
    let list = list.split("];").next().unwrap_or_default();
    let page = manual::find("accept").expect("a page").text;
    let lacking: Vec<&str> = rules(list).into_iter().filter(|id| !page.contains(&format!("`{id}`"))).collect();
    assert!(rules(list).len() > 10 && lacking.is_empty(), "the page does not list {lacking:?}");
    let lacking: Vec<&str> = workbench::reviewed_rules().filter(|id| !page.contains(&format!("`{id}`"))).collect();
    assert!(lacking.is_empty(), "the page does not list {lacking:?}");
}

#[test]
fn every_word_of_the_notation_has_a_page() {
    let mut words: Vec<&str> = Vec::new();
    words.extend(notation::word::HEADING_WORDS.iter().map(|w| w.0));
    words.extend(notation::word::CLAUSE_WORDS);
    words.extend(notation::word::DESIGN_WORDS);
    words.extend(notation::word::ATTRIBUTES);
    words.extend(notation::word::PHRASES.iter().map(|p| p.0));
    words.extend(notation::word::FUNCTIONS);
    words.extend(notation::word::EXPRESSION_NAMES);
    for (class, name, _) in notation::word::CLASSES {
        words.extend([*class, *name]);
        words.extend(notation::word::terminal_words(class));
    }
    words.extend(["log15", "revlog20", "short", "ideal", "typ", "min", "max", "A-weighted", "468-weighted", "peak"]);
    words.extend(["library types", "part", "hot", "cold", "from high rail", "from low rail", "reserved words", "D"]);
    words.extend(["kohm", "kΩ", "nV/rtHz", "nV/√Hz", "pA/rtHz", "mV", "uF", "kHz"]);
    words.extend(["E3", "E6", "E12", "E24", "E48", "E96", "E192", "--", "->", "||", "±", "#", "%", "gnd", "as", "for"]);
    let lacking: Vec<&str> = words.into_iter().filter(|w| manual::find(w).is_none()).collect();
    assert!(lacking.is_empty(), "no page speaks of {lacking:?}");
}

/// The library's sheets use every line that a sheet may have.
#[test]
fn every_line_of_a_data_sheet_has_a_page() {
    let mut words = BTreeSet::new();
    for volume in circuit::library::VOLUMES {
        for line in volume.text.lines().filter(|l| l.starts_with("  ")) {
            let end = line.find(|c: char| c.is_ascii_digit()).unwrap_or(line.len());
            let line = line[..end].trim();
            words.insert(line.strip_suffix("typ").or(line.strip_suffix("min")).unwrap_or(line).trim());
        }
    }
    assert!(words.len() >= 21, "{words:?}");
    for word in words {
        assert!(manual::find(word).is_some_and(|p| p.kind == Kind::Entry), "no page speaks of {word}");
    }
    // Of the types too: a page tells what the library has.
    let library = manual::find("library").expect("a page").text;
    for name in circuit::library::names() {
        // Of a family the first and the last stand for those between.
        let family = name.starts_with("tl0");
        assert!(family || library.contains(&format!("`{name}`")), "the library's page does not name {name}");
        assert!(manual::find(name).is_some(), "no page is found by {name}");
    }
}
