//! The canonical layout: what it says stays, laid out twice is laid out once, whatever the text.

mod laid;
mod show;

use laid::{check, check_parts, corpus};
use notation::format::{apply, edits, edits_after_enter, edits_within, formatted};
use proptest::prelude::*;

#[test]
fn every_design_of_the_workspace_keeps_what_it_says() {
    for (name, text) in corpus() {
        println!("{name}");
        check(&text);
        check(&text.replace('\n', "\r\n"));
        let middle = text.floor_char_boundary(text.len() / 2);
        check_parts(&text, middle, text.len());
    }
}

/// As much of a design as was typed, at every character: what is under way stays to the letter.
#[test]
fn a_design_that_is_being_typed_keeps_what_it_says() {
    let text = "# A bell.\ndesign\n  source in 5 mV\nstage a: in -> out\n  in -- R1 1k -- R2 2k\n  # at rest\n    || C1 10p -- out # over all\n  U1a tl072: + in, - fb, out out\nrequire\n  gain in -> out < 3 dB\n";
    for (at, _) in text.char_indices() {
        check(&text[..at]);
        check_parts(&text[..at], at, at);
    }
}

/// Lines of real designs, spoilt: blanks gone and come, words gone, other columns, other line ends.
fn spoilt() -> impl Strategy<Value = String> {
    let lines: Vec<String> = corpus()
        .iter()
        .filter(|(name, _)| name.ends_with(".stage"))
        .flat_map(|(_, text)| text.lines().map(str::to_string).collect::<Vec<_>>())
        .filter(|line| line.len() < 200)
        .collect();
    let line = (
        prop::sample::select(lines),
        prop::sample::select(vec!["", " ", "  ", "  ", "    ", "\t", "\u{a0} "]),
        prop::collection::vec((any::<prop::sample::Index>(), 0..6usize), 0..4),
        prop::sample::select(vec!["", "", "", " ", "  # a remark ", "# close", "\t#\u{a0}é "]),
        prop::sample::select(vec!["\n", "\n", "\n", "\n", "\r\n", "\n\n", "\n  \n", "\r\r\n", "\r"]),
        0..4usize,
    );
    let line = line.prop_map(|(line, indent, slips, comment, end, same)| {
        let mut line = line;
        for (index, slip) in slips {
            let gaps: Vec<usize> = line.char_indices().filter(|(_, c)| *c == ' ').map(|(i, _)| i).collect();
            if gaps.is_empty() {
                break;
            }
            let at = gaps[index.index(gaps.len())];
            match slip {
                0 => line.insert_str(at, "  "),
                1 => line.replace_range(at..at + 1, "\u{a0}"),
                2 => line.replace_range(at..at + 1, ""),
                3 => {
                    // The word behind goes.
                    let end = line[at + 1..].find(' ').map_or(line.len(), |n| at + 1 + n);
                    line.replace_range(at..end, "");
                }
                4 => line = line.replace("->", "→").replace("||", "∥").replace('*', "×").replace(" -", " −"),
                _ => line.insert(at, '"'),
            }
        }
        if same > 0 { line + comment + end } else { format!("{indent}{}{comment}{end}", line.trim_start()) }
    });
    prop::collection::vec(line, 0..14).prop_map(|lines| lines.concat())
}

/// Text out of pieces of the notation and of nothing in particular.
fn pieces() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        8 => prop::sample::select(vec![
            "in", "out", "gnd", "R1", "VR1a", "C2", "U1a", "SW2", "E24", "4k7", "1", "12 dB", "1 kHz", "5 %", "5%", "1,5k", "18 nV/√Hz", "--", "->", "||", "∥",
            "→", "..", "<", ">", "=", "±", "+/-", "+", "-", "−", "*", "×", "·", "/", "^", "(", ")", ":", ",", "\"text\"", "\"", "# c", "#", "\n", "\n\n", "\r\n",
            "\r", "\t", "\u{a0}", "\u{feff}", "größe", "🙂", "\n  ",
        ]).prop_map(String::from),
        4 => prop::sample::select(vec![
            "design", "let", "stage a: in -> out", "use", "include", "datasheet", "assume", "formula", "require", "stgae", "sta", "all", "at", "of", "over",
            "when", "gain", "noise", "x =", "supply", "typ", "min", "open", "polar", "wiper", "band", "matched", "setting", "A-weighted", "a-weighted", "sqrt", "Z", "pi", "s",
        ]).prop_map(String::from),
        1 => "\\PC{0,3}",
        1 => any::<char>().prop_map(String::from),
    ];
    prop::collection::vec((piece, prop::sample::select(vec![" ", " ", "", "  "])), 0..30)
        .prop_map(|v| v.into_iter().map(|(a, b)| a + b).collect())
}

