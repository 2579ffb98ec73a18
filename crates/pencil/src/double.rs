//! Error-free transformations, and numbers carried as the unevaluated sum of two.
//!
//! Sums after Knuth, *The Art of Computer Programming* 2, section 4.2.2; products after Dekker, Numer. Math. 18 (1971);
//! the compound operations after Joldes, Muller and Popescu, ACM Trans. Math. Softw. 44 (2017).

use num_complex::Complex64;

/// `a + b` rounded, and what the rounding lost.
#[inline(always)]
pub(crate) fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let back = sum - a;
    (sum, (a - (sum - back)) + (b - back))
}

/// As [`two_sum`] where `|a| ≥ |b|` or `a = 0`.
#[inline(always)]
fn fast_two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    (sum, b - (sum - a))
}

/// `a · b` rounded, and what the rounding lost (itself rounded only where it is subnormal).
///
/// With `FUSED` this is one fused multiply-add, for code that runs where the processor has one. Without, it is Dekker's
/// product, which gives the same two numbers except near the ends of the exponent range; there the fused operation is
/// computed in software. So both give the same bits everywhere.
#[inline(always)]
pub(crate) fn two_product<const FUSED: bool>(a: f64, b: f64) -> (f64, f64) {
    let product = a * b;
    if FUSED {
        return (product, a.mul_add(b, -product));
    }
    // 2^-900 and 2^900: far enough inside the range for every partial product of the splitting.
    let inside = |x: f64| x.abs() < 8.45e270;
    if inside(a) && inside(b) && inside(product) && product.abs() > 1.19e-271 {
        let split = |x: f64| {
            let c = 134_217_729.0 * x;
            let high = c - (c - x);
            (high, x - high)
        };
        let ((ah, al), (bh, bl)) = (split(a), split(b));
        (product, ((ah * bh - product) + ah * bl + al * bh) + al * bl)
    } else {
        (product, a.mul_add(b, -product))
    }
}

/// The unevaluated sum of two numbers, the second below half a unit in the last place of the first: about 106 bits.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub(crate) struct Double {
    pub high: f64,
    pub low: f64,
}

impl Double {
    pub const ZERO: Double = Double { high: 0.0, low: 0.0 };

    pub fn new(value: f64) -> Double {
        Double { high: value, low: 0.0 }
    }

    /// `a · b`, exactly.
    pub fn product(a: f64, b: f64) -> Double {
        let (high, low) = two_product::<false>(a, b);
        Double { high, low }
    }

    /// `1 / a`, to about 106 bits.
    pub fn reciprocal(a: f64) -> Double {
        Double::new(1.0).over(Double::new(a))
    }

    pub fn value(self) -> f64 {
        self.high + self.low
    }

    pub fn negated(self) -> Double {
        Double { high: -self.high, low: -self.low }
    }

    pub fn plus(self, other: Double) -> Double {
        let (s, e) = two_sum(self.high, other.high);
        let (t, f) = two_sum(self.low, other.low);
        let (s, e) = fast_two_sum(s, e + t);
        let (high, low) = fast_two_sum(s, e + f);
        Double { high, low }
    }

    pub fn minus(self, other: Double) -> Double {
        self.plus(other.negated())
    }

    pub fn times(self, other: Double) -> Double {
        let (p, e) = two_product::<false>(self.high, other.high);
        let (high, low) = fast_two_sum(p, e + (self.high * other.low + self.low * other.high));
        Double { high, low }
    }

    pub fn over(self, other: Double) -> Double {
        let first = self.high / other.high;
        let rest = self.minus(other.times(Double::new(first)));
        let second = rest.high / other.high;
        let rest = rest.minus(other.times(Double::new(second)));
        let third = rest.high / other.high;
        let (high, low) = fast_two_sum(first, second);
        Double { high, low }.plus(Double::new(third))
    }
}

impl Double {
    pub fn is_zero(self) -> bool {
        self.high == 0.0
    }

    pub fn abs(self) -> Double {
        if self.high < 0.0 { self.negated() } else { self }
    }

    /// The root of a number that is not below 0: one step of Newton's iteration from the root of its upper half (Karp and
    /// Markstein, ACM Trans. Math. Softw. 23, 1997).
    pub fn sqrt(self) -> Double {
        if self.high <= 0.0 {
            return Double::ZERO;
        }
        let first = self.high.sqrt();
        let rest = self.minus(Double::product(first, first));
        Double::new(first).plus(Double::new(rest.high / (2.0 * first)))
    }

    /// Times a power of two, which loses nothing.
    pub fn shifted(self, power: f64) -> Double {
        Double { high: self.high * power, low: self.low * power }
    }
}

impl std::ops::Add for Double {
    type Output = Double;
    fn add(self, other: Double) -> Double {
        self.plus(other)
    }
}

impl std::ops::Sub for Double {
    type Output = Double;
    fn sub(self, other: Double) -> Double {
        self.minus(other)
    }
}

impl std::ops::Mul for Double {
    type Output = Double;
    fn mul(self, other: Double) -> Double {
        self.times(other)
    }
}

