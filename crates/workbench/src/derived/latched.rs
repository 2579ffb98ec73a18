//! A stage that does not come to rest by itself: what its amplifiers feed back to the + side outweighs the rest.
//!
//! The sign of a determinant tells, as in [`analysis::latching`], here that of the nodal equations with the law `V(out)/A = V(+) − V(−)` in place of
//! each output's current law.

use analysis::latching::{GAIN, HIGH, REST, outweighing, sign};
use circuit::{Circuit, Position, Standing};
use derivation::immittance::Kind;
use derivation::network::Network;
use derivation::{Line, listed, said};

use super::numbers::value_of;

/// What is said in place of a working where the stage latches with its controls at these positions.
pub fn latched(circuit: &Circuit, network: &Network, positions: &[Position]) -> Option<Vec<Line>> {
    let at = |hertz: f64| latches(circuit, network, positions, std::f64::consts::TAU * hertz);
    let (loops, rest) = match at(circuit.band.0 * REST) {
        Some(loops) => (loops, "at rest "),
        None => (at(circuit.band.1 * HIGH)?, "far above the band "),
    };
    let names: Vec<String> = loops.iter().map(|i| network.amplifiers[*i].name.clone()).collect();
    let text = match &loops[..] {
        [one] => {
            let amp = &network.amplifiers[*one];
            let mend = if rest == "at rest " { "; with + and − exchanged the loop holds at rest" } else { "" };
            format!(
                "{} latches: {rest}more of {} comes back to its + input than to its − input, so whatever moves it is driven further, until it stands at a rail. There is no gain to work out{mend}.",
                amp.name, network.nodes[amp.out]
            )
        }
        _ => format!(
            "The loop of {} latches: {rest}what comes back to its + side outweighs the rest, so whatever moves it is driven further, until it stands at a rail. There is no gain to work out.",
            listed(&names)
        ),
    };
    Some(vec![said(text)])
}

/// The amplifiers of the loop that latches at a positive real `s`.
fn latches(circuit: &Circuit, network: &Network, positions: &[Position], s: f64) -> Option<Vec<usize>> {
    let scope = Standing { circuit, positions };
    let each = network.parts.iter().map(|p| {
        let value = value_of(&scope, &p.name)?.0;
        let admittance = match p.kind {
            Kind::R => 1.0 / value,
            Kind::C => s * value,
            Kind::L => 1.0 / (s * value),
        };
        admittance.is_finite().then_some((p.ends, admittance))
    });
    let branches: Vec<([usize; 2], f64)> = each.collect::<Option<_>>()?;
    outweighing(network.amplifiers.len(), |gains| negative(network, &branches, gains))
}

/// Whether the determinant is negative, with the gain of some amplifiers and the others at 0; `None` where that is not to be told.
fn negative(network: &Network, branches: &[([usize; 2], f64)], gains: &[bool]) -> Option<bool> {
    let free: Vec<usize> = (1..network.nodes.len()).filter(|n| !network.given(*n)).collect();
    let place = |n: usize| free.iter().position(|f| *f == n);
    let mut rows = vec![vec![0.0; free.len()]; free.len()];
    for ([a, b], y) in branches {
        for (from, to) in [(*a, *b), (*b, *a)] {
            let Some(row) = place(from) else { continue };
            rows[row][row] += y;
            if let Some(column) = place(to) {
                rows[row][column] -= y;
            }
        }
    }
    for (amp, whole) in network.amplifiers.iter().zip(gains) {
        // An output that a source holds as well has no sign of its own.
        let out = place(amp.out)?;
        rows[out].fill(0.0);
        rows[out][out] += if *whole { 1.0 / GAIN } else { 1.0 };
        for (input, sign) in [(amp.plus, -1.0), (amp.minus, 1.0)] {
            if let Some(column) = place(input).filter(|_| *whole) {
                rows[out][column] += sign;
            }
        }
    }
    sign(rows)
}
