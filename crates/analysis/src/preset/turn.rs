//! One preset at a time, as at a bench: looked at along its whole travel, then narrowed down.

use super::{Amiss, HOLDS, Preset};
use crate::build::Build;

/// How many steps of the travel are looked at before the best of them is narrowed down.
const LOOKS: usize = 64;
/// So often a bracket is halved: more than the digits of a travel.
const HALVINGS: usize = 60;
/// So often the place of a greatest value is narrowed to the golden section.
const SECTIONS: usize = 48;

/// Where a preset is to stand.
pub(super) struct Aim {
    /// The travel; `None` where there is nothing to go by.
    pub travel: Option<f64>,
    /// What is wrong with it there.
    pub amiss: Option<Amiss>,
}

impl Aim {
    fn at(travel: f64) -> Aim {
        Aim { travel: Some(travel), amiss: None }
    }

    fn none(amiss: Amiss) -> Aim {
        Aim { travel: None, amiss: Some(amiss) }
    }
}

/// Of some builds those in which a preset does not hold where it stands. What is brought to its greatest is looked at anew.
pub(super) fn astray(preset: &Preset, builds: &[Build], which: &[usize], pulse: &dyn Fn()) -> Vec<usize> {
    let Some(target) = preset.target else { return which.to_vec() };
    let now: Vec<Build> = which.iter().map(|b| builds[*b].clone()).collect();
    let seen = preset.see(&now, pulse);
    let holds = |x: &Result<f64, String>| x.as_ref().is_ok_and(|x| preset.off(*x, target).abs() <= HOLDS);
    which.iter().zip(&seen).filter(|(_, x)| !holds(x)).map(|(b, _)| *b).collect()
}

/// A travel with the value there.
type Look = (f64, f64);

/// Looks at builds with one preset turned.
struct Bench<'a> {
    preset: &'a Preset<'a>,
    own: usize,
    builds: &'a [Build],
    pulse: &'a dyn Fn(),
}

impl Bench<'_> {
    fn look(&self, at: &[(usize, f64)]) -> Vec<Result<f64, String>> {
        let turned: Vec<Build> = at
            .iter()
            .map(|(b, travel)| {
                let mut build = self.builds[*b].clone();
                build.travels[self.own].1 = *travel;
                build
            })
            .collect();
        self.preset.see(&turned, self.pulse)
    }
}

/// The travel at which the preset's quantity has its value in each of some builds: the first one from 0 %.
pub(super) fn aim(preset: &Preset, own: usize, builds: &[Build], which: &[usize], pulse: &dyn Fn()) -> Vec<Aim> {
    let bench = Bench { preset, own, builds, pulse };
    let travel = |k: usize| k as f64 / LOOKS as f64;
    let mut looks: Vec<Vec<Look>> = vec![Vec::with_capacity(LOOKS + 1); which.len()];
    let mut why: Vec<Option<String>> = vec![None; which.len()];
    for k in 0..=LOOKS {
        let all: Vec<(usize, f64)> = which.iter().map(|b| (*b, travel(k))).collect();
        for ((look, why), x) in looks.iter_mut().zip(&mut why).zip(bench.look(&all)) {
            match x {
                Ok(x) if !x.is_nan() => look.push((travel(k), x)),
                Ok(_) => {}
                Err(clause) => *why = Some(clause),
            }
        }
    }
    let mut found: Vec<Option<Aim>> = looks.iter().zip(why).map(|(l, why)| hopeless(l, why)).collect();
    match preset.target {
        Some(target) => reach(&bench, which, &looks, target, &mut found),
        None => rise(&bench, which, &looks, &mut found),
    }
    found.into_iter().map(|f| f.unwrap_or_else(|| Aim::none(Amiss::Still))).collect()
}

fn least_and_most(looks: &[Look]) -> Option<(Look, Look)> {
    let least = looks.iter().copied().reduce(|a, b| if b.1 < a.1 { b } else { a })?;
    let most = looks.iter().copied().reduce(|a, b| if b.1 > a.1 { b } else { a })?;
    Some((least, most))
}

fn hopeless(looks: &[Look], why: Option<String>) -> Option<Aim> {
    let Some((least, most)) = least_and_most(looks) else {
        return Some(Aim::none(Amiss::Unknown(why.unwrap_or_else(|| "it has no single value".into()))));
    };
    // Two values without limit are the same one.
    let same = least.1 == most.1 || most.1 - least.1 <= 1e-9 * most.1.abs().max(least.1.abs()).min(f64::MAX);
    same.then(|| Aim::none(Amiss::Still))
}

