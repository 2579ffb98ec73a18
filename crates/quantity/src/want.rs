//! What the place of a figure wants.

use crate::{Prefix, Unit};

/// What the place where a figure stands wants. It decides which units are taken, and what a figure without a unit means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Want {
    /// The value of a resistor or a control: a bare figure is ohms, a prefix is enough, `K` is read as `k`.
    ResistorValue,
    /// The value of a capacitor: a prefix is enough, a bare figure is not.
    CapacitorValue,
    /// The value of an inductor: a prefix is enough, a bare figure is not.
    InductorValue,
    /// A resistance or impedance, unit written.
    Resistance,
    /// A capacitance, unit written.
    Capacitance,
    /// An inductance, unit written.
    Inductance,
    /// A frequency.
    Frequency,
    /// A time.
    Time,
    /// A temperature in degrees Celsius.
    Temperature,
    /// A voltage.
    Voltage,
    /// A current.
    Current,
    /// A voltage or a current: what a source gives.
    Source,
    /// A level: a voltage, a current, dBu or dBV.
    Level,
    /// A power.
    Power,
    /// A gain: decibels or a bare ratio.
    Gain,
    /// Decibels and nothing else: headroom, margins, rejection.
    Decibels,
    /// An angle.
    Angle,
    /// A percentage: the position of a control, a class's tolerance.
    Percentage,
    /// A plain number: a quality factor.
    Number,
    /// A slew rate.
    SlewRate,
    /// A voltage or current noise density.
    NoiseDensity,
    /// What follows `±`, for a quantity in the given unit: a percentage, or a quantity of the same kind. A percentage
    /// is not taken for a logarithmic unit, and a bare figure only for a plain number.
    Tolerance(Unit),
    /// A figure among a part's attributes, for a part whose value is in the given unit: a tolerance (`1%`, `±0.25pF`) or a
    /// rating (`63V`, `0.25W`, `2A`).
    Attribute(Unit),
    /// A figure in an expression: any unit, and a plain number without one.
    Any,
}

