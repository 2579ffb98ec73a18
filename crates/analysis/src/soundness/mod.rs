//! Does the circuit have one answer, whatever its values? If not: what is undetermined, which parts fight, and how the rest
//! of the circuit can still be known.

mod contacts;
mod outputs;

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use circuit::{GROUND, NodeId, PartId};
use pencil::{At, Column, Deficiency, Excited, Pencil, Structure, generic_rank};

pub(crate) use contacts::{Open, cut_off, open_contacts, resting};

use contacts::without_way;
use outputs::{open_loops, output_linked, outputs_tied, shorted, shorted_outputs, tied};

use crate::clash::{Clash, clashes};
use crate::latching::{Balance, balances, latching};
use crate::network::{Network, Shape, Variant};

/// So many rounds of mending are tried; a round mends all that has nothing to do with one another.
const ROUNDS: usize = 512;

/// A fault of the circuit as a drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flaw {
    /// A stable name.
    pub id: &'static str,
    /// It keeps readings from being known; otherwise it concerns DC only.
    pub grave: bool,
    /// What to say, whole sentences.
    pub message: String,
    /// The same as a clause behind "unknown: ".
    pub clause: String,
    /// The part at whose place it is said.
    pub part: Option<PartId>,
    /// The node at whose place it is said, where no part is.
    pub node: Option<NodeId>,
    /// All names in it.
    pub names: Vec<String>,
}

/// The rule of a node at which only parts stand that are not fitted.
const UNFITTED: &str = "only-unfitted";

impl Flaw {
    /// It cannot be meant. That nothing is fitted at a node may be: the board has room for it.
    pub fn is_error(&self) -> bool {
        self.grave && self.id != UNFITTED
    }

    /// Several hold the same node.
    pub fn is_fight(&self) -> bool {
        matches!(self.id, "held-twice" | "outputs-tied")
    }
}

/// A network with its structure, mended where it has no unique answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// The equations, mended.
    pub pencil: Pencil,
    /// Their structure.
    pub structure: Structure,
    /// Mended equations with the flaw that each stands for.
    pub mended: Vec<(u32, usize)>,
    /// What was found.
    pub flaws: Vec<Flaw>,
    /// The equations that were replaced, for variants.
    pub replaced: Vec<(u32, u32)>,
    /// Loops of branches without resistance that would hold two voltages at one node.
    pub clashes: Vec<Arc<Clash>>,
    /// Loops of ideal amplifiers that latch at some values.
    pub balances: Vec<Arc<Balance>>,
    /// Of each mended equation, the unknowns that it has a say in: none of them may be taken for 0 or for any other number.
    tainted: Vec<Vec<bool>>,
}

