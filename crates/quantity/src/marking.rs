//! Markings on parts, IEC 60062: letter-for-point codes, tolerance letters and colour bands.
//!
//! These read what is printed on a part. What stands in a design is read by [`crate::read`], which wants a digit in front
//! of a code: there `R47` is a designator.

use crate::Prefix;
use crate::decimal::Digits;

/// A tolerance in percent of the nominal value, as two positive numbers or zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    /// How far below.
    pub below: f64,
    /// How far above.
    pub above: f64,
}

/// The symmetrical tolerance letters in percent. B to M by the published tables that the tests name; E, L, P, W, H and
/// N from memory.
const LETTERS: [(char, f64); 14] = [
    ('E', 0.005),
    ('L', 0.01),
    ('P', 0.02),
    ('W', 0.05),
    ('B', 0.1),
    ('C', 0.25),
    ('D', 0.5),
    ('F', 1.0),
    ('G', 2.0),
    ('H', 3.0),
    ('J', 5.0),
    ('K', 10.0),
    ('M', 20.0),
    ('N', 30.0),
];

/// The asymmetrical letters, for electrolytic and ceramic capacitors; Z by a published table that the tests name, the
/// others from memory.
const ASYMMETRICAL: [(char, f64, f64); 4] =
    [('Q', 10.0, 30.0), ('T', 10.0, 50.0), ('S', 20.0, 50.0), ('Z', 20.0, 80.0)];

/// The tolerance that a letter stands for on a resistor, or on a capacitor of 10 pF or more.
pub fn read_tolerance_letter(letter: char) -> Option<Tolerance> {
    let symmetrical = LETTERS.iter().find(|(known, _)| *known == letter);
    let symmetrical = symmetrical.map(|(_, percent)| Tolerance { below: *percent, above: *percent });
    symmetrical.or_else(|| {
        let found = ASYMMETRICAL.iter().find(|(known, ..)| *known == letter);
        found.map(|(_, below, above)| Tolerance { below: *below, above: *above })
    })
}

/// The letter for a symmetrical tolerance in percent, if it has one: `F` for 1 %.
pub fn tolerance_letter(percent: f64) -> Option<char> {
    LETTERS.iter().find(|(_, known)| *known == percent).map(|(letter, _)| *letter)
}

/// The tolerance in farads, up and down, that a letter stands for on a capacitor of less than 10 pF. F and G are from
/// memory.
pub fn read_small_capacitor_tolerance_letter(letter: char) -> Option<f64> {
    Some(match letter {
        'B' => 0.1e-12,
        'C' => 0.25e-12,
        'D' => 0.5e-12,
        'F' => 1e-12,
        'G' => 2e-12,
        _ => return None,
    })
}

/// The resistance in ohms of a letter-for-point marking: `R47`, `4K7`, `470R`. Letters R, K (or k), M, G, T.
pub fn read_resistor_mark(mark: &str) -> Option<f64> {
    mark_with(mark, |letter| match letter {
        'R' => Some(0),
        'K' => Some(3),
        'k' | 'M' | 'G' | 'T' => Prefix::read(letter).map(Prefix::power),
        _ => None,
    })
}

/// The capacitance in farads of a letter-for-point marking: `4n7`, `p33`, `1µ0`. Letters p, n, u (or µ), m.
pub fn read_capacitor_mark(mark: &str) -> Option<f64> {
    mark_with(mark, |letter| Prefix::read(letter).map(Prefix::power).filter(|power| (-12..=-3).contains(power)))
}

/// Digits, a letter, digits; one side may be empty.
fn mark_with(mark: &str, power: impl Fn(char) -> Option<i32>) -> Option<f64> {
    // No part has room for more.
    if mark.len() > 16 {
        return None;
    }
    let place = mark.find(|letter: char| !letter.is_ascii_digit())?;
    let letter = mark[place..].chars().next()?;
    let (whole, part) = (&mark[..place], &mark[place + letter.len_utf8()..]);
    if whole.len() + part.len() == 0 || !part.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    format!("0{whole}.{part}0e{}", power(letter)?).parse().ok()
}

