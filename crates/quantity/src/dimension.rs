//! Dimensions: what a product, a quotient or a root of quantities is a quantity of.

use crate::Unit;
use std::fmt;

/// A dimension as exponents of volt, ampere, second and kelvin, counted in halves, so that V/√Hz has one.
///
/// Volt and ampere are taken as base dimensions instead of kilogram and metre: everything in a circuit is a product of
/// powers of them and of time, and a composed name such as `V·s/A` then reads as the trade writes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Dimension {
    /// Twice the exponents of volt, ampere, second, kelvin.
    halves: [i16; 4],
}

impl Dimension {
    /// A plain number.
    pub const NONE: Dimension = Dimension::whole(0, 0, 0, 0);
    /// V/A
    pub const RESISTANCE: Dimension = Dimension::whole(1, -1, 0, 0);
    /// A/V
    pub const CONDUCTANCE: Dimension = Dimension::whole(-1, 1, 0, 0);
    /// A·s/V
    pub const CAPACITANCE: Dimension = Dimension::whole(-1, 1, 1, 0);
    /// V·s/A
    pub const INDUCTANCE: Dimension = Dimension::whole(1, -1, 1, 0);
    /// 1/s
    pub const FREQUENCY: Dimension = Dimension::whole(0, 0, -1, 0);
    /// s
    pub const TIME: Dimension = Dimension::whole(0, 0, 1, 0);
    /// V
    pub const VOLTAGE: Dimension = Dimension::whole(1, 0, 0, 0);
    /// A
    pub const CURRENT: Dimension = Dimension::whole(0, 1, 0, 0);
    /// V·A
    pub const POWER: Dimension = Dimension::whole(1, 1, 0, 0);
    /// A·s
    pub const CHARGE: Dimension = Dimension::whole(0, 1, 1, 0);
    /// K
    pub const TEMPERATURE: Dimension = Dimension::whole(0, 0, 0, 1);
    /// V/s
    pub const SLEW_RATE: Dimension = Dimension::whole(1, 0, -1, 0);
    /// V/√Hz
    pub const VOLTAGE_DENSITY: Dimension = Dimension { halves: [2, 0, 1, 0] };
    /// A/√Hz
    pub const CURRENT_DENSITY: Dimension = Dimension { halves: [0, 2, 1, 0] };

    const fn whole(volt: i16, ampere: i16, second: i16, kelvin: i16) -> Dimension {
        Dimension { halves: [2 * volt, 2 * ampere, 2 * second, 2 * kelvin] }
    }

    /// Whether it is a plain number's.
    pub fn is_none(self) -> bool {
        self == Dimension::NONE
    }

    /// The dimension of a product; `None` if an exponent leaves what can be counted (beyond ±16,000).
    pub fn times(self, other: Dimension) -> Option<Dimension> {
        self.combine(other, i16::checked_add)
    }

    /// The dimension of a quotient; `None` as in [`Dimension::times`].
    pub fn per(self, other: Dimension) -> Option<Dimension> {
        self.combine(other, i16::checked_sub)
    }

    /// The dimension of a power. The exponent may be any multiple of one half that leaves whole halves behind:
    /// `None` for (V)^0.25, or if an exponent leaves what can be counted. A plain number has any power.
    pub fn power(self, exponent: f64) -> Option<Dimension> {
        if self.is_none() {
            return Some(self);
        }
        let mut halves = [0; 4];
        for (to, from) in halves.iter_mut().zip(self.halves) {
            let exact = f64::from(from) * exponent;
            if exact.fract() != 0.0 || exact.abs() > f64::from(i16::MAX) || exact.is_nan() {
                return None;
            }
            *to = exact as i16;
        }
        Some(Dimension { halves })
    }

    /// The dimension of a square root; `None` where that would take quarters.
    pub fn root(self) -> Option<Dimension> {
        self.power(0.5)
    }

    /// The unit in which a quantity of this dimension is printed, if the closed list has one.
    pub fn unit(self) -> Option<Unit> {
        match self {
            Dimension::NONE => Some(Unit::One),
            // No figure in degrees Celsius is a plain multiple of a kelvin.
            Dimension::TEMPERATURE => None,
            _ => Unit::ALL.into_iter().find(|unit| unit.dimension() == self),
        }
    }

