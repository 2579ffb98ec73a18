//! An entry of a data sheet: its words matched against the list, its figures in SI units.

use notation::Name;
use notation::tree::{Amount, DatasheetEntry, Datum, Span};
use quantity::{Unit, Want};

use crate::circuit::{Figure, Sheet};
use crate::piece::{Reader, fault, in_reach, out_of_reach};

/// The data that a sheet may give.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Key {
    /// `open loop gain`
    OpenLoopGain,
    /// `gain bandwidth`
    GainBandwidth,
    /// `output resistance`
    OutputResistance,
    /// `input capacitance`
    InputCapacitance,
    /// `differential capacitance`
    DifferentialCapacitance,
    /// `slew rate`
    SlewRate,
    /// `voltage noise corner`
    VoltageNoiseCorner,
    /// `voltage noise`
    VoltageNoise,
    /// `current noise corner`
    CurrentNoiseCorner,
    /// `current noise`
    CurrentNoise,
    /// `input offset`
    InputOffset,
    /// `input bias`
    InputBias,
    /// `swing from rails`
    Swing,
    /// `swing from high rail`
    SwingHigh,
    /// `swing from low rail`
    SwingLow,
    /// `input range from low rail`
    RangeLow,
    /// `input range from high rail`
    RangeHigh,
    /// `output current`
    OutputCurrent,
    /// `minimum gain`
    MinimumGain,
    /// `supply range`
    SupplyRange,
    /// `supply current`
    SupplyCurrent,
    /// `amplifiers in package`
    InPackage,
    /// None of the list.
    Unread,
}

impl Key {
    /// The circuit's equations for signals need it.
    fn is_of_signals(self) -> bool {
        use Key::*;
        matches!(
            self,
            OpenLoopGain | GainBandwidth | OutputResistance | InputCapacitance | DifferentialCapacitance | MinimumGain
        )
    }

    /// A figure of 0 makes no sense.
    fn positive(self) -> bool {
        use Key::*;
        matches!(self, OpenLoopGain | GainBandwidth | SlewRate | OutputCurrent | MinimumGain | SupplyRange | InPackage)
    }

    /// A figure below 0 makes sense: an input that reaches beyond its rail.
    fn signed(self) -> bool {
        use Key::*;
        matches!(self, RangeLow | RangeHigh)
    }
}

/// An entry of a data sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct DatumPiece {
    /// What it gives.
    pub key: Key,
    /// The words, for messages.
    pub words: Name,
    /// Where the words stand.
    pub span: Span,
    /// The figures.
    pub figure: Figure,
    /// Something in the entry cannot be read, so that what is known of the amplifier is not what was meant.
    pub unreadable: bool,
}

/// All words that an amplifier's sheet may hold.
const WORDS: &[(&str, Key, Want)] = &[
    ("gain bandwidth", Key::GainBandwidth, Want::Frequency),
    ("open loop gain", Key::OpenLoopGain, Want::Gain),
    ("slew rate", Key::SlewRate, Want::SlewRate),
    ("voltage noise corner", Key::VoltageNoiseCorner, Want::Frequency),
    ("voltage noise", Key::VoltageNoise, Want::NoiseDensity),
    ("current noise corner", Key::CurrentNoiseCorner, Want::Frequency),
    ("current noise", Key::CurrentNoise, Want::NoiseDensity),
    ("input offset", Key::InputOffset, Want::Voltage),
    ("input bias", Key::InputBias, Want::Current),
    ("swing from rails", Key::Swing, Want::Voltage),
    ("swing from high rail", Key::SwingHigh, Want::Voltage),
    ("swing from low rail", Key::SwingLow, Want::Voltage),
    ("input range from low rail", Key::RangeLow, Want::Voltage),
    ("input range from high rail", Key::RangeHigh, Want::Voltage),
    ("output current", Key::OutputCurrent, Want::Current),
    ("output resistance", Key::OutputResistance, Want::Resistance),
    ("input capacitance", Key::InputCapacitance, Want::Capacitance),
    ("differential capacitance", Key::DifferentialCapacitance, Want::Capacitance),
    ("minimum gain", Key::MinimumGain, Want::Gain),
    ("supply range", Key::SupplyRange, Want::Voltage),
    ("supply current", Key::SupplyCurrent, Want::Current),
    ("amplifiers in package", Key::InPackage, Want::Number),
];

/// The words of all data that a sheet may give, each with what its figure has to be.
pub fn keys() -> impl Iterator<Item = (&'static str, Want)> {
    WORDS.iter().map(|(words, _, want)| (*words, *want))
}

