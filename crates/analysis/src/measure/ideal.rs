//! Whether a quantity of the whole circuit rests on typical figures: whether leaving the amplifiers ideal, or making them slower, changes it.

use std::collections::BTreeSet;
use std::sync::Arc;

use circuit::{Circuit, Figure, Measure, Name, PartKind, Sheet};
use quantity::Unit;

use super::Bench;
use crate::positions::Stand;

/// The types on whose typical figures one of these values rests, each with the position at which it was found.
pub(super) fn types(bench: &Bench, measure: &Measure, found: &[([f64; 2], &Stand)]) -> BTreeSet<Name> {
    let relevant = bench.relevant(measure);
    let mut types = BTreeSet::new();
    for (id, _) in bench.amplifiers() {
        let sheet = bench.sheet(id);
        let law = bench.whole.network.pieces[id.at()].branch;
        let guessed = |f: &&Figure| f.typical.is_some();
        if law.is_some_and(|l| relevant[l as usize]) && figures(sheet).iter().any(guessed) {
            types.insert(sheet.name.clone());
        }
    }
    if types.is_empty() {
        return types;
    }
    // Beside ideal ones, slower ones: where two curves cross, one of them alone would say that a figure has no say.
    let others = [idealised(bench.circuit), slowed(bench.circuit)].map(Arc::new);
    // As much as a figure of three digits would show: 0.05 %, which of a figure in decibels is 0.004 dB.
    let near = |a: f64, b: f64| match super::unit(measure) {
        Unit::Decibel => (a - b).abs() <= 4e-3 || a == b,
        _ => (a - b).abs() <= 5e-4 * a.abs().max(b.abs()),
    };
    let rests = |(ends, stand): &([f64; 2], &Stand)| {
        !others.iter().all(|circuit| {
            let other = Bench { circuit, ..*bench };
            other.at(measure, stand).is_ok_and(|f| f.ends().iter().zip(ends).all(|(a, b)| near(*a, *b)))
        })
    };
    if found.iter().any(rests) { types } else { BTreeSet::new() }
}

/// The figures of a sheet that are in the equations.
fn figures(sheet: &Sheet) -> [&Figure; 5] {
    [
        &sheet.open_loop_gain,
        &sheet.gain_bandwidth,
        &sheet.output_resistance,
        &sheet.input_capacitance,
        &sheet.differential_capacitance,
    ]
}

/// The circuit with amplifiers of endless gain and bandwidth, and without capacitances. What a sheet leaves out stays left out, so
/// that the equations are the same.
fn idealised(circuit: &Circuit) -> Circuit {
    with_figures(circuit, &|_| f64::INFINITY, &|_| 0.0)
}

/// The circuit with amplifiers of half the gain and bandwidth, and twice the capacitances.
fn slowed(circuit: &Circuit) -> Circuit {
    with_figures(circuit, &|x| 0.5 * x, &|x| 2.0 * x)
}

/// The circuit with the figures of its amplifiers changed: the fast ones, and the capacitances.
fn with_figures(circuit: &Circuit, fast: &dyn Fn(f64) -> f64, capacitance: &dyn Fn(f64) -> f64) -> Circuit {
    let mut circuit = circuit.clone();
    let becomes = |figure: &mut Figure, change: &dyn Fn(f64) -> f64| {
        if let Some(x) = figure.nominal() {
            *figure = Figure { typical: Some(change(x)), min: None, max: None };
        }
    };
    for part in &mut circuit.parts {
        if let PartKind::Amplifier { sheet, .. } = &mut part.kind {
            let sheet = Arc::make_mut(sheet);
            becomes(&mut sheet.open_loop_gain, fast);
            becomes(&mut sheet.gain_bandwidth, fast);
            becomes(&mut sheet.input_capacitance, capacitance);
            becomes(&mut sheet.differential_capacitance, capacitance);
        }
    }
    circuit
}
