//! Text beyond reason: it is read to its end, without overflowing the stack.

use notation::tree::{BlockKind, EntryTree, ExprKind, Grade};
use notation::word::HEADING_WORDS;
use notation::{lay_out, names_of, read_entry, read_heading, read_phrase, tokens};

#[test]
fn a_path_of_a_megabyte() {
    let mut text = String::from("n0");
    let mut parts = 0;
    while text.len() < 1_000_000 {
        parts += 1;
        text += &format!(" -- R{parts} 4k7 1% -- n{parts}");
    }
    let entry = read_entry(BlockKind::Stage, &text);
    assert_eq!(entry.grade, Grade::Whole, "{:?}", entry.fault);
    assert_eq!(names_of(&entry).parts.len(), parts);
}

#[test]
fn long_lines_of_anything_are_read_in_every_block() {
    let long_word = "x".repeat(1_000_000);
    for piece in [
        "a ",
        "R1 ",
        "-- ",
        "( ",
        ") ",
        ", ",
        "1 ",
        "+ ",
        "= ",
        "\" ",
        "|| ",
        ": ",
        "2 * ",
        "- ",
        "all ",
        "at 1 kHz ",
        "R1, ",
        "é ",
        "of ",
        "1,5 ",
    ] {
        let text = piece.repeat(20_000 / piece.len());
        for (_, kind) in HEADING_WORDS {
            read_entry(*kind, &text);
        }
        read_phrase(&text);
        lay_out(&text);
    }
    for (word, kind) in HEADING_WORDS {
        read_entry(*kind, &long_word);
        read_heading(&format!("{word} {long_word}"));
    }
}

#[test]
fn parentheses_nest_to_a_bound_that_is_said() {
    let nested = |depth: usize| format!("in -- R1 {}1k{} -- out", "(".repeat(depth), ")".repeat(depth));
    assert_eq!(read_entry(BlockKind::Stage, &nested(64)).grade, Grade::Whole);
    for depth in [65, 200, 10_000, 300_000] {
        let text = nested(depth);
        let entry = read_entry(BlockKind::Stage, &text);
        let fault = entry.fault.expect("too deep");
        assert_eq!(fault.id, "expression-too-long", "{depth}: {}", fault.message);
        let EntryTree::Path(path) = entry.tree else { panic!() };
        assert_eq!(path.steps.len(), 3, "the rest of the path stays");
    }
    for open in [10_000, 300_000] {
        let text = format!("x = {}", "(".repeat(open));
        assert_eq!(read_entry(BlockKind::Let, &text).grade, Grade::Open);
        let text = format!("x = {}1", "sqrt(".repeat(open));
        assert_eq!(read_entry(BlockKind::Let, &text).grade, Grade::Open);
    }
}

#[test]
fn a_long_expression_is_bounded_so_that_trees_can_be_walked() {
    for (kind, head) in [(BlockKind::Let, "x = 1"), (BlockKind::Formula, "gain a -> b = 1")] {
        let text = head.to_string() + &" + R1".repeat(200_000);
        let entry = read_entry(kind, &text);
        assert_eq!(entry.fault.as_ref().map(|f| f.id), Some("expression-too-long"));
        assert_eq!(names_of(&entry).parts.len(), 200_000, "its names are kept");
        let value = match entry.tree {
            EntryTree::Let(l) => l.value,
            EntryTree::Formula(f) => f.value,
            _ => None,
        };
        assert!(value.is_some_and(|v| matches!(v.kind, ExprKind::Spoiled(_))), "half of a sum is no value");
        let text = head.to_string() + &" + R1".repeat(400);
        assert_eq!(read_entry(kind, &text).grade, Grade::Whole);
    }
    let text = format!("in -- R1 (1{}) -- out", " + 1".repeat(200_000));
    let entry = read_entry(BlockKind::Stage, &text);
    assert_eq!(entry.fault.map(|f| f.id), Some("expression-too-long"));
    let text = format!("x = {}1", "-".repeat(300_000));
    assert_eq!(read_entry(BlockKind::Let, &text).grade, Grade::Open);
    let text = format!("x = {}1", "- ".repeat(300_000));
    assert_eq!(read_entry(BlockKind::Let, &text).grade, Grade::Open);
}

#[test]
fn a_hundred_thousand_lines() {
    let mut text = String::from("stage big: n0 -> out\n");
    for n in 0..100_000 {
        text += &format!("  n{n} -- R{n} 1k -- n{}\n", n + 1);
    }
    let layout = lay_out(&text);
    assert_eq!(layout.blocks[0].entries.len(), 100_000);
    for chunk in &layout.blocks[0].entries {
        assert_eq!(read_entry(BlockKind::Stage, &text[chunk.range.clone()]).grade, Grade::Whole);
    }
    // An entry continued over as many lines, and as many unindented ones, are no slower.
    let continued = String::from("stage big\n  a -- R1 1k\n") + &"  # note\n    -- R1 1k\n".repeat(50_000);
    assert_eq!(lay_out(&continued).blocks[0].entries.len(), 1);
    let unindented = String::from("stage big\n") + &"a -- R1 1k -- b\n".repeat(100_000);
    assert_eq!(lay_out(&unindented).blocks[0].entries.len(), 100_000);
}

#[test]
fn tokens_hold_every_byte() {
    let text = "fb -- R3 1k # c\r\n\u{feff}“x” é 🙂 \r";
    let all: String = tokens(text).iter().map(|t| &text[t.span.range()]).collect();
    assert_eq!(all, text);
}
