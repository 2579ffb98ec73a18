//! What a question needs of the equations: who drives, which part of them matters, in which order it is eliminated.
//!
//! A plan hangs on topology and names alone. It is made once and kept while values change.

use circuit::Name;
use std::collections::BTreeSet;
use std::sync::Arc;

use circuit::{ControlId, GROUND, NodeId, PartId, Point, Quantity, Query, SourceId, StageId};
use num_complex::Complex64;
use pencil::{Column, Excitation, Excited, Functional, Order, Pencil, Restricted, Solver, Structure, behind, restrict};

use crate::carried::carried_without;
use crate::clash::{Clash, clashes, grounded};
use crate::latching::Balance;
use crate::network::{Network, Piece, Quality, Shape, Variant};
use crate::soundness::{Sound, alike};
use crate::values::typical_of;

/// The part of the equations that a question needs, ordered.
#[derive(Debug)]
pub struct Local {
    /// Solves it.
    pub solver: Solver,
    /// What drives it.
    pub excitation: Excitation,
    /// What is wanted of the solution.
    pub wanted: Vec<Functional>,
    /// The parameters in it.
    pub parameters: Vec<u32>,
    /// The controls that move them, in the circuit's order.
    pub controls: Vec<ControlId>,
    /// The amplifiers whose law stands in it.
    pub amplifiers: Vec<PartId>,
    /// What each unknown is called: a node, or the current of a part.
    pub names: Vec<Name>,
    /// The number of all parameters, which is the length of a lane's values.
    pub count: usize,
    /// Where its response may be sharp, as far as that was asked for.
    pub(crate) sharp: crate::landmarks::Kept,
    /// What would put two voltages on a node that it hangs on, at some position of controls that need not stand in the equations.
    pub clashes: Vec<Arc<Clash>>,
    /// The loops that it hangs on in the circuit as it is drawn, which may latch at some values.
    pub balances: Vec<Arc<Balance>>,
}

/// A plan for a gain: V(B)/V(A).
#[derive(Debug)]
pub enum Gain {
    /// It cannot be had: a clause.
    Unknown(String),
    /// A and B are one place.
    One,
    /// By this way.
    Way {
        /// The equations; wanted are V(A), then V(B).
        local: Box<Local>,
        /// Who drives, in words.
        drive: String,
        /// The same equations driven by each of several sources, which must give one ratio.
        others: Vec<(Name, Excitation)>,
    },
}

/// A plan for an impedance: a voltage over a current.
#[derive(Debug)]
pub enum Impedance {
    /// It cannot be had: a clause.
    Unknown(String),
    /// By this way.
    Way {
        /// The equations; wanted is the voltage, then one functional a contribution.
        local: Box<Local>,
        /// What the current is made of; empty where 1 A is injected and all of it counts.
        current: Vec<(f64, Factor)>,
        /// How it is taken, in words.
        how: String,
    },
}

/// What turns a functional into a current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Factor {
    /// It is one.
    One,
    /// Divided by this resistance.
    Over(u32),
    /// Times s times this capacitance.
    Times(u32),
}

impl Factor {
    /// The parameter that it takes.
    pub fn parameter(self) -> Option<u32> {
        match self {
            Factor::One => None,
            Factor::Over(p) | Factor::Times(p) => Some(p),
        }
    }
}

/// A plan for any quantity.
#[derive(Debug)]
pub enum Plan {
    /// Gains, phases and corners.
    Gain(Gain),
    /// Impedances.
    Impedance(Impedance),
    /// Whatever takes the circuit as a whole: see [`crate::measure`].
    Measure,
}

impl Plan {
    /// The equations, if there are any.
    pub fn local(&self) -> Option<&Local> {
        match self {
            Plan::Gain(Gain::Way { local, .. }) | Plan::Impedance(Impedance::Way { local, .. }) => Some(local),
            _ => None,
        }
    }
}

