//! How far a signal may rise before the first amplifier on the way runs into a limit: `clip level` and `headroom`.
//!
//! An amplifier is on the way to a point if it has a say there when every output is taken for a stiff one: what only loads a
//! node through an output resistance does not carry the signal. A limit is taken at its guaranteed figure where the data
//! sheet has one, and each at its peak: the sine's, beside what stands there at rest.

use std::collections::BTreeSet;
use std::f64::consts::TAU;

use circuit::{Name, Point, SourceId};
use num_complex::Complex64;
use pencil::{Excitation, Functional, Structure};
use quantity::{Style, Unit, db, peak_of_rms, rms_of_peak};

use super::dc::{greatest, least, rows, say, strained};
use super::{Bench, Found};
use crate::extreme;
use crate::landmarks::Landmarks;
use crate::network::{Network, Quality};
use crate::positions::Stand;
use crate::print::hertz;
use crate::reading::Place;

/// The structure in which every amplifier's output is stiff.
fn forward<'a>(bench: &'a Bench) -> &'a Structure {
    bench.whole.forward.get_or_init(|| {
        let soft = |q: &Quality| {
            use Quality::*;
            matches!(q, OutputOverGain | OutputOverBandwidth | OutputResistance | OutputTimesSecond)
        };
        let all = bench.whole.network.parameters.iter().enumerate();
        let soft: Vec<_> = all.filter(|(_, (_, q))| soft(q)).map(|(i, _)| pencil::Parameter(i as u32)).collect();
        Structure::of(&bench.whole.sound.pencil.without(&soft)).unwrap_or_else(|_| bench.whole.sound.structure.clone())
    })
}

/// The amplifiers on the way to a point: part, inputs and output, and the unknown that is its output's current.
fn on_the_way(bench: &Bench, point: &Point) -> Vec<(circuit::PartId, [circuit::NodeId; 3], u32)> {
    let structure = forward(bench);
    let needed = structure.influencing(&rows(point));
    let branch = |id: circuit::PartId| bench.whole.network.pieces[id.at()].branch;
    bench
        .amplifiers()
        .into_iter()
        .filter_map(|(id, nodes)| Some((id, nodes, branch(id)?)))
        .filter(|(_, _, law)| needed[structure.unknown_of(*law) as usize])
        .collect()
}

/// Whether an amplifier, by its law's equation, is on the way to some unknowns.
pub(super) fn carries(bench: &Bench, unknowns: &[u32], law: u32) -> bool {
    Carried::of(bench, unknowns).holds(law)
}

/// The amplifiers on the way to some unknowns, found once for all of them.
pub(super) struct Carried<'a> {
    structure: &'a Structure,
    needed: Vec<bool>,
}