impl Sound {
    /// Checks a network. `None` where it cannot be mended, which no circuit is known to reach.
    pub fn of(network: &Network) -> Option<Sound> {
        let mut flaws = islands(network);
        let mut variant = Variant::default();
        let mut mended = Vec::new();
        // The voltages of a group that hangs in the air move together, and its currents add up to nothing: any one of them may be
        // taken for 0 in place of its own current law.
        for (i, row) in flaws.iter().enumerate().filter_map(|(i, f)| Some((i, Network::row(f.node?)?))) {
            mended.push((row, i));
            variant.replaced.push((row, row));
        }
        let mut pencil = if mended.is_empty() { network.pencil.clone() } else { network.variant(&variant) };
        for _ in 0..ROUNDS {
            let Err(deficiency) = generic_rank(&pencil, At::AnyFrequency, &[]) else {
                let structure = Structure::of(&pencil).ok()?;
                // Equations alone would let a part latch at the one voltage where it balances, which nothing holds it at, and outputs with a
                // resistance fight at the voltage where their currents do.
                let mut latched = latching(network, &structure, &flaws);
                latched.extend(tied(network, &flaws));
                if !latched.is_empty() {
                    for (law, column, flaw) in latched {
                        mended.push((law, flaws.len()));
                        variant.replaced.push((law, column));
                        flaws.push(flaw);
                    }
                    pencil = network.variant(&variant);
                    continue;
                }
                flaws.extend(at_rest(network, &pencil, &flaws));
                flaws.extend(open_loops(network, &structure, &flaws));
                let says =
                    |(row, _): &(u32, usize)| structure.influenced_by(Excited { equations: &[*row], givens: &[] });
                let tainted = mended.iter().map(says).collect();
                let clashes = clashes(network, &[]).into_iter().map(|c| Arc::new(alike(c, &flaws))).collect();
                let balances = balances(network, &pencil, &variant.replaced);
                let replaced = variant.replaced;
                return Some(Sound { pencil, structure, mended, flaws, replaced, clashes, balances, tainted });
            };
            let pairs = pairs(network, &deficiency);
            if pairs.is_empty() {
                return None;
            }
            for Pairing { rows, columns, row, column } in pairs {
                let flaw = match flaws.iter().position(|f| explains(f, columns)) {
                    Some(known) => known,
                    None => {
                        flaws.push(name(network, rows, columns));
                        flaws.len() - 1
                    }
                };
                mended.push((row, flaw));
                variant.replaced.push((row, column));
            }
            pencil = network.variant(&variant);
        }
        None
    }

    /// What keeps the circuit from having one answer, if anything does.
    pub fn fault(&self) -> Option<&str> {
        self.flaws.iter().find(|f| f.grave).map(|f| &*f.clause)
    }

    /// Who holds the same node, if any do. The mended circuit lets one of them go, so that no level or current of it may be shown: which one
    /// would win is not known.
    pub fn fight(&self) -> Option<&str> {
        self.flaws.iter().find(|f| f.is_fight()).map(|f| &*f.clause)
    }

    /// Why these unknowns are not known: a mended equation has a say in them.
    pub fn broken(&self, unknowns: &[u32]) -> Option<&str> {
        if self.mended.is_empty() {
            return None;
        }
        let needed = self.structure.influencing(unknowns);
        let of = |(_, column): &(u32, u32)| needed.get(*column as usize).copied().unwrap_or(false);
        let k = self.replaced.iter().position(of)?;
        Some(&self.flaws[self.mended[k].1].clause)
    }

    /// Why a part of the equations is not to be shown: it holds a mended equation, or an unknown that one has a say in. That
    /// nothing excites such an unknown does not make it 0.
    pub fn blemish(&self, equations: &[u32]) -> Option<&str> {
        let touches = |tainted: &[bool]| {
            self.pencil.stamps().iter().any(|s| {
                s.rows.iter().any(|(r, _)| equations.contains(r))
                    && s.columns.iter().any(|(c, _)| matches!(c, Column::Unknown(u) if tainted[*u as usize]))
            })
        };
        let of = |k: &usize| equations.contains(&self.mended[*k].0) || touches(&self.tainted[*k]);
        (0..self.mended.len()).find(of).map(|k| &*self.flaws[self.mended[k].1].clause)
    }
}

/// A clash that is there at every position is a flaw too, if the equations show it, and one wording is enough.
pub(crate) fn alike(clash: Clash, flaws: &[Flaw]) -> Clash {
    let part =
        |f: &Flaw| f.names.iter().any(|n| clash.names.contains(n)) && f.part.is_some_and(|p| clash.parts.contains(&p));
    let same = |f: &&Flaw| f.is_fight() && (part(f) || f.names.iter().all(|n| clash.names.contains(n)));
    match flaws.iter().find(same).filter(|_| clash.zero.is_empty()) {
        Some(flaw) => Clash { clause: flaw.clause.as_str().into(), ..clash },
        None => clash,
    }
}

pub(crate) fn nodes_of(network: &Network, unknowns: &[u32]) -> Vec<NodeId> {
    let count = network.nodes.len() as u32 - 1;
    unknowns.iter().filter(|u| **u < count).map(|u| NodeId(u + 1)).collect()
}

