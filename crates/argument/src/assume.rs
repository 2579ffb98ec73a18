//! Assumptions: what a neglect costs against what it may, in words.

use analysis::compare::{Band, Difference, Weak};
use circuit::{Allowed, Neglect};
use quantity::{Style, Unit};

use crate::Verdict;

/// What the neglects of one entry cost.
#[derive(Clone, Debug, PartialEq)]
pub struct Costs {
    /// How much each may.
    pub allowed: Allowed,
    /// Where it is looked for.
    pub band: Band,
    /// One a neglect.
    pub all: Vec<Cost>,
}

/// What one neglect costs.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// What is neglected: `C3`, `stage recorder`.
    pub name: String,
    /// How.
    pub neglect: Neglect,
    /// The quantity in which it costs most, as a phrase.
    pub on: String,
    /// What it costs, or why that is not known: a clause.
    pub found: Result<Difference, String>,
    /// The value that would mend it, where one would.
    pub mend: Option<Mend>,
}

/// A value of a part from which on it may be neglected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mend {
    /// In base units.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// Larger values do, too; else smaller ones.
    pub larger: bool,
}

impl Costs {
    /// What is allowed, in decibels of the greater magnitude over the lesser.
    pub fn limit(&self) -> f64 {
        match self.allowed {
            Allowed::Decibels(db) => db,
            Allowed::Share(x) => 20.0 * (1.0 + x).log10(),
        }
    }

    /// Whether all neglects keep to what is allowed.
    pub fn verdict(&self) -> Verdict {
        if self.all.iter().any(|c| c.found.as_ref().is_ok_and(|d| self.beyond(d))) {
            return Verdict::Fails;
        }
        match self.all.iter().find_map(|c| Some((c, c.found.as_ref().err()?))) {
            Some((_, why)) if self.all.len() == 1 => Verdict::Unknown(why.clone()),
            Some((cost, why)) => Verdict::Unknown(format!("of {} {why}", cost.name)),
            None => Verdict::Holds,
        }
    }

    fn beyond(&self, found: &Difference) -> bool {
        // Rounding in the last place is no failure.
        found.decibels.abs() > self.limit() * (1.0 + 1e-12)
    }

    /// An amount in the unit of what is allowed.
    fn amount(&self, decibels: f64) -> String {
        if decibels.is_infinite() {
            return "all of it".into();
        }
        let text = match self.allowed {
            Allowed::Decibels(_) => fine(decibels, "dB"),
            Allowed::Share(_) => fine((10f64.powf(decibels / 20.0) - 1.0) * 100.0, "%"),
        };
        text.trim_start_matches('−').to_string()
    }

    /// What is allowed, as written.
    pub fn allowed_text(&self) -> String {
        match self.allowed {
            Allowed::Decibels(db) => fine(db, "dB"),
            Allowed::Share(x) => fine(x * 100.0, "%"),
        }
    }

    /// Behind the line: `0.11 dB at 100 Hz, VR1 0 %`; of several each its own.
    pub fn hint(&self) -> String {
        let one = |c: &Cost| match &c.found {
            Ok(d) if d.decibels.abs() < NEGLIGIBLE => "costs nothing".to_string(),
            Ok(d) => format!("{}{}", self.amount(d.decibels.abs()), place(d)),
            Err(why) => format!("unknown: {why}"),
        };
        match &self.all[..] {
            [only] => one(only),
            all => all.iter().map(|c| format!("{} {}", c.name, one(c))).collect::<Vec<_>>().join(" · "),
        }
    }

    /// What is to be said of a neglect that costs too much.
    pub fn failure(&self, cost: &Cost) -> Option<String> {
        let found = cost.found.as_ref().ok().filter(|d| self.beyond(d))?;
        let how = match cost.neglect {
            Neglect::Short(_) => "as short",
            Neglect::Open(_) | Neglect::Undrawn(_) => "as open",
            Neglect::Ideal(_) => "as ideal",
        };
        let taken = format!("{} taken {how}", cost.name);
        let mut said = format!(
            "{taken} costs {} of {}{}, and {} is allowed",
            self.amount(found.decibels.abs()),
            cost.on,
            place(found),
            self.allowed_text()
        );
        let band = self.mended_band(found).map(|f| match self.band.weak {
            Weak::High => format!("it holds below {f}"),
            _ => format!("it holds above {f}"),
        });
        let value = cost.mend.map(|m| {
            let value = quantity::canonical(m.value, m.unit).unwrap_or_default();
            format!("{} of {value} or {} would do", cost.name, if m.larger { "more" } else { "less" })
        });
        let ways: Vec<String> = band.into_iter().chain(value).collect();
        if !ways.is_empty() {
            said += &format!(": {}", ways.join(", and "));
        }
        Some(said)
    }

    /// The end of a band over which a neglect holds, rounded to two digits to the safe side: `120 Hz`.
    pub fn mended_band(&self, found: &Difference) -> Option<String> {
        let kept = found.kept?;
        let step = 10f64.powf(kept.log10().floor() - 1.0);
        let rounded = match self.band.weak {
            Weak::Low => (kept / step - 1e-9).ceil() * step,
            _ => (kept / step + 1e-9).floor() * step,
        };
        let inside = rounded > self.band.low && rounded < self.band.high;
        quantity::canonical(rounded, Unit::Hertz).filter(|_| inside)
    }

    /// The lines of a hover: each neglect with its cost, its place and the phase beside it.
    pub fn working(&self) -> Vec<String> {
        let band = format!("{} to {}", analysis::print::hertz(self.band.low), analysis::print::hertz(self.band.high));
        let one = |c: &Cost| match &c.found {
            Ok(d) => format!(
                "{}: {} of {}{}, its phase off by at most {}; {} looked at from {band}",
                c.name,
                self.amount(d.decibels.abs()),
                c.on,
                place(d),
                quantity::degrees(d.degrees, Style::default()).unwrap_or_default(),
                if d.examined == 1 { "one position".to_string() } else { format!("{} positions", d.examined) },
            ),
            Err(why) => format!("{}: unknown, {why}", c.name),
        };
        let mut lines: Vec<String> = self.all.iter().map(one).collect();
        lines.push(format!("allowed: {}; each neglect alone, everything else exact", self.allowed_text()));
        lines
    }
}

/// Below this many decibels nothing is left but rounding.
const NEGLIGIBLE: f64 = 1e-9;

/// Where a difference is greatest.
fn place(d: &Difference) -> String {
    let at = if d.position.is_empty() { String::new() } else { format!(", {}", d.position) };
    format!(" at {}{at}", analysis::print::hertz(d.hertz))
}

/// A small amount to two digits: `0.11 dB`, `0.0042 dB`, `1.3 %`.
fn fine(x: f64, unit: &str) -> String {
    if x == 0.0 {
        return format!("0 {unit}");
    }
    let digits = 1 - x.abs().log10().floor() as i32;
    if digits > 6 {
        return format!("< 0.000001 {unit}");
    }
    let text = format!("{x:.*}", digits.clamp(0, 6) as usize);
    // What rounding carried over has one digit too many.
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_string() } else { text };
    format!("{text} {unit}")
}