/// Plans a question.
pub fn plan(network: &Network, sound: &Sound, query: &Query) -> Plan {
    let planner = Planner { network, sound };
    match &query.quantity {
        Quantity::Transimpedance(a, b) => Plan::Impedance(planner.transimpedance(a, b, query.from)),
        Quantity::Phase(a, b) | Quantity::LowCorner(a, b) | Quantity::HighCorner(a, b)
            if network.own_current(a).is_some() =>
        {
            Plan::Impedance(planner.transimpedance(a, b, query.from))
        }
        Quantity::Gain(a, b) | Quantity::Phase(a, b) | Quantity::LowCorner(a, b) | Quantity::HighCorner(a, b) => {
            Plan::Gain(planner.gain(a, b, query.from))
        }
        Quantity::Impedance(p) => Plan::Impedance(planner.impedance(p)),
        Quantity::InputImpedance(stage, p) | Quantity::OutputImpedance(stage, p) => {
            Plan::Impedance(planner.port_impedance(*stage, p))
        }
        Quantity::Measure(_) => Plan::Measure,
    }
}

struct Planner<'a> {
    network: &'a Network,
    sound: &'a Sound,
}

/// A part of a current: its weight, what turns the functional into a current, and the functional.
type Contribution = (f64, Factor, Vec<(u32, f64)>);

/// Unknowns of a point's nodes with their sign.
fn columns(point: &Point) -> Vec<(u32, f64)> {
    point.terms.iter().filter_map(|(sign, node)| Some((Network::row(*node)?, f64::from(*sign)))).collect()
}

/// The unknowns of what is wanted but for one.
fn past(wanted: &[Vec<(u32, f64)>], v: u32) -> Vec<u32> {
    let refs: Vec<&[(u32, f64)]> = wanted.iter().map(|w| &w[..]).collect();
    unknowns(&refs).into_iter().filter(|u| *u != v).collect()
}

fn unknowns(points: &[&[(u32, f64)]]) -> Vec<u32> {
    let set: BTreeSet<u32> = points.iter().flat_map(|p| p.iter().map(|t| t.0)).collect();
    set.into_iter().collect()
}

