//! Quotients of polynomials, in factors.

use crate::poly::{Past, Poly, factors};

/// `number/divisor · Π above / Π below`, everything that stands above and below alike taken away.
#[derive(Clone, Debug, PartialEq)]
pub struct Ratio {
    /// With the sign of the whole.
    pub number: i64,
    /// Above 0.
    pub divisor: i64,
    /// Factors above the line.
    pub above: Vec<Poly>,
    /// Factors below it.
    pub below: Vec<Poly>,
}

impl Ratio {
    /// Of two polynomials; `None` where the lower one is 0.
    pub fn new(above: &Poly, below: &Poly) -> Option<Ratio> {
        let (mut number, mut top) = factors(above);
        let (mut divisor, mut bottom) = factors(below);
        if divisor == 0 {
            return None;
        }
        if number == 0 {
            return Some(Ratio { number: 0, divisor: 1, above: Vec::new(), below: Vec::new() });
        }
        top.retain(|factor| match bottom.iter().position(|b| b == factor) {
            Some(i) => {
                bottom.remove(i);
                false
            }
            None => true,
        });
        // Factors are alike but for a sign where their first monomials are.
        if divisor < 0 {
            (number, divisor) = (-number, -divisor);
        }
        let (mut a, mut b) = (number.unsigned_abs(), divisor.unsigned_abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        let common = a.max(1) as i64;
        Some(Ratio { number: number / common, divisor: divisor / common, above: top, below: bottom })
    }

    /// Whether it is 0.
    pub fn is_nothing(&self) -> bool {
        self.number == 0
    }

    /// Whether it is this number.
    pub fn is_number(&self, n: i64) -> bool {
        self.number == n && self.divisor == 1 && self.above.is_empty() && self.below.is_empty()
    }

    /// 1
    pub fn one() -> Ratio {
        Ratio { number: 1, divisor: 1, above: Vec::new(), below: Vec::new() }
    }

    /// Times another; what comes to stand above and below alike is taken away. `None` where a number is beyond reason.
    pub fn times(&self, other: &Ratio) -> Option<Ratio> {
        let mut above = [&self.above[..], &other.above].concat();
        let mut below = [&self.below[..], &other.below].concat();
        above.retain(|factor| match below.iter().position(|b| b == factor) {
            Some(i) => {
                below.remove(i);
                false
            }
            None => true,
        });
        let (number, divisor) = (self.number.checked_mul(other.number)?, self.divisor.checked_mul(other.divisor)?);
        let (mut a, mut b) = (number.unsigned_abs(), divisor.unsigned_abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        let common = a.max(1) as i64;
        Some(Ratio { number: number / common, divisor: divisor / common, above, below })
    }

    /// Upside down; `None` for 0.
    pub fn inverse(&self) -> Option<Ratio> {
        let number = self.divisor.checked_mul(self.number.signum())?;
        let divisor = self.number.checked_abs().filter(|n| *n > 0)?;
        Some(Ratio { number, divisor, above: self.below.clone(), below: self.above.clone() })
    }

    /// Both polynomials, multiplied out.
    ///
    /// # Errors
    /// Past what a person would write.
    pub fn whole(&self) -> Result<(Poly, Poly), Past> {
        let all = |number: i64, list: &[Poly]| list.iter().try_fold(Poly::number(number), |all, one| all.times(one));
        Ok((all(self.number, &self.above)?, all(self.divisor, &self.below)?))
    }

    /// All symbols.
    pub fn symbols(&self) -> u64 {
        self.above.iter().chain(&self.below).fold(0, |all, p| all | p.symbols())
    }
}
