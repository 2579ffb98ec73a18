//! A value with its unit.

use crate::{Dimension, Unit, dbu_to_volts, dbv_to_volts, from_db};
use std::hash::{Hash, Hasher};

/// A value with its unit, as a figure states it.
///
/// Two quantities are equal when they are equal bit for bit, so that a quantity can be a key and "nothing has changed"
/// is decidable; compare the values themselves for anything else.
#[derive(Clone, Copy, Debug)]
pub struct Quantity {
    /// In the SI base unit of `unit` (ohms, farads, volts per second …); decibels in decibels, a percentage as written
    /// (5.0 for `5 %`), temperatures in degrees Celsius, angles in degrees.
    pub value: f64,
    /// What `value` counts.
    pub unit: Unit,
    /// Whether the unit was written (`10 mΩ`, `0R05`), as opposed to understood from the place (`10m` behind `R3`).
    pub written_unit: bool,
}

impl Quantity {
    /// A quantity with its unit written.
    pub fn new(value: f64, unit: Unit) -> Quantity {
        Quantity { value, unit, written_unit: true }
    }

    /// The value that an expression reckons with, and its dimension: decibels become a ratio, dBu and dBV volts, a
    /// percentage a fraction, an angle radians; everything else is in its base unit already. A temperature stays in
    /// degrees Celsius, whose differences are kelvins.
    pub fn linear(self) -> (f64, Dimension) {
        let value = match self.unit {
            Unit::Decibel => from_db(self.value),
            Unit::Dbu => dbu_to_volts(self.value),
            Unit::Dbv => dbv_to_volts(self.value),
            Unit::Percent => self.value / 100.0,
            Unit::Degree => self.value.to_radians(),
            _ => self.value,
        };
        (value, self.unit.dimension())
    }
}

impl PartialEq for Quantity {
    fn eq(&self, other: &Quantity) -> bool {
        self.value.to_bits() == other.value.to_bits()
            && self.unit == other.unit
            && self.written_unit == other.written_unit
    }
}

impl Eq for Quantity {}

impl Hash for Quantity {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.value.to_bits().hash(state);
        self.unit.hash(state);
        self.written_unit.hash(state);
    }
}
