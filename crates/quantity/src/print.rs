//! How a number is printed.
//!
//! One rule for hints, hovers, messages, tables and drawings:
//!
//! * [`exact`] prints a value that someone wrote or chose: every digit that it has and no zero behind them.
//! * [`computed`] prints a value that came out of a computation: three significant digits. **A zero at the end is kept
//!   where it carries information**: 9.998 MΩ prints as `10.0 MΩ`, since rounding stands behind that zero, while a
//!   value that *is* its rounded self (to a part in 10⁹, which is what floating-point noise may take) prints as `10 MΩ`.
//! * Decibels have a fixed number of places behind the point, angles are whole degrees, shares have one place.
//! * A value that is not finite is not printed at all: every function here answers `None`, and the caller says why the
//!   value is unknown.

use crate::decimal::Digits;
use crate::{Prefix, Unit, db, dbu};

/// How numbers are printed for one reader.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Style {
    /// Significant digits of a computed value, 3 unless there is a reason; at least 1 and at most 17 are used.
    pub digits: u8,
    /// Places behind the point of decibels, 1 unless a limit is given to 0.01 dB; at most 17 are used.
    pub decimals: u8,
    /// `ohm`, `u`, `rtHz`, `-`, `..` instead of `Ω`, `µ`, `√Hz`, `−`, `…`.
    pub ascii: bool,
    /// In which of the trade's ways a level is told.
    pub levels: Levels,
}

/// In which of the trade's ways a level is told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Levels {
    /// `−78.2 dBu (95.3 µV)`
    #[default]
    Both,
    /// `−78.2 dBu`
    Dbu,
    /// `95.3 µV`
    Volts,
}

impl Default for Style {
    fn default() -> Style {
        Style { digits: 3, decimals: 1, ascii: false, levels: Levels::Both }
    }
}

impl Style {
    /// The default style in ASCII.
    pub const ASCII: Style = Style { digits: 3, decimals: 1, ascii: true, levels: Levels::Both };
}

/// More digits than 17 say nothing more about a binary number.
const MOST_DIGITS: u8 = 17;

/// How far, in ratio, a value may lie from its rounded self and still be that value.
const NOISE: f64 = 1e-9;

/// A printed value, its unit apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Printed {
    pub number: String,
    /// The unit with the blank before it, empty for a plain number.
    pub suffix: String,
}

impl Printed {
    pub fn text(self) -> String {
        self.number + &self.suffix
    }
}

/// A computed value with its unit, by the rule above: `159 Ω`, `1.02 kΩ`, `33.9 kHz`, `2.2 µF`, `13 V/µs`, `−6.0 dB`.
/// `None` if it is not finite.
pub fn computed(value: f64, unit: Unit, style: Style) -> Option<String> {
    printed(value, unit, style).map(Printed::text)
}

/// A written value with its unit: all its digits, no zero behind them: `4.7 kΩ`, `12 dB`, `4700 µF`.
/// `None` if it is not finite.
pub fn exact(value: f64, unit: Unit, style: Style) -> Option<String> {
    if !value.is_finite() {
        return None;
    }
    Some(placed(value, Digits::shortest(value.abs()), unit, style, true).text())
}

/// The most digits that a person writes of a value.
const WRITTEN: usize = 6;

/// A value that someone wrote, as [`exact`]; one with more digits than anyone writes came out of a computation, and is rounded as
/// [`computed`] does with a digit more. `None` if it is not finite.
pub fn written(value: f64, unit: Unit, style: Style) -> Option<String> {
    if !value.is_finite() || Digits::shortest(value.abs()).trim().digits.len() <= WRITTEN {
        return exact(value, unit, style);
    }
    computed(value, unit, Style { digits: style.digits + 1, ..style })
}