/// Whether a flaw that is known already speaks of these unknowns.
fn explains(flaw: &Flaw, unknowns: &[u32]) -> bool {
    flaw.grave && flaw.node.and_then(Network::row).is_some_and(|r| unknowns.contains(&r))
}

/// A degree of freedom with a dependency that belongs to it, and the equation to replace by "this unknown is 0".
pub(crate) struct Pairing<'a> {
    pub rows: &'a [u32],
    pub columns: &'a [u32],
    pub row: u32,
    pub column: u32,
}

/// Pairs what is undetermined with what is said twice: an amplifier's law with its own output, else a node's current law with
/// its own voltage, else the latest branch among the equations with whatever is free. All pairs that have nothing to do with one another.
pub(crate) fn pairs<'a>(network: &Network, deficiency: &'a Deficiency) -> Vec<Pairing<'a>> {
    let (free, bound) = (Supports::of(&deficiency.undetermined), Supports::of(&deficiency.dependent));
    let outputs = network.pieces.iter().filter_map(|p| match p.shape {
        Shape::Amplifier { out, .. } => Some((p.branch?, Network::row(out)?)),
        _ => None,
    });
    let count = network.nodes.len() as u32 - 1;
    let nodes = free.first.keys().filter(|u| **u < count).map(|u| (*u, *u));
    // The ways of a kind in the order of their supports.
    let sorted = |ways: &mut dyn Iterator<Item = (u32, u32)>| {
        let places =
            ways.filter_map(|(row, column)| Some((*free.first.get(&column)?, *bound.first.get(&row)?, row, column)));
        let mut places: Vec<_> = places.collect();
        places.sort_unstable();
        places
    };
    let any = || {
        let (columns, rows) = (deficiency.undetermined.first()?, deficiency.dependent.first()?);
        let column = columns.iter().copied().find(|u| *u < count).or(columns.first().copied())?;
        Some(vec![(0, 0, rows.iter().copied().max()?, column)])
    };
    let some = |ways: Vec<_>| Some(ways).filter(|w| !w.is_empty());
    // The kinds in the order of how much they tell.
    let ways = some(sorted(&mut { outputs })).or_else(|| some(sorted(&mut { nodes }))).or_else(any).unwrap_or_default();
    let (mut moved, mut said) = (HashSet::new(), HashSet::new());
    let mut pairs = Vec::new();
    for (c, r, row, column) in ways {
        let (columns, rows) = (&deficiency.undetermined[c], &deficiency.dependent[r]);
        // Supports that overlap may be one cause seen twice: what is left of them shows when the first is mended.
        if columns.iter().any(|u| moved.contains(u)) || rows.iter().any(|u| said.contains(u)) {
            continue;
        }
        moved.extend(columns.iter().copied());
        said.extend(rows.iter().copied());
        pairs.push(Pairing { rows, columns, row, column });
    }
    pairs
}

/// Of each index, the first support that holds it.
struct Supports {
    first: HashMap<u32, usize>,
}

impl Supports {
    fn of(supports: &[Vec<u32>]) -> Self {
        let mut first = HashMap::new();
        for (k, support) in supports.iter().enumerate() {
            for index in support {
                first.entry(*index).or_insert(k);
            }
        }
        Supports { first }
    }
}

/// The parts and sources whose branch is among these.
fn branches<'a>(network: &'a Network, rows: &[u32]) -> Vec<(&'a str, Option<PartId>)> {
    let parts = network.pieces.iter().enumerate().filter_map(|(i, p)| {
        let first = p.branch?;
        let count = match &p.shape {
            Shape::Variable { ccw, cw, .. } => u32::from(ccw.is_some()) + u32::from(cw.is_some()),
            Shape::Switch(contacts) => contacts.len() as u32,
            Shape::Amplifier { known, .. } => 1 + u32::from(known.second),
            _ => 1,
        };
        rows.iter().any(|r| (first..first + count).contains(r)).then_some((&*p.name, Some(PartId(i as u32))))
    });
    let held = network.feeds.iter().chain(&network.rails).filter(|f| f.branch.is_some_and(|b| rows.contains(&b)));
    parts.chain(held.map(|f| (&*f.name, None))).collect()
}

