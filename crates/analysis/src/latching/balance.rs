//! Loops that feed back to both sides, or through several amplifiers: which side outweighs the other hangs on the values.
//!
//! A determinant tells ([`crate::latching::sign`]). The gain of any amplifier falls to nothing far up in frequency, and there the determinant of a
//! loop's equations has the sign of a network of passive parts. Where it has the other sign at a positive real `s`, it passes 0 at one further
//! up: a voltage that grows without swinging, whatever the amplifiers' own speed. So the sign is looked at close to rest and far above the band,
//! and where several amplifiers of a loop leave it as it is nothing is said. Where both sides balance to the last digit with an unbounded gain, at
//! both places, nothing settles the output at all.

use std::collections::HashMap;
use std::f64::consts::TAU;
use std::sync::{Arc, Mutex, PoisonError};

use circuit::{Circuit, Name, PartId, Position};
use pencil::{Builder, Column, Domain, Pencil, Structure, Value};

use super::{GAIN, HIGH, REST, outweighing, sign};
use crate::network::{Network, Shape};
use crate::values::{Number, number};

/// A loop of more equations than this is not looked at.
const MOST: usize = 128;
/// So many answers of one loop are kept.
const KEPT: usize = 256;

/// A loop with an ideal amplifier whose feedback may outweigh on the + side at some values.
#[derive(Debug)]
pub struct Balance {
    /// How many equations it has.
    size: usize,
    /// What stands in them.
    entries: Vec<Entry>,
    /// The numbers that they take, by parameter.
    parameters: Vec<u32>,
    /// The parts whose numbers these are, but for the amplifiers.
    parts: Vec<Name>,
    /// The amplifiers in it.
    pub amplifiers: Vec<Amplifier>,
    /// The unknowns of the whole that it finds.
    unknowns: Vec<u32>,
    /// Answers by the bits of the numbers.
    kept: Mutex<HashMap<Vec<u64>, Option<Arc<Latched>>>>,
}

/// An amplifier of such a loop.
#[derive(Clone, Debug, PartialEq)]
pub struct Amplifier {
    /// The part.
    pub part: PartId,
    /// Its name.
    pub name: Name,
    /// The node that it drives.
    pub out: Name,
    /// Its law among the loop's equations.
    row: usize,
}

#[derive(Clone, Debug, PartialEq)]
struct Entry {
    row: usize,
    column: usize,
    coefficient: f64,
    value: Held,
    dynamic: bool,
    /// What an amplifier's inputs say in its law.
    felt: bool,
    /// The end that is put to an ideal amplifier's gain.
    ends: bool,
}

/// A number: of a parameter of the loop, or one over it.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Held {
    One,
    Of(usize),
    Over(usize),
}

/// Who latches.
#[derive(Clone, Debug, PartialEq)]
pub struct Latched {
    /// The amplifiers of the loop, by their place among [`Balance::amplifiers`].
    pub of: Vec<usize>,
    /// Only what comes back far above the band does it.
    pub high: bool,
    /// Nobody does: as much comes back to the + side as to the - side, and nothing settles the loop.
    pub even: bool,
    /// A clause.
    pub clause: Name,
}

impl PartialEq for Balance {
    fn eq(&self, other: &Self) -> bool {
        self.entries == other.entries
            && self.parameters == other.parameters
            && self.amplifiers == other.amplifiers
            && self.unknowns == other.unknowns
    }
}

