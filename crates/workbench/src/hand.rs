//! The hand model of one question, and a formula beside it: with the file's values and with others, at frequencies and positions.

use std::sync::Arc;

use analysis::compare::{self, Side};
use analysis::positions::Look;
use analysis::{Inputs, Plan};
use argument::formula::{Condition, Sample, agrees, slip};
use circuit::expr::{self, Failure};
use circuit::{Circuit, Neglect, PartId, Position, Query, Standing};
use notation::Name;
use notation::tree::Expr;
use num_complex::Complex64;

use crate::bent::{self, Neglected};
use crate::database::{Desk, Document, WayKey};

/// The frequencies at which other values are tried, as shares of the band's logarithm.
const TRIED: [f64; 5] = [0.0, 0.3, 0.5, 0.8, 1.0];
/// So many sets of other values are tried.
const DRAWS: u32 = 3;

/// The hand model for one question: all assumptions made together.
pub(crate) struct Hand<'a> {
    db: &'a dyn Desk,
    document: Document,
    neglected: Neglected<'a>,
    plan: Arc<Plan>,
    inputs: Arc<Inputs>,
}

impl<'a> Hand<'a> {
    pub fn of(db: &'a dyn Desk, document: Document, neglected: &[Neglect], key: WayKey<'a>) -> Option<Hand<'a>> {
        let neglected = Neglected::new(db, neglected.to_vec().into_boxed_slice());
        let plan = bent::planned(db, document, neglected, key)?;
        let inputs = bent::inputs(db, document, neglected, key)?;
        Some(Hand { db, document, neglected, plan, inputs })
    }

    pub fn side(&self) -> Side<'_> {
        Side { plan: &self.plan, inputs: &self.inputs }
    }

    /// The formula beside it with a circuit's other values at a few frequencies.
    pub fn samples_of(
        &self,
        query: &Query,
        (low, high): (f64, f64),
        circuit: &Circuit,
        value: &Expr,
        look: &Look,
    ) -> Result<Vec<Sample>, String> {
        let inputs = self.inputs_of(circuit);
        let side = Side { plan: &self.plan, inputs: &inputs };
        let points = if low < high { &TRIED[..] } else { &TRIED[..1] };
        let mut all = Vec::new();
        for share in points {
            let f = low * (high / low).powf(*share);
            all.extend(samples(side, query, (f, f), circuit, value, look)?);
        }
        Ok(all)
    }

    /// The slip that explains a wrong formula: one place in it changed makes it right, with other values too.
    pub fn slipped(
        &self,
        query: &Query,
        (low, high): (f64, f64),
        circuit: &Circuit,
        value: &Expr,
        alike: &[bool],
        look: &Look,
    ) -> Option<crate::slips::Change> {
        // What a `let` says does not follow other values.
        if circuit.lets.iter().any(|l| expr::names(value).contains(&&l.name)) {
            return None;
        }
        let parts = self.parts(circuit);
        // Where no two values are alike, or else as long as equal ones stay equal.
        alike.iter().find_map(|&equal| {
            let circuits: Vec<Circuit> =
                (1..=DRAWS).map(|k| drawn(circuit, k, equal)).chain([circuit.clone()]).collect();
            let mut spots = Vec::new();
            for (k, other) in circuits.iter().enumerate() {
                let inputs = self.inputs_of(other);
                let side = Side { plan: &self.plan, inputs: &inputs };
                let points = if low < high { &TRIED[..] } else { &TRIED[..1] };
                // The middle tells most wrong ones apart, and is looked at first.
                for share in points.iter().cycle().skip(2 + k).take(points.len()) {
                    let f = low * (high / low).powf(*share);
                    for sampled in compare::sampled(&[side], query, (f, f), look).ok()? {
                        let (positions, hand) = (sampled.stand.positions.clone(), sampled.rows[0][0]);
                        spots.push(crate::slips::Spot { circuit: other, positions, hertz: f, hand });
                    }
                }
            }
            // Where values are alike much comes out right: then only parts that changed places or sides are believed.
            crate::slips::change(value, &parts, &spots, look.pulse).filter(|c| !equal || c.is_exchange())
        })
    }

    /// The formula turned as one thing so that it is right in some circuits: the other sign, the other way up, a `1 +` more.
    fn unslipped(
        &self,
        query: &Query,
        band: (f64, f64),
        circuits: &[Circuit],
        value: &Expr,
        look: &Look,
    ) -> Option<String> {
        let right = |turned: &Expr| {
            circuits.iter().all(|c| {
                let found = self.samples_of(query, band, c, turned, look);
                found.is_ok_and(|all| !all.is_empty() && all.iter().all(agrees))
            })
        };
        crate::slips::turned(value).iter().find(|turned| right(turned)).map(crate::slips::text)
    }

    /// A slip of the formula as one thing, with what should stand there; where that cannot be written, or takes two turns, the one place in
    /// it that explains as much.
    #[allow(clippy::too_many_arguments)]
    pub fn told(
        &self,
        clause: &str,
        query: &Query,
        band: (f64, f64),
        circuit: &Circuit,
        value: &Expr,
        alike: &[bool],
        look: &Look,
    ) -> (String, Option<String>) {
        let others: Vec<Circuit> = (1..=DRAWS).map(|draw| drawn(circuit, draw, false)).collect();
        let instead = self.unslipped(query, band, &others, value, look);
        if instead.is_none() || clause.contains(", and ") {
            let place = self.slipped(query, band, circuit, value, alike, look);
            if let Some(change) = place.filter(|c| c.is_one_place()) {
                return (change.clause, Some(crate::slips::text(&change.expr)));
            }
        }
        (clause.to_string(), instead)
    }

    /// Of a formula that is right as long as equal values stay equal: which those are, and the slip without which it need not be so.
    pub fn while_equal(
        &self,
        query: &Query,
        band: (f64, f64),
        circuit: &Circuit,
        value: &Expr,
        look: &Look,
    ) -> Condition {
        let right = |free: PartId| {
            (1..=DRAWS).all(|draw| {
                let other = drawn_but(circuit, draw, &|id| PartId(id as u32) != free);
                self.samples_of(query, band, &other, value, look).is_ok_and(|all| all.iter().all(agrees))
            })
        };
        let names = self.parts(circuit);
        let own = (0..circuit.parts.len()).filter(|id| names.contains(&circuit.parts[*id].name));
        // Each is let go alone: those without which it goes another way are the ones that count.
        let bound: Vec<usize> = own.filter(|id| !right(PartId(*id as u32))).collect();
        let mut alike: Vec<(&str, f64, Vec<Name>)> = Vec::new();
        for id in bound {
            let part = &circuit.parts[id];
            let Some(value) = part.kind.value().and_then(circuit::Given::number) else { continue };
            let class = part.kind.class();
            match alike.iter_mut().find(|(c, v, _)| *c == class && *v == value) {
                Some((.., names)) => names.push(part.name.clone()),
                None => alike.push((class, value, vec![part.name.clone()])),
            }
        }
        let alike: Vec<Vec<Name>> = alike.into_iter().map(|(.., names)| names).filter(|n| n.len() > 1).collect();
        let others: Vec<Circuit> = (1..=DRAWS).map(|draw| drawn(circuit, draw, false)).collect();
        let told = |c: &Circuit| self.samples_of(query, band, c, value, look).ok().and_then(|all| slip(&all));
        let first = told(&others[0]).filter(|clause| others[1..].iter().all(|c| told(c) == Some(*clause)));
        if let Some(clause) = first {
            let (slip, instead) = self.told(clause, query, band, circuit, value, &[false], look);
            return Condition::EqualStayEqual { alike, slip: Some(slip), instead };
        }
        let change = self.slipped(query, band, circuit, value, &[false], look);
        let instead = change.as_ref().map(|c| crate::slips::text(&c.expr));
        Condition::EqualStayEqual { alike, slip: change.map(|c| c.clause), instead }
    }

    /// The parts that have a say in the response, by name.
    fn parts(&self, circuit: &Circuit) -> Vec<Name> {
        let network = bent::network(self.db, self.document, self.neglected);
        let local = self.plan.local();
        let all = local.iter().flat_map(|l| &l.parameters).map(|p| network.parameters[*p as usize].0);
        let mut all: Vec<PartId> = all.collect();
        all.sort_unstable();
        all.dedup();
        all.into_iter().map(|id| circuit.parts[id.at()].name.clone()).collect()
    }

    /// The numbers that its question needs of a circuit of the same topology.
    fn inputs_of(&self, circuit: &Circuit) -> Inputs {
        let bent = circuit.neglecting(self.neglected.all(self.db));
        // Algebra is right or wrong whether or not such values would latch.
        Inputs::of(self.plan.local(), &bent::network(self.db, self.document, self.neglected), &bent).standing()
    }
}

