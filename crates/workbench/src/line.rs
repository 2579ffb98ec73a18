//! Where the line of a byte begins and ends, and what it says.

/// The first byte of a byte's line, behind a mark of the byte order.
pub(crate) fn line_start(text: &str, at: usize) -> usize {
    let mark = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    text[..at].rfind('\n').map_or(mark.min(at), |n| n + 1)
}

/// The end of a byte's line, without what ends it: of a byte between the two of a line's end it lies in front of both.
pub(crate) fn line_end(text: &str, at: usize) -> usize {
    let end = text.as_bytes()[at..].iter().position(|b| *b == b'\n').map_or(text.len(), |n| at + n);
    if text[..end].ends_with('\r') { end - 1 } else { end }
}

/// What lines say, in one: no comments, and one blank where there are some.
pub(crate) fn said(lines: &str) -> String {
    lines.lines().flat_map(|line| notation::code_of(line).split_whitespace()).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_begin_behind_a_mark_and_end_before_their_end() {
        let text = "\u{feff}ab\r\n c\n\nd";
        let ends: Vec<_> = [0, 3, 4, 7, 8, 10, 11].map(|at| (line_start(text, at), line_end(text, at))).into();
        assert_eq!(ends, [(0, 5), (3, 5), (3, 5), (7, 9), (7, 9), (10, 10), (11, 12)]);
    }

    #[test]
    fn a_comment_begins_behind_quotes() {
        assert_eq!(said("a  \"no # here\" # but here\r\n  -- b # c"), "a \"no # here\" -- b");
    }
}
