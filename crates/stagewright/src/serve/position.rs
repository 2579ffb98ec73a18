//! The one border between bytes, in which the program thinks, and the lines and columns of the protocol.

use std::ops::Range;
use std::sync::Arc;

/// What a column counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Encoding {
    /// Bytes.
    Utf8,
    /// Sixteen-bit units: what the protocol takes if nothing was agreed.
    #[default]
    Utf16,
    /// Characters (code points).
    Utf32,
}

impl Encoding {
    /// The first of the client's list, which is in its order of preference, that is known here.
    pub fn choose<'a>(offered: impl IntoIterator<Item = &'a str>) -> Self {
        offered
            .into_iter()
            .find_map(|name| match name {
                "utf-8" => Some(Self::Utf8),
                "utf-16" => Some(Self::Utf16),
                "utf-32" => Some(Self::Utf32),
                _ => None,
            })
            .unwrap_or_default()
    }

    /// As the protocol writes it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Utf8 => "utf-8",
            Self::Utf16 => "utf-16",
            Self::Utf32 => "utf-32",
        }
    }

    fn units(self, c: char) -> usize {
        match self {
            Self::Utf8 => c.len_utf8(),
            Self::Utf16 => c.len_utf16(),
            Self::Utf32 => 1,
        }
    }
}

/// A line and a column, both from 0, the column in units of the agreed [`Encoding`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
pub struct Position {
    /// The line.
    pub line: u32,
    /// The column.
    pub character: u32,
}

/// From a position up to, and without, another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Span {
    /// Where it begins.
    pub start: Position,
    /// Where it ends.
    pub end: Position,
}

impl Span {
    /// Whether both ends stand in one line.
    pub fn in_a_line(&self) -> bool {
        self.start.line == self.end.line
    }
}

/// A text with the places of its lines. Cheap to clone.
///
/// As the protocol has it, a line ends with LF, CRLF or a lone CR.
#[derive(Clone, Debug)]
pub struct Text {
    text: Arc<str>,
    starts: Arc<[u32]>,
    encoding: Encoding,
}

impl Text {
    /// Finds the lines of a text.
    pub fn new(text: impl Into<Arc<str>>, encoding: Encoding) -> Self {
        let text = text.into();
        let bytes = text.as_bytes();
        let mut starts = vec![0];
        for at in memchr::memchr2_iter(b'\n', b'\r', bytes) {
            // The CR of a CRLF ends nothing: its LF does.
            if bytes[at] == b'\n' || bytes.get(at + 1) != Some(&b'\n') {
                starts.push(at as u32 + 1);
            }
        }
        Self { text, starts: starts.into(), encoding }
    }

    /// How columns are counted.
    pub fn encoding(&self) -> Encoding {
        self.encoding
    }

    /// The text itself.
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// How many lines it has; at least one.
    pub fn lines(&self) -> usize {
        self.starts.len()
    }

    /// The bytes of a line without its end, or of the empty place behind the text if there is no such line.
    pub fn line(&self, line: u32) -> Range<usize> {
        let Some(&start) = self.starts.get(line as usize) else {
            return self.text.len()..self.text.len();
        };
        let start = start as usize;
        let end = match self.starts.get(line as usize + 1) {
            Some(&next) => {
                let bytes = self.text.as_bytes();
                let next = next as usize;
                if next >= start + 2 && &bytes[next - 2..next] == b"\r\n" { next - 2 } else { next - 1 }
            }
            None => self.text.len(),
        };
        start..end
    }

    /// The line that a byte stands in; a byte behind the text stands in the last.
    pub fn line_of(&self, offset: usize) -> u32 {
        (self.starts.partition_point(|&start| start as usize <= offset) - 1) as u32
    }

    /// The byte of a position. A column behind the end of its line means the end of the line, a line behind the last means the end
    /// of the text, a column inside a character means the character's start.
    pub fn offset(&self, position: Position) -> usize {
        let line = self.line(position.line);
        let mut left = position.character as usize;
        let mut offset = line.start;
        for c in self.text[line].chars() {
            let units = self.encoding.units(c);
            if units > left {
                break;
            }
            left -= units;
            offset += c.len_utf8();
        }
        offset
    }

    /// The position of a byte. A byte inside a character means its start, one inside or behind a line's end means the end of the line.
    pub fn position(&self, offset: usize) -> Position {
        let line = self.line_of(offset.min(self.text.len()));
        let bytes = self.line(line);
        let mut end = offset.clamp(bytes.start, bytes.end);
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        Position { line, character: self.units(bytes.start..end) }
    }

    /// How many units of the agreed encoding a piece of a line takes.
    pub fn units(&self, bytes: Range<usize>) -> u32 {
        let piece = &self.text[bytes];
        let units = if piece.is_ascii() { piece.len() } else { piece.chars().map(|c| self.encoding.units(c)).sum() };
        units as u32
    }

