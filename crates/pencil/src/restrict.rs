//! The part of a system that a question needs.

use crate::generic::{At, generic_rank};
use crate::pencil::{Column, Parameter, Pencil, Stamp};
use crate::structure::{Excited, Structure};

/// A part of a system, square in itself. Its parameters keep their numbers, so the same values serve.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Restricted {
    /// The part. Its givens are those of the whole; behind a cut the cut unknown follows them as one more.
    pub pencil: Pencil,
    /// The unknown of the whole that each unknown of the part stands for, in rising order.
    pub unknowns: Vec<u32>,
    /// The equation of the whole that each equation of the part stands for.
    pub equations: Vec<u32>,
}

impl Restricted {
    /// The number in the part of an unknown of the whole; `None` where it is not in the part. In a part made by
    /// [`restrict`] that means that it is 0.
    pub fn unknown(&self, whole: u32) -> Option<u32> {
        self.unknowns.binary_search(&whole).ok().map(|k| k as u32)
    }

    /// The number in the part of an equation of the whole.
    pub fn equation(&self, whole: u32) -> Option<u32> {
        self.equations.iter().position(|&e| e == whole).map(|k| k as u32)
    }

    /// The given column that stands for the cut, in a part made by [`behind`].
    pub fn cut(&self) -> u32 {
        self.pencil.givens() - 1
    }

    fn of(pencil: &Pencil, structure: &Structure, keep: &[bool], cut: Option<u32>) -> Restricted {
        let unknowns: Vec<u32> = (0..pencil.unknowns()).filter(|&j| keep[j as usize]).collect();
        let equations: Vec<u32> = unknowns.iter().map(|&j| structure.equation_of(j)).collect();
        let mut row_of = vec![None; keep.len()];
        let mut column_of = vec![None; keep.len()];
        for (k, (&j, &i)) in unknowns.iter().zip(&equations).enumerate() {
            column_of[j as usize] = Some(Column::Unknown(k as u32));
            row_of[i as usize] = Some(k as u32);
        }
        if let Some(v) = cut {
            column_of[v as usize] = Some(Column::Given(pencil.givens()));
        }
        let place = |column: Column| match column {
            Column::Unknown(j) => column_of[j as usize],
            Column::Given(_) => Some(column),
        };
        let stamps = structure.stamps_in(&equations).into_iter().filter_map(|k| {
            let stamp = &pencil.stamps()[k as usize];
            let rows: Vec<_> = stamp.rows.iter().filter_map(|&(i, u)| Some((row_of[i as usize]?, u))).collect();
            let columns: Vec<_> = stamp.columns.iter().filter_map(|&(c, v)| Some((place(c)?, v))).collect();
            let empty = rows.is_empty() || columns.is_empty();
            (!empty).then_some(Stamp { rows, columns, ..*stamp })
        });
        Restricted {
            pencil: Pencil::with_stamps(
                unknowns.len() as u32,
                pencil.givens() + u32::from(cut.is_some()),
                pencil.parameters(),
                stamps.collect(),
            ),
            unknowns,
            equations,
        }
    }
}

/// The part of the system that the wanted unknowns need when only these equations and givens are excited. It is exact:
/// unknowns that no excitation reaches are 0 and are left out, and so are those that the wanted ones do not hang on.
pub fn restrict(pencil: &Pencil, structure: &Structure, excited: Excited, wanted: &[u32]) -> Restricted {
    let reached = structure.influenced_by(excited);
    let needed = structure.influencing(wanted);
    let keep: Vec<bool> = reached.iter().zip(&needed).map(|(a, b)| *a && *b).collect();
    Restricted::of(pencil, structure, &keep, None)
}

/// The same behind a cut: where every way from the excitation to `wanted` leads through unknown `v`, the system in which
/// `v` is given (as the last given column) and only what lies between `v` and `wanted` remains. `zero` names parameters
/// that are identically 0.
///
/// `not` names equations that are not to be used, since another system is meant in which they are replaced. What the wanted unknowns
/// hang on in any way must do without them, even where it is 0: an unknown that such an equation holds at 0 is not 0 in that system.
///
/// `None` where `v` is no cut, where a wanted unknown does not hang on `v`, where an equation of `not` is needed, or where the rest has no
/// unique solution for generic values at almost every `s`.
pub fn behind(
    pencil: &Pencil,
    structure: &Structure,
    v: u32,
    excited: Excited,
    wanted: &[u32],
    not: &[u32],
    zero: &[Parameter],
) -> Option<Restricted> {
    let others: Vec<u32> = wanted.iter().copied().filter(|&w| w != v).collect();
    let needed = structure.needed(&others, Some(v));
    let reached = structure.reached(excited, Some(v));
    if (0..needed.len()).any(|j| needed[j] && reached[j]) {
        return None;
    }
    if (0..needed.len()).any(|j| needed[j] && not.contains(&structure.equation_of(j as u32))) {
        return None;
    }
    // Of what is left, only what v reaches is other than 0.
    let mut holders: Vec<u32> = Vec::new();
    for (i, needed) in needed.iter().enumerate() {
        if *needed && structure.stands_in(v, structure.equation_of(i as u32)) {
            holders.push(structure.equation_of(i as u32));
        }
    }
    let from_v = structure.reached(Excited { equations: &holders, givens: &[] }, Some(v));
    if others.iter().any(|&w| !from_v[w as usize]) {
        return None;
    }
    let keep: Vec<bool> = needed.iter().zip(&from_v).map(|(a, b)| *a && *b).collect();
    let part = Restricted::of(pencil, structure, &keep, Some(v));
    generic_rank(&part.pencil, At::AnyFrequency, zero).ok().map(|()| part)
}