/// Names what cannot be determined, from the supports of the null vectors.
fn name(network: &Network, rows: &[u32], columns: &[u32]) -> Flaw {
    let nodes = nodes_of(network, columns);
    let fighting = branches(network, rows);
    let amplifiers: Vec<(&str, PartId)> = fighting
        .iter()
        .filter_map(|(n, p)| {
            p.filter(|p| matches!(network.pieces[p.at()].shape, Shape::Amplifier { .. })).map(|p| (*n, p))
        })
        .collect();
    let node_names: Vec<&str> = nodes.iter().map(|n| &*network.nodes[n.at()]).collect();
    // Branches whose currents are free against each other hold one loop or one node twice.
    if nodes.is_empty() {
        let loops = branches(network, columns);
        let names: Vec<String> = loops.iter().map(|l| l.0.to_string()).collect();
        let part = loops.iter().find_map(|l| l.1).or(fighting.iter().find_map(|l| l.1));
        let outputs = loops
            .iter()
            .filter(|(_, p)| p.is_some_and(|p| matches!(network.pieces[p.at()].shape, Shape::Amplifier { .. })))
            .count();
        let said = and(&names);
        // One output alone can only be held twice by standing at the reference.
        if let (1, 1, Some(id)) = (outputs, loops.len(), part)
            && let Shape::Amplifier { out: circuit::GROUND, .. } = network.pieces[id.at()].shape
        {
            return Flaw {
                id: "held-twice",
                grave: true,
                clause: format!("{said}'s output stands at gnd, which is held"),
                message: format!("{said}'s output stands at gnd, which is held: it needs a node of its own."),
                part,
                node: None,
                names,
            };
        }
        if outputs >= 2 {
            let link = |p: &Option<PartId>| {
                p.is_some_and(|p| matches!(network.pieces[p.at()].shape, Shape::Link(_) | Shape::Inductor(_)))
            };
            let (links, held): (Vec<_>, Vec<_>) = loops.iter().partition(|l| link(&l.1));
            let named = |some: Vec<&(&str, Option<PartId>)>| some.iter().map(|l| l.0.to_string()).collect();
            return outputs_tied(named(held), named(links), part);
        }
        let output =
            loops.iter().filter_map(|l| l.1).find(|p| matches!(network.pieces[p.at()].shape, Shape::Amplifier { .. }));
        if let Some(flaw) = output.and_then(|id| output_linked(network, id)) {
            return flaw;
        }
        return Flaw {
            id: "held-twice",
            grave: true,
            clause: format!("{said} hold the same node"),
            message: format!(
                "{said} hold the same voltage and nothing tells how they share the current: take one away, or put a resistance between them."
            ),
            part,
            node: None,
            names,
        };
    }
    let free =
        |id: PartId| matches!(network.pieces[id.at()].shape, Shape::Amplifier { out, .. } if nodes.contains(&out));
    if let Some((amplifier, id)) = amplifiers.iter().find(|a| free(a.1)).or(amplifiers.first()) {
        let Shape::Amplifier { plus, minus, out, .. } = network.pieces[id.at()].shape else {
            unreachable!("filtered above")
        };
        if plus == minus {
            return Flaw { grave: true, ..shorted(network, amplifier, *id, plus) };
        }
        let mut names = vec![amplifier.to_string(), network.nodes[out.at()].to_string()];
        let open = [plus, minus].into_iter().find(|n| alone(network, *n));
        let (fault, message, clause) = match open {
            Some(n) => {
                let (message, clause, more) = open_input(network, amplifier, if n == plus { "+" } else { "-" }, n);
                names.extend(more);
                ("open-input", message, clause)
            }
            None if leads_back(network, out, [plus, minus]) => (
                "no-feedback",
                format!(
                    "{amplifier} cannot move its inputs: what leads back from {} ends where the voltage is held by something else, so its output is not determined. A resistance in front of the - input would free it.",
                    network.nodes[out.at()],
                ),
                format!("{amplifier} cannot move its inputs"),
            ),
            None => (
                "no-feedback",
                format!(
                    "{amplifier} has no feedback: nothing leads from {} back to its inputs, so its output is not determined. A path from {} to the - input would close the loop.",
                    network.nodes[out.at()],
                    network.nodes[out.at()]
                ),
                format!("{amplifier} has no feedback"),
            ),
        };
        return Flaw { id: fault, grave: true, message, clause, part: Some(*id), node: None, names };
    }
    let names: Vec<String> = node_names.iter().map(|n| n.to_string()).collect();
    let said = and(&names[..names.len().min(4)]);
    // Where an input stands alone, that is why; what follows from its voltage is undetermined with it.
    let open = network.pieces.iter().enumerate().find_map(|(i, p)| {
        let Shape::Amplifier { plus, minus, .. } = p.shape else { return None };
        let inputs = [(plus, "+"), (minus, "-")];
        let (n, sign) = inputs.into_iter().find(|(n, _)| nodes.contains(n) && alone(network, *n))?;
        Some((PartId(i as u32), p.name.to_string(), n, sign))
    });
    if let Some((id, amplifier, n, sign)) = open {
        let (message, clause, more) = open_input(network, &amplifier, sign, n);
        let names = std::iter::once(amplifier).chain(more).collect();
        return Flaw { id: "open-input", grave: true, message, clause, part: Some(id), node: Some(n), names };
    }
    let absent: Vec<String> = nodes.iter().flat_map(|n| unfitted_at(network, *n)).collect();
    if !absent.is_empty() && nodes.iter().all(|n| alone(network, *n)) {
        let (parts, verb) = (and(&absent), if absent.len() == 1 { "is" } else { "are" });
        return Flaw {
            id: UNFITTED,
            grave: true,
            message: format!(
                "nothing is fitted at {said} ({parts} {verb} not): as it is built, nothing sets the voltage there"
            ),
            clause: format!("nothing is fitted at {said}"),
            part: None,
            node: nodes.first().copied(),
            names: names.into_iter().chain(absent).collect(),
        };
    }
    let (voltage, verb, it) = if names.len() == 1 { ("voltage", "is", "it") } else { ("voltages", "are", "them") };
    Flaw {
        id: "undetermined",
        grave: true,
        message: format!("the {voltage} of {said} {verb} not determined: nothing ties {it} to gnd or to a source"),
        clause: format!("{said} {verb} not determined"),
        part: fighting.iter().find_map(|f| f.1),
        node: nodes.first().copied(),
        names,
    }
}

