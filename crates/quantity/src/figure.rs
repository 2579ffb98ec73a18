//! Taking a figure apart: number, prefix or letter-for-point code, and unit.

use crate::decimal::Decimal;
use crate::{Prefix, Unit};

/// The parts of a figure, before its place has had a say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Figure {
    /// The number; in a code the letter has become the point.
    pub decimal: Decimal,
    /// Where the number ends and the rest begins, in bytes.
    pub number_end: usize,
    /// What stands behind the number.
    pub tail: Tail,
}

/// What stands behind a figure's number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Tail {
    /// Nothing.
    Bare,
    /// A prefix and no unit, or a code with a prefix for its letter.
    Prefix {
        /// The prefix.
        prefix: Prefix,
        /// Whether it was written `K`.
        capital_k: bool,
    },
    /// A unit, with the power of ten of its prefix or code letter.
    Unit {
        /// The unit.
        unit: Unit,
        /// The power of ten.
        power: i32,
        /// Whether kilo was written `K`.
        capital_k: bool,
    },
    /// A point with nothing behind it, or a small `e`: the figure breaks off.
    BrokenOff,
    /// A capital `E`, with what stands behind it.
    CapitalE(String),
    /// A unit symbol in the place of the point, as in `5V1`: the digits behind it and the unit.
    UnitForPoint {
        /// `5.1`
        number: String,
        /// `V`
        symbol: String,
    },
    /// Anything else, as written.
    Unknown(String),
}

/// Takes a figure apart. `None` if it does not begin with a digit.
pub(crate) fn take_apart(text: &str) -> Option<Figure> {
    let whole = digits_at(text, 0);
    if whole == 0 {
        return None;
    }
    let mut end = whole;
    if text[end..].starts_with('.') {
        let part = digits_at(text, end + 1);
        if part == 0 {
            let decimal = Decimal { mantissa: text[..end].into(), exponent: 0, has_exponent: false };
            let tail = if text.len() == end + 1 { Tail::BrokenOff } else { Tail::Unknown(text[end..].into()) };
            return Some(Figure { decimal, number_end: end, tail });
        }
        end += 1 + part;
    }
    let mantissa = text[..end].to_string();
    let (exponent, has_exponent, end) = exponent_at(text, end);
    let decimal = Decimal { mantissa, exponent, has_exponent };
    let rest = &text[end..];
    if !has_exponent
        && decimal.mantissa.len() == whole
        && let Some((decimal, tail)) = code(&decimal.mantissa, rest)
    {
        return Some(Figure { decimal, number_end: end, tail });
    }
    let pointed = if has_exponent { None } else { unit_for_point(&decimal.mantissa, rest) };
    let tail = pointed.unwrap_or_else(|| plain_tail(rest, has_exponent));
    Some(Figure { decimal, number_end: end, tail })
}

/// How many ASCII digits stand at this place.
fn digits_at(text: &str, start: usize) -> usize {
    text.as_bytes()[start..].iter().take_while(|byte| byte.is_ascii_digit()).count()
}

/// Reads `e`, a sign and digits: exponent, whether there is one, and where it ends.
fn exponent_at(text: &str, start: usize) -> (i64, bool, usize) {
    let bytes = text.as_bytes();
    if bytes.get(start) != Some(&b'e') {
        return (0, false, start);
    }
    let signed = matches!(bytes.get(start + 1), Some(b'+' | b'-'));
    let first = start + 1 + usize::from(signed);
    let count = digits_at(text, first.min(text.len()));
    if count == 0 {
        return (0, false, start);
    }
    let end = first + count;
    // Beyond eighteen digits every exponent is out of reach alike, and zero times any power is zero.
    let size: i64 = text[first..end].parse().unwrap_or(i64::MAX / 4).min(i64::MAX / 4);
    (if bytes[start + 1] == b'-' { -size } else { size }, true, end)
}

/// A letter-for-point code behind whole digits: `4k7`, `47R`, `2u2F`, `4k7ohm`.
fn code(whole: &str, rest: &str) -> Option<(Decimal, Tail)> {
    let letter = rest.chars().next()?;
    let behind = &rest[letter.len_utf8()..];
    let count = digits_at(behind, 0);
    let unit_text = &behind[count..];
    let (power, capital_k, ohms) = match letter {
        'R' => (0, false, true),
        'K' => (3, true, false),
        letter => (Prefix::read(letter)?.power(), false, false),
    };
    // A prefix with nothing behind it is no code but a prefix; R is a code either way.
    if count == 0 && !(ohms && unit_text.is_empty()) {
        return None;
    }
    let mantissa = if count == 0 { whole.to_string() } else { format!("{whole}.{}", &behind[..count]) };
    let decimal = Decimal { mantissa, exponent: 0, has_exponent: false };
    let tail = match (unit_text, Unit::read(unit_text)) {
        ("", _) if ohms => Tail::Unit { unit: Unit::Ohm, power: 0, capital_k: false },
        ("", _) => Tail::Prefix { prefix: Prefix::of_power(power)?, capital_k },
        // The unit of a code has no prefix of its own: the letter is the prefix.
        (_, Some((unit, 0))) if unit.takes_prefix() && (!ohms || unit == Unit::Ohm) => {
            Tail::Unit { unit, power, capital_k }
        }
        _ => return None,
    };
    Some((decimal, tail))
}

/// What stands behind a number that is no code's.
fn plain_tail(rest: &str, has_exponent: bool) -> Tail {
    if rest.is_empty() {
        return Tail::Bare;
    }
    if let Some((unit, power)) = Unit::read(rest) {
        return Tail::Unit { unit, power, capital_k: false };
    }
    let mut letters = rest.chars();
    let first = letters.next().unwrap_or_default();
    let behind = letters.as_str();
    if behind.is_empty() {
        if let Some(prefix) = Prefix::read(first) {
            return Tail::Prefix { prefix, capital_k: false };
        }
        match first {
            'K' => {
                return Tail::Prefix { prefix: Prefix::Kilo, capital_k: true };
            }
            // 4.7R: the point is written already, and R is the ohm sign of the code all the same.
            'R' if !has_exponent => {
                return Tail::Unit { unit: Unit::Ohm, power: 0, capital_k: false };
            }
            'e' if !has_exponent => return Tail::BrokenOff,
            _ => {}
        }
    }
    if first == 'K'
        && let Some((unit, 0)) = Unit::read(behind)
        && unit.takes_prefix()
    {
        return Tail::Unit { unit, power: 3, capital_k: true };
    }
    if first == 'E' && !has_exponent {
        return Tail::CapitalE(behind.to_string());
    }
    if matches!(rest, "e+" | "e-") && !has_exponent {
        return Tail::BrokenOff;
    }
    Tail::Unknown(rest.to_string())
}

/// `5V1`: a unit symbol where the point is, behind whole digits.
fn unit_for_point(whole: &str, rest: &str) -> Option<Tail> {
    let symbol_end = rest.find(|letter: char| letter.is_ascii_digit())?;
    let (symbol, part) = rest.split_at(symbol_end);
    if whole.contains('.') || !part.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    Unit::read(symbol)?;
    Some(Tail::UnitForPoint { number: format!("{whole}.{part}"), symbol: symbol.to_string() })
}