/// Expressions, whose signs and operators stand closest to one another.
fn expressions() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "R1", "x", "1", "22 uF", "pi", "(", ")", "sqrt(", "+", "-", "−", "*", "×", "·", "/", "^", "||", "∥", ",",
        "- -", "-(",
    ]);
    prop::collection::vec((word, prop::sample::select(vec!["", " ", "  "])), 1..14).prop_map(|v| {
        let expression: String = v.into_iter().map(|(a, b)| a.to_string() + b).collect();
        format!("let\n  y ={expression}\nformula\n  gain a-b -> c= {expression}\nstage p: a -> b\n  a -- R1 ({expression}) E24 -- b\n")
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn spoilt_designs_keep_what_they_say(text in spoilt(), from in any::<prop::sample::Index>(), to in any::<prop::sample::Index>()) {
        check(&text);
        let place = |index: prop::sample::Index| {
            let at = index.index(text.len() + 1);
            (at..=text.len()).find(|at| text.is_char_boundary(*at)).unwrap_or(0)
        };
        check_parts(&text, place(from), place(to));
    }

    #[test]
    fn any_pieces_keep_what_they_say(text in pieces(), at in any::<prop::sample::Index>()) {
        check(&text);
        let at = at.index(text.len() + 1);
        let at = (at..=text.len()).find(|at| text.is_char_boundary(*at)).unwrap_or(0);
        check_parts(&text, at, at);
    }

    #[test]
    fn expressions_keep_what_they_say(text in expressions()) {
        check(&text);
    }

    #[test]
    fn any_characters(text in "[\\PC\r\n\t ]{0,60}") {
        check(&text);
    }
}

#[test]
fn a_whole_design_comes_out_laid_out_however_it_was_typed() {
    for (name, text) in corpus().into_iter().filter(|(_, text)| laid::is_whole(text)) {
        let laid = formatted(&text.replace('\r', ""));
        // Narrow: one blank for any; wide: three for each between words.
        let narrow: String = laid
            .lines()
            .map(|line| {
                let code = line.trim_start();
                let (code, comment) = match code.find('#') {
                    Some(at) if !code.contains('"') => code.split_at(at),
                    _ => (code, ""),
                };
                if code.contains('"') {
                    return line.to_string() + "\n";
                }
                let indent = if line.starts_with(' ') { " " } else { "" };
                format!("{indent}{} {comment}\n", code.split_whitespace().collect::<Vec<_>>().join(" "))
            })
            .collect();
        assert_eq!(formatted(&narrow), laid, "{name}");
    }
}

/// Texts as they may come, and as they then stand; made anew with `UPDATE_EXPECT=1`.
#[test]
fn texts_come_out_as_they_are_kept() {
    for name in ["weir", "broken"] {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/laid");
        let before = std::fs::read_to_string(folder.join(format!("before/{name}.stage"))).unwrap();
        expect_test::expect_file![folder.join(format!("after/{name}.stage"))].assert_eq(&formatted(&before));
    }
}

/// What ships stands as it should; `stagewright format` does it.
#[test]
fn what_ships_is_laid_out() {
    for (name, text) in corpus() {
        if name.contains("/examples/") || name.contains("/library/") {
            let again = "`cargo run -p stagewright -- format examples crates/circuit/library` lays it out";
            assert_eq!(formatted(&text), text, "{name}: {again}");
        }
    }
}

/// The text with a new line typed at `|`, and after what that brings with it.
fn entered(text: &str) -> String {
    let caret = text.find('|').expect("a caret");
    let text = text.replacen('|', "\n", 1);
    apply(&text, &edits_after_enter(&text, caret + 1))
}

#[test]
fn a_new_line_comes_with_its_blanks_and_the_one_left_is_laid_out() {
    for (typed, laid) in [
        ("stage a:in->out|", "stage a: in -> out\n  "),
        ("stage a: in -> out\n   in--R1 1k--out|", "stage a: in -> out\n  in -- R1 1k -- out\n  "),
        // A path that is left off at a part may go on.
        ("stage a\n  in -- R1 1k|", "stage a\n  in -- R1 1k\n    "),
        ("stage a\n  in -- R1 1k\n  -- R2 2k|", "stage a\n  in -- R1 1k\n    -- R2 2k\n    "),
        ("stage a\n  in -- R1 1k\n  -- out|", "stage a\n  in -- R1 1k\n    -- out\n  "),
        ("stage a\n  U1a: + in, - fb|", "stage a\n  U1a: + in, - fb\n    "),
        // Behind a blank line a heading may come.
        ("stage a\n  in -- R1 1k -- out\n  |", "stage a\n  in -- R1 1k -- out\n\n"),
        ("stage a\n  # a remark|", "stage a\n  # a remark\n  "),
        ("# a remark|", "# a remark\n"),
        // A heading that was typed where the editor put the caret.
        ("stage a\n\n  require|", "stage a\n\nrequire\n  "),
        // What may be a heading under way stays, and so does the editor's column below it.
        ("stage a\nrequ|", "stage a\nrequ\n"),
        // The rest of a line that was parted.
        ("stage a\n  in -- R1 1k | -- out", "stage a\n  in -- R1 1k\n    -- out"),
        ("stage a\n  in -- R1 1k -- out|in -- R2 1k -- out\n", "stage a\n  in -- R1 1k -- out\n  in -- R2 1k -- out\n"),
    ] {
        assert_eq!(entered(typed), laid, "{typed:?}");
    }
}

#[test]
fn a_new_line_in_a_run_moves_nobody_and_parts_no_columns() {
    let run = "stage a\n  in    -- R1 1k -- out\n  x -- R2 1k -- out|\n  drive -- R3 1k -- out\n";
    let laid = "stage a\n  in    -- R1 1k -- out\n  x     -- R2 1k -- out\n  \n  drive -- R3 1k -- out\n";
    assert_eq!(entered(run), laid);
    let crooked = "stage a\n in -- R1 1k -- out\n  x  -- R2 1k  --out|";
    assert_eq!(entered(crooked), "stage a\n in -- R1 1k -- out\n  x  -- R2 1k -- out\n  ");
}

#[test]
fn a_selection_is_laid_out_as_it_will_stand_and_nothing_else_is() {
    let text = "stage a\n in--R1 1k -- out\n drive--R2 1k -- out\n x--R3 1k -- out\n";
    let lines: Vec<usize> = text.match_indices('\n').map(|(at, _)| at + 1).collect();
    let laid = "stage a\n  in    -- R1 1k -- out\n drive--R2 1k -- out\n x--R3 1k -- out\n";
    // The line, from its beginning to that of the next.
    assert_eq!(apply(text, &edits_within(text, lines[0]..lines[1])), laid);
    // A caret in it.
    assert_eq!(apply(text, &edits_within(text, lines[0] + 3..lines[0] + 3)), laid);
    assert_eq!(apply(text, &edits_within(text, 0..text.len())), formatted(text));
    assert_eq!(edits_within(text, text.len()..text.len()), []);
}

#[test]
fn line_ends_are_those_of_most_lines() {
    assert_eq!(formatted("let\r\n  a = 1\n  b = 2\n  c = 3"), "let\n  a = 1\n  b = 2\n  c = 3\n");
    assert_eq!(formatted("let\r\n  a = 1\r\n  b = 2\r\n  c = 3"), "let\r\n  a = 1\r\n  b = 2\r\n  c = 3\r\n");
    assert_eq!(formatted(""), "");
    assert_eq!(formatted("\n \n"), "");
    assert_eq!(formatted("\u{feff}"), "\u{feff}");
}

/// Beyond reason, and still in time that grows with the length alone.
#[test]
fn texts_beyond_reason_are_laid_out() {
    let lines = |line: &str, count: usize| format!("stage big: in -> out\n{}", line.repeat(count));
    for text in [
        lines(" in--R1 1k--out # a remark\n", 20_000),
        lines("in--R1 1k--out\n\n\n", 20_000),
        lines("  # note\n    -- R1 1k\n", 20_000),
        lines("\n", 100_000),
        lines("# \n", 100_000),
        lines("stage x: in->out\n", 20_000),
        format!("stage wide\n n0{}", " --R1 4k7 1%--n".repeat(20_000)),
        format!("let\n x = 1{}", " +R1".repeat(250)),
        format!("let\n x = {}", "(".repeat(100_000)),
        format!("stage a\n in -- R1 1k -- out #{}", "x ".repeat(500_000)),
        " ".repeat(1_000_000),
        "\"".repeat(100_000),
    ] {
        let laid = formatted(&text);
        assert_eq!(edits(&laid), [], "{}", &text[..text.len().min(60)]);
    }
}
