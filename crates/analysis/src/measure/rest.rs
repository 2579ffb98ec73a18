//! The circuit at rest: capacitors open, inductors short, rails at work, signal sources quiet.
//!
//! The equations are those at `s = 0` with a structure of their own, since what acts on what is another matter without the
//! capacitors. Where they have no unique answer they are mended as [`crate::soundness`] mends those at all frequencies, and
//! whatever hangs on the mended place is unknown with its name.

use std::sync::Arc;

use circuit::{Circuit, ControlId, ControlKind, Given, Measure, NodeId, Point, Quantity, Query};
use num_complex::Complex64;
use pencil::{
    At, Builder, Column, Domain, Excitation, Excited, Functional, Injection, Lane, Order, Parameter, Pencil, Solver,
    Structure, Value, generic_rank,
};

use super::drawn::Drawn;
use super::{Bench, Whole};
use crate::network::{Network, Quality, Shape};
use crate::positions::{Hands, SOUGHT, Stand};
use crate::reading::Place;
use crate::soundness::{Flaw, Open, Pairing, Sound, and, cut_off, nodes_of, open_contacts, pairs, resting};
use crate::values::{number, typical};

/// More undetermined places than this are not mended.
const MOST: usize = 512;

/// The equations at rest, ordered.
#[derive(Debug)]
pub(crate) struct Rest {
    pencil: Pencil,
    structure: Structure,
    order: Order,
    /// Unknowns that nothing determines, each with a clause.
    mended: Vec<(u32, String)>,
    /// What supplies contradict at rest.
    fights: Vec<Fight>,
    /// What is undetermined only as the contacts stand.
    told: Vec<Flaw>,
}

/// Equations that say something twice, which the voltages of supplies may make a contradiction: an inductor from a rail to `gnd` holds that at
/// 0 V at rest. The mended equations let one of them go, and which one would win is not known.
#[derive(Debug)]
struct Fight {
    /// The nodes of the supplies' rails among them.
    rails: Vec<NodeId>,
    /// Nothing but branches stands in them, so that equal voltages agree.
    plain: bool,
    /// The unknowns that they have a say in.
    tainted: Vec<bool>,
    /// What to say, a clause.
    clause: String,
}

impl Fight {
    /// Whether the rails' voltages contradict one another.
    fn fought(&self, volts: impl Fn(NodeId) -> Result<f64, String>) -> Result<bool, String> {
        let all: Vec<f64> = self.rails.iter().map(|rail| volts(*rail)).collect::<Result<_, _>>()?;
        Ok(match all[..] {
            [] => false,
            [one] => one != 0.0,
            [first, ..] => !self.plain || all.iter().any(|v| *v != first),
        })
    }
}

/// The equations at rest, or why there are none.
pub(crate) type Made = Result<Arc<Rest>, String>;

impl Rest {
    /// The equations of a network at rest. Parameters of contacts that are 0 at a position are left out, so that what an open
    /// switch cuts off is found and named like any other place that nothing determines.
    pub fn of(network: &Network, sound: &Sound, zero: &[Parameter]) -> Result<Rest, String> {
        let whole = sound.pencil.without(zero);
        let open = open_contacts(network, zero);
        let cut = cut_off(network, &sound.flaws, &open);
        let mut told: Vec<Flaw> = Vec::new();
        let (mut replaced, mut mended, mut twice) = (Vec::new(), Vec::new(), Vec::new());
        while mended.len() <= MOST {
            let pencil = still(&whole, &replaced);
            let Err(deficiency) = generic_rank(&pencil, At::AnyFrequency, &[]) else {
                let structure = Structure::of(&pencil).map_err(|_| "at rest the circuit has no unique state")?;
                let order = Order::compile(&pencil, &structure, &typical(network));
                let fights = twice.into_iter().filter_map(|(rows, clause): (Vec<u32>, String)| {
                    let branch = |row: &u32| network.rails.iter().find(|r| r.branch == Some(*row));
                    let rails: Vec<NodeId> = rows.iter().filter_map(branch).map(|r| r.plus).collect();
                    let plain = rows.iter().all(|row| *row as usize + 1 >= network.nodes.len());
                    let tainted = structure.influenced_by(Excited { equations: &rows, givens: &[] });
                    (!rails.is_empty()).then_some(Fight { rails, plain, tainted, clause })
                });
                let fights = fights.collect();
                return Ok(Rest { pencil, structure, order, mended, fights, told });
            };
            let pairs = pairs(network, &deficiency);
            if pairs.is_empty() {
                break;
            }
            for found in pairs {
                let clause = clause(network, sound, &found, &open, &cut, &mut told);
                twice.push((found.rows.to_vec(), clause.clone()));
                mended.push((found.column, clause));
                replaced.push((found.row, found.column));
            }
        }
        Err("at rest too much of the circuit is undetermined".into())
    }
}

