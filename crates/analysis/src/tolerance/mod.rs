//! Readings over tolerance: what they come to in every build that may be made from a design.
//!
//! A build is a set of values of the parts ([`spread`]) with its presets set again ([`crate::preset`]). A [`Study`] has the worst
//! that was found (the corner that the nominal slopes point to, improved by single flips; all corners where they are few; and
//! the drawn builds), the root of the sum of the squares, points of the drawn builds, and the parts that matter most. Nothing
//! is planned or ordered anew for a build: the kept orders are replayed over lanes of builds.

pub mod draw;
pub mod share;
mod slopes;
pub mod spread;
mod worst;

use std::sync::Arc;

use circuit::{Circuit, Name, Query};

use crate::build::{Build, Scale, Seen, Way};
use crate::measure::Whole;
use crate::network::Network;
use crate::plan::Plan;
use crate::positions::{Hands, Stand};
use crate::preset::{self, Amiss, Goal, Preset};
use crate::reading::{End, Kind, Range, Reading, Value};
use crate::soundness::Sound;
use slopes::Slopes;
use spread::Spread;

/// What is asked of a circuit over tolerance.
pub struct Ask<'a> {
    /// The circuit, its presets set at nominal values.
    pub circuit: &'a Arc<Circuit>,
    /// Its topology.
    pub network: &'a Network,
    /// Its structure.
    pub sound: &'a Sound,
    /// Its equations as a whole, for a quantity that takes them.
    pub whole: Option<&'a Whole>,
    /// The question's plan.
    pub plan: &'a Plan,
    /// The question.
    pub query: &'a Query,
    /// Its nominal reading.
    pub reading: &'a Reading,
    /// Whether a gain is a ratio with its sign.
    pub signed: bool,
    /// What its presets are set by.
    pub trims: &'a [Goal],
    /// How many builds are drawn.
    pub builds: draw::Builds,
    /// Called now and then; it may unwind where nobody waits any more.
    pub pulse: &'a dyn Fn(),
}

/// A reading over tolerance. Values are in the reading's unit: of a gain its magnitude.
#[derive(Clone, Debug, PartialEq)]
pub struct Study {
    /// The lowest that was found.
    pub low: Extreme,
    /// The highest that was found.
    pub high: Extreme,
    /// Of what is told as its worst, the worst at the positions at which that is lowest and highest, in the order in which they were examined: of
    /// one control its travel's. None where builds have no say.
    pub worst: Vec<Extreme>,
    /// Nominal less and more the root of the sum of the squares, not beyond the worst; no number where the nominal value is a null of which
    /// magnitudes alone are read, and where the builds contradict the slopes.
    pub rss: [f64; 2],
    /// The nominal value is less than what the parts are off by adds up to: the squares are of deviations in any phase.
    pub null: bool,
    /// The points below which 0.5 %, 50 % and 99.5 % of the builds lie; of a reading over a band or positions the first is of
    /// its low ends, the last of its high ends, and there is no middle one.
    pub points: [Option<f64>; 3],
    /// The parts that matter most for the low end, largest first.
    pub low_weights: Vec<Weight>,
    /// The same for the high end.
    pub high_weights: Vec<Weight>,
    /// Least and greatest of each build that could be read.
    pub seen: Vec<[f64; 2]>,
    /// How many builds were drawn.
    pub builds: usize,
    /// How many of them could not be read, and why the first of them could not.
    pub unread: Option<(usize, String)>,
    /// Nothing that it hangs on has a tolerance.
    pub still: bool,
}

impl Study {
    /// Whether the ends lie as near to each other as presets are set: what is left between them is rounding.
    pub fn even(&self) -> bool {
        let (low, high) = (self.low.value, self.high.value);
        let near = || low.is_finite() && high.is_finite() && (high - low).abs() <= EVEN * high.abs().max(low.abs());
        low == high || near()
    }
}

/// An end of what was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Extreme {
    /// The value.
    pub value: f64,
    /// The position of the controls; empty at rest.
    pub position: Name,
    /// Where it was found.
    pub at: Found,
}

/// Where an end was found.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// With no part off.
    Nominal,
    /// At a corner: what is off by how much (a share), the largest effect first.
    Corner(Vec<(Name, f64)>),
    /// In a drawn build, by its number from 1.
    Build(usize),
}

