//! A feedback capacitor that cuts into the band.

use super::Finding;
use super::Mend;
use super::feedback_capacitor_small;
use super::say::{at_most, say, written};
use quantity::{Series, Unit};

/// The rule.
pub const ID: &str = "feedback-capacitor-large";
/// A pole between this share of the band's upper edge and the edge is a slip; further down it is a filter by intent. Common
/// practice, no source.
pub const SHARE: f64 = 0.2;
/// From this capacitance on a pole is meant where it lies clear of the edge, [`CLEAR`]: what steadies a loop against the picofarads at
/// its input is tens of picofarads, and nobody comes by 470 pF that way. Common practice, no source.
pub const FILTER: f64 = 470e-12;
/// … clear of it is an octave below: who filters at the edge itself cuts the band that the file asks for.
pub const CLEAR: f64 = 0.5;
/// How far above the edge the pole should be: twice costs 1 dB.
pub const ABOVE: f64 = 2.0;
/// What only steadies a loop is no larger than this, 1 nF: a filter is made with more. Common practice, no source.
pub const STEADYING: f64 = 1e-9;

/// A capacitor across a feedback resistor.
pub struct Figures<'a> {
    /// The capacitor.
    pub capacitor: &'a str,
    /// In farads.
    pub farads: f64,
    /// The resistance beside it, in ohms.
    pub ohms: f64,
    /// The amplifier.
    pub amplifier: &'a str,
    /// The band's upper edge, in hertz.
    pub edge: f64,
}

/// Holds the pole against the band.
pub fn judge(f: &Figures) -> Option<Finding> {
    let pole = 1.0 / (std::f64::consts::TAU * f.ohms * f.farads);
    let meant = f.farads >= FILTER && pole < CLEAR * f.edge;
    if !(pole < f.edge && pole > SHARE * f.edge && f.farads <= STEADYING) || meant {
        return None;
    }
    let value = at_most(Series::E6, f.farads * pole / (ABOVE * f.edge));
    // Less than strays is no value: there the resistances are too large.
    let kept = value >= feedback_capacitor_small::LEAST;
    let way = if kept {
        format!("{} puts it at {}.", say(value, Unit::Farad), say(pole * f.farads / value, Unit::Hertz))
    } else {
        "A smaller one would be no more than the board's own capacitance: lower resistances with the same one put it higher."
            .to_string()
    };
    let message = format!(
        "{} ({}) across {} makes a pole at {}, and the band of {} reaches {}: {:.1} dB are lost there. {way}",
        f.capacitor,
        say(f.farads, Unit::Farad),
        say(f.ohms, Unit::Ohm),
        say(pole, Unit::Hertz),
        f.amplifier,
        say(f.edge, Unit::Hertz),
        10.0 * (1.0 + (f.edge / pole).powi(2)).log10(),
    );
    let finding = Finding::new(ID, message, &[f.capacitor, f.amplifier]);
    Some(if kept {
        finding.mend(Mend::Value { part: f.capacitor.into(), value: written(value, Unit::Farad) })
    } else {
        finding
    })
}
