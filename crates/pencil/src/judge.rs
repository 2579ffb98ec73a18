//! When a computed functional may be shown.

use num_complex::Complex64;

/// A gain below this against the excitation is told as 0: the exponent range ends near 1e-308, and error-free products
/// need room above that.
const NEGLIGIBLE: f64 = 1e-250;
/// A functional below this share of its terms is an exact 0: a difference of equal things.
const EXACT_ZERO: f64 = 1e-26;
/// What the second correction may still change in a functional after one refinement with the kept factors. It is far below
/// the 1e-12 that is promised, because one correction alone does not show how fast corrections shrink: if the factored
/// matrix had lost a mode by rounding (a leakage beside a conductance), the correction understates the error of that mode
/// by the ratio of the true to the rounded eigenvalue. With this bound that ratio would have to be below 1e-6 at once
/// with a mode that is all but invisible in the functional.
const SETTLED: f64 = 1e-18;
/// What two corrections to twice the working precision may each still change.
const SHRUNK: f64 = 1e-14;

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

impl Reading {
    /// The answer where it is nothing.
    fn nothing(&self) -> Option<Complex64> {
        let bound = size(self.value) + self.last;
        let negligible = bound <= NEGLIGIBLE * self.drive && self.last_terms <= NEGLIGIBLE * self.drive;
        let difference = bound <= EXACT_ZERO * self.terms && self.last_terms <= EXACT_ZERO * self.terms;
        (negligible || difference).then_some(Complex64::new(0.0, 0.0))
    }

    /// The answer, if two corrections with the kept factors settle it.
    pub fn settled(&self) -> Option<Complex64> {
        // All comparisons are written so that what is not a number fails them.
        if !size(self.value).is_finite() {
            return None;
        }
        if self.last <= SETTLED * size(self.value) && self.last_terms <= 1e-14 * self.terms {
            return Some(plain(self.value));
        }
        self.nothing()
    }

    /// The answer, if it comes from corrections to twice the working precision.
    pub fn refined(&self) -> Option<Complex64> {
        let value = size(self.value);
        if !value.is_finite() {
            return None;
        }
        if self.last <= SHRUNK * value && self.before <= SHRUNK * value {
            return Some(plain(self.value));
        }
        self.nothing()
    }

    /// The relative error as far as the last correction tells it.
    pub fn estimate(&self) -> f64 {
        let estimate = self.last / size(self.value);
        if estimate.is_finite() { estimate } else { f64::INFINITY }
    }
}
