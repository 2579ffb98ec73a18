//! Values in units that are put together of others, printed as all values are.

use crate::Dimension;
use crate::Unit;
use crate::decimal::Digits;
use crate::prefix::Prefix;
use crate::print::{Style, computed};

/// A computed value of any dimension: in the unit that the closed list has for it, degrees Celsius for a temperature, and else
/// composed of V, A and s with the prefix in front of the first: `6.28 MΩ/s`, `6 V·s`. Where the first unit is a power or
/// a 1, which takes no prefix, the number has an exponent: `2.5e6 V²`. `None` if it is not finite.
pub fn composed(value: f64, dimension: Dimension, style: Style) -> Option<String> {
    if dimension == Dimension::TEMPERATURE {
        return computed(value, Unit::Celsius, style);
    }
    if let Some(unit) = dimension.unit() {
        return computed(value, unit, style);
    }
    let mut symbol = dimension.to_string();
    let mut following = symbol.chars().skip(1);
    let prefixed = !symbol.starts_with('1') && following.next().is_none_or(|c| matches!(c, '·' | '/'));
    if style.ascii {
        symbol = symbol.replace('·', "*").replace('²', "^2").replace('³', "^3").replace('√', "rt").replace('Ω', "ohm");
    }
    if value == 0.0 {
        return Some(format!("0 {symbol}"));
    }
    if !value.is_finite() {
        return None;
    }
    let exponent = Digits::rounded(value.abs(), usize::from(style.digits.max(1))).exponent;
    let power = if prefixed { exponent.div_euclid(3) * 3 } else { 0 };
    match Prefix::of_power(power) {
        Some(prefix) if prefixed || (-3..=4).contains(&exponent) => {
            let number = computed(value / 10f64.powi(power), Unit::One, style)?;
            Some(format!("{number} {}{symbol}", prefix.symbol(style.ascii)))
        }
        _ => {
            let number = computed(value / 10f64.powi(exponent), Unit::One, style)?;
            let minus = if style.ascii { "-" } else { "−" };
            let sign = if exponent < 0 { minus } else { "" };
            Some(format!("{number}e{sign}{} {symbol}", exponent.abs()))
        }
    }
}
