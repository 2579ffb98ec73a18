//! Readings as text, by one printing rule.

use num_complex::Complex64;
use quantity::{Style, Unit};

use crate::plan::{Gain, Impedance, Plan};
use crate::reading::{End, Kind, Place, Range, Reading, Status, Value};
use crate::response::{Inputs, Response};

/// A frequency: `1 kHz`, `33.9 kHz`.
pub fn hertz(f: f64) -> String {
    number(quantity::computed(f, Unit::Hertz, Style::default()))
}

fn written(f: f64) -> String {
    number(quantity::written(f, Unit::Hertz, Style::default()))
}

/// What cannot be printed as a number is not printed as one.
fn number(text: Option<String>) -> String {
    text.unwrap_or_else(|| "unknown".into())
}

/// A gain's magnitude in decibels; no gain at all has none.
pub fn decibels(magnitude: f64, style: Style) -> String {
    if magnitude == 0.0 { "no signal".into() } else { number(quantity::decibels(quantity::db(magnitude), style)) }
}

/// The signed ratio of a gain: the sign of its real part; more than 45° from 0° and 180° it has none.
pub fn signed(gain: Complex64) -> Option<f64> {
    (gain.im.abs() <= gain.re.abs()).then(|| gain.norm().copysign(gain.re))
}

/// An impedance as one number: its magnitude; with a minus sign where it is a negative resistance rather than anything else, which is to say
/// that its angle is more than 135° from 0.
pub fn resistance(z: Complex64) -> f64 {
    if z.re < 0.0 && z.im.abs() <= -z.re { -z.norm() } else { z.norm() }
}

impl Reading {
    /// The value or its range in a few words, as a hint has it: `6.0 … 34.3 dB over VR1`, `7.2 Hz`, `unknown: R3 has no value`.
    pub fn short(&self, style: Style) -> String {
        let text = match (&self.status, &self.range) {
            (Status::Unknown(why), _) => return format!("unknown: {why}"),
            (_, Some(range)) if self.setting.is_none() || self.value == Value::None => self.range_text(range, style),
            _ => self.value_text(style),
        };
        let text = if self.gap.is_some() { format!("{text} at rest") } else { text };
        match self.status {
            Status::Typical(_) => format!("{text} typ."),
            _ => text,
        }
    }

    /// The value in both of the trade's ways, where it has two: `×2.00 (6.0 dB)`, `10.0 MΩ`.
    pub fn value_text(&self, style: Style) -> String {
        match (self.kind, self.value) {
            (Kind::Gain, Value::Complex(z)) => decibels(z.norm(), style),
            (Kind::LowCorner | Kind::HighCorner, Value::Never) => "none".into(),
            (Kind::Phase, Value::Real(x)) => number(quantity::degrees(x, style)),
            (Kind::Margin, Value::Real(x)) => margin(x, self.unit, style),
            (Kind::Plain, Value::Real(x)) => plain(x, self.unit, style),
            (Kind::Level, Value::Real(x)) if x > 0.0 && x.is_finite() && self.unit == Unit::Volt => {
                number(quantity::dbu_with_volts(x, style))
            }
            (Kind::Level, Value::Real(x)) => plain(x, self.unit, style),
            (Kind::Impedance, Value::Complex(z)) => number(quantity::computed(resistance(z), self.unit, style)),
            (_, Value::Complex(z)) => number(quantity::computed(z.norm(), self.unit, style)),
            (_, Value::Real(x)) => number(quantity::computed(x, self.unit, style)),
            (_, Value::None | Value::Never) => "unknown".into(),
        }
    }

    /// An end of a range.
    pub fn end_text(&self, end: &End, style: Style) -> String {
        end.value.map_or_else(|| "none".into(), |x| value(self.kind, self.unit, x, style))
    }

