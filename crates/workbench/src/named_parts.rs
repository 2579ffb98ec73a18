//! The parts that a label names.

use notation::has_part_shape;

/// A label cut where the name of a part begins and ends: `7.2 Hz with `, `R3`; each piece with whether it has a part's shape.
pub fn named_parts(label: &str) -> Vec<(&str, bool)> {
    let word = |c: char| c.is_alphanumeric() || c == '_' || c == '.';
    let (mut found, mut begun, mut at) = (Vec::new(), 0, 0);
    while at < label.len() {
        let rest = &label[at..];
        let length = rest.find(|c| !word(c)).unwrap_or(rest.len());
        if has_part_shape(&rest[..length]) {
            found.push((&label[begun..at], false));
            found.push((&rest[..length], true));
            begun = at + length;
        }
        at += length;
        at += label[at..].chars().next().map_or(0, char::len_utf8);
    }
    found.push((&label[begun..], false));
    found.retain(|(piece, _)| !piece.is_empty());
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_is_cut_at_the_parts_that_it_names() {
        for (label, cut) in [
            ("7.2 Hz with R3", vec![("7.2 Hz with ", false), ("R3", true)]),
            (
                "6.0 … 34.3 dB over VR1, VR2",
                vec![("6.0 … 34.3 dB over ", false), ("VR1", true), (", ", false), ("VR2", true)],
            ),
            (
                "0.11 dB at 100 Hz, left.VR1 0 %",
                vec![("0.11 dB at 100 Hz, ", false), ("left.VR1", true), (" 0 %", false)],
            ),
            ("6.0 dB · Zin 10 MΩ", vec![("6.0 dB · Zin 10 MΩ", false)]),
            ("", vec![]),
        ] {
            assert_eq!(named_parts(label), cut);
        }
    }
}