/// The static stamps alone, with some equations replaced by "this unknown is 0".
fn still(pencil: &Pencil, replaced: &[(u32, u32)]) -> Pencil {
    let mut builder = Builder::new(pencil.unknowns(), pencil.givens());
    for _ in 0..pencil.parameters() {
        builder.parameter();
    }
    for s in pencil.stamps().iter().filter(|s| s.domain == Domain::Static) {
        let rows: Vec<_> = s.rows.iter().copied().filter(|(r, _)| !replaced.iter().any(|x| x.0 == *r)).collect();
        builder.stamp(s.value, Domain::Static, &rows, &s.columns);
    }
    for &(row, column) in replaced {
        builder.stamp(Value::Constant(1.0), Domain::Static, &[(row, 1.0)], &[(Column::Unknown(column), 1.0)]);
    }
    builder.finish()
}

/// What is undetermined at rest, as a clause behind "unknown: "; what is so only as the contacts stand is added to what is `told`.
fn clause(
    network: &Network,
    sound: &Sound,
    found: &Pairing,
    open: &[Open],
    cut: &[Flaw],
    told: &mut Vec<Flaw>,
) -> String {
    let (rows, columns) = (found.rows, found.columns);
    let node = |n: NodeId| Network::row(n).is_some_and(|r| columns.contains(&r));
    // An amplifier speaks for its output, or for an input that nothing ties down.
    let speaks = |f: &&crate::soundness::Flaw| match (f.node, f.part) {
        (Some(n), _) => node(n),
        (None, Some(p)) => match network.pieces[p.at()].shape {
            Shape::Amplifier { out, .. } => {
                node(out) && network.pieces[p.at()].branch.is_some_and(|b| rows.contains(&b))
            }
            _ => network.pieces[p.at()].branch.is_some_and(|b| columns.contains(&b)),
        },
        (None, None) => false,
    };
    if let Some(flaw) = sound.flaws.iter().filter(|f| !f.grave).find(speaks) {
        return flaw.clause.clone();
    }
    let here = cut.iter().find(|f| f.node.is_some_and(node)).cloned();
    if let Some(flaw) = here.or_else(|| resting(network, rows, columns, open)) {
        let clause = flaw.clause.clone();
        if !told.contains(&flaw) {
            told.push(flaw);
        }
        return clause;
    }
    let nodes: Vec<String> =
        nodes_of(network, columns).iter().take(4).map(|n| network.nodes[n.at()].to_string()).collect();
    if nodes.is_empty() {
        let names: Vec<String> = columns.iter().take(4).map(|u| network.unknown_name(*u).to_string()).collect();
        format!("nothing tells {} at rest", and(&names))
    } else {
        format!("nothing sets a direct voltage at {}", and(&nodes))
    }
}

/// The circuit at rest at one position of the controls, as far as some unknowns need it.
pub(super) struct Still {
    rest: Arc<Rest>,
    solver: Solver,
    values: Vec<f64>,
    rails: Excitation,
    needed: Vec<bool>,
    /// What amplifiers draw from nodes that no supply holds.
    pub drawn: Drawn,
}

impl Bench<'_> {
    /// The circuit at rest, for these unknowns.
    ///
    /// # Errors
    /// Names what nothing determines, a part whose value is missing, or a rail whose voltage is.
    pub(super) fn still(&self, stand: &Stand, unknowns: &[u32]) -> Result<Still, String> {
        let rest = self.rest(stand)?;
        let (needed, drawing) = self.drawing(&rest.structure, unknowns);
        if let Some((_, why)) = rest.mended.iter().find(|m| needed[m.0 as usize]) {
            return Err(why.clone());
        }
        for fight in &rest.fights {
            if needed.iter().zip(&fight.tainted).any(|(a, b)| *a && *b) && fight.fought(|rail| self.rail(rail))? {
                return Err(fight.clause.clone());
            }
        }
        if let Some(why) = self
            .whole
            .sound
            .mended
            .iter()
            .zip(&self.whole.sound.replaced)
            .find_map(|(m, r)| needed[r.1 as usize].then(|| self.whole.sound.flaws[m.1].clause.clone()))
        {
            return Err(why);
        }
        let values = self.values_in(stand, &rest.pencil, &rest.structure, &needed)?;
        let mut rails = Vec::new();
        for (rail, branch) in self.whole.network.rails.iter().filter_map(|r| Some((r, r.branch?))) {
            if needed[rest.structure.unknown_of(branch) as usize] {
                rails.push((branch, self.rail(rail.plus)?));
            }
        }
        let solver = Solver::new(&rest.order);
        let rails = self.excitation(&rails);
        let mut still = Still { rest, solver, values, rails, needed, drawn: Drawn::default() };
        if !drawing.is_empty() {
            self.draw(&mut still, drawing)?;
        }
        Ok(still)
    }

    /// The equations at rest with the contacts as they stand.
    fn rest(&self, stand: &Stand) -> Made {
        let contact = |q: &Quality| matches!(q, Quality::Closed(_) | Quality::Open(_));
        let all = self.whole.network.parameters.iter().enumerate().filter(|(_, (_, q))| contact(q));
        let zero: Vec<Parameter> = all
            .filter(|(_, (part, q))| number(&self.circuit.parts[part.at()], *q).at(&stand.positions) == 0.0)
            .map(|(i, _)| Parameter(i as u32))
            .collect();
        let mut kept = self.whole.rest.lock().map_err(|_| "the circuit at rest was not worked out".to_string())?;
        let made = || Rest::of(&self.whole.network, &self.whole.sound, &zero).map(Arc::new);
        kept.entry(zero.clone()).or_insert_with(made).clone()
    }

    /// What is undetermined at rest only as the contacts stand.
    fn cut(&self, stand: &Stand) -> Vec<Flaw> {
        self.rest(stand).map_or_else(|_| Vec::new(), |rest| rest.told.clone())
    }

    /// The voltage that a rail is given.
    fn rail(&self, node: NodeId) -> Result<f64, String> {
        let found = self.circuit.supplies.iter().flat_map(|s| &s.rails).find(|r| r.0 == node);
        match found {
            Some((_, Given::Number(x))) => Ok(*x),
            Some((_, Given::Unknown(why))) => Err(why.to_string()),
            None => Err(format!("{} has no voltage", self.circuit.node_name(node))),
        }
    }
}