/// A difference this much smaller than a response at its greatest is what rounding leaves of none.
const NULL: f64 = 1e-12;

/// A response this many times its middle over a band is at a pole without loss: its rounding counts for more than algebra may be off.
const POLE: f64 = 1e5;

/// The formula beside the hand model.
pub(crate) fn samples(
    hand: Side,
    query: &Query,
    band: (f64, f64),
    circuit: &Circuit,
    value: &Expr,
    look: &Look,
) -> Result<Vec<Sample>, String> {
    // What a sum drives is told only where all that reaches it agrees.
    analysis::one_ratio(hand.plan, hand.inputs)?;
    let mut found = Vec::new();
    for sampled in compare::sampled(&[hand], query, band, look)? {
        let scope = Standing { circuit, positions: &sampled.stand.positions };
        let constant = !expr::speaks_of_frequency(value) && expr::names(value).is_empty();
        let mut once = None;
        // What a resonance without loss comes to at its pole is rounding, which has no size to compare.
        let mut sizes: Vec<f64> = sampled.rows[0].iter().map(|z| z.norm()).collect();
        sizes.sort_by(f64::total_cmp);
        let beyond = sizes.get(sizes.len() / 2).map_or(f64::INFINITY, |middle| middle * POLE);
        // Nor has what both come to at a null and close by.
        let nothing = sizes.iter().filter(|s| **s <= beyond).copied().fold(0.0, f64::max) * NULL;
        for (k, f) in sampled.hertz.iter().enumerate() {
            if beyond > 0.0 && sampled.rows[0][k].norm() > beyond {
                continue;
            }
            let formula = match once {
                Some(z) if constant => z,
                _ => match worked_out(value, &scope, *f) {
                    Ok(z) => *once.insert(z),
                    // What is nothing over nothing at a control's end is what it tends to there.
                    Err(_) if tends_to(value, circuit, &sampled.stand.positions, *f, sampled.rows[0][k]) => continue,
                    Err(why) => return Err(why),
                },
            };
            let hand = sampled.rows[0][k];
            let sample = Sample { hertz: *f, position: sampled.stand.name.clone(), hand, formula };
            if agrees(&sample) || (hand - formula).norm() > nothing {
                found.push(sample);
            }
        }
    }
    Ok(found)
}

