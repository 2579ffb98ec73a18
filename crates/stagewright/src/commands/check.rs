//! `check`: problems, and what was decided of the statements.

use std::borrow::Cow;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use workbench::{Problem, Severity, Statement, Verdict, Workbench};

use super::files::{self, Lines};
use super::output::{blanks, complain, escaped, finish, visible, visible_line, width};
use super::paint::{Ink, Paint};
use super::show::weight;
use super::{CLEAN, Check, CheckFormat, FAILED, PROBLEMS, sarif};

/// A design with what was found in it.
pub struct Checked {
    /// As it was named.
    pub file: String,
    /// Its text.
    pub text: String,
    /// Problems in the order of their places.
    pub problems: Vec<Problem>,
    /// Statements in the order written.
    pub statements: Vec<Statement>,
    /// What it concedes.
    pub accepted: Vec<workbench::Conceded>,
}

/// Runs the command.
pub fn run(args: &Check) -> ExitCode {
    let (mut checked, mut unread) = (Vec::new(), 0);
    match files::designs(&args.paths) {
        Ok(designs) => {
            for path in designs {
                match files::text(&path) {
                    Ok(text) => checked.push(check(path.to_string_lossy().into_owned(), text)),
                    Err(why) => {
                        complain(&why);
                        unread += 1;
                    }
                }
            }
        }
        Err(why) => {
            complain(&why);
            return ExitCode::from(FAILED);
        }
    }
    let out = match args.format {
        CheckFormat::Text => as_text(&checked, unread, Paint::stdout()),
        CheckFormat::Json => escaped(&format!("{:#}\n", as_json(&checked))).into_owned(),
        CheckFormat::Sarif => escaped(&format!("{:#}\n", sarif::log(&checked))).into_owned(),
    };
    let problems = checked.iter().any(|c| c.problems.iter().any(|p| p.severity != Severity::Note));
    let code = match unread {
        0 if problems => PROBLEMS,
        0 => CLEAN,
        _ => FAILED,
    };
    finish(&out, code)
}

/// Ways out that take their time are looked for of so many requirements of a design …
const SEARCHED: usize = 40;
/// … and for so long. Each trial decides the whole design anew.
const SEARCH: Duration = Duration::from_secs(20);

fn check(file: String, text: String) -> Checked {
    let mut bench = Workbench::new();
    crate::includes::open(&mut bench, std::path::Path::new(&file), text.clone());
    let snapshot = bench.snapshot();
    let mut problems = snapshot.problems_reviewed(&file, true).to_vec();
    // Where very much fails, the first of it is worth the search; what was not looked for is no sign that there is none.
    let start = Instant::now();
    let stop = || start.elapsed() > SEARCH;
    let fails = |p: &&mut Problem| matches!(p.id, "requirement-fails" | "requirement-tolerance");
    for (k, p) in problems.iter_mut().filter(fails).enumerate() {
        let said = if k >= SEARCHED {
            Some(format!("ways out were looked for of the first {SEARCHED} that fail only"))
        } else if stop() {
            Some(format!("ways out were not looked for: those of the first {k} that fail took {} s", SEARCH.as_secs()))
        } else {
            let ways = snapshot.ways_out_until(&file, p, &stop);
            p.fixes = ways.fixes;
            ways.stopped.or(ways.none)
        };
        if let Some(said) = said {
            p.message = format!("{}; {said}.", p.message.trim_end_matches('.'));
        }
    }
    let statements = snapshot.statements(&file);
    let accepted = snapshot.accepted(&file);
    Checked { file, text, problems, statements, accepted }
}