/// How much one thing that may be off matters.
#[derive(Clone, Debug, PartialEq)]
pub struct Weight {
    /// `R1`, or `R1, R2 together`.
    pub name: Name,
    /// What the reading changes by where it is off by 1 %: decibels of a gain and of what is in decibels, degrees of an angle,
    /// per cent of everything else. `None` where the nominal value is none to change by so much.
    pub slope: Option<f64>,
    /// Where the nominal value is a null: what a gain comes to, in the unit of its ratio, where this alone is off by 1 %.
    pub from_null: Option<f64>,
    /// Its share of the spread's square, 0 … 1.
    pub share: f64,
}

/// Slower readings are told from a step that their own rounding does not hide.
const STEPS: (f64, f64) = (1e-4, 1e-3);
/// All corners of a slow reading are looked at where there are so few freedoms.
const FEW: usize = 6;
/// Builds that may be spent on finding the positions that matter, where many are read as fast as a few and where not.
const LOOKS: (usize, usize) = (20_000, 400);
/// Ends that differ by less than this share are one.
const EVEN: f64 = 1e-7;
/// How many times the root of the squares one build in two hundred may be off at most: of what is linear it is less than one and a half.
const MOST_OFF: f64 = 2.0;
/// By what share of the worst's distance the root of the squares may lie beyond it: that much a slope changes where parts of 20 % are off.
const BENT: f64 = 0.25;
/// Weights below this share of all are not told.
const LEAST: f64 = 1e-4;

/// Works a reading out over tolerance.
///
/// # Errors
/// Why it is not known: the reading itself is not, or no tolerance is stated, or a preset cannot be set again.
pub fn study(ask: &Ask) -> Result<Study, String> {
    if let Some(why) = ask.reading.unknown().or(ask.reading.gap.as_deref()) {
        return Err(why.to_string());
    }
    let all = Spread::of(ask.circuit);
    if all.freedoms.is_empty() && all.doubts.is_empty() && all.vague.is_empty() {
        return Err("no part has a tolerance: `tolerance R 1 %` in design would give one".into());
    }
    let Some(way) = way(ask)? else { return nominal(ask) };
    let controls = way.controls();
    let presets = presets(ask, &controls)?;
    let mut parts = way.parts();
    parts.extend(presets.iter().flat_map(|p| p.way.parts()));
    let mut rails = way.rails();
    rails.extend(presets.iter().flat_map(|p| p.way.rails()));
    let spread = all.moving(&parts, &rails)?;
    if spread.freedoms.is_empty() {
        return nominal(ask);
    }
    let quick = way.quick() && presets.iter().all(Preset::quick);
    let bench = Bench {
        way: &way,
        presets: &presets,
        circuit: ask.circuit,
        spread: &spread,
        // What several sources add up to as powers is the length of a vector, and moves as a magnitude does.
        magnitudes: way.scale() == Scale::Real && magnitude(ask),
        pulse: ask.pulse,
    };
    let stands = farthest(&bench, stands(ask, &controls, &way, spread.freedoms.len()))?;
    let looks = stands.iter().map(|stand| Looked::of(&bench, stand)).collect::<Result<Vec<_>, _>>()?;
    let count = if quick { ask.builds.quick } else { ask.builds.slow };
    let drawn = Drawn::of(&bench, &stands, (count, ask.builds.seed));
    let over_all = |highest| extreme(&bench, &looks, &drawn, None, highest);
    let (low, high) = (over_all(false)?, over_all(true)?);
    let worst = if way.scale() == Scale::Decibels {
        (0..looks.len())
            .map(|i| extreme(&bench, &looks, &drawn, Some(i), false).map(|e| e.1))
            .collect::<Result<_, _>>()?
    } else {
        Vec::new()
    };
    let weights = [(low.0, false), (high.0, true)].map(|(at, highest)| looks[at].weights(&bench, ask.reading, highest));
    let (low, high) = (low.1, high.1);
    let seen: Vec<[f64; 2]> = drawn.seen.iter().flatten().filter_map(|all| overall(all)).collect();
    let single = seen.iter().all(|[a, b]| a == b);
    let sorted = |end: usize| {
        let mut all: Vec<f64> = seen.iter().map(|s| s[end]).collect();
        all.sort_unstable_by(f64::total_cmp);
        all
    };
    let (lows, highs) = (sorted(0), sorted(1));
    let points =
        [share::point(&lows, 0.005), if single { share::point(&lows, 0.5) } else { None }, share::point(&highs, 0.995)];
    let scale = way.scale();
    let rss = [false, true].map(|highest| {
        let all = looks.iter().map(|l| l.root(scale, highest));
        // What is not known at one position is not known of all.
        if all.clone().any(f64::is_nan) {
            return f64::NAN;
        }
        all.fold(
            if highest { f64::NEG_INFINITY } else { f64::INFINITY },
            |a, b| if highest { a.max(b) } else { a.min(b) },
        )
    });
    // A rejection is a null by its nature, and is told in decibels all the same.
    let null = scale != Scale::Decibels && looks.iter().any(|l| l.slopes.iter().any(|s| s.null(scale)));
    let [low_weights, high_weights] = weights;
    let mut study = Study {
        low,
        high,
        worst,
        rss,
        null,
        points,
        low_weights,
        high_weights,
        builds: drawn.seen.len(),
        seen,
        unread: drawn.unread,
        still: false,
    };
    // Rounding has no parts, and slopes that the builds do not follow have no say.
    if study.even() || !null && scale != Scale::Decibels && !hold(&mut study, scale, &looks, spread.freedoms.len()) {
        study.low_weights.clear();
        study.high_weights.clear();
    }
    Ok(study)
}

