//! Decimal numbers as text, so that every conversion to and from binary happens once and is correctly rounded.

/// The greatest length of a figure in bytes. The exact decimal form of any binary number is shorter; what is longer is
/// not a figure, and the bound keeps exponents within what the standard library counts.
pub(crate) const LONGEST: usize = 1000;

/// A decimal number as it was written: digits with at most one point, times a power of ten.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Decimal {
    /// Digits, with a point only between two of them.
    pub mantissa: String,
    /// The written exponent (0 without one).
    pub exponent: i64,
    /// Whether an exponent was written.
    pub has_exponent: bool,
}

impl Decimal {
    /// The nearest binary number to this decimal times a further power of ten: one rounding, done by the parser of the
    /// standard library. Infinite if it is out of reach.
    pub fn value(&self, power: i32) -> f64 {
        let exponent = self.exponent.saturating_add(i64::from(power));
        // The text is digits, a point and an exponent by construction, which always parses.
        format!("{}e{exponent}", self.mantissa).parse().unwrap_or(f64::NAN)
    }

    /// Whether all its digits are zeros.
    pub fn is_zero(&self) -> bool {
        self.mantissa.bytes().all(|byte| byte == b'0' || byte == b'.')
    }

    /// The number as text, exponent included: `4.7`, `2e-9`.
    pub fn text(&self) -> String {
        if self.has_exponent { format!("{}e{}", self.mantissa, self.exponent) } else { self.mantissa.clone() }
    }
}

/// A number as significant digits: 0.d₁d₂d₃… would be the common way, here the point stands behind the first digit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Digits {
    /// At least one decimal digit.
    pub digits: String,
    /// The power of ten of the first digit.
    pub exponent: i32,
}

impl Digits {
    /// The fewest digits that read back as the same binary number. `value` is finite and not negative.
    pub fn shortest(value: f64) -> Digits {
        Digits::split(&format!("{value:e}"))
    }

    /// So many significant digits, at least one, correctly rounded; 999.6 to three digits is 100 with exponent 3.
    pub fn rounded(value: f64, digits: usize) -> Digits {
        Digits::split(&format!("{value:.*e}", digits.max(1) - 1))
    }

    fn split(text: &str) -> Digits {
        let (mantissa, exponent) = text.split_once('e').unwrap_or((text, "0"));
        Digits {
            digits: mantissa.chars().filter(char::is_ascii_digit).collect(),
            exponent: exponent.parse().unwrap_or(0),
        }
    }

    /// Removes zeros at the end, keeping the first digit.
    pub fn trim(mut self) -> Digits {
        let kept = self.digits.trim_end_matches('0').len().max(1);
        self.digits.truncate(kept);
        self
    }

    /// The number divided by 10^`power`, in plain decimal notation.
    pub fn plain(&self, power: i32) -> String {
        let point = self.exponent - power + 1;
        let count = self.digits.len() as i32;
        if point <= 0 {
            format!("0.{}{}", "0".repeat(point.unsigned_abs() as usize), self.digits)
        } else if point >= count {
            format!("{}{}", self.digits, "0".repeat((point - count) as usize))
        } else {
            let (whole, part) = self.digits.split_at(point as usize);
            format!("{whole}.{part}")
        }
    }

    /// The number with an exponent: `1.23e9`.
    pub fn scientific(&self) -> String {
        format!("{}e{}", self.plain(self.exponent), self.exponent)
    }
}