impl<'a> Carried<'a> {
    pub fn of(bench: &'a Bench, unknowns: &[u32]) -> Carried<'a> {
        let structure = forward(bench);
        Carried { structure, needed: structure.influencing(unknowns) }
    }

    /// Whether an equation, as an amplifier's law, has a way there.
    pub fn holds(&self, equation: u32) -> bool {
        self.needed[self.structure.unknown_of(equation) as usize]
    }
}

/// The unknowns that a clip level is read off: the point, and what stands and flows at every amplifier on the way.
pub(super) fn unknowns(bench: &Bench, point: &Point) -> Vec<u32> {
    let mut all = rows(point);
    for (_, nodes, branch) in on_the_way(bench, point) {
        all.extend(nodes.into_iter().filter_map(Network::row));
        all.push(branch);
    }
    all
}

/// One limit of one amplifier.
struct Limit {
    /// `U1a's swing`
    what: String,
    /// Which of the wanted functionals runs into it.
    wanted: usize,
    room: Room,
    /// How the room was had.
    line: String,
}

/// What is left for a sine.
enum Room {
    /// This peak, in volts or amperes.
    Peak(f64),
    /// This slope, in volts a second.
    Slope(f64),
}

impl Limit {
    /// The greatest peak at a frequency.
    fn peak(&self, f: f64) -> f64 {
        match self.room {
            Room::Peak(x) => x,
            Room::Slope(x) => x / (TAU * f),
        }
    }
}

impl Limit {
    /// How the room was had, at a frequency.
    fn told(&self, f: f64) -> String {
        match self.room {
            Room::Peak(_) => self.line.clone(),
            Room::Slope(_) => {
                format!("{}: over 2π · {} that is {} peak", self.line, hertz(f), say(self.peak(f), Unit::Volt))
            }
        }
    }
}

/// All limits on the way to a point.
struct Limits {
    limits: Vec<Limit>,
    /// The point first, then what runs into limits.
    wanted: Vec<Functional>,
    typical: BTreeSet<Name>,
    /// What the data sheets lack.
    unseen: Vec<String>,
    values: Vec<f64>,
}

impl Limits {
    fn of(bench: &Bench, stand: &Stand, point: &Point) -> Result<Limits, String> {
        let amplifiers = on_the_way(bench, point);
        if amplifiers.is_empty() {
            return Err(format!("no amplifier has a way to {}: nothing here clips", point.name));
        }
        let mut all = Limits {
            limits: Vec::new(),
            wanted: vec![bench.voltage(point)],
            typical: BTreeSet::new(),
            unseen: Vec::new(),
            values: bench.values(stand)?,
        };
        let few = amplifiers.len() <= super::dc::CHAIN;
        let mut drawn = BTreeSet::new();
        for (id, [plus, minus, out], branch) in amplifiers {
            let (name, sheet) = (&bench.circuit.parts[id.at()].name, bench.sheet(id));
            if sheet.ideal {
                return Err(format!(
                    "{name} is ideal and has no limit: a type, as in `{name} fet_dual: …`, would give it one"
                ));
            }
            if let Some(why) = &sheet.unknown {
                return Err(why.to_string());
            }
            let mut guess = |(figure, typical): (f64, bool)| {
                if typical {
                    all.typical.insert(sheet.name.clone());
                }
                figure
            };
            let above = guess(greatest(sheet, "swing from high rail", &sheet.swing_high)?);
            let below = guess(greatest(sheet, "swing from low rail", &sheet.swing_low)?);
            let [one, other] = bench.rails_of(id)?;
            let mut needed: Vec<u32> = [one, other, plus, minus, out].into_iter().filter_map(Network::row).collect();
            needed.push(branch);
            let still = bench.still(stand, &needed)?;
            drawn.extend(still.drawn.typical.iter().cloned());
            let at_rest = still.solve(&[
                bench.node(one),
                bench.node(other),
                bench.node(out),
                bench.node(plus),
                bench.node(minus),
                bench.functional(&[(branch, 1.0)]),
            ])?;
            let (high, low) = (at_rest[0].max(at_rest[1]), at_rest[0].min(at_rest[1]));
            if high - low <= above + below {
                return Err(format!(
                    "{name} has {} between its rails and loses {} of it: its output cannot move",
                    say(high - low, Unit::Volt),
                    say(above + below, Unit::Volt)
                ));
            }
            bench.shorted(id)?;
            if few {
                bench.swamped(stand, id)?;
            }
            let first = all.wanted.len();
            all.wanted.extend([
                bench.node(out),
                bench.functional(&[(branch, 1.0)]),
                bench.node(plus),
                bench.node(minus),
            ]);
            all.limits.push(window(
                &format!("{name}'s swing"),
                &format!("{name}'s output"),
                first,
                at_rest[2],
                [low + below, high - above],
            )?);
            written(sheet, "output current", &sheet.output_current)?;
            match least(sheet, "output current", &sheet.output_current) {
                Ok(datum) => {
                    let most = guess(datum).abs();
                    let rest = at_rest[5].abs();
                    strained(name, rest, most)?;
                    all.limits.push(Limit {
                        what: format!("{name}'s output current"),
                        wanted: first + 1,
                        room: Room::Peak(most - rest),
                        line: format!(
                            "{name} gives up to {}, of which {} at rest: {} peak is left",
                            say(most, Unit::Ampere),
                            say(rest, Unit::Ampere),
                            say(most - rest, Unit::Ampere)
                        ),
                    });
                }
                Err(why) => all.unseen.push(format!("{name}'s output current ({why})")),
            }
            written(sheet, "slew rate", &sheet.slew_rate)?;
            match least(sheet, "slew rate", &sheet.slew_rate) {
                Ok(datum) => {
                    let slope = guess(datum).abs();
                    all.limits.push(Limit {
                        what: format!("{name}'s slew rate"),
                        wanted: first,
                        room: Room::Slope(slope),
                        line: format!("{name} slews {}", say(slope, Unit::VoltPerSecond)),
                    });
                }
                Err(why) => all.unseen.push(format!("{name}'s slew rate ({why})")),
            }
            written(sheet, "input range from low rail", &sheet.range_low)?;
            written(sheet, "input range from high rail", &sheet.range_high)?;
            let range = greatest(sheet, "input range from low rail", &sheet.range_low)
                .and_then(|l| Ok((l, greatest(sheet, "input range from high rail", &sheet.range_high)?)));
            match range {
                Ok((from_low, from_high)) => {
                    let ends = [low + guess(from_low), high - guess(from_high)];
                    for (k, sign) in [(2, "+"), (3, "-")] {
                        let what = format!("{name}'s input range");
                        all.limits.push(window(
                            &what,
                            &format!("{name}'s {sign} input"),
                            first + k,
                            at_rest[k + 1],
                            ends,
                        )?);
                    }
                }
                Err(why) => all.unseen.push(format!("{name}'s input range ({why})")),
            }
        }
        all.typical.extend(drawn);
        Ok(all)
    }

