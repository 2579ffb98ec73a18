//! How a command prints and how it ends: nothing is lost without a word, and no character steers the terminal.

use std::borrow::Cow;
use std::io::{ErrorKind, Write};
use std::process::ExitCode;

use unicode_width::UnicodeWidthStr;

use super::FAILED;
use super::files::reason;

/// Prints all of it and ends with `code`; where it cannot be written, with a message and [`FAILED`]. A reader that has had enough
/// (`| head`) is no fault.
pub fn finish(out: &str, code: u8) -> ExitCode {
    let mut stdout = std::io::stdout().lock();
    ExitCode::from(match stdout.write_all(out.as_bytes()).and_then(|()| stdout.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            complain(&format!("the output could not be written: {}", reason(&error)));
            FAILED
        }
        _ => code,
    })
}

/// Says on standard error what went wrong.
pub fn complain(why: &str) {
    tell(&format!("stagewright: {why}"));
}

/// Prints a line on standard error. There is nobody left to tell if that cannot be written either.
pub fn tell(line: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{}", visible(line));
}

/// A text without what a terminal would obey instead of show: control characters as their pictures (`␀`), what turns the direction of
/// writing or has no shape by its number (`U+202E`).
pub fn visible(text: &str) -> Cow<'_, str> {
    shown(text, |_| false)
}

/// The same of a line of a file, whose tabs stay: they are part of its layout.
pub fn visible_line(line: &str) -> Cow<'_, str> {
    shown(line, |c| c == '\t')
}

fn shown(text: &str, stays: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(|c| hidden(c) && !stays(c)) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        match c {
            c if !hidden(c) || stays(c) => out.push(c),
            '\u{7f}' => out.push('\u{2421}'),
            // The pictures stand in the order of what they picture.
            '\0'..='\u{1f}' => out.extend(char::from_u32(0x2400 + c as u32)),
            c => out.push_str(&format!("U+{:04X}", c as u32)),
        }
    }
    Cow::Owned(out)
}

/// JSON in which such characters are spelt as escapes (`\u202e`): a reader of it gets them back, a terminal does not obey them.
pub fn escaped(json: &str) -> Cow<'_, str> {
    let bare = |c: char| c >= '\u{7f}' && hidden(c);
    if !json.contains(bare) {
        return Cow::Borrowed(json);
    }
    let mut out = String::with_capacity(json.len() + 16);
    for c in json.chars() {
        if bare(c) {
            let mut units = [0; 2];
            out.extend(c.encode_utf16(&mut units).iter().map(|unit| format!("\\u{unit:04x}")));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// Whether a terminal obeys the character or shows nothing of it. The two joiners of letters, U+200C and U+200D, are part of how some
/// languages and pictures are written, and stay.
fn hidden(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// Blanks as wide as the text on a terminal, its tabs kept, so that what comes behind stands under what comes behind the text.
pub fn blanks(text: &str) -> String {
    visible_line(text).split('\t').map(|piece| " ".repeat(piece.width())).collect::<Vec<_>>().join("\t")
}

/// How many columns of a terminal the text takes; at least one.
pub fn width(text: &str) -> usize {
    visible_line(text).width().max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_a_terminal_is_spelt_out() {
        assert_eq!(visible("a\0\u{1b}[2J\t\u{7f}\u{9b}\n"), "a␀␛[2J␉␡U+009B␊");
        assert_eq!(visible("\u{202e}\u{2067}\u{200b}\u{e0041}"), "U+202EU+2067U+200BU+E0041");
        assert_eq!(visible_line("\ta\r"), "\ta␍");
    }

    #[test]
    fn json_holds_no_character_that_steers_a_terminal() {
        let text = "a\u{202e}b\u{e0041}\u{9b}\u{7f}\n";
        let json = escaped(&serde_json::json!(text).to_string()).into_owned();
        assert_eq!(json, r#""a\u202eb\udb40\udc41\u009b\u007f\n""#);
        assert_eq!(serde_json::from_str::<String>(&json).unwrap(), text);
    }

    #[test]
    fn what_is_text_stays() {
        for text in ["10 kΩ ± 1 % √Hz", "鐘楼", "👩\u{200d}🔧", "e\u{301}", ""] {
            assert!(matches!(visible(text), Cow::Borrowed(_)), "{text}");
        }
    }

    #[test]
    fn columns_count_as_a_terminal_does() {
        assert_eq!(blanks("\ta鐘\u{0}\tb"), "\t    \t ");
        assert_eq!((width("鐘楼"), width(""), width("\u{202e}")), (4, 1, 6));
    }
}
