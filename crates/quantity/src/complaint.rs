//! The words for what is wrong with a figure, and the replacements that are offered.

use crate::figure::{Figure, take_apart};
use crate::read::Reading;
use crate::{Fault, FaultKind, Prefix, Unit, Want, canonical};

impl Reading<'_> {
    /// Decimal commas and points without a digit in front.
    pub(crate) fn lookalike(&self) -> Option<Fault> {
        let kind = FaultKind::Lookalike;
        let tail = self.unit.map(|unit| format!(" {unit}")).unwrap_or_default();
        if let Some(behind) = self.figure.strip_prefix('.') {
            if !behind.starts_with(|letter: char| letter.is_ascii_digit()) {
                return None;
            }
            let fix = format!("0{}{tail}", self.figure);
            let message = format!(
                "{} has no digit before its point, which is easily overlooked: {fix}.",
                self.text()
            );
            return Some(self.fault(kind, message, vec![fix]));
        }
        let (whole, part) = self.figure.split_once(',')?;
        if whole.is_empty()
            || !whole.bytes().all(|byte| byte.is_ascii_digit())
            || part.contains(',')
        {
            return None;
        }
        let digits = part.bytes().take_while(u8::is_ascii_digit).count();
        if digits == 0 {
            return None;
        }
        let pointed = format!("{whole}.{part}{tail}");
        if digits == 3 {
            let joined = format!("{whole}{part}{tail}");
            let message = format!(
                "{} could be {joined} or {pointed}: no commas in figures.",
                self.text()
            );
            return Some(self.fault(kind, message, vec![joined, pointed]));
        }
        Some(self.fault(
            kind,
            format!("{} has a comma for its point: {pointed}.", self.text()),
            vec![pointed],
        ))
    }

    /// A text that does not begin with a digit.
    pub(crate) fn no_figure(&self) -> Fault {
        let text = self.text();
        let mut letters = self.figure.chars();
        let code = letters
            .next()
            .is_some_and(|first| first == 'R' || first == 'K' || Prefix::read(first).is_some())
            && letters
                .as_str()
                .starts_with(|letter: char| letter.is_ascii_digit());
        let fix = format!("0{text}");
        if code && self.is_read(&fix) {
            let what = if self.figure.starts_with('R') {
                "a designator"
            } else {
                "a name"
            };
            let message = format!("{text} is {what}. As a value it has its digit in front: {fix}.");
            return self.fault(FaultKind::NoLeadingDigit, message, vec![fix]);
        }
        let message = match self.figure {
            "" => format!("{} is missing.", sentence(self.want.words())),
            _ => format!(
                "{text} is no figure, and {} belongs here. A figure begins with a digit.",
                self.want.words()
            ),
        };
        self.fault(FaultKind::NotAFigure, message, vec![])
    }

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
            let sized = parts.decimal.has_exponent || parts.decimal.is_zero();
            let fixes = match canonical(parts.decimal.value(0), unit)
                .filter(|fix| sized && self.is_read(fix))
            {
                Some(fix) => vec![fix],
                None => endings
                    .iter()
                    .map(|ending| format!("{number}{ending}"))
                    .collect(),
            };
            let message = format!("{number} has no prefix or unit: {}.", either(&fixes));
            return self.fault_from(parts.number_end, FaultKind::MissingPrefix, message, fixes);
        }
        let offers = self.want.offers();
        let fixes = offers
            .iter()
            .map(|symbol| format!("{number} {symbol}"))
            .collect();
        let message = format!("{number} of what? {}.", either(offers));
        self.fault_from(parts.number_end, FaultKind::MissingUnit, message, fixes)
    }

    /// A prefix, and no unit where one is needed.
    pub(crate) fn prefix_without_unit(&self, parts: &Figure, prefix: Prefix) -> Fault {
        let number = parts.decimal.text();
        // The unit signs of source text: √ is on no keyboard's first level, and is how the trade writes it all the same.
        let fixes: Vec<String> = self
            .want
            .offers_behind_prefix()
            .iter()
            .map(|unit| format!("{number} {}{}", prefix.symbol(true), source_symbol(*unit)))
            .filter(|fix| self.is_read(fix))
            .collect();
        let message = match fixes.as_slice() {
            [] => {
                let offers = self.want.offers();
                format!(
                    "{} of what? {} belongs here, in {}.",
                    self.figure,
                    self.want.words(),
                    either(offers)
                )
            }
            fixes => format!("{} of what? {}.", self.figure, either(fixes)),
        };
        self.fault_from(parts.number_end, FaultKind::MissingUnit, message, fixes)
    }

    /// A symbol behind a bare number that is no unit.
    pub(crate) fn strange_unit(&self, parts: &Figure, symbol: &str) -> Fault {
        let number = self.figure;
        let mut letters = symbol.chars();
        let first = letters.next().unwrap_or_default();
        if letters.next().is_none() && (Prefix::read(first).is_some() || matches!(first, 'K' | 'R'))
        {
            let letter = if first == 'K' {
                "k".into()
            } else {
                symbol.to_string()
            };
            let glued = format!("{number}{letter}");
            // Where a prefix is not enough, its unit is offered with it.
            let fixes = if self.is_read(&glued) {
                vec![glued]
            } else {
                let with_prefix = Reading {
                    figure: &glued,
                    unit: None,
                    want: self.want,
                };
                let parts = take_apart(&glued);
                let prefix = Prefix::read(first).or((first == 'K').then_some(Prefix::Kilo));
                match (parts, prefix) {
                    (Some(parts), Some(prefix)) => {
                        with_prefix.prefix_without_unit(&parts, prefix).fixes
                    }
                    _ => vec![],
                }
            };
            let message = match fixes.first() {
                Some(fix) => {
                    format!("{number} {symbol} has a blank before its bare {symbol}: {fix}.")
                }
                None => format!(
                    "{number} {symbol}: {symbol} is no unit, and {} belongs here.",
                    self.want.words()
                ),
            };
            return self.fault_from(number.len(), FaultKind::BlankBeforePrefix, message, fixes);
        }
        let fixes = self
            .near(symbol)
            .into_iter()
            .map(|near| format!("{number} {near}"));
        let fixes: Vec<String> = fixes.filter(|fix| self.is_read(fix)).collect();
        let message = self.unknown_words(symbol, &fixes);
        self.fault_from(parts.number_end, FaultKind::UnknownUnit, message, fixes)
    }

    /// A prefix in the figure and its unit, or another unit, behind the blank.
    pub(crate) fn prefix_apart(&self, parts: &Figure, prefix: Prefix, symbol: &str) -> Fault {
        let number = parts.decimal.text();
        let together = format!("{number} {}{symbol}", prefix.symbol(true));
        let alone = format!("{number} {symbol}");
        let text = self.text();
        if self.is_read(&together) {
            let message = format!("{text} has its prefix apart from its unit: {together}.");
            return self.fault_from(
                parts.number_end,
                FaultKind::PrefixApart,
                message,
                vec![together],
            );
        }
        let fixes: Vec<String> = Some(alone)
            .filter(|fix| self.is_read(fix))
            .into_iter()
            .collect();
        let message = match (Unit::read(symbol), fixes.first()) {
            (None, _) => format!(
                "{text}: {symbol} is no unit, and {} belongs here.",
                self.want.words()
            ),
            (Some((_, power)), Some(fix)) if power != 0 => {
                format!("{text} has two prefixes: {fix} has one.")
            }
            (Some((unit, _)), Some(fix)) => {
                format!("{text}: {} takes no prefix. {fix} has none.", unit.name())
            }
            (Some((unit, _)), None) => self.wrong_words(unit),
        };
        self.fault_from(parts.number_end, FaultKind::PrefixApart, message, fixes)
    }

    /// A unit in the figure and one behind it.
    pub(crate) fn two_units(&self, parts: &Figure, unit: Unit, symbol: &str) -> Fault {
        // 47R ohm says one thing twice.
        let same = Unit::read(symbol).is_some_and(|(second, _)| second == unit);
        let fixes = vec![self.figure.to_string()]
            .into_iter()
            .filter(|fix| same && self.is_read(fix))
            .collect();
        let message = match same {
            true => format!("{} has its unit twice.", self.text()),
            false => format!(
                "{} has two units: {} and {symbol}.",
                self.text(),
                &self.figure[parts.number_end..]
            ),
        };
        self.fault_from(self.figure.len(), FaultKind::TwoUnits, message, fixes)
    }

    /// `10.`, `1e`
    pub(crate) fn broken_off(&self, parts: &Figure) -> Fault {
        let number = &self.figure[..parts.number_end];
        let tail = &self.figure[parts.number_end..];
        let unit = self.unit.map(|unit| format!(" {unit}")).unwrap_or_default();
        let (message, candidates) = match tail {
            "." => (
                format!("{} breaks off behind its point.", self.figure),
                vec![format!("{number}{unit}")],
            ),
            _ => (
                format!(
                    "{} breaks off: behind e stands the power of ten, as in {number}e3.",
                    self.figure
                ),
                vec![format!("{number}R")],
            ),
        };
        let fixes = candidates
            .into_iter()
            .filter(|fix| self.is_read(fix))
            .collect();
        self.fault_from(parts.number_end, FaultKind::Unfinished, message, fixes)
    }

    /// `22E`, `4E7`
    pub(crate) fn capital_e(&self, parts: &Figure, behind: &str) -> Fault {
        let number = &self.figure[..parts.number_end];
        let unit = self.unit.map(|unit| format!(" {unit}")).unwrap_or_default();
        let candidates = [
            format!("{number}R{behind}{unit}"),
            format!("{number}e{behind}{unit}"),
        ]
        .map(|fix| self.said(fix));
        let said: Vec<(String, String)> = candidates.into_iter().flatten().collect();
        let words: Vec<String> = said
            .iter()
            .map(|(fix, words)| format!("{words} is {fix}"))
            .collect();
        let message = match words.as_slice() {
            [] => format!(
                "{} breaks off: a power of ten has a small e, as in {number}e3.",
                self.figure
            ),
            [one] => format!("{}: E is not read in figures. {one}.", self.text()),
            [one, two, ..] => format!("{} could be two values: {one}, {two}.", self.text()),
        };
        let kind = if words.is_empty() {
            FaultKind::Unfinished
        } else {
            FaultKind::CapitalE
        };
        let fixes = said.into_iter().map(|(fix, _)| fix).collect();
        self.fault_from(parts.number_end, kind, message, fixes)
    }

    /// A fix with its value as a person reads it, if it is read at this place.
    fn said(&self, fix: String) -> Option<(String, String)> {
        let (figure, unit) = match fix.split_once(' ') {
            Some((figure, unit)) => (figure, Some(unit)),
            None => (fix.as_str(), None),
        };
        let (quantity, _) = crate::read(figure, unit, self.want).ok()?;
        let words = crate::exact(quantity.value, quantity.unit, crate::Style::default())?;
        Some((fix, words))
    }

    /// `K` elsewhere than in a resistor's value.
    pub(crate) fn capital_k(&self, parts: &Figure) -> Fault {
        let small = self.figure.replacen('K', "k", 1);
        let fixes = match take_apart(&small) {
            _ if self.is_read(&small) => vec![small],
            Some(parts) => Reading {
                figure: &small,
                unit: None,
                want: self.want,
            }
            .small_k_fixes(&parts),
            None => vec![],
        };
        let fix = fixes
            .first()
            .map(|fix| format!(": {fix}"))
            .unwrap_or_default();
        let message = format!(
            "{}: kilo is a small k, K is read in a resistor's value only{fix}.",
            self.text()
        );
        self.fault_from(parts.number_end, FaultKind::CapitalK, message, fixes)
    }

    fn small_k_fixes(&self, parts: &Figure) -> Vec<String> {
        self.prefix_without_unit(parts, Prefix::Kilo).fixes
    }

    /// `5V1`
    pub(crate) fn unit_for_point(&self, number: &str, symbol: &str) -> Fault {
        let fix = format!("{number} {symbol}");
        let fixes: Vec<String> = vec![fix]
            .into_iter()
            .filter(|fix| self.unit.is_none() && self.is_read(fix))
            .collect();
        let message = match fixes.first() {
            Some(fix) => format!(
                "{} has its unit in the place of the point: {fix}.",
                self.text()
            ),
            None => format!(
                "{} is no figure, and {} belongs here.",
                self.text(),
                self.want.words()
            ),
        };
        self.fault(FaultKind::UnknownUnit, message, fixes)
    }

    /// Letters behind the number that are nothing.
    pub(crate) fn unknown(&self, parts: &Figure, tail: &str) -> Fault {
        let number = &self.figure[..parts.number_end];
        let fixes = self
            .near(tail)
            .into_iter()
            .map(|near| format!("{number}{near}"));
        let fixes: Vec<String> = fixes
            .filter(|fix| self.unit.is_none() && self.is_read(fix))
            .collect();
        let message = self.unknown_words(tail, &fixes);
        self.fault_from(parts.number_end, FaultKind::UnknownUnit, message, fixes)
    }

    fn unknown_words(&self, symbol: &str, fixes: &[String]) -> String {
        match fixes {
            [] => format!(
                "{}: {symbol} is no unit or prefix that is read here.",
                self.text()
            ),
            fixes => format!("{}: {symbol} is not read. {}.", self.text(), either(fixes)),
        }
    }

    /// A unit of another kind.
    pub(crate) fn wrong_unit(&self, parts: &Figure, unit: Unit) -> Fault {
        let number = parts.decimal.text();
        let candidates: &[&str] = match (unit, self.want) {
            (Unit::Decibel, Want::Level) => &["dBu", "dBV"],
            (Unit::Dbu | Unit::Dbv, Want::Gain | Want::Decibels) => &["dB"],
            (Unit::Percent, Want::Tolerance(_)) => &["dB"],
            _ => &[],
        };
        let fixes: Vec<String> = candidates
            .iter()
            .map(|symbol| format!("{number} {symbol}"))
            .filter(|fix| *fix != self.text() && self.is_read(fix))
            .collect();
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
                format!("{text} is a gain; a level says what it is counted from.")
            }
            (_, want) => format!(
                "{text} is {}, and {} belongs here.",
                unit.measures(),
                want.words()
            ),
        }
    }

    /// Infinite, or zero without being written so.
    pub(crate) fn out_of_reach(&self, value: f64) -> Fault {
        let side = if value == 0.0 { "smaller" } else { "greater" };
        let message = format!(
            "{} is {side} than any value that can be reckoned with.",
            self.text()
        );
        self.fault(FaultKind::OutOfReach, message, vec![])
    }
}

/// The symbol that source text has: ASCII but for the root.
fn source_symbol(unit: Unit) -> &'static str {
    match unit {
        Unit::VoltPerRootHertz | Unit::AmperePerRootHertz => unit.symbol(false),
        _ => unit.symbol(true),
    }
}

/// `a`, `a or b`, `a, b or c`.
fn either<T: AsRef<str>>(items: &[T]) -> String {
    let items: Vec<&str> = items.iter().map(AsRef::as_ref).collect();
    match items.as_slice() {
        [] => String::new(),
        [one] => one.to_string(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}