    /// Its name for a sentence: "ohms", "seconds", "volts per root hertz", "a plain number", or composed: "V²/A".
    pub fn name(self) -> String {
        let word = match self {
            Dimension::NONE => "a plain number",
            Dimension::RESISTANCE => "ohms",
            Dimension::CONDUCTANCE => "siemens",
            Dimension::CAPACITANCE => "farads",
            Dimension::INDUCTANCE => "henries",
            Dimension::FREQUENCY => "hertz",
            Dimension::TIME => "seconds",
            Dimension::VOLTAGE => "volts",
            Dimension::CURRENT => "amperes",
            Dimension::POWER => "watts",
            Dimension::CHARGE => "coulombs",
            Dimension::TEMPERATURE => "kelvins",
            Dimension::SLEW_RATE => "volts per second",
            Dimension::VOLTAGE_DENSITY => "volts per root hertz",
            Dimension::CURRENT_DENSITY => "amperes per root hertz",
            _ => {
                return match self.half_power() {
                    Some((unit, 1)) => format!("the square root of {}", unit.dimension().name()),
                    Some((unit, -1)) => format!("one over the square root of {}", unit.dimension().name()),
                    _ => self.to_string(),
                };
            }
        };
        word.to_string()
    }

    /// The unit of which it is a power that is no whole one, and that power in halves: √Ω says more than V^½/A^½ does.
    fn half_power(self) -> Option<(Unit, i16)> {
        if self.halves.iter().all(|h| h % 2 == 0) {
            return None;
        }
        [1, -1, 3, -3, 5, -5].into_iter().find_map(|odd| {
            let of = |unit: &Unit| unit.dimension().power(f64::from(odd) / 2.0) == Some(self);
            Unit::ALL.into_iter().find(of).map(|unit| (unit, odd))
        })
    }

    /// The name in the units that the trade has: a whole power of one (`Ω²`, `1/H`), or ohms by the second. `None` where V, A and s
    /// say it as shortly.
    fn simpler(self) -> Option<String> {
        let named = [
            (Dimension::RESISTANCE, "Ω"),
            (Dimension::CAPACITANCE, "F"),
            (Dimension::INDUCTANCE, "H"),
            (Dimension::CONDUCTANCE, "S"),
        ];
        let whole = |of: Dimension, n: u16| of.power(f64::from(n)) == Some(self);
        let over = |of: Dimension, n: u16| of.power(-f64::from(n)) == Some(self);
        let high = named.iter().flat_map(|(of, symbol)| [2u16, 3].map(|n| (*of, *symbol, n)));
        let mut found = high.filter(|(of, _, n)| whole(*of, *n)).map(|(_, symbol, n)| power(symbol, 2 * n));
        if let Some(name) = found.next() {
            return Some(name);
        }
        // What a capacitance divides is Ω/s, which takes a prefix as 1/F does not.
        if Dimension::RESISTANCE.per(Dimension::TIME) == Some(self) {
            return Some("Ω/s".into());
        }
        let low = named.iter().flat_map(|(of, symbol)| [1u16, 2, 3].map(|n| (*of, *symbol, n)));
        let reactive = low.filter(|(of, ..)| matches!(*of, Dimension::CAPACITANCE | Dimension::INDUCTANCE));
        reactive.filter(|(of, _, n)| over(*of, *n)).map(|(_, symbol, n)| format!("1/{}", power(symbol, 2 * n))).next()
    }

    fn combine(self, other: Dimension, with: fn(i16, i16) -> Option<i16>) -> Option<Dimension> {
        let mut halves = [0; 4];
        for (index, to) in halves.iter_mut().enumerate() {
            *to = with(self.halves[index], other.halves[index])?;
        }
        Some(Dimension { halves })
    }
}

/// A power of a symbol, counted in halves: `V`, `√V`, `V²`, `V^1.5`.
fn power(symbol: &str, halves: u16) -> String {
    match halves {
        2 => symbol.to_string(),
        1 => format!("√{symbol}"),
        4 => format!("{symbol}²"),
        6 => format!("{symbol}³"),
        halves if halves % 2 == 0 => format!("{symbol}^{}", halves / 2),
        halves => format!("{symbol}^{}.5", halves / 2),
    }
}

/// Prints the composed form: `V·s/A`, `V²`, `Ω²`, `V·√s`, `√Ω`, `1/s`, and `1` for a plain number.
impl fmt::Display for Dimension {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some((unit, halves)) = self.half_power() {
            let power = power(unit.symbol(false), halves.unsigned_abs());
            return if halves < 0 { write!(out, "1/{power}") } else { write!(out, "{power}") };
        }
        if let Some(name) = self.simpler() {
            return out.write_str(&name);
        }
        let side = |sign: i16| -> Vec<String> {
            let symbols = ["V", "A", "s", "K"].into_iter().zip(self.halves);
            let here = symbols.filter(|(_, halves)| halves.signum() == sign);
            here.map(|(symbol, halves)| power(symbol, halves.unsigned_abs())).collect()
        };
        let (above, below) = (side(1), side(-1));
        let above = if above.is_empty() { "1".to_string() } else { above.join("·") };
        match below.as_slice() {
            [] => write!(out, "{above}"),
            [one] => write!(out, "{above}/{one}"),
            many => write!(out, "{above}/({})", many.join("·")),
        }
    }
}
