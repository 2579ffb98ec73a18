//! `stagewright explain` as a person uses it.

use std::process::{Command, Output};

fn explain(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_stagewright")).arg("explain").args(words).output().expect("the program runs")
}

fn text(bytes: &[u8]) -> &str {
    std::str::from_utf8(bytes).expect("UTF-8")
}

#[test]
fn a_word_gets_its_page() {
    let said = explain(&["slew", "rate"]);
    assert_eq!(said.status.code(), Some(0));
    let page = text(&said.stdout);
    assert!(
        page.starts_with("slew rate\nalso: slew, full-power bandwidth\n\n`slew rate` is the fastest change"),
        "{page}"
    );
    assert!(page.contains("\n    datasheet meter: opamp\n"), "{page}");
    assert!(page.ends_with("see also: clip level, headroom, gain bandwidth\n"), "{page}");
    assert!(!page.contains('\u{1b}'), "no colour into a pipe");
    assert_eq!(explain(&["slew rate"]).stdout, said.stdout);
}

#[test]
fn the_name_of_a_rule_and_a_mark_are_words_too() {
    assert!(text(&explain(&["no-bias-return"]).stdout).starts_with("no-bias-return\n"));
    assert!(text(&explain(&["--", "--"]).stdout).contains("joins the parts of a path"));
    assert!(text(&explain(&["->"]).stdout).contains("joins the parts of a path"));
    assert!(text(&explain(&["||"]).stdout).starts_with("||\n"));
}

#[test]
fn without_a_word_the_contents_are_printed() {
    let said = explain(&[]);
    assert_eq!(said.status.code(), Some(0));
    let contents = text(&said.stdout);
    for group in ["headings", "quantities", "rules"] {
        assert!(contents.contains(&format!("\n{group}\n")), "{contents}");
    }
}

#[test]
fn a_word_that_is_none_gets_the_nearest_and_ends_with_2() {
    let said = explain(&["haedroom"]);
    assert_eq!(said.status.code(), Some(2));
    assert_eq!(text(&said.stdout), "");
    let message = text(&said.stderr);
    assert!(message.contains("no page on haedroom: did you mean headroom?"), "{message}");
}
