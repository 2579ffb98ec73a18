//! The units of the notation: how they are written, and what they measure.

use crate::{Dimension, Prefix};

/// A unit that a figure may have. The list is closed: a unit outside it is a fault with a message, never a guess.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// Resistance and impedance, `Ω`
    Ohm,
    /// Capacitance, `F`
    Farad,
    /// Inductance, `H`
    Henry,
    /// Frequency, `Hz`
    Hertz,
    /// Time, `s`
    Second,
    /// Voltage, `V`
    Volt,
    /// Current, `A`
    Ampere,
    /// Power, `W`
    Watt,
    /// Gain or difference of levels, `dB`
    Decibel,
    /// Level against √0.6 V, `dBu`
    Dbu,
    /// Level against 1 V, `dBV`
    Dbv,
    /// Angle, `°`
    Degree,
    /// Temperature, `°C`
    Celsius,
    /// Noise voltage density, `V/√Hz`
    VoltPerRootHertz,
    /// Noise current density, `A/√Hz`
    AmperePerRootHertz,
    /// Slew rate, `V/s`; written and printed in `V/µs`
    VoltPerSecond,
    /// Percentage, `%`
    Percent,
    /// A plain number: a ratio, a quality factor
    One,
}

impl Unit {
    /// All units.
    pub const ALL: [Unit; 18] = [
        Unit::Ohm,
        Unit::Farad,
        Unit::Henry,
        Unit::Hertz,
        Unit::Second,
        Unit::Volt,
        Unit::Ampere,
        Unit::Watt,
        Unit::Decibel,
        Unit::Dbu,
        Unit::Dbv,
        Unit::Degree,
        Unit::Celsius,
        Unit::VoltPerRootHertz,
        Unit::AmperePerRootHertz,
        Unit::VoltPerSecond,
        Unit::Percent,
        Unit::One,
    ];

