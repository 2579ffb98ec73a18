//! What was probably meant by a unit symbol that is not read.

use crate::{Prefix, Unit};

/// Spellings in use, in small letters, and the symbols that they stand for.
const SPELLINGS: &[(&str, &str)] = &[
    ("ohms", "ohm"),
    ("ohm", "ohm"),
    ("r", "ohm"),
    ("farads", "F"),
    ("farad", "F"),
    ("fd", "F"),
    ("f", "F"),
    ("henries", "H"),
    ("henrys", "H"),
    ("henry", "H"),
    ("h", "H"),
    ("hertz", "Hz"),
    ("hz", "Hz"),
    ("cps", "Hz"),
    ("c/s", "Hz"),
    ("seconds", "s"),
    ("second", "s"),
    ("secs", "s"),
    ("sec", "s"),
    ("s", "s"),
    ("volts", "V"),
    ("volt", "V"),
    ("v", "V"),
    ("amperes", "A"),
    ("ampere", "A"),
    ("amps", "A"),
    ("amp", "A"),
    ("a", "A"),
    ("watts", "W"),
    ("watt", "W"),
    ("w", "W"),
    ("v/rthz", "V/rtHz"),
    ("v/√hz", "V/√Hz"),
    ("v/rhz", "V/rtHz"),
    ("v/sqrthz", "V/rtHz"),
    ("a/rthz", "A/rtHz"),
    ("a/√hz", "A/√Hz"),
    ("a/rhz", "A/rtHz"),
    ("a/sqrthz", "A/rtHz"),
    ("v/us", "V/us"),
    ("v/µs", "V/µs"),
    ("v/usec", "V/us"),
    ("v/ms", "V/ms"),
    ("v/s", "V/s"),
];

/// Spellings that take no prefix.
const FIXED: &[(&str, &str)] = &[
    ("db", "dB"),
    ("dbs", "dB"),
    ("decibel", "dB"),
    ("decibels", "dB"),
    ("dbu", "dBu"),
    ("dbv", "dBV"),
    ("degrees", "deg"),
    ("degree", "deg"),
    ("degs", "deg"),
    ("degc", "degC"),
    ("c", "degC"),
    ("celsius", "degC"),
    ("percent", "%"),
    ("pc", "%"),
    ("mfd", "uF"),
    ("mmfd", "pF"),
    ("uuf", "pF"),
];

/// Symbols that the notation reads and that were probably meant by this one, the likeliest first; empty if the text is
/// like none of them.
///
/// `khz` gives `kHz`; `KV` gives `kV`; `mhz`, which could be either, gives `MHz` and `mHz`; `mfd`, the old trade's word
/// for microfarad, gives `uF`. A symbol that is read already gives itself.
pub fn suggestions(text: &str) -> Vec<String> {
    // Longer than any spelling: the bound keeps the search short on any input.
    if text.is_empty() || text.len() > 24 {
        return Vec::new();
    }
    if Unit::read(text).is_some() {
        return vec![text.to_string()];
    }
    let small = text.to_lowercase();
    if let Some((_, symbol)) = FIXED.iter().find(|(spelling, _)| *spelling == small) {
        return vec![symbol.to_string()];
    }
    let mut found: Vec<String> = Vec::new();
    for (spelling, symbol) in SPELLINGS {
        let Some(head) = small.strip_suffix(spelling) else {
            continue;
        };
        let mut letters = head.chars();
        let prefixes: Vec<Prefix> = match (letters.next(), letters.next()) {
            (None, _) => vec![Prefix::Unity],
            (Some(letter), None) => prefixes_like(letter, symbol, text.starts_with('M')),
            _ if head == "meg" => vec![Prefix::Mega],
            _ => Prefix::ALL.into_iter().filter(|prefix| prefix.name() == head && !head.is_empty()).collect(),
        };
        for prefix in prefixes {
            let candidate = format!("{}{symbol}", prefix.symbol(true));
            if Unit::read(&candidate).is_some() && !found.contains(&candidate) {
                found.push(candidate);
            }
        }
    }
    found
}

/// The prefixes that a letter of either case may have meant before this unit.
fn prefixes_like(letter: char, symbol: &str, capital_m: bool) -> Vec<Prefix> {
    match letter {
        // Milli and mega differ by case alone. Before these units the one is everyday and the other is not.
        'm' if matches!(symbol, "Hz" | "ohm") => vec![Prefix::Mega, Prefix::Milli],
        'm' if capital_m && matches!(symbol, "F" | "H" | "s" | "A") => {
            vec![Prefix::Milli, Prefix::Micro]
        }
        'm' if capital_m => vec![Prefix::Mega, Prefix::Milli],
        'm' => vec![Prefix::Milli],
        'g' => vec![Prefix::Giga],
        't' => vec![Prefix::Tera],
        _ => Prefix::read(letter).into_iter().collect(),
    }
}
