//! The numbers that a network's parameters take: from the circuit, at a position of its controls.

use circuit::Name;
use std::f64::consts::TAU;

use circuit::{Circuit, Given, PartKind, Position, Taper};

use crate::network::{Network, Quality};

/// What one parameter needs of the circuit: a number, or a number and a control.
#[derive(Clone, Debug, PartialEq)]
pub enum Number {
    /// The same at every position.
    Fixed(f64),
    /// A track: ohms, taper, the control, and `true` for the part from the wiper to `cw`.
    Track(f64, Taper, usize, bool),
    /// A contact: the control, its position, and `true` for the parameter that is 1 where it is closed.
    Contact(usize, u32, bool),
    /// Not known: a clause for a person.
    Unknown(Name),
}

impl Number {
    /// The number at these positions of the controls.
    pub fn at(&self, positions: &[Position]) -> f64 {
        match *self {
            Number::Fixed(x) => x,
            Number::Track(ohms, taper, control, high) => {
                let share = match positions[control] {
                    Position::Travel(p) => taper.share(p),
                    Position::Step(_) => 0.0,
                };
                // Both parts follow the same law, so that they add up to the track.
                if high { ohms * (1.0 - share) } else { ohms * share }
            }
            Number::Contact(control, position, closed) => {
                let is = matches!(positions[control], Position::Step(n) if n == position);
                f64::from(u8::from(is == closed))
            }
            Number::Unknown(_) => f64::NAN,
        }
    }
}

impl Number {
    /// The number with its part's value multiplied.
    pub(crate) fn scaled(&self, factor: f64) -> Number {
        match self {
            Number::Fixed(x) => Number::Fixed(x * factor),
            Number::Track(ohms, taper, control, high) => Number::Track(ohms * factor, *taper, *control, *high),
            other => other.clone(),
        }
    }
}

/// The number of every parameter of a network.
pub fn numbers(network: &Network, circuit: &Circuit) -> Vec<Number> {
    network.parameters.iter().map(|&(part, quality)| number(&circuit.parts[part.at()], quality)).collect()
}

/// The number of one parameter of a part.
pub fn number(part: &circuit::Part, quality: Quality) -> Number {
    let given = |g: &Given| match g {
        Given::Number(x) => Number::Fixed(*x),
        Given::Unknown(why) => Number::Unknown(why.clone()),
    };
    match (&part.kind, quality) {
        (PartKind::Resistor { ohms, .. }, _) => given(ohms),
        (PartKind::Capacitor { farads, .. }, _) => given(farads),
        (PartKind::Inductor { henries, .. }, _) => given(henries),
        (PartKind::Variable { ohms, taper, control, .. }, q) => match ohms {
            Given::Number(x) => Number::Track(*x, *taper, control.at(), q == Quality::HighTrack),
            Given::Unknown(why) => Number::Unknown(why.clone()),
        },
        (PartKind::Switch { unknown: Some(why), .. }, _) => Number::Unknown(why.clone()),
        (PartKind::Switch { control, .. }, Quality::Closed(n)) => Number::Contact(control.at(), n, true),
        (PartKind::Switch { control, .. }, Quality::Open(n)) => Number::Contact(control.at(), n, false),
        (PartKind::Amplifier { sheet, .. }, _) if sheet.unknown.is_some() => {
            Number::Unknown(sheet.unknown.clone().unwrap_or_default())
        }
        (PartKind::Amplifier { sheet, .. }, q) => {
            let of = |f: &circuit::Figure| f.nominal();
            let rout = of(&sheet.output_resistance).unwrap_or(0.0);
            let second = || Some(second_delay(of(&sheet.minimum_gain)?, of(&sheet.gain_bandwidth)?));
            let x = match q {
                Quality::InverseGain => of(&sheet.open_loop_gain).map(|a| 1.0 / a),
                Quality::InverseBandwidth => of(&sheet.gain_bandwidth).map(|f| 1.0 / (TAU * f)),
                Quality::OutputOverGain => of(&sheet.open_loop_gain).map(|a| rout / a),
                Quality::OutputOverBandwidth => of(&sheet.gain_bandwidth).map(|f| rout / (TAU * f)),
                Quality::SecondDelay => second(),
                Quality::OutputResistance => Some(rout),
                Quality::OutputTimesSecond => second().map(|t| rout * t),
                Quality::InputCapacitance => of(&sheet.input_capacitance),
                Quality::DifferentialCapacitance => of(&sheet.differential_capacitance),
                _ => None,
            };
            x.map_or_else(|| Number::Unknown(format!("{} lacks a datum", sheet.name).into()), Number::Fixed)
        }
        _ => Number::Unknown(format!("{} has no such value", part.name).into()),
    }
}

/// 1/ω₂ in seconds of an amplifier that is stable from a noise gain N on: ω₂ = 2π·GBW/(√2·N). There the loop, of a gain
/// GBW/(N·f) over √(1 + (f/f₂)²), crosses 1 at f₂ itself and has 45° left (common practice, no source).
pub fn second_delay(minimum_gain: f64, gain_bandwidth: f64) -> f64 {
    std::f64::consts::SQRT_2 * minimum_gain / (TAU * gain_bandwidth)
}

/// Values of the same order as a circuit's, for ordering an elimination before any value is known: one decade around what
/// the trade uses, scattered so that nothing cancels. They depend on the topology alone.
pub fn typical(network: &Network) -> Vec<f64> {
    typical_of(network, 0..network.parameters.len() as u32)
}

/// [`typical`] values of these parameters alone; the others are 0. A question needs few of a large circuit's.
pub(crate) fn typical_of(network: &Network, used: impl Iterator<Item = u32>) -> Vec<f64> {
    let scatter = |i: usize| {
        // The fractional parts of multiples of the golden ratio are spread evenly (Weyl); exponents from −½ to ½ octave.
        let x = (i as f64 + 1.0) * 0.618_033_988_749_894_9;
        (x - x.floor() - 0.5).exp2()
    };
    let base = |q: Quality| match q {
        Quality::Resistance | Quality::LowTrack | Quality::HighTrack => 1e4,
        Quality::Capacitance => 1e-8,
        Quality::Inductance => 1e-2,
        Quality::Closed(_) | Quality::Open(_) => 1.0,
        Quality::InverseGain => 1e-5,
        Quality::InverseBandwidth => 1.0 / (TAU * 5e6),
        Quality::OutputOverGain => 1e-3,
        Quality::OutputOverBandwidth => 1e2 / (TAU * 5e6),
        Quality::SecondDelay => 1.0 / (TAU * 1e7),
        Quality::OutputResistance => 1e2,
        Quality::OutputTimesSecond => 1e2 / (TAU * 1e7),
        Quality::InputCapacitance | Quality::DifferentialCapacitance => 5e-12,
    };
    let mut values = vec![0.0; network.parameters.len()];
    for p in used {
        values[p as usize] = base(network.parameters[p as usize].1) * scatter(p as usize);
    }
    values
}
