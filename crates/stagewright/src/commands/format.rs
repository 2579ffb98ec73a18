//! `format`: the canonical layout of designs, written or only shown.

use std::io::{IsTerminal, Read};
use std::path::Path;
use std::process::ExitCode;
use std::time::Duration;

use notation::format::{Edit, apply, edits, formatted};
use similar::TextDiff;

use super::files;
use super::output::{complain, finish, tell, visible, visible_line};
use super::paint::{Ink, Paint};
use super::{CLEAN, FAILED, Layout, PROBLEMS};

/// Runs the command.
pub fn run(args: &Layout) -> ExitCode {
    let stdin = Path::new("-");
    if args.paths.iter().any(|path| path == stdin) {
        return match args.paths.as_slice() {
            [_] => standard_input(args.check),
            _ => failed("- is the text on standard input and stands alone: name the designs, or - and nothing else."),
        };
    }
    let designs = match files::designs(&args.paths) {
        Ok(designs) => designs,
        Err(why) => return failed(&why),
    };
    let paint = Paint::stdout();
    let (mut out, mut changed, mut could_not) = (String::new(), 0, 0);
    for path in &designs {
        let done = files::text(path).and_then(|text| {
            let edits = edits(&text);
            if edits.is_empty() {
                return Ok(false);
            }
            let laid = apply(&text, &edits);
            if args.check {
                out.push_str(&shown(&path.to_string_lossy(), &text, &laid, paint));
            } else {
                files::write(path, laid.as_bytes())?;
                let name = paint.ink(Ink::Strong, &visible(&path.to_string_lossy()));
                out.push_str(&format!("{name}: {}\n", what_changed(&text, &edits)));
            }
            Ok(true)
        });
        match done {
            Ok(true) => changed += 1,
            Ok(false) => {}
            Err(why) => {
                complain(&why);
                could_not += 1;
            }
        }
    }
    out.push_str(&summary(designs.len() - could_not, changed, could_not, args.check));
    let code = match (could_not, changed) {
        (0, 1..) if args.check => PROBLEMS,
        (0, _) => CLEAN,
        _ => FAILED,
    };
    finish(&out, code)
}

fn failed(why: &str) -> ExitCode {
    complain(why);
    ExitCode::from(FAILED)
}

/// `5 designs: 2 laid out anew, 3 stay as they are; 1 file could not be laid out`
fn summary(all: usize, changed: usize, could_not: usize, check: bool) -> String {
    let same = all - changed;
    let designs = format!("{all} design{}", if all == 1 { "" } else { "s" });
    let anew = if check { "would be laid out anew" } else { "laid out anew" };
    let stay = if same == 1 { "stays as it is" } else { "stay as they are" };
    let done = match (changed, same) {
        (0, 0) => "no design".to_string(),
        (0, 1) => format!("{designs}: {stay}"),
        (0, _) => format!("{designs}: all {stay}"),
        (_, 0) => format!("{designs}: {changed} {anew}"),
        _ => format!("{designs}: {changed} {anew}, {same} {stay}"),
    };
    match could_not {
        0 => done + "\n",
        1 => format!("{done}; 1 file could not be laid out\n"),
        n => format!("{done}; {n} files could not be laid out\n"),
    }
}

fn standard_input(check: bool) -> ExitCode {
    let mut bytes = Vec::new();
    let mut input = std::io::stdin();
    if input.is_terminal() {
        tell("stagewright reads a design from the keyboard: Ctrl-D ends it.");
    }
    let text = input
        .read_to_end(&mut bytes)
        .map_err(|e| format!("standard input cannot be read: {}", files::reason(&e)))
        .and_then(|_| files::utf8(bytes, "standard input"));
    let text = match text {
        Ok(text) => text,
        Err(why) => return failed(&why),
    };
    let laid = formatted(&text);
    if !check {
        return finish(&laid, CLEAN);
    }
    if laid == text {
        return ExitCode::from(CLEAN);
    }
    finish(&shown("standard input", &text, &laid, Paint::stdout()), PROBLEMS)
}

/// Lines without their ends: those are told apart in words.
fn plain(text: &str) -> String {
    text.replace("\r\n", "\n")
}

/// `12 lines`
fn what_changed(text: &str, edits: &[Edit]) -> String {
    let ends = ["\n", "\r\n"];
    if edits.iter().all(|edit| ends.contains(&&text[edit.range.clone()]) && ends.contains(&&*edit.text)) {
        return "line ends".into();
    }
    let (mut at, mut line, mut last, mut count) = (0, 0, None, 0);
    for edit in edits {
        line += text[at..edit.range.start].matches('\n').count();
        let more = text[edit.range.clone()].matches('\n').count();
        count += more.max(1) - usize::from(last == Some(line));
        line += more;
        (at, last) = (edit.range.end, Some(line));
    }
    if count == 1 { "1 line".into() } else { format!("{count} lines") }
}

/// The difference, with a line of context around each change.
fn shown(name: &str, text: &str, laid: &str, paint: Paint) -> String {
    let (old, new) = (plain(text), plain(laid));
    let mut out = String::new();
    let name = &*visible(name);
    if old == new {
        let now = if laid.contains("\r\n") { "CRLF" } else { "LF" };
        return format!("{}: every line would end with {now}\n", paint.ink(Ink::Strong, name));
    }
    // Of long texts in which every line changes the least difference would be long in coming; any will do then.
    let diff = TextDiff::configure().timeout(Duration::from_secs(1)).diff_lines(&old, &new);
    let unified = diff.unified_diff().context_radius(1).header(name, &format!("{name}, laid out")).to_string();
    for line in unified.split_inclusive('\n') {
        let (body, end) = line.strip_suffix('\n').map_or((line, ""), |body| (body, "\n"));
        let ink = match body.as_bytes() {
            [b'-', b'-', b'-', ..] | [b'+', b'+', b'+', ..] => Some(Ink::Strong),
            [b'@', ..] => Some(Ink::Faint),
            [b'-', ..] => Some(Ink::Error),
            [b'+', ..] => Some(Ink::Hint),
            _ => None,
        };
        let body = visible_line(body);
        out.push_str(&ink.map_or(body.to_string(), |ink| paint.ink(ink, &body)));
        out.push_str(end);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_summary_counts_what_was_done() {
        assert_eq!(summary(5, 2, 0, false), "5 designs: 2 laid out anew, 3 stay as they are\n");
        assert_eq!(summary(5, 5, 0, true), "5 designs: 5 would be laid out anew\n");
        assert_eq!(summary(1, 0, 0, false), "1 design: stays as it is\n");
        assert_eq!(summary(1, 0, 2, false), "1 design: stays as it is; 2 files could not be laid out\n");
        assert_eq!(summary(0, 0, 1, false), "no design; 1 file could not be laid out\n");
    }

    #[test]
    fn what_changed_is_counted_in_lines() {
        let count = |text: &str| what_changed(text, &edits(text));
        assert_eq!(count("let\n a=1\n b=2\n"), "2 lines");
        assert_eq!(count("let\r\n  a = 1\n"), "line ends");
        assert_eq!(count("let"), "1 line");
        assert_eq!(count("let\n  a = 1\n\n\n\n  b = 2\n"), "2 lines");
    }
}
