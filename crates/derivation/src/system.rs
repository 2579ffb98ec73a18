//! Kirchhoff's current law at the nodes that matter, the virtual shorts put in, and its exact solution.

use std::collections::BTreeMap;

use crate::expr::Expr;
use crate::immittance::{Immittance, Kind, Lump};
use crate::network::{Drawn, Network};
use crate::poly::{Past, Poly};
use crate::ratio::Ratio;
use crate::unknowns::{UNKNOWNS, determinant, ordered, shorted};

/// A symbol of the algebra: a lump, or a two-terminal network of several kinds that is kept whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Symbol {
    /// What it stands for.
    pub what: Immittance,
}

/// The symbols of a working. A capacitor's is its admittance, any other's its impedance.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Symbols(pub Vec<Symbol>);

impl Symbols {
    /// The symbol of a two-terminal network; the same for the same.
    ///
    /// # Errors
    /// There are more than fit.
    pub fn of(&mut self, what: &Immittance) -> Result<u32, Past> {
        if let Some(i) = self.0.iter().position(|s| s.what == *what) {
            return Ok(i as u32);
        }
        if self.0.len() == 63 {
            return Err(Past);
        }
        self.0.push(Symbol { what: what.clone() });
        Ok(self.0.len() as u32 - 1)
    }

    /// Its lump, if it is one.
    pub fn lump(&self, bit: usize) -> Option<&Lump> {
        match &self.0[bit].what {
            Immittance::Lump(lump) => Some(lump),
            _ => None,
        }
    }

    /// The symbols that are impedances.
    fn impedances(&self) -> u64 {
        let is = |i: &usize| self.lump(*i).is_none_or(|l| l.kind != Kind::C);
        (0..self.0.len()).filter(is).fold(0, |all, i| all | 1 << i)
    }

    /// The symbols that carry an s.
    pub fn reactive(&self) -> u64 {
        let is = |i: &usize| self.lump(*i).is_some_and(|l| l.kind != Kind::R);
        (0..self.0.len()).filter(is).fold(0, |all, i| all | 1 << i)
    }

    /// The symbols that are networks of several kinds.
    pub fn mixed(&self) -> u64 {
        (0..self.0.len()).filter(|i| self.lump(*i).is_none()).fold(0, |all, i| all | 1 << i)
    }

    /// A symbol as a factor on paper: an impedance, or a capacitor's admittance `s·C`.
    pub fn factor(&self, bit: usize) -> Expr {
        match &self.0[bit].what {
            Immittance::Lump(Lump { kind: Kind::R, value }) => value.clone(),
            Immittance::Lump(Lump { value, .. }) => Expr::product(vec![Expr::S, value.clone()]),
            other => other.impedance(),
        }
    }
}

/// Why there is no working.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// More than a person would write.
    Past,
    /// The equations have no unique answer: a loop is open, or two sources meet.
    NoAnswer,
}

impl From<Past> for Refusal {
    fn from(_: Past) -> Refusal {
        Refusal::Past
    }
}

/// The current law at one node: `Σ row·V = 0`, the rows linear in admittances; a current that flows in stands among the voltages, with −1.
#[derive(Clone, Debug, PartialEq)]
pub struct Law {
    /// Where.
    pub node: usize,
    /// By the voltages' own nodes.
    pub row: BTreeMap<usize, Poly>,
    /// The branches that end there: symbol, and the node at the other end.
    pub branches: Vec<(u32, usize)>,
    /// The inputs that are currents into it.
    pub currents: Vec<usize>,
}

/// The equations of a network.
#[derive(Clone, Debug, PartialEq)]
pub struct System {
    /// The symbols.
    pub symbols: Symbols,
    /// By node: the node whose voltage it has, by virtual shorts.
    pub same: Vec<usize>,
    /// The laws.
    pub laws: Vec<Law>,
    /// Voltages that are worked out together, in order: each with its laws.
    pub blocks: Vec<Block>,
}

/// Voltages that are worked out together.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// The nodes.
    pub unknowns: Vec<usize>,
    /// The laws, by index, as many.
    pub laws: Vec<usize>,
}

/// A voltage as a sum of others, each times a quotient.
pub type Combination = Vec<(usize, Ratio)>;

/// By node: what stands above the common line.
type Numerators = BTreeMap<usize, Poly>;

