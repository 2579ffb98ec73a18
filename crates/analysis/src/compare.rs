//! One response beside another: what a neglect costs.

use circuit::{Name, Query};
use num_complex::Complex64;

use crate::answer::{ends, kind};
use crate::extreme;
use crate::landmarks::{Landmarks, landmarks};
use crate::plan::{Gain, Impedance, Local, Plan};
use crate::positions::{Look, Stand};
use crate::reading::Kind;
use crate::response::{Inputs, NOTHING_ARRIVES, Response, Values};

/// A question's plan with its numbers.
#[derive(Clone, Copy)]
pub struct Side<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Its numbers.
    pub inputs: &'a Inputs,
}

/// Where a difference is looked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// In hertz.
    pub low: f64,
    /// In hertz.
    pub high: f64,
    /// The end at which a neglect fails first, by how it was said: the lower one of `above`, the upper one of `below`.
    pub weak: Weak,
}

/// The end of a band at which a neglect is expected to fail first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weak {
    /// The lower one.
    Low,
    /// The upper one.
    High,
    /// Neither is said.
    Neither,
}

/// What two responses differ by.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// The second's magnitude over the first's in decibels, where that is furthest from 0; infinite where one of them is nothing.
    pub decibels: f64,
    /// Where, in hertz.
    pub hertz: f64,
    /// At which position; empty where none matters.
    pub position: Name,
    /// How far their phases lie apart there at most, in degrees.
    pub degrees: f64,
    /// Where the limit is kept to at every position, out to the band's strong end: the frequency, in hertz, at which that begins.
    /// `None`: nowhere, or no end is said to be the weak one, or the limit is kept to all over.
    pub kept: Option<f64>,
    /// How many positions were examined.
    pub examined: usize,
}

/// Differences that are closer than this share are the same.
const LEVEL: f64 = 1e-6;
/// Below this a magnitude is nothing: what is left of a response that cancels.
const NOTHING: f64 = 1e-30;

/// The greatest difference in magnitude of two responses over a band and all positions.
///
/// # Errors
/// Why it is not known: a clause.
pub fn difference(
    exact: Side,
    other: Side,
    query: &Query,
    band: Band,
    limit: f64,
    look: &Look,
) -> Result<Difference, String> {
    let stands = positions(&[exact, other], query, look)?;
    // The exact circuit's own reading over that band tells what it lacks.
    if let Some(local) = lanes(exact)? {
        let over = Query { over: Some((band.low, band.high)), at: None, ..query.clone() };
        let rest = exact.inputs.hands.rest();
        ends(exact.plan, local, exact.inputs, &over, &rest, false)?;
    }
    let examined = stands.len();
    let stands = likely(exact, other, heard(exact, other, stands, band, look)?, band, look)?;
    let mut worst: Option<Difference> = None;
    let mut kept: Option<f64> = None;
    let mut fails = false;
    for stand in &stands {
        (look.pulse)();
        let pair = Pair::new(exact, other, stand);
        let at = |why: String| if stand.name.is_empty() { why } else { format!("at {}: {why}", stand.name) };
        let marks = pair.marks();
        let mut size = |fs: &[f64]| -> Result<Vec<f64>, String> {
            Ok(pair.apart(fs)?.into_iter().map(|(db, _)| -db.abs()).collect())
        };
        let (least, mut hertz) = extreme::least(band.low, band.high, &marks, &mut size).map_err(at)?;
        // Where it is the same all over, rounding has no say in where it is worst: an end of the band is.
        let ends = [band.low, band.high];
        let level = |(f, (db, _)): (f64, (f64, f64))| (db.abs() >= -least * (1.0 - LEVEL)).then_some(f);
        if let Some(end) = ends.into_iter().zip(pair.apart(&ends).map_err(at)?).find_map(level) {
            hertz = end;
        }
        if -least > limit {
            fails = true;
            let begin = pair.kept(band, limit, &marks).map_err(at)?;
            kept = match (kept, begin) {
                (Some(a), Some(b)) if band.weak == Weak::High => Some(a.min(b)),
                (Some(a), Some(b)) => Some(a.max(b)),
                (None, Some(b)) if worst.as_ref().is_none_or(|w| w.decibels.abs() <= limit) => Some(b),
                _ => None,
            };
        }
        if worst.as_ref().is_none_or(|w| -least > w.decibels.abs()) {
            let (decibels, _) = pair.apart(&[hertz]).map_err(at)?[0];
            let grid = extreme::grid(band.low, band.high, &marks);
            let turns = pair.apart(&grid).map_err(at)?.into_iter().map(|(_, turn)| turn.abs());
            worst = Some(Difference {
                decibels,
                hertz,
                position: stand.name.clone(),
                degrees: turns.fold(0.0, f64::max),
                kept: None,
                examined,
            });
        }
    }
    let mut worst = worst.ok_or("no position was examined")?;
    worst.kept = kept.filter(|_| fails);
    Ok(worst)
}