/// The loops of a network whose feedback hangs in the balance. `replaced` are equations that say nothing any more.
pub(crate) fn balances(network: &Network, pencil: &Pencil, replaced: &[(u32, u32)]) -> Vec<Arc<Balance>> {
    let laws: Vec<(PartId, u32, [u32; 2], u32, bool)> = network
        .pieces
        .iter()
        .enumerate()
        .filter_map(|(i, p)| {
            let Shape::Amplifier { plus, minus, out, known } = &p.shape else { return None };
            let law = p.branch.filter(|b| !replaced.iter().any(|r| r.0 == *b))?;
            let input = |n: &circuit::NodeId| Network::row(*n).unwrap_or(u32::MAX);
            Some((PartId(i as u32), law, [input(plus), input(minus)], Network::row(*out)?, !known.bandwidth))
        })
        .collect();
    if laws.iter().all(|l| !l.4) {
        return Vec::new();
    }
    // With a gain that ends an output hangs on its inputs, and not they on it: only so do the loops show.
    let mut builder = Builder::new(pencil.unknowns(), pencil.givens());
    for _ in 0..pencil.parameters() {
        builder.parameter();
    }
    pencil.stamps().iter().for_each(|s| builder.stamp(s.value, s.domain, &s.rows, &s.columns));
    for &(part, law, _, out, _) in &laws {
        let Shape::Amplifier { known, .. } = network.pieces[part.at()].shape else { continue };
        if !known.gain && !known.bandwidth {
            let columns = [(Column::Unknown(out), 1.0)];
            builder.stamp(Value::Constant(1.0 / GAIN), Domain::Static, &[(law, 1.0)], &columns);
        }
    }
    let finite = builder.finish();
    let Ok(structure) = Structure::of(&finite) else { return Vec::new() };
    let mut found = Vec::new();
    for block in structure.blocks().iter().filter(|b| (2..=MOST).contains(&b.equations.len())) {
        let place = |all: &[u32], x: u32| all.iter().position(|y| *y == x);
        let own: Vec<_> = laws.iter().filter(|l| block.equations.contains(&l.1)).collect();
        // One whose + input the loop does not move has its feedback at the - input alone.
        let either = own.len() > 1 || own.iter().any(|l| block.unknowns.contains(&l.2[0]));
        if !either || own.iter().all(|l| !l.4) {
            continue;
        }
        let (mut entries, mut parameters) = (Vec::new(), Vec::new());
        for s in finite.stamps() {
            let (scale, value) = match s.value {
                Value::Constant(x) => (x, Held::One),
                Value::Parameter(p) | Value::Reciprocal(p) => {
                    let touches = s.rows.iter().any(|r| block.equations.contains(&r.0))
                        && s.columns.iter().any(|c| matches!(c.0, Column::Unknown(u) if block.unknowns.contains(&u)));
                    if !touches {
                        continue;
                    }
                    let at = place(&parameters, p.0).unwrap_or_else(|| {
                        parameters.push(p.0);
                        parameters.len() - 1
                    });
                    (1.0, if matches!(s.value, Value::Parameter(_)) { Held::Of(at) } else { Held::Over(at) })
                }
            };
            for (r, a) in &s.rows {
                let Some(row) = place(&block.equations, *r) else { continue };
                for (c, b) in &s.columns {
                    let Column::Unknown(u) = *c else { continue };
                    let Some(column) = place(&block.unknowns, u) else { continue };
                    let felt =
                        value == Held::One && own.iter().any(|l| l.1 == *r && l.2.contains(&u)) && scale.abs() == 1.0;
                    let dynamic = s.domain == Domain::Dynamic;
                    let ends = value == Held::One && scale == 1.0 / GAIN;
                    entries.push(Entry { row, column, coefficient: a * b * scale, value, dynamic, felt, ends });
                }
            }
        }
        let amplifiers = own.iter().filter_map(|(part, law, _, out, _)| {
            let name = network.pieces[part.at()].name.clone();
            let row = place(&block.equations, *law)?;
            Some(Amplifier { part: *part, name, out: network.unknown_name(*out), row })
        });
        let mut parts: Vec<PartId> = parameters.iter().map(|p| network.parameters[*p as usize].0).collect();
        parts.sort_unstable();
        parts.dedup();
        parts.retain(|p| !own.iter().any(|l| l.0 == *p));
        found.push(Arc::new(Balance {
            size: block.equations.len(),
            entries,
            parameters,
            parts: parts.iter().map(|p| network.pieces[p.at()].name.clone()).collect(),
            amplifiers: amplifiers.collect(),
            unknowns: block.unknowns.clone(),
            kept: Mutex::default(),
        }));
    }
    found
}

impl Balance {
    /// Whether it has a say in any of these unknowns: one flag an unknown.
    pub fn felt(&self, needed: &[bool]) -> bool {
        self.unknowns.iter().any(|u| needed.get(*u as usize).copied().unwrap_or(false))
    }

    /// The parts that decide it.
    pub fn parts(&self, network: &Network) -> impl Iterator<Item = PartId> {
        self.parameters.iter().map(|p| network.parameters[*p as usize].0)
    }

    /// What it needs of the circuit's numbers.
    pub fn weighed(self: &Arc<Self>, network: &Network, circuit: &Circuit) -> Weighed {
        let one = |p: &u32| {
            let (part, quality) = network.parameters[*p as usize];
            (part, number(&circuit.parts[part.at()], quality))
        };
        Weighed { balance: self.clone(), numbers: self.parameters.iter().map(one).collect(), band: circuit.band }
    }

