//! The lines of a file, and how one leaves off for the next to go on.

use std::ops::Range;

use crate::token::{TokenKind, tokens};

/// What a line is, blanks in front and a comment behind left aside.
pub(crate) struct Line<'t> {
    /// First byte of the line.
    pub start: usize,
    /// First byte that is no blank.
    pub first: usize,
    /// The text from there, without comment and blanks behind.
    pub code: &'t str,
    /// The comment, or an empty range.
    pub comment: Range<usize>,
    /// A carriage return that ends no line.
    pub lone_return: Option<usize>,
    pub number: u32,
}

/// The blanks of a line.
pub fn is_blank(c: char) -> bool {
    matches!(c, ' ' | '\t' | '\u{00A0}' | '\u{2009}' | '\u{202F}')
}

/// Where the code of a line ends and its comment begins: at a `#` that stands in no quoted text.
fn comment_start(line: &str) -> usize {
    let mut quoted = false;
    for (i, b) in line.bytes().enumerate() {
        match b {
            b'"' => quoted = !quoted,
            b'#' if !quoted => return i,
            // A quoted text ends with its line, and a lone return ends it too.
            b'\r' | b'\n' => quoted = false,
            _ => {}
        }
    }
    line.len()
}

/// A line without its comment.
///
/// ```
/// assert_eq!(notation::code_of("accept \"hum # 1\"  # for now"), "accept \"hum # 1\"  ");
/// ```
pub fn code_of(line: &str) -> &str {
    &line[..comment_start(line)]
}

pub(crate) fn lines(text: &str) -> impl Iterator<Item = Line<'_>> {
    let mut start = if text.starts_with('\u{FEFF}') { '\u{FEFF}'.len_utf8() } else { 0 };
    let mut number = 0;
    std::iter::from_fn(move || {
        if start >= text.len() {
            return None;
        }
        let end = text[start..].find('\n').map_or(text.len(), |n| start + n);
        let line = &text[start..end];
        // Without its line feed a carriage return at the very end of the file ends no line either.
        let line = if end < text.len() { line.strip_suffix('\r').unwrap_or(line) } else { line };
        let trimmed = line.trim_start_matches(is_blank);
        let first = start + line.len() - trimmed.len();
        let cut = comment_start(trimmed);
        let code = trimmed[..cut].trim_end_matches(|c| is_blank(c) || c == '\r');
        let found = Line {
            start,
            first,
            code,
            comment: first + cut..start + line.len(),
            lone_return: line.find('\r').map(|at| start + at),
            number,
        };
        start = end + 1;
        number += 1;
        Some(found)
    })
}

/// Whether a line's code continues an entry: it begins with `--`, `||` or `,`, or with what is pasted for them, or is one of them
/// half typed.
pub(crate) fn is_continuation(code: &str) -> bool {
    matches!(code, "-" | "|")
        || code.starts_with("--")
        || code.starts_with("||")
        || code.starts_with([',', '∥', '–', '—'])
}

/// Whether the last step of a line begins with a part: `a -- R1 10k`; a link that nothing follows yet counts as well.
pub(crate) fn leaves_at_part(code: &str) -> bool {
    let mut begins: Option<TokenKind> = None;
    let mut fresh = true;
    for t in tokens(code) {
        match t.kind {
            TokenKind::Blank | TokenKind::Comment | TokenKind::LineEnd | TokenKind::LoneReturn => {}
            TokenKind::Link | TokenKind::Parallel => {
                fresh = true;
                begins = None;
            }
            // Behind a `:` stand terminals, and those are continued by `,`.
            TokenKind::Colon => {
                fresh = false;
                begins = Some(t.kind);
            }
            kind if fresh => {
                fresh = false;
                let class = kind == TokenKind::Name && crate::part::is_class_letters(&code[t.span.range()]);
                begins = Some(if class { TokenKind::Part } else { kind });
            }
            _ => {}
        }
    }
    matches!(begins, None | Some(TokenKind::Part))
}

pub(crate) fn has_link(code: &str) -> bool {
    code.contains("--")
}

pub(crate) fn has_colon_first(code: &str) -> bool {
    match (code.find(':'), code.find("--")) {
        (Some(colon), Some(link)) => colon < link,
        (colon, _) => colon.is_some(),
    }
}
