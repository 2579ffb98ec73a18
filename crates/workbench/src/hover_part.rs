//! What a part's line says beyond its value: how far it may be off, how it is marked, what stands beside it in the series.

use circuit::{Circuit, Given, LetValue, Part, PartKind, Tolerance};
use quantity::{Series, Style, Unit};

/// The value of a part in base units, with its unit.
fn value(part: &Part) -> Option<(f64, Unit)> {
    let (given, unit) = match &part.kind {
        PartKind::Resistor { ohms, .. } => (ohms, Unit::Ohm),
        PartKind::Variable { ohms, .. } => (ohms, Unit::Ohm),
        PartKind::Capacitor { farads, .. } => (farads, Unit::Farad),
        PartKind::Inductor { henries, .. } => (henries, Unit::Henry),
        PartKind::Switch { .. } | PartKind::Amplifier { .. } => return None,
    };
    match given {
        Given::Number(x) => Some((*x, unit)),
        Given::Unknown(_) => None,
    }
}

/// The share by which a part's value may be off: its own, else its class's.
pub(crate) fn tolerance(circuit: &Circuit, part: &Part) -> Option<f64> {
    let (x, _) = value(part)?;
    match part.tolerance {
        Some(Tolerance::Share(share)) => Some(share),
        Some(Tolerance::Absolute(by)) if x > 0.0 => Some(by / x),
        Some(Tolerance::Unknown | Tolerance::Two) => None,
        _ => circuit.tolerances.iter().find(|t| &*t.0 == part.kind.class()).and_then(|t| t.1.number()),
    }
}

/// Lines about a part, in the order in which a person asks.
pub(crate) fn lines(circuit: &Circuit, part: &Part) -> Vec<String> {
    let style = Style::default();
    let mut lines = Vec::new();
    if let Some(pattern) = &part.copy_of {
        lines.push(format!("a copy of {pattern}"));
    }
    let Some((x, unit)) = value(part) else { return lines };
    let text = |x: f64| quantity::exact(x, unit, style).unwrap_or_default();
    if let Some(exact) = part.exact {
        let exact = quantity::computed(exact, unit, style).unwrap_or_default();
        lines.push(format!("worked out: {exact}; fitted: {}", text(x)));
    }
    let share = tolerance(circuit, part);
    if let Some(share) = share {
        let percent = quantity::computed(share * 100.0, Unit::Percent, style).unwrap_or_default();
        // As many digits as it takes to tell the ends from the value.
        let digits = if share > 0.0 { (1.0 - share.log10().floor()).clamp(3.0, 8.0) as u8 } else { style.digits };
        let style = Style { digits, ..style };
        let ends = quantity::range(x * (1.0 - share), x * (1.0 + share), unit, style).unwrap_or_default();
        lines.push(format!("± {percent}: {ends}"));
    }
    lines.extend(match part.tolerance {
        Some(Tolerance::Two) => Some("two tolerances are stated: which of them is meant is not known".to_string()),
        Some(Tolerance::Unknown) => Some("its tolerance cannot be read".to_string()),
        _ => None,
    });
    // The coarsest series that has the value and is bought in: resistors from E12, capacitors and inductors from E6.
    let bought = Series::ALL.into_iter().skip(if unit == Unit::Ohm { 2 } else { 1 });
    if let Some(series) = bought.into_iter().find(|s| s.contains(x)).filter(|_| x > 0.0) {
        let beside = [x / 1.0001, x * 1.0001].map(|x| series.neighbours(x));
        if let [Some((below, _)), Some((_, above))] = beside {
            lines.push(format!("{}, between {} and {}", series.name(), text(below), text(above)));
        }
    } else if x > 0.0
        && part.exact.is_none()
        && let Some(near) = Series::E24.nearest(x)
    {
        lines.push(format!("in no series of IEC 60063; the nearest of E24 is {}", text(near)));
    }
    let unsure = matches!(part.tolerance, Some(Tolerance::Two | Tolerance::Unknown));
    if let (PartKind::Resistor { .. }, false) = (&part.kind, unsure) {
        let percent = share.map_or(5.0, |s| (s * 1e4).round() / 100.0);
        if let Some(bands) = quantity::colour_bands(x, percent) {
            let mut names: Vec<&str> = bands.iter().map(|b| b.name()).collect();
            // The last tells the tolerance, and no more is known of it than is stated.
            let stated = share.is_some() || names.pop().is_none();
            let more = if stated { "" } else { ", and one for its tolerance" };
            lines.push(format!("bands: {}{more}", names.join(", ")));
        }
    }
    let r = &part.ratings;
    let rated = [(r.volts, Unit::Volt), (r.watts, Unit::Watt), (r.amperes, Unit::Ampere), (r.celsius, Unit::Celsius)];
    let rated: Vec<String> = rated.iter().filter_map(|(x, unit)| quantity::exact((*x)?, *unit, style)).collect();
    if !rated.is_empty() {
        lines.push(format!("rated {}", rated.join(", ")));
    }
    if r.two {
        lines.push("two ratings of one kind are stated: which of them is meant is not known".into());
    }
    lines.extend(part.note.iter().map(|n| format!("“{n}”")));
    lines
}

/// What a `let` name comes to.
pub(crate) fn named(circuit: &Circuit, name: &str, style: Style) -> Option<Vec<String>> {
    let found = circuit.lets.iter().find(|l| &*l.name == name)?;
    Some(vec![match &found.value {
        LetValue::Value(term) => crate::hints::worked_out(term, style),
        LetValue::Curve => "a curve over frequency".into(),
        LetValue::Unknown(why) => format!("unknown: {why}"),
    }])
}