    /// Who latches with these numbers, by the loop's parameters.
    fn latched(&self, numbers: &[f64], band: (f64, f64)) -> Option<Arc<Latched>> {
        let key: Vec<u64> = numbers.iter().chain([&band.0, &band.1]).map(|x| x.to_bits()).collect();
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = kept.get(&key) {
            return known.clone();
        }
        let found = [(REST * band.0, false), (HIGH * band.1, true)]
            .into_iter()
            .find_map(|(hertz, high)| self.at(numbers, TAU * hertz, high))
            .or_else(|| self.even(numbers, [REST * band.0, HIGH * band.1].map(|hertz| TAU * hertz)))
            .map(Arc::new);
        if kept.len() >= KEPT {
            kept.clear();
        }
        kept.insert(key, found.clone());
        found
    }

    /// Who latches at a positive real `s`.
    fn at(&self, numbers: &[f64], s: f64, high: bool) -> Option<Latched> {
        let of = outweighing(self.amplifiers.len(), |whole| self.sign(numbers, s, whole, false))?;
        let above = if high { "far above the band " } else { "" };
        let clause = match &of[..] {
            [one] => {
                let Amplifier { name, out, .. } = &self.amplifiers[*one];
                format!("{name} latches: {above}more of {out} comes back to its + input than to its - input")
            }
            _ => {
                let names: Vec<&str> = of.iter().map(|i| &*self.amplifiers[*i].name).collect();
                let names = quantity::list(&names, "and");
                format!("the loop of {names} latches: {above}what comes back to its + side outweighs the rest")
            }
        };
        Some(Latched { of, high, even: false, clause: clause.into() })
    }

    /// Whether both sides of the loop balance to the last digit at these values of `s`, where the gain of ideal amplifiers has no end.
    fn even(&self, numbers: &[f64], s: [f64; 2]) -> Option<Latched> {
        let (all, none) = (vec![true; self.amplifiers.len()], vec![false; self.amplifiers.len()]);
        let open =
            |s: &f64| self.sign(numbers, *s, &none, false).is_some() && self.sign(numbers, *s, &all, true).is_none();
        if !s.iter().all(open) {
            return None;
        }
        let first = self.amplifiers.first()?;
        let parts: Vec<&str> = self.parts.iter().map(|n| &**n).collect();
        let with = match parts.len() {
            0 => String::new(),
            1..=6 => format!(" with {} as they are", quantity::list(&parts, "and")),
            more => format!(" with {} and {} parts more as they are", parts[..4].join(", "), more - 4),
        };
        let clause = match &self.amplifiers[..] {
            [Amplifier { name, out, .. }] => {
                format!(
                    "as much of {out} comes back to {name}'s + input as to its - input{with}: nothing settles {out}"
                )
            }
            all => {
                let names: Vec<&str> = all.iter().map(|a| &*a.name).collect();
                let names = quantity::list(&names, "and");
                format!(
                    "what comes back to the + side of the loop of {names} equals the rest{with}: nothing settles {}",
                    first.out
                )
            }
        };
        Some(Latched { of: (0..self.amplifiers.len()).collect(), high: false, even: true, clause: clause.into() })
    }

    /// The sign of the determinant with the gain of some amplifiers and the others at 0; an ideal one's gain has an end, or none.
    fn sign(&self, numbers: &[f64], s: f64, whole: &[bool], endless: bool) -> Option<bool> {
        let mut rows = vec![vec![0.0; self.size]; self.size];
        let deaf = |row: usize| self.amplifiers.iter().zip(whole).any(|(a, whole)| a.row == row && !whole);
        for e in &self.entries {
            if e.felt && deaf(e.row) || e.ends && endless {
                continue;
            }
            let value = match e.value {
                Held::One => 1.0,
                Held::Of(p) => numbers[p],
                Held::Over(p) => 1.0 / numbers[p],
            };
            rows[e.row][e.column] += e.coefficient * value * if e.dynamic { s } else { 1.0 };
        }
        sign(rows)
    }
}

/// A loop in the balance with what tells the positions at which it latches.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighed {
    /// The loop.
    pub balance: Arc<Balance>,
    /// By its parameters.
    numbers: Vec<(PartId, Number)>,
    /// In hertz.
    band: (f64, f64),
}

impl Weighed {
    /// Who latches at these positions; nobody where a number is missing.
    pub fn at(&self, positions: &[Position]) -> Option<Arc<Latched>> {
        let numbers: Vec<f64> = self.numbers.iter().map(|(_, n)| n.at(positions)).collect();
        numbers.iter().all(|x| x.is_finite()).then(|| self.balance.latched(&numbers, self.band)).flatten()
    }

    /// The same with some parts' values multiplied.
    pub(crate) fn scaled(&self, factors: &[(PartId, f64)]) -> Weighed {
        let mut scaled = self.clone();
        for (part, n) in &mut scaled.numbers {
            if let Ok(at) = factors.binary_search_by_key(part, |f| f.0) {
                *n = n.scaled(factors[at].1);
            }
        }
        scaled
    }
}