/// The colours of bands, black to white in the order of their digits, then the metallic ones and pink.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Colour {
    /// 0
    Black,
    /// 1; 1 %
    Brown,
    /// 2; 2 %
    Red,
    /// 3; 0.05 %
    Orange,
    /// 4; 0.02 %
    Yellow,
    /// 5; 0.5 %
    Green,
    /// 6; 0.25 %
    Blue,
    /// 7; 0.1 %
    Violet,
    /// 8; as a tolerance editions of the standard differ, so none is read
    Grey,
    /// 9
    White,
    /// times 0.1; 5 %
    Gold,
    /// times 0.01; 10 %
    Silver,
    /// times 0.001
    Pink,
}

/// The colours of the digits 0 to 9.
const DIGITS: [Colour; 10] = [
    Colour::Black,
    Colour::Brown,
    Colour::Red,
    Colour::Orange,
    Colour::Yellow,
    Colour::Green,
    Colour::Blue,
    Colour::Violet,
    Colour::Grey,
    Colour::White,
];

/// The colours of tolerances, in percent.
const TOLERANCES: [(Colour, f64); 9] = [
    (Colour::Brown, 1.0),
    (Colour::Red, 2.0),
    (Colour::Orange, 0.05),
    (Colour::Yellow, 0.02),
    (Colour::Green, 0.5),
    (Colour::Blue, 0.25),
    (Colour::Violet, 0.1),
    (Colour::Gold, 5.0),
    (Colour::Silver, 10.0),
];

impl Colour {
    /// The word: "violet".
    pub fn name(self) -> &'static str {
        match self {
            Colour::Black => "black",
            Colour::Brown => "brown",
            Colour::Red => "red",
            Colour::Orange => "orange",
            Colour::Yellow => "yellow",
            Colour::Green => "green",
            Colour::Blue => "blue",
            Colour::Violet => "violet",
            Colour::Grey => "grey",
            Colour::White => "white",
            Colour::Gold => "gold",
            Colour::Silver => "silver",
            Colour::Pink => "pink",
        }
    }

    fn digit(self) -> Option<usize> {
        DIGITS.iter().position(|colour| *colour == self)
    }

    fn of_power(power: i32) -> Option<Colour> {
        match power {
            0..=9 => Some(DIGITS[power as usize]),
            -1 => Some(Colour::Gold),
            -2 => Some(Colour::Silver),
            -3 => Some(Colour::Pink),
            _ => None,
        }
    }

    fn power(self) -> Option<i32> {
        (-3..=9).find(|power| Colour::of_power(*power) == Some(self))
    }
}

/// The resistance in ohms and the tolerance in percent of three bands (20 %), four (two digits) or five (three digits).
/// `None` for anything else and for a colour at a place that it has no meaning at.
pub fn read_colour_bands(bands: &[Colour]) -> Option<(f64, f64)> {
    let digits = match bands.len() {
        3 | 4 => 2,
        5 => 3,
        _ => return None,
    };
    let mut number = 0;
    for colour in &bands[..digits] {
        number = 10 * number + colour.digit()?;
    }
    let power = bands[digits].power()?;
    let tolerance = match bands.get(digits + 1) {
        Some(colour) => TOLERANCES.iter().find(|(known, _)| known == colour)?.1,
        None => 20.0,
    };
    Some((format!("{number}e{power}").parse().ok()?, tolerance))
}

/// The bands of a resistor: four where two digits and a tolerance of 5 % or wider are enough, else five. `None` if the
/// value has more than three digits, is out of the bands' reach or not positive, or if the tolerance has no colour.
pub fn colour_bands(ohms: f64, percent: f64) -> Option<Vec<Colour>> {
    if !ohms.is_finite() || ohms <= 0.0 {
        return None;
    }
    let tolerance = TOLERANCES.iter().find(|(_, known)| *known == percent)?.0;
    let rounded = Digits::rounded(ohms, 3);
    let itself: f64 = rounded.scientific().parse().ok()?;
    if (itself - ohms).abs() > 1e-9 * ohms {
        return None;
    }
    let count = if percent >= 5.0 && rounded.digits.ends_with('0') { 2 } else { 3 };
    let mut bands: Vec<Colour> =
        rounded.digits.bytes().take(count).map(|digit| DIGITS[usize::from(digit - b'0')]).collect();
    bands.push(Colour::of_power(rounded.exponent + 1 - count as i32)?);
    bands.push(tolerance);
    Some(bands)
}
