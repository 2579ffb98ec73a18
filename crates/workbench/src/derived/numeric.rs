//! A response past a hand derivation: its zeros, poles and constant, from the solver.

use circuit::{NodeId, Position};
use derivation::{Line, said};

use crate::derived::alone::Alone;

/// A response by its zeros and poles.
pub fn numeric(
    alone: &Alone,
    what: &str,
    from: NodeId,
    to: NodeId,
    positions: &[Position],
    reference: f64,
) -> Vec<Line> {
    let hertz = analysis::print::hertz;
    let size = alone.gain(from, to, positions, reference);
    let Some(factored) = alone.factored(from, to, positions) else {
        let known = size.and_then(|z| quantity::ratio_with_decibels(z.norm(), quantity::Style::default()));
        return known.map(|text| said(format!("{what} is {text} at {}.", hertz(reference)))).into_iter().collect();
    };
    let list = |roots: &[num_complex::Complex64]| {
        let mut all: Vec<_> = roots.iter().filter(|r| r.im >= 0.0).collect();
        all.sort_by(|a, b| a.norm().total_cmp(&b.norm()));
        let each = all.into_iter().map(|r| {
            let f = hertz(r.norm() / std::f64::consts::TAU);
            if r.norm() == 0.0 {
                "0 Hz".to_string()
            } else if r.im == 0.0 {
                let side = if r.re > 0.0 { ", on the right" } else { "" };
                format!("{f}{side}")
            } else if r.re.abs() <= analysis::factored::ON_AXIS * r.norm() {
                format!("a pair at {f} on the axis")
            } else {
                let q = -0.5 * r.norm() / r.re;
                let q = quantity::computed(q, quantity::Unit::One, quantity::Style::default());
                q.map_or_else(|| format!("a pair at {f} on the axis"), |q| format!("a pair at {f} with Q {q}"))
            }
        });
        let text = each.collect::<Vec<_>>().join(", ");
        if text.is_empty() { "none".to_string() } else { text }
    };
    let mut lines = vec![
        said(format!("{what}: poles {}; zeros {}.", list(&factored.poles), list(&factored.zeros))),
        said(format!("  its constant, before Π(s − zero)/Π(s − pole) with s in rad/s, {}", constant(factored.gain))),
    ];
    if let Some(z) = size {
        let text =
            quantity::ratio_with_decibels(z.norm(), quantity::Style::default()).unwrap_or_else(|| "nothing".into());
        lines.push(said(format!("  at {} it is {text}", hertz(reference))));
    }
    lines
}

/// A constant with seven digits, whatever its unit comes to.
fn constant(x: f64) -> String {
    let style = quantity::Style { digits: 7, ..quantity::Style::default() };
    quantity::computed(x, quantity::Unit::One, style).unwrap_or_else(|| "unknown".into())
}
