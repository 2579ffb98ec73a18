//! The roots of a system: the values of `s` at which `(G + sC) x = 0` has a solution other than 0.
//!
//! Block by block of the triangular form, so that equal sections in a row stay apart: there the roots of the whole are
//! defective and no routine for the whole finds them. In a block `C = Σ p qᵀ`, and the eigenvalues λ of
//! `qᵀ (G + s₀C)⁻¹ p` at a real `s₀ > 0` give `s = s₀ − 1/λ`. How many are finite and how many lie at the origin is decided
//! exactly (`degree.rs`), everything else to twice the working precision; each root is then held against the stamps
//! themselves by inverse iteration from both sides (Ostrowski's Rayleigh quotient, Arch. Rational Mech. Anal. 3, 1959).

use num_complex::Complex64;

use crate::atoms::{Atom, Kind, Share, Side, assembly, atoms};
use crate::deflate::deflated;
use crate::degree::{Degree, degree};
use crate::double::{ComplexDouble, Double};
use crate::eigen::Square;
use crate::excitation::Unsure;
use crate::loose::{closed, zeros};
use crate::order::Pattern;
use crate::parts::Parts;
use crate::pencil::{Domain, Parameter, Pencil, Value};
use crate::rescue::Point;
use crate::structure::{Block, Structure};

/// A root of a system.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Root {
    /// In rad/s. A root with an imaginary part stands beside its conjugate, the positive one first.
    pub s: Complex64,
    /// How far it moves, relative to its modulus, when every value changes by half a unit in its last place: no digit beyond
    /// that is known. 0 for a root at the origin, which is there exactly.
    pub error: f64,
}

/// The roots of one strongly connected block.
#[derive(Clone, Debug, PartialEq)]
pub struct Roots {
    /// The block.
    pub block: Block,
    /// Its finite roots, each as often as it counts, by rising modulus.
    pub roots: Vec<Root>,
    /// Beside each root the parameters that move it, and by how much: |∂s/∂x · x/s|. Empty for a root at the origin.
    pub moved_by: Vec<Vec<(Parameter, f64)>>,
    /// Roots that lie at infinity: independent dynamic stamps less finite roots.
    pub infinite: usize,
}

/// More dynamic stamps in one block than this are not worked through.
pub const MOST: usize = 160;

/// The finite roots of a system at the given values, block by block in solving order; blocks without dynamic stamps are left
/// out.
///
/// # Errors
/// [`Unsure::Singular`] where the determinant is 0 at every `s`; [`Unsure::NotFinite`] where a value is not a finite number;
/// [`Unsure::Unsettled`] where a root does not hold against the stamps; [`Unsure::TooLarge`] beyond [`MOST`].
///
/// # Panics
/// If `values` has not one number a parameter.
pub fn roots(pencil: &Pencil, values: &[f64]) -> Result<Vec<Roots>, Unsure> {
    assert_eq!(values.len(), pencil.parameters() as usize);
    // What is exactly 0 joins nothing: without it the blocks are finer.
    let whole = roots_of(&pencil.without(&zeros(values)), values);
    // What the zeros leave open moves no root of the rest.
    match whole {
        Err(Unsure::Singular { .. }) => closed(pencil, values).map_or(whole, |rest| roots_of(&rest, values)),
        _ => whole,
    }
}

fn roots_of(pencil: &Pencil, values: &[f64]) -> Result<Vec<Roots>, Unsure> {
    let structure = Structure::of(pencil)
        .map_err(|d| Unsure::Singular { unknowns: d.undetermined.into_iter().flatten().collect() })?;
    let parts = Parts::of(pencil, &structure);
    let mut found = Vec::new();
    for (block, stamps) in structure.blocks().iter().zip(&parts.stamps) {
        // An unknown that its own equation finds without a reactance has no root.
        if block.unknowns.len() == 1 && stamps.iter().all(|s| pencil.stamps()[*s as usize].domain == Domain::Static) {
            continue;
        }
        let part = parts.pencil(pencil, block, stamps);
        let system = System::of(&part, values);
        if !system.finite() {
            return Err(Unsure::NotFinite);
        }
        let (roots, infinite) = system.roots().map_err(|why| named(why, block))?;
        if infinite > 0 || !roots.is_empty() {
            let (roots, moved_by) = roots.into_iter().unzip();
            found.push(Roots { block: block.clone(), roots, moved_by, infinite });
        }
    }
    Ok(found)
}