    /// How far the limits are: of each, the factor by which a drive that gives these peaks may rise.
    fn factors<'a>(&'a self, peaks: &'a [f64], f: f64) -> impl Iterator<Item = f64> + 'a {
        self.limits.iter().map(move |l| {
            let peak = peaks[l.wanted];
            if peak > 0.0 { l.peak(f) / peak } else { f64::INFINITY }
        })
    }

    /// The least factor with its limit.
    fn first(&self, peaks: &[f64], f: f64) -> (f64, usize) {
        let all = self.factors(peaks, f).enumerate().map(|(i, x)| (x, i));
        all.reduce(|a, b| if b.0 < a.0 { b } else { a }).unwrap_or((f64::INFINITY, 0))
    }

    /// The limits at a frequency, the nearest first, each once an amplifier and kind, in decibels behind the first.
    fn others(&self, peaks: &[f64], f: f64, first: (f64, usize)) -> Option<String> {
        let mut all: Vec<(f64, &str)> =
            self.factors(peaks, f).zip(&self.limits).map(|(x, l)| (x, l.what.as_str())).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut seen = vec![self.limits[first.1].what.as_str()];
        let mut told = Vec::new();
        for (x, what) in all.into_iter().filter(|a| a.0.is_finite()) {
            if !seen.contains(&what) && told.len() < 6 {
                seen.push(what);
                let behind = quantity::decibels(db(x / first.0), Style::default()).unwrap_or_default();
                told.push(format!("{what} {behind}"));
            }
        }
        (!told.is_empty()).then(|| format!("further off: {}", told.join(", ")))
    }