/// Whether what is read is the magnitude of a complex response: a level is, one at which something clips and that of noise are not.
fn magnitude(ask: &Ask) -> bool {
    let level = matches!(ask.query.quantity, circuit::Quantity::Measure(circuit::Measure::Level(_)));
    ask.reading.kind == Kind::Gain || level
}

/// Holds the root of the squares against the worst that was found and against the builds: an end may not lie beyond the worst, and no more than
/// a build in two hundred lies twice as far off. What only bends a little is cut to the worst; where the builds contradict the slopes, the root is
/// no number.
fn hold(study: &mut Study, scale: Scale, looks: &[Looked], freedoms: usize) -> bool {
    let mut rss = study.rss;
    for (end, (sign, worst)) in [(-1.0, study.low.value), (1.0, study.high.value)].into_iter().enumerate() {
        let all = looks.iter().map(|l| scale.value(l.slopes[end].nominal));
        let Some(nominal) = all.reduce(|a, b| if sign * b > sign * a { b } else { a }) else { return true };
        let (root, reach) = (sign * (rss[end] - nominal), sign * (worst - nominal));
        if !nominal.is_finite() || !root.is_finite() {
            continue;
        }
        let slack = EVEN * nominal.abs().max(worst.abs());
        let beyond = root - reach;
        let far = match study.points[2 * end] {
            Some(point) => sign * (point - nominal) > MOST_OFF * root + slack,
            // Effects add up to no more than this.
            None => reach > MOST_OFF * (freedoms as f64).sqrt() * root + slack,
        };
        if far || beyond > BENT * reach + slack {
            study.rss = [f64::NAN; 2];
            return false;
        }
        if beyond > 0.0 {
            rss[end] = worst;
        }
    }
    study.rss = rss;
    true
}

/// The lowest or highest of corners and builds, with the number of its position: at one position, or over all.
fn extreme(
    bench: &Bench,
    looks: &[Looked],
    drawn: &Drawn,
    at: Option<usize>,
    highest: bool,
) -> Result<(usize, Extreme), String> {
    let sign = if highest { 1.0 } else { -1.0 };
    let asked = |i: &usize| at.is_none_or(|at| at == *i);
    let looked = looks.iter().enumerate().filter(|(i, _)| asked(i));
    let corners = looked.filter_map(|(i, l)| Some((i, l.corner(bench, highest)?)));
    let mut best = corners.reduce(|a, b| if sign * b.1.value > sign * a.1.value { b } else { a });
    for (k, per_stand) in drawn.seen.iter().enumerate() {
        for (i, ends) in per_stand.iter().flatten().enumerate().filter(|(i, _)| asked(i)) {
            let value = ends[usize::from(highest)];
            if best.as_ref().is_none_or(|b| sign * value > sign * b.1.value) {
                let position = looks[i].stand.name.clone();
                best = Some((i, Extreme { value, position, at: Found::Build(k + 1) }));
            }
        }
    }
    best.ok_or_else(|| "no build of it can be read".to_string())
}