fn named(why: Unsure, block: &Block) -> Unsure {
    match why {
        Unsure::Singular { .. } => Unsure::Singular { unknowns: block.unknowns.clone() },
        other => other,
    }
}

/// What moves a root, and by how much.
type Moves = Vec<(Parameter, f64)>;

/// A piece `p qᵀ` of `C`.
struct Piece {
    p: Side,
    q: Vec<(u32, Double)>,
}

/// One block at its values.
struct System<'a> {
    size: usize,
    values: &'a [f64],
    atoms: Vec<Atom>,
    /// The atoms' values without `s`.
    evaluated: Vec<Double>,
    shares: Vec<Share>,
    pattern: Pattern,
    structure: Option<Structure>,
    dynamic: Vec<Piece>,
}

impl<'a> System<'a> {
    fn of(pencil: &Pencil, values: &'a [f64]) -> System<'a> {
        let identity: Vec<u32> = (0..pencil.unknowns()).collect();
        let atoms = atoms(pencil, &identity, &identity);
        let (pattern, shares) = assembly(&atoms, pencil.unknowns());
        let size = pencil.unknowns() as usize;
        let evaluated: Vec<Double> = atoms.iter().map(|a| a.evaluate(values)).collect();
        let mut dynamic: Vec<Piece> = Vec::new();
        for (atom, weight) in atoms.iter().zip(&evaluated).filter(|(a, _)| a.kind == Kind::Dynamic) {
            let at = dynamic.iter().position(|d| d.p == atom.equations).unwrap_or_else(|| {
                dynamic.push(Piece { p: atom.equations.clone(), q: Vec::new() });
                dynamic.len() - 1
            });
            for (j, negative) in atom.columns.terms() {
                let weight = if negative { -*weight } else { *weight };
                match dynamic[at].q.iter_mut().find(|e| e.0 == j) {
                    Some(entry) => entry.1 = entry.1 + weight,
                    None => dynamic[at].q.push((j, weight)),
                }
            }
        }
        dynamic.iter_mut().for_each(|d| d.q.retain(|e| !e.1.is_zero()));
        dynamic.retain(|d| !d.q.is_empty());
        System { size, values, atoms, evaluated, shares, pattern, structure: Structure::of(pencil).ok(), dynamic }
    }

    fn finite(&self) -> bool {
        self.evaluated.iter().all(|v| v.value().is_finite())
    }

    fn point(&self, s: Complex64) -> Option<Point<'_>> {
        let structure = self.structure.as_ref()?;
        Some(Point::of(&self.atoms, &self.shares, &self.pattern, structure, 0, s, &self.evaluated))
    }

    /// The finite roots, each with what moves it, and how many lie at infinity.
    fn roots(&self) -> Result<(Vec<(Root, Moves)>, usize), Unsure> {
        let all = self.dynamic.len();
        if all > MOST {
            return Err(Unsure::TooLarge);
        }
        let singular = || Unsure::Singular { unknowns: Vec::new() };
        let Degree { degree: finite, at_origin } =
            degree(&self.atoms, self.size, self.values, all).ok_or_else(singular)?;
        if finite == 0 {
            return Ok((Vec::new(), all));
        }
        let mut shift = 1e5;
        let mut found = self.shifted(&mut shift, finite, at_origin)?;
        // A shift far from the middle of the roots costs digits at the other end.
        let sizes = || found.iter().map(|z| z.norm()).filter(|x| *x > 0.0);
        let (least, most) = (sizes().fold(f64::INFINITY, f64::min), sizes().fold(0.0, f64::max));
        let middle = (least * most).sqrt();
        if middle.is_finite() && middle > 0.0 && !(1e-3..1e3).contains(&(middle / shift)) {
            shift = middle;
            found = self.shifted(&mut shift, finite, at_origin)?;
        }
        let mut roots = Vec::with_capacity(finite);
        for z in &found {
            let s = z.value();
            if s.im < 0.0 {
                continue;
            }
            let (error, moves) = self.checked(s, &found)?;
            if s.im > 0.0 {
                roots.push((Root { s: s.conj(), error }, moves.clone()));
            }
            roots.push((Root { s, error }, moves));
        }
        let order = |(r, _): &(Root, Moves)| (r.s.norm(), r.s.re, -r.s.im);
        roots.sort_by(|a, b| order(a).partial_cmp(&order(b)).unwrap_or(std::cmp::Ordering::Equal));
        if roots.len() != finite {
            return Err(Unsure::Unsettled { estimate: f64::INFINITY });
        }
        Ok((roots, all - finite))
    }

