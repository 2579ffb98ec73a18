//! Presets in builds: each is set again until its quantity has its value there.
//!
//! All builds are narrowed down side by side, so that one replay of the equations serves many.

use circuit::ControlId;

use super::build::{Build, Way};
use crate::positions::Stand;

/// A preset with what it is set by.
pub struct Preset<'a> {
    /// What is turned.
    pub control: ControlId,
    /// The quantity.
    pub way: Way<'a>,
    /// Where the other controls stand.
    pub stand: Stand,
    /// What it is set to; `None`: to the greatest value.
    pub target: Option<f64>,
    /// What it is called.
    pub name: circuit::Name,
}

/// How many positions are looked at before the best of them is narrowed down.
const LOOKS: usize = 64;
/// So often presets that act on each other are set in turn.
const ROUNDS: usize = 40;
/// Builds that are set side by side.
const TOGETHER: usize = 512;

/// Sets the presets of builds; of each build that cannot be set, why.
pub fn set(presets: &[Preset], builds: &mut [Build], pulse: &dyn Fn()) -> Vec<Option<String>> {
    let mut amiss: Vec<Option<String>> = vec![None; builds.len()];
    if presets.is_empty() {
        return amiss;
    }
    for build in builds.iter_mut() {
        build.travels = presets.iter().map(|p| (p.control, nominal(p))).collect();
    }
    for (some, amiss) in builds.chunks_mut(TOGETHER).zip(amiss.chunks_mut(TOGETHER)) {
        for round in 0..ROUNDS {
            let mut moved = 0.0f64;
            for (i, preset) in presets.iter().enumerate() {
                let travels = travels(preset, i, some, pulse);
                for ((build, travel), amiss) in some.iter_mut().zip(travels).zip(&mut *amiss) {
                    match travel {
                        Ok(travel) => {
                            moved = moved.max((build.travels[i].1 - travel).abs());
                            build.travels[i].1 = travel;
                        }
                        Err(why) => *amiss = amiss.take().or(Some(why)),
                    }
                }
            }
            // One alone holds where it is set.
            if presets.len() == 1 || moved <= 1e-12 {
                break;
            }
            if round + 1 == ROUNDS {
                let why = "its presets undo each other's trim";
                amiss.iter_mut().for_each(|a| *a = a.take().or(Some(why.into())));
            }
        }
    }
    amiss
}

fn nominal(preset: &Preset) -> f64 {
    match preset.stand.positions[preset.control.at()] {
        circuit::Position::Travel(p) => p,
        circuit::Position::Step(_) => 0.5,
    }
}

/// The travel at which the preset's quantity has its value in each build: the first one from 0 %.
fn travels(preset: &Preset, own: usize, builds: &[Build], pulse: &dyn Fn()) -> Vec<Result<f64, String>> {
    // The builds have nothing in common but the travel that each is to be looked at.
    let look = |which: &[(usize, f64)]| -> Vec<Option<f64>> {
        let turned: Vec<Build> = which
            .iter()
            .map(|(b, travel)| {
                let mut build = builds[*b].clone();
                build.travels[own].1 = *travel;
                build
            })
            .collect();
        preset.way.see(&preset.stand, &turned, pulse).into_iter().map(|s| s.ok().map(|s| s.ends[0])).collect()
    };
    let travel = |k: usize| k as f64 / LOOKS as f64;
    let mut looks: Vec<Vec<Option<f64>>> = vec![Vec::with_capacity(LOOKS + 1); builds.len()];
    for k in 0..=LOOKS {
        let all: Vec<(usize, f64)> = (0..builds.len()).map(|b| (b, travel(k))).collect();
        looks.iter_mut().zip(look(&all)).for_each(|(l, x)| l.push(x));
    }
    match preset.target {
        Some(target) => {
            let mut brackets: Vec<Option<[(f64, f64); 2]>> = looks
                .iter()
                .map(|l| {
                    let known: Vec<(f64, f64)> =
                        l.iter().enumerate().filter_map(|(k, x)| Some((travel(k), (*x)?))).collect();
                    known.windows(2).find(|w| (w[0].1 - target) * (w[1].1 - target) <= 0.0).map(|w| [w[0], w[1]])
                })
                .collect();
            for _ in 0..60 {
                let middles: Vec<(usize, f64)> = brackets
                    .iter()
                    .enumerate()
                    .filter_map(|(b, w)| {
                        let [low, high] = (*w)?;
                        let middle = 0.5 * (low.0 + high.0);
                        (middle > low.0 && middle < high.0).then_some((b, middle))
                    })
                    .collect();
                if middles.is_empty() {
                    break;
                }
                for ((b, middle), x) in middles.iter().zip(look(&middles)) {
                    brackets[*b] = brackets[*b].zip(x).map(|([low, high], x)| {
                        if (x - target) * (low.1 - target) <= 0.0 { [low, (*middle, x)] } else { [(*middle, x), high] }
                    });
                }
            }
            let short = || format!("{} does not reach what it is trimmed to", preset.name);
            let nearer = |[a, b]: [(f64, f64); 2]| if (a.1 - target).abs() <= (b.1 - target).abs() { a.0 } else { b.0 };
            brackets.into_iter().map(|w| w.map(nearer).ok_or_else(short)).collect()
        }
        None => {
            // Thirds around the best look; an end of the travel is an end.
            let best = |l: &Vec<Option<f64>>| {
                let known = l.iter().enumerate().filter_map(|(k, x)| Some((k, (*x)?)));
                known.reduce(|a, b| if b.1 > a.1 { b } else { a }).map(|b| b.0)
            };
            let mut ends: Vec<Option<[f64; 2]>> = looks
                .iter()
                .map(|l| best(l).map(|k| [travel(k.saturating_sub(1)), travel((k + 1).min(LOOKS))]))
                .collect();
            let known: Vec<usize> = (0..builds.len()).filter(|b| ends[*b].is_some()).collect();
            for _ in 0..64 {
                let at = |share: f64| -> Vec<(usize, f64)> {
                    let one = |b: &usize| ends[*b].map(|[low, high]| (*b, low + share * (high - low)));
                    known.iter().filter_map(one).collect()
                };
                let (a, b) = (at(1.0 / 3.0), at(2.0 / 3.0));
                for ((a, x), (b, y)) in a.iter().zip(look(&a)).zip(b.iter().zip(look(&b))) {
                    if let (Some([low, high]), Some(x), Some(y)) = (&mut ends[a.0], x, y) {
                        if x >= y { *high = b.1 } else { *low = a.1 }
                    }
                }
            }
            let none = || format!("what {} is trimmed by is unknown", preset.name);
            ends.into_iter().map(|e| e.map(|[low, high]| 0.5 * (low + high)).ok_or_else(none)).collect()
        }
    }
}