fn as_text(checked: &[Checked], unread: usize, paint: Paint) -> String {
    let mut out = String::new();
    for c in checked {
        let lines = Lines::of(&c.text);
        for p in &c.problems {
            let (line, column) = lines.place(p.range.start);
            let (word, ink) = weight(p.severity);
            let place = paint.ink(Ink::Strong, &format!("{}:{line}:{column}", visible(&c.file)));
            out.push_str(&format!("{place}: {} {}\n", paint.ink(ink, &format!("{word}:")), visible(&p.message)));
            let number = format!("{line:5} │ ");
            let (before, shown) = around(lines.line(line), lines.in_front(p.range.start).len());
            out.push_str(&format!("{}{}\n", paint.ink(Ink::Faint, &number), visible_line(&shown)));
            let front = &*before;
            let marked = c.text.get(p.range.clone()).filter(|m| m.len() <= AROUND && !m.contains('\n'));
            let marked = marked.unwrap_or_default();
            let mark = paint.ink(ink, &"^".repeat(width(marked)));
            out.push_str(&format!("{}{}{mark}\n", paint.ink(Ink::Faint, "      │ "), blanks(front)));
            for fix in &p.fixes {
                out.push_str(&format!("{}way out: {}\n", paint.ink(Ink::Faint, "      │ "), visible(&fix.title)));
            }
        }
    }
    for c in checked {
        for a in &c.accepted {
            let place = paint.ink(Ink::Strong, &format!("{}:{}", visible(&c.file), a.line + 1));
            let rule = a.rule.replace('-', " ");
            let said = format!("{rule} for {}: {}", a.what, a.reason);
            out.push_str(&format!("{place}: {} {}\n", paint.ink(Ink::Faint, "accepted:"), visible(&said)));
        }
    }
    for c in checked {
        for (s, why) in undecided(c) {
            let place = paint.ink(Ink::Strong, &format!("{}:{}", visible(&c.file), s.line + 1));
            let said = format!("{} {}: {why}", s.kind, s.text);
            out.push_str(&format!("{place}: {} {}\n", paint.ink(Ink::Open, "not decided:"), visible(&said)));
        }
    }
    out.push_str(&summary(checked, unread));
    out
}

/// The statements that are not decided, with what is missing.
pub fn undecided(c: &Checked) -> impl Iterator<Item = (&Statement, &str)> {
    c.statements.iter().filter_map(|s| match &s.verdict {
        Verdict::Unknown(why) => Some((s, why.trim_end_matches('.'))),
        _ => None,
    })
}

/// Bytes of a long line that are shown on each side of a place.
const AROUND: usize = 240;

/// A line as it is shown, and what of that stands in front of a place in it: of a line without end only what lies around the place.
fn around(line: &str, at: usize) -> (Cow<'_, str>, Cow<'_, str>) {
    let at = line.floor_char_boundary(at);
    if line.len() <= 4 * AROUND {
        return (line[..at].into(), line.into());
    }
    let from = line.floor_char_boundary(at.saturating_sub(AROUND));
    let to = line.ceil_char_boundary((at + AROUND).min(line.len()));
    let front = if from > 0 { "…" } else { "" };
    let end = if to < line.len() { "…" } else { "" };
    (format!("{front}{}", &line[from..at]).into(), format!("{front}{}{end}", &line[from..to]).into())
}

/// `2 designs: 1 error, 3 warnings; 9 statements not decided; 1 file could not be read`
fn summary(checked: &[Checked], unread: usize) -> String {
    let count = |s: Severity| checked.iter().flat_map(|c| &c.problems).filter(|p| p.severity == s).count();
    let many = |n: usize, word: &str| format!("{n} {word}{}", if n == 1 { "" } else { "s" });
    let unread = (unread > 0).then(|| format!("{} could not be read", many(unread, "file")));
    if let (true, Some(unread)) = (checked.is_empty(), &unread) {
        return format!("no design was checked: {unread}\n");
    }
    let mut said = Vec::new();
    for (severity, word) in [(Severity::Error, "error"), (Severity::Warning, "warning")] {
        if count(severity) > 0 {
            said.push(many(count(severity), word));
        }
    }
    if said.is_empty() {
        said.push("no problems".into());
    }
    let mut line = format!("{}: {}", many(checked.len(), "design"), said.join(", "));
    let open = checked.iter().flat_map(undecided).count();
    if open > 0 {
        line.push_str(&format!("; {} not decided", many(open, "statement")));
    }
    if let Some(unread) = unread {
        line.push_str("; ");
        line.push_str(&unread);
    }
    line + "\n"
}

fn as_json(checked: &[Checked]) -> Value {
    let problems: Vec<Value> = checked
        .iter()
        .flat_map(|c| {
            let lines = Lines::of(&c.text);
            c.problems.iter().map(move |p| problem(c, &lines, p)).collect::<Vec<_>>()
        })
        .collect();
    let statements: Vec<Value> =
        checked.iter().flat_map(|c| c.statements.iter().map(|s| statement(&c.file, s))).collect();
    let accepted: Vec<Value> = checked
        .iter()
        .flat_map(|c| {
            super::show::accepted(&c.accepted).into_iter().map(|mut one| {
                one["file"] = json!(c.file);
                one
            })
        })
        .collect();
    json!({ "problems": problems, "statements": statements, "accepted": accepted })
}

