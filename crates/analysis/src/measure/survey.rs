//! What stands at every node at once, at rest and per unit of each source: the figures that the reviewer's rules hold against
//! their limits. The equations are those of the readings.

use std::f64::consts::TAU;
use std::sync::Arc;

use circuit::{Circuit, GROUND, Measure, Name, NodeId, PartId, Point, Position, Quantity, Query, SourceId};
use num_complex::Complex64;
use pencil::{Excitation, Functional, Lane};

use super::{Bench, Whole, numbers};
use crate::network::Network;
use crate::positions::Stand;
use crate::reading::Place;

/// Where a circuit's nodes are asked one by one because some of them rest at nothing, this many are.
const ONE_BY_ONE: usize = 400;

/// A circuit at one position of its controls.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// The position's name; empty at rest.
    pub name: Name,
    /// By control.
    pub positions: Vec<Position>,
    /// Direct volts by node; none where nothing sets them.
    pub rest: Vec<Option<f64>>,
    /// Direct amperes out of an amplifier's output, by the order of [`amplifiers`]; none where they are not known.
    pub flows: Vec<Option<f64>>,
    /// By source, then by the frequencies asked for.
    pub sources: Vec<Vec<Moved>>,
}

/// What one volt or ampere of a source does at one frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// Volts by node.
    pub nodes: Vec<Complex64>,
    /// Amperes out of an amplifier's output, by the order of [`amplifiers`].
    pub currents: Vec<Complex64>,
}

/// The amplifiers that are fitted, in the order of the parts.
pub fn amplifiers(whole: &Whole) -> Vec<PartId> {
    let all = whole.network.pieces.iter().enumerate();
    all.filter(|(_, p)| matches!(p.shape, crate::network::Shape::Amplifier { .. }))
        .map(|(i, _)| PartId(i as u32))
        .collect()
}

/// Looks at a circuit at these positions and frequencies (in hertz). `pulse` is called now and then: it may unwind.
///
/// # Errors
/// Names what keeps the whole of it from being known.
pub fn survey(
    whole: &Whole,
    circuit: &Arc<Circuit>,
    stands: &[Stand],
    hertz: &[f64],
    pulse: &dyn Fn(),
) -> Result<Vec<View>, String> {
    let query = nothing();
    let bench = bench(whole, circuit, &query, pulse);
    let wanted = wanted(&bench);
    let excitations: Vec<Excitation> =
        (0..circuit.sources.len()).map(|i| bench.excitation(&whole.network.excitation(SourceId(i as u32)))).collect();
    let mut views = Vec::new();
    for stand in stands {
        pulse();
        if let Some(why) = &stand.unknown {
            return Err(why.to_string());
        }
        let values = values(&bench, stand)?;
        let lanes: Vec<Lane> =
            hertz.iter().map(|f| Lane { s: Complex64::new(0.0, TAU * f), values: &values }).collect();
        let mut sources = Vec::new();
        for excitation in &excitations {
            let all = bench.solver().solve(&lanes, excitation, &wanted);
            let all: Result<Vec<Complex64>, String> =
                all.into_iter().map(|x| x.map_err(|why| whole.reason(&why))).collect();
            let moved = |row: &[Complex64]| Moved {
                nodes: row[..circuit.nodes.len()].to_vec(),
                currents: row[circuit.nodes.len()..].to_vec(),
            };
            sources.push(all?.chunks(wanted.len()).map(moved).collect());
        }
        let (rest, flows) = rest(&bench, stand);
        views.push(View { name: stand.name.clone(), positions: stand.positions.clone(), rest, flows, sources });
    }
    Ok(views)
}

/// What one volt of ripple on a rail does to every node at a frequency.
///
/// # Errors
/// Names what keeps it from being known.
pub fn ripple(
    whole: &Whole,
    circuit: &Arc<Circuit>,
    rail: NodeId,
    stand: &Stand,
    hertz: f64,
) -> Result<Vec<Complex64>, String> {
    let query = nothing();
    let bench = bench(whole, circuit, &query, &|| {});
    let held = whole.network.rails.iter().find(|r| r.plus == rail && rail != GROUND);
    let branch = held.and_then(|r| r.branch).ok_or("it is no rail")?;
    let drive = bench.excitation(&[(branch, 1.0)]);
    let nodes: Vec<Functional> = (0..circuit.nodes.len()).map(|n| bench.node(NodeId(n as u32))).collect();
    Ok(bench.solve(&values(&bench, stand)?, &[hertz], &drive, &nodes)?.remove(0))
}

/// A question whose own words do not matter: everything is looked at.
fn nothing() -> Query {
    let point = Point { name: "".into(), terms: Vec::new() };
    Query::of(Quantity::Measure(Measure::Level(point)))
}

fn bench<'a>(whole: &'a Whole, circuit: &'a Arc<Circuit>, query: &'a Query, pulse: &'a dyn Fn()) -> Bench<'a> {
    Bench { whole, circuit, query, place: Place::At(circuit.reference), pulse }
}