impl Planner<'_> {
    /// A local system of a part of the equations.
    fn local(
        &self,
        part: &Restricted,
        excitation: Excitation,
        wanted: &[Vec<(u32, f64)>],
        cut: Option<u32>,
    ) -> Result<Box<Local>, String> {
        if let Some(why) = self.sound.blemish(&part.equations) {
            return Err(why.to_string());
        }
        let functional = |terms: &Vec<(u32, f64)>| -> Functional {
            let terms = terms.iter().filter_map(|(u, c)| {
                let column =
                    if Some(*u) == cut { Column::Given(part.cut()) } else { Column::Unknown(part.unknown(*u)?) };
                Some((column, *c))
            });
            Functional { terms: terms.collect() }
        };
        let used: BTreeSet<u32> =
            part.pencil.stamps().iter().filter_map(|s| s.value.parameter()).map(|p| p.0).collect();
        let owners: BTreeSet<PartId> = used.iter().map(|p| self.network.parameters[*p as usize].0).collect();
        let controls: BTreeSet<ControlId> = owners.iter().filter_map(|p| self.network.pieces[p.at()].control).collect();
        let held: BTreeSet<u32> = part.equations.iter().copied().collect();
        let amplifiers =
            self.network.pieces.iter().enumerate().filter(|(_, p)| {
                matches!(p.shape, Shape::Amplifier { .. }) && p.branch.is_some_and(|b| held.contains(&b))
            });
        let structure = Structure::of(&part.pencil).map_err(|_| "the circuit has no unique answer here".to_string())?;
        let solver =
            Solver::new(&Order::compile(&part.pencil, &structure, &typical_of(self.network, used.iter().copied())));
        Ok(Box::new(Local {
            solver,
            excitation,
            wanted: wanted.iter().map(functional).collect(),
            parameters: used.into_iter().collect(),
            controls: controls.into_iter().collect(),
            amplifiers: amplifiers.map(|(i, _)| PartId(i as u32)).collect(),
            names: part.unknowns.iter().map(|u| self.network.unknown_name(*u)).collect(),
            count: self.network.parameters.len(),
            sharp: crate::landmarks::Kept::default(),
            clashes: Vec::new(),
            balances: Vec::new(),
        }))
    }

    /// The equations between an excitation of the whole and what is wanted.
    fn between(
        &self,
        pencil: &Pencil,
        structure: &Structure,
        excited: &[(u32, f64)],
        wanted: &[Vec<(u32, f64)>],
    ) -> Result<Box<Local>, String> {
        let rows: Vec<u32> = excited.iter().map(|e| e.0).collect();
        let refs: Vec<&[(u32, f64)]> = wanted.iter().map(|w| &w[..]).collect();
        let part = restrict(pencil, structure, Excited { equations: &rows, givens: &[] }, &unknowns(&refs));
        self.local(&part, drive_part(&part, excited), wanted, None)
    }

    /// The equations behind a node whose voltage is given as 1, if it is a cut.
    fn after(
        &self,
        v: u32,
        excited: &[u32],
        wanted: &[Vec<(u32, f64)>],
        not: &[u32],
    ) -> Option<Result<Box<Local>, String>> {
        let refs: Vec<&[(u32, f64)]> = wanted.iter().map(|w| &w[..]).collect();
        let part = behind(
            &self.sound.pencil,
            &self.sound.structure,
            v,
            Excited { equations: excited, givens: &[] },
            &unknowns(&refs),
            not,
            &[],
        )?;
        let mut givens = vec![Complex64::new(0.0, 0.0); part.pencil.givens() as usize];
        givens[part.cut() as usize] = Complex64::new(1.0, 0.0);
        let excitation = Excitation { equations: Vec::new(), givens };
        Some(self.local(&part, excitation, wanted, Some(v)))
    }

    fn gain(&self, a: &Point, b: &Point, from: Option<SourceId>) -> Gain {
        if a.terms == b.terms && !a.terms.is_empty() {
            return Gain::One;
        }
        let watched = self.gain_way(a, b, from).and_then(|mut gain| {
            if let Gain::Way { local, .. } = &mut gain {
                let needed = || self.sound.structure.influencing(&unknowns(&[&columns(a), &columns(b)]));
                self.watch(local, &self.sound.clashes, &self.sound.structure, needed)?;
                self.weigh(local, &[&columns(a), &columns(b)]);
            }
            Ok(gain)
        });
        match watched {
            Ok(gain) => gain,
            Err(why) => Gain::Unknown(why),
        }
    }

    fn gain_way(&self, a: &Point, b: &Point, from: Option<SourceId>) -> Result<Gain, String> {
        if a.terms.is_empty() {
            return Err("gnd has no voltage to compare with".into());
        }
        let (va, vb) = (columns(a), columns(b));
        let wanted = [va.clone(), vb.clone()];
        if let Some(gain) = self.ripple(a, b, from, &wanted) {
            return gain;
        }
        let feeds = &self.network.feeds;
        let own = a
            .ends()
            .and_then(|(p, n)| feeds.iter().position(|f| (f.plus, f.minus) == (p, n) || (f.plus, f.minus) == (n, p)));
        let all: Vec<SourceId> = (0..feeds.len() as u32).map(SourceId).collect();
        let reaching: Vec<SourceId> = match (own, from) {
            (Some(own), Some(from)) if from.at() != own => return Err(self.beside(a, from)),
            (Some(own), _) => vec![SourceId(own as u32)],
            (None, Some(from)) if self.reaches(from, &va) => vec![from],
            (None, Some(from)) => return Err(format!("{} does not reach {}", feeds[from.at()].name, a.name)),
            (None, None) => {
                let reaching: Vec<SourceId> = all.into_iter().filter(|s| self.reaches(*s, &va)).collect();
                if self.backwards(a, &reaching) { Vec::new() } else { reaching }
            }
        };
        let drive = match &reaching[..] {
            [] => format!("an ideal source stands at {}", a.name),
            [one] => self.alone(*one),
            many => format!(
                "whichever of {} drives",
                quantity::list(&many.iter().map(|s| &*feeds[s.at()].name).collect::<Vec<_>>(), "and")
            ),
        };
        let rows: Vec<u32> = reaching.iter().flat_map(|s| self.network.excitation(*s)).map(|e| e.0).collect();
        let from = || reaching.iter().flat_map(|s| [feeds[s.at()].plus, feeds[s.at()].minus]).collect();
        if !reaching.is_empty() && !self.connected(&rows, &vb) && !self.nothing(from, b) {
            return Err(self.apart(a, b));
        }
        // Where all that reaches B passes A, the ratio is a matter of what lies between: neither what stands in front of A
        // nor how strong it drives matters, and neither can its rounding or its underflow.
        if let [(v, 1.0)] = va[..] {
            let law: &[u32] = if reaching.is_empty() { &[v] } else { &[] };
            if reaching.is_empty() {
                self.free(a)?;
            }
            if let Some(local) = self.after(v, &rows, &wanted, law) {
                return Ok(Gain::Way { local: local?, drive, others: Vec::new() });
            }
        }
        match &reaching[..] {
            [] => self.floating(a, b, wanted, drive),
            [one] => {
                let local =
                    self.between(&self.sound.pencil, &self.sound.structure, &self.network.excitation(*one), &wanted)?;
                Ok(Gain::Way { local, drive, others: Vec::new() })
            }
            many => {
                let refs: Vec<&[(u32, f64)]> = wanted.iter().map(|w| &w[..]).collect();
                let part = restrict(
                    &self.sound.pencil,
                    &self.sound.structure,
                    Excited { equations: &rows, givens: &[] },
                    &unknowns(&refs),
                );
                let each =
                    many.iter().map(|s| (feeds[s.at()].name.clone(), drive_part(&part, &self.network.excitation(*s))));
                let others: Vec<_> = each.collect();
                let local = self.local(&part, others[0].1.clone(), &wanted, None)?;
                Ok(Gain::Way { local, drive, others })
            }
        }
    }

    /// The gain from a rail, if A is one: its supply's own ripple drives, and every source is quiet.
    fn ripple(
        &self,
        a: &Point,
        b: &Point,
        from: Option<SourceId>,
        wanted: &[Vec<(u32, f64)>; 2],
    ) -> Option<Result<Gain, String>> {
        let [(v, 1.0)] = wanted[0][..] else { return None };
        let rail = self.network.rails.iter().find(|r| Network::row(r.plus) == Some(v))?;
        let branch = rail.branch?;
        if let Some(from) = from {
            let name = &self.network.feeds[from.at()].name;
            return Some(Err(format!("{} is a rail, which {name} does not drive", a.name)));
        }
        if !self.connected(&[branch], &wanted[1]) && !self.nothing(|| vec![rail.plus], b) {
            return Some(Err(self.apart(a, b)));
        }
        let amplified = self.network.pieces.iter().any(|p| matches!(p.shape, Shape::Amplifier { .. }));
        let beside =
            if amplified { "; what amplifiers let through of their own supply is not in the circuit" } else { "" };
        let drive = format!("the ripple of {} drives, every source is quiet{beside}", a.name);
        let local = self
            .after(v, &[branch], wanted, &[])
            .unwrap_or_else(|| self.between(&self.sound.pencil, &self.sound.structure, &[(branch, 1.0)], wanted));
        Some(local.map(|local| Gain::Way { local, drive, others: Vec::new() }))
    }

    /// Whether A is a port that a supply feeds, as that of a divider behind a filter in the rail, to which sources come through the stages alone
    /// whose input it is. They drive those from behind, and what their outputs do to A is no gain from there.
    fn backwards(&self, a: &Point, reaching: &[SourceId]) -> bool {
        let ([(1, node)], false) = (&a.terms[..], self.network.rails.is_empty() || reaching.is_empty()) else {
            return false;
        };
        let into: Vec<StageId> = self.network.inputs.iter().filter(|i| i.1 == *node).map(|i| i.0).collect();
        if into.is_empty() || self.holder(*node).is_some() {
            return false;
        }
        let own = |p: &Piece| into.contains(&p.stage);
        let comes = |from: Vec<NodeId>| carried_without(self.network, from, &own)[node.at()];
        let feeds = reaching.iter().map(|s| &self.network.feeds[s.at()]);
        !comes(feeds.flat_map(|f| [f.plus, f.minus]).collect())
            && comes(self.network.rails.iter().map(|r| r.plus).collect())
    }

    /// Whether a source has a structural way to any of these unknowns.
    fn reaches(&self, source: SourceId, to: &[(u32, f64)]) -> bool {
        let rows: Vec<u32> = self.network.excitation(source).iter().map(|e| e.0).collect();
        let reached = self.sound.structure.influenced_by(Excited { equations: &rows, givens: &[] });
        to.iter().any(|(u, _)| reached[*u as usize])
    }

    /// V(B) over the current of the source whose own A is.
    fn transimpedance(&self, a: &Point, b: &Point, from: Option<SourceId>) -> Impedance {
        let Some((source, sign)) = self.network.own_current(a) else {
            let why = format!("no current stands at {}: `source {} 1 uA` would be one", a.name, a.name);
            return Impedance::Unknown(why);
        };
        if let Some(from) = from.filter(|f| *f != source) {
            return Impedance::Unknown(self.beside(a, from));
        }
        let feed = &self.network.feeds[source.at()];
        let excited: Vec<(u32, f64)> = self.network.excitation(source).iter().map(|(r, c)| (*r, sign * c)).collect();
        let rows: Vec<u32> = excited.iter().map(|e| e.0).collect();
        let wanted = columns(b);
        if !b.terms.is_empty() && !self.connected(&rows, &wanted) && !self.nothing(|| vec![feed.plus, feed.minus], b) {
            return Impedance::Unknown(self.apart(a, b));
        }
        match self.driven(a, &excited, &[wanted], Vec::new()) {
            Ok(local) => Impedance::Way { local, current: Vec::new(), how: self.alone(source) },
            Err(why) => Impedance::Unknown(why),
        }
    }

    /// Who drives where one source does, in words.
    fn alone(&self, source: SourceId) -> String {
        let feeds = &self.network.feeds;
        let others = if feeds.len() > 1 { ", the other sources are quiet" } else { "" };
        format!("{} drives{others}", feeds[source.at()].name)
    }

    /// Why a source cannot drive where another's own node is asked about.
    fn beside(&self, a: &Point, from: SourceId) -> String {
        let name = &self.network.feeds[from.at()].name;
        format!("{} is a source's own, so that source drives: {name} cannot at the same time", a.name)
    }

    /// Whether what drives A also reaches B.
    fn connected(&self, rows: &[u32], b: &[(u32, f64)]) -> bool {
        let reached = self.sound.structure.influenced_by(Excited { equations: rows, givens: &[] });
        b.iter().any(|(u, _)| reached[*u as usize])
    }

    /// Whether what arrives at B is exactly 0, though no equation leads there: links tie it to `gnd`, or parts lead to it and what they carry is
    /// taken up at the virtual earth of an amplifier.
    fn nothing(&self, from: impl Fn() -> Vec<NodeId>, b: &Point) -> bool {
        if b.terms.is_empty() {
            return false;
        }
        let mut carried = None;
        let mut arrives = |node: NodeId| {
            let carried = carried.get_or_insert_with(|| crate::carried::carried(self.network, from()));
            self.sound.fault().is_none() && carried[node.0 as usize]
        };
        b.terms.iter().all(|(_, node)| grounded(self.network, *node) || arrives(*node))
    }

    /// Of these clashes, keeps those that have a say in what is `needed`, with the controls that bring them about.
    ///
    /// # Errors
    /// One of them is there at every position: its clause.
    fn watch(
        &self,
        local: &mut Local,
        clashes: &[Arc<Clash>],
        structure: &Structure,
        needed: impl FnOnce() -> Vec<bool>,
    ) -> Result<(), String> {
        if clashes.is_empty() {
            return Ok(());
        }
        let needed = needed();
        local.clashes = clashes.iter().filter(|c| c.felt(structure, &needed)).cloned().collect();
        if let Some(always) = local.clashes.iter().find(|c| c.zero.is_empty()) {
            return Err(always.clause.to_string());
        }
        self.control(local);
        Ok(())
    }

    /// Keeps the loops in the balance that have a say in these points, with the controls that tip them. It is the circuit as it is drawn that has
    /// to stand: what a question lifts or adds is no part of it.
    fn weigh(&self, local: &mut Local, points: &[&[(u32, f64)]]) {
        if self.sound.balances.is_empty() {
            return;
        }
        let needed = self.sound.structure.influencing(&unknowns(points));
        local.balances = self.sound.balances.iter().filter(|b| b.felt(&needed)).cloned().collect();
        self.control(local);
    }

    /// The controls that move the parameters of a local system, or bring about what it does not survive.
    fn control(&self, local: &mut Local) {
        let moved = local.parameters.iter().chain(local.clashes.iter().flat_map(|c| &c.zero));
        let owners = moved.map(|p| self.network.parameters[*p as usize].0);
        let owners = owners.chain(local.balances.iter().flat_map(|b| b.parts(self.network)));
        let controls: BTreeSet<ControlId> = owners.filter_map(|p| self.network.pieces[p.at()].control).collect();
        local.controls = controls.into_iter().collect();
    }

    /// Why nothing of A arrives at B: in a circuit that is not sound, for what is wrong with it.
    fn apart(&self, a: &Point, b: &Point) -> String {
        self.sound.fault().map_or_else(|| format!("nothing leads from {} to {}", a.name, b.name), str::to_string)
    }

    /// A may be driven by a source of the reading's own only where nothing holds it.
    fn free(&self, a: &Point) -> Result<(), String> {
        for (_, node) in &a.terms {
            if let Some(holder) = self.holder(*node) {
                return Err(format!("{} is held by {holder}, and no source reaches it", a.name));
            }
        }
        Ok(())
    }

    /// What holds a node's voltage.
    fn holder(&self, node: NodeId) -> Option<&str> {
        if node == GROUND {
            return Some("gnd");
        }
        let rail = self.network.rails.iter().find(|r| r.plus == node).map(|_| "its supply");
        rail.or_else(|| {
            self.network
                .pieces
                .iter()
                .find(|p| matches!(p.shape, Shape::Amplifier { out, .. } if out == node))
                .map(|p| &*p.name)
        })
    }

    fn floating(&self, a: &Point, b: &Point, wanted: [Vec<(u32, f64)>; 2], drive: String) -> Result<Gain, String> {
        self.free(a)?;
        let ends = a
            .ends()
            .ok_or_else(|| format!("{} is a sum, which no single source can drive: name one with `from`", a.name))?;
        let (pencil, structure) = self.variant(Variant { sources: vec![ends], ..Variant::default() }, &a.name)?;
        let branch = pencil.unknowns() - 1;
        let reached = structure.influenced_by(Excited { equations: &[branch], givens: &[] });
        if !wanted[1].iter().any(|(u, _)| reached[*u as usize]) && !self.nothing(|| vec![ends.0, ends.1], b) {
            return Err(self.apart(a, b));
        }
        let local = self.between(&pencil, &structure, &[(branch, 1.0)], &wanted)?;
        Ok(Gain::Way { local, drive, others: Vec::new() })
    }

    fn variant(&self, mut variant: Variant, at: &str) -> Result<(Pencil, Structure), String> {
        variant.replaced = self.sound.replaced.clone();
        let pencil = self.network.variant(&variant);
        let unique = pencil::generic_rank(&pencil, pencil::At::AnyFrequency, &[]).is_ok();
        match Structure::of(&pencil) {
            Ok(structure) if unique => Ok((pencil, structure)),
            _ => Err(format!("with what drives {at} taken off, nothing sets its voltage")),
        }
    }

    /// 1 A into a node or through a pair; a source that stands there is taken off.
    fn impedance(&self, point: &Point) -> Impedance {
        let Some((p, n)) = point.ends() else {
            return Impedance::Unknown(format!("{} is a sum: an impedance is of a node or a pair", point.name));
        };
        let feeds = self.network.feeds.iter().filter(|f| (f.plus, f.minus) == (p, n) || (f.plus, f.minus) == (n, p));
        let lifted: Vec<u32> = feeds.filter_map(|f| f.branch).collect();
        let how = if lifted.is_empty() {
            format!("1 A into {}, every source quiet", point.name)
        } else {
            format!("1 A into {}, its own source taken off, every other source quiet", point.name)
        };
        match self.driven(point, &Network::injection(p, n), &[columns(point)], lifted) {
            Ok(local) => Impedance::Way { local, current: Vec::new(), how },
            Err(why) => Impedance::Unknown(why),
        }
    }

    /// The equations between a current into a point and what is wanted, with what holds the point lifted.
    fn driven(
        &self,
        point: &Point,
        excited: &[(u32, f64)],
        wanted: &[Vec<(u32, f64)>],
        lifted: Vec<u32>,
    ) -> Result<Box<Local>, String> {
        let refs: Vec<&[(u32, f64)]> = wanted.iter().map(|w| &w[..]).collect();
        let clashes = self.without(&lifted);
        let made = |pencil: &Pencil, structure: &Structure| {
            let mut local = self.between(pencil, structure, excited, wanted)?;
            self.watch(&mut local, &clashes, structure, || structure.influencing(&unknowns(&refs)))?;
            self.weigh(&mut local, &refs);
            Ok(local)
        };
        if lifted.is_empty() {
            return made(&self.sound.pencil, &self.sound.structure);
        }
        let (pencil, structure) = self.variant(Variant { lifted, ..Variant::default() }, &point.name)?;
        made(&pencil, &structure)
    }

    /// The clashes that are left where some branches are lifted.
    fn without(&self, lifted: &[u32]) -> Vec<Arc<Clash>> {
        // A loop that leads past a lifted branch is made of loops that hold it.
        if self.sound.clashes.iter().all(|c| c.laws.iter().all(|law| !lifted.contains(law))) {
            return self.sound.clashes.clone();
        }
        clashes(self.network, lifted).into_iter().map(|c| Arc::new(alike(c, &self.sound.flaws))).collect()
    }

    /// A port's voltage over the current into the stage's own part ends.
    fn port_impedance(&self, stage: StageId, point: &Point) -> Impedance {
        let Some((p, n)) = point.ends() else {
            return Impedance::Unknown(format!("{} is a sum: a port is a node or a pair", point.name));
        };
        let own = self.own_current(stage, p, n);
        if own.is_empty() {
            return Impedance::Unknown(format!("no part of this stage takes a current at {}", point.name));
        }
        let mut wanted = vec![columns(point)];
        wanted.extend(own.iter().map(|o| o.2.clone()));
        let current: Vec<(f64, Factor)> = own.iter().map(|o| (o.0, o.1)).collect();
        let lifted = self.neighbours(stage, p, n);
        let how = format!("the voltage at {} over the current into the stage's own parts", point.name);
        let made = (|| {
            if let (Some(v), GROUND) = (Network::row(p), n) {
                let mut not = lifted.clone();
                not.push(v);
                if let Some(local) = self.after(v, &[], &wanted, &not) {
                    let mut local = local?;
                    let structure = &self.sound.structure;
                    let needed = || structure.influencing_past(&past(&wanted, v), v);
                    self.watch(&mut local, &self.without(&lifted), structure, needed)?;
                    let refs: Vec<&[(u32, f64)]> = wanted.iter().map(|w| &w[..]).collect();
                    self.weigh(&mut local, &refs);
                    return Ok(local);
                }
            }
            self.driven(point, &Network::injection(p, n), &wanted, lifted)
        })();
        match made {
            Ok(mut local) => {
                // The current is reckoned with numbers that the equations behind a cut need not hold.
                let used = current.iter().filter_map(|(_, factor)| factor.parameter());
                self.also(&mut local, used);
                Impedance::Way { local, current, how }
            }
            Err(why) => Impedance::Unknown(why),
        }
    }

    /// Adds parameters, with the controls that move them, to what a local system needs.
    fn also(&self, local: &mut Local, parameters: impl Iterator<Item = u32>) {
        local.parameters.extend(parameters);
        local.parameters.sort_unstable();
        local.parameters.dedup();
        self.control(local);
    }

    /// Branches outside the stage that hold one of these nodes.
    fn neighbours(&self, stage: StageId, p: NodeId, n: NodeId) -> Vec<u32> {
        let at = |node: NodeId| node != GROUND && (node == p || node == n);
        let amplifiers = self
            .network
            .pieces
            .iter()
            .filter(|x| x.stage != stage && matches!(x.shape, Shape::Amplifier { out, .. } if at(out)));
        let held = self.network.feeds.iter().chain(&self.network.rails).filter(|f| at(f.plus) || at(f.minus));
        amplifiers.filter_map(|x| x.branch).chain(held.filter_map(|f| f.branch)).collect()
    }

    /// The current into the stage's own part ends at `p` (for a pair: half the difference of both legs'), as weights, factors
    /// and functionals.
    fn own_current(&self, stage: StageId, p: NodeId, n: NodeId) -> Vec<Contribution> {
        let half = if n == GROUND || p == GROUND { 1.0 } else { 0.5 };
        let weight = |node: NodeId| match node {
            GROUND => 0.0,
            x if x == p => half,
            x if x == n => -half,
            _ => 0.0,
        };
        let mut found = Vec::new();
        for (i, x) in self.network.pieces.iter().enumerate().filter(|(_, x)| x.stage == stage) {
            self.contributions(PartId(i as u32), x, &mut |[a, b], factor, functional| {
                let w = weight(a) - weight(b);
                if w != 0.0 {
                    found.push((w, factor, functional));
                }
            });
        }
        found
    }

    /// Every current of a part from its end `a` to its end `b`, as a factor and a functional.
    fn contributions(&self, id: PartId, x: &Piece, say: &mut impl FnMut([NodeId; 2], Factor, Vec<(u32, f64)>)) {
        // They stand in the order of the parts: a stage of thousands asks for each of its own.
        let all = &self.network.parameters;
        let first = all.partition_point(|p| p.0 < id);
        let own = all[first..].iter().take_while(|p| p.0 == id);
        let parameter = |q: Quality| own.clone().position(|p| p.1 == q).map(|p| (first + p) as u32);
        let branch = x.branch.unwrap_or(u32::MAX);
        match &x.shape {
            Shape::Absent(_) => {}
            Shape::Resistor([a, b]) => {
                if let Some(r) = parameter(Quality::Resistance) {
                    say([*a, *b], Factor::Over(r), Network::injection(*a, *b));
                }
            }
            Shape::Capacitor([a, b]) => {
                if let Some(c) = parameter(Quality::Capacitance) {
                    say([*a, *b], Factor::Times(c), Network::injection(*a, *b));
                }
            }
            Shape::Link(ends) | Shape::Inductor(ends) => say(*ends, Factor::One, vec![(branch, 1.0)]),
            Shape::Variable { ccw, wiper, cw } => {
                for (k, end) in [ccw, cw].into_iter().flatten().enumerate() {
                    say([*end, *wiper], Factor::One, vec![(branch + k as u32, 1.0)]);
                }
            }
            Shape::Switch(contacts) => {
                for (k, (_, ends)) in contacts.iter().enumerate() {
                    say(*ends, Factor::One, vec![(branch + k as u32, 1.0)]);
                }
            }
            Shape::Amplifier { plus, minus, out, .. } => {
                say([GROUND, *out], Factor::One, vec![(branch, 1.0)]);
                if let Some(c) = parameter(Quality::InputCapacitance) {
                    for input in [plus, minus] {
                        say([*input, GROUND], Factor::Times(c), Network::injection(*input, GROUND));
                    }
                }
                if let Some(c) = parameter(Quality::DifferentialCapacitance) {
                    say([*plus, *minus], Factor::Times(c), Network::injection(*plus, *minus));
                }
            }
        }
    }
}

