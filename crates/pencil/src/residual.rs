//! What a solution leaves over, computed from the atoms themselves.
//!
//! The matrix that was factored has rounded sums in it: beside 1 S, a leakage of 1e-18 S has vanished from it. The atoms
//! have lost nothing, and a difference of two voltages is taken before it is multiplied, so the residual tells how far the
//! solution is from that of the system as it was stated.

// Loops over lanes are written by index: that is the form that becomes vector instructions.
#![allow(clippy::needless_range_loop)]

use crate::atoms::{Atom, Kind, Side};
use crate::double::{two_product, two_sum};
use crate::lanes::{Cell, Reals, WIDTH};
use crate::loaded::{Spread, Timed};

/// The atoms of a system with the values for one group of lanes. Dynamic atoms stand last, from `dynamic` on.
pub(crate) struct Operands<'a, T> {
    pub atoms: &'a [Atom],
    pub values: &'a [(T, T)],
    pub dynamic: usize,
    pub timed: &'a [Timed],
    pub imaginary: bool,
}

/// The two sides of an atom; a transposed system reads where the other writes.
#[inline(always)]
fn sides<const TRANSPOSED: bool>(atom: &Atom) -> (&Side, &Side) {
    if TRANSPOSED { (&atom.equations, &atom.columns) } else { (&atom.columns, &atom.equations) }
}

/// `high + low −= A x`, with the atoms' values and all sums to twice the working precision.
#[inline(always)]
pub(crate) fn subtract_exact<const FUSED: bool, const TRANSPOSED: bool, T: Spread>(
    operands: &Operands<T>,
    x: &[Cell],
    high: &mut [Cell],
    low: &mut [Cell],
) {
    for (a, atom) in operands.atoms.iter().enumerate() {
        let (from, to) = sides::<TRANSPOSED>(atom);
        let (t, e) = gather_exact(from, x);
        let (p, q) = match atom.kind {
            Kind::Unit => (t, e),
            Kind::Static => {
                let (v, w) = (operands.values[a].0.spread(), operands.values[a].1.spread());
                let (re, re_low) = scaled::<FUSED>(&v, &w, &t.re, &e.re);
                let (im, im_low) = scaled::<FUSED>(&v, &w, &t.im, &e.im);
                (Cell { re, im }, Cell { re: re_low, im: im_low })
            }
            Kind::Dynamic => {
                let timed = &operands.timed[a - operands.dynamic];
                let (im, im_low) = scaled::<FUSED>(&timed.high.im, &timed.low.im, &t.re, &e.re);
                let (mut re, mut re_low) = scaled::<FUSED>(&timed.high.im, &timed.low.im, &t.im, &e.im);
                for k in 0..WIDTH {
                    re[k] = -re[k];
                    re_low[k] = -re_low[k];
                }
                let mut p = Cell { re, im };
                let mut q = Cell { re: re_low, im: im_low };
                if !operands.imaginary {
                    let (re, re_low) = scaled::<FUSED>(&timed.high.re, &timed.low.re, &t.re, &e.re);
                    let (im, im_low) = scaled::<FUSED>(&timed.high.re, &timed.low.re, &t.im, &e.im);
                    accumulate(&mut p.re, &mut q.re, &re, &re_low);
                    accumulate(&mut p.im, &mut q.im, &im, &im_low);
                }
                (p, q)
            }
        };
        match to {
            Side::One(i) => subtract(&mut high[*i as usize], &mut low[*i as usize], &p, &q),
            Side::Opposite(i, j) => {
                subtract(&mut high[*i as usize], &mut low[*i as usize], &p, &q);
                add(&mut high[*j as usize], &mut low[*j as usize], &p, &q);
            }
            Side::Many(terms) => {
                for &(i, negative) in terms {
                    let (high, low) = (&mut high[i as usize], &mut low[i as usize]);
                    if negative { add(high, low, &p, &q) } else { subtract(high, low, &p, &q) }
                }
            }
        }
    }
}

