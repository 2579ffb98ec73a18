//! More voltage across a part than it is made for.

use super::Finding;
use super::Mend;
use super::say::{above, at, say, where_in_band};
use quantity::Unit;

/// The rule.
pub const ID: &str = "over-voltage";
/// How much of its rated voltage a part may bear: all of it. Many take four fifths as their rule; common practice, no source.
pub const MOST: f64 = 1.0;
/// The rated voltages of the trade's capacitors, R5 and R10 numbers (IEC 60063's neighbours in IEC 60384-1, from memory).
pub const RATED: [f64; 12] = [6.3, 10.0, 16.0, 25.0, 35.0, 50.0, 63.0, 100.0, 160.0, 250.0, 400.0, 630.0];

/// A part with its rating.
pub struct Figures<'a> {
    /// The part.
    pub part: &'a str,
    /// Volts at rest plus the signal's peak.
    pub volts: f64,
    /// Of which at rest.
    pub rest: f64,
    /// The rating.
    pub rated: f64,
    /// The rating as it is written, `25V`, where an editor may replace it.
    pub written: Option<&'a str>,
    /// Where the controls stand.
    pub position: &'a str,
    /// Where in the band the signal makes it so, in hertz; none where it has no part in it.
    pub hertz: Option<f64>,
}

/// Holds the voltage against the rating.
pub fn judge(f: &Figures) -> Option<Finding> {
    if !above(f.volts, MOST * f.rated) {
        return None;
    }
    let next = RATED.into_iter().find(|r| *r * 0.8 >= f.volts);
    let would = next.map_or_else(
        || "Two in series, with resistors that share the voltage, would do".into(),
        |v| format!("{} leaves a fifth in hand", say(v, Unit::Volt)),
    );
    let message = format!(
        "Over its rating {} may break down, and take what hangs on it along: it bears {}{}{} ({} at rest) and is rated {}. {would}.",
        f.part,
        say(f.volts, Unit::Volt),
        where_in_band(f.hertz),
        at(f.position),
        say(f.rest, Unit::Volt),
        say(f.rated, Unit::Volt),
    );
    let finding = Finding::new(ID, message, &[f.part]);
    Some(match (f.written, next) {
        (Some(from), Some(next)) => {
            finding.mend(Mend::Word { part: f.part.into(), from: from.into(), to: format!("{next}V") })
        }
        _ => finding,
    })
}
