//! An elimination order as lists of indices, ready to be replayed.

use crate::order::{Slot, Steps};

/// The steps of one block: ranges into the lists of the [`Tape`].
#[derive(Clone, Debug)]
pub(crate) struct BlockTape {
    pub steps: std::ops::Range<usize>,
    pub couplings: std::ops::Range<usize>,
}

/// One step; equation and unknown of the pivot both carry the step's own number.
#[derive(Clone, Copy, Debug)]
pub(crate) struct StepTape {
    pub slot: Slot,
    /// The range of its rest in [`Tape::upper`].
    pub upper: (u32, u32),
    /// The range of its column in [`Tape::lower`].
    pub lower: (u32, u32),
}

/// An entry of a factor: its row or unknown, and its slot.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Place {
    pub index: u32,
    pub slot: Slot,
}

/// An elimination order with equations and unknowns numbered by their pivot and slots numbered by first use.
#[derive(Clone, Debug)]
pub(crate) struct Tape {
    pub blocks: Vec<BlockTape>,
    pub steps: Vec<StepTape>,
    pub upper: Vec<Place>,
    pub lower: Vec<Place>,
    /// For each entry of `lower`, where its products with the step's `upper` go: as many as `upper` has, one list after
    /// the other.
    pub targets: Vec<Slot>,
    /// (row, unknown, slot) of entries in columns of earlier blocks.
    pub couplings: Vec<(u32, u32, Slot)>,
    pub slots: usize,
    /// The step that eliminates each equation of the pencil.
    pub row: Vec<u32>,
    /// The step that finds each unknown of the pencil.
    pub column: Vec<u32>,
    /// The new number of each slot of the pattern.
    pub slot_of: Vec<Slot>,
}

impl Tape {
    pub fn of(order: &Steps, size: usize) -> Tape {
        let (mut row, mut column) = (vec![0; size], vec![0; size]);
        let all = order.blocks.iter().flat_map(|b| &b.steps);
        for (k, step) in all.enumerate() {
            row[step.row as usize] = k as u32;
            column[step.unknown as usize] = k as u32;
        }
        const NEW: Slot = Slot::MAX;
        let mut slot_of = vec![NEW; order.slots];
        let mut used = 0;
        let mut number = |slot: Slot| {
            let known = &mut slot_of[slot as usize];
            if *known == NEW {
                *known = used;
                used += 1;
            }
            *known
        };
        let mut tape = Tape {
            blocks: Vec::new(),
            steps: Vec::with_capacity(size),
            upper: Vec::new(),
            lower: Vec::new(),
            targets: Vec::new(),
            couplings: Vec::new(),
            slots: order.slots,
            row: Vec::new(),
            column: Vec::new(),
            slot_of: Vec::new(),
        };
        for block in &order.blocks {
            let (first, coupled) = (tape.steps.len(), tape.couplings.len());
            for &(i, j, slot) in &block.couplings {
                tape.couplings.push((row[i as usize], column[j as usize], number(slot)));
            }
            for step in &block.steps {
                let (u, l) = (tape.upper.len() as u32, tape.lower.len() as u32);
                let slot = number(step.slot);
                for &(j, above) in &step.upper {
                    tape.upper.push(Place { index: column[j as usize], slot: number(above) });
                }
                for (i, factor, targets) in &step.lower {
                    tape.lower.push(Place { index: row[*i as usize], slot: number(*factor) });
                    tape.targets.extend(targets.iter().map(|&t| number(t)));
                }
                tape.steps.push(StepTape {
                    slot,
                    upper: (u, tape.upper.len() as u32),
                    lower: (l, tape.lower.len() as u32),
                });
            }
            tape.blocks.push(BlockTape { steps: first..tape.steps.len(), couplings: coupled..tape.couplings.len() });
        }
        (tape.row, tape.column, tape.slot_of) = (row, column, slot_of);
        tape
    }
}
