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

/// The nearest value of a part with which it may be neglected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mend {
    /// In base units.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
    /// What it would cost with that, in decibels without their sign.
    pub decibels: f64,
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
        match self.allowed {
            Allowed::Decibels(_) => fine(decibels, "dB"),
            Allowed::Share(_) => fine((10f64.powf(decibels / 20.0) - 1.0) * 100.0, "%"),
        }
    }

    /// What is allowed, as written.
    pub fn allowed_text(&self) -> String {
        match self.allowed {
            Allowed::Decibels(db) => format!("{db} dB"),
            Allowed::Share(x) => format!("{} %", (x * 1e8).round() / 1e6),
        }
    }

    /// Behind the line: `0.11 dB at 100 Hz, VR1 0 %`. Of several it is the one that costs most, with its name; the hover has them all.
    pub fn hint(&self) -> String {
        let one = |c: &Cost| match &c.found {
            Ok(d) if d.decibels.abs() < LEAST => "under 0.001 dB".to_string(),
            Ok(d) => {
                // What makes an amplifier other than ideal are typical figures.
                let typical = if matches!(c.neglect, Neglect::Ideal(_)) { " typ." } else { "" };
                format!("{}{}{typical}", self.amount(d.decibels.abs()), place(d))
            }
            Err(why) => format!("unknown: {why}"),
        };
        let size = |c: &Cost| c.found.as_ref().map_or(f64::INFINITY, |d| d.decibels.abs());
        match &self.all[..] {
            [] => "nothing is neglected".into(),
            [only] => one(only),
            all => {
                let worst = all.iter().reduce(|a, b| if size(b) > size(a) { b } else { a }).expect("there are several");
                if size(worst) < LEAST { one(worst) } else { format!("{} {}", worst.name, one(worst)) }
            }
        }
    }

    /// What is to be said of a neglect that costs too much.
    pub fn failure(&self, cost: &Cost) -> Option<String> {
        let found = cost.found.as_ref().ok().filter(|d| self.beyond(d))?;
        let (is, cause) = match cost.neglect {
            Neglect::Short(_) => ("a short", "it"),
            Neglect::Open(_) => ("open", "it"),
            Neglect::Ideal(_) => ("ideal", "it"),
            Neglect::Undrawn(_) => ("open", "what it draws"),
        };
        let hertz = analysis::print::hertz(found.hertz);
        let of = if cost.on.is_empty() { String::new() } else { format!(" of {}", cost.on) };
        let at = if found.position.is_empty() { String::new() } else { format!(" at {}", found.position) };
        let much = if found.decibels.is_infinite() {
            format!("what arrives{of} there{at} hangs on it")
        } else {
            format!("{cause} costs {}{of} there{at}", self.amount(found.decibels.abs()))
        };
        let mut said = format!("{} is not {is} at {hertz}: {much}, and {} is allowed", cost.name, self.allowed_text());
        let value = cost.mend.map(|m| {
            let value = quantity::computed(m.value, m.unit, Style::default()).unwrap_or_default();
            format!("{value} would cost {}", self.amount(m.decibels))
        });
        let band = self.mended_band(found).map(|f| {
            let side = if self.band.weak == Weak::High { "below" } else { "above" };
            format!("as it stands it is {is} ({}) {side} {f}", self.allowed_text())
        });
        let ways: Vec<String> = value.into_iter().chain(band).collect();
        if !ways.is_empty() {
            let mut ways = ways.join("; ");
            // A sentence of its own; a figure needs no capital.
            ways[..1].make_ascii_uppercase();
            said += &format!(". {ways}");
        }
        Some(said)
    }

    /// Of the neglects that cost too much the one that costs most.
    pub fn worst(&self) -> Option<&Cost> {
        let size = |c: &Cost| c.found.as_ref().map_or(0.0, |d| d.decibels.abs());
        let failing = self.all.iter().filter(|c| c.found.as_ref().is_ok_and(|d| self.beyond(d)));
        failing.reduce(|a, b| if size(b) > size(a) { b } else { a })
    }

    /// The end of a band over which a neglect holds, rounded to two digits to the safe side, as it is written: `120 Hz`.
    pub fn mended_band(&self, found: &Difference) -> Option<String> {
        quantity::canonical(self.mended_end(found)?, Unit::Hertz)
    }

    /// The same in hertz.
    pub fn mended_end(&self, found: &Difference) -> Option<f64> {
        let kept = found.kept?;
        let step = 10f64.powf(kept.log10().floor() - 1.0);
        let rounded = match self.band.weak {
            Weak::Low => (kept / step - 1e-9).ceil() * step,
            _ => (kept / step + 1e-9).floor() * step,
        };
        (rounded > self.band.low && rounded < self.band.high).then_some(rounded)
    }

    /// The lines of a hover: each neglect with its cost, its place and the phase beside it.
    pub fn working(&self) -> Vec<String> {
        let band = format!("{} to {}", analysis::print::hertz(self.band.low), analysis::print::hertz(self.band.high));
        let one = |c: &Cost| match &c.found {
            Ok(d) => format!(
                "{}: {}{}{}, its phase off by at most {}; {} looked at from {band}",
                c.name,
                self.amount(d.decibels.abs()),
                if c.on.is_empty() { String::new() } else { format!(" of {}", c.on) },
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

/// What costs less than this many decibels is not told to its last digit.
const LEAST: f64 = 1e-3;

/// Where a difference is greatest.
fn place(d: &Difference) -> String {
    format!(" at {}", at(d.hertz, &d.position))
}

/// A frequency and a position: `100 Hz, VR1 0 %`; of many controls the first two are named.
pub(crate) fn at(hertz: f64, position: &str) -> String {
    let hertz = analysis::print::hertz(hertz);
    let each: Vec<&str> = position.split(", ").filter(|p| !p.is_empty()).collect();
    match &each[..] {
        [] => hertz,
        [a, b, _, _, ..] => format!("{hertz}, {a}, {b} …"),
        _ => format!("{hertz}, {position}"),
    }
}

/// A small amount to two digits: `0.11 dB`, `0.10 dB`, `1.3 %`.
pub fn fine(x: f64, unit: &str) -> String {
    if x.abs() < LEAST {
        return format!("under 0.001 {unit}");
    }
    let digits = (1.0 - x.abs().log10().floor()).clamp(0.0, 4.0) as usize;
    format!("{x:.digits$} {unit}")
}
