//! A reading over tolerance as lines of text.

use analysis::tolerance::{Extreme, Study, Weight, draw};
use analysis::{End, Kind, Reading};
use quantity::{Style, Unit};

use crate::over::{Tolerance, corner_text, share_text};

impl Tolerance {
    /// What is said below the reading's own line.
    pub fn lines(&self, reading: &Reading) -> Vec<String> {
        let study = match &self.study {
            Ok(study) => study,
            Err(why) => return vec![format!("over tolerance unknown: {why}")],
        };
        let value = |x: f64| value_text(reading, x);
        let mut lines = vec![if study.even() {
            format!("over tolerance {}", value(study.low.value))
        } else {
            format!("over tolerance {} … {}", value(study.low.value), value(study.high.value))
        }];
        if study.still {
            lines.push("nothing that it hangs on has a tolerance".into());
        } else if study.even() {
            let presets = if self.preset { ": the presets take out what the parts are off by" } else { "" };
            lines.push(match study.unread {
                Some(_) => format!("it is the same in every build that can be read{presets}"),
                None => format!("it is the same in every build{presets}"),
            });
        } else {
            lines.push(format!("lowest found   {}", extreme(reading, &study.low)));
            lines.push(format!("highest found  {}", extreme(reading, &study.high)));
            if study.null && study.rss[1].is_nan() {
                lines.push(
                    "root of squares unknown: nominally it is next to nothing beside what the parts are off by".into(),
                );
            } else if study.null {
                lines.push(format!(
                    "root of squares up to {}: nominally it is next to nothing, and what the parts are off by adds in any phase",
                    value(study.rss[1])
                ));
            } else if study.rss[0].is_nan() {
                lines.push("root of squares unknown: its slope changes within tolerance".into());
            } else if study.rss[0] >= 0.0 || study.low.value < 0.0 {
                lines.push(format!("root of squares {} … {}", value(study.rss[0]), value(study.rss[1])));
            }
            lines.push(builds(reading, study));
        }
        if let Some((count, why)) = &study.unread {
            lines.push(format!("{count} of {} builds cannot be read: {why}", study.builds));
        }
        if let Some((over, limit)) = &self.held {
            let [low, high] = over.share.interval.map(|x| format!("{:.1}", 100.0 * x));
            let more = argument::require::digits_more(&[over.value, over.limit], limit);
            lines.push(format!(
                "{}: {} of {} ({low} … {high} % with 95 % confidence); the worst is {}, and {} is wanted",
                share_text(&over.share),
                over.share.some,
                over.share.all,
                argument::require::longer(over.value, limit, more),
                crate::decided::wanted(limit, over.value, over.limit, more),
            ));
        }
        // The largest of either end.
        let weights = [&study.low_weights, &study.high_weights].into_iter().max_by_key(|w| w.len());
        for weight in weights.into_iter().flatten().take(8) {
            lines.push(matters(reading, weight));
        }
        lines
    }
}

fn extreme(reading: &Reading, end: &Extreme) -> String {
    let at = if end.position.is_empty() { String::new() } else { format!(" at {}", end.position) };
    format!("{}{at}: {}", value_text(reading, end.value), corner_text(&end.at))
}

fn builds(reading: &Reading, study: &Study) -> String {
    let value = |x: Option<f64>| x.map_or_else(|| "unknown".into(), |x| value_text(reading, x));
    let middle = study.points[1].map_or_else(String::new, |x| format!(", half below {}", value(Some(x))));
    format!(
        "{} builds, seed {}: 0.5 % below {}{middle}, 0.5 % above {}",
        study.builds,
        draw::SEED,
        value(study.points[0]),
        value(study.points[2])
    )
}

/// `R1: 0.086 dB a per cent, 49.9 % of the spread`
fn matters(reading: &Reading, weight: &Weight) -> String {
    let share = format!("{:.1} % of the spread", 100.0 * weight.share);
    if let Some(by) = weight.from_null {
        return format!("{}: {} V/V a per cent, {share}", weight.name, two_digits(by.abs()));
    }
    let Some(slope) = weight.slope else { return format!("{}: {share}", weight.name) };
    let unit = match (reading.kind, reading.unit) {
        (Kind::Gain, _) | (_, Unit::Decibel) => "dB",
        (Kind::Phase, _) | (_, Unit::Degree) => "°",
        _ => "%",
    };
    let sign = if slope < 0.0 { "−" } else { "" };
    format!("{}: {sign}{} {unit} a per cent, {share}", weight.name, two_digits(slope.abs()))
}

/// Two digits that count.
fn two_digits(size: f64) -> String {
    let digits = if size > 0.0 { (1 - size.log10().floor() as i32).clamp(0, 9) as usize } else { 0 };
    format!("{size:.digits$}")
}

/// A value of a study as a person reads it; of a gain its magnitude in decibels.
pub(crate) fn value_text(reading: &Reading, x: f64) -> String {
    if x.is_infinite() && reading.kind != Kind::Margin {
        return if reading.kind == Kind::LowCorner || reading.kind == Kind::HighCorner {
            "none"
        } else {
            "without limit"
        }
        .into();
    }
    let x = if reading.kind == Kind::Gain { x.abs() } else { x };
    reading.end_text(&End { value: Some(x), position: "".into() }, Style::default())
}
