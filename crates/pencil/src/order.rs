//! The order of elimination: which pivot after which, chosen once and replayed for every lane.

use std::collections::BTreeSet;

use crate::double::Number;
use crate::structure::Structure;

/// The place of a non-zero of the matrix in the store of values.
pub(crate) type Slot = u32;

/// The non-zero pattern of the matrix: equation and unknown of each slot.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub(crate) struct Pattern {
    pub entries: Vec<(u32, u32)>,
}

/// One step of elimination. Rows and unknowns carry the numbers of the pencil.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Step {
    pub row: u32,
    pub unknown: u32,
    pub slot: Slot,
    /// The rest of the pivot row within its block: (unknown, slot).
    pub upper: Vec<(u32, Slot)>,
    /// The rest of the pivot column: (row, slot), and where the products with `upper` go, in the order of `upper`.
    pub lower: Vec<(u32, Slot, Vec<Slot>)>,
}

/// The steps of one strongly connected block.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct BlockSteps {
    pub steps: Vec<Step>,
    /// Entries of the block's rows in the columns of earlier blocks: (row, unknown, slot).
    pub couplings: Vec<(u32, u32, Slot)>,
}

/// An elimination order for a whole system.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Steps {
    pub blocks: Vec<BlockSteps>,
    /// Slots of the pattern and of the fill.
    pub slots: usize,
}

/// How far below the largest of its column a pivot may lie. Smaller keeps the factors sparser, larger keeps them tamer.
const THRESHOLD: f64 = 0.05;
/// Columns of few entries that are looked at before the cheapest pivot so far is taken.
const TRIED: usize = 6;

/// Chooses pivots by Markowitz's cost (Management Science 3, 1957) among entries that hold a threshold at every sample
/// at once. `values` has `samples` numbers a slot of the pattern, and grows by those of the fill; on return it holds the
/// factors: the pivots, the upper entries and the lower entries divided by their pivot.
///
/// A sample at which a column falls below [`Number::EXHAUSTED`] (after equilibration, so the start is 1) has lost its
/// digits and has no more say while others have. Where none is left, the second answer lists the unknowns that were still
/// waiting, and the order goes on as well as it can: whether the matrix is singular is for the solution's check to say.
pub(crate) fn choose<N: Number>(
    pattern: &Pattern,
    structure: &Structure,
    samples: usize,
    values: &mut Vec<N>,
) -> (Steps, Option<Vec<u32>>) {
    let size = structure.size();
    let mut block_of = vec![0u32; size];
    for (b, block) in structure.blocks().iter().enumerate() {
        for &j in &block.unknowns {
            block_of[j as usize] = b as u32;
        }
    }
    let mut search = Search {
        samples,
        live: vec![true; samples],
        rows: vec![Vec::new(); size],
        columns: vec![Vec::new(); size],
        scale: scales(pattern, size, samples, values),
        slots: pattern.entries.len() as u32,
        singular: None,
    };
    let mut couplings = vec![Vec::new(); structure.blocks().len()];
    for (slot, &(i, j)) in pattern.entries.iter().enumerate() {
        let own = block_of[structure.unknown_of(i) as usize];
        if block_of[j as usize] == own {
            search.rows[i as usize].push((j, slot as u32));
            search.columns[j as usize].push(i);
        } else {
            couplings[own as usize].push((i, j, slot as u32));
        }
    }
    let blocks = structure
        .blocks()
        .iter()
        .zip(couplings)
        .map(|(block, couplings)| BlockSteps { steps: search.block(&block.unknowns, values), couplings });
    let blocks = blocks.collect();
    (Steps { blocks, slots: search.slots as usize }, search.singular)
}