/// The least and the greatest over all positions.
fn overall(all: &[[f64; 2]]) -> Option<[f64; 2]> {
    all.iter().copied().reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1])])
}

/// A study of what no tolerance moves.
fn nominal(ask: &Ask) -> Result<Study, String> {
    let reading = ask.reading;
    let never = if reading.kind == Kind::LowCorner { f64::NEG_INFINITY } else { f64::INFINITY };
    let rest = match reading.value {
        Value::Never => never,
        _ => reading.magnitude().unwrap_or(f64::NAN),
    };
    let signed = if ask.signed && reading.inverts() { -1.0 } else { 1.0 };
    let of = |x: Option<f64>| x.unwrap_or(never);
    let (mut ends, mut names): ([f64; 2], [Name; 2]) = ([signed * rest; 2], ["".into(), "".into()]);
    if let Some(range) = &reading.range {
        let [a, b] = printed(ask, range)?;
        ends = [of(a.value), of(b.value)];
        names = [a.position.clone(), b.position.clone()];
        if ends[0] > ends[1] {
            ends.swap(0, 1);
            names.swap(0, 1);
        }
    }
    let [low, high] = names;
    let end = |value, position| Extreme { value, position, at: Found::Nominal };
    Ok(Study {
        low: end(ends[0], low),
        high: end(ends[1], high),
        worst: Vec::new(),
        rss: ends,
        null: false,
        points: [Some(ends[0]), (ends[0] == ends[1]).then_some(ends[0]), Some(ends[1])],
        low_weights: Vec::new(),
        high_weights: Vec::new(),
        seen: vec![ends; ask.builds.quick],
        builds: ask.builds.quick,
        unread: None,
        still: true,
    })
}

/// The ends of a range that count: of a ratio those with their sign.
fn printed<'r>(ask: &Ask, range: &'r Range) -> Result<&'r [End; 2], String> {
    match &range.ratio {
        Some(ratio) if ask.signed => ratio.as_ref().map_err(Clone::clone),
        _ => Ok(&range.ends),
    }
}

/// How the reading is had in builds; `None` where it is the same in all.
fn way<'a>(ask: &Ask<'a>) -> Result<Option<Way<'a>>, String> {
    let scale = match ask.reading.kind {
        Kind::Phase => Scale::Real,
        Kind::Impedance => Scale::Resistance,
        _ if ask.signed => Scale::Signed,
        _ => Scale::Size,
    };
    let turn = match (ask.reading.kind, ask.reading.value) {
        (Kind::Phase, Value::Real(x)) => x,
        // Over a band, that of its middle.
        (Kind::Phase, _) => {
            let first = ask.reading.range.as_ref().and_then(|r| r.angles.first());
            first.map_or(0.0, |([a, b], _)| 0.5 * (a + b))
        }
        _ => 0.0,
    };
    Way::of(ask.network, ask.sound, ask.whole, ask.circuit, ask.plan, ask.query, (scale, turn))
}

/// The presets, where any of them moves the reading: each may move what another is set by.
fn presets<'a>(ask: &Ask<'a>, controls: &[circuit::ControlId]) -> Result<Vec<Preset<'a>>, String> {
    if !controls.iter().any(|c| ask.circuit.controls[c.at()].preset) {
        return Ok(Vec::new());
    }
    let one = |goal| Preset::of(goal, ask.network, ask.sound, ask.whole, ask.circuit);
    ask.trims.iter().map(one).collect()
}

/// Positions that may be looked at, and which of them are the ends of the nominal reading.
struct Candidates {
    all: Vec<Stand>,
    ends: Vec<bool>,
}

