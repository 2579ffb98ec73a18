//! The words of a file by meaning: the same words and the same classes as the grammars for highlighting have, and what only a tree knows.

use std::path::Path;

use workbench::{Token, TokenKind, Workbench};

fn tokens(text: &str) -> Vec<Token> {
    let mut bench = Workbench::new();
    bench.set_text("words.stage", text.to_string());
    bench.snapshot().tokens("words.stage", None)
}

/// As `tests/editors/highlighting/classes.json` calls them.
fn class(kind: TokenKind) -> &'static str {
    match kind {
        TokenKind::Heading => "heading",
        TokenKind::Stage => "label",
        TokenKind::Word => "word",
        TokenKind::Reading => "reading",
        TokenKind::Clause => "clause",
        TokenKind::Part => "part",
        TokenKind::Type => "type",
        TokenKind::Node => "name",
        TokenKind::Ground => "ground",
        TokenKind::Datum => "datum",
        TokenKind::Figure => "figure",
        TokenKind::Unit => "unit",
        TokenKind::Constant => "constant",
        TokenKind::Attribute => "attribute",
        TokenKind::Function => "function",
        TokenKind::Operator => "op",
        TokenKind::Separator => "mark",
        TokenKind::String => "string",
        TokenKind::Comment => "comment",
        TokenKind::Slip => "slip",
    }
}

/// The classes of a line's words, a run of one class counted once.
fn classes(text: &str, tokens: &[Token], line: usize) -> Vec<&'static str> {
    let start: usize = text.split_inclusive('\n').take(line).map(str::len).sum();
    let end = start + text[start..].find('\n').unwrap_or(text.len() - start);
    let mut found: Vec<_> =
        tokens.iter().filter(|t| start <= t.range.start && t.range.start < end).map(|t| class(t.kind)).collect();
    found.dedup();
    found
}

/// The one line that means something else than its words look like: an indented heading is a heading.
const BY_MEANING: (&str, &str) = (
    "  stage recorder: hot, cold    # an indented heading: the server says so",
    "heading label mark name mark name comment",
);

#[test]
fn every_word_of_the_fixture_has_the_class_that_the_grammars_give_it() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/editors/highlighting/words.stage");
    let fixture = std::fs::read_to_string(path).expect("the fixture is there");
    let (mut text, mut stated) = (String::new(), Vec::new());
    for line in fixture.lines().filter(|line| !line.starts_with("#: ")) {
        match line.strip_prefix("#= ") {
            Some(classes) => stated.push((text.lines().count() - 1, classes.to_string())),
            None => text.push_str(&format!("{line}\n")),
        }
    }
    assert!(stated.len() > 100, "the fixture was read");
    let tokens = tokens(&text);
    let mut wrong = Vec::new();
    for (line, mut stated) in stated {
        let words = text.lines().nth(line).expect("a line");
        if words == BY_MEANING.0 {
            stated = BY_MEANING.1.to_string();
        }
        let found = classes(&text, &tokens, line).join(" ");
        if found != stated {
            wrong.push(format!("{words}\n    stated {stated}\n    found  {found}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn of<'t>(text: &'t str, tokens: &[Token], kind: TokenKind) -> Vec<&'t str> {
    tokens.iter().filter(|t| t.kind == kind).map(|t| &text[t.range.clone()]).collect()
}

#[test]
fn names_are_told_from_the_words_that_they_look_like() {
    let text = "stage out: gain -> noise\n  gain -- R1 1k -- polar\n  U1 5532: + level, - dc, out noise\nrequire\n  gain gain -> noise at 1 kHz\n";
    let found = tokens(text);
    assert_eq!(of(text, &found, TokenKind::Reading), ["gain"]);
    assert_eq!(
        of(text, &found, TokenKind::Node),
        ["gain", "noise", "gain", "polar", "level", "dc", "noise", "gain", "noise"]
    );
    assert_eq!(of(text, &found, TokenKind::Word), ["+", "-", "out"]);
    assert_eq!(of(text, &found, TokenKind::Type), ["5532"]);
    assert_eq!(of(text, &found, TokenKind::Clause), ["at"]);
}

#[test]
fn definitions_are_where_names_are_given() {
    let text = "design \"Bell\"\n  setting low: VR1 0 %\n  matched R1, R2 1 %\nlet\n  k = 2\nstage pre: in -> out\n  in -- R1 (k*1k) || C1 1n -- out\n  VR1 10k: cw in, wiper b, ccw gnd\nuse pre as cold: b -> c\n  R1 2k\ndatasheet tl: opamp\nassume\n  R1 open\n";
    let found = tokens(text);
    let given: Vec<_> = found.iter().filter(|t| t.definition).map(|t| &text[t.range.clone()]).collect();
    assert_eq!(given, ["low", "k", "pre", "R1", "C1", "VR1", "cold", "tl"]);
}

#[test]
fn what_is_unfinished_is_classified_as_far_as_it_goes() {
    for (line, stated) in [
        ("  fb -- R", "name op part"),
        ("  fb -- R3 1k --", "name op part figure op"),
        ("  fb - R3 1k -- gnd", "name op part figure op ground"),
        ("  U1a", "part"),
        ("  U1a fet: + in, -", "part type mark word name mark word"),
        ("  a -- C1 1u \"47 uF", "name op part figure string"),
        ("  a -- R1 (2*", "name op part mark figure op"),
        ("stage", "heading"),
        ("stage pre: in ->", "heading label mark name op"),
        ("  größe -- R1 1k -- µ", "op part figure op"),
    ] {
        let text = format!("stage pre: in -> out\n{line}\n");
        assert_eq!(classes(&text, &tokens(&text), 1).join(" "), stated, "{line}");
    }
}

mod any_text {
    use super::*;
    use proptest::prelude::*;

    fn texts() -> impl Strategy<Value = String> {
        let piece = proptest::sample::select(vec![
            "stage a: in -> out",
            "require",
            "let",
            "use a as b: x -> y",
            "datasheet t: opamp",
            "assume",
            "formula",
            "design",
            "\n",
            "\n  ",
            "\r\n  ",
            "\r",
            "in -- R1 1k -- gnd",
            " -- ",
            "gain in -> out at ",
            "10 kΩ",
            "\"",
            "# é",
            "U1 5532: + in, ",
            "(",
            "s*",
            "µ",
            "🎚",
            "k = ",
            "||",
            ",",
            "slew rate typ 3 V/us",
            "\u{202e}",
            "\0",
        ]);
        proptest::collection::vec(piece, 0..24).prop_map(|pieces| pieces.concat())
    }

    proptest! {
        /// Tokens stand in order, apart, on whole characters; those of a range are those of the whole that touch it.
        #[test]
        fn tokens_stand_in_order_and_a_range_has_its_share(text in texts(), start in 0usize..200, length in 0usize..80) {
            let mut bench = Workbench::new();
            bench.set_text("any.stage", text.clone());
            let view = bench.snapshot();
            let all = view.tokens("any.stage", None);
            for pair in all.windows(2) {
                prop_assert!(pair[0].range.end <= pair[1].range.start, "{:?}", pair);
            }
            for token in &all {
                prop_assert!(text.get(token.range.clone()).is_some_and(|word| !word.is_empty()));
            }
            let range = start..start + length;
            let share: Vec<_> =
                all.into_iter().filter(|t| t.range.start <= range.end && range.start <= t.range.end).collect();
            prop_assert_eq!(view.tokens("any.stage", Some(range)), share);
        }
    }
}