    /// The roots by way of the eigenvalues at a real shift, which moves off a root that it happens to hit.
    fn shifted(&self, shift: &mut f64, finite: usize, at_origin: usize) -> Result<Vec<ComplexDouble>, Unsure> {
        let unsettled = Unsure::Unsettled { estimate: f64::INFINITY };
        for _ in 0..4 {
            let Some(matrix) = self.reduced(*shift) else {
                *shift *= 1.234_567_8;
                continue;
            };
            let Some(eigenvalues) = deflated(matrix, finite).and_then(Square::eigenvalues) else {
                *shift *= 1.234_567_8;
                continue;
            };
            let one = ComplexDouble::real(Double::new(1.0));
            let shifted = ComplexDouble::real(Double::new(*shift));
            let mut found: Vec<ComplexDouble> = eigenvalues.iter().map(|l| shifted.minus(one.over(*l))).collect();
            if found.iter().any(|z| !z.value().is_finite()) {
                *shift *= 1.234_567_8;
                continue;
            }
            found.sort_by(|a, b| a.norm().total_cmp(&b.norm()));
            found[..at_origin].fill(ComplexDouble::ZERO);
            return Ok(found);
        }
        Err(unsettled)
    }

    /// `qᵀ (G + s₀C)⁻¹ p`; `None` where `s₀` is a root.
    fn reduced(&self, shift: f64) -> Option<Square> {
        let point = self.point(Complex64::new(shift, 0.0))?;
        if !point.exhausted().is_empty() {
            return None;
        }
        let count = self.dynamic.len();
        let mut matrix = Square::zero(count);
        for (m, piece) in self.dynamic.iter().enumerate() {
            let mut right = vec![Complex64::new(0.0, 0.0); self.size];
            for (i, negative) in piece.p.terms() {
                right[i as usize].re += if negative { -1.0 } else { 1.0 };
            }
            let x = point.forward(&right, &[]).x;
            for (k, other) in self.dynamic.iter().enumerate() {
                let sum = other.q.iter().fold(Double::ZERO, |s, (j, w)| s + *w * x[*j as usize].re);
                matrix.set(k, m, sum);
            }
        }
        Some(matrix)
    }

    /// Holds a root against the stamps, and tells how well it is known and what moves it.
    fn checked(&self, s: Complex64, all: &[ComplexDouble]) -> Result<(f64, Moves), Unsure> {
        let modulus = s.norm();
        if modulus == 0.0 {
            return Ok((0.0, Moves::new()));
        }
        // A little beside the root, where the system still has a solution.
        let beside = s * (1.0 + 2f64.powi(-38));
        let unsettled = |estimate| Unsure::Unsettled { estimate };
        let point = self.point(beside).ok_or(unsettled(f64::INFINITY))?;
        let start: Vec<Complex64> =
            (0..self.size).map(|i| Complex64::new(1.0 + ((i * 7919) % 13) as f64 / 13.0, 0.0)).collect();
        let (mut x, mut y) = (start.clone(), start);
        let mut correction = Complex64::new(f64::INFINITY, 0.0);
        for _ in 0..2 {
            let right = self.times_dynamic(&x, false);
            let (next_x, size_x) = unit(&point.plainly(&right, false));
            let (next_y, _) = unit(&point.plainly(&self.times_dynamic(&y, true), true));
            let image: Complex64 = right.iter().zip(&next_y).map(|(b, y)| b * y).sum();
            correction = image / size_x / self.between(&next_y, &next_x);
            (x, y) = (next_x, next_y);
        }
        if !correction.is_finite() {
            return Err(unsettled(f64::INFINITY));
        }
        let off = (beside - correction - s).norm() / modulus;
        let between = self.between(&y, &x).norm() * modulus;
        let moved: f64 = (0..self.atoms.len()).map(|a| self.share(a, &y, &x, modulus)).sum();
        // Roots that lie together move together, with the root of what moves one (Lidskii, USSR Comput. Math. 6, 1966).
        let near = all.iter().filter(|z| (z.value() - s).norm() < 0.1 * modulus).count().max(1);
        let apart = 10.0 * (0.5 * f64::EPSILON).powf(1.0 / near as f64);
        let error = (moved / between * 0.5 * f64::EPSILON).min(if near > 1 { apart } else { f64::INFINITY });
        if !(off <= 1e-9 || off <= 100.0 * error) || error.is_nan() {
            return Err(unsettled(off));
        }
        Ok((error, self.moves(&y, &x, s, between)))
    }