    fn range_text(&self, range: &Range, style: Style) -> String {
        let [a, b] = &range.ends;
        let both = match (self.kind, a.value, b.value) {
            (Kind::Gain, Some(x), Some(y)) if x > 0.0 && y > 0.0 => {
                quantity::range(quantity::db(x), quantity::db(y), Unit::Decibel, style)
            }
            (Kind::Gain, ..) => None,
            (_, Some(x), Some(y)) => quantity::range(x, y, self.unit, style),
            _ => None,
        };
        let (first, last) = (self.end_text(a, style), self.end_text(b, style));
        // A control that moves a value by less than a part's tolerance is not worth a range.
        let still = |x: f64, y: f64| (x - y).abs() <= 0.01 * x.abs().max(y.abs());
        if !matches!(self.kind, Kind::Gain | Kind::Phase)
            && self.value != Value::None
            && a.value.zip(b.value).is_some_and(|(x, y)| still(x, y))
        {
            return self.value_text(style);
        }
        let dots = if style.ascii { ".." } else { "…" };
        let text = both.unwrap_or_else(|| if first == last { first.clone() } else { format!("{first} {dots} {last}") });
        if first == last || range.controls.is_empty() {
            text
        } else {
            format!("{text} over {}", range.controls.join(", "))
        }
    }

    /// Everything in one line: phrase, value, position, certainty.
    pub fn line(&self, style: Style) -> String {
        if let Status::Unknown(why) = &self.status {
            return format!("{} is unknown: {why}", self.phrase);
        }
        let value = match (self.kind, self.value) {
            (Kind::Gain, Value::Complex(z)) => match (signed(z), z.norm()) {
                (_, 0.0) => "×0".to_string(),
                (Some(x), _) => number(quantity::ratio_with_decibels(x, style)),
                (None, m) => {
                    format!("{} at {}", decibels(m, style), number(quantity::degrees(z.arg().to_degrees(), style)))
                }
            },
            (Kind::Impedance, Value::Complex(z)) => impedance(z, style),
            (_, Value::None) => String::new(),
            _ => self.value_text(style),
        };
        let mut line = format!("{} = {value}", self.phrase);
        if let Some(range) = &self.range {
            let range = self.range_text(range, style);
            if value.is_empty() {
                line.push_str(&range);
            } else if range != self.value_text(style) {
                line.push_str(&format!(", {range}"));
            }
        }
        if let Some(why) = &self.gap {
            line.push_str(&format!(" at rest; over the positions unknown: {why}"));
        }
        if let Status::Typical(sheets) = &self.status {
            line.push_str(&format!(" (typ.: {})", sheets.join(", ")));
        }
        line
    }
}

/// A value of a kind as an end of a range has it; of a gain its magnitude.
pub(crate) fn value(kind: Kind, unit: Unit, x: f64, style: Style) -> String {
    match kind {
        Kind::Gain => decibels(x, style),
        Kind::Phase => number(quantity::degrees(x, style)),
        Kind::Margin => margin(x, unit, style),
        Kind::Plain | Kind::Level => plain(x, unit, style),
        Kind::LowCorner | Kind::HighCorner | Kind::Impedance => number(quantity::computed(x, unit, style)),
    }
}

/// A plain value in the way of its unit: decibels to 0.1, an angle to 1°, volts also in dBu where that is how levels are told.
fn plain(x: f64, unit: Unit, style: Style) -> String {
    match unit {
        _ if x.is_infinite() => "without limit".into(),
        Unit::Decibel => number(quantity::decibels(x, style)),
        Unit::Degree => number(quantity::degrees(x, style)),
        _ => number(quantity::computed(x, unit, style)),
    }
}

/// A margin, which may be had without condition, or not at all.
pub fn margin(x: f64, unit: Unit, style: Style) -> String {
    if x == f64::INFINITY {
        "unconditional".into()
    } else if x == f64::NEG_INFINITY {
        "none (unstable)".into()
    } else {
        plain(x, unit, style)
    }
}

/// An impedance: its magnitude, and what it is made of where it is not a plain resistance.
fn impedance(z: Complex64, style: Style) -> String {
    let sized = |x: f64| number(quantity::computed(x, Unit::Ohm, style));
    if z.im.abs() <= 0.02 * z.re.abs() || z.norm() == 0.0 {
        sized(resistance(z))
    } else {
        // Beside an angle it is the magnitude.
        let size = sized(z.norm());
        format!("{size} at {}", number(quantity::degrees(z.arg().to_degrees(), style)))
    }
}

/// The greatest number of positions that a working lists one by one.
const LISTED: usize = 12;

