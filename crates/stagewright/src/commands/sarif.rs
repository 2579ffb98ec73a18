//! Problems in SARIF 2.1.0 (an OASIS standard), for tools that collect findings.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use workbench::Severity;

use super::check::{Checked, undecided};
use super::files::Lines;

/// What a statement is reported as that could not be decided.
const UNDECIDED: &str = "statement-undecided";

/// The log of one run.
pub fn log(checked: &[Checked]) -> Value {
    let found = checked.iter().flat_map(|c| c.problems.iter().map(|p| p.id));
    let conceded = checked.iter().flat_map(|c| c.accepted.iter().map(|a| &*a.rule));
    let open = checked.iter().filter(|c| undecided(c).next().is_some()).map(|_| UNDECIDED);
    let rules: BTreeSet<&str> = found.chain(conceded).chain(open).collect();
    let rules: Vec<Value> = rules.iter().map(|id| json!({ "id": id })).collect();
    let results: Vec<Value> = checked.iter().flat_map(results).collect();
    json!({
        "version": "2.1.0",
        "runs": [{
            "tool": { "driver": { "name": "stagewright", "version": env!("CARGO_PKG_VERSION"), "rules": rules } },
            // Columns count characters, not UTF-16 code units.
            "columnKind": "unicodeCodePoints",
            "results": results,
        }],
    })
}

fn results(c: &Checked) -> Vec<Value> {
    let lines = Lines::of(&c.text);
    let one = |p: &workbench::Problem| {
        let ((line, column), (end_line, end_column)) = (lines.place(p.range.start), lines.place(p.range.end));
        let level = match p.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Note => "note",
        };
        let region = json!({ "startLine": line, "startColumn": column, "endLine": end_line, "endColumn": end_column });
        let mut one = json!({
            "ruleId": p.id, "level": level, "message": { "text": p.message },
            "locations": [{ "physicalLocation": { "artifactLocation": { "uri": c.file.replace('\\', "/") }, "region": region } }],
        });
        // A fix changes at least one thing in at least one file, or is none.
        let fixes: Vec<Value> = p.fixes.iter().filter(|f| !f.edits.is_empty()).map(|f| fix(c, &lines, f)).collect();
        if !fixes.is_empty() {
            one["fixes"] = json!(fixes);
        }
        one
    };
    // What the file concedes is a result all the same, with the reason why it is none to act on.
    let suppressed = |a: &workbench::Conceded| {
        let text = format!("`{}` is accepted for {}.", a.rule.replace('-', " "), a.what);
        json!({
            "ruleId": a.rule, "level": "none", "message": { "text": text },
            "locations": [{ "physicalLocation": {
                "artifactLocation": { "uri": c.file.replace('\\', "/") }, "region": { "startLine": a.line + 1 },
            } }],
            "suppressions": [{ "kind": "inSource", "justification": a.reason }],
        })
    };
    // The standard's own kind for what was looked at and could not be decided for want of something.
    let open = |(s, why): (&workbench::Statement, &str)| {
        json!({
            "ruleId": UNDECIDED, "level": "none", "kind": "open",
            "message": { "text": format!("{} {}: not decided: {why}.", s.kind, s.text) },
            "locations": [{ "physicalLocation": {
                "artifactLocation": { "uri": c.file.replace('\\', "/") }, "region": { "startLine": s.line + 1 },
            } }],
        })
    };
    c.problems.iter().map(one).chain(c.accepted.iter().map(suppressed)).chain(undecided(c).map(open)).collect()
}

/// A fix: what is taken out of the file, and what is put there. Where nothing is taken out the region is empty.
fn fix(c: &Checked, lines: &Lines, fix: &workbench::Fix) -> Value {
    let one = |e: &workbench::Edit| {
        let ((line, column), (end_line, end_column)) = (lines.place(e.range.start), lines.place(e.range.end));
        json!({
            "deletedRegion": { "startLine": line, "startColumn": column, "endLine": end_line, "endColumn": end_column },
            "insertedContent": { "text": e.text },
        })
    };
    let all: Vec<Value> = fix.edits.iter().map(one).collect();
    let file = json!({ "uri": c.file.replace('\\', "/") });
    json!({ "description": { "text": fix.title }, "artifactChanges": [{ "artifactLocation": file, "replacements": all }] })
}
