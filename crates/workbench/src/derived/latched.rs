//! A stage that does not come to rest by itself: what its amplifiers feed back to the + side outweighs the rest.
//!
//! A determinant tells. The amplifiers' gain falls to nothing far up in frequency, and there the determinant of the nodal equations, with
//! the law `V(out)/A = V(+) − V(−)` in place of each output's current law, has the sign of a network of passive parts. Where it has the other
//! sign close to rest, the gain still whole, it passes 0 at a positive real `s` in between: a voltage that grows without swinging.

use circuit::{Circuit, Position, Standing};
use derivation::immittance::Kind;
use derivation::network::Network;
use derivation::{Line, listed, said};

use super::numbers::value_of;

/// The open-loop gain that is taken: 100 dB, of the order of what amplifiers have. A balance closer than its reciprocal is none that
/// an amplifier would feel.
const GAIN: f64 = 1e5;
/// A pivot below this share of its row is rounding, and decides nothing.
const ROUNDING: f64 = 1e-10;
/// Rest is this share of the band's lower end.
const REST: f64 = 1e-6;

/// What is said in place of a working where the stage latches with its controls at these positions.
pub fn latched(circuit: &Circuit, network: &Network, positions: &[Position]) -> Option<Vec<Line>> {
    let scope = Standing { circuit, positions };
    let s = std::f64::consts::TAU * circuit.band.0 * REST;
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
    let gains = vec![true; network.amplifiers.len()];
    if !negative(network, &branches, &gains)? {
        return None;
    }
    // An amplifier belongs to the loop where without it the others would stand.
    let needed = |i: &usize| {
        let others: Vec<bool> = (0..gains.len()).map(|k| k != *i).collect();
        negative(network, &branches, &others) == Some(false)
    };
    let mut loops: Vec<usize> = (0..gains.len()).filter(needed).collect();
    if loops.is_empty() {
        loops = (0..gains.len()).collect();
    }
    let names: Vec<String> = loops.iter().map(|i| network.amplifiers[*i].name.clone()).collect();
    let text = match &loops[..] {
        [one] => {
            let amp = &network.amplifiers[*one];
            format!(
                "{} latches: at rest more of {} comes back to its + input than to its − input, so whatever moves it is driven further, until it stands at a rail. There is no gain to work out; with + and − exchanged the loop holds at rest.",
                amp.name, network.nodes[amp.out]
            )
        }
        _ => format!(
            "The loop of {} latches: at rest what comes back to its + side outweighs the rest, so whatever moves it is driven further, until it stands at a rail. There is no gain to work out.",
            listed(&names)
        ),
    };
    Some(vec![said(text)])
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
    // A row's own scale is positive and leaves the sign alone.
    for row in &mut rows {
        let most = row.iter().fold(0.0f64, |m, x| m.max(x.abs()));
        row.iter_mut().for_each(|x| *x /= most);
    }
    let mut minus = false;
    for k in 0..rows.len() {
        let best = (k..rows.len()).max_by(|i, j| rows[*i][k].abs().total_cmp(&rows[*j][k].abs()))?;
        if best != k {
            rows.swap(best, k);
            minus = !minus;
        }
        let pivot = rows[k][k];
        if !pivot.is_finite() || pivot.abs() < ROUNDING {
            return None;
        }
        minus ^= pivot < 0.0;
        let (above, below) = rows.split_at_mut(k + 1);
        for row in below {
            let share = row[k] / pivot;
            row.iter_mut().zip(&above[k]).skip(k).for_each(|(x, y)| *x -= share * y);
        }
    }
    Some(minus)
}