    fn close(self, found: &mut Found) {
        found.typical = self.typical;
        if !self.unseen.is_empty() {
            found.working.push(format!("not looked at: {}", self.unseen.join(", ")));
        }
    }
}

/// A voltage that must stay in a window.
fn window(what: &str, who: &str, wanted: usize, rest: f64, [low, high]: [f64; 2]) -> Result<Limit, String> {
    let room = (high - rest).min(rest - low);
    // A voltage that rests on the edge to all printed digits has no room either.
    if room <= 1e-9 * (high - low).abs() {
        return Err(format!(
            "{who} rests at {}, and what it may do is {} … {}: there is no room for a signal",
            say(rest, Unit::Volt),
            say(low, Unit::Volt),
            say(high, Unit::Volt)
        ));
    }
    Ok(Limit {
        what: what.into(),
        wanted,
        room: Room::Peak(room),
        line: format!(
            "{who} rests at {} and may go from {} to {}: {} peak is left",
            say(rest, Unit::Volt),
            say(low, Unit::Volt),
            say(high, Unit::Volt),
            say(room, Unit::Volt)
        ),
    })
}

/// What is said where nothing can clip, since no signal comes to any amplifier.
const UNMOVED: &str = "no source moves an amplifier on the way";

/// Whether a curve is 0 at a frequency at which the point's signal is: where it grows as fast as one goes away from there. A null in
/// front of the amplifiers takes the signal from them too, and their limit stays where it is.
fn vanishes(f: f64, curve: &mut extreme::Curve) -> Result<bool, String> {
    let [near, far] = [1e-6, 1e-4].map(|off| f * (1.0 + off));
    let found = curve(&[near, far])?;
    Ok(found[0] < 0.1 * found[1])
}

/// The least of a curve over the place of a question, with the frequency.
fn lowest(bench: &Bench, marks: &Landmarks, curve: &mut extreme::Curve) -> Result<(f64, f64), String> {
    match bench.place {
        Place::Over(low, high) => extreme::least(low, high, marks, curve),
        Place::At(f) | Place::Against(f) => Ok((curve(&[f])?[0], f)),
    }
}

fn drive(bench: &Bench, source: usize) -> Excitation {
    bench.excitation(&bench.whole.network.excitation(SourceId(source as u32)))
}

fn peaks(row: &[Complex64]) -> Vec<f64> {
    row.iter().map(|x| peak_of_rms(x.norm())).collect()
}

/// The sources with a way to a point.
fn sources(bench: &Bench, point: &Point) -> Result<Vec<usize>, String> {
    let structure = forward(bench);
    let needed = structure.influencing(&rows(point));
    let reaches = |source: usize| {
        let rows = bench.whole.network.excitation(SourceId(source as u32));
        rows.iter().any(|(r, _)| needed[structure.unknown_of(*r) as usize])
    };
    let from = |i: &usize| bench.query.from.is_none_or(|f| f.at() == *i);
    let all: Vec<usize> = (0..bench.circuit.sources.len()).filter(from).filter(|i| reaches(*i)).collect();
    if all.is_empty() { Err(format!("no source has a way to {}", point.name)) } else { Ok(all) }
}

fn level(volts: f64) -> String {
    quantity::dbu_with_volts(volts, Style::default()).filter(|_| volts > 0.0).unwrap_or_else(|| say(volts, Unit::Volt))
}

/// The level at a point, in volts rms, at which the first amplifier on the way reaches a limit: the lowest over the band and,
/// where several sources have a way there, of each by itself.
pub(super) fn clip_level(bench: &Bench, stand: &Stand, point: &Point) -> Result<Found, String> {
    let limits = Limits::of(bench, stand, point)?;
    let mut best: Option<(f64, f64, usize)> = None;
    for source in sources(bench, point)? {
        let drive = drive(bench, source);
        // The level is low where little of the drive arrives, too.
        let marks = bench.sharp(stand, Some((&drive, &limits.wanted[0])))?;
        let mut curve = |fs: &[f64]| -> Result<Vec<f64>, String> {
            let rows = bench.solve(&limits.values, fs, &drive, &limits.wanted)?;
            Ok(rows
                .iter()
                .zip(fs)
                .map(|(row, f)| {
                    let first = limits.first(&peaks(row), *f).0;
                    // Where the source moves no amplifier there is no limit, however little of it arrives.
                    if first.is_finite() { row[0].norm() * first } else { f64::INFINITY }
                })
                .collect())
        };
        let null = match bench.place {
            Place::Over(low, high) => marks.null(low, high),
            Place::At(_) | Place::Against(_) => None,
        };
        if let Some(f) = null
            && vanishes(f, &mut curve)?
        {
            let mut found = Found::of(0.0);
            found.working = vec![
                format!("{} drives, every other source is quiet", bench.circuit.sources[source].name),
                place(bench),
                format!("at {} nothing of it arrives at {}, however hard an amplifier is driven", hertz(f), point.name),
            ];
            limits.close(&mut found);
            return Ok(found);
        }
        // Beside a resonance that moves an amplifier and not the point there is no level to tell; at one frequency a null does the same to the curve.
        if matches!(bench.place, Place::Over(..)) {
            bench.bounded(&limits.values, &mut |fs| Ok(curve(fs)?.into_iter().map(f64::recip).collect()))?;
        }
        let (volts, f) = lowest(bench, &marks, &mut curve)?;
        if best.is_none_or(|b| volts < b.0) {
            best = Some((volts, f, source));
        }
    }
    let Some((volts, f, source)) = best.filter(|b| b.0.is_finite()) else { return Ok(Found::silent(UNMOVED.into())) };
    let row = bench.solve(&limits.values, &[f], &drive(bench, source), &limits.wanted)?.remove(0);
    let peaks = peaks(&row);
    let first = limits.first(&peaks, f);
    let limit = &limits.limits[first.1];
    let mut found = Found::of(volts);
    found.working = vec![
        format!("{} drives, every other source is quiet", bench.circuit.sources[source].name),
        place(bench),
        format!("{} is reached first, at {}", limit.what, hertz(f)),
        limit.told(f),
    ];
    found.working.push(format!(
        "{} then has {}, {} peak",
        point.name,
        level(volts),
        say(peak_of_rms(volts), Unit::Volt)
    ));
    found.working.extend(limits.others(&peaks, f, first));
    limits.close(&mut found);
    Ok(found)
}

/// By how many decibels all sources may rise together before the first amplifier on the way reaches a limit, the least over
/// the band; several sources count in phase.
pub(super) fn headroom(bench: &Bench, stand: &Stand, point: &Point) -> Result<Found, String> {
    let limits = Limits::of(bench, stand, point)?;
    let mut levels = Vec::new();
    for source in sources(bench, point)? {
        let s = &bench.circuit.sources[source];
        let level = s.sized()?;
        levels.push((source, level.abs()));
    }
    let total = |fs: &[f64]| -> Result<Vec<Vec<f64>>, String> {
        let mut sums = vec![vec![0.0; limits.wanted.len()]; fs.len()];
        for (source, level) in &levels {
            let rows = bench.solve(&limits.values, fs, &drive(bench, *source), &limits.wanted)?;
            for (sum, row) in sums.iter_mut().zip(&rows) {
                for (s, x) in sum.iter_mut().zip(peaks(row)) {
                    *s += x * level;
                }
            }
        }
        Ok(sums)
    };
    let marks = bench.sharp(stand, None)?;
    let mut curve = |fs: &[f64]| -> Result<Vec<f64>, String> {
        Ok(total(fs)?.iter().zip(fs).map(|(sum, f)| limits.first(sum, *f).0).collect())
    };
    bench.bounded(&limits.values, &mut |fs| Ok(curve(fs)?.into_iter().map(f64::recip).collect()))?;
    let (factor, f) = lowest(bench, &marks, &mut curve)?;
    if !factor.is_finite() {
        return Ok(Found::silent(UNMOVED.into()));
    }
    let peaks = total(&[f])?.remove(0);
    let first = limits.first(&peaks, f);
    let limit = &limits.limits[first.1];
    let mut found = Found::of(db(factor));
    let unit = |i: usize| if bench.is_current(i) { Unit::Ampere } else { Unit::Volt };
    let said: Vec<String> =
        levels.iter().map(|(i, x)| format!("{} {}", bench.circuit.sources[*i].name, say(*x, unit(*i)))).collect();
    let together = if levels.len() > 1 { ", in phase" } else { "" };
    let here = rms_of_peak(peaks[0]);
    found.working = vec![
        format!("sources: {}{together}", said.join(", ")),
        place(bench),
        format!("{} is reached first, at {}", limit.what, hertz(f)),
        limit.told(f),
        format!(
            "{} asks for {} peak of it, {} is left",
            if levels.len() > 1 { "the signal" } else { &said[0] },
            say(peaks[limit.wanted], if limit.what.ends_with("current") { Unit::Ampere } else { Unit::Volt }),
            say(limit.peak(f), if limit.what.ends_with("current") { Unit::Ampere } else { Unit::Volt }),
        ),
        format!("{} has {} and clips at {}", point.name, level(here), level(here * factor)),
    ];
    found.working.extend(limits.others(&peaks, f, first));
    limits.close(&mut found);
    Ok(found)
}

fn place(bench: &Bench) -> String {
    match bench.place {
        Place::Over(a, b) => format!("the least over {} … {}", hertz(a), hertz(b)),
        Place::At(f) | Place::Against(f) => format!("at {}", hertz(f)),
    }
}

/// A limit that a sheet leaves out is not looked at; one that is written and cannot be read may be the one that is reached first.
fn written(sheet: &circuit::Sheet, words: &str, figure: &circuit::Figure) -> Result<(), String> {
    sheet.torn(words, figure).map_or(Ok(()), Err)
}
