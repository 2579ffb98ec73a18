//! The prime field of 2⁶¹ − 1 elements: exact arithmetic in which a generic rank is a rank.
//!
//! A polynomial identity that fails over the integers holds at random points of this field with a probability of about
//! degree / 2⁶¹ (the Schwartz–Zippel lemma), so one trial decides.

/// The Mersenne prime 2⁶¹ − 1.
const P: u64 = (1 << 61) - 1;

/// An element of the field, always below the modulus.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub(crate) struct Residue(u64);

/// What elimination needs of a field.
pub(crate) trait Field: Copy + PartialEq {
    const ZERO: Self;
    const ONE: Self;
    fn is_zero(self) -> bool {
        self == Self::ZERO
    }
    fn plus(self, other: Self) -> Self;
    fn minus(self, other: Self) -> Self;
    fn times(self, other: Self) -> Self;
    /// One over the element; that of 0 comes out as 0.
    fn inverse(self) -> Self;
}

impl Field for Residue {
    const ZERO: Residue = Residue(0);
    const ONE: Residue = Residue(1);

    fn plus(self, other: Residue) -> Residue {
        let sum = self.0 + other.0;
        Residue(if sum >= P { sum - P } else { sum })
    }

    fn minus(self, other: Residue) -> Residue {
        Residue(if self.0 >= other.0 { self.0 - other.0 } else { self.0 + P - other.0 })
    }

    fn times(self, other: Residue) -> Residue {
        let product = u128::from(self.0) * u128::from(other.0);
        let sum = (product as u64 & P) + (product >> 61) as u64;
        Residue(if sum >= P { sum - P } else { sum })
    }

    /// By Fermat's little theorem.
    fn inverse(self) -> Residue {
        let (mut base, mut exponent, mut power) = (self, P - 2, Residue::ONE);
        while exponent > 0 {
            if exponent & 1 == 1 {
                power = power.times(base);
            }
            base = base.times(base);
            exponent >>= 1;
        }
        power
    }
}

impl Residue {
    /// A finite binary fraction `m · 2^e` as the field sees it: exact, since 2 has an inverse there (2⁶¹ = 1).
    pub fn from_f64(value: f64) -> Residue {
        if value == 0.0 || !value.is_finite() {
            return Residue::ZERO;
        }
        let bits = value.to_bits();
        let exponent = ((bits >> 52) & 0x7ff) as i64;
        let fraction = bits & ((1 << 52) - 1);
        let (mantissa, exponent) =
            if exponent == 0 { (fraction, -1074) } else { (fraction | (1 << 52), exponent - 1075) };
        let shift = exponent.rem_euclid(61) as u32;
        let magnitude = Residue(mantissa % P).times(Residue(1u64 << shift));
        if value < 0.0 { Residue::ZERO.minus(magnitude) } else { magnitude }
    }
}

/// `re + i·im`. Since 2⁶¹ − 1 leaves 3 by 4, −1 has no root among the residues, and these form a field of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub(crate) struct ComplexResidue {
    pub re: Residue,
    pub im: Residue,
}

impl ComplexResidue {
    pub fn real(re: Residue) -> Self {
        ComplexResidue { re, im: Residue::ZERO }
    }
}

impl Field for ComplexResidue {
    const ZERO: Self = ComplexResidue { re: Residue::ZERO, im: Residue::ZERO };
    const ONE: Self = ComplexResidue { re: Residue::ONE, im: Residue::ZERO };

    fn plus(self, other: Self) -> Self {
        ComplexResidue { re: self.re.plus(other.re), im: self.im.plus(other.im) }
    }

    fn minus(self, other: Self) -> Self {
        ComplexResidue { re: self.re.minus(other.re), im: self.im.minus(other.im) }
    }

    fn times(self, other: Self) -> Self {
        ComplexResidue {
            re: self.re.times(other.re).minus(self.im.times(other.im)),
            im: self.re.times(other.im).plus(self.im.times(other.re)),
        }
    }

    fn inverse(self) -> Self {
        let norm = self.re.times(self.re).plus(self.im.times(self.im)).inverse();
        ComplexResidue { re: self.re.times(norm), im: Residue::ZERO.minus(self.im.times(norm)) }
    }
}

/// A stream of well-mixed numbers from a seed (the SplitMix64 generator; Steele, Lea and Flood, 2014).
#[derive(Clone, Debug)]
pub(crate) struct Stream(u64);

impl Stream {
    pub fn new(seed: u64) -> Self {
        Stream(seed)
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A random element other than 0.
    pub fn residue(&mut self) -> Residue {
        loop {
            let candidate = self.next() >> 3;
            if candidate != 0 && candidate < P {
                return Residue(candidate);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arithmetic_agrees_with_wide_integers() {
        let mut stream = Stream::new(7);
        for _ in 0..1000 {
            let (a, b) = (stream.residue(), stream.residue());
            assert_eq!(u128::from(a.times(b).0), u128::from(a.0) * u128::from(b.0) % u128::from(P));
            assert_eq!(a.times(a.inverse()), Residue::ONE);
            assert_eq!(a.minus(b).plus(b), a);
        }
    }

    #[test]
    fn binary_fractions_are_exact() {
        let half = Residue::from_f64(0.5);
        assert_eq!(half.plus(half), Residue::ONE);
        let three = Residue::from_f64(3.0);
        assert_eq!(three, Residue(3));
        assert_eq!(Residue::from_f64(-0.375).times(Residue::from_f64(8.0)).plus(three), Residue::ZERO);
        assert_eq!(Residue::from_f64(2f64.powi(61)), Residue::ONE);
        assert_eq!(
            Residue::from_f64(f64::from_bits(1))
                .times(Residue::from_f64(2f64.powi(537)))
                .times(Residue::from_f64(2f64.powi(537))),
            Residue::ONE
        );
    }
}
