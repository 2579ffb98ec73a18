//! The words of the notation: which are reserved, which are known at their place, and the closed lists of phrases, attributes and terminals.

use crate::part::has_part_shape;
use crate::tree::BlockKind;

/// The words that open a block.
pub const HEADING_WORDS: &[(&str, BlockKind)] = &[
    ("design", BlockKind::Design),
    ("let", BlockKind::Let),
    ("stage", BlockKind::Stage),
    ("use", BlockKind::Use),
    ("include", BlockKind::Include),
    ("datasheet", BlockKind::Datasheet),
    ("assume", BlockKind::Assume),
    ("formula", BlockKind::Formula),
    ("require", BlockKind::Require),
];

/// Words that no name may be, beside the heading words, the unit symbols and the series.
pub const CLAUSE_WORDS: &[&str] =
    &["all", "above", "against", "at", "below", "from", "of", "on", "over", "when", "within"];

/// The first words of the entries of `design`.
pub const DESIGN_WORDS: &[&str] = &[
    "band",
    "reference",
    "supply",
    "source",
    "tolerance",
    "matched",
    "balanced",
    "setting",
    "trim",
    "temperature",
    "accept",
];

/// Classes of part: letters, the trade's word, and whether a part of it needs a value.
pub const CLASSES: &[(&str, &str, bool)] = &[
    ("R", "resistor", true),
    ("VR", "variable resistor", true),
    ("C", "capacitor", true),
    ("L", "inductor", true),
    ("U", "operational amplifier", false),
    ("SW", "switch", false),
];

/// The class that letters of none were probably meant for: the same letters in another order, or one of them twice.
///
/// ```
/// use notation::word::class_meant;
///
/// assert_eq!(class_meant("RV"), Some("VR"));
/// assert_eq!(class_meant("CC"), Some("C"));
/// assert_eq!(class_meant("D"), None);
/// ```
pub fn class_meant(letters: &str) -> Option<&'static str> {
    let sorted = |word: &str| {
        let mut all = word.as_bytes().to_vec();
        all.sort_unstable();
        all
    };
    let slip = |class: &&str| sorted(class) == sorted(letters) || class.repeat(2) == letters;
    CLASSES.iter().map(|(class, ..)| *class).filter(|class| *class != letters).find(slip)
}

/// Attributes of parts that are words. Tapers with a percentage (`log15`, `revlog20`) belong to them; see [`is_attribute`].
pub const ATTRIBUTES: &[&str] = &[
    "polar",
    "bipolar",
    "film",
    "foil",
    "ceramic",
    "electrolytic",
    "tantalum",
    "mica",
    "polyester",
    "polypropylene",
    "polystyrene",
    "paper",
    "c0g",
    "np0",
    "x5r",
    "x6s",
    "x7r",
    "x7s",
    "x8r",
    "y5v",
    "z5u",
    "carbon",
    "metal",
    "thin",
    "thick",
    "wirewound",
    "air",
    "ferrite",
    "iron",
    "lin",
    "log",
    "revlog",
    "open",
    "closed",
    "external",
    "unfitted",
];

/// What a quantity is of: a phrase's own form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PhraseForm {
    /// `PHRASE of N, …`
    Of,
    /// `PHRASE A -> B`
    FromTo,
}

