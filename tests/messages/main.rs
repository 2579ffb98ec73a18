//! What is said about broken designs: each `NAME.stage` here is broken in one way, and `NAME.said` holds every message about it,
//! with its place and its ways out, as `stagewright check` gives them. Each was read for its wording.
//!
//! `UPDATE_EXPECT=1 cargo test -p stagewright-tests --test messages` writes the `.said` files anew; read them before you keep them.

use std::fmt::Write;
use std::path::Path;

use workbench::{Problem, Severity, Workbench};

/// `5:8 error repeated-designator R2`, then the message and the ways out.
fn said(text: &str, problem: &Problem) -> String {
    let before = &text[..problem.range.start];
    let (line, column) =
        (before.matches('\n').count() + 1, before.rsplit('\n').next().map_or(0, |l| l.chars().count()) + 1);
    let severity = match problem.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Note => "note",
    };
    let mut out = format!("{line}:{column} {severity} {} [{}]", problem.id, problem.names.join(", "));
    let _ = write!(out, "\n  {}\n  at `{}`\n", problem.message, &text[problem.range.clone()]);
    for fix in &problem.fixes {
        let _ = writeln!(out, "  way out: {}", fix.title);
    }
    out
}

#[test]
fn messages_are_as_they_were_read() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR")).join("messages");
    let mut files: Vec<_> =
        std::fs::read_dir(&here).expect("the fixtures are there").map(|e| e.expect("a file").path()).collect();
    files.retain(|p| p.extension().is_some_and(|e| e == "stage"));
    files.sort();
    assert!(files.len() >= 20);
    for file in files {
        let text = std::fs::read_to_string(&file).expect("UTF-8 text");
        let mut bench = Workbench::new();
        bench.set_text("a", text.clone());
        let problems = bench.snapshot().problems_over_tolerance("a");
        assert!(!problems.is_empty(), "{} is broken, and nothing is said", file.display());
        let all: Vec<String> = problems.iter().map(|p| said(&text, p)).collect();
        expect_test::expect_file![file.with_extension("said")].assert_eq(&all.join("\n"));
    }
}