/// A value as source text: the shortest form that reads back as exactly this value where it belongs. Parts have no
/// unit where none is needed: `4.7k`, `22u`, `10M`, but `50 mohm`, which would call for a caution; anything else has
/// one: `1 kHz`, `5 %`, `13 V/us`. `None` if it is not finite or, for a part, negative.
pub fn canonical(value: f64, unit: Unit) -> Option<String> {
    let part = matches!(unit, Unit::Ohm | Unit::Farad | Unit::Henry);
    if !value.is_finite() || (part && value < 0.0) {
        return None;
    }
    let style = Style { ascii: true, ..Style::default() };
    let mut printed = placed(value, Digits::shortest(value.abs()), unit, style, true);
    if matches!(unit, Unit::VoltPerRootHertz | Unit::AmperePerRootHertz) {
        printed.suffix = printed.suffix.replace("rtHz", "√Hz");
    }
    let everyday = match unit {
        Unit::Ohm => value == 0.0 || (0.1..=1e9).contains(&value),
        Unit::Farad => (0.1e-12..=0.1).contains(&value),
        Unit::Henry => (0.1e-9..1.0).contains(&value),
        _ => false,
    };
    if everyday {
        printed.suffix = printed.suffix.replace(unit.symbol(true), "").trim_start().to_string();
    }
    Some(printed.text())
}

/// Decibels with a fixed number of places: `12.0 dB`, `−0.11 dB`. `None` if not finite.
pub fn decibels(value: f64, style: Style) -> Option<String> {
    computed(value, Unit::Decibel, style)
}

/// An angle in whole degrees: `45°`, in ASCII `45 deg`. `None` if not finite.
pub fn degrees(value: f64, style: Style) -> Option<String> {
    computed(value, Unit::Degree, style)
}

/// A share, a fraction of 1, in percent with one place: `99.3 %`. What is neither none nor all never prints as if it were:
/// `> 99.9 %`, `< 0.1 %`. `None` if it is not between 0 and 1.
pub fn share(fraction: f64) -> Option<String> {
    if !(0.0..=1.0).contains(&fraction) {
        return None;
    }
    let percent = 100.0 * fraction;
    Some(if fraction == 0.0 || fraction == 1.0 {
        format!("{percent:.0} %")
    } else if percent >= 99.95 {
        "> 99.9 %".to_string()
    } else if percent < 0.05 {
        "< 0.1 %".to_string()
    } else {
        format!("{percent:.1} %")
    })
}

/// A gain as a ratio, always to the style's digits: `×2.00`, `×−2.13`; in ASCII `x2.00`. `None` if not finite.
pub fn ratio(value: f64, style: Style) -> Option<String> {
    if !value.is_finite() {
        return None;
    }
    let digits = Digits::rounded(value.abs(), significant(style));
    let sign = if value < 0.0 { minus(style) } else { "" };
    let cross = if style.ascii { "x" } else { "×" };
    Some(format!("{cross}{sign}{}", plain(&digits, 0)))
}

/// A gain in both of the trade's ways: `×2.00 (6.0 dB)`. `None` if not finite; a ratio of 0 has no decibels: `×0.00`.
pub fn ratio_with_decibels(value: f64, style: Style) -> Option<String> {
    let ratio = ratio(value, style)?;
    Some(match decibels(db(value), style) {
        Some(decibels) => format!("{ratio} ({decibels})"),
        None => ratio,
    })
}

/// A level in both of the trade's ways, from volts rms: `−78.2 dBu (95.3 µV)`, or in the one that the style asks for. `None` if
/// not finite or negative; no voltage at all has no level: `0 V`.
pub fn dbu_with_volts(volts: f64, style: Style) -> Option<String> {
    if volts < 0.0 {
        return None;
    }
    let in_volts = computed(volts, Unit::Volt, style)?;
    Some(match (computed(dbu(volts), Unit::Dbu, style), style.levels) {
        (Some(level), Levels::Both) => format!("{level} ({in_volts})"),
        (Some(level), Levels::Dbu) => level,
        (None, _) | (_, Levels::Volts) => in_volts,
    })
}