/// Of several positions those that are no silence: where neither response comes within 80 dB of the greatest over the positions, at any of a
/// few frequencies of the band, a control is turned down, and what is left differs in nothing that anybody hears.
///
/// # Errors
/// Why one of the responses is not known: a clause.
fn heard(exact: Side, other: Side, stands: Vec<Stand>, band: Band, look: &Look) -> Result<Vec<Stand>, String> {
    if stands.len() < 2 {
        return Ok(stands);
    }
    let few = few(band);
    let mut sizes: Vec<Vec<f64>> = Vec::with_capacity(stands.len());
    for stand in &stands {
        (look.pulse)();
        let pair = Pair::new(exact, other, stand);
        let sides = [0, 1].map(|k| response(pair.sides[k], pair.values[k].as_ref(), &few));
        let [a, b] = sides.map(|s| s.into_iter().collect::<Result<Vec<Complex64>, String>>());
        let at = |why: String| if stand.name.is_empty() { why } else { format!("at {}: {why}", stand.name) };
        // A control in front that is turned down leaves nothing to compare with, which is silence too.
        if let (Err(why), _) | (_, Err(why)) = (&a, &b)
            && why == NOTHING_ARRIVES
        {
            sizes.push(vec![0.0; few.len()]);
            continue;
        }
        let both = a.map_err(at)?.into_iter().zip(b.map_err(at)?);
        sizes.push(both.map(|(a, b)| a.norm().max(b.norm())).collect());
    }
    let greatest: Vec<f64> = (0..few.len()).map(|k| sizes.iter().map(|s| s[k]).fold(0.0, f64::max)).collect();
    let silent = |size: &Vec<f64>| size.iter().zip(&greatest).all(|(x, most)| *x < SILENCE * most);
    Ok(stands.into_iter().zip(&sizes).filter(|(_, size)| !silent(size)).map(|(stand, _)| stand).collect())
}

/// A few frequencies of a band.
fn few(band: Band) -> Vec<f64> {
    let steps = ((band.high / band.low).log10() * 4.0).ceil().clamp(4.0, 64.0) as usize;
    (0..=steps).map(|k| band.low * (band.high / band.low).powf(k as f64 / steps as f64)).collect()
}

/// What lies further than 80 dB below the greatest gain over a control's travel is silence.
const SILENCE: f64 = 1e-4;

/// Of many positions those in which a few frequencies of the band show the greatest differences: only these are looked at closely.
///
/// # Errors
/// Why one of the responses is not known: a clause.
fn likely(exact: Side, other: Side, stands: Vec<Stand>, band: Band, look: &Look) -> Result<Vec<Stand>, String> {
    if stands.len() <= CLOSELY {
        return Ok(stands);
    }
    let few = few(band);
    let mut sized = Vec::with_capacity(stands.len());
    for stand in stands {
        (look.pulse)();
        let apart = Pair::new(exact, other, &stand).apart(&few).map_err(|why| format!("at {}: {why}", stand.name))?;
        sized.push((apart.iter().map(|(db, _)| db.abs()).fold(0.0, f64::max), stand));
    }
    sized.sort_by(|a, b| b.0.total_cmp(&a.0));
    Ok(sized.into_iter().take(CLOSELY).map(|(_, stand)| stand).collect())
}

/// So many positions are looked at closely.
const CLOSELY: usize = 12;