/// The positions that may be the worst: that which is asked for, or all that are examined, as far as looking at the slopes of each is worth it.
fn stands(ask: &Ask, controls: &[circuit::ControlId], way: &Way, freedoms: usize) -> Candidates {
    let hands = Hands::of(ask.circuit);
    if let Some(when) = &ask.query.when {
        return Candidates { all: vec![hands.when(when, controls)], ends: vec![true] };
    }
    let ends = ask.reading.range.iter().flat_map(|r| printed(ask, r).unwrap_or(&r.ends)).map(|e| &e.position);
    let names: Vec<&Name> = ends.collect();
    let mut all = hands.examined(controls, crate::positions::MOST);
    let end = |s: &Stand| names.contains(&&s.name);
    let most = if way.quick() { LOOKS.0 } else { LOOKS.1 };
    // Where nominal parts match, the ends of the nominal reading are as good as any.
    if all.len() * (1 + 2 * freedoms) > most && way.scale() != Scale::Decibels {
        all.retain(end);
    }
    if let [control] = hands.moved(controls)[..] {
        let travel = |s: &Stand| match s.positions[control.at()] {
            circuit::Position::Travel(p) => p,
            circuit::Position::Step(n) => f64::from(n),
        };
        all.sort_by(|a, b| travel(a).total_cmp(&travel(b)));
    }
    if all.is_empty() {
        all.push(hands.rest());
    }
    let ends = all.iter().map(end).collect();
    Candidates { all, ends }
}

/// The positions at which builds are read: those at which the nominal reading has its ends, and those at which its slopes take it farthest. What is
/// told as its worst has ends by its slopes alone: the positions whose worst is lowest and highest.
fn farthest(bench: &Bench, candidates: Candidates) -> Result<Vec<Stand>, String> {
    let Candidates { all, ends } = candidates;
    if all.len() == 1 {
        return Ok(all);
    }
    let scale = bench.way.scale();
    let worst_alone = scale == Scale::Decibels;
    let mut reached: Vec<[f64; 2]> = Vec::new();
    for (stand, end) in all.iter().zip(&ends) {
        (bench.pulse)();
        reached.push(match Looked::of(bench, stand) {
            Ok(look) if worst_alone => [look.slopes[0].reach(scale, false); 2],
            Ok(look) => [0, 1].map(|k| look.slopes[k].reach(scale, k == 1)),
            // A position that lets nothing through has no end.
            Err(_) if !*end => [f64::NAN; 2],
            Err(why) => return Err(why),
        });
    }
    let known = |k: usize| reached.iter().map(move |r| r[k]).enumerate().filter(|r| !r.1.is_nan());
    let low = known(0).reduce(|a, b| if b.1 < a.1 { b } else { a });
    let high = known(1).reduce(|a, b| if b.1 > a.1 { b } else { a });
    let kept = |i: usize| {
        let far = [low, high].into_iter().flatten().any(|end| end.0 == i);
        far || (!worst_alone && ends[i])
    };
    let found: Vec<Stand> = all.iter().enumerate().filter(|(i, _)| kept(*i)).map(|(_, s)| s.clone()).collect();
    Ok(if found.is_empty() { all } else { found })
}

/// What all looks at builds have in common.
struct Bench<'a> {
    way: &'a Way<'a>,
    presets: &'a [Preset<'a>],
    circuit: &'a Circuit,
    spread: &'a Spread,
    /// What is read are magnitudes of something that has a phase.
    magnitudes: bool,
    pulse: &'a dyn Fn(),
}

impl Bench<'_> {
    /// The reading in builds, presets set, at several positions: a row a build.
    fn see(&self, stands: &[Stand], mut builds: Vec<Build>) -> Vec<Result<Vec<Seen>, String>> {
        let amiss = preset::set(self.presets, self.circuit, &mut builds, preset::From::Design, self.pulse);
        let first = |amiss: Vec<Option<Amiss>>| {
            let told = amiss.into_iter().zip(self.presets).find_map(|(a, p)| Some(unset(&a?, p)));
            told.map_or_else(|| Ok(Vec::new()), Err)
        };
        let mut rows: Vec<Result<Vec<Seen>, String>> = amiss.into_iter().map(first).collect();
        for stand in stands {
            for (row, seen) in rows.iter_mut().zip(self.way.see(stand, &builds, self.pulse)) {
                match (&mut *row, seen) {
                    (Ok(row), Ok(seen)) if seen.ends.iter().all(|x| !x.is_nan()) => row.push(seen),
                    (Ok(_), Ok(_)) => *row = Err("its value is no number".into()),
                    (Ok(_), Err(why)) => *row = Err(why),
                    (Err(_), _) => {}
                }
            }
        }
        rows
    }

    fn at(&self, stand: &Stand, builds: Vec<Build>) -> Vec<Result<Seen, String>> {
        let one = |row: Result<Vec<Seen>, String>| row.map(|r| r[0]);
        self.see(std::slice::from_ref(stand), builds).into_iter().map(one).collect()
    }

    fn build(&self, amounts: &[f64]) -> Build {
        Build { factors: self.spread.factors(amounts), rails: self.spread.volts(amounts), travels: Vec::new() }
    }
}