    /// By how much each parameter moves a root, relative in both: `∂s = −yᵀ ∂A x / yᵀCx`.
    fn moves(&self, y: &[Complex64], x: &[Complex64], s: Complex64, between: f64) -> Moves {
        let mut sums: Vec<(Parameter, Complex64)> = Vec::new();
        for (atom, value) in self.atoms.iter().zip(&self.evaluated) {
            let Some(parameter) = atom.value.parameter().filter(|_| atom.kind != Kind::Unit) else { continue };
            let mut by = gathered(&atom.equations, y) * gathered(&atom.columns, x) * value.value();
            if atom.kind == Kind::Dynamic {
                by *= s;
            }
            if matches!(atom.value, Value::Reciprocal(_)) {
                by = -by;
            }
            match sums.iter_mut().find(|e| e.0 == parameter) {
                Some(entry) => entry.1 += by,
                None => sums.push((parameter, by)),
            }
        }
        sums.into_iter().map(|(p, by)| (p, by.norm() / between)).collect()
    }

    /// `Cx`, or `Cᵀx`.
    fn times_dynamic(&self, x: &[Complex64], transposed: bool) -> Vec<Complex64> {
        let mut out = vec![Complex64::new(0.0, 0.0); self.size];
        for (atom, value) in self.dynamic_atoms() {
            let (from, to) =
                if transposed { (&atom.equations, &atom.columns) } else { (&atom.columns, &atom.equations) };
            let t = gathered(from, x) * value.value();
            for (i, negative) in to.terms() {
                out[i as usize] += if negative { -t } else { t };
            }
        }
        out
    }

    fn dynamic_atoms(&self) -> impl Iterator<Item = (&Atom, &Double)> {
        self.atoms.iter().zip(&self.evaluated).filter(|(a, _)| a.kind == Kind::Dynamic)
    }

    /// `yᵀ C x`
    fn between(&self, y: &[Complex64], x: &[Complex64]) -> Complex64 {
        self.dynamic_atoms().map(|(a, v)| gathered(&a.equations, y) * gathered(&a.columns, x) * v.value()).sum()
    }

    /// What an atom's own value contributes to `yᵀ A x`; constants are exact.
    fn share(&self, atom: usize, y: &[Complex64], x: &[Complex64], modulus: f64) -> f64 {
        let (atom, value) = (&self.atoms[atom], self.evaluated[atom].value());
        if atom.value.parameter().is_none() || atom.kind == Kind::Unit {
            return 0.0;
        }
        let share = (gathered(&atom.equations, y) * gathered(&atom.columns, x) * value).norm();
        if atom.kind == Kind::Dynamic { share * modulus } else { share }
    }
}

/// The sum over one side of an atom; givens are 0.
fn gathered(side: &Side, x: &[Complex64]) -> Complex64 {
    side.terms().filter_map(|(i, negative)| x.get(i as usize).map(|z| if negative { -*z } else { *z })).sum()
}

/// A vector with its largest entry at 1 in modulus, and what it was divided by.
fn unit(x: &[ComplexDouble]) -> (Vec<Complex64>, f64) {
    let largest = x.iter().map(|z| z.norm()).fold(0.0, f64::max);
    (x.iter().map(|z| z.value() / largest).collect(), largest)
}