/// The positions at which these responses to one question are examined.
///
/// # Errors
/// Why one of them is not known: a clause.
fn positions(sides: &[Side], query: &Query, look: &Look) -> Result<Vec<Stand>, String> {
    let mut on = Vec::new();
    for side in sides {
        on.extend(lanes(*side)?.into_iter().flat_map(|l| l.controls.iter().copied()));
    }
    on.sort_unstable();
    on.dedup();
    let Some(hands) = sides.first().map(|s| &s.inputs.hands) else { return Ok(Vec::new()) };
    let stands = match &query.when {
        Some(when) => vec![hands.when(when, &on)],
        None => hands.examined(&on, look.most),
    };
    match stands.iter().find_map(|s| s.unknown.as_ref()) {
        Some(why) => Err(why.to_string()),
        None => Ok(stands),
    }
}

/// Why a side has no response at all, if it has none: a clause.
pub fn lacks(side: Side) -> Option<String> {
    lanes(side).err()
}

/// The equations of a side; none where the response is 1.
fn lanes(side: Side<'_>) -> Result<Option<&Local>, String> {
    match side.plan {
        Plan::Gain(Gain::Unknown(why)) | Plan::Impedance(Impedance::Unknown(why)) => Err(why.clone()),
        Plan::Measure => Err("its cost is told for gains and impedances".into()),
        Plan::Gain(Gain::One) => Ok(None),
        Plan::Gain(Gain::Way { local, .. }) | Plan::Impedance(Impedance::Way { local, .. }) => {
            match side.inputs.missing() {
                Some(why) => Err(why.to_string()),
                None => Ok(Some(local)),
            }
        }
    }
}

/// Two responses at one position.
struct Pair<'a> {
    sides: [Side<'a>; 2],
    values: [Option<Values>; 2],
}

impl<'a> Pair<'a> {
    fn new(exact: Side<'a>, other: Side<'a>, stand: &Stand) -> Pair<'a> {
        let sides = [exact, other];
        Pair { sides, values: sides.map(|s| valued(s, stand)) }
    }

    /// Where either may be sharp.
    fn marks(&self) -> Landmarks {
        let each = self.sides.iter().zip(&self.values);
        let all = each.filter_map(|(s, v)| Some(landmarks(s.plan, s.plan.local()?, s.inputs, v.as_ref()?)));
        Landmarks::together(all)
    }

    /// At each frequency the second's magnitude over the first's in decibels, and how far its phase lies ahead in degrees.
    fn apart(&self, fs: &[f64]) -> Result<Vec<(f64, f64)>, String> {
        let [a, b] = [0, 1].map(|k| response(self.sides[k], self.values[k].as_ref(), fs));
        let both = a.into_iter().zip(b);
        both.map(|(a, b)| Ok(beside(a?, b?))).collect()
    }

    /// Where the limit begins to be kept to, out to the strong end of the band.
    fn kept(&self, band: Band, limit: f64, marks: &Landmarks) -> Result<Option<f64>, String> {
        let mut grid = extreme::grid(band.low, band.high, marks);
        match band.weak {
            Weak::Neither => return Ok(None),
            Weak::Low => grid.reverse(),
            Weak::High => {}
        }
        // From the strong end on: the first point that is beyond the limit, and the last one in front of it that is not.
        let apart = self.apart(&grid)?;
        let Some(k) = apart.iter().position(|(db, _)| db.abs() > limit) else { return Ok(None) };
        if k == 0 {
            return Ok(None);
        }
        let (mut good, mut bad) = (grid[k - 1], grid[k]);
        for _ in 0..40 {
            let middle = (good * bad).sqrt();
            if self.apart(&[middle])?[0].0.abs() > limit {
                bad = middle;
            } else {
                good = middle;
            }
        }
        Ok(Some(good))
    }
}

/// The same at one frequency.
///
/// # Errors
/// Why it is not known: a clause.
pub fn apart(exact: Side, other: Side, query: &Query, hertz: f64, look: &Look) -> Result<Difference, String> {
    let mut worst: Option<Difference> = None;
    let all = sampled(&[exact, other], query, (hertz, hertz), look)?;
    for one in &all {
        let (decibels, degrees) = beside(one.rows[0][0], one.rows[1][0]);
        if worst.as_ref().is_none_or(|w| decibels.abs() > w.decibels.abs()) {
            let position = one.stand.name.clone();
            let examined = all.len();
            worst = Some(Difference { decibels, hertz, position, degrees: degrees.abs(), kept: None, examined });
        }
    }
    worst.ok_or_else(|| "no position was examined".into())
}

