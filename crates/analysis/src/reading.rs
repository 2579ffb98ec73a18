//! The one type that everything visible is made of.

use circuit::Name;
use num_complex::Complex64;
use quantity::Unit;

/// A question's answer: value, unit, what it belongs to, how sure it is, and its working.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The question in the notation's words.
    pub phrase: Name,
    /// What kind of quantity it is, for printing.
    pub kind: Kind,
    /// At rest, or at the position that was asked for.
    pub value: Value,
    /// In SI units without prefix.
    pub unit: Unit,
    /// The position that was asked for, if one was.
    pub setting: Option<Name>,
    /// Where it is taken.
    pub place: Place,
    /// How sure it is.
    pub status: Status,
    /// Over the positions examined, where a control moves it; of a gain over a band, over the band.
    pub range: Option<Range>,
    /// Why there is no range though several positions were to be examined.
    pub gap: Option<String>,
    /// How it was had, line by line, as a careful person would write it.
    pub working: Vec<String>,
}

/// The kinds of quantity, as far as printing tells them apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// A voltage over a voltage.
    Gain,
    /// An angle.
    Phase,
    /// The lower end of an interval of frequency.
    LowCorner,
    /// The upper end.
    HighCorner,
    /// A voltage over a current.
    Impedance,
    /// A signal's level in volts rms, which the trade tells in dBu too.
    Level,
    /// A margin of stability: infinite where it is unconditional, below every number where the circuit grows by itself.
    Margin,
    /// A plain value in its unit.
    Plain,
}

/// A value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// There is none: see the status, or the range.
    None,
    /// A real number.
    Real(f64),
    /// A complex number.
    Complex(Complex64),
    /// No corner: the response never leaves its interval on that side.
    Never,
}

/// Where a reading is taken.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// At one frequency, in hertz.
    At(f64),
    /// Over a band, in hertz.
    Over(f64, f64),
    /// Against the response at this frequency.
    Against(f64),
}

/// How sure a reading is.
#[derive(Clone, Debug, PartialEq)]
pub enum Status {
    /// It follows from the text.
    Exact,
    /// It rests on a typical figure of these data sheets.
    Typical(Vec<Name>),
    /// It is not known: a clause that says what is missing.
    Unknown(String),
}

/// The least and the greatest that was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Range {
    /// The ends, as printed: of a gain its magnitude; in a control's own order where one control moves it.
    pub ends: [End; 2],
    /// The controls that were moved.
    pub controls: Vec<Name>,
    /// How many positions were examined.
    pub examined: usize,
    /// How many combinations the controls have; `None` beyond counting.
    pub combinations: Option<usize>,
    /// Of a gain: least and greatest of its ratio, each position with its own sign; or why one of them has no sign: a clause.
    pub ratio: Option<Result<[End; 2], String>>,
    /// Of a gain: where it turns the signal over.
    pub inverts: Inverts,
    /// Of a phase: what each position gives, in degrees; over a band followed without jumps.
    pub angles: Vec<([f64; 2], Name)>,
}

/// Where a gain turns the signal over.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Inverts {
    /// At no position.
    #[default]
    Nowhere,
    /// At some positions.
    Somewhere,
    /// At every position that lets a signal through.
    Everywhere,
}

/// An end of a range.
#[derive(Clone, Debug, PartialEq)]
pub struct End {
    /// Magnitude of a gain, or the value; `None` where it is not known or there is no corner.
    pub value: Option<f64>,
    /// The position at which it was found.
    pub position: Name,
}

impl Reading {
    /// The clause that says what is missing, if it is not known.
    pub fn unknown(&self) -> Option<&str> {
        match &self.status {
            Status::Unknown(why) => Some(why),
            _ => None,
        }
    }

    /// Whether it is a gain that turns the signal over where the controls rest: within 45° of 180°.
    pub fn inverts(&self) -> bool {
        matches!((self.kind, self.value), (Kind::Gain, Value::Complex(z)) if z.re < 0.0 && z.im.abs() <= -z.re)
    }

    /// The value's magnitude: of a gain |G|, of an impedance |Z|, with a minus sign for a negative resistance
    /// ([`crate::print::resistance`]).
    pub fn magnitude(&self) -> Option<f64> {
        match self.value {
            Value::Real(x) => Some(x),
            Value::Complex(z) if self.kind == Kind::Impedance => Some(crate::print::resistance(z)),
            Value::Complex(z) => Some(z.norm()),
            Value::None | Value::Never => None,
        }
    }
}