/// Reads an entry of a data sheet; `None` where its words are not on the list.
pub(crate) fn datum(reader: &mut Reader, entry: &DatasheetEntry) -> Option<DatumPiece> {
    let words = entry.words.iter().map(|w| &*w.text).collect::<Vec<_>>().join(" ");
    let Some(span) = entry.words.iter().map(|w| w.span).reduce(Span::to) else {
        // Figures without words: of what is not known.
        let span = entry.data.iter().find_map(|d| d.amount.as_ref()).map(Amount::span)?;
        let (words, figure) = (words.into(), Figure::default());
        return Some(DatumPiece { key: Key::Unread, words, span, figure, unreadable: true });
    };
    let Some((_, key, want)) = WORDS.iter().find(|(w, ..)| *w == words) else {
        let near = notation::near::nearest(&words, WORDS.iter().map(|w| w.0));
        let hint = near.map_or_else(String::new, |n| format!(": did you mean {n}"));
        let mut f = fault("unknown-datum", span, format!("a data sheet has no `{words}` here{hint}"));
        if let Some(n) = near {
            f.fixes.push(notation::tree::Fix { title: format!("write {n}"), edits: vec![(span, n.into())] });
        }
        reader.open(f);
        let meant = near.and_then(|n| WORDS.iter().find(|(w, ..)| *w == n)).map(|(_, key, _)| *key);
        let words = near.unwrap_or(&words).into();
        return Some(DatumPiece {
            key: meant.unwrap_or(Key::Unread),
            words,
            span,
            figure: Figure::default(),
            unreadable: true,
        });
    };
    reader.subject = words.clone();
    let mut figure = Figure::default();
    for d in &entry.data {
        one(reader, d, *want, &mut figure);
    }
    for x in [&mut figure.typical, &mut figure.min, &mut figure.max] {
        // A gain of the circuit is a ratio; amplifiers are quoted in dB or in V/V alike.
        if let Some(v) = *x
            && (v < 0.0 && !key.signed() || v == 0.0 && key.positive())
        {
            let least = if key.positive() { "above 0" } else { "of 0 or more" };
            reader.open(fault("datum-not-positive", span, format!("{words} is a figure {least}")));
            *x = None;
        }
        if x.is_some_and(|v| !in_reach(v)) {
            reader.open(out_of_reach(span, &words));
            *x = None;
        }
    }
    let given: Vec<f64> = [figure.min, figure.typical, figure.max].into_iter().flatten().collect();
    // An input range below 0 is given in either sense.
    if !key.signed() && !given.is_sorted() {
        let message = format!("{words} has its least figure above another: min is at most typ, and typ at most max");
        reader.open(fault("datum-order", span, message));
    }
    // Below 1 it is no gain: a sign in front of decibels that belongs elsewhere.
    if *key == Key::OpenLoopGain && given.iter().any(|x| *x < 1.0) {
        let message = "open loop gain below 0 dB amplifies nothing: a gain of 100 dB is ×100,000".to_string();
        reader.open(fault("datum-not-positive", span, message));
    }
    Some(DatumPiece { key: *key, words: words.into(), span, figure, unreadable: false })
}

fn one(reader: &mut Reader, d: &Datum, want: Want, figure: &mut Figure) {
    let ratio = |(value, unit): (f64, Unit)| if unit == Unit::Decibel { quantity::from_db(value) } else { value };
    let value = reader.amount(&d.amount, want).map(ratio);
    if let (Some(Amount::Expression(_)), None) = (&d.amount, reader.scope) {
        return;
    }
    if d.to.is_some() {
        figure.min = value;
        figure.max = reader.amount(&d.to, want).map(ratio);
        return;
    }
    match d.tag.as_ref().map(|t| &*t.text) {
        Some("min") => figure.min = value,
        Some("max") => figure.max = value,
        _ => figure.typical = value,
    }
}

impl Sheet {
    /// Takes an entry's figures.
    pub fn take(&mut self, piece: &DatumPiece) {
        if piece.unreadable && piece.key.is_of_signals() {
            self.unknown.get_or_insert(format!("{}'s {} cannot be read", self.name, piece.words).into());
        }
        if piece.unreadable && piece.key != Key::Unread {
            self.unreadable.push(piece.words.clone());
        }
        match piece.key {
            Key::OpenLoopGain => self.open_loop_gain = piece.figure,
            Key::GainBandwidth => self.gain_bandwidth = piece.figure,
            Key::OutputResistance => self.output_resistance = piece.figure,
            Key::InputCapacitance => self.input_capacitance = piece.figure,
            Key::DifferentialCapacitance => self.differential_capacitance = piece.figure,
            Key::SlewRate => self.slew_rate = piece.figure,
            Key::VoltageNoise => self.voltage_noise = piece.figure,
            Key::VoltageNoiseCorner => self.voltage_noise_corner = piece.figure,
            Key::CurrentNoise => self.current_noise = piece.figure,
            Key::CurrentNoiseCorner => self.current_noise_corner = piece.figure,
            Key::InputOffset => self.input_offset = piece.figure,
            Key::InputBias => self.input_bias = piece.figure,
            Key::Swing => (self.swing_high, self.swing_low) = (piece.figure, piece.figure),
            Key::SwingHigh => self.swing_high = piece.figure,
            Key::SwingLow => self.swing_low = piece.figure,
            Key::RangeLow => self.range_low = piece.figure,
            Key::RangeHigh => self.range_high = piece.figure,
            Key::OutputCurrent => self.output_current = piece.figure,
            Key::MinimumGain => self.minimum_gain = piece.figure,
            Key::SupplyRange => self.supply_range = piece.figure,
            Key::SupplyCurrent => self.supply_current = piece.figure,
            Key::InPackage => self.in_package = piece.figure,
            Key::Unread => {
                let name = &self.name;
                let why = match &*piece.words {
                    "" => format!("a row of {name} does not say what it gives"),
                    words => format!("{name}'s row {words} cannot be read"),
                };
                self.strange.get_or_insert(why.into());
            }
        }
    }

    /// A row that nobody can read may give any datum of the signals that is left out, and then none of those is ideal.
    pub fn complete(&mut self) {
        let of_signals = [
            &self.open_loop_gain,
            &self.gain_bandwidth,
            &self.output_resistance,
            &self.input_capacitance,
            &self.differential_capacitance,
            &self.minimum_gain,
        ];
        if of_signals.iter().any(|f| f.nominal().is_none())
            && let Some(why) = &self.strange
        {
            self.unknown.get_or_insert(why.clone());
        }
    }
}