/// The written sources that a level at a point is made of, by name: several of them add up as powers, and what they make is no sine.
pub fn makers(whole: &Whole, circuit: &Arc<Circuit>, query: &Query, point: &Point) -> Vec<Name> {
    let bench = bench(whole, circuit, query, &|| {});
    let rows: Vec<u32> = point.terms.iter().filter_map(|(_, n)| Network::row(*n)).collect();
    let all = super::stress::reaching(&bench, &rows).unwrap_or_default();
    all.into_iter().filter(|(_, level)| *level > 0.0).map(|(i, _)| circuit.sources[i].name.clone()).collect()
}

/// Every node's voltage, then every amplifier's output current.
fn wanted(bench: &Bench) -> Vec<Functional> {
    let nodes = (0..bench.circuit.nodes.len()).map(|n| bench.node(NodeId(n as u32)));
    let branch = |part: PartId| bench.whole.network.pieces[part.at()].branch;
    let currents = amplifiers(bench.whole).into_iter().filter_map(branch).map(|b| bench.functional(&[(b, 1.0)]));
    nodes.chain(currents).collect()
}

fn values(bench: &Bench, stand: &Stand) -> Result<Vec<f64>, String> {
    let sound = &bench.whole.sound;
    // An output that gives way leaves an answer everywhere.
    for clash in sound.clashes.iter().filter(|c| !c.soft) {
        if let Some(why) = clash.watched(&bench.whole.network, bench.circuit).at(&stand.positions) {
            return Err(why.to_string());
        }
    }
    for balance in &sound.balances {
        if let Some(latched) = balance.weighed(&bench.whole.network, bench.circuit).at(&stand.positions) {
            return Err(latched.clause.to_string());
        }
    }
    let all = vec![true; sound.structure.size()];
    numbers(bench.whole, bench.circuit, stand, &sound.pencil, &sound.structure, &all)
}

/// Direct volts by node, and direct amperes by amplifier.
fn rest(bench: &Bench, stand: &Stand) -> (Vec<Option<f64>>, Vec<Option<f64>>) {
    let nodes: Vec<NodeId> = (0..bench.circuit.nodes.len() as u32).map(NodeId).collect();
    let outputs: Vec<Option<u32>> =
        amplifiers(bench.whole).iter().map(|a| bench.whole.network.pieces[a.at()].branch).collect();
    let rows: Vec<u32> =
        nodes.iter().filter_map(|n| Network::row(*n)).chain(outputs.iter().flatten().copied()).collect();
    let current = |branch: &u32| bench.functional(&[(*branch, 1.0)]);
    let wanted = || nodes.iter().map(|n| bench.node(*n)).chain(outputs.iter().flatten().map(current));
    let together = bench.still(stand, &rows).and_then(|still| still.solve(&wanted().collect::<Vec<_>>()));
    if let Ok(all) = together {
        let (volts, amperes) = all.split_at(nodes.len());
        let mut amperes = amperes.iter().copied();
        let flows = outputs.iter().map(|o| o.and_then(|_| amperes.next())).collect();
        return (volts.iter().copied().map(Some).collect(), flows);
    }
    let few = nodes.len() <= ONE_BY_ONE;
    let one = |row: u32, wanted: Functional| {
        bench.still(stand, &[row]).and_then(|still| still.solve(&[wanted])).ok().map(|x| x[0])
    };
    let volts = nodes.iter().map(|n| match Network::row(*n) {
        None => Some(0.0),
        Some(row) => few.then(|| one(row, bench.node(*n))).flatten(),
    });
    let flows = outputs.iter().map(|o| o.filter(|_| few).and_then(|b| one(b, current(&b))));
    (volts.collect(), flows.collect())
}

/// What an amplifier's offsets and bias currents, and those of all before it, may add up to at a node in volts, however far that lies
/// beyond what its rails allow. `None` where it is not known.
pub fn drift(whole: &Whole, circuit: &Arc<Circuit>, node: NodeId, stand: &Stand) -> Option<f64> {
    let query = nothing();
    super::dc::drift(&bench(whole, circuit, &query, &|| {}), stand, &Point::node(circuit, node)).ok()
}

/// A Q from which on nothing that is built rings: what has it is drawn without losses, and how high it gets there is no figure.
const LOSSLESS: f64 = 1e7;

/// The frequencies in a band, in hertz, at which a circuit rings: of its pairs of poles with a Q of 1 and more, the sharpest first. Where it has
/// no losses nothing bounds what stands there, and that place is left out.
pub fn resonances(whole: &Whole, circuit: &Arc<Circuit>, stand: &Stand, low: f64, high: f64) -> Vec<f64> {
    let query = nothing();
    let bench = bench(whole, circuit, &query, &|| {});
    let Ok(values) = values(&bench, stand) else { return Vec::new() };
    let poles = bench.poles(&values);
    let q = |pole: &Complex64| pole.norm() / (2.0 * pole.re.abs());
    let mut sharp: Vec<Complex64> =
        poles.into_iter().filter(|p| p.im > 0.0 && q(p) >= 1.0 && q(p) < LOSSLESS).collect();
    sharp.sort_by(|a, b| q(b).total_cmp(&q(a)));
    sharp.iter().map(|p| p.norm() / TAU).filter(|f| *f > low && *f < high).collect()
}
