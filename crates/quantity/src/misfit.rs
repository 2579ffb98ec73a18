//! The words for a unit that is missing, unknown or of another kind, and the replacements that are offered.

use crate::figure::Figure;
use crate::misspelt::is_bare_prefix;
use crate::read::Reading;
use crate::words::either;
use crate::{Fault, FaultKind, Prefix, Unit, Want, canonical, read_tolerance_letter, suggestions};

impl Reading<'_> {
    /// A bare number where a unit is needed.
    pub(crate) fn bare(&self, parts: &Figure) -> Fault {
        let number = parts.decimal.text();
        let reactive = match self.want {
            Want::CapacitorValue => Some((Unit::Farad, ["p", "n", "u"])),
            Want::InductorValue => Some((Unit::Henry, ["u", "m", " H"])),
            _ => None,
        };
        if let Some((unit, endings)) = reactive {
            // 2e-9 says its size already, and 0 is 0 in any unit.
            let value = parts.decimal.value(0);
            let sized = (parts.decimal.has_exponent && value < 1.0) || parts.decimal.is_zero();
            let same = canonical(value, unit).filter(|fix| sized && self.reads(fix));
            let fixes = match same {
                Some(fix) => vec![fix],
                None => endings.iter().map(|ending| format!("{number}{ending}")).collect(),
            };
            let fixes = self.readable(fixes);
            let message = match fixes.as_slice() {
                [] => format!("{number} has no prefix or unit."),
                fixes => format!("{number} has no prefix or unit: {}.", either(fixes)),
            };
            return self.fault_from(parts.number_end, FaultKind::MissingPrefix, message, fixes);
        }
        let offers = self.want.offers();
        let fixes = self.readable(offers.iter().map(|symbol| format!("{number} {symbol}")).collect());
        let message = format!("{number} of what? {}.", either(offers));
        self.fault_from(parts.number_end, FaultKind::MissingUnit, message, fixes)
    }

    /// A prefix, and no unit where one is needed.
    pub(crate) fn prefix_without_unit(&self, parts: &Figure, prefix: Prefix) -> Fault {
        let number = parts.decimal.text();
        let units = self.want.offers_behind_prefix(prefix);
        let written = |unit: &Unit| format!("{number} {}{}", prefix.symbol(true), source_symbol(*unit));
        let fixes = self.readable(units.iter().map(written).collect());
        let message = match fixes.as_slice() {
            [] => {
                let (place, offers) = (self.want.words(), either(self.want.offers()));
                format!("{} of what? {place} belongs here, in {offers}.", self.figure)
            }
            fixes => format!("{} of what? {}.", self.figure, either(fixes)),
        };
        self.fault_from(parts.number_end, FaultKind::MissingUnit, message, fixes)
    }

    /// A symbol behind a bare number that is no unit.
    pub(crate) fn strange_unit(&self, parts: &Figure, symbol: &str) -> Fault {
        if is_bare_prefix(symbol) {
            return self.blank_before_prefix(symbol);
        }
        let near = self.near(symbol);
        let mut fixes: Vec<String> = near.iter().map(|near| format!("{} {near}", self.figure)).collect();
        // A resistor's value is mostly written without its unit.
        if let ([one], Want::ResistorValue) = (&near[..], self.want)
            && let Some(prefix) = one.strip_suffix("ohm")
        {
            fixes.insert(0, format!("{}{prefix}", self.figure));
        }
        self.unknown_unit(parts, symbol, self.readable(fixes))
    }

    /// Letters behind the number that are nothing.
    pub(crate) fn unknown(&self, parts: &Figure, tail: &str) -> Fault {
        let number = &self.figure[..parts.number_end];
        let near = self.near(tail).into_iter().map(|near| format!("{number}{near}"));
        let fixes = if self.unit.is_some() { vec![] } else { self.readable(near.collect()) };
        self.unknown_unit(parts, tail, fixes)
    }

    /// A value as it is printed on a part, with the letter of its tolerance: `4K7F`, `47nK`.
    fn marked(&self) -> Option<Fault> {
        // What is printed on a part has its multiplier: 22uF on a resistor is a capacitance.
        let multipliers = match self.want {
            Want::ResistorValue => &['R', 'k', 'K', 'M', 'G'][..],
            Want::CapacitorValue => &['p', 'n', 'u', 'µ'],
            _ => return None,
        };
        let letter = self.figure.chars().next_back()?;
        let value = &self.figure[..self.figure.len() - letter.len_utf8()];
        let is_mark = value.contains(multipliers) && self.reads(value);
        let tolerance = read_tolerance_letter(letter).filter(|t| t.below == t.above && is_mark)?;
        let fix = format!("{value} {}%", tolerance.below);
        let message = format!(
            "{} has the letter of a tolerance, which is written out here: {letter} is {} %, {fix}.",
            self.text(),
            tolerance.below
        );
        Some(self.fault_from(value.len(), FaultKind::UnknownUnit, message, vec![fix]))
    }

    fn unknown_unit(&self, parts: &Figure, symbol: &str, fixes: Vec<String>) -> Fault {
        if let Some(marked) = self.marked().filter(|_| fixes.is_empty()) {
            return marked;
        }
        let text = self.text();
        let message = match fixes.as_slice() {
            [] => format!("{text}: {symbol} is no unit or prefix that is read here."),
            fixes => format!("{text} is written {}.", either(fixes)),
        };
        self.fault_from(parts.number_end, FaultKind::UnknownUnit, message, fixes)
    }

    /// A prefix in the figure and its unit, or another unit, behind the blank.
    pub(crate) fn prefix_apart(&self, parts: &Figure, prefix: Prefix, symbol: &str) -> Fault {
        let number = parts.decimal.text();
        let text = self.text();
        let together = format!("{number} {}{symbol}", prefix.symbol(true));
        if self.reads(&together) {
            let message = format!("{text} has its prefix apart from its unit: {together}.");
            return self.fault_from(parts.number_end, FaultKind::PrefixApart, message, vec![together]);
        }
        let alone = self.readable(vec![format!("{number} {symbol}")]);
        let (message, fixes) = match (Unit::read(symbol), alone.first()) {
            (None, _) => {
                let near = self.near(symbol).into_iter().map(|near| format!("{number} {}{near}", prefix.symbol(true)));
                let near = self.readable(near.collect());
                let message = match near.as_slice() {
                    [] => format!("{text}: {symbol} is no unit, and {} belongs here.", self.want.words()),
                    fixes => format!("{text} is written {}.", either(fixes)),
                };
                (message, near)
            }
            (Some((_, power)), Some(fix)) if power != 0 => {
                (format!("{text} has two prefixes, and one is read: {fix}."), alone)
            }
            (Some((unit, _)), Some(fix)) => {
                (format!("{text} has a prefix, and {} takes none: {fix}.", unit.name()), alone)
            }
            (Some((unit, _)), None) => (self.wrong_words(unit), alone),
        };
        self.fault_from(parts.number_end, FaultKind::PrefixApart, message, fixes)
    }

    /// A unit in the figure and one behind it.
    pub(crate) fn two_units(&self, parts: &Figure, unit: Unit, symbol: &str) -> Fault {
        let first = &self.figure[parts.number_end..];
        // 47R ohm says one thing twice.
        let same = Unit::read(symbol).is_some_and(|(second, _)| second == unit);
        let fixes = if same { self.readable(vec![self.figure.to_string()]) } else { vec![] };
        let message = match fixes.first() {
            Some(fix) => format!("{} has its unit twice: {fix} is enough.", self.text()),
            None => format!("{} has two units, {first} and {symbol}.", self.text()),
        };
        self.fault_from(self.figure.len(), FaultKind::TwoUnits, message, fixes)
    }

    /// A unit of another kind.
    pub(crate) fn wrong_unit(&self, parts: &Figure, unit: Unit) -> Fault {
        if let Some(marked) = self.marked() {
            return marked;
        }
        let number = parts.decimal.text();
        let candidates: &[&str] = match (unit, self.want) {
            (Unit::Decibel, Want::Level) => &["dBu", "dBV"],
            (Unit::Dbu | Unit::Dbv, Want::Gain | Want::Decibels) => &["dB"],
            (Unit::Percent, Want::Tolerance(of)) if of.is_logarithmic() => &["dB"],
            _ => &[],
        };
        let fixes = self.readable(candidates.iter().map(|symbol| format!("{number} {symbol}")).collect());
        let mut message = self.wrong_words(unit);
        if !fixes.is_empty() {
            message = format!("{message} {}.", either(&fixes));
        }
        self.fault_from(parts.number_end, FaultKind::WrongUnit, message, fixes)
    }

    fn wrong_words(&self, unit: Unit) -> String {
        let text = self.text();
        match (unit, self.want) {
            (Unit::Percent, Want::Tolerance(of)) if of.is_logarithmic() => {
                format!("{text} of a figure in decibels says nothing: a tolerance in dB does.")
            }
            (Unit::Decibel, Want::Level) => {
                format!("{text} is a gain, and a level says what it is counted from.")
            }
            (_, want) => format!("{text} is {}, and {} belongs here.", unit.measures(), want.words()),
        }
    }

    /// Suggestions for a symbol that is not read, those first that the place takes.
    fn near(&self, symbol: &str) -> Vec<String> {
        let (mut taken, others): (Vec<String>, Vec<String>) = suggestions(symbol)
            .into_iter()
            .partition(|text| Unit::read(text).is_some_and(|(unit, _)| self.want.takes(unit)));
        taken.extend(others);
        taken
    }

    /// Those of the fixes that are read at this place.
    fn readable(&self, fixes: Vec<String>) -> Vec<String> {
        fixes.into_iter().filter(|fix| self.reads(fix)).collect()
    }
}

/// The symbol that source text has: ASCII but for the root, which the trade writes and a data sheet's text brings along.
fn source_symbol(unit: Unit) -> &'static str {
    match unit {
        Unit::VoltPerRootHertz | Unit::AmperePerRootHertz => unit.symbol(false),
        _ => unit.symbol(true),
    }
}