    /// Both ends of a range of bytes.
    pub fn span(&self, range: &Range<usize>) -> Span {
        Span { start: self.position(range.start), end: self.position(range.end.max(range.start)) }
    }

    /// The bytes of a span; one that runs backwards is read forwards.
    pub fn range(&self, span: Span) -> Range<usize> {
        let (a, b) = (self.offset(span.start), self.offset(span.end));
        a.min(b)..a.max(b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(line: u32, character: u32) -> Position {
        Position { line, character }
    }

    fn read(text: &str, encoding: Encoding) -> Text {
        Text::new(text, encoding)
    }

    #[test]
    fn the_trades_characters_count_as_each_encoding_counts() {
        // Ω is the ohm sign of Greek, µ the micro sign, 🎚 takes two units of sixteen bits.
        let line = "R1 10 kΩ √ ° µ 🎚 end";
        for (encoding, column) in [(Encoding::Utf8, 25), (Encoding::Utf16, 18), (Encoding::Utf32, 17)] {
            let text = read(line, encoding);
            let end = line.find("end").unwrap();
            assert_eq!(text.position(end), at(0, column), "{encoding:?}");
            assert_eq!(text.offset(at(0, column)), end, "{encoding:?}");
        }
    }

    #[test]
    fn a_column_inside_a_character_means_its_start() {
        let text = read("a🎚b", Encoding::Utf16);
        assert_eq!(text.offset(at(0, 2)), 1);
        let text = read("aΩb", Encoding::Utf8);
        assert_eq!(text.offset(at(0, 2)), 1);
        assert_eq!(text.position(2), at(0, 1));
    }

    #[test]
    fn columns_and_lines_past_the_end_are_clamped() {
        let text = read("ab\r\ncd", Encoding::Utf16);
        assert_eq!(text.offset(at(0, 99)), 2);
        assert_eq!(text.offset(at(1, 99)), 6);
        assert_eq!(text.offset(at(99, 0)), 6);
        assert_eq!(text.position(3), at(0, 2));
        assert_eq!(text.position(99), at(1, 2));
    }

    #[test]
    fn all_three_line_ends_count() {
        let text = read("a\nb\r\nc\rd", Encoding::Utf8);
        assert_eq!(text.lines(), 4);
        let lines: Vec<_> = (0..4).map(|i| &text.as_str()[text.line(i)]).collect();
        assert_eq!(lines, ["a", "b", "c", "d"]);
        assert_eq!(text.line(4), 8..8);
    }

    #[test]
    fn the_clients_preference_decides_and_sixteen_bits_are_the_default() {
        assert_eq!(Encoding::choose(["utf-32", "utf-8"]), Encoding::Utf32);
        assert_eq!(Encoding::choose(["utf-7", "utf-8", "utf-16"]), Encoding::Utf8);
        assert_eq!(Encoding::choose([]), Encoding::Utf16);
    }

    fn texts() -> impl Strategy<Value = String> {
        let piece = prop_oneof![
            Just("\n"),
            Just("\r\n"),
            Just("\r"),
            Just("Ω"),
            Just("µ"),
            Just("√"),
            Just("°"),
            Just("🎚"),
            Just("𝛀"),
            Just(" "),
            Just("R1 10k"),
            Just("e\u{301}"),
        ];
        proptest::collection::vec(piece, 0..40).prop_map(|pieces| pieces.concat())
    }

    fn encodings() -> impl Strategy<Value = Encoding> {
        prop_oneof![Just(Encoding::Utf8), Just(Encoding::Utf16), Just(Encoding::Utf32)]
    }

    proptest! {
        #[test]
        fn there_and_back_is_the_same_byte(text in texts(), encoding in encodings()) {
            let read = read(&text, encoding);
            for (offset, _) in text.char_indices().chain([(text.len(), ' ')]) {
                // Between the CR and the LF of one line end there is no position of its own.
                let inside_end = offset > 0 && text[..offset].ends_with('\r') && text[offset..].starts_with('\n');
                if !inside_end {
                    prop_assert_eq!(read.offset(read.position(offset)), offset);
                }
            }
        }

        #[test]
        fn no_position_is_out_of_bounds(text in texts(), encoding in encodings(), line in 0u32..60, character in 0u32..60) {
            let read = read(&text, encoding);
            let offset = read.offset(at(line, character));
            prop_assert!(text.is_char_boundary(offset));
            prop_assert!(read.position(offset) <= at(line, character));
        }

        #[test]
        fn positions_grow_with_bytes(text in texts(), encoding in encodings()) {
            let read = read(&text, encoding);
            for offset in 0..text.len() {
                prop_assert!(read.position(offset) <= read.position(offset + 1));
            }
        }
    }
}
