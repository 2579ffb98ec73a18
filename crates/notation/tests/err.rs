//! Broken entries and headings, with what is said about each. The files in `tests/err` hold inputs in column 0 and, indented below,
//! grade, tree, fault and the text that each fix makes. `UPDATE_EXPECT=1 cargo test -p notation --test err` writes them anew;
//! what it wrote is then read.

mod show;

use std::path::{Path, PathBuf};

use expect_test::expect_file;
use notation::tree::{Fault, Grade};
use notation::word::heading_kind;
use notation::{lay_out, read_entry, read_heading, read_phrase};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/err")
}

/// One input and what is made of it.
fn rendered(line: &str) -> String {
    let Some((kind, text)) = line.split_once(" | ") else { panic!("no kind in {line}") };
    let text = &*text.replace("\\t", "\t");
    let (grade, tree, fault) = match (kind, heading_kind(kind)) {
        (_, Some(kind)) => {
            let e = read_entry(kind, text);
            (Some(e.grade), show::entry(&e), e.fault)
        }
        ("heading", _) => {
            let h = read_heading(text);
            (Some(h.grade), show::heading(&h.tree), h.fault)
        }
        ("phrase", _) => {
            let (p, fault) = read_phrase(text);
            (None, show::quantity(&p), fault)
        }
        _ => panic!("no such kind: {line}"),
    };
    let mut out = format!(
        "{line}\n  {}{tree}\n",
        grade.map_or(String::new(), |g| format!("{} ", format!("{g:?}").to_lowercase()))
    );
    if let Some(f) = fault {
        out += &said(text, &f);
    }
    out
}

fn said(text: &str, f: &Fault) -> String {
    let place = if f.span.start == f.span.end {
        format!("behind `{}`", &text[..f.span.start as usize].split(' ').next_back().unwrap_or(""))
    } else {
        format!("at `{}`", text[f.span.range()].escape_debug())
    };
    let unfinished = if f.unfinished { ", unfinished" } else { "" };
    let mut out = format!("  {} {place}{unfinished}: {}\n", f.id, f.message);
    for fix in &f.fixes {
        out += &format!(
            "    {} => {}\n",
            fix.title,
            show::fixed(text, fix).escape_debug().to_string().replace("\\\"", "\"").replace("\\'", "'")
        );
    }
    out
}

#[test]
fn broken_entries_are_told_so() {
    let mut count = 0;
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder()).unwrap().map(|f| f.unwrap().path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "txt"));
    files.sort();
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        let mut out = String::new();
        for line in text.lines().filter(|l| !l.is_empty() && !l.starts_with(' ')) {
            if line.starts_with('#') {
                out += &format!("{}{line}\n", if out.is_empty() { "" } else { "\n" });
                continue;
            }
            out += &rendered(line);
            count += 1;
        }
        expect_file![file].assert_eq(&out);
    }
    assert!(count >= 330, "{count}");
}

/// A fix mends what it says it mends: the fault is gone or has moved to the right, and nothing got worse.
#[test]
fn fixes_mend() {
    let mut count = 0;
    for file in std::fs::read_dir(folder()).unwrap() {
        let text = std::fs::read_to_string(file.unwrap().path()).unwrap();
        for line in text.lines().filter(|l| !l.starts_with([' ', '#'])) {
            let Some((kind, entry)) = line.split_once(" | ") else { continue };
            let read = |text: &str| match heading_kind(kind) {
                Some(kind) => {
                    let e = read_entry(kind, text);
                    (e.grade, e.fault)
                }
                None if kind == "heading" => {
                    let h = read_heading(text);
                    (h.grade, h.fault)
                }
                None => (Grade::Whole, read_phrase(text).1),
            };
            let (grade, fault) = read(entry);
            let Some(fault) = fault else { continue };
            for fix in &fault.fixes {
                let mended = show::fixed(entry, fix);
                let (better, left) = read(&mended);
                let unfinished = left.as_ref().is_some_and(|l| l.unfinished);
                assert!(better <= grade || unfinished, "{entry} => {mended}: {left:?}");
                let same = left.is_some_and(|l| l.id == fault.id && l.span.start <= fault.span.start && !l.unfinished);
                assert!(!same, "{entry} => {mended}");
                count += 1;
            }
        }
    }
    assert!(count >= 40, "{count}");
}

/// Files whose lines are out of order, with what the layout says.
#[test]
fn broken_files_are_told_so() {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder()).unwrap().map(|f| f.unwrap().path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "stage"));
    files.sort();
    assert!(files.len() >= 8);
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        let layout = lay_out(&text);
        let mut out = String::new();
        for fault in &layout.faults {
            out += &format!("file {}: {}\n", fault.span.start, fault.message);
        }
        for block in &layout.blocks {
            out += &block.kind.map_or("no block\n".into(), |k| format!("block {}\n", notation::word::heading_word(k)));
            for (n, chunk) in block.heading.iter().chain(&block.entries).enumerate() {
                let what = if n == 0 && block.heading.is_some() { "heading" } else { "entry" };
                out += &format!("  {what}, line {}: {:?}\n", chunk.line + 1, &text[chunk.range.clone()]);
                if let Some(d) = &chunk.description {
                    out += &format!("    described {:?}\n", &text[d.clone()]);
                }
                if let Some(f) = &chunk.fault {
                    let unfinished = if f.unfinished { ", unfinished" } else { "" };
                    out += &format!("    {}{unfinished}: {}\n", f.id, f.message);
                    for fix in &f.fixes {
                        let mended =
                            text[..chunk.range.start].to_string() + &show::fixed(&text[chunk.range.start..], fix);
                        let changed: Vec<&str> = mended.lines().filter(|l| !text.lines().any(|k| k == *l)).collect();
                        out += &format!("      {} => {changed:?}\n", fix.title);
                    }
                }
            }
        }
        expect_file![file.with_extension("layout")].assert_eq(&out);
    }
}