/// The closed list of quantities, with the form of each.
pub const PHRASES: &[(&str, PhraseForm)] = &[
    ("gain", PhraseForm::FromTo),
    ("transimpedance", PhraseForm::FromTo),
    ("phase", PhraseForm::FromTo),
    ("delay", PhraseForm::FromTo),
    ("low corner", PhraseForm::FromTo),
    ("high corner", PhraseForm::FromTo),
    ("flatness", PhraseForm::FromTo),
    ("impedance", PhraseForm::Of),
    ("input impedance", PhraseForm::Of),
    ("output impedance", PhraseForm::Of),
    ("level", PhraseForm::Of),
    ("clip level", PhraseForm::Of),
    ("headroom", PhraseForm::Of),
    ("noise", PhraseForm::Of),
    ("noise density", PhraseForm::Of),
    ("input noise", PhraseForm::FromTo),
    ("input noise density", PhraseForm::FromTo),
    ("offset", PhraseForm::Of),
    ("dc", PhraseForm::Of),
    ("phase margin", PhraseForm::Of),
    ("gain margin", PhraseForm::Of),
    ("natural frequency", PhraseForm::Of),
    ("q", PhraseForm::Of),
    ("rejection", PhraseForm::FromTo),
    ("balance", PhraseForm::Of),
    ("power", PhraseForm::Of),
    ("voltage", PhraseForm::Of),
    ("current", PhraseForm::Of),
    ("supply current", PhraseForm::Of),
    ("dissipation", PhraseForm::Of),
];

/// The functions of expressions.
pub const FUNCTIONS: &[&str] = &["sqrt", "ln", "log10", "exp", "min", "max", "abs", "Z", "cw", "ccw"];

/// Names that an expression has already: the constant, the Laplace variable, the frequency and the angular frequency.
pub const EXPRESSION_NAMES: &[&str] = &["pi", "s", "f", "w"];

/// The terminals' words of a class of part (the inputs `+` and `-` of an amplifier and the positions of a switch are no words).
pub fn terminal_words(class: &str) -> &'static [&'static str] {
    match class {
        "U" => &["out", "supply"],
        "VR" => &["cw", "wiper", "ccw"],
        "SW" => &["pole"],
        _ => &[],
    }
}

/// `true` for `E3`, `E6`, `E12`, `E24`, `E48`, `E96`, `E192`.
pub fn is_series(text: &str) -> bool {
    matches!(text, "E3" | "E6" | "E12" | "E24" | "E48" | "E96" | "E192")
}

/// `true` for an attribute's word, tapers with a percentage included.
pub fn is_attribute(text: &str) -> bool {
    if ATTRIBUTES.contains(&text) {
        return true;
    }
    // Percent of the whole at half travel: 1 to 49, since 50 is linear.
    let taper = text.strip_prefix("rev").unwrap_or(text);
    let Some(percent) = taper.strip_prefix("log") else { return false };
    !percent.starts_with('0') && percent.len() <= 2 && percent.parse::<u8>().is_ok_and(|p| (1..50).contains(&p))
}

/// The form of a phrase of the closed list, with the list's own text.
pub fn phrase(text: &str) -> Option<(&'static str, PhraseForm)> {
    PHRASES.iter().find(|(p, _)| *p == text).copied()
}

/// The kind of block that a word opens.
pub fn heading_kind(word: &str) -> Option<BlockKind> {
    HEADING_WORDS.iter().find(|(w, _)| *w == word).map(|(_, k)| *k)
}

/// The word that opens a kind of block.
pub fn heading_word(kind: BlockKind) -> &'static str {
    match kind {
        BlockKind::Design => "design",
        BlockKind::Let => "let",
        BlockKind::Stage => "stage",
        BlockKind::Use => "use",
        BlockKind::Include => "include",
        BlockKind::Datasheet => "datasheet",
        BlockKind::Assume => "assume",
        BlockKind::Formula => "formula",
        BlockKind::Require => "require",
    }
}

/// `true` for a unit symbol with or without an SI prefix: `V`, `kHz`, `µF`, `nV/√Hz`, `degC`.
pub fn is_unit_symbol(text: &str) -> bool {
    if matches!(text, "dB" | "dBu" | "dBV" | "deg" | "°" | "degC" | "°C") {
        return true;
    }
    const PREFIXES: &[char] = &['f', 'p', 'n', 'µ', '\u{3bc}', 'u', 'm', 'k', 'M', 'G', 'T'];
    let bare = text.strip_prefix(PREFIXES).unwrap_or(text);
    [text, bare].into_iter().any(|t| {
        matches!(t, "V" | "A" | "W" | "Ω" | "\u{2126}" | "ohm" | "F" | "H" | "Hz" | "s")
            || t.strip_prefix(['V', 'A'])
                .is_some_and(|tail| matches!(tail, "/√Hz" | "/rtHz" | "/us" | "/µs" | "/\u{3bc}s" | "/ms"))
    })
}