/// The parts at a node that are not fitted.
fn unfitted_at(network: &Network, node: NodeId) -> Vec<String> {
    let at = |p: &&crate::network::Piece| matches!(&p.shape, Shape::Absent(ends) if ends.contains(&node));
    network.pieces.iter().filter(at).map(|p| p.name.to_string()).collect()
}

/// What to say of an amplifier's input at a node where nothing else stands: the message, the clause, and the names in both.
fn open_input(network: &Network, amplifier: &str, sign: &str, node: NodeId) -> (String, String, Vec<String>) {
    let name = network.nodes[node.at()].to_string();
    let absent = unfitted_at(network, node);
    let others = match &absent[..] {
        [] => "where nothing else does".to_string(),
        parts => format!("where nothing else is fitted (not {})", parts.join(", nor ")),
    };
    let message = format!(
        "{amplifier}'s {sign} input stands at {name}, {others}: its voltage is not determined. Connect {name}."
    );
    let names = std::iter::once(name).chain(absent).collect();
    (message, format!("{amplifier}'s {sign} input is open"), names)
}

/// Where values leave the circuit without one answer: a clause with the names of what is left open.
pub(crate) fn unsettled(open: impl Iterator<Item = String>) -> String {
    let names: Vec<String> = open.take(4).collect();
    match &names[..] {
        [] => "at these values the circuit has no unique answer".into(),
        names => format!("at these values nothing settles {}", and(names)),
    }
}