impl Want {
    /// The place in words, with an article: "a resistor's value", "a frequency".
    pub fn words(self) -> &'static str {
        match self {
            Want::ResistorValue => "a resistor's value",
            Want::CapacitorValue => "a capacitor's value",
            Want::InductorValue => "an inductor's value",
            Want::Resistance => "a resistance",
            Want::Capacitance => "a capacitance",
            Want::Inductance => "an inductance",
            Want::Frequency => "a frequency",
            Want::Time => "a time",
            Want::Temperature => "a temperature",
            Want::Voltage => "a voltage",
            Want::Current => "a current",
            Want::Source => "a voltage or a current",
            Want::Level => "a level",
            Want::Power => "a power",
            Want::Gain => "a gain",
            Want::Decibels => "a figure in decibels",
            Want::Angle => "an angle",
            Want::Percentage => "a percentage",
            Want::Number => "a plain number",
            Want::SlewRate => "a slew rate",
            Want::NoiseDensity => "a noise density",
            Want::Tolerance(_) => "a tolerance",
            Want::Attribute(_) => "a tolerance or a rating",
            Want::Any => "a figure",
        }
    }

    /// Whether a figure with this unit may stand here.
    pub fn takes(self, unit: Unit) -> bool {
        match self {
            Want::ResistorValue | Want::Resistance => unit == Unit::Ohm,
            Want::CapacitorValue | Want::Capacitance => unit == Unit::Farad,
            Want::InductorValue | Want::Inductance => unit == Unit::Henry,
            Want::Frequency => unit == Unit::Hertz,
            Want::Time => unit == Unit::Second,
            Want::Temperature => unit == Unit::Celsius,
            Want::Voltage => unit == Unit::Volt,
            Want::Current => unit == Unit::Ampere,
            Want::Source | Want::Level => {
                matches!(unit, Unit::Volt | Unit::Ampere | Unit::Dbu | Unit::Dbv)
            }
            Want::Power => unit == Unit::Watt,
            Want::Gain => matches!(unit, Unit::Decibel | Unit::One),
            Want::Decibels => unit == Unit::Decibel,
            Want::Angle => unit == Unit::Degree,
            Want::Percentage => unit == Unit::Percent,
            Want::Number => unit == Unit::One,
            Want::SlewRate => unit == Unit::VoltPerSecond,
            Want::NoiseDensity => matches!(unit, Unit::VoltPerRootHertz | Unit::AmperePerRootHertz),
            Want::Tolerance(of @ (Unit::Dbu | Unit::Dbv)) => unit == of || unit == Unit::Decibel,
            Want::Tolerance(of) => unit == of || (unit == Unit::Percent && !of.is_logarithmic()),
            Want::Attribute(of) => {
                unit == of || matches!(unit, Unit::Percent | Unit::Volt | Unit::Watt | Unit::Ampere | Unit::Celsius)
            }
            Want::Any => true,
        }
    }

    /// The unit of a figure without any, if there is one that goes without saying.
    pub fn bare(self) -> Option<Unit> {
        match self {
            Want::ResistorValue => Some(Unit::Ohm),
            Want::Gain | Want::Number | Want::Any | Want::Tolerance(Unit::One) => Some(Unit::One),
            _ => None,
        }
    }

    /// The unit of a figure with a prefix and no unit. A prefix says that a unit was meant, so in an expression it is
    /// no plain number; a ratio of `100k` has no other reading.
    pub(crate) fn prefixed(self) -> Option<Unit> {
        match self {
            Want::ResistorValue => Some(Unit::Ohm),
            Want::CapacitorValue => Some(Unit::Farad),
            Want::InductorValue => Some(Unit::Henry),
            Want::Gain | Want::Number => Some(Unit::One),
            _ => None,
        }
    }

    /// The unit symbols to offer behind a bare figure, the likeliest first.
    pub(crate) fn offers(self) -> &'static [&'static str] {
        match self {
            Want::ResistorValue | Want::Resistance => &["ohm", "kohm", "Mohm"],
            Want::CapacitorValue | Want::Capacitance => &["pF", "nF", "uF"],
            Want::InductorValue | Want::Inductance => &["uH", "mH", "H"],
            Want::Frequency => &["Hz", "kHz"],
            Want::Time => &["us", "ms", "s"],
            Want::Temperature => &["degC"],
            Want::Voltage => &["V", "mV"],
            Want::Current => &["mA", "uA", "nA"],
            Want::Source => &["V", "mV", "dBu"],
            Want::Level => &["dBu", "dBV", "mV", "V"],
            Want::Power => &["W", "mW"],
            Want::Gain | Want::Decibels => &["dB"],
            Want::Angle => &["deg"],
            Want::Percentage => &["%"],
            Want::SlewRate => &["V/us"],
            Want::NoiseDensity => &["nV/√Hz", "pA/√Hz"],
            Want::Tolerance(Unit::Decibel | Unit::Dbu | Unit::Dbv) => &["dB"],
            Want::Tolerance(Unit::Volt) => &["%", "V", "mV"],
            Want::Tolerance(Unit::Hertz) => &["%", "Hz"],
            Want::Tolerance(Unit::Degree) => &["%", "deg"],
            Want::Tolerance(Unit::Ohm) => &["%", "ohm"],
            Want::Tolerance(_) => &["%"],
            Want::Attribute(Unit::Farad) => &["%", "V", "pF"],
            Want::Attribute(Unit::Henry) => &["%", "A"],
            Want::Attribute(_) => &["%", "W", "V"],
            Want::Number | Want::Any => &[],
        }
    }

    /// The unit symbols without prefix to offer behind a figure that has a prefix already. Ampere-hours, teslas and the
    /// like are not on the list, so one or two fit each place.
    pub(crate) fn offers_behind_prefix(self, prefix: Prefix) -> &'static [Unit] {
        match self {
            Want::ResistorValue | Want::Resistance | Want::Tolerance(Unit::Ohm) => &[Unit::Ohm],
            Want::CapacitorValue | Want::Capacitance | Want::Tolerance(Unit::Farad) => &[Unit::Farad],
            Want::InductorValue | Want::Inductance | Want::Tolerance(Unit::Henry) => &[Unit::Henry],
            Want::Frequency | Want::Tolerance(Unit::Hertz) => &[Unit::Hertz],
            Want::Time | Want::Tolerance(Unit::Second) => &[Unit::Second],
            Want::Voltage | Want::Tolerance(Unit::Volt) => &[Unit::Volt],
            Want::Current | Want::Tolerance(Unit::Ampere) => &[Unit::Ampere],
            Want::Source | Want::Level => &[Unit::Volt, Unit::Ampere],
            Want::Power | Want::Tolerance(Unit::Watt) => &[Unit::Watt],
            Want::NoiseDensity => &[Unit::VoltPerRootHertz, Unit::AmperePerRootHertz],
            Want::Attribute(Unit::Farad) => &[Unit::Farad, Unit::Volt],
            Want::Attribute(_) => &[Unit::Volt, Unit::Watt],
            Want::Any if prefix > Prefix::Unity => &[Unit::Ohm, Unit::Hertz],
            Want::Any if prefix == Prefix::Milli => &[Unit::Volt, Unit::Second, Unit::Henry],
            Want::Any => &[Unit::Farad, Unit::Second, Unit::Ampere],
            _ => &[],
        }
    }
}
