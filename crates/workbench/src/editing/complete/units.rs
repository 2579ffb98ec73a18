//! Units and prefixes behind a number.

use notation::token::TokenKind;
use quantity::{Prefix, Unit, Want};

use super::cursor::Tok;
use super::{Basket, CompletionKind, Scene};

/// The units that a place takes with the prefixes that they usually have there, the likeliest first.
fn units(want: Want) -> Vec<(Unit, &'static [Prefix])> {
    use Prefix::*;
    let one = |unit, prefixes: &'static [Prefix]| vec![(unit, prefixes)];
    let none: &'static [Prefix] = &[Unity];
    match want {
        Want::ResistorValue => one(Unit::Ohm, &[Kilo, Mega, Unity]),
        Want::Resistance => one(Unit::Ohm, &[Kilo, Mega, Unity, Milli]),
        Want::CapacitorValue | Want::Capacitance => one(Unit::Farad, &[Nano, Pico, Micro, Milli]),
        Want::InductorValue | Want::Inductance => one(Unit::Henry, &[Milli, Micro, Nano, Unity]),
        Want::Frequency => one(Unit::Hertz, &[Unity, Kilo, Mega]),
        Want::Time => one(Unit::Second, &[Micro, Milli, Nano, Unity]),
        Want::Temperature => one(Unit::Celsius, none),
        Want::Voltage => one(Unit::Volt, &[Unity, Milli, Micro]),
        Want::Current => one(Unit::Ampere, &[Milli, Micro, Nano, Pico, Unity]),
        Want::Source => {
            vec![
                (Unit::Volt, &[Milli, Unity, Micro]),
                (Unit::Dbu, none),
                (Unit::Dbv, none),
                (Unit::Ampere, &[Nano, Micro]),
            ]
        }
        Want::Level => vec![(Unit::Dbu, none), (Unit::Dbv, none), (Unit::Volt, &[Milli, Micro, Unity])],
        Want::Power => one(Unit::Watt, &[Milli, Unity, Micro]),
        Want::Gain | Want::Decibels => one(Unit::Decibel, none),
        Want::Angle => one(Unit::Degree, none),
        Want::Percentage => one(Unit::Percent, none),
        Want::SlewRate => one(Unit::VoltPerSecond, &[Mega]),
        Want::NoiseDensity => vec![(Unit::VoltPerRootHertz, &[Nano]), (Unit::AmperePerRootHertz, &[Pico, Femto])],
        Want::Tolerance(of) => {
            let own: Vec<(Unit, &'static [Prefix])> = match of {
                Unit::Decibel | Unit::Dbu | Unit::Dbv => return one(Unit::Decibel, none),
                Unit::Volt => vec![(Unit::Volt, &[Milli, Unity])],
                Unit::Hertz => vec![(Unit::Hertz, &[Unity, Kilo])],
                Unit::Degree => vec![(Unit::Degree, none)],
                Unit::Ohm => vec![(Unit::Ohm, &[Unity, Kilo])],
                _ => Vec::new(),
            };
            [vec![(Unit::Percent, none)], own].concat()
        }
        Want::Attribute(of) => {
            let own: Vec<(Unit, &'static [Prefix])> = match of {
                Unit::Farad => vec![(Unit::Volt, none)],
                Unit::Henry => vec![(Unit::Ampere, &[Unity, Milli])],
                _ => vec![(Unit::Watt, &[Unity, Milli]), (Unit::Volt, none)],
            };
            [vec![(Unit::Percent, none)], own].concat()
        }
        Want::Number => Vec::new(),
        Want::Any => vec![
            (Unit::Ohm, &[Unity, Kilo, Mega]),
            (Unit::Hertz, &[Unity, Kilo]),
            (Unit::Farad, &[Nano, Pico, Micro]),
            (Unit::Volt, &[Unity, Milli]),
            (Unit::Second, &[Milli, Micro]),
            (Unit::Decibel, none),
        ],
    }
}

/// The symbols of those units: as they are written, and as they are printed.
fn symbols(want: Want) -> Vec<(String, String)> {
    let symbol = |unit: Unit, prefix: Prefix| match unit {
        // A slew rate is written in volts a microsecond.
        Unit::VoltPerSecond => ("V/us".to_string(), "V/µs".to_string()),
        // Densities are written with the root's own mark, as data sheets have it.
        Unit::VoltPerRootHertz | Unit::AmperePerRootHertz => {
            let written = format!("{}{}", prefix.symbol(true), unit.symbol(false));
            (written.clone(), written)
        }
        _ => (
            format!("{}{}", prefix.symbol(true), unit.symbol(true)),
            format!("{}{}", prefix.symbol(false), unit.symbol(false)),
        ),
    };
    units(want).iter().flat_map(|(unit, prefixes)| prefixes.iter().map(|p| symbol(*unit, *p))).collect()
}

/// What was typed of a figure with each unit that it may have: `20` as `20 Hz`, `20 kHz`.
pub(crate) fn behind_word(scene: &Scene, out: &mut Basket, want: Want) {
    let typed = scene.cursor.typed;
    if !typed.starts_with(|c: char| c.is_ascii_digit()) {
        return;
    }
    let digits = typed.len() - typed.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').len();
    let (number, letters) = typed.split_at(digits);
    if number.ends_with('.') {
        return;
    }
    out.hangs_on_letters();
    for (i, (symbol, printed)) in symbols(want).into_iter().enumerate() {
        let begun =
            |s: &str| s.starts_with(letters) || s.to_ascii_lowercase().starts_with(&letters.to_ascii_lowercase());
        if !(begun(&symbol) || begun(&printed)) {
            continue;
        }
        let label = if want == Want::Percentage || symbol == "%" {
            if matches!(want, Want::Attribute(_)) { format!("{number}%") } else { format!("{number} %") }
        } else if matches!(want, Want::Attribute(_)) {
            format!("{number}{symbol}")
        } else {
            format!("{number} {symbol}")
        };
        if quantity::read(number, Some(&symbol), want).is_ok() {
            out.put(i as u32, CompletionKind::Unit, label).detail(measured(want, &printed)).filter(typed);
        }
    }
}

/// The units behind a figure that stands there already, a blank between them.
pub(crate) fn behind_figure(scene: &Scene, out: &mut Basket, figure: &Tok, want: Want, rank: u32) {
    if figure.kind != TokenKind::Figure || !scene.cursor.naming() {
        return;
    }
    for (symbol, printed) in symbols(want) {
        if quantity::read(figure.text, Some(&symbol), want).is_ok() {
            let item = out.put(rank, CompletionKind::Unit, &symbol).detail(measured(want, &printed)).page(&symbol);
            if symbol.contains('√') && !scene.cursor.typed.contains('√') {
                item.filter(symbol.replace('√', "rt"));
            }
        }
    }
}

/// `a frequency` beside a unit; as it is printed, where that is another spelling.
fn measured(want: Want, printed: &str) -> String {
    match want {
        Want::Any | Want::Attribute(_) | Want::Tolerance(_) => printed.to_string(),
        _ => format!("{printed}, {}", want.words()),
    }
}