/// A computed value, number and unit apart.
pub(crate) fn printed(value: f64, unit: Unit, style: Style) -> Option<Printed> {
    if !value.is_finite() {
        return None;
    }
    let places = match unit {
        Unit::Decibel | Unit::Dbu | Unit::Dbv => style.decimals.min(MOST_DIGITS),
        Unit::Degree => 0,
        _ => {
            let rounded = Digits::rounded(value.abs(), significant(style));
            let is_itself = rounded
                .scientific()
                .parse::<f64>()
                .is_ok_and(|rounded| (rounded - value.abs()).abs() <= NOISE * value.abs());
            let digits = if is_itself { rounded.trim() } else { rounded };
            return Some(placed(value, digits, unit, style, false));
        }
    };
    let number = format!("{:.*}", usize::from(places), value.abs());
    let zero = number.bytes().all(|byte| matches!(byte, b'0' | b'.'));
    let sign = if value < 0.0 && !zero { minus(style) } else { "" };
    Some(Printed { number: format!("{sign}{number}"), suffix: suffix(unit.symbol(style.ascii)) })
}

/// Puts the point and the prefix where they belong. `written` is for values that someone wrote.
fn placed(value: f64, digits: Digits, unit: Unit, style: Style, written: bool) -> Printed {
    let digits = if written || value == 0.0 { digits.trim() } else { digits };
    let (power, symbol) = if value == 0.0 {
        (Some(0), unit.symbol(style.ascii).to_string())
    } else {
        scaled(unit, digits.exponent, written, style)
    };
    let number = match power {
        Some(power) => plain(&digits, power),
        None => digits.scientific(),
    };
    let sign = if value < 0.0 { minus(style) } else { "" };
    let number = if style.ascii { number } else { number.replace('-', "−") };
    Printed { number: format!("{sign}{number}"), suffix: suffix(&symbol) }
}

/// The power of ten that the printed number is in, and the symbol; no power where there is no prefix that would do.
fn scaled(unit: Unit, exponent: i32, written: bool, style: Style) -> (Option<i32>, String) {
    let symbol = unit.symbol(style.ascii);
    if unit == Unit::VoltPerSecond && exponent >= 3 {
        // Data sheets give slew rates per microsecond, the slowest amplifiers' too.
        let micro = Prefix::Micro.symbol(style.ascii);
        return (Some(6), format!("V/{micro}s"));
    }
    if !unit.takes_prefix() || unit == Unit::VoltPerSecond {
        return (Some(0), symbol.to_string());
    }
    let power = match unit {
        // Common practice, no source: a can says 4700 µF, a corner lies at 0.34 Hz, and a shunt has 0.47 Ω.
        Unit::Farad if written && (-3..=-2).contains(&exponent) => -6,
        Unit::Hertz if (-2..0).contains(&exponent) => 0,
        Unit::Ohm if exponent == -1 => 0,
        _ => exponent.div_euclid(3) * 3,
    };
    match Prefix::of_power(power) {
        Some(prefix) => (Some(power), format!("{}{symbol}", prefix.symbol(style.ascii))),
        None => (None, symbol.to_string()),
    }
}

/// Plain decimal notation where a person can take it in, an exponent elsewhere.
fn plain(digits: &Digits, power: i32) -> String {
    let size = digits.exponent - power;
    if (-5..=8).contains(&size) { digits.plain(power) } else { scientific_from(digits, power) }
}

fn scientific_from(digits: &Digits, power: i32) -> String {
    Digits { digits: digits.digits.clone(), exponent: digits.exponent - power }.scientific()
}

fn significant(style: Style) -> usize {
    usize::from(style.digits.clamp(1, MOST_DIGITS))
}

fn minus(style: Style) -> &'static str {
    if style.ascii { "-" } else { "−" }
}

fn suffix(symbol: &str) -> String {
    match symbol {
        "" | "°" => symbol.to_string(),
        symbol => format!(" {symbol}"),
    }
}
