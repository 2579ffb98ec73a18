//! Whether a circuit grows by itself: a pole in the right half plane, at rest or at another position of its controls.

use std::collections::BTreeSet;
use std::f64::consts::TAU;
use std::sync::Arc;

use circuit::{Circuit, ControlId, Name, PartId};
use pencil::Column;

use super::{Whole, poles};
use crate::network::Shape;
use crate::positions::{self, Hands, Stand};
use crate::values::number;

/// What grows.
#[derive(Clone, Debug, PartialEq)]
pub struct Growth {
    /// In hertz: of a pair its natural frequency; of a real pole 0, since it runs away without swinging.
    pub frequency: f64,
    /// How often a second it grows e-fold.
    pub rate: f64,
    /// The position at which it was found; empty at rest.
    pub position: Name,
    /// The amplifiers of the loop.
    pub amplifiers: Vec<PartId>,
    /// The parts of the loop.
    pub parts: Vec<PartId>,
}

/// The fastest growth of each part of the circuit that grows, at the first position where it does. Nothing where a value is
/// missing, where the circuit has no unique answer, or where the poles cannot be told: silence is no verdict. `pulse` is called now and then: it may unwind.
pub fn unstable(whole: &Whole, circuit: &Arc<Circuit>, pulse: &dyn Fn()) -> Vec<Growth> {
    let mut found: Vec<Growth> = Vec::new();
    if whole.sound.fault().is_some() {
        return found;
    }
    let hands = Hands::of(circuit);
    let all: Vec<ControlId> = (0..circuit.controls.len() as u32).map(ControlId).collect();
    let mut stands = vec![hands.rest()];
    if !all.is_empty() {
        stands.extend(hands.examined(&all, positions::MOST).into_iter().take(positions::SOUGHT));
    }
    // A setting that cannot be read is no position.
    for stand in stands.iter().filter(|s| s.unknown.is_none()) {
        pulse();
        let Some(values) = values(whole, circuit, stand) else { return Vec::new() };
        let Ok(blocks) = poles::of(whole, &values) else { continue };
        for block in blocks.iter().flat_map(|b| b.iter()) {
            let grows = |r: &&pencil::Root| r.s.im >= 0.0 && r.s.re > poles::ON_AXIS * r.s.norm().max(r.error);
            let Some(worst) = block.roots.iter().filter(grows).max_by(|a, b| a.s.re.total_cmp(&b.s.re)) else {
                continue;
            };
            let amplifiers = amplifiers(whole, block);
            let parts = parts(whole, block);
            if found.iter().any(|g| g.parts.iter().any(|p| parts.contains(p))) {
                continue;
            }
            found.push(Growth {
                frequency: if worst.s.im == 0.0 { 0.0 } else { worst.s.norm() / TAU },
                rate: worst.s.re,
                position: stand.name.clone(),
                amplifiers,
                parts,
            });
        }
    }
    found
}

/// All numbers; `None` where one is missing.
fn values(whole: &Whole, circuit: &Circuit, stand: &Stand) -> Option<Vec<f64>> {
    let one = |(part, quality): &(PartId, crate::network::Quality)| {
        let x = number(&circuit.parts[part.at()], *quality).at(&stand.positions);
        x.is_finite().then_some(x)
    };
    whole.network.parameters.iter().map(one).collect()
}

/// The amplifiers whose law stands in a block.
fn amplifiers(whole: &Whole, block: &pencil::Roots) -> Vec<PartId> {
    let all = whole.network.pieces.iter().enumerate();
    all.filter(|(_, p)| {
        matches!(p.shape, Shape::Amplifier { .. }) && p.branch.is_some_and(|b| block.block.equations.contains(&b))
    })
    .map(|(i, _)| PartId(i as u32))
    .collect()
}

/// The parts whose numbers stand in a block.
fn parts(whole: &Whole, block: &pencil::Roots) -> Vec<PartId> {
    let within = |s: &&pencil::Stamp| {
        s.rows.iter().any(|(r, _)| block.block.equations.contains(r))
            && s.columns.iter().any(|(c, _)| matches!(c, Column::Unknown(u) if block.block.unknowns.contains(u)))
    };
    let stamps = whole.sound.pencil.stamps().iter().filter(within);
    let found: BTreeSet<PartId> =
        stamps.filter_map(|s| Some(whole.network.parameters[s.value.parameter()?.0 as usize].0)).collect();
    found.into_iter().collect()
}
