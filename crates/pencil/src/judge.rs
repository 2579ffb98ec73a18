//! When a computed functional may be shown.

use num_complex::Complex64;

/// A gain below this against the excitation is told as 0: the exponent range ends near 1e-308, and error-free products
/// need room above that.
const NEGLIGIBLE: f64 = 1e-250;
/// What the second correction may still change in a functional after one refinement with the kept factors. It is far below
/// the 1e-12 that is promised, because one correction alone does not show how fast corrections shrink: if the factored
/// matrix had lost a mode by rounding (a leakage beside a conductance), the correction understates the error of that mode
/// by the ratio of the true to the rounded eigenvalue. With this bound that ratio would have to be below 1e-6 at once
/// with a mode that is all but invisible in the functional.
pub(crate) const SETTLED: f64 = 1e-18;
/// What the first correction may change. It is the rounding of the first solution, and the residual's own rounding, which
/// no correction shows, is about 1e-16 of that.
pub(crate) const FIRST: f64 = 1e-2;
/// What the second correction may change in the terms of a functional.
pub(crate) const TERMS: f64 = 1e-14;
/// What each of two corrections to twice the working precision may still change.
pub(crate) const SHRUNK: f64 = 1e-13;
/// An unsettled value whose last correction is at least this large against it may be an exact 0.
const NOISE: f64 = 1e-3;
/// So may one below this share of its terms.
const CANCELLED: f64 = 1e-26;

/// A functional of a refined solution, in numbers of one lane.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Reading {
    pub value: Complex64,
    /// The sum of the moduli of its terms.
    pub terms: f64,
    /// The modulus of what the correction before the last brought.
    pub before: f64,
    /// The modulus of what the last correction brought.
    pub last: f64,
    /// The sum of the moduli of what the last correction brought to its terms.
    pub last_terms: f64,
    /// The largest modulus in the excitation.
    pub drive: f64,
}

fn size(z: Complex64) -> f64 {
    z.re.abs() + z.im.abs()
}

/// No negative zeros, so that equal answers have equal bits.
fn plain(z: Complex64) -> Complex64 {
    z + Complex64::new(0.0, 0.0)
}

// All comparisons are written so that what is not a number fails them.
impl Reading {
    fn negligible(&self) -> Option<Complex64> {
        let bound = NEGLIGIBLE * self.drive;
        (size(self.value) + self.last <= bound && self.last_terms <= bound).then_some(Complex64::new(0.0, 0.0))
    }

    /// The answer, if two corrections with the kept factors settle it.
    pub fn settled(&self) -> Option<Complex64> {
        let value = size(self.value);
        let settled = value.is_finite()
            && self.last <= SETTLED * value
            && self.before <= FIRST * value
            && self.last_terms <= TERMS * self.terms;
        settled.then(|| plain(self.value)).or_else(|| self.negligible())
    }

    /// The answer, if corrections to twice the working precision settle it. Each of those computes its residual afresh, so
    /// they show the residual's rounding as well.
    pub fn refined(&self) -> Option<Complex64> {
        let value = size(self.value);
        let refined = value.is_finite()
            && (self.last <= SETTLED * value || (self.last <= SHRUNK * value && self.before <= SHRUNK * value));
        refined.then(|| plain(self.value)).or_else(|| self.negligible())
    }

    /// The relative error as far as the last correction tells it; infinite where the value may as well be an exact 0, which
    /// only exact arithmetic can tell.
    pub fn estimate(&self) -> f64 {
        let value = size(self.value);
        if self.last <= NOISE * value && value >= CANCELLED * self.terms { self.last / value } else { f64::INFINITY }
    }
}
