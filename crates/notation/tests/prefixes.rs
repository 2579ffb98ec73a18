//! Every beginning of every good line, and every line with one token spoilt: a tree comes back that holds all finished names,
//! with at most one fault, whose places are inside the text.

use std::collections::BTreeSet;
use std::path::Path;

use notation::token::TokenKind;
use notation::tree::{AssumeClause, BlockKind, DesignEntry, Entry, EntryTree, Fault, Grade, QuantityPhrase};
use notation::{is_reserved_name, lay_out, names_of, read_entry, read_heading, tokens};

/// Every heading (`None`) and entry of the good files.
fn good_lines() -> Vec<(Option<BlockKind>, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/ok");
    let mut out = Vec::new();
    for file in std::fs::read_dir(folder).unwrap() {
        let text = std::fs::read_to_string(file.unwrap().path()).unwrap();
        for block in lay_out(&text).blocks {
            out.extend(block.heading.map(|h| (None, text[h.range].to_string())));
            out.extend(block.entries.into_iter().map(|e| (block.kind, text[e.range].to_string())));
        }
    }
    out
}

fn check_fault(text: &str, fault: &Fault) {
    for span in [fault.span].into_iter().chain(fault.fixes.iter().flat_map(|f| f.edits.iter().map(|(s, _)| *s))) {
        assert!(span.start <= span.end && span.end as usize <= text.len(), "{span:?} in {text:?}");
        assert!(text.is_char_boundary(span.start as usize) && text.is_char_boundary(span.end as usize), "{text:?}");
    }
    assert!(fault.message.ends_with(['.', '?']), "{}", fault.message);
    assert!(
        !fault.message.contains("error:") && !fault.message.contains("invalid") && !fault.message.contains('!'),
        "{}",
        fault.message
    );
}

/// Names that the text holds and the tree does not. The words of the notation at their places are no names.
fn lost(kind: BlockKind, text: &str, entry: &Entry) -> Vec<String> {
    let held = names_of(entry);
    let mut have: BTreeSet<&str> = held.names.iter().map(|w| &*w.text).chain(held.values.iter().copied()).collect();
    have.extend(held.parts.iter().map(|p| &*p.text));
    // The first word of a phrase that is none yet.
    let typed =
        phrase_of(entry).filter(|p| p.phrase.is_none()).map(|p| text[p.phrase_span.range()].split(' ').next().unwrap());
    have.extend(typed);
    let absent: Vec<&str> = tokens(text)
        .into_iter()
        .filter(|t| matches!(t.kind, TokenKind::Name | TokenKind::Part))
        .map(|t| &text[t.span.range()])
        .filter(|w| !have.contains(w) && !is_word(kind, w))
        // `A-weigh` is one word by then.
        .filter(|w| !(text.contains("A-w") && "weighted".starts_with(w)))
        .filter(|w| !is_reserved_name(w) || notation::has_part_shape(w))
        .collect();
    if absent.is_empty() {
        return Vec::new();
    }
    let tree = format!("{:?}", entry.tree);
    absent.into_iter().filter(|w| !tree.contains(&format!("{w:?}"))).map(str::to_string).collect()
}

fn phrase_of(entry: &Entry) -> Option<&QuantityPhrase> {
    match &entry.tree {
        EntryTree::Require(r) => r.quantity.as_ref(),
        EntryTree::Formula(f) => f.quantity.as_ref(),
        EntryTree::Design(DesignEntry::Trim(_, q, _)) => q.as_ref(),
        EntryTree::Assume(a) => a.clauses.iter().find_map(|c| match c {
            AssumeClause::On(q) => q.as_ref(),
            _ => None,
        }),
        _ => None,
    }
}

/// Words of phrases, design entries and heads, which stand in the tree as variants.
fn is_word(kind: BlockKind, word: &str) -> bool {
    let phrase = notation::word::PHRASES.iter().any(|(p, _)| p.split(' ').any(|q| q == word));
    match kind {
        BlockKind::Design => {
            phrase || notation::word::DESIGN_WORDS.contains(&word) || matches!(word, "for" | "peak" | "pp")
        }
        _ => phrase,
    }
}

fn check(kind: Option<BlockKind>, text: &str, complaints: &mut Vec<String>) {
    let Some(kind) = kind else {
        let heading = read_heading(text);
        assert_eq!(heading.grade == Grade::Whole, heading.fault.is_none(), "{text:?}");
        heading.fault.iter().for_each(|f| check_fault(text, f));
        return;
    };
    let entry = read_entry(kind, text);
    assert_eq!(entry.grade == Grade::Whole, entry.fault.is_none(), "{text:?} {:?}", entry.fault);
    entry.fault.iter().for_each(|f| check_fault(text, f));
    // A reason that lacks its quotes is text, not names.
    let lost = if text.starts_with("accept") && entry.fault.as_ref().is_some_and(|f| f.id == "reason-missing") {
        Vec::new()
    } else {
        lost(kind, text, &entry)
    };
    if !lost.is_empty() {
        complaints.push(format!("{lost:?} lost from {text:?}: {:?}", entry.tree));
    }
}

#[test]
fn every_beginning_of_a_good_line_has_a_tree() {
    let (mut count, mut complaints) = (0, Vec::new());
    for (kind, line) in good_lines() {
        for (at, _) in line.char_indices().skip(1) {
            if kind.is_none() && !line[..at].contains(' ') {
                continue;
            }
            check(kind, &line[..at], &mut complaints);
            count += 1;
        }
        check(kind, &line, &mut complaints);
    }
    assert!(count > 8000, "{count}");
    assert!(
        complaints.is_empty(),
        "{} of {count}:\n{}",
        complaints.len(),
        complaints[..complaints.len().min(40)].join("\n")
    );
}

#[test]
fn a_token_deleted_doubled_or_spoilt_costs_no_other_name() {
    let (mut count, mut complaints) = (0, Vec::new());
    for (kind, line) in good_lines() {
        for t in tokens(&line).iter().filter(|t| t.kind != TokenKind::Blank) {
            let (a, b) = (t.span.start as usize, t.span.end as usize);
            if kind.is_none() && a == 0 {
                continue;
            }
            let token = &line[a..b];
            let (before, after) = (&line[..a], &line[b..]);
            for spoilt in [
                format!("{before} {after}"),
                format!("{before}{token} {token}{after}"),
                format!("{before}?!{after}"),
                format!("{before}){after}"),
                format!("{before}( {token}{after}"),
                format!("{before}-- {token}{after}"),
                format!("{before}{token} R99 {after}"),
                format!("{before}{token} zz {after}"),
                format!("{before}{token} = {after}"),
            ] {
                check(kind, &spoilt, &mut complaints);
                count += 1;
            }
        }
    }
    assert!(count > 30_000, "{count}");
    assert!(
        complaints.is_empty(),
        "{} of {count}:\n{}",
        complaints.len(),
        complaints[..complaints.len().min(40)].join("\n")
    );
}
