//! Which equation finds which unknown, and what hangs on what.

use crate::generic::Deficiency;
use crate::pencil::{Column, Pencil};

/// The equations and given columns that an excitation uses.
#[derive(Clone, Copy, Debug, Default)]
pub struct Excited<'a> {
    /// Equations with a source on their right-hand side.
    pub equations: &'a [u32],
    /// Given columns that are not 0.
    pub givens: &'a [u32],
}

/// A strongly connected part of the system: its equations find its unknowns together, once the blocks before it are known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Block {
    /// The unknowns of the block.
    pub unknowns: Vec<u32>,
    /// The equation matched with each of them.
    pub equations: Vec<u32>,
}

/// A perfect matching of equations and unknowns and the blocks that follow from it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Structure {
    /// The equation matched with each unknown.
    equation_of: Vec<u32>,
    /// The unknown matched with each equation.
    unknown_of: Vec<u32>,
    /// For each equation, the unknowns in it.
    pattern: Vec<Vec<u32>>,
    /// For each unknown, the equations that it stands in.
    holders: Vec<Vec<u32>>,
    /// For each given column, the equations that it stands in.
    given_holders: Vec<Vec<u32>>,
    /// For each equation, the stamps in it: a small part of a large system is taken out without a look at the rest.
    stamps: Vec<Vec<u32>>,
    blocks: Vec<Block>,
}

impl Structure {
    /// Matches every equation with an unknown that stands in it (its own number where it can) and finds the blocks in
    /// solving order.
    ///
    /// # Errors
    /// Where no perfect matching exists: the unknowns and equations that are left over, each with all that compete for
    /// the same partners. The rank over the field ([`crate::generic_rank`]) sees more; this error is a part of what it sees.
    pub fn of(pencil: &Pencil) -> Result<Self, Deficiency> {
        let size = pencil.unknowns() as usize;
        let mut pattern = vec![Vec::new(); size];
        let mut given_holders = vec![Vec::new(); pencil.givens() as usize];
        let mut stamps = vec![Vec::new(); size];
        for (k, stamp) in pencil.stamps().iter().enumerate() {
            for &(row, _) in &stamp.rows {
                stamps[row as usize].push(k as u32);
                for &(column, _) in &stamp.columns {
                    match column {
                        Column::Unknown(j) => pattern[row as usize].push(j),
                        Column::Given(k) => given_holders[k as usize].push(row),
                    }
                }
            }
        }
        for list in pattern.iter_mut().chain(&mut given_holders) {
            list.sort_unstable();
            list.dedup();
        }
        let mut holders = vec![Vec::new(); size];
        for (i, row) in pattern.iter().enumerate() {
            for &j in row {
                holders[j as usize].push(i as u32);
            }
        }
        let (unknown_of, equation_of) = matching(&pattern, &holders)?;
        let mut structure =
            Structure { equation_of, unknown_of, pattern, holders, given_holders, stamps, blocks: Vec::new() };
        structure.blocks = structure.components();
        Ok(structure)
    }

    /// The blocks, each after all those whose unknowns it uses.
    pub fn blocks(&self) -> &[Block] {
        &self.blocks
    }

    /// The number of unknowns.
    pub fn size(&self) -> usize {
        self.pattern.len()
    }

    /// The equation matched with an unknown.
    pub fn equation_of(&self, unknown: u32) -> u32 {
        self.equation_of[unknown as usize]
    }

    /// The unknown matched with an equation.
    pub fn unknown_of(&self, equation: u32) -> u32 {
        self.unknown_of[equation as usize]
    }