impl std::ops::Div for Double {
    type Output = Double;
    fn div(self, other: Double) -> Double {
        self.over(other)
    }
}

impl std::ops::Neg for Double {
    type Output = Double;
    fn neg(self) -> Double {
        self.negated()
    }
}

/// A complex number of two [`Double`]s.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub(crate) struct ComplexDouble {
    pub re: Double,
    pub im: Double,
}

impl ComplexDouble {
    pub const ZERO: ComplexDouble = ComplexDouble { re: Double::ZERO, im: Double::ZERO };

    pub fn new(value: Complex64) -> Self {
        ComplexDouble { re: Double::new(value.re), im: Double::new(value.im) }
    }

    pub fn real(re: Double) -> Self {
        ComplexDouble { re, im: Double::ZERO }
    }

    pub fn value(self) -> Complex64 {
        Complex64::new(self.re.value(), self.im.value())
    }

    /// The modulus in working precision.
    pub fn norm(self) -> f64 {
        self.value().norm()
    }

    pub fn plus(self, other: Self) -> Self {
        ComplexDouble { re: self.re.plus(other.re), im: self.im.plus(other.im) }
    }

    pub fn minus(self, other: Self) -> Self {
        ComplexDouble { re: self.re.minus(other.re), im: self.im.minus(other.im) }
    }

    pub fn times(self, other: Self) -> Self {
        ComplexDouble {
            re: self.re.times(other.re).minus(self.im.times(other.im)),
            im: self.re.times(other.im).plus(self.im.times(other.re)),
        }
    }

    pub fn scaled(self, factor: Double) -> Self {
        ComplexDouble { re: self.re.times(factor), im: self.im.times(factor) }
    }

    /// By Smith's method (Comm. ACM 5, 1962), which neither overflows nor underflows on the way.
    pub fn over(self, other: Self) -> Self {
        if other.re.high.abs() >= other.im.high.abs() {
            let ratio = other.im.over(other.re);
            let bottom = other.re.plus(other.im.times(ratio));
            ComplexDouble {
                re: self.re.plus(self.im.times(ratio)).over(bottom),
                im: self.im.minus(self.re.times(ratio)).over(bottom),
            }
        } else {
            let ratio = other.re.over(other.im);
            let bottom = other.re.times(ratio).plus(other.im);
            ComplexDouble {
                re: self.re.times(ratio).plus(self.im).over(bottom),
                im: self.im.times(ratio).minus(self.re).over(bottom),
            }
        }
    }
}

/// What elimination needs of a number.
pub(crate) trait Number: Copy {
    /// The size, relative to 1, at which a difference of numbers near 1 has lost its digits.
    const EXHAUSTED: f64;
    /// Zero.
    const NOTHING: Self;
    /// About the modulus; not finite where the number is not.
    fn magnitude(self) -> f64;
    /// `self / by`.
    fn quotient(self, by: Self) -> Self;
    /// `self − a·b`.
    fn less_product(self, a: Self, b: Self) -> Self;
}

impl Number for Complex64 {
    const EXHAUSTED: f64 = 1e-14;
    const NOTHING: Self = Complex64::new(0.0, 0.0);
    fn magnitude(self) -> f64 {
        self.re.abs() + self.im.abs()
    }
    fn quotient(self, by: Self) -> Self {
        self / by
    }
    fn less_product(self, a: Self, b: Self) -> Self {
        self - a * b
    }
}

impl Number for ComplexDouble {
    const EXHAUSTED: f64 = 1e-28;
    const NOTHING: Self = ComplexDouble::ZERO;
    fn magnitude(self) -> f64 {
        self.re.high.abs() + self.im.high.abs()
    }
    fn quotient(self, by: Self) -> Self {
        self.over(by)
    }
    fn less_product(self, a: Self, b: Self) -> Self {
        self.minus(a.times(b))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::field::Stream;

    #[test]
    fn both_products_give_the_same_bits_over_the_whole_range() {
        let mut stream = Stream::new(3);
        let number = |stream: &mut Stream| loop {
            let x = f64::from_bits(stream.next());
            if x.is_finite() {
                return x;
            }
        };
        for round in 0..200_000 {
            let a = number(&mut stream);
            let mut b = number(&mut stream);
            if round % 2 == 0 {
                // A product near the bottom of the range, where the lost part is subnormal.
                b = f64::MIN_POSITIVE * (1.0 + 1e15 * (stream.next() as f64)) / a;
            }
            let (p, e) = two_product::<true>(a, b);
            let (q, f) = two_product::<false>(a, b);
            assert_eq!(p.to_bits(), q.to_bits());
            // A lost part of exactly nothing may carry either sign: the fused form rounds −p + p to +0.
            assert!(
                e.to_bits() == f.to_bits() || (e == 0.0 && f == 0.0) || (e.is_nan() && f.is_nan()),
                "{a:e} {b:e}: {e:e} {f:e}"
            );
        }
    }

    #[test]
    fn a_third_times_three_is_one_to_106_bits() {
        let third = Double::reciprocal(3.0);
        let rest = third.times(Double::new(3.0)).minus(Double::new(1.0));
        assert!(rest.value().abs() < 1e-31);
    }
}
