//! `explain`: the manual's page of a word, or the contents.

use std::process::ExitCode;

use manual::{Kind, Page};

use super::paint::{Ink, Paint};
use super::{CLEAN, Explain, FAILED, complain, finish};

/// Columns of running text: what a terminal of the usual width shows.
const WIDTH: usize = 80;

/// Runs the command.
pub fn run(args: &Explain) -> ExitCode {
    let word = args.words.join(" ");
    let paint = Paint::stdout();
    if word.trim().is_empty() {
        return finish(&contents(paint), CLEAN);
    }
    match manual::find(&word) {
        Some(page) => finish(&page_text(page, paint), CLEAN),
        None => {
            complain(&not_found(&word));
            ExitCode::from(FAILED)
        }
    }
}

/// What there is to say about a word without a page.
fn not_found(word: &str) -> String {
    let way = "`stagewright explain` without a word lists the pages";
    match &manual::nearest(word)[..] {
        [] => format!("the manual has no page on {word}; {way}."),
        near => format!("the manual has no page on {word}: did you mean {}? {way}.", near.join(", ")),
    }
}

/// The pages' titles by kind.
fn contents(paint: Paint) -> String {
    let mut out = String::from("The manual: stagewright explain WORD\n");
    for kind in Kind::ALL {
        out.push_str(&format!("\n{}\n", paint.ink(Ink::Strong, kind.name())));
        let mut titles: Vec<&str> = manual::pages().iter().filter(|p| p.kind == kind).map(|p| p.title).collect();
        titles.sort_by_key(|t| (t.starts_with(char::is_alphanumeric), t.to_lowercase()));
        // A title of several words stays together.
        let list: Vec<String> = titles.iter().map(|t| t.replace(' ', "\u{a0}")).collect();
        out.push_str(&wrap(&list.join(", "), "  ", "  ").replace('\u{a0}', " "));
    }
    out
}

/// A page as a terminal shows it.
fn page_text(page: &Page, paint: Paint) -> String {
    let mut out = paint.ink(Ink::Strong, page.title) + "\n";
    if !page.also.is_empty() {
        out.push_str(&paint.ink(Ink::Faint, &wrap(&format!("also: {}", page.also.join(", ")), "", "  ")));
    }
    out.push('\n');
    let mut code = false;
    let mut paragraph = String::new();
    for line in page.text.lines().chain([""]) {
        if let Some(info) = line.strip_prefix("```") {
            code = !code;
            if code && let Some(said) = about(info) {
                out.push_str(&paint.ink(Ink::Faint, &format!("    # {said}\n")));
            }
        } else if code {
            // Markers are for those who check the page, comments for those who read it.
            if !is_marker(line) {
                let line = if line.is_empty() { String::new() } else { format!("    {line}") };
                out.push_str(&paint.ink(Ink::Hint, &line));
                out.push('\n');
            }
        } else if line.is_empty() {
            if !paragraph.is_empty() {
                out.push_str(&in_ink(&wrap(&paragraph, "", ""), paint));
            }
            if !out.ends_with("\n\n") {
                out.push('\n');
            }
            paragraph.clear();
        } else {
            if !paragraph.is_empty() {
                paragraph.push(' ');
            }
            paragraph.push_str(line);
        }
    }
    let see = wrap(&format!("see also: {}", page.see_also.join(", ")), "", "  ");
    out.push_str(&paint.ink(Ink::Faint, &see));
    out
}

/// What a block is there for, where that is not plain.
fn about(info: &str) -> Option<String> {
    let (_, what) = info.split_once("stage ")?;
    match what.split_once(": ")? {
        ("broken", ids) => Some(format!("what {ids} speaks of")),
        ("file", name) => Some(name.to_string()),
        _ => None,
    }
}

/// A line that tells a test what to read, in an example.
fn is_marker(line: &str) -> bool {
    ["# read: ", "# later: ", "# expect"].iter().any(|m| line.starts_with(m))
}

/// Code in the text in its own ink; without ink the marks stay, since a word of the notation may be any word.
fn in_ink(text: &str, paint: Paint) -> String {
    if !paint.colours() {
        return text.to_string();
    }
    let pieces = text.split('`').enumerate();
    pieces.map(|(i, piece)| if i % 2 == 1 { paint.ink(Ink::Hint, piece) } else { piece.to_string() }).collect()
}

/// A paragraph in lines of at most [`WIDTH`] columns, the first behind `first`, the others behind `rest`. A word that is longer
/// has a line of its own.
fn wrap(text: &str, first: &str, rest: &str) -> String {
    let mut out = String::new();
    let mut line = first.to_string();
    let mut empty = true;
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            out.push_str(line.trim_end());
            out.push('\n');
            line = rest.to_string();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_fits_a_terminal_and_shows_no_marks_of_its_file() {
        for page in manual::pages() {
            let text = page_text(page, Paint::none());
            assert!(!text.contains("```") && !text.contains("# expect"), "{text}");
            assert!(text.starts_with(page.title) && text.contains("see also: "), "{text}");
            let long = text.lines().filter(|l| !l.starts_with("    ") && l.chars().count() > WIDTH);
            assert_eq!(long.collect::<Vec<_>>(), Vec::<&str>::new());
        }
    }

    #[test]
    fn the_contents_name_every_page() {
        let contents = contents(Paint::none());
        for page in manual::pages() {
            assert!(contents.contains(page.title), "{}", page.title);
        }
        assert!(contents.lines().all(|l| l.chars().count() <= WIDTH), "{contents}");
    }

    #[test]
    fn a_word_without_a_page_gets_its_neighbours() {
        assert_eq!(
            not_found("haedroom"),
            "the manual has no page on haedroom: did you mean headroom? `stagewright explain` without a word lists the pages."
        );
        assert_eq!(
            not_found("xyzzyq"),
            "the manual has no page on xyzzyq; `stagewright explain` without a word lists the pages."
        );
    }
}