/// Whether a formula that is right with the file's values is right with others; values that are equal may stay so.
pub(crate) fn tried(
    hand: &Hand,
    query: &Query,
    band: (f64, f64),
    circuit: &Circuit,
    value: &Expr,
    equal: bool,
    look: &Look,
) -> bool {
    (1..=DRAWS).all(|draw| {
        let other = drawn(circuit, draw, equal);
        hand.samples_of(query, band, &other, value, look).is_ok_and(|all| all.iter().all(agrees))
    })
}

/// The circuit with other values: each between half and twice its own, matched parts alike; with `equal`, equal ones alike.
pub(crate) fn drawn(circuit: &Circuit, draw: u32, equal: bool) -> Circuit {
    drawn_but(circuit, draw, &|_| equal)
}

/// The same; only parts that are bound are alike where they are equal.
fn drawn_but(circuit: &Circuit, draw: u32, bound: &dyn Fn(usize) -> bool) -> Circuit {
    let mut other = circuit.clone();
    let number = |id: usize| circuit.parts[id].kind.value().and_then(circuit::Given::number);
    for id in 0..circuit.parts.len() {
        let Some(value) = number(id) else { continue };
        let class = circuit.parts[id].kind.class();
        // What moves together has the draw of its first.
        let alike = |first: usize| {
            bound(id) && bound(first) && circuit.parts[first].kind.class() == class && number(first) == Some(value)
        };
        let group = circuit.matched.iter().find(|m| m.parts.contains(&PartId(id as u32)));
        let first = group.and_then(|m| m.parts.iter().map(|p| p.at()).min()).unwrap_or(id);
        let first = (0..first).find(|i| alike(*i)).unwrap_or(first);
        let share = scattered(u64::from(draw) << 32 | (first + 1) as u64);
        other.parts[id].kind.set_value(value * 4f64.powf(share - 0.5));
    }
    other
}

/// A share in [0, 1) that hangs on a number and on nothing else (the finaliser of SplitMix64; Steele, Lea and Flood, OOPSLA 2014): evenly
/// spread numbers would have sums that are alike, and with them values whose products are.
fn scattered(number: u64) -> f64 {
    let mut z = number.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}

/// So far inside of a control's end a formula is asked that has no value at it, as a share of the travel.
const INSIDE: f64 = 1e-9;
/// It tends to a value where it is this close to it there: the step inside moves it, and so does what rounding leaves.
const TENDS: f64 = 1e-4;

/// Whether a formula comes to a value just inside the ends at which controls stand.
fn tends_to(value: &Expr, circuit: &Circuit, positions: &[Position], hertz: f64, wanted: Complex64) -> bool {
    let inside = |p: &Position| match p {
        Position::Travel(x) => Position::Travel(x.clamp(INSIDE, 1.0 - INSIDE)),
        step => *step,
    };
    let moved: Vec<Position> = positions.iter().map(inside).collect();
    let scope = Standing { circuit, positions: &moved };
    worked_out(value, &scope, hertz).is_ok_and(|z| (z - wanted).norm() <= TENDS * wanted.norm().max(INSIDE))
}

/// What a formula comes to at a frequency.
pub(crate) fn worked_out(value: &Expr, scope: &Standing, hertz: f64) -> Result<Complex64, String> {
    let s = Complex64::new(0.0, std::f64::consts::TAU * hertz);
    match expr::evaluate(value, scope, Some(s)) {
        Ok(term) => Ok(term.value),
        Err(Failure::Here(fault)) => Err(fault.message),
        Err(Failure::Elsewhere(why)) => Err(why.clause),
        Err(Failure::Unreadable) => Err("it cannot be read".into()),
    }
}