/// Powers of two that bring the largest entry of every row and column near 1, for each sample: first the rows', then the
/// columns'.
fn scales<N: Number>(pattern: &Pattern, size: usize, samples: usize, values: &[N]) -> Vec<f64> {
    let logs: Vec<f64> = values.iter().map(|v| v.magnitude().log2()).collect();
    let (mut rows, mut columns) = (vec![0.0; size * samples], vec![0.0; size * samples]);
    let mut largest = vec![f64::NEG_INFINITY; size * samples];
    for pass in 0..4 {
        largest.fill(f64::NEG_INFINITY);
        let by_row = pass % 2 == 1;
        for (slot, &(i, j)) in pattern.entries.iter().enumerate() {
            for q in 0..samples {
                let (r, c) = (i as usize * samples + q, j as usize * samples + q);
                let scaled = logs[slot * samples + q] + rows[r] + columns[c];
                let target = &mut largest[if by_row { r } else { c }];
                *target = target.max(scaled);
            }
        }
        let scales = if by_row { &mut rows } else { &mut columns };
        for (scale, largest) in scales.iter_mut().zip(&largest) {
            if largest.is_finite() {
                *scale -= largest.round();
            }
        }
    }
    // The columns' scales cancel in every comparison but the one with `EXHAUSTED`, so both are handed out.
    rows.extend(columns);
    rows.iter().map(|l| l.clamp(-1000.0, 1000.0).exp2()).collect()
}

/// The columns that have no pivot yet, each behind its count of entries: the cheapest stand first.
type Waiting = BTreeSet<(usize, u32)>;

struct Search {
    samples: usize,
    live: Vec<bool>,
    rows: Vec<Vec<(u32, Slot)>>,
    columns: Vec<Vec<u32>>,
    scale: Vec<f64>,
    slots: u32,
    singular: Option<Vec<u32>>,
}

/// A possible pivot: smaller is better by cost, then larger by worst ratio.
#[derive(Clone, Copy)]
struct Candidate {
    cost: usize,
    ratio: f64,
    row: u32,
    column: u32,
}

impl Search {
    fn block<N: Number>(&mut self, unknowns: &[u32], values: &mut Vec<N>) -> Vec<Step> {
        // A sample that gave out in one block is sound again in the next: blocks do not touch one another's pivots.
        self.live.fill(true);
        let mut waiting: Waiting = unknowns.iter().map(|&j| (self.columns[j as usize].len(), j)).collect();
        let mut steps = Vec::with_capacity(unknowns.len());
        while !waiting.is_empty() {
            let pivot = self.pivot(&waiting, values);
            // Only the columns that the pivot's row stands in change their counts.
            let touched: Vec<u32> = self.rows[pivot.row as usize].iter().map(|e| e.0).collect();
            for &j in &touched {
                waiting.remove(&(self.columns[j as usize].len(), j));
            }
            steps.push(self.eliminate(pivot.row, pivot.column, values));
            let left = touched.into_iter().filter(|&j| j != pivot.column);
            waiting.extend(left.map(|j| (self.columns[j as usize].len(), j)));
        }
        steps
    }

    fn slot(&self, row: u32, column: u32) -> Slot {
        let entry = self.rows[row as usize].iter().find(|e| e.0 == column);
        entry.expect("the column lists the row").1
    }

    /// The cheapest pivot that holds the threshold at all live samples; failing that, the one that comes closest.
    fn pivot<N: Number>(&mut self, waiting: &Waiting, values: &[N]) -> Candidate {
        if let (1, Some(&(_, only))) = (waiting.len(), waiting.first())
            && let [row] = self.columns[only as usize][..]
        {
            self.check_last(only, row, values);
            return Candidate { cost: 0, ratio: 1.0, row, column: only };
        }
        let mut best: Option<Candidate> = None;
        let mut closest: Option<Candidate> = None;
        let mut tried = 0;
        for &(count, column) in waiting {
            if let Some(best) = best
                && (tried >= TRIED || best.cost <= (count - 1) * (count - 1))
            {
                break;
            }
            let mut sound = false;
            for candidate in self.candidates(column, waiting, values) {
                if candidate.ratio >= THRESHOLD {
                    sound = true;
                    let better = |b: Candidate| {
                        candidate.cost < b.cost || (candidate.cost == b.cost && candidate.ratio > b.ratio)
                    };
                    if best.is_none_or(better) {
                        best = Some(candidate);
                    }
                } else if closest.is_none_or(|c| candidate.ratio > c.ratio) {
                    closest = Some(candidate);
                }
            }
            tried += usize::from(sound);
        }
        best.or(closest).expect("a matched block has an entry left in every column")
    }