/// `right −= A x` in working precision, over all atoms or over a selection of them.
#[inline(always)]
pub(crate) fn subtract_plain<const TRANSPOSED: bool, T: Spread>(
    operands: &Operands<T>,
    selection: impl Iterator<Item = usize>,
    x: &[Cell],
    right: &mut [Cell],
) {
    for a in selection {
        let atom = &operands.atoms[a];
        let (from, to) = sides::<TRANSPOSED>(atom);
        let t = gather(from, x);
        let p = match atom.kind {
            Kind::Unit => t,
            Kind::Static => {
                let v = operands.values[a].0.spread();
                let mut p = t;
                for k in 0..WIDTH {
                    p.re[k] *= v[k];
                    p.im[k] *= v[k];
                }
                p
            }
            Kind::Dynamic => {
                let v = &operands.timed[a - operands.dynamic].high;
                let mut p = Cell::ZERO;
                for k in 0..WIDTH {
                    p.re[k] = -(v.im[k] * t.im[k]);
                    p.im[k] = v.im[k] * t.re[k];
                }
                if !operands.imaginary {
                    for k in 0..WIDTH {
                        p.re[k] += v.re[k] * t.re[k];
                        p.im[k] += v.re[k] * t.im[k];
                    }
                }
                p
            }
        };
        match to {
            Side::One(i) => deduct(&mut right[*i as usize], &p),
            Side::Opposite(i, j) => {
                deduct(&mut right[*i as usize], &p);
                put(&mut right[*j as usize], &p);
            }
            Side::Many(terms) => {
                for &(i, negative) in terms {
                    let cell = &mut right[i as usize];
                    if negative { put(cell, &p) } else { deduct(cell, &p) }
                }
            }
        }
    }
}

#[inline(always)]
fn put(cell: &mut Cell, p: &Cell) {
    for k in 0..WIDTH {
        cell.re[k] += p.re[k];
        cell.im[k] += p.im[k];
    }
}

#[inline(always)]
fn deduct(cell: &mut Cell, p: &Cell) {
    for k in 0..WIDTH {
        cell.re[k] -= p.re[k];
        cell.im[k] -= p.im[k];
    }
}

#[inline(always)]
fn gather(from: &Side, x: &[Cell]) -> Cell {
    match from {
        Side::One(p) => x[*p as usize],
        Side::Opposite(p, q) => {
            let (mut t, b) = (x[*p as usize], &x[*q as usize]);
            for k in 0..WIDTH {
                t.re[k] -= b.re[k];
                t.im[k] -= b.im[k];
            }
            t
        }
        Side::Many(terms) => {
            let mut t = Cell::ZERO;
            for &(i, negative) in terms {
                let b = &x[i as usize];
                for k in 0..WIDTH {
                    t.re[k] += if negative { -b.re[k] } else { b.re[k] };
                    t.im[k] += if negative { -b.im[k] } else { b.im[k] };
                }
            }
            t
        }
    }
}

#[inline(always)]
fn gather_exact(from: &Side, x: &[Cell]) -> (Cell, Cell) {
    match from {
        Side::One(p) => (x[*p as usize], Cell::ZERO),
        Side::Opposite(p, q) => {
            let (a, b) = (&x[*p as usize], &x[*q as usize]);
            let (mut t, mut e) = (Cell::ZERO, Cell::ZERO);
            for k in 0..WIDTH {
                (t.re[k], e.re[k]) = two_sum(a.re[k], -b.re[k]);
                (t.im[k], e.im[k]) = two_sum(a.im[k], -b.im[k]);
            }
            (t, e)
        }
        Side::Many(terms) => {
            let (mut t, mut e) = (Cell::ZERO, Cell::ZERO);
            for &(i, negative) in terms {
                let b = &x[i as usize];
                if negative { subtract(&mut t, &mut e, b, &Cell::ZERO) } else { add(&mut t, &mut e, b, &Cell::ZERO) }
            }
            (t, e)
        }
    }
}

/// `(v + w)(t + e)` to about twice the working precision.
#[inline(always)]
fn scaled<const FUSED: bool>(v: &Reals, w: &Reals, t: &Reals, e: &Reals) -> (Reals, Reals) {
    let (mut p, mut q) = ([0.0; WIDTH], [0.0; WIDTH]);
    for k in 0..WIDTH {
        let (product, lost) = two_product::<FUSED>(v[k], t[k]);
        p[k] = product;
        q[k] = lost + (v[k] * e[k] + w[k] * t[k]);
    }
    (p, q)
}

#[inline(always)]
fn accumulate(high: &mut Reals, low: &mut Reals, p: &Reals, q: &Reals) {
    for k in 0..WIDTH {
        let (sum, lost) = two_sum(high[k], p[k]);
        high[k] = sum;
        low[k] += lost + q[k];
    }
}

#[inline(always)]
pub(crate) fn add(high: &mut Cell, low: &mut Cell, p: &Cell, q: &Cell) {
    accumulate(&mut high.re, &mut low.re, &p.re, &q.re);
    accumulate(&mut high.im, &mut low.im, &p.im, &q.im);
}

#[inline(always)]
fn subtract(high: &mut Cell, low: &mut Cell, p: &Cell, q: &Cell) {
    for k in 0..WIDTH {
        let (sum, lost) = two_sum(high.re[k], -p.re[k]);
        high.re[k] = sum;
        low.re[k] += lost - q.re[k];
        let (sum, lost) = two_sum(high.im[k], -p.im[k]);
        high.im[k] = sum;
        low.im[k] += lost - q.im[k];
    }
}