/// What has no one answer at rest only where contacts stand open: each flaw with the first position at which it is so, the resting one first.
/// `pulse` is called now and then: it may unwind.
pub fn cut_at_rest(whole: &Whole, circuit: &Arc<Circuit>, pulse: &dyn Fn()) -> Vec<Flaw> {
    let hands = Hands::of(circuit);
    let switch = |c: &ControlId| matches!(circuit.controls[c.at()].kind, ControlKind::Steps { .. });
    let on: Vec<ControlId> = (0..circuit.controls.len() as u32).map(ControlId).filter(switch).collect();
    if on.is_empty() || whole.sound.fault().is_some() {
        return Vec::new();
    }
    let query = Query::of(Quantity::Measure(Measure::Dc(Point { name: "".into(), terms: Vec::new() })));
    let bench = Bench { whole, circuit, query: &query, place: Place::At(circuit.reference), pulse };
    let pieces = &whole.network.pieces;
    let switched = |name: &str| pieces.iter().any(|p| matches!(p.shape, Shape::Switch(_)) && *p.name == *name);
    let mut found: Vec<Flaw> = Vec::new();
    let mut stands = vec![hands.rest()];
    stands.extend(hands.examined(&on, SOUGHT));
    for stand in stands.iter().filter(|s| s.unknown.is_none()).take(SOUGHT) {
        pulse();
        for flaw in bench.cut(stand) {
            // One wording of a fault at one part is enough.
            if flaw.names.iter().any(|n| switched(n))
                && !found.iter().any(|f| (f.id, f.part, f.node) == (flaw.id, flaw.part, flaw.node))
            {
                found.push(flaw);
            }
        }
    }
    found
}

impl Still {
    /// Sums of unknowns at rest.
    pub fn solve(&self, wanted: &[Functional]) -> Result<Vec<f64>, String> {
        let lane = Lane { s: Complex64::new(0.0, 0.0), values: &self.values };
        let all = self.solver.solve(&[lane], &self.rails, wanted);
        all.into_iter().map(|x| x.map(|z| z.re).map_err(|why| format!("at rest: {why}"))).collect()
    }

    /// What a source of 1 in each injection does to a sum of unknowns at rest, by way of what amplifiers draw as well.
    pub fn adjoint(&self, wanted: &Functional, injections: &[Injection]) -> Result<Vec<f64>, String> {
        let lane = Lane { s: Complex64::new(0.0, 0.0), values: &self.values };
        let by_itself = |law: Option<u32>, injections: &[Injection]| -> Result<Vec<f64>, String> {
            let own = law.map(|law| Functional { terms: vec![(Column::Unknown(law), 1.0)] });
            let all = self.solver.adjoint(&[lane], own.as_ref().unwrap_or(wanted), injections);
            all.into_iter().map(|x| x.map(|z| z.re).map_err(|why| format!("at rest: {why}"))).collect()
        };
        let mut all = by_itself(None, injections)?;
        if !self.drawn.is_empty() {
            let more = self.drawn.by_way(by_itself, injections)?;
            all.iter_mut().zip(more).for_each(|(x, y)| *x += y);
        }
        Ok(all)
    }

    /// Lets currents flow into nodes, each by its equation.
    pub fn push(&mut self, currents: impl Iterator<Item = (u32, f64)>) {
        for (row, x) in currents {
            let all = &mut self.rails.equations;
            match all.iter_mut().find(|e| e.0 == row) {
                Some(entry) => entry.1 += x,
                None => all.push((row, Complex64::new(x, 0.0))),
            }
        }
    }

    /// Whether an equation has a say in what is asked.
    pub fn matters(&self, equation: u32) -> bool {
        self.needed[self.rest.structure.unknown_of(equation) as usize]
    }
}