    /// The symbol, empty for [`Unit::One`]: `Ω`, `V/√Hz`, `°`, or in ASCII `ohm`, `V/rtHz`, `deg`.
    pub fn symbol(self, ascii: bool) -> &'static str {
        match (self, ascii) {
            (Unit::Ohm, false) => "Ω",
            (Unit::Ohm, true) => "ohm",
            (Unit::Farad, _) => "F",
            (Unit::Henry, _) => "H",
            (Unit::Hertz, _) => "Hz",
            (Unit::Second, _) => "s",
            (Unit::Volt, _) => "V",
            (Unit::Ampere, _) => "A",
            (Unit::Watt, _) => "W",
            (Unit::Decibel, _) => "dB",
            (Unit::Dbu, _) => "dBu",
            (Unit::Dbv, _) => "dBV",
            (Unit::Degree, false) => "°",
            (Unit::Degree, true) => "deg",
            (Unit::Celsius, false) => "°C",
            (Unit::Celsius, true) => "degC",
            (Unit::VoltPerRootHertz, false) => "V/√Hz",
            (Unit::VoltPerRootHertz, true) => "V/rtHz",
            (Unit::AmperePerRootHertz, false) => "A/√Hz",
            (Unit::AmperePerRootHertz, true) => "A/rtHz",
            (Unit::VoltPerSecond, _) => "V/s",
            (Unit::Percent, _) => "%",
            (Unit::One, _) => "",
        }
    }

    /// The unit's word in the singular, as it stands behind a figure in a sentence: "ohm", "volt per second".
    pub fn name(self) -> &'static str {
        match self {
            Unit::Ohm => "ohm",
            Unit::Farad => "farad",
            Unit::Henry => "henry",
            Unit::Hertz => "hertz",
            Unit::Second => "second",
            Unit::Volt => "volt",
            Unit::Ampere => "ampere",
            Unit::Watt => "watt",
            Unit::Decibel => "decibel",
            Unit::Dbu => "dBu",
            Unit::Dbv => "dBV",
            Unit::Degree => "degree",
            Unit::Celsius => "degree Celsius",
            Unit::VoltPerRootHertz => "volt per root hertz",
            Unit::AmperePerRootHertz => "ampere per root hertz",
            Unit::VoltPerSecond => "volt per second",
            Unit::Percent => "percent",
            Unit::One => "",
        }
    }

    /// The word with a prefix: "milliohm", "megohm", "microfarad". Kilohm and megohm drop a vowel, as the trade says
    /// them and as the SI Brochure (8th edition, section 3.1) has them.
    pub fn prefixed_name(self, prefix: Prefix) -> String {
        match (prefix, self) {
            (Prefix::Kilo, Unit::Ohm) => "kilohm".into(),
            (Prefix::Mega, Unit::Ohm) => "megohm".into(),
            _ => format!("{}{}", prefix.name(), self.name()),
        }
    }

    /// What the unit measures, with its article: "a resistance", "a level".
    pub fn measures(self) -> &'static str {
        match self {
            Unit::Ohm => "a resistance",
            Unit::Farad => "a capacitance",
            Unit::Henry => "an inductance",
            Unit::Hertz => "a frequency",
            Unit::Second => "a time",
            Unit::Volt => "a voltage",
            Unit::Ampere => "a current",
            Unit::Watt => "a power",
            Unit::Decibel => "a gain in decibels",
            Unit::Dbu | Unit::Dbv => "a level",
            Unit::Degree => "an angle",
            Unit::Celsius => "a temperature",
            Unit::VoltPerRootHertz => "a voltage noise density",
            Unit::AmperePerRootHertz => "a current noise density",
            Unit::VoltPerSecond => "a slew rate",
            Unit::Percent => "a percentage",
            Unit::One => "a plain number",
        }
    }

    /// Whether the unit is a logarithmic one: decibels, dBu, dBV.
    pub fn is_logarithmic(self) -> bool {
        matches!(self, Unit::Decibel | Unit::Dbu | Unit::Dbv)
    }

    /// Whether SI prefixes may stand before it.
    pub fn takes_prefix(self) -> bool {
        !self.is_logarithmic() && !matches!(self, Unit::Degree | Unit::Celsius | Unit::Percent | Unit::One)
    }

    /// The dimension of the quantity that a figure in this unit stands for: a level in dBu is a voltage, while decibels,
    /// degrees and percentages are plain numbers.
    pub fn dimension(self) -> Dimension {
        match self {
            Unit::Ohm => Dimension::RESISTANCE,
            Unit::Farad => Dimension::CAPACITANCE,
            Unit::Henry => Dimension::INDUCTANCE,
            Unit::Hertz => Dimension::FREQUENCY,
            Unit::Second => Dimension::TIME,
            Unit::Volt | Unit::Dbu | Unit::Dbv => Dimension::VOLTAGE,
            Unit::Ampere => Dimension::CURRENT,
            Unit::Watt => Dimension::POWER,
            Unit::Celsius => Dimension::TEMPERATURE,
            Unit::VoltPerRootHertz => Dimension::VOLTAGE_DENSITY,
            Unit::AmperePerRootHertz => Dimension::CURRENT_DENSITY,
            Unit::VoltPerSecond => Dimension::SLEW_RATE,
            Unit::Decibel | Unit::Degree | Unit::Percent | Unit::One => Dimension::NONE,
        }
    }

    /// Reads a unit symbol with its prefix: the unit, and the power of ten that takes a figure to its base unit.
    ///
    /// `kHz` is (hertz, 3), `nV/rtHz` (V/√Hz, −9), `V/us` (V/s, +6). The power is not a [`Prefix`], because `kV/us` has
    /// none. Case matters (`mV`, `MV`); for what was probably meant by a symbol that is not read see
    /// [`crate::suggestions`].
    pub fn read(text: &str) -> Option<(Unit, i32)> {
        let fixed = match text {
            "dB" => Some(Unit::Decibel),
            "dBu" => Some(Unit::Dbu),
            "dBV" => Some(Unit::Dbv),
            "deg" | "°" => Some(Unit::Degree),
            "degC" | "°C" => Some(Unit::Celsius),
            "%" => Some(Unit::Percent),
            _ => None,
        };
        if let Some(unit) = fixed {
            return Some((unit, 0));
        }
        let (head, tail) = match text.split_once('/') {
            Some((head, tail)) => (head, Some(tail)),
            None => (text, None),
        };
        let (base, power) = read_base(head)?;
        match (base, tail) {
            (_, None) => Some((base, power)),
            (Unit::Volt, Some("√Hz" | "rtHz")) => Some((Unit::VoltPerRootHertz, power)),
            (Unit::Ampere, Some("√Hz" | "rtHz")) => Some((Unit::AmperePerRootHertz, power)),
            (Unit::Volt, Some(tail)) => match read_base(tail) {
                Some((Unit::Second, below)) if below <= 0 => Some((Unit::VoltPerSecond, power - below)),
                _ => None,
            },
            _ => None,
        }
    }
}

/// A unit that takes prefixes, with or without one.
fn read_base(text: &str) -> Option<(Unit, i32)> {
    if let Some(unit) = base_symbol(text) {
        return Some((unit, 0));
    }
    let letter = text.chars().next()?;
    let prefix = Prefix::read(letter)?;
    let unit = base_symbol(&text[letter.len_utf8()..])?;
    Some((unit, prefix.power()))
}

fn base_symbol(text: &str) -> Option<Unit> {
    Some(match text {
        // Greek capital omega and the ohm sign: keyboards and data sheets have either.
        "ohm" | "\u{3a9}" | "\u{2126}" => Unit::Ohm,
        "F" => Unit::Farad,
        "H" => Unit::Henry,
        "Hz" => Unit::Hertz,
        "s" => Unit::Second,
        "V" => Unit::Volt,
        "A" => Unit::Ampere,
        "W" => Unit::Watt,
        _ => return None,
    })
}