fn problem(c: &Checked, lines: &Lines, p: &Problem) -> Value {
    let (line, column) = lines.place(p.range.start);
    let (end_line, end_column) = lines.place(p.range.end);
    let fixes: Vec<Value> = p
        .fixes
        .iter()
        .map(|f| {
            let edits: Vec<Value> = f
                .edits
                .iter()
                .map(|e| {
                    let (from, to) = (lines.place(e.range.start), lines.place(e.range.end));
                    json!({ "line": from.0, "column": from.1, "end_line": to.0, "end_column": to.1, "text": e.text })
                })
                .collect();
            json!({ "title": f.title, "edits": edits })
        })
        .collect();
    json!({
        "file": c.file, "line": line, "column": column, "end_line": end_line, "end_column": end_column,
        "severity": weight(p.severity).0, "id": p.id, "message": p.message, "names": p.names, "fixes": fixes,
    })
}

/// What a requirement comes to over tolerance.
fn over(held: &Result<workbench::Over, String>) -> Value {
    let over = match held {
        Ok(over) => over,
        Err(why) => return json!({ "verdict": null, "range": null, "share": null, "confidence": null, "reason": why }),
    };
    let verdict = match &over.verdict {
        workbench::Held::Holds => "holds",
        workbench::Held::Fails => "fails",
        workbench::Held::Unknown(_) => "unknown",
    };
    let matters: Vec<&str> = over.weights.iter().map(|w| &*w.name).collect();
    json!({
        "verdict": verdict, "range": over.range.map(|x| Some(x).filter(|x| x.is_finite())), "share": over.share.value(),
        "confidence": over.share.interval, "builds": over.share.all, "matters": matters, "reason": null,
    })
}

fn statement(file: &str, s: &Statement) -> Value {
    let decided = s.decided.as_ref();
    // JSON has no number for a corner that is never met.
    let finite = |x: Option<f64>| x.filter(|x| x.is_finite());
    let (verdict, reason) = match &s.verdict {
        Verdict::Holds => ("holds", None),
        Verdict::Fails(how) => ("fails", Some(how).filter(|h| !h.is_empty())),
        Verdict::Unknown(why) => ("unknown", Some(why)),
    };
    if !s.costs.is_empty() {
        return costly(file, s, verdict, reason.map(String::as_str));
    }
    json!({
        "file": file, "line": s.line + 1, "kind": s.kind, "phrase": s.text, "verdict": verdict,
        "value": decided.and_then(|d| finite(d.0.value)), "unit": decided.map(|d| d.1),
        "limit": decided.and_then(|d| finite(d.0.limit)), "margin": decided.and_then(|d| finite(d.0.margin)),
        "position": decided.map(|d| &*d.0.position).filter(|p| !p.is_empty()), "tolerance": s.tolerance.as_ref().map(over), "reason": reason,
    })
}

/// An assumption: what its costliest neglect costs, against what is allowed, and each of them.
fn costly(file: &str, s: &Statement, verdict: &str, reason: Option<&str>) -> Value {
    let finite = |x: f64| Some(x).filter(|x| x.is_finite());
    let position = |p: &str| Some(p.to_string()).filter(|p| !p.is_empty());
    let one = |c: &workbench::NeglectCost| {
        json!({
            "name": c.name, "on": Some(&c.on).filter(|on| !on.is_empty()), "value": finite(c.decibels), "unit": "dB", "limit": c.limit,
            "margin": finite(c.limit - c.decibels), "frequency": c.hertz, "position": position(&c.position),
        })
    };
    let worst = s.costs.iter().reduce(|a, b| if b.decibels > a.decibels { b } else { a });
    let mut whole = json!({
        "file": file, "line": s.line + 1, "kind": s.kind, "phrase": s.text, "verdict": verdict, "tolerance": null, "reason": reason,
        "costs": s.costs.iter().map(one).collect::<Vec<_>>(),
    });
    if let Some(Value::Object(worst)) = worst.map(one) {
        for (key, value) in worst.into_iter().filter(|(key, _)| key != "name" && key != "on") {
            whole[key] = value;
        }
    }
    whole
}