impl System {
    /// The equations that the outputs of a network need.
    ///
    /// # Errors
    /// They have no unique answer, or are more than a person would solve.
    pub fn of(network: &Network, drawn: &Drawn) -> Result<System, Refusal> {
        let same = shorted(network)?;
        let mut symbols = Symbols::default();
        let mut laws: Vec<Law> = Vec::new();
        let mut branches = Vec::new();
        for branch in &drawn.branches {
            branches.push((symbols.of(&branch.what)?, branch.ends));
        }
        for node in (1..network.nodes.len()).filter(|n| !network.held(*n)) {
            let mut law = Law { node, row: BTreeMap::new(), branches: Vec::new(), currents: Vec::new() };
            for (bit, ends) in &branches {
                let other = match ends {
                    [a, b] if *a == node => *b,
                    [a, b] if *b == node => *a,
                    _ => continue,
                };
                law.branches.push((*bit, other));
                for (at, sign) in [(same[node], 1), (same[other], -1)] {
                    if at != 0 {
                        law.row.entry(at).or_default().add(&Poly::symbol(*bit), sign)?;
                    }
                }
            }
            for [input, _] in network.currents.iter().filter(|c| c[1] == node) {
                law.currents.push(*input);
                law.row.entry(*input).or_default().add(&Poly::number(1), -1)?;
            }
            law.row.retain(|_, y| !y.is_nothing());
            if !law.row.is_empty() {
                laws.push(law);
            }
        }
        let mut system = System { symbols, same, laws, blocks: Vec::new() };
        system.blocks = ordered(&system, network)?;
        if system.blocks.iter().map(|b| b.unknowns.len()).sum::<usize>() > UNKNOWNS {
            return Err(Refusal::Past);
        }
        Ok(system)
    }

    /// Solves some laws for some voltages: one of them as a combination of all others that stand in them.
    ///
    /// # Errors
    /// There is no unique answer, or it is past what a person would write.
    pub fn solved(&self, laws: &[usize], unknowns: &[usize], target: usize) -> Result<Combination, Refusal> {
        let (numerators, below) = self.numerators(laws, unknowns, target)?;
        self.quotients(numerators, &below)
    }

    /// Above the common line a polynomial for each voltage that is not solved for, and what stands below it, in admittances.
    fn numerators(&self, laws: &[usize], unknowns: &[usize], target: usize) -> Result<(Numerators, Poly), Refusal> {
        let matrix = |replaced: Option<usize>| -> Vec<Vec<Option<&Poly>>> {
            laws.iter()
                .map(|law| {
                    let row = &self.laws[*law].row;
                    unknowns
                        .iter()
                        .map(|u| row.get(if *u == target { replaced.as_ref().unwrap_or(u) } else { u }))
                        .collect()
                })
                .collect()
        };
        let below = determinant(&matrix(None))?;
        if below.is_nothing() {
            return Err(Refusal::NoAnswer);
        }
        let mut others: Vec<usize> = laws.iter().flat_map(|l| self.laws[*l].row.keys().copied()).collect();
        others.sort_unstable();
        others.dedup();
        let mut found = Numerators::new();
        for other in others.into_iter().filter(|o| !unknowns.contains(o)) {
            let mut above = Poly::default();
            above.add(&determinant(&matrix(Some(other)))?, -1)?;
            if !above.is_nothing() {
                found.insert(other, above);
            }
        }
        Ok((found, below))
    }

    fn quotients(&self, above: Numerators, below: &Poly) -> Result<Combination, Refusal> {
        let flipped = self.symbols.impedances();
        let below = below.in_reciprocals(flipped);
        let each = above.into_iter().map(|(node, poly)| {
            Ok((node, Ratio::new(&poly.in_reciprocals(flipped), &below).ok_or(Refusal::NoAnswer)?))
        });
        each.collect()
    }

    /// A voltage as a combination of those that are given.
    ///
    /// # Errors
    /// As [`System::solved`].
    pub fn outright(&self, network: &Network, node: usize) -> Result<Combination, Refusal> {
        let node = self.same[node];
        if node == 0 {
            return Ok(Vec::new());
        }
        if network.given(node) {
            return Ok(vec![(node, Ratio::one())]);
        }
        let (laws, unknowns) = self.up_to(&[node])?;
        self.solved(&laws, &unknowns, node)
    }

    /// The difference of two voltages as a combination of those that are given; both must be worked out.
    ///
    /// # Errors
    /// As [`System::solved`].
    pub fn difference(&self, network: &Network, pair: [usize; 2]) -> Result<Combination, Refusal> {
        let [a, b] = pair.map(|n| self.same[n]);
        if network.given(a) || network.given(b) {
            return Err(Refusal::NoAnswer);
        }
        let (laws, unknowns) = self.up_to(&[a, b])?;
        let (mut above, below) = self.numerators(&laws, &unknowns, a)?;
        for (node, poly) in self.numerators(&laws, &unknowns, b)?.0 {
            above.entry(node).or_default().add(&poly, -1)?;
        }
        above.retain(|_, p| !p.is_nothing());
        self.quotients(above, &below)
    }

    /// The laws and voltages that some voltages need.
    fn up_to(&self, nodes: &[usize]) -> Result<(Vec<usize>, Vec<usize>), Refusal> {
        let mut last = 0;
        for node in nodes {
            let at = self.blocks.iter().position(|b| b.unknowns.contains(node)).ok_or(Refusal::NoAnswer)?;
            last = last.max(at);
        }
        let blocks = &self.blocks[..=last];
        let laws = blocks.iter().flat_map(|b| b.laws.iter().copied()).collect();
        Ok((laws, blocks.iter().flat_map(|b| b.unknowns.iter().copied()).collect()))
    }
}
