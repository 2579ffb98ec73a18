//! `show`: the file as an editor shows it.

use std::collections::HashMap;
use std::process::ExitCode;

use serde_json::json;
use workbench::{Conceded, Hint, Mark, Problem, Severity, Workbench};

use super::files::{self, Lines};
use super::output::{blanks, complain, escaped, finish, visible, visible_line};
use super::paint::{Ink, Paint};
use super::{CLEAN, FAILED, Format, Show};

/// Bytes of a line in front of a mark that stands below its place.
const LONGEST: usize = 2000;

/// What stands between a line and its hint.
const EDGE: &str = "  ┆ ";

/// Runs the command.
pub fn run(args: &Show) -> ExitCode {
    let text = match files::text(&args.file) {
        Ok(text) => text,
        Err(why) => {
            complain(&why);
            return ExitCode::from(FAILED);
        }
    };
    let path = args.file.to_string_lossy();
    let mut bench = Workbench::new();
    crate::includes::open(&mut bench, &args.file, text.clone());
    let snapshot = bench.snapshot();
    let (hints, problems) = (snapshot.hints(&path, None), snapshot.problems_reviewed(&path, false));
    let out = match args.format {
        Format::Text => {
            as_text(&text, &hints, &problems, Paint::stdout()) + &conceded(&snapshot.accepted(&path), Paint::stdout())
        }
        Format::Json => {
            let hints: Vec<_> = hints
                .iter()
                .map(|h| json!({ "line": h.line + 1, "label": h.label, "of": h.key, "mark": mark(h.mark) }))
                .collect();
            escaped(&format!(
                "{:#}\n",
                json!({ "file": path, "hints": hints, "accepted": accepted(&snapshot.accepted(&path)) })
            ))
            .into_owned()
        }
    };
    finish(&out, CLEAN)
}

/// What the design concedes, below it: where, what and why.
fn conceded(all: &[Conceded], paint: Paint) -> String {
    if all.is_empty() {
        return String::new();
    }
    let mut out = format!("\n{}\n", paint.ink(Ink::Faint, "accepted:"));
    for c in all {
        let what = format!("{} for {}: {}", c.rule.replace('-', " "), c.what, c.reason);
        out.push_str(&format!("  {}\n", paint.ink(Ink::Faint, &visible(&format!("line {}: {what}", c.line + 1)))));
    }
    out
}

/// The same as JSON.
pub fn accepted(all: &[Conceded]) -> Vec<serde_json::Value> {
    all.iter().map(|c| json!({ "line": c.line + 1, "rule": c.rule, "for": c.what, "reason": c.reason })).collect()
}

fn mark(mark: Mark) -> &'static str {
    match mark {
        Mark::Exact => "exact",
        Mark::Typical => "typical",
        Mark::Unknown => "unknown",
        Mark::Undecided => "undecided",
        Mark::Holds => "holds",
        Mark::Fails => "fails",
    }
}

fn as_text(text: &str, hints: &[Hint], problems: &[Problem], paint: Paint) -> String {
    let lines = Lines::of(text);
    let mut out = String::new();
    let hinted = by_line(hints, |h| h.line as usize + 1);
    let faulty = by_line(problems, |p| lines.place(p.range.start).0);
    for number in 1..=lines.count() {
        let line = lines.line(number);
        out.push_str(&code_and_comment(line, paint));
        let of_line = || hinted.get(&number).into_iter().flatten();
        if of_line().next().is_some() {
            out.push_str(&paint.ink(Ink::Faint, EDGE));
            let several = of_line().nth(1).is_some();
            let labels: Vec<String> = of_line()
                .map(|h| {
                    let ink = if matches!(h.mark, Mark::Unknown | Mark::Undecided) { Ink::Open } else { Ink::Hint };
                    // Where a line has several parts each figure says whose it is.
                    let label = match h.key.strip_prefix("part ") {
                        Some(part) if several => format!("{part} {}", h.label),
                        _ => h.label.clone(),
                    };
                    paint.ink(ink, &visible(&label))
                })
                .collect();
            out.push_str(&labels.join(&paint.ink(Ink::Faint, " | ")));
        }
        out.push('\n');
        for p in faulty.get(&number).into_iter().flatten() {
            let (word, ink) = weight(p.severity);
            let front = lines.in_front(p.range.start);
            // A mark that stands beyond any screen points at nothing: there the column is told.
            if front.len() > LONGEST {
                let column = lines.place(p.range.start).1;
                let word = paint.ink(ink, &format!("^ {word} at column {column}:"));
                out.push_str(&format!("{word} {}\n", visible(&p.message)));
                continue;
            }
            let front = blanks(front);
            out.push_str(&format!("{front}{} {}\n", paint.ink(ink, &format!("^ {word}:")), visible(&p.message)));
        }
    }
    out
}

/// What stands in each line.
fn by_line<T>(all: &[T], line: impl Fn(&T) -> usize) -> HashMap<usize, Vec<&T>> {
    let mut found: HashMap<usize, Vec<&T>> = HashMap::new();
    all.iter().for_each(|one| found.entry(line(one)).or_default().push(one));
    found
}

/// A severity in words.
pub fn weight(severity: Severity) -> (&'static str, Ink) {
    match severity {
        Severity::Error => ("error", Ink::Error),
        Severity::Warning => ("warning", Ink::Warning),
        Severity::Note => ("note", Ink::Faint),
    }
}

/// A comment stands back.
fn code_and_comment(line: &str, paint: Paint) -> String {
    let mut quoted = false;
    let cut = line.char_indices().find(|(_, c)| {
        quoted ^= *c == '"';
        *c == '#' && !quoted
    });
    match cut {
        Some((i, _)) => format!("{}{}", visible_line(&line[..i]), paint.ink(Ink::Faint, &visible_line(&line[i..]))),
        None => visible_line(line).into_owned(),
    }
}