    /// The possible pivots of a column, each with its worst ratio to the column's largest over the live samples.
    fn candidates<N: Number>(&mut self, column: u32, waiting: &Waiting, values: &[N]) -> Vec<Candidate> {
        let k = self.samples;
        let columns_at = self.rows.len() * k;
        let holders = &self.columns[column as usize];
        let mut sizes = vec![0.0; holders.len() * k];
        let mut largest = vec![0.0f64; k];
        for (h, &row) in holders.iter().enumerate() {
            let slot = self.slot(row, column) as usize;
            for q in 0..k {
                let size = values[slot * k + q].magnitude() * self.scale[row as usize * k + q];
                sizes[h * k + q] = size;
                // Written so that something that is not a number stays visible.
                largest[q] = if size > largest[q] || size.is_nan() { size } else { largest[q] };
            }
        }
        for (q, largest) in largest.iter().enumerate() {
            let start = self.scale[columns_at + column as usize * k + q];
            let sound = largest.is_finite() && largest * start >= N::EXHAUSTED;
            if self.live[q] && !sound {
                let last = self.live.iter().filter(|live| **live).count() == 1;
                if last && self.singular.is_none() {
                    self.singular = Some(waiting.iter().map(|w| w.1).collect());
                }
                // The last sample keeps its say as long as it can tell one entry from another.
                self.live[q] = last && largest.is_finite() && *largest > 0.0;
            }
        }
        let count = holders.len();
        let candidate = |(h, &row): (usize, &u32)| {
            let live = (0..k).filter(|&q| self.live[q]);
            Candidate {
                cost: (count - 1) * (self.rows[row as usize].len() - 1),
                ratio: live.map(|q| sizes[h * k + q] / largest[q]).fold(1.0, f64::min),
                row,
                column,
            }
        };
        holders.iter().enumerate().map(candidate).collect()
    }

    /// The last pivot of a block leaves no choice, but it tells whether the matrix is singular.
    fn check_last<N: Number>(&mut self, column: u32, row: u32, values: &[N]) {
        let slot = self.slot(row, column) as usize;
        let dead = |q: usize| {
            let size = values[slot * self.samples + q].magnitude();
            !(size > 0.0 && size.is_finite())
        };
        if (0..self.samples).all(|q| !self.live[q] || dead(q)) && self.singular.is_none() {
            self.singular = Some(vec![column]);
        }
    }

    fn eliminate<N: Number>(&mut self, row: u32, column: u32, values: &mut Vec<N>) -> Step {
        let k = self.samples;
        let slot = self.slot(row, column);
        let mut upper = std::mem::take(&mut self.rows[row as usize]);
        upper.retain(|e| e.0 != column);
        for &(j, _) in &upper {
            self.columns[j as usize].retain(|&i| i != row);
        }
        let holders = std::mem::take(&mut self.columns[column as usize]);
        let mut lower = Vec::with_capacity(holders.len() - 1);
        for i in holders.into_iter().filter(|&i| i != row) {
            let list = &mut self.rows[i as usize];
            let at = list.iter().position(|e| e.0 == column).expect("the column lists the row");
            let factor = list.swap_remove(at).1;
            for q in 0..k {
                let pivot = values[slot as usize * k + q];
                values[factor as usize * k + q] = values[factor as usize * k + q].quotient(pivot);
            }
            let mut targets = Vec::with_capacity(upper.len());
            for &(j, above) in &upper {
                let target = match self.rows[i as usize].iter().find(|e| e.0 == j) {
                    Some(entry) => entry.1,
                    None => {
                        let fresh = self.slots;
                        self.slots += 1;
                        self.rows[i as usize].push((j, fresh));
                        self.columns[j as usize].push(i);
                        values.extend(std::iter::repeat_n(N::NOTHING, k));
                        fresh
                    }
                };
                for q in 0..k {
                    let (l, u) = (values[factor as usize * k + q], values[above as usize * k + q]);
                    let sum = &mut values[target as usize * k + q];
                    *sum = sum.less_product(l, u);
                }
                targets.push(target);
            }
            lower.push((i, factor, targets));
        }
        Step { row, unknown: column, slot, upper, lower }
    }
}