/// One position: its nominal value and slopes, of both ends of the reading.
struct Looked<'a> {
    stand: &'a Stand,
    slopes: [Slopes; 2],
}

impl<'a> Looked<'a> {
    fn of(bench: &Bench, stand: &'a Stand) -> Result<Looked<'a>, String> {
        let parts = bench.spread.parts();
        let step = if bench.way.quick() { STEPS.0 } else { STEPS.1 };
        let mut builds = vec![Build::default()];
        for part in &parts {
            builds.extend([1.0 - step, 1.0 + step].map(|f| Build { factors: vec![(*part, f)], ..Build::default() }));
        }
        let rails = bench.spread.rails();
        for rail in &rails {
            builds.extend([1.0 - step, 1.0 + step].map(|f| Build { rails: vec![(*rail, f)], ..Build::default() }));
        }
        let seen = bench.at(stand, builds).into_iter().collect::<Result<Vec<Seen>, String>>()?;
        let pairs: Vec<[Seen; 2]> = seen[1..].chunks(2).map(|p| [p[0], p[1]]).collect();
        let slopes = [0, 1].map(|end| {
            Slopes::of(bench.spread, (&parts, &rails), seen[0].steer[end], step, &pairs, (end, bench.magnitudes))
        });
        Ok(Looked { stand, slopes })
    }

    /// The lowest or highest corner.
    fn corner(&self, bench: &Bench, highest: bool) -> Option<Extreme> {
        let end = usize::from(highest);
        let along = self.slopes[end].along(bench.way.scale());
        let mut look = |corners: &[Vec<f64>]| -> Vec<Option<f64>> {
            let builds = corners.iter().map(|c| bench.build(c)).collect();
            bench.at(self.stand, builds).into_iter().map(|s| s.ok().map(|s| s.ends[end])).collect()
        };
        let sign = if highest { 1.0 } else { -1.0 };
        let mut best = worst::climb(&along, highest, &mut look);
        if along.len() <= if bench.way.quick() { worst::ALL } else { FEW } {
            let every = worst::every(along.len());
            let values = look(&every);
            for (ends, value) in every.into_iter().zip(values) {
                // An equal corner is no better: the one that the slopes point to keeps its name.
                if let Some(value) = value
                    && best.as_ref().is_none_or(|b| sign * (value - b.value) > 1e-13 * value.abs())
                {
                    best = Some(worst::Corner { ends, value });
                }
            }
        }
        let corner = best?;
        let nominal = bench.way.scale().value(self.slopes[end].nominal);
        let freedoms = &bench.spread.freedoms;
        let mut off: Vec<(usize, f64)> = (0..freedoms.len()).map(|i| (i, along[i].abs())).collect();
        off.sort_by(|a, b| b.1.total_cmp(&a.1));
        let least = LEAST * off.first().map_or(0.0, |o| o.1);
        let (mut named, rest): (Vec<usize>, Vec<usize>) = {
            let (a, b): (Vec<_>, Vec<_>) = off.into_iter().partition(|o| o.1 > least);
            (a.into_iter().map(|o| o.0).collect(), b.into_iter().map(|o| o.0).collect())
        };
        // What has no slope at nominal values may have a say at the corner: the figure has to follow from what is named.
        let without = |some: &[usize]| {
            let mut ends = corner.ends.clone();
            some.iter().for_each(|i| ends[*i] = 0.0);
            ends
        };
        let apart = (corner.value - nominal).abs();
        let slack = LEAST * if apart.is_finite() { apart } else { corner.value.abs() };
        let same = |x: f64| x == corner.value || (x - corner.value).abs() <= slack;
        let felt = |seen: Option<f64>| !seen.is_some_and(same);
        if !rest.is_empty() && felt(look(&[without(&rest)])[0]) {
            let each = look(&rest.iter().map(|i| without(&[*i])).collect::<Vec<_>>());
            named.extend(rest.iter().zip(each).filter(|(_, x)| felt(*x)).map(|(i, _)| *i));
        }
        let named = named.into_iter();
        let named = named.map(|i| (freedoms[i].name.clone(), corner.ends[i] * freedoms[i].amount()));
        Some(Extreme { value: corner.value, position: self.stand.name.clone(), at: Found::Corner(named.collect()) })
    }

    fn weights(&self, bench: &Bench, reading: &Reading, highest: bool) -> Vec<Weight> {
        let slopes = &self.slopes[usize::from(highest)];
        let scale = bench.way.scale();
        let null = scale != Scale::Decibels && slopes.null(scale);
        // Off a null every direction adds.
        let along = match null && !slopes.blunt(scale) {
            true => slopes.effects.iter().map(|e| e.norm()).collect(),
            false => slopes.along(scale),
        };
        let total: f64 = along.iter().map(|x| x * x).sum();
        if total <= 0.0 || !total.is_finite() || slopes.blunt(scale) {
            return Vec::new();
        }
        let nominal = slopes.nominal.norm();
        let decibel = 20.0 / std::f64::consts::LN_10;
        // What 1 of the steering quantity is worth in the unit in which slopes are told.
        let worth = match (scale, reading.kind, reading.unit) {
            (Scale::Decibels, ..) | (_, Kind::Gain, _) => decibel / nominal,
            (_, Kind::Phase, _) | (_, _, quantity::Unit::Decibel | quantity::Unit::Degree) => 1.0,
            _ => 100.0 / nominal,
        };
        // From next to nothing there is no slope in decibels.
        let most = along.iter().fold(0.0f64, |a, b| a.max(b.abs()));
        let told = worth.is_finite() && !(scale == Scale::Decibels && nominal < most) && !null;
        let mut all: Vec<Weight> = bench
            .spread
            .freedoms
            .iter()
            .zip(&along)
            .map(|(f, x)| Weight {
                name: f.name.clone(),
                slope: told.then_some(x * worth * 0.01 / f.amount()),
                from_null: (null && reading.kind == Kind::Gain).then_some(x * 0.01 / f.amount()),
                share: x * x / total,
            })
            .filter(|w| w.share >= LEAST)
            .collect();
        all.sort_by(|a, b| b.share.total_cmp(&a.share));
        all
    }

    /// Nominal less or more the root of the sum of the squares.
    fn root(&self, scale: Scale, highest: bool) -> f64 {
        let slopes = &self.slopes[usize::from(highest)];
        let (nominal, root) = (scale.value(slopes.nominal), slopes.root_sum(scale));
        let sign = if highest { 1.0 } else { -1.0 };
        match scale {
            Scale::Decibels => -quantity::db((slopes.nominal.norm() - sign * root).max(0.0)),
            Scale::Size => (nominal + sign * root).max(0.0),
            _ => nominal + sign * root,
        }
    }
}

/// The drawn builds.
struct Drawn {
    /// Of each build the ends at each position; `None` where it could not be read.
    seen: Vec<Option<Vec<[f64; 2]>>>,
    unread: Option<(usize, String)>,
}

/// Why a preset of a build cannot be set.
fn unset(amiss: &Amiss, preset: &Preset) -> String {
    let name = &preset.name;
    match amiss {
        Amiss::Unknown(why) => format!("what {name} is trimmed by is unknown: {why}"),
        Amiss::Still => format!("{name} does not move what it is trimmed by"),
        Amiss::Short { .. } => format!("{name} does not reach what it is trimmed to"),
        Amiss::Unsettled(_) => "its presets undo each other's trim".into(),
    }
}

/// Builds that are drawn and read at once.
const TOGETHER: usize = 512;

impl Drawn {
    fn of(bench: &Bench, stands: &[Stand], (count, seed): (usize, u64)) -> Drawn {
        let columns: Vec<Vec<f64>> =
            bench.spread.freedoms.iter().map(|f| draw::amounts(&f.name, count, seed)).collect();
        let mut drawn = Drawn { seen: Vec::with_capacity(count), unread: None };
        for first in (0..count).step_by(TOGETHER) {
            let builds = (first..count.min(first + TOGETHER))
                .map(|k| bench.build(&columns.iter().map(|c| c[k]).collect::<Vec<f64>>()))
                .collect();
            for row in bench.see(stands, builds) {
                match row {
                    Ok(row) => drawn.seen.push(Some(row.iter().map(|s| s.ends).collect())),
                    Err(why) => {
                        drawn.seen.push(None);
                        drawn.unread.get_or_insert((0, why)).0 += 1;
                    }
                }
            }
        }
        drawn
    }
}
