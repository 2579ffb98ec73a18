//! Reading a figure: text, a unit that may follow it, and what the place wants.

use crate::caution::{Caution, caution};
use crate::decimal::LONGEST;
use crate::figure::{Figure, Tail, take_apart};
use crate::{Fault, FaultKind, Prefix, Quantity, Unit, Want};

/// Reads a figure.
///
/// `figure` is a word that begins with a digit (`4k7`, `22uF`, `12dB`, `1e3`), `unit` the unit symbol, `%` or stray prefix
/// that stands behind it after an optional blank (`10 kHz`, `5 %`, `10 k`), `want` what the place wants.
///
/// The value is the binary number nearest to the decimal one that is written: `2u2` is exactly what the literal `2.2e-6`
/// is. A [`Caution`] comes with a value whose size points to a slip of the prefix. A [`Fault`] is never resolved by a
/// guess: its `fixes` are offers. No text makes this function panic, and it takes time in proportion to the text.
pub fn read(figure: &str, unit: Option<&str>, want: Want) -> Result<(Quantity, Option<Caution>), Fault> {
    let unit = unit.filter(|unit| !unit.is_empty());
    Reading { figure, unit, want }.read()
}

/// One figure at its place.
pub(crate) struct Reading<'a> {
    pub figure: &'a str,
    pub unit: Option<&'a str>,
    pub want: Want,
}

impl Reading<'_> {
    fn read(&self) -> Result<(Quantity, Option<Caution>), Fault> {
        if self.figure.len() > LONGEST || self.unit.is_some_and(|unit| unit.len() > LONGEST) {
            let message = format!("A figure of {} characters is longer than any that is read.", self.figure.len());
            return Err(self.fault(FaultKind::NotAFigure, message, vec![]));
        }
        if let Some(fault) = self.lookalike() {
            return Err(fault);
        }
        let Some(parts) = take_apart(self.figure) else {
            return Err(self.no_figure());
        };
        match (&parts.tail, self.unit) {
            (Tail::Bare, None) => match self.want.bare() {
                Some(unit) => self.value(&parts, unit, 0, false, Prefix::Unity),
                None => Err(self.bare(&parts)),
            },
            (Tail::Bare, Some(symbol)) => match Unit::read(symbol) {
                Some((unit, power)) => self.value(&parts, unit, power, true, Prefix::Unity),
                None => Err(self.strange_unit(&parts, symbol)),
            },
            (Tail::Prefix { prefix, capital_k }, None) => {
                if *capital_k && self.want != Want::ResistorValue {
                    return Err(self.capital_k(&parts));
                }
                match self.want.prefixed() {
                    Some(unit) => self.value(&parts, unit, prefix.power(), false, *prefix),
                    None => Err(self.prefix_without_unit(&parts, *prefix)),
                }
            }
            (Tail::Prefix { prefix, .. }, Some(symbol)) => Err(self.prefix_apart(&parts, *prefix, symbol)),
            (Tail::Unit { unit, power, capital_k }, None) => {
                if *capital_k && self.want != Want::ResistorValue {
                    return Err(self.capital_k(&parts));
                }
                self.value(&parts, *unit, *power, true, Prefix::Unity)
            }
            (Tail::Unit { unit, .. }, Some(symbol)) => Err(self.two_units(&parts, *unit, symbol)),
            (Tail::BrokenOff, _) => Err(self.broken_off(&parts)),
            (Tail::CapitalE(behind), _) => Err(self.capital_e(&parts, behind)),
            (Tail::UnitForPoint { number, symbol }, _) => Err(self.unit_for_point(number, symbol)),
            (Tail::Unknown(tail), _) => Err(self.unknown(&parts, tail)),
        }
    }

    /// The figure as it stands, unit included.
    pub(crate) fn text(&self) -> String {
        match self.unit {
            Some(unit) => format!("{} {unit}", self.figure),
            None => self.figure.to_string(),
        }
    }

    /// The length of figure and unit without the blank.
    pub(crate) fn length(&self) -> usize {
        self.figure.len() + self.unit.map_or(0, str::len)
    }

    fn value(
        &self,
        parts: &Figure,
        unit: Unit,
        power: i32,
        written_unit: bool,
        prefix: Prefix,
    ) -> Result<(Quantity, Option<Caution>), Fault> {
        if !self.want.takes(unit) {
            return Err(self.wrong_unit(parts, unit));
        }
        let value = parts.decimal.value(power);
        if !value.is_finite() || (value == 0.0 && !parts.decimal.is_zero()) {
            return Err(self.out_of_reach(value));
        }
        let caution =
            if written_unit { None } else { caution(&self.text(), &parts.decimal, prefix, value, unit, self.want) };
        Ok((Quantity { value, unit, written_unit }, caution))
    }

    /// What another text says at this place.
    pub(crate) fn with(&self, text: &str) -> Result<(Quantity, Option<Caution>), Fault> {
        let (figure, unit) = match text.split_once(' ') {
            Some((figure, unit)) => (figure, Some(unit)),
            None => (text, None),
        };
        Reading { figure, unit, want: self.want }.read()
    }

    /// Whether another text is read at this place.
    pub(crate) fn reads(&self, text: &str) -> bool {
        self.with(text).is_ok()
    }

    /// A fault over the whole text.
    pub(crate) fn fault(&self, kind: FaultKind, message: String, fixes: Vec<String>) -> Fault {
        Fault { kind, range: 0..self.length(), message, fixes }
    }

    /// A fault from this byte on.
    pub(crate) fn fault_from(&self, start: usize, kind: FaultKind, message: String, fixes: Vec<String>) -> Fault {
        Fault { kind, range: start.min(self.length())..self.length(), message, fixes }
    }
}