/// The second's magnitude over the first's in decibels, and how far its phase lies ahead in degrees.
fn beside(a: Complex64, b: Complex64) -> (f64, f64) {
    match (a.norm() < NOTHING, b.norm() < NOTHING) {
        (true, true) => (0.0, 0.0),
        (true, false) => (f64::INFINITY, 0.0),
        (false, true) => (f64::NEG_INFINITY, 0.0),
        _ => (20.0 * (b.norm() / a.norm()).log10(), (b / a).arg().to_degrees()),
    }
}

/// Several responses at one position.
#[derive(Clone, Debug)]
pub struct Sampled {
    /// The position.
    pub stand: Stand,
    /// In hertz.
    pub hertz: Vec<f64>,
    /// One row a response, in the order asked, one value a frequency.
    pub rows: Vec<Vec<Complex64>>,
}

/// Samples responses to one question side by side: over a band on a grid of so many points a decade with all that is sharp in it, or at one
/// frequency where both its ends are that.
///
/// # Errors
/// Why one of them is not known: a clause.
pub fn sampled(sides: &[Side], query: &Query, (low, high): (f64, f64), look: &Look) -> Result<Vec<Sampled>, String> {
    let one = |stand: Stand| {
        (look.pulse)();
        let values: Vec<Option<Values>> = sides.iter().map(|s| valued(*s, &stand)).collect();
        let each = sides.iter().zip(&values);
        let marks = each.filter_map(|(s, v)| Some(landmarks(s.plan, s.plan.local()?, s.inputs, v.as_ref()?)));
        let hertz = if low < high { extreme::grid(low, high, &Landmarks::together(marks)) } else { vec![low] };
        let rows = sides.iter().zip(&values).map(|(side, v)| response(*side, v.as_ref(), &hertz).into_iter().collect());
        let rows = rows.collect::<Result<Vec<Vec<Complex64>>, String>>()?;
        Ok(Sampled { stand, hertz, rows })
    };
    let stands = positions(sides, query, look)?;
    let many = stands.len() > 1;
    let all: Vec<Result<Sampled, String>> = stands.into_iter().map(one).collect();
    // Where a control in front is turned down nothing is there to be compared, and the other positions are.
    let silent = |found: &Result<Sampled, String>| found.as_ref().is_err_and(|why| why == NOTHING_ARRIVES);
    let some = many && !all.iter().all(silent);
    all.into_iter().filter(|found| !(some && silent(found))).collect()
}

/// What two responses differ by at one of the positions at which a question is examined, along a band: frequency in hertz, and the second's
/// magnitude over the first's in decibels.
///
/// # Errors
/// Why one of them is not known: a clause.
pub fn along(
    exact: Side,
    other: Side,
    query: &Query,
    position: &str,
    (low, high): (f64, f64),
    look: &Look,
) -> Result<Vec<(f64, f64)>, String> {
    let stands = positions(&[exact, other], query, look)?;
    let stand = stands.iter().find(|s| &*s.name == position).or(stands.first());
    let stand = stand.ok_or("no position was examined")?;
    let pair = Pair::new(exact, other, stand);
    let hertz = crate::sweep::grid(low, high, &pair.marks());
    Ok(hertz.iter().copied().zip(pair.apart(&hertz)?.into_iter().map(|x| x.0)).collect())
}

fn valued(side: Side, stand: &Stand) -> Option<Values> {
    side.plan.local().map(|local| Response::new(local, side.inputs).values(stand))
}

/// A response at frequencies (in hertz); where there are no equations it is 1.
fn response(side: Side, values: Option<&Values>, fs: &[f64]) -> Vec<Result<Complex64, String>> {
    let Some((local, values)) = side.plan.local().zip(values) else {
        return vec![Ok(Complex64::new(1.0, 0.0)); fs.len()];
    };
    Response::new(local, side.inputs).along(side.plan, values, fs)
}

/// Whether what a question asks for can be set beside another answer over a band.
pub fn comparable(query: &Query) -> bool {
    matches!(kind(&query.quantity), Kind::Gain | Kind::Impedance)
}
