//! Parameter values made ready for a group of lanes.

// Loops over lanes are written by index: that is the form that becomes vector instructions.
#![allow(clippy::needless_range_loop)]

use crate::atoms::{Atom, Kind, Share};
use crate::double::two_product;
use crate::lanes::{Cell, Reals, WIDTH};

/// A number that all lanes share, or one number a lane.
pub(crate) trait Spread: Copy {
    const ZERO: Self;
    fn set(&mut self, lane: usize, value: f64);
    fn add(&mut self, other: Self, negative: bool);
    fn spread(&self) -> Reals;
}

impl Spread for f64 {
    const ZERO: f64 = 0.0;
    fn set(&mut self, _: usize, value: f64) {
        *self = value;
    }
    fn add(&mut self, other: f64, negative: bool) {
        *self += if negative { -other } else { other };
    }
    #[inline(always)]
    fn spread(&self) -> Reals {
        [*self; WIDTH]
    }
}

impl Spread for Reals {
    const ZERO: Reals = [0.0; WIDTH];
    fn set(&mut self, lane: usize, value: f64) {
        self[lane] = value;
    }
    fn add(&mut self, other: Reals, negative: bool) {
        for (sum, value) in self.iter_mut().zip(other) {
            *sum += if negative { -value } else { value };
        }
    }
    #[inline(always)]
    fn spread(&self) -> Reals {
        *self
    }
}

/// The values of the atoms and the entries of `G` and `C`, for lanes that share them or for one group.
pub(crate) struct Loaded<T> {
    /// The value of each atom, without `s`: what a number holds, and what is left.
    pub value: Vec<(T, T)>,
    /// `G` and `C` in each slot of the pattern, rounded: what is factored.
    pub entry: Vec<(T, T)>,
}

impl<T: Spread> Loaded<T> {
    pub fn new(atoms: usize, slots: usize) -> Self {
        Loaded { value: vec![(T::ZERO, T::ZERO); atoms], entry: vec![(T::ZERO, T::ZERO); slots] }
    }

    /// Takes in one slice of parameter values a lane (or a single one).
    pub fn load(&mut self, atoms: &[Atom], shares: &[Share], lanes: &[&[f64]]) {
        for (lane, values) in lanes.iter().enumerate() {
            for (atom, place) in atoms.iter().zip(&mut self.value) {
                let value = atom.evaluate(values);
                place.0.set(lane, value.high);
                place.1.set(lane, value.low);
            }
        }
        self.entry.fill((T::ZERO, T::ZERO));
        for share in shares {
            let value = self.value[share.atom as usize].0;
            let entry = &mut self.entry[share.slot as usize];
            match atoms[share.atom as usize].kind {
                Kind::Dynamic => entry.1.add(value, share.negative),
                Kind::Static | Kind::Unit => entry.0.add(value, share.negative),
            }
        }
    }
}

/// The complex frequencies of a group of lanes.
#[derive(Clone, Copy)]
pub(crate) struct Frequencies {
    pub re: Reals,
    pub im: Reals,
    /// All real parts are 0. Groups are made so that lanes of both kinds never meet.
    pub imaginary: bool,
}

/// The value of a dynamic atom times `s`, to twice the working precision.
#[derive(Clone, Copy)]
pub(crate) struct Timed {
    pub high: Cell,
    pub low: Cell,
}

impl Timed {
    pub const ZERO: Timed = Timed { high: Cell::ZERO, low: Cell::ZERO };
}

/// Multiplies the dynamic atoms' values by `s`.
#[inline(always)]
pub(crate) fn time<const FUSED: bool, T: Spread>(values: &[(T, T)], s: &Frequencies, timed: &mut [Timed]) {
    for (value, timed) in values.iter().zip(timed) {
        let (high, low) = (value.0.spread(), value.1.spread());
        for k in 0..WIDTH {
            let (product, lost) = two_product::<FUSED>(high[k], s.im[k]);
            timed.high.im[k] = product;
            timed.low.im[k] = lost + low[k] * s.im[k];
        }
        if !s.imaginary {
            for k in 0..WIDTH {
                let (product, lost) = two_product::<FUSED>(high[k], s.re[k]);
                timed.high.re[k] = product;
                timed.low.re[k] = lost + low[k] * s.re[k];
            }
        }
    }
}

/// Writes `G + sC` into the factors' store, whose slots beyond the pattern become 0.
#[inline(always)]
pub(crate) fn assemble<T: Spread>(entries: &[(T, T)], slot_of: &[u32], s: &Frequencies, store: &mut [Cell]) {
    for &slot in &slot_of[entries.len()..] {
        store[slot as usize] = Cell::ZERO;
    }
    for (entry, &slot) in entries.iter().zip(slot_of) {
        let (g, c) = (entry.0.spread(), entry.1.spread());
        let cell = &mut store[slot as usize];
        if s.imaginary {
            for k in 0..WIDTH {
                cell.re[k] = g[k];
                cell.im[k] = c[k] * s.im[k];
            }
        } else {
            for k in 0..WIDTH {
                cell.re[k] = g[k] + c[k] * s.re[k];
                cell.im[k] = c[k] * s.im[k];
            }
        }
    }
}