/// The equations between ideal sources that stand at a pair, in place of whatever drives it, and a point: for the difference
/// (±½) and for the common mode (1 and 1). Wanted is the point's voltage.
///
/// # Errors
/// That nothing of either arrives, or what the circuit lacks.
pub(crate) fn pair_gains(
    network: &Network,
    sound: &Sound,
    hot: NodeId,
    cold: NodeId,
    to: &Point,
) -> Result<[Box<Local>; 2], String> {
    let planner = Planner { network, sound };
    let at = |n: NodeId| n == hot || n == cold;
    let amplifiers = network.pieces.iter().filter(|x| matches!(x.shape, Shape::Amplifier { out, .. } if at(out)));
    let held = network.feeds.iter().chain(&network.rails).filter(|f| at(f.plus) || at(f.minus));
    let lifted: Vec<u32> = amplifiers.filter_map(|x| x.branch).chain(held.filter_map(|f| f.branch)).collect();
    let sources = vec![(hot, GROUND), (cold, GROUND)];
    let (pencil, structure) = planner.variant(Variant { lifted, sources, ..Variant::default() }, "the pair")?;
    let last = pencil.unknowns();
    let wanted = [columns(to)];
    let one = |weights: [f64; 2]| {
        planner.between(&pencil, &structure, &[(last - 2, weights[0]), (last - 1, weights[1])], &wanted)
    };
    Ok([one([0.5, -0.5])?, one([1.0, 1.0])?])
}

/// An excitation of the whole in the numbers of a part.
fn drive_part(part: &Restricted, excited: &[(u32, f64)]) -> Excitation {
    let equations = excited.iter().filter_map(|(row, c)| Some((part.equation(*row)?, Complex64::new(*c, 0.0))));
    Excitation { equations: equations.collect(), givens: vec![Complex64::new(0.0, 0.0); part.pencil.givens() as usize] }
}