/// `true` for a word that is no unit symbol and can hardly be meant as anything else behind a figure: `kOhm`, `ohms`, `khz`, `uf`.
///
/// Two letters without a unit's own shape (`ma`, `mv`) are left to nodes, which are called so too.
pub fn is_unit_alike(text: &str) -> bool {
    const NAMES: &[&str] = &["ohm", "ohms", "hz", "hertz", "farad", "farads", "henry", "henries", "volts", "decibels"];
    const SHORT: &[&str] = &["pf", "nf", "uf", "mfd", "ufd", "uh", "nh", "mh", "db", "dbu", "dbv", "degs"];
    const PREFIXES: &[&str] = &["", "f", "p", "n", "u", "m", "k", "g", "t", "meg", "kilo"];
    // Asked of every name that is read.
    let among = |list: &[&str], t: &str| list.iter().any(|w| w.eq_ignore_ascii_case(t));
    let behind = |prefix: &&str| {
        text.get(..prefix.len()).filter(|head| head.eq_ignore_ascii_case(prefix)).map(|_| &text[prefix.len()..])
    };
    text.len() <= 12
        && (among(SHORT, text) || PREFIXES.iter().filter_map(behind).any(|bare| among(NAMES, bare)))
        && !is_unit_symbol(text)
}

/// `true` for a word that no node, stage, pair or setting may be called: heading words, clause words, unit symbols,
/// series, and everything that has the shape of a part's name.
///
/// ```
/// use notation::is_reserved_name;
///
/// assert!(is_reserved_name("stage") && is_reserved_name("at") && is_reserved_name("ms"));
/// assert!(is_reserved_name("E24") && is_reserved_name("K1"));
/// assert!(!is_reserved_name("polar") && !is_reserved_name("gnd"));
/// ```
pub fn is_reserved_name(text: &str) -> bool {
    reserved_because(text).is_some()
}

/// Why a word may not be a name, in a few words.
pub fn reserved_because(text: &str) -> Option<&'static str> {
    if heading_kind(text).is_some() {
        Some("opens a block")
    } else if CLAUSE_WORDS.contains(&text) {
        Some("is a word of the notation")
    } else if is_unit_symbol(text) {
        Some("is a unit symbol")
    } else if is_series(text) {
        Some("is a preferred series")
    } else if has_part_shape(text) {
        Some("has the shape of a part's name")
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tapers_carry_their_percentage() {
        assert!(is_attribute("log15") && is_attribute("revlog20") && is_attribute("log"));
        assert!(!is_attribute("log0") && !is_attribute("log50") && !is_attribute("log150") && !is_attribute("revlin"));
    }

    #[test]
    fn unit_symbols_with_and_without_prefix() {
        for unit in [
            "V",
            "mV",
            "kHz",
            "µF",
            "\u{3bc}F",
            "ohm",
            "Mohm",
            "kΩ",
            "k\u{2126}",
            "nV/√Hz",
            "pA/rtHz",
            "V/us",
            "ms",
            "dBu",
            "°C",
        ] {
            assert!(is_unit_symbol(unit), "{unit}");
        }
        for word in ["k", "volt", "hz", "mdB", "R", "VV", "m", ""] {
            assert!(!is_unit_symbol(word), "{word}");
        }
        for word in ["kOhm", "Ohm", "ohms", "MOHMS", "megohm", "kilohertz", "khz", "uf", "PF", "dB2"] {
            assert_eq!(is_unit_alike(word), word != "dB2", "{word}");
        }
        for word in ["kohm", "Hz", "uF", "out", "f", "ma", "k", "", "µ", "hot"] {
            assert!(!is_unit_alike(word), "{word}");
        }
    }
}