/// `a`, `a and b`, `a, b and c`
pub(crate) fn and(names: &[String]) -> String {
    if names.is_empty() { "something".into() } else { quantity::list(names, "and") }
}

/// Whether only amplifier inputs stand at a node.
fn alone(network: &Network, node: NodeId) -> bool {
    node != GROUND
        && !network.feeds.iter().chain(&network.rails).any(|f| f.plus == node || f.minus == node)
        && network.pieces.iter().all(|p| match &p.shape {
            Shape::Amplifier { out, .. } => *out != node,
            other => !ends(other).contains(&node),
        })
}

/// Whether parts lead from an output to one of these inputs, other than over `gnd` and rails.
pub(crate) fn leads_back(network: &Network, out: NodeId, inputs: [NodeId; 2]) -> bool {
    let held = |n: &NodeId| *n == GROUND || network.rails.iter().any(|r| r.plus == *n);
    let mut reached = vec![out];
    let mut next = 0;
    while let Some(&at) = reached.get(next) {
        next += 1;
        for p in network.pieces.iter().filter(|p| !matches!(p.shape, Shape::Amplifier { .. })) {
            let ends = ends(&p.shape);
            if ends.contains(&at) {
                reached.extend(ends.into_iter().filter(|n| !held(n) && !reached.contains(n)).collect::<Vec<_>>());
            }
        }
    }
    inputs.iter().any(|n| *n != out && !held(n) && reached.contains(n))
}

/// The nodes that a part ties together, one way or the other.
fn ends(shape: &Shape) -> Vec<NodeId> {
    match shape {
        Shape::Resistor(e) | Shape::Link(e) | Shape::Capacitor(e) | Shape::Inductor(e) => e.to_vec(),
        Shape::Variable { ccw, wiper, cw } => [*ccw, Some(*wiper), *cw].into_iter().flatten().collect(),
        Shape::Switch(contacts) => contacts.iter().flat_map(|c| c.1).collect(),
        Shape::Amplifier { out, .. } => vec![GROUND, *out],
        Shape::Absent(_) => vec![],
    }
}

/// Nodes that hang together, by the parts that tie them.
struct Ties(Vec<u32>);

impl Ties {
    fn of(network: &Network, counts: impl Fn(&Shape) -> bool) -> Ties {
        let mut ties = Ties((0..network.nodes.len() as u32).collect());
        for p in &network.pieces {
            if counts(&p.shape) {
                let ends = ends(&p.shape);
                for pair in ends.windows(2) {
                    ties.tie(pair[0], pair[1]);
                }
            }
        }
        for f in network.feeds.iter().chain(&network.rails) {
            if f.branch.is_some() {
                ties.tie(f.plus, f.minus);
            }
        }
        ties
    }
    fn root(&mut self, n: NodeId) -> u32 {
        let mut at = n.0;
        while self.0[at as usize] != at {
            let up = self.0[self.0[at as usize] as usize];
            self.0[at as usize] = up;
            at = up;
        }
        at
    }
    fn tie(&mut self, a: NodeId, b: NodeId) {
        let (a, b) = (self.root(a), self.root(b));
        // The lesser number leads, so that gnd leads its own.
        self.0[a.max(b) as usize] = a.min(b);
    }
    /// Groups that do not hang together with `gnd`.
    fn groups(mut self) -> Vec<Vec<NodeId>> {
        let mut groups: std::collections::BTreeMap<u32, Vec<NodeId>> = Default::default();
        for n in 1..self.0.len() as u32 {
            let root = self.root(NodeId(n));
            if root != 0 {
                groups.entry(root).or_default().push(NodeId(n));
            }
        }
        groups.into_values().collect()
    }
}

