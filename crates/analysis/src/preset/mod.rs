//! Presets: each is turned until its quantity has its value, in the design as it is drawn and again in every build.
//!
//! Many builds are set side by side, so that one replay of the equations serves them all. A build is near the design: from where the presets
//! stand there Newton's steps lead to where they have to stand here (`newton`). Where nothing is near yet, or the steps lead
//! nowhere, each is set in turn as at a bench (`turn`), again and again while they act on each other.

mod newton;
mod turn;

use std::sync::Arc;

use circuit::{Circuit, ControlId, Name, Position, Quantity, Query};

use crate::build::{Build, Scale, Way};
use crate::measure::Whole;
use crate::network::Network;
use crate::plan::Plan;
use crate::positions::{Hands, Stand};
use crate::soundness::Sound;

/// A preset holds where its quantity is off by no more than this share of the target.
const HOLDS: f64 = 1e-8;
/// So often presets that act on each other are set in turn before they count as not settling.
pub const ROUNDS: usize = 40;
/// After so many of them all are moved at once: what a few turns do not settle may take hundreds where the answer is near all the same.
const IN_TURN: usize = 2;
/// A preset that is turned by less has not moved.
const MOVED: f64 = 1e-12;

/// What a preset is set by.
#[derive(Clone, Debug)]
pub struct Goal {
    /// The preset.
    pub control: ControlId,
    /// The question's plan.
    pub plan: Arc<Plan>,
    /// The question.
    pub query: Query,
    /// What it is set to, in the reading's unit (of a gain a ratio); `None`: to the greatest value.
    pub target: Option<f64>,
    /// That is a ratio with its sign.
    pub signed: bool,
}

/// A preset with the way to its quantity.
pub struct Preset<'a> {
    /// What is turned.
    pub control: ControlId,
    /// What it is called.
    pub name: Name,
    /// The quantity.
    pub way: Way<'a>,
    /// Where the other controls stand.
    stand: Stand,
    target: Option<f64>,
}

/// Why a preset does not stand where it should.
#[derive(Clone, Debug, PartialEq)]
pub enum Amiss {
    /// Its quantity is not known: a clause.
    Unknown(String),
    /// It does not move its quantity.
    Still,
    /// It does not reach what it is set to: travel and value of the least and of the greatest that it reaches.
    Short {
        /// Where it is lowest.
        least: (f64, f64),
        /// Where it is highest.
        most: (f64, f64),
    },
    /// Set in turn, it and these others do not all come to what is wanted.
    Unsettled(Vec<ControlId>),
}

/// Where the presets of builds are set from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum From {
    /// From nothing: of several places the first from 0 %.
    Nothing,
    /// From the design, whose presets are set.
    Design,
}

impl<'a> Preset<'a> {
    /// The way to a goal's quantity.
    ///
    /// # Errors
    /// Why no preset can be set by it: a clause.
    pub fn of(
        goal: &'a Goal,
        network: &'a Network,
        sound: &Sound,
        whole: Option<&'a Whole>,
        circuit: &'a Arc<Circuit>,
    ) -> Result<Preset<'a>, String> {
        let hands = Hands::of(circuit);
        let scale = match goal.query.quantity {
            Quantity::Phase(..) => Scale::Real,
            Quantity::Gain(..) if goal.signed => Scale::Signed,
            Quantity::Gain(..) => Scale::Size,
            _ => Scale::Resistance,
        };
        // A phase is told in the turn of its target.
        let turn = goal.target.unwrap_or(0.0);
        let way = Way::of(network, sound, whole, circuit, &goal.plan, &goal.query, (scale, turn))?
            .ok_or("nothing moves it")?;
        if !way.single() {
            return Err("it has no single value".into());
        }
        let stand = match &goal.query.when {
            Some(when) => hands.when(when, &way.controls()),
            None => hands.rest(),
        };
        if let Some(why) = &stand.unknown {
            return Err(why.to_string());
        }
        let name = hands.controls[goal.control.at()].name.clone();
        Ok(Preset { control: goal.control, name, way, stand, target: goal.target })
    }

    /// Whether many builds are set about as fast as a few: from near by, by a few steps. A greatest value is searched for in each.
    pub fn quick(&self) -> bool {
        self.target.is_some() && self.way.quick()
    }

    /// The quantity in builds as their presets stand.
    fn see(&self, builds: &[Build], pulse: &dyn Fn()) -> Vec<Result<f64, String>> {
        self.way.see(&self.stand, builds, pulse).into_iter().map(|seen| seen.map(|s| s.ends[0])).collect()
    }

    /// By what share of its target a value is off; of a target of 0, by how much.
    fn off(&self, value: f64, target: f64) -> f64 {
        (value - target) / if target == 0.0 { 1.0 } else { target.abs() }
    }

    fn drawn(&self, circuit: &Circuit) -> f64 {
        match circuit.controls[self.control.at()].rest {
            Position::Travel(p) => p,
            Position::Step(_) => 0.5,
        }
    }
}

/// Sets the presets of builds of a circuit; of each build and each preset what is amiss.
pub fn set(
    presets: &[Preset],
    circuit: &Circuit,
    builds: &mut [Build],
    from: From,
    pulse: &dyn Fn(),
) -> Vec<Vec<Option<Amiss>>> {
    let mut amiss: Vec<Vec<Option<Amiss>>> = vec![vec![None; presets.len()]; builds.len()];
    if presets.is_empty() {
        return amiss;
    }
    for build in builds.iter_mut() {
        build.travels = presets.iter().map(|p| (p.control, p.drawn(circuit))).collect();
    }
    let mut live: Vec<usize> = (0..builds.len()).collect();
    if from == From::Design {
        newton::together(presets, builds, &mut live, pulse);
    }
    let mut moved: Vec<Vec<usize>> = vec![Vec::new(); builds.len()];
    for round in 0..ROUNDS {
        live.iter().for_each(|b| moved[*b].clear());
        for (i, preset) in presets.iter().enumerate() {
            let which = if round == 0 { live.clone() } else { turn::astray(preset, builds, &live, pulse) };
            for (&b, aim) in which.iter().zip(turn::aim(preset, i, builds, &which, pulse)) {
                amiss[b][i] = aim.amiss;
                let stands = &mut builds[b].travels[i].1;
                let before = *stands;
                *stands = aim.travel.unwrap_or(before);
                if round == 0 || (*stands - before).abs() > MOVED {
                    moved[b].push(i);
                }
            }
        }
        // One alone holds where it is set, and where one cannot be set at all the others wait for nothing.
        let lost = |b: usize| amiss[b].iter().flatten().any(|a| matches!(a, Amiss::Unknown(_) | Amiss::Still));
        live.retain(|b| presets.len() > 1 && !moved[*b].is_empty() && !lost(*b));
        if round == IN_TURN {
            let before = live.clone();
            newton::together(presets, builds, &mut live, pulse);
            before.iter().filter(|b| !live.contains(b)).for_each(|b| amiss[*b].fill(None));
        }
        if live.is_empty() {
            break;
        }
    }
    for b in live {
        for &i in &moved[b] {
            let others = moved[b].iter().filter(|o| **o != i).map(|o| presets[*o].control).collect();
            amiss[b][i] = Some(Amiss::Unsettled(others));
        }
    }
    amiss
}
