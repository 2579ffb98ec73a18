//! The words for a figure that is misspelt, and the replacements that are offered.

use crate::figure::Figure;
use crate::read::Reading;
use crate::words::{either, sentence};
use crate::{Fault, FaultKind, Prefix, Style, Unit, exact};

impl Reading<'_> {
    /// Decimal commas and points without a digit in front.
    pub(crate) fn lookalike(&self) -> Option<Fault> {
        let text = self.text();
        let digit = |letter: char| letter.is_ascii_digit();
        let (fixes, message) = if let Some(behind) = self.figure.strip_prefix('.') {
            if !behind.starts_with(digit) {
                return None;
            }
            (self.mended(format!("0{text}")), "has no digit before its point, which is easily overlooked")
        } else {
            let (whole, part) = self.figure.split_once(',')?;
            let count = part.chars().take_while(|letter| digit(*letter)).count();
            if whole.is_empty() || !whole.chars().all(digit) || part.contains(',') || count == 0 {
                return None;
            }
            let pointed = self.mended(self.with_unit(&format!("{whole}.{part}")));
            // 1,500 is fifteen hundred for one half of the world and one and a half for the other.
            if count == 3 {
                let mut fixes = self.mended(self.with_unit(&format!("{whole}{part}")));
                fixes.extend(pointed);
                (fixes, "has a comma, which could part thousands or stand for the point")
            } else {
                (pointed, "has a comma where the point belongs")
            }
        };
        let message = offer(format!("{text} {message}"), &fixes);
        Some(self.fault(FaultKind::Lookalike, message, fixes))
    }

    /// A text that does not begin with a digit.
    pub(crate) fn no_figure(&self) -> Fault {
        let text = self.text();
        let mut letters = self.figure.chars();
        let letter = letters.next().unwrap_or_default();
        let code = (matches!(letter, 'R' | 'K') || Prefix::read(letter).is_some())
            && letters.as_str().starts_with(|letter: char| letter.is_ascii_digit());
        if code {
            let fixes = self.mended(format!("0{text}"));
            if !fixes.is_empty() {
                let what = if letter == 'R' { "a designator" } else { "a name" };
                let message = format!("{text} is {what}. As a value it has its digit in front");
                return self.fault(FaultKind::NoLeadingDigit, offer(message, &fixes), fixes);
            }
        }
        let place = self.want.words();
        let message = match self.figure {
            "" => format!("{} is missing.", sentence(place)),
            _ => format!("{text} is no figure, and {place} belongs here. A figure begins with a digit."),
        };
        self.fault(FaultKind::NotAFigure, message, vec![])
    }

    /// `10.`, `1e`
    pub(crate) fn broken_off(&self, parts: &Figure) -> Fault {
        let (number, tail) = self.figure.split_at(parts.number_end);
        if tail == "." {
            let fixes = self.mended(self.with_unit(number));
            let message = offer(format!("{} breaks off behind its point", self.text()), &fixes);
            return self.fault_from(parts.number_end, FaultKind::Unfinished, message, fixes);
        }
        let mut message = format!("{} breaks off: behind e stands a power of ten, as in {number}e3.", self.figure);
        // An ohm sign of old drawings, which only a resistor's value can mean.
        let ohms = Some(format!("{number}R")).filter(|fix| self.want.bare() == Some(Unit::Ohm) && self.reads(fix));
        if let Some(fix) = &ohms {
            message = format!("{message} For ohms it is {fix}.");
        }
        self.fault_from(parts.number_end, FaultKind::Unfinished, message, ohms.into_iter().collect())
    }

    /// `22E`, `4E7`
    pub(crate) fn capital_e(&self, parts: &Figure, behind: &str) -> Fault {
        let number = &self.figure[..parts.number_end];
        let ohms = self.with_unit(&format!("{number}R{behind}"));
        let power = self.with_unit(&format!("{number}e{behind}"));
        let said = |fix: &String| self.said(fix).map(|words| format!("{words} is {fix}"));
        let (kind, message, fixes) = match (said(&ohms), said(&power)) {
            (Some(one), Some(two)) => {
                let message = format!("{} could be two values: {one}, {two}.", self.text());
                (FaultKind::CapitalE, message, vec![ohms, power])
            }
            (Some(words), None) => {
                let message = format!("{}: E is no ohm sign here. {}.", self.text(), words);
                (FaultKind::CapitalE, message, vec![ohms])
            }
            (None, Some(_)) => {
                let message = format!("{}: a power of ten has a small e: {power}.", self.text());
                (FaultKind::CapitalE, message, vec![power])
            }
            (None, None) if behind.is_empty() => {
                let message = format!("{} breaks off: a power of ten has a small e, as in {number}e3.", self.figure);
                (FaultKind::Unfinished, message, vec![])
            }
            (None, None) => {
                let fixes = self.mended(power);
                let message = offer(format!("{}: a power of ten has a small e", self.text()), &fixes);
                (FaultKind::CapitalE, message, fixes)
            }
        };
        self.fault_from(parts.number_end, kind, message, fixes)
    }

    /// The value of a fix as a person reads it, if it is read at this place.
    fn said(&self, fix: &str) -> Option<String> {
        let (quantity, _) = self.with(fix).ok()?;
        exact(quantity.value, quantity.unit, Style::default())
    }

    /// `K` elsewhere than in a resistor's value.
    pub(crate) fn capital_k(&self, parts: &Figure) -> Fault {
        let fixes = self.mended(self.figure.replacen('K', "k", 1));
        let message = format!("{}: kilo is a small k, K is read in a resistor's value only", self.text());
        self.fault_from(parts.number_end, FaultKind::CapitalK, offer(message, &fixes), fixes)
    }

    /// `5V1`
    pub(crate) fn unit_for_point(&self, number: &str, symbol: &str) -> Fault {
        let pointed = format!("{number} {symbol}");
        if self.unit.is_none() && self.reads(&pointed) {
            let message = format!("{} has its unit where the point belongs: {pointed}.", self.text());
            return self.fault(FaultKind::UnknownUnit, message, vec![pointed]);
        }
        let what = Unit::read(symbol).map_or("no figure", |(unit, _)| unit.measures());
        let message = format!("{} is {what}, and {} belongs here.", self.text(), self.want.words());
        self.fault(FaultKind::WrongUnit, message, vec![])
    }

    /// Infinite, or zero without being written so.
    pub(crate) fn out_of_reach(&self, value: f64) -> Fault {
        let side = if value == 0.0 { "smaller" } else { "greater" };
        let message = format!("{} is {side} than any value that can be reckoned with.", self.text());
        self.fault(FaultKind::OutOfReach, message, vec![])
    }

    /// A bare prefix behind a blank: `10 k`.
    pub(crate) fn blank_before_prefix(&self, symbol: &str) -> Fault {
        let letter = if symbol == "K" { "k" } else { symbol };
        let fixes = self.mended(format!("{}{letter}", self.figure));
        let message = match fixes.as_slice() {
            [] => format!("{}: {symbol} is no unit, and {} belongs here.", self.text(), self.want.words()),
            fixes => format!("{} has a blank before its {symbol}: {}.", self.text(), either(fixes)),
        };
        self.fault_from(self.figure.len(), FaultKind::BlankBeforePrefix, message, fixes)
    }

    /// The figure that a fix proposes, with the unit that stands behind the present one.
    fn with_unit(&self, figure: &str) -> String {
        match self.unit {
            Some(unit) => format!("{figure} {unit}"),
            None => figure.to_string(),
        }
    }

    /// A fix if it is read at this place, else the fixes of what is still wrong with it.
    ///
    /// Every caller takes something out of the text that cannot come back (a comma, an `E`, a `K`, a blank), so that this
    /// ends after a few steps.
    fn mended(&self, fix: String) -> Vec<String> {
        match self.with(&fix) {
            Ok(_) => vec![fix],
            Err(fault) => fault.fixes,
        }
    }
}

/// A sentence that ends in its fixes.
fn offer(message: String, fixes: &[String]) -> String {
    match fixes {
        [] => format!("{message}."),
        fixes => format!("{message}: {}.", either(fixes)),
    }
}

/// Whether a symbol behind a blank is a prefix without a unit, or the code's ohm sign.
pub(crate) fn is_bare_prefix(symbol: &str) -> bool {
    let mut letters = symbol.chars();
    let first = letters.next().unwrap_or_default();
    letters.next().is_none() && (Prefix::read(first).is_some() || matches!(first, 'K' | 'R'))
}