    /// The stamps in these equations, by number, in order.
    pub(crate) fn stamps_in(&self, equations: &[u32]) -> Vec<u32> {
        let mut all: Vec<u32> = equations.iter().flat_map(|&i| &self.stamps[i as usize]).copied().collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// Whether an unknown stands in an equation.
    pub(crate) fn stands_in(&self, unknown: u32, equation: u32) -> bool {
        self.pattern[equation as usize].binary_search(&unknown).is_ok()
    }

    /// The unknowns that may be other than 0 when only the excited equations and givens are: one flag an unknown.
    pub fn influenced_by(&self, excited: Excited) -> Vec<bool> {
        self.reached(excited, None)
    }

    /// The unknowns that may have a say in the wanted ones: one flag an unknown.
    pub fn influencing(&self, wanted: &[u32]) -> Vec<bool> {
        self.needed(wanted, None)
    }

    /// The same, other than by way of the unknown `barrier`.
    pub fn influencing_past(&self, wanted: &[u32], barrier: u32) -> Vec<bool> {
        self.needed(wanted, Some(barrier))
    }

    /// [`Structure::influenced_by`] where no way leads through `barrier`.
    pub(crate) fn reached(&self, excited: Excited, barrier: Option<u32>) -> Vec<bool> {
        let mut seen = vec![false; self.pattern.len()];
        let mut open: Vec<u32> = excited.equations.to_vec();
        for &given in excited.givens {
            open.extend(&self.given_holders[given as usize]);
        }
        while let Some(equation) = open.pop() {
            let unknown = self.unknown_of(equation);
            if !seen[unknown as usize] && Some(unknown) != barrier {
                seen[unknown as usize] = true;
                open.extend(&self.holders[unknown as usize]);
            }
        }
        seen
    }

    /// [`Structure::influencing`] where no way leads through `barrier`.
    pub(crate) fn needed(&self, wanted: &[u32], barrier: Option<u32>) -> Vec<bool> {
        let mut seen = vec![false; self.pattern.len()];
        let mut open = wanted.to_vec();
        while let Some(unknown) = open.pop() {
            if !seen[unknown as usize] && Some(unknown) != barrier {
                seen[unknown as usize] = true;
                open.extend(&self.pattern[self.equation_of(unknown) as usize]);
            }
        }
        seen
    }

    /// Strongly connected components by Tarjan's algorithm (SIAM J. Comput. 1, 1972), without recursion. An unknown
    /// points at what its equation needs, so components come out after those that they need.
    fn components(&self) -> Vec<Block> {
        const NEW: u32 = u32::MAX;
        let size = self.pattern.len();
        let (mut index, mut low) = (vec![NEW; size], vec![0u32; size]);
        let (mut on_stack, mut stack) = (vec![false; size], Vec::new());
        let mut blocks = Vec::new();
        let mut clock = 0;
        for start in 0..size as u32 {
            if index[start as usize] != NEW {
                continue;
            }
            let mut calls = vec![(start, 0usize)];
            while let Some((v, next)) = calls.pop() {
                let here = v as usize;
                if next == 0 {
                    (index[here], low[here]) = (clock, clock);
                    clock += 1;
                    stack.push(v);
                    on_stack[here] = true;
                }
                match self.pattern[self.equation_of[here] as usize].get(next) {
                    Some(&w) => {
                        calls.push((v, next + 1));
                        if index[w as usize] == NEW {
                            calls.push((w, 0));
                        } else if on_stack[w as usize] {
                            low[here] = low[here].min(index[w as usize]);
                        }
                    }
                    None => {
                        if let Some(&(parent, _)) = calls.last() {
                            low[parent as usize] = low[parent as usize].min(low[here]);
                        }
                        if low[here] == index[here] {
                            let cut = stack.iter().rposition(|&w| w == v).expect("v is on the stack");
                            let mut unknowns = stack.split_off(cut);
                            unknowns.sort_unstable();
                            for &w in &unknowns {
                                on_stack[w as usize] = false;
                            }
                            let equations = unknowns.iter().map(|&w| self.equation_of(w)).collect();
                            blocks.push(Block { unknowns, equations });
                        }
                    }
                }
            }
        }
        blocks
    }
}

/// A perfect matching: (unknown of each equation, equation of each unknown).
type Matching = (Vec<u32>, Vec<u32>);

/// Augmenting paths from a start in which every equation takes the unknown of its own number where that stands in it.
fn matching(pattern: &[Vec<u32>], holders: &[Vec<u32>]) -> Result<Matching, Deficiency> {
    const NONE: u32 = u32::MAX;
    let size = pattern.len();
    let (mut unknown_of, mut equation_of) = (vec![NONE; size], vec![NONE; size]);
    for (i, row) in pattern.iter().enumerate() {
        if row.binary_search(&(i as u32)).is_ok() {
            (unknown_of[i], equation_of[i]) = (i as u32, i as u32);
        }
    }
    let mut seen = vec![NONE; size];
    let mut left_over = Vec::new();
    // `came_from[j]` is the equation from which unknown j was reached in the search under way.
    let mut came_from = vec![NONE; size];
    for start in 0..size as u32 {
        if unknown_of[start as usize] != NONE {
            continue;
        }
        let mut queue = std::collections::VecDeque::from([start]);
        let mut end = None;
        'search: while let Some(i) = queue.pop_front() {
            for &j in &pattern[i as usize] {
                if seen[j as usize] != start {
                    seen[j as usize] = start;
                    came_from[j as usize] = i;
                    let next = equation_of[j as usize];
                    if next == NONE {
                        end = Some(j);
                        break 'search;
                    }
                    queue.push_back(next);
                }
            }
        }
        match end {
            None => left_over.push(start),
            Some(mut j) => loop {
                let i = came_from[j as usize];
                equation_of[j as usize] = i;
                let previous = std::mem::replace(&mut unknown_of[i as usize], j);
                if i == start {
                    break;
                }
                j = previous;
            },
        }
    }
    if left_over.is_empty() {
        return Ok((unknown_of, equation_of));
    }
    // What competes: alternating ways from a lone equation over unknowns, and from a lone unknown over equations.
    let alternate = |start: u32, neighbours: &[Vec<u32>], partner: &[u32]| {
        let mut members = vec![start];
        let mut next = 0;
        while next < members.len() {
            for &other in &neighbours[members[next] as usize] {
                let mate = partner[other as usize];
                if mate != NONE && !members.contains(&mate) {
                    members.push(mate);
                }
            }
            next += 1;
        }
        members.sort_unstable();
        members
    };
    let lone = |partner: &[u32]| -> Vec<u32> { (0..size as u32).filter(|&k| partner[k as usize] == NONE).collect() };
    Err(Deficiency {
        undetermined: lone(&equation_of).into_iter().map(|j| alternate(j, holders, &unknown_of)).collect(),
        dependent: left_over.into_iter().map(|i| alternate(i, pattern, &equation_of)).collect(),
    })
}
