//! A system compiled for solving.

use std::sync::Arc;

use num_complex::Complex64;

use crate::atoms::{Atom, Kind, Share, assembly, atoms};
use crate::loaded::Loaded;
use crate::order::{Pattern, choose};
use crate::pencil::Pencil;
use crate::structure::Structure;
use crate::tape::Tape;

/// A system compiled for solving.
#[derive(Debug)]
pub(crate) struct Program {
    pub tape: Tape,
    /// Atoms in the numbering of the tape: unit and static ones, then dynamic ones.
    pub atoms: Vec<Atom>,
    pub shares: Vec<Share>,
    /// The first dynamic atom.
    pub dynamic: usize,
    /// The atoms that touch a given column.
    pub given_atoms: Vec<u32>,
    /// Slots of the pattern, without fill.
    pub entries: usize,
    pub structure: Structure,
    /// The same in the numbering of the pencil, for lanes that get an order of their own.
    pub plain: (Vec<Atom>, Vec<Share>, Pattern),
    pub pencil: Pencil,
}

impl Program {
    pub fn size(&self) -> usize {
        self.tape.steps.len()
    }

    pub fn columns(&self) -> usize {
        self.size() + self.pencil.givens() as usize
    }

    /// Whether parameters of these values make only finite numbers.
    pub fn finite(&self, values: &[f64]) -> bool {
        values.iter().all(|v| v.is_finite()) && self.plain.0.iter().all(|a| a.evaluate(values).high.is_finite())
    }
}

/// The elimination order of a system: sparse factors in block-triangular form, chosen once a topology and replayed at
/// every point. Cloning shares it.
#[derive(Clone, Debug)]
pub struct Order {
    pub(crate) program: Arc<Program>,
}

/// Frequencies in hertz at which every pivot must be sound at once, beside DC.
const SAMPLES: [f64; 6] = [0.1, 10.0, 1e3, 1e5, 1e7, 1e9];

impl Order {
    /// Chooses the order at the given parameter values: pivots that are sound at DC and from 0.1 Hz to 1 GHz at once, as
    /// far as the system has a solution there. Other values need no other order: a lane that the order does not suit is
    /// noticed and gets one of its own, at a cost of some tens of microseconds.
    ///
    /// # Panics
    /// If `values` has not one number a parameter, or `structure` is another pencil's.
    pub fn compile(pencil: &Pencil, structure: &Structure, values: &[f64]) -> Order {
        assert_eq!(values.len(), pencil.parameters() as usize);
        assert_eq!(structure.size(), pencil.unknowns() as usize);
        let identity: Vec<u32> = (0..pencil.unknowns()).collect();
        let plain = atoms(pencil, &identity, &identity);
        let (pattern, shares) = assembly(&plain, pencil.unknowns());
        let mut loaded = Loaded::<f64>::new(plain.len(), pattern.entries.len());
        loaded.load(&plain, &shares, &[values]);
        let points: Vec<f64> =
            std::iter::once(0.0).chain(SAMPLES.iter().map(|f| 2.0 * std::f64::consts::PI * f)).collect();
        let mut samples: Vec<Complex64> =
            loaded.entry.iter().flat_map(|&(g, c)| points.iter().map(move |w| Complex64::new(g, c * w))).collect();
        let (steps, _) = choose(&pattern, structure, points.len(), &mut samples);
        let mut tape = Tape::of(&steps, structure.size());
        let moved = atoms(pencil, &tape.row, &tape.column);
        let (moved_pattern, moved_shares) = assembly(&moved, pencil.unknowns());
        // The pattern's slots in the order of the moved pattern, then those of the fill.
        let old_slot: std::collections::HashMap<(u32, u32), u32> = pattern
            .entries
            .iter()
            .enumerate()
            .map(|(slot, &(i, j))| ((tape.row[i as usize], tape.column[j as usize]), slot as u32))
            .collect();
        let of_moved = moved_pattern.entries.iter().map(|entry| tape.slot_of[old_slot[entry] as usize]);
        let of_fill = tape.slot_of[pattern.entries.len()..].iter().copied();
        tape.slot_of = of_moved.chain(of_fill).collect();
        let dynamic = moved.iter().position(|a| a.kind == Kind::Dynamic).unwrap_or(moved.len());
        let touches = |a: &Atom| a.columns.terms().any(|t| t.0 >= pencil.unknowns());
        let given_atoms = (0..moved.len() as u32).filter(|&a| touches(&moved[a as usize])).collect();
        Order {
            program: Arc::new(Program {
                tape,
                entries: moved_pattern.entries.len(),
                atoms: moved,
                shares: moved_shares,
                dynamic,
                given_atoms,
                structure: structure.clone(),
                plain: (plain, shares, pattern),
                pencil: pencil.clone(),
            }),
        }
    }

    /// The number of multiplications and subtractions that factoring one point takes.
    pub fn operations(&self) -> usize {
        self.program.tape.targets.len()
    }

    /// Numbers in the store of the factors, fill included.
    pub fn slots(&self) -> usize {
        self.program.tape.slots
    }
}
