//! How figures stand at ticks.

use quantity::{Style, Unit};

/// Whether the unit stands in the axis's title once: the trade's scales that take no prefix.
pub(crate) fn unit_in_title(unit: Unit) -> bool {
    matches!(unit, Unit::Decibel | Unit::Dbu | Unit::Dbv | Unit::Celsius)
}

/// A tick's figure; `step` tells how many places are needed.
pub(crate) fn tick(value: f64, step: f64, unit: Unit, style: Style) -> String {
    // What is left of a multiple of the step beside 0 is rounding.
    let value = if value.abs() < 1e-9 * step.abs() { 0.0 } else { value };
    if unit_in_title(unit) || unit == Unit::Degree {
        let places = (-step.abs().log10().floor()).clamp(0.0, 9.0) as usize;
        // A step of 2.5 has a place more than its size tells.
        let places = if (step * 10f64.powi(places as i32)).fract().abs() > 1e-6 { places + 1 } else { places };
        let number = format!("{:.*}", places, value.abs());
        let minus = match (value < 0.0 && number.bytes().any(|b| (b'1'..=b'9').contains(&b)), style.ascii) {
            (false, _) => "",
            (true, true) => "-",
            (true, false) => "−",
        };
        let unit = if unit == Unit::Degree && !style.ascii { "°" } else { "" };
        return format!("{minus}{number}{unit}");
    }
    // Between ticks that differ late, the digits that tell them apart are needed.
    let digits = if step > 0.0 && value != 0.0 {
        (value.abs().log10().floor() - step.log10().floor() + 2.0).clamp(3.0, 15.0) as u8
    } else {
        3
    };
    quantity::computed(value, unit, Style { digits, ..style }).unwrap_or_default()
}

/// The axis's title: `gain, dB`.
pub(crate) fn title(label: &str, unit: Unit, style: Style) -> String {
    match unit_in_title(unit) {
        true if label.is_empty() => unit.symbol(style.ascii).to_string(),
        true => format!("{label}, {}", unit.symbol(style.ascii)),
        false => label.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_the_places_that_their_step_needs() {
        let style = Style::default();
        assert_eq!(tick(-20.0, 10.0, Unit::Decibel, style), "−20");
        assert_eq!(tick(0.2, 0.05, Unit::Decibel, style), "0.20");
        assert_eq!(tick(-1e-17, 0.05, Unit::Decibel, style), "0.00");
        assert_eq!(tick(7.5, 2.5, Unit::Decibel, style), "7.5");
        assert_eq!(tick(-90.0, 45.0, Unit::Degree, style), "−90°");
        assert_eq!(tick(20e3, 0.0, Unit::Hertz, style), "20 kHz");
        assert_eq!(tick(10e-3, 2e-3, Unit::Volt, style), "10 mV");
        assert_eq!(tick(1.0005, 0.0001, Unit::Volt, style), "1.0005 V");
        assert_eq!(tick(25.0, 25.0, Unit::Percent, style), "25 %");
    }
}
