//! The names of parts: one or two capitals, a number, at most one small letter, perhaps behind the name of a copy.

use crate::tree::{PartName, Span};

/// `true` for a name whose last member has the shape that is kept for parts: `R12`, `VR1a`, `cold.R1`.
pub fn has_part_shape(text: &str) -> bool {
    parts_of(text).is_some_and(|(_, _, number, _)| number.is_some())
}

/// Class letters alone: `R`, `VR` … as while the number is being typed.
pub(crate) fn is_class_letters(text: &str) -> bool {
    matches!(text, "R" | "VR" | "C" | "L" | "U" | "SW" | "D" | "Q" | "T")
}

/// Prefix length with its dot, class letters, digits, unit letter.
fn parts_of(text: &str) -> Option<(usize, &str, Option<&str>, Option<char>)> {
    let prefix = text.rfind('.').map_or(0, |dot| dot + 1);
    let own = &text[prefix..];
    let capitals = own.bytes().take_while(u8::is_ascii_uppercase).count();
    if !(1..=2).contains(&capitals) {
        return None;
    }
    let digits = own[capitals..].bytes().take_while(u8::is_ascii_digit).count();
    let tail = &own[capitals + digits..];
    let unit = match tail.as_bytes() {
        [] => None,
        [letter] if letter.is_ascii_lowercase() && digits > 0 => Some(*letter as char),
        _ => return None,
    };
    let number = (digits > 0).then(|| &own[capitals..capitals + digits]);
    Some((prefix, &own[..capitals], number, unit))
}

impl PartName {
    /// Reads a part's name; `None` if the text has another shape. Class letters alone (`R`) are a name without a number.
    ///
    /// A number of more than nine digits is kept in the text and left out of `number`.
    ///
    /// ```
    /// use notation::tree::PartName;
    ///
    /// let name = PartName::parse("cold.VR1a").unwrap();
    /// assert_eq!((&*name.class, name.number, name.unit, name.prefix), ("VR", Some(1), Some('a'), 5));
    /// assert!(PartName::parse("gnd").is_none());
    /// ```
    pub fn parse(text: &str) -> Option<PartName> {
        PartName::parse_at(text, Span::new(0, text.len()))
    }

    /// Reads a part's name that stands at a place.
    pub fn parse_at(text: &str, span: Span) -> Option<PartName> {
        let (prefix, class, number, unit) = parts_of(text)?;
        Some(PartName {
            text: text.into(),
            prefix: prefix as u32,
            class: class.into(),
            number: number.filter(|digits| digits.len() <= 9).and_then(|digits| digits.parse().ok()),
            unit,
            span,
        })
    }

    /// The name of the device that the part is a unit of: `U1` of `U1a`, `cold.VR1` of `cold.VR1b`.
    pub fn device(&self) -> &str {
        match self.unit {
            Some(_) => &self.text[..self.text.len() - 1],
            None => &self.text,
        }
    }
}

/// The device that a part of this name is a unit of.
///
/// ```
/// assert_eq!(notation::device_of("cold.VR1b"), "cold.VR1");
/// assert_eq!(notation::device_of("R3"), "R3");
/// ```
pub fn device_of(part: &str) -> &str {
    let device = part.strip_suffix(|c: char| c.is_ascii_lowercase()).unwrap_or(part);
    if device.ends_with(|c: char| c.is_ascii_digit()) { device } else { part }
}

/// The number behind the highest that parts of a class have among these names, whatever copy they stand in.
///
/// ```
/// assert_eq!(notation::next_free(["R3", "left.R12", "R7a", "C40", "gnd"], "R"), 13);
/// assert_eq!(notation::next_free([], "R"), 1);
/// ```
pub fn next_free<'a>(names: impl IntoIterator<Item = &'a str>, class: &str) -> u32 {
    let number = |name: &str| PartName::parse(name).filter(|name| *name.class == *class)?.number;
    names.into_iter().filter_map(number).max().unwrap_or(0).saturating_add(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shape_is_kept_whether_or_not_the_class_is_known() {
        for part in ["R1", "VR12a", "SW2", "U1a", "TP1", "K1", "ch2.R1", "a.b.C3"] {
            assert!(has_part_shape(part), "{part}");
        }
        for other in ["r1", "R", "R1ab", "R1A", "ABC1", "1R", "R1.x", "R_1", "gnd", "", "."] {
            assert!(!has_part_shape(other), "{other}");
        }
    }

    #[test]
    fn a_number_beyond_reason_keeps_its_text() {
        let name = PartName::parse("R99999999999999999999").unwrap();
        assert_eq!(name.number, None);
        assert_eq!(&*name.text, "R99999999999999999999");
    }
}