/// Writes a reading's working: what drives, where it is taken, what each position gives, what it rests on.
pub fn working(reading: &mut Reading, plan: &Plan, inputs: &Inputs) {
    let style = Style::default();
    let mut lines = Vec::new();
    match plan {
        Plan::Gain(Gain::Way { drive, .. }) => lines.push(drive.clone()),
        Plan::Impedance(Impedance::Way { how, .. }) => lines.push(how.clone()),
        _ => {}
    }
    if let Status::Unknown(why) = &reading.status {
        lines.push(format!("unknown: {why}"));
        reading.working = lines;
        return;
    }
    let place = match reading.place {
        Place::At(f) => format!("at {}", written(f)),
        Place::Over(a, b) => format!("over {} … {}", written(a), written(b)),
        Place::Against(f) => format!("where the gain is 3.01 dB below that at {}", written(f)),
    };
    lines.push(place);
    let rest = match &reading.setting {
        Some(name) => name.to_string(),
        None => rest_name(plan, inputs),
    };
    let at_rest = if rest.is_empty() { String::new() } else { format!("{rest}: ") };
    if reading.value != Value::None {
        lines.push(format!("{at_rest}{}", detail(reading, reading.value, style)));
    }
    if let Some(range) = &reading.range {
        let [a, b] = &range.ends;
        for end in [a, b] {
            if !end.position.is_empty() {
                lines.push(format!("{}: {}", end.position, reading.end_text(end, style)));
            }
        }
        if !range.controls.is_empty() {
            lines.push(format!(
                "{} positions of {} examined{}",
                range.examined,
                range.controls.join(", "),
                of_how_many(range.examined, range.combinations)
            ));
        } else if let Place::Over(..) = reading.place {
            lines.push(format!("least {}, greatest {}", reading.end_text(a, style), reading.end_text(b, style)));
        }
        list(reading, plan, inputs, range, &mut lines);
    }
    if let Status::Typical(sheets) = &reading.status {
        lines.push(format!("rests on typical figures of {}", sheets.join(", ")));
    }
    reading.working = lines;
}

/// That positions were left out, if any were.
pub fn of_how_many(examined: usize, combinations: Option<usize>) -> String {
    match combinations {
        Some(all) if all <= examined => String::new(),
        Some(all) => format!("; they have {all} combinations"),
        None => "; they have more combinations than can be counted".to_string(),
    }
}

/// Where the controls that matter rest.
fn rest_name(plan: &Plan, inputs: &Inputs) -> String {
    let Some(local) = plan.local() else { return String::new() };
    let rest = inputs.hands.rest();
    let names = local
        .controls
        .iter()
        .map(|c| format!("{} {}", inputs.hands.controls[c.at()].name, inputs.hands.say(*c, rest.positions[c.at()])));
    let names: Vec<String> = names.collect();
    if names.is_empty() { String::new() } else { format!("at rest ({})", names.join(", ")) }
}

/// Named settings that are no end of the range are worth a line of their own.
fn list(reading: &Reading, plan: &Plan, inputs: &Inputs, range: &Range, lines: &mut Vec<String>) {
    let (Kind::Gain, Place::At(f), Plan::Gain(Gain::Way { local, .. })) = (reading.kind, reading.place, plan) else {
        return;
    };
    let response = Response::new(local, inputs);
    for setting in inputs.hands.settings.iter().take(LISTED) {
        if range.ends.iter().any(|e| e.position == setting.name) {
            continue;
        }
        let stand = inputs.hands.when(&setting.when(), &local.controls);
        if stand.unknown.is_some() {
            continue;
        }
        if let Ok(g) = response.gains(&response.values(&stand), &[f]).remove(0) {
            lines.push(format!("{}: {}", setting.name, decibels(g.norm(), Style::default())));
        }
    }
}

/// A value with all that a careful person would write beside it.
fn detail(reading: &Reading, value: Value, style: Style) -> String {
    match (reading.kind, value) {
        (Kind::Gain, Value::Complex(z)) if z.norm() > 0.0 => {
            let angle = number(quantity::degrees(z.arg().to_degrees(), style));
            format!("|G| = {}, {}, {angle}", number(quantity::ratio(z.norm(), style)), decibels(z.norm(), style))
        }
        (Kind::Impedance, Value::Complex(z)) => {
            let part = |x: f64| number(quantity::computed(x, Unit::Ohm, style));
            if z.im.abs() <= 1e-3 * z.re.abs() || z.norm() == 0.0 {
                part(resistance(z))
            } else {
                let sign = if z.im < 0.0 { "−" } else { "+" };
                format!("|Z| = {} ({} {sign} j·{})", part(z.norm()), part(z.re), part(z.im.abs()))
            }
        }
        _ => reading.value_text(style),
    }
}
