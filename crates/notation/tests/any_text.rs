//! Arbitrary text: no panic, every place inside the text and on a character's border, nothing remembered from one text to the next.

use notation::tree::{BlockKind, Fault, Grade};
use notation::word::HEADING_WORDS;
use notation::{lay_out, names_of, nodes_of, read_entry, read_heading, read_phrase, tokens};
use proptest::prelude::*;

/// Text out of pieces of the notation, of other letters and of nothing in particular.
fn pieces() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        8 => prop::sample::select(vec![
            "in", "out", "gnd", "fb", "R1", "VR1a", "C2", "U1a", "SW2", "R", "U", "K1", "cold.R1", "E24", "4k7", "22u", "1", "12 dB", "1 kHz", "5 %",
            "1,5k", ".47u", "4E7", "18 nV/√Hz", "--", "->", "||", "|", "–", "-->", "..", "…", "<", ">", "=", "<=", "≤", "±", "+/-", "+-", "+", "-", "−", "*",
            "×", "/", "^", "**", "(", ")", ":", ",", ";", "\"text\"", "\"", "“x”", "# c", "\n", "\r\n", "\r", "\t", "\u{a0}", "\u{feff}", "größe", "é", "🙂",
        ]).prop_map(String::from),
        4 => prop::sample::select(vec![
            "design", "let", "stage", "use", "include", "datasheet", "assume", "formula", "require", "stgae", "sta", "all", "above", "against", "at", "below",
            "from", "of", "on", "over", "when", "within", "as", "for", "gain", "noise", "phase", "margin", "input", "impedance", "low", "corner", "q", "supply",
            "typ", "min", "max", "peak", "short", "open", "ideal", "polar", "pol", "log", "wiper", "cw", "band", "source", "matched", "setting", "trim",
            "accept", "balanced", "tolerance", "reference", "temperature", "A-weighted", "sqrt", "Z", "pi", "s",
        ]).prop_map(String::from),
        1 => "\\PC{0,3}",
        1 => any::<char>().prop_map(String::from),
    ];
    prop::collection::vec((piece, prop::sample::select(vec![" ", " ", "", "  "])), 0..24)
        .prop_map(|v| v.into_iter().map(|(a, b)| a + b).collect())
}

fn check_fault(text: &str, fault: &Option<Fault>) {
    let Some(fault) = fault else { return };
    for span in std::iter::once(fault.span).chain(fault.fixes.iter().flat_map(|f| f.edits.iter().map(|(s, _)| *s))) {
        assert!(span.start <= span.end && span.end as usize <= text.len(), "{span:?} of {text:?}: {}", fault.message);
        assert!(
            text.is_char_boundary(span.start as usize) && text.is_char_boundary(span.end as usize),
            "{span:?} of {text:?}"
        );
    }
}

fn check(text: &str) {
    let all = tokens(text);
    let mut end = 0;
    for t in &all {
        assert_eq!(t.span.start, end, "a gap in {text:?}");
        assert!(t.span.end > t.span.start && text.is_char_boundary(t.span.end as usize), "{text:?}");
        end = t.span.end;
    }
    assert_eq!(end as usize, text.len());
    for (_, kind) in HEADING_WORDS {
        let entry = read_entry(*kind, text);
        assert_eq!(entry.grade == Grade::Whole, entry.fault.is_none(), "{text:?}");
        check_fault(text, &entry.fault);
        for word in names_of(&entry).names.iter().copied().chain(nodes_of(&entry)) {
            // Of a quoted text the place holds the marks, too.
            let written = text[word.span.range()].trim_matches(['"', '“', '”', '„']);
            assert_eq!(written, word.text.trim_matches(['"', '“', '”', '„']), "{text:?}");
        }
        for part in names_of(&entry).parts {
            assert!(text[part.span.range()].eq_ignore_ascii_case(&part.text), "{text:?}");
        }
        assert_eq!(read_entry(*kind, text), entry, "{text:?}");
    }
    check_fault(text, &read_heading(text).fault);
    check_fault(text, &read_phrase(text).1);
    let layout = lay_out(text);
    let mut last = 0;
    for block in &layout.blocks {
        for chunk in block.heading.iter().chain(&block.entries) {
            assert!(chunk.range.start >= last && chunk.range.end > chunk.range.start, "{text:?}");
            last = chunk.range.end;
            let own = &text[chunk.range.clone()];
            assert!(chunk.line as usize == text[..chunk.range.start].matches('\n').count(), "{text:?}");
            // Edits may reach to later lines.
            check_fault(&text[chunk.range.start..], &chunk.fault);
            let _ = own.len();
            if let Some(d) = &chunk.description {
                assert!(text[d.clone()].starts_with('#') && d.end <= chunk.range.start, "{text:?}");
            }
        }
    }
    for fault in layout.faults {
        check_fault(text, &Some(fault));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn pieces_of_the_notation_in_any_order(text in pieces()) {
        check(&text);
    }

    #[test]
    fn any_characters(text in "\\PC{0,60}") {
        check(&text);
    }

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
        check(&String::from_utf8_lossy(&bytes));
    }

    /// An edit elsewhere in a file leaves an entry's text, and so its tree, as it is.
    #[test]
    fn an_entry_depends_on_its_own_text_only(before in pieces(), line in pieces()) {
        let line = line.replace(['\n', '\r', '#', '\u{feff}'], " ");
        let line = line.trim();
        let _ = read_entry(BlockKind::Design, &before);
        let alone = read_entry(BlockKind::Stage, line);
        let _ = read_entry(BlockKind::Stage, &before);
        prop_assert_eq!(read_entry(BlockKind::Stage, line), alone.clone());
        let in_thread = std::thread::scope(|s| s.spawn(|| read_entry(BlockKind::Stage, line)).join().unwrap());
        prop_assert_eq!(in_thread, alone);
    }
}
