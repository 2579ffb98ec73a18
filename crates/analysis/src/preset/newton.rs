//! Presets that act on each other, set at once: Newton's steps on all travels together, in many builds side by side.

use super::{HOLDS, Preset};
use crate::build::Build;
use crate::small::solved;

/// So many steps are taken; from a good start each doubles the digits, and what has not come by then does not come.
const STEPS: usize = 24;
/// How far a preset is turned to see how its quantity moves.
const TURN: f64 = 1e-6;
/// A step that has to be shortened to less leads nowhere.
const LEAST: f64 = 1e-3;
/// Nothing is sought that is nearer than this share of the target: it is what rounding leaves.
const SETTLED: f64 = 1e-13;

/// A build on its way: its number, where its presets stand, and by what share of its target each quantity is off.
struct On {
    build: usize,
    travels: Vec<f64>,
    off: Vec<f64>,
}

fn size(off: &[f64]) -> f64 {
    off.iter().map(|x| x * x).sum()
}

fn within(off: &[f64], share: f64) -> bool {
    off.iter().all(|x| x.abs() <= share)
}

/// Sets the presets of the builds `live` from where they stand, and takes those from the list in which all hold then; the
/// others stand as before.
pub(super) fn together(presets: &[Preset], builds: &mut [Build], live: &mut Vec<usize>, pulse: &dyn Fn()) {
    let Some(targets) = presets.iter().map(|p| p.target).collect::<Option<Vec<f64>>>() else { return };
    let bench = Bench { presets, targets: &targets, pulse };
    let start: Vec<(usize, Vec<f64>)> =
        live.iter().map(|b| (*b, builds[*b].travels.iter().map(|t| t.1).collect())).collect();
    let misses = bench.misses(builds, &start);
    let known = start.into_iter().zip(misses);
    let mut on: Vec<On> = known.filter_map(|((build, travels), off)| Some(On { build, travels, off: off? })).collect();
    let mut done: Vec<On> = Vec::new();
    for _ in 0..STEPS {
        let (settled, rest): (Vec<On>, Vec<On>) = on.into_iter().partition(|o| within(&o.off, SETTLED));
        done.extend(settled);
        on = rest;
        if on.is_empty() {
            break;
        }
        let steps = bench.steps(builds, &on);
        let (going, stuck): (Vec<_>, Vec<_>) = on.into_iter().zip(steps).partition(|(_, step)| step.is_some());
        let going = going.into_iter().filter_map(|(o, step)| Some((o, step?))).collect();
        let (nearer, stood) = bench.stepped(builds, going);
        done.extend(stuck.into_iter().map(|(o, _)| o).chain(stood));
        on = nearer;
    }
    done.extend(on);
    // What no step brings nearer holds all the same where it is near enough.
    done.retain(|o| within(&o.off, HOLDS));
    for o in &done {
        builds[o.build].travels.iter_mut().zip(&o.travels).for_each(|(t, x)| t.1 = *x);
    }
    live.retain(|b| done.iter().all(|o| o.build != *b));
}

struct Bench<'a> {
    presets: &'a [Preset<'a>],
    targets: &'a [f64],
    pulse: &'a dyn Fn(),
}

impl Bench<'_> {
    /// By what share of its target each quantity is off, in builds with their presets at some travels; `None` where one is not known.
    fn misses(&self, builds: &[Build], at: &[(usize, Vec<f64>)]) -> Vec<Option<Vec<f64>>> {
        let turned: Vec<Build> = at
            .iter()
            .map(|(b, travels)| {
                let mut build = builds[*b].clone();
                build.travels.iter_mut().zip(travels).for_each(|(t, x)| t.1 = *x);
                build
            })
            .collect();
        let mut all: Vec<Option<Vec<f64>>> = vec![Some(Vec::with_capacity(self.presets.len())); at.len()];
        for (preset, target) in self.presets.iter().zip(self.targets) {
            for (row, x) in all.iter_mut().zip(preset.see(&turned, self.pulse)) {
                match x {
                    Ok(x) if x.is_finite() => {
                        if let Some(row) = row {
                            row.push(preset.off(x, *target));
                        }
                    }
                    _ => *row = None,
                }
            }
        }
        all
    }

    /// The step that each build would take if its quantities moved evenly, seen by small turns towards the middle.
    fn steps(&self, builds: &[Build], on: &[On]) -> Vec<Option<Vec<f64>>> {
        let n = self.presets.len();
        let turn = |x: f64| if x < 0.5 { TURN } else { -TURN };
        let at: Vec<(usize, Vec<f64>)> = on
            .iter()
            .flat_map(|o| {
                (0..n).map(|k| {
                    let mut travels = o.travels.clone();
                    travels[k] += turn(travels[k]);
                    (o.build, travels)
                })
            })
            .collect();
        let all = self.misses(builds, &at);
        on.iter()
            .zip(all.chunks(n))
            .map(|(o, turned)| {
                let mut rows = vec![vec![0.0; n]; n];
                for (k, after) in turned.iter().enumerate() {
                    for ((row, after), before) in rows.iter_mut().zip(after.as_ref()?).zip(&o.off) {
                        row[k] = (after - before) / turn(o.travels[k]);
                    }
                }
                solved(rows, o.off.clone(), 0.0)
            })
            .collect()
    }

    /// Where the steps lead, and what no step brings nearer. A step that makes things worse was too long and is shortened.
    fn stepped(&self, builds: &[Build], going: Vec<(On, Vec<f64>)>) -> (Vec<On>, Vec<On>) {
        let (mut arrived, mut stood) = (Vec::with_capacity(going.len()), Vec::new());
        let mut open = going;
        let mut share = 1.0;
        while !open.is_empty() && share >= LEAST {
            let tried = |(o, step): &(On, Vec<f64>)| -> (usize, Vec<f64>) {
                let one = |(t, s): (&f64, &f64)| (t - share * s).clamp(0.0, 1.0);
                (o.build, o.travels.iter().zip(step).map(one).collect())
            };
            let at: Vec<(usize, Vec<f64>)> = open.iter().map(tried).collect();
            let misses = self.misses(builds, &at);
            let mut worse = Vec::new();
            for (((o, step), (build, travels)), off) in open.into_iter().zip(at).zip(misses) {
                match off {
                    Some(off) if size(&off) < size(&o.off) => arrived.push(On { build, travels, off }),
                    _ => worse.push((o, step)),
                }
            }
            share *= 0.5;
            // What holds already is not worth a search for its last digit.
            let (near, far): (Vec<_>, Vec<_>) = worse.into_iter().partition(|(o, _)| within(&o.off, HOLDS));
            stood.extend(near.into_iter().map(|(o, _)| o));
            open = far;
        }
        stood.extend(open.into_iter().map(|(o, _)| o));
        (arrived, stood)
    }
}
