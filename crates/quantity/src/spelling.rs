//! The ways in which a part's value may be written, which all say the same.

use crate::{Style, Unit, canonical, exact};

/// A way to write a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Spelling {
    /// `4.7k`, `100n`
    Prefix,
    /// The letter in the point's place, as parts are marked: `4k7`, `470R`.
    Code,
    /// `4.7 kohm`, or in the signs of print: `4.7 kΩ`.
    Unit {
        /// `ohm` and `u` rather than `Ω` and `µ`.
        ascii: bool,
        /// A blank stands before the unit.
        blank: bool,
    },
}

impl Spelling {
    /// The way in which a figure is written, its unit apart if it has one.
    ///
    /// ```
    /// use quantity::Spelling;
    ///
    /// assert_eq!(Spelling::of("4k7", None, false), Spelling::Code);
    /// assert_eq!(Spelling::of("4.7k", None, false), Spelling::Prefix);
    /// assert_eq!(Spelling::of("4.7", Some("kΩ"), true), Spelling::Unit { ascii: false, blank: true });
    /// ```
    pub fn of(figure: &str, unit: Option<&str>, blank: bool) -> Spelling {
        // A unit may stand close behind its figure, in the same word.
        let close = ["ohm", "Ω", "F", "H"].iter().any(|u| figure.ends_with(u));
        if unit.is_some() || close {
            let printed = figure.contains(['Ω', 'µ']) || unit.is_some_and(|u| u.contains(['Ω', 'µ']));
            return Spelling::Unit { ascii: !printed, blank: unit.is_some() && blank };
        }
        let letter = figure.find(|c: char| c.is_ascii_alphabetic() || c == 'µ');
        let inside = letter.is_some_and(|at| figure[at..].chars().nth(1).is_some_and(|c| c.is_ascii_digit()));
        if figure.ends_with('R') || (inside && !figure.contains('e')) { Spelling::Code } else { Spelling::Prefix }
    }
}

/// A value written in one way; `None` if it cannot be written so.
///
/// ```
/// use quantity::{Spelling, Unit, spelled};
///
/// let all = [Spelling::Prefix, Spelling::Code, Spelling::Unit { ascii: true, blank: true }];
/// let written = |value, unit| all.map(|s| spelled(value, unit, s).unwrap_or_default());
/// assert_eq!(written(1500.0, Unit::Ohm), ["1.5k", "1k5", "1.5 kohm"]);
/// assert_eq!(written(0.47, Unit::Ohm), ["0.47", "0R47", "0.47 ohm"]);
/// assert_eq!(written(1e-7, Unit::Farad), ["100n", "100n", "100 nF"]);
/// ```
pub fn spelled(value: f64, unit: Unit, spelling: Spelling) -> Option<String> {
    match spelling {
        Spelling::Prefix => canonical(value, unit),
        Spelling::Code => code(value, unit),
        Spelling::Unit { ascii, blank } => {
            let text = exact(value, unit, Style { ascii, ..Style::default() })?;
            Some(if blank { text } else { text.replacen(' ', "", 1) })
        }
    }
}

fn code(value: f64, unit: Unit) -> Option<String> {
    if !matches!(unit, Unit::Ohm | Unit::Farad | Unit::Henry) || !value.is_finite() || value <= 0.0 {
        return None;
    }
    // Below an ohm the letter stands behind a nought.
    if unit == Unit::Ohm && value < 1.0 {
        let text = format!("{value}");
        return text.strip_prefix("0.").map(|digits| format!("0R{digits}"));
    }
    let text = canonical(value, unit)?;
    let digits = text.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let letter = match &text[digits.len()..] {
        "" if unit == Unit::Ohm => "R",
        letter if letter.len() == 1 => letter,
        _ => return None,
    };
    if digits.contains(' ') {
        return None;
    }
    Some(match digits.split_once('.') {
        Some((whole, part)) => format!("{whole}{letter}{part}"),
        None => format!("{digits}{letter}"),
    })
}