/// Halves the first bracket of each build that holds the target.
fn reach(bench: &Bench, which: &[usize], looks: &[Vec<Look>], target: f64, found: &mut [Option<Aim>]) {
    // Between two looks the quantity may jump over the target (a phase at the end of its turn): then it is not there, and the next
    // bracket is tried.
    let brackets: Vec<Vec<[Look; 2]>> = looks
        .iter()
        .map(|l| l.windows(2).filter(|w| (w[0].1 - target) * (w[1].1 - target) <= 0.0).map(|w| [w[0], w[1]]).collect())
        .collect();
    let reach = |l: &[Look]| least_and_most(l).map_or(0.0, |(a, b)| b.1 - a.1);
    for turn in 0..brackets.iter().map(Vec::len).max().unwrap_or(0) {
        let mut open: Vec<(usize, [Look; 2])> = (0..which.len())
            .filter(|n| found[*n].is_none())
            .filter_map(|n| Some((n, *brackets[n].get(turn)?)))
            .collect();
        narrow(bench, which, target, &mut open);
        for (n, [a, b]) in open {
            let near = if (a.1 - target).abs() <= (b.1 - target).abs() { a } else { b };
            if (near.1 - target).abs() <= HOLDS * target.abs().max(reach(&looks[n])) {
                found[n] = Some(Aim::at(near.0));
            }
        }
    }
    for (found, looks) in found.iter_mut().zip(looks).filter(|(f, _)| f.is_none()) {
        let Some((least, most)) = least_and_most(looks) else { continue };
        let near = if (least.1 - target).abs() < (most.1 - target).abs() { least.0 } else { most.0 };
        *found = Some(Aim { travel: Some(near), amiss: Some(Amiss::Short { least, most }) });
    }
}

/// Halves brackets side by side.
fn narrow(bench: &Bench, which: &[usize], target: f64, open: &mut [(usize, [Look; 2])]) {
    for _ in 0..HALVINGS {
        let mut at = Vec::with_capacity(open.len());
        let mut from = Vec::with_capacity(open.len());
        for (i, (n, [low, high])) in open.iter().enumerate() {
            let middle = 0.5 * (low.0 + high.0);
            if middle > low.0 && middle < high.0 && low.1 != target && high.1 != target {
                at.push((which[*n], middle));
                from.push(i);
            }
        }
        if at.is_empty() {
            break;
        }
        for ((i, (_, middle)), x) in from.into_iter().zip(&at).zip(bench.look(&at)) {
            let [low, high] = &mut open[i].1;
            match x {
                Ok(x) if (x - target) * (low.1 - target) <= 0.0 => *high = (*middle, x),
                Ok(x) => *low = (*middle, x),
                // What is not known in the middle is no place to stand: the bracket stays as wide as it is, and does not hold.
                Err(_) => *high = *low,
            }
        }
    }
}

/// The travel of the greatest value, by golden sections around the best look (Kiefer, Proc. Amer. Math. Soc. 4, 1953).
fn rise(bench: &Bench, which: &[usize], looks: &[Vec<Look>], found: &mut [Option<Aim>]) {
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    let step = 1.0 / LOOKS as f64;
    let mut open: Vec<(usize, Look, [f64; 2])> = (0..which.len())
        .filter(|n| found[*n].is_none())
        .filter_map(|n| Some((n, least_and_most(&looks[n])?.1)))
        .map(|(n, best)| (n, best, [(best.0 - step).max(0.0), (best.0 + step).min(1.0)]))
        .collect();
    for _ in 0..SECTIONS {
        let inner = |share: f64| -> Vec<(usize, f64)> {
            open.iter().map(|(n, _, [low, high])| (which[*n], low + share * (high - low))).collect()
        };
        let (a, b) = (inner(1.0 - golden), inner(golden));
        let (x, y) = (bench.look(&a), bench.look(&b));
        for (((open, a), b), (x, y)) in open.iter_mut().zip(&a).zip(&b).zip(x.into_iter().zip(y)) {
            let (Ok(x), Ok(y)) = (&x, &y) else {
                found[open.0] = x.err().or(y.err()).map(|why| Aim::none(Amiss::Unknown(why)));
                continue;
            };
            for look in [(a.1, *x), (b.1, *y)] {
                if look.1 > open.1.1 {
                    open.1 = look;
                }
            }
            if x >= y {
                open.2[1] = b.1;
            } else {
                open.2[0] = a.1;
            }
        }
        open.retain(|o| found[o.0].is_none());
    }
    // The best of all looks, among which the ends of the travel are exactly its ends.
    for (n, best, _) in open {
        found[n] = Some(Aim::at(best.0));
    }
}
