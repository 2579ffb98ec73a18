//! A system cut into its blocks in one pass.

use crate::pencil::{Column, Domain, Pencil, Stamp};
use crate::structure::{Block, Structure};

/// A block as a system of its own.
#[derive(Clone, Debug)]
pub struct Alone {
    /// Which block it is.
    pub block: Block,
    /// Its equations, unknowns numbered as they stand in the block; parameters keep their numbers, and what other blocks find is left out.
    pub pencil: Pencil,
    /// The parameters that stand in it, rising.
    pub parameters: Vec<u32>,
}

/// The blocks of a system that hold a dynamic stamp, each by itself, in solving order.
pub fn alone(pencil: &Pencil, structure: &Structure) -> Vec<Alone> {
    let parts = Parts::of(pencil, structure);
    let dynamic = |stamps: &Vec<u32>| stamps.iter().any(|s| pencil.stamps()[*s as usize].domain == Domain::Dynamic);
    let all = structure.blocks().iter().zip(&parts.stamps).filter(|(_, stamps)| dynamic(stamps));
    all.map(|(block, stamps)| {
        let pencil = parts.pencil(pencil, block, stamps);
        let mut parameters: Vec<u32> =
            pencil.stamps().iter().filter_map(|s| s.value.parameter()).map(|p| p.0).collect();
        parameters.sort_unstable();
        parameters.dedup();
        Alone { block: block.clone(), pencil, parameters }
    })
    .collect()
}

/// What of a system stands in which block.
pub(crate) struct Parts {
    /// For each block, the stamps with a row and a column in it.
    pub stamps: Vec<Vec<u32>>,
    /// For each equation and each unknown, its block and its number there.
    equations: Vec<(u32, u32)>,
    unknowns: Vec<(u32, u32)>,
}

impl Parts {
    /// Those of a system.
    pub fn of(pencil: &Pencil, structure: &Structure) -> Parts {
        let size = structure.size();
        let (mut equations, mut unknowns) = (vec![(0, 0); size], vec![(0, 0); size]);
        for (b, block) in structure.blocks().iter().enumerate() {
            for (k, (i, j)) in block.equations.iter().zip(&block.unknowns).enumerate() {
                (equations[*i as usize], unknowns[*j as usize]) = ((b as u32, k as u32), (b as u32, k as u32));
            }
        }
        let mut stamps = vec![Vec::new(); structure.blocks().len()];
        for (k, s) in pencil.stamps().iter().enumerate() {
            for (i, _) in &s.rows {
                let own = equations[*i as usize].0;
                let within = |(c, _): &(Column, f64)| matches!(c, Column::Unknown(j) if unknowns[*j as usize].0 == own);
                if stamps[own as usize].last() != Some(&(k as u32)) && s.columns.iter().any(within) {
                    stamps[own as usize].push(k as u32);
                }
            }
        }
        Parts { stamps, equations, unknowns }
    }

    /// A block by itself; its parameters keep their numbers.
    pub fn pencil(&self, pencil: &Pencil, block: &Block, stamps: &[u32]) -> Pencil {
        let own = self.unknowns[block.unknowns[0] as usize].0;
        let row = |(i, u): &(u32, f64)| {
            let (b, k) = self.equations[*i as usize];
            (b == own).then_some((k, *u))
        };
        let column = |(c, v): &(Column, f64)| match c {
            Column::Unknown(j) if self.unknowns[*j as usize].0 == own => {
                Some((Column::Unknown(self.unknowns[*j as usize].1), *v))
            }
            _ => None,
        };
        let one = |k: &u32| {
            let s = &pencil.stamps()[*k as usize];
            let (mut rows, mut columns): (Vec<_>, Vec<_>) =
                (s.rows.iter().filter_map(row).collect(), s.columns.iter().filter_map(column).collect());
            rows.sort_unstable_by_key(|r| r.0);
            columns.sort_unstable_by_key(|c| c.0);
            Stamp { rows, columns, ..*s }
        };
        Pencil::with_stamps(block.unknowns.len() as u32, 0, pencil.parameters(), stamps.iter().map(one).collect())
    }
}