/// Groups of nodes that nothing ties to `gnd` at any frequency.
fn islands(network: &Network) -> Vec<Flaw> {
    // Of each node the first part that stands there.
    let mut first: Vec<Option<usize>> = vec![None; network.nodes.len()];
    for (i, p) in network.pieces.iter().enumerate() {
        for node in ends(&p.shape) {
            first[node.at()].get_or_insert(i);
        }
    }
    Ties::of(network, |_| true)
        .groups()
        .into_iter()
        .filter(|g| g.iter().any(|n| first[n.at()].is_some()))
        .map(|group| {
            let names: Vec<String> = group.iter().map(|n| network.nodes[n.at()].to_string()).collect();
            let part = group.iter().filter_map(|n| first[n.at()]).min();
            let said = and(&names[..names.len().min(4)]);
            let verb = if names.len() == 1 { "hangs" } else { "hang" };
            let them = if names.len() == 1 { "it" } else { "them" };
            // A pair that a floating source drives has a difference, and no voltage against gnd.
            let pair = network.feeds.iter().find(|f| group.contains(&f.plus) && group.contains(&f.minus));
            let message = match pair {
                Some(f) => format!(
                    "{said} {verb} in the air: {} floats, and no part ties {them} to gnd or to a rail. Two equal resistors, from {} and from {} to gnd, would; 100 kΩ each load a pad by next to nothing.",
                    f.name,
                    network.nodes[f.plus.at()],
                    network.nodes[f.minus.at()],
                ),
                None => format!(
                    "{said} {verb} in the air: no part ties {them} to gnd, to a rail or to a source. A resistor from {} to gnd would.",
                    names[0]
                ),
            };
            Flaw {
                id: "undetermined",
                grave: true,
                message,
                clause: format!("{said} {verb} in the air"),
                part: part.map(|i| PartId(i as u32)),
                node: group.first().copied(),
                names,
            }
        })
        .collect()
}

/// What is not determined at rest only: bias currents without a way home, amplifiers without feedback at DC.
fn at_rest(network: &Network, pencil: &Pencil, known: &[Flaw]) -> Vec<Flaw> {
    let blocks = |s: &Shape| !matches!(s, Shape::Capacitor(_) | Shape::Absent(_));
    let groups = Ties::of(network, blocks).groups();
    // A group that hangs in the air at every frequency has been named already.
    let named: HashSet<NodeId> = known.iter().filter(|f| f.grave).filter_map(|f| f.node).collect();
    let said = |group: &[NodeId]| group.iter().any(|n| named.contains(n));
    let mut flaws: Vec<Flaw> =
        groups.iter().filter(|g| !said(g)).filter_map(|g| without_way(network, g, &[])).collect();
    // The rank tells more, but only of a circuit that is determined otherwise.
    if groups.is_empty()
        && !known.iter().any(|f| f.grave)
        && let Err(Deficiency { undetermined, dependent }) = generic_rank(pencil, At::Rest, &[])
    {
        for (columns, rows) in undetermined.iter().zip(&dependent) {
            flaws.extend(resting(network, rows, columns, &[]));
        }
    }
    let shorted = shorted_outputs(network);
    flaws.extend(shorted.into_iter().filter(|s| !flaws_name(&flaws, s)).collect::<Vec<_>>());
    flaws
}

/// Whether the same inductors are told already.
fn flaws_name(flaws: &[Flaw], new: &Flaw) -> bool {
    flaws.iter().any(|f| f.id == new.id && f.part == new.part)
}
