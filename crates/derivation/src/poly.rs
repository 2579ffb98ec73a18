//! Polynomials in which no symbol is squared.
//!
//! A network's determinants are of this kind: each part stands in the nodal equations as one admittance between two nodes, a matrix of rank
//! one, and a determinant is linear in the factor of such a matrix. So a monomial is a set of symbols, kept as bits.

use std::collections::BTreeMap;

/// What is more than a person would write down: too many symbols or terms, or numbers beyond reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Past;

/// More terms than this nobody writes.
pub const TERMS: usize = 600;

/// A polynomial: by the set of its symbols, each monomial's factor, which is never 0.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Poly(pub BTreeMap<u64, i64>);

impl Poly {
    /// A number.
    pub fn number(n: i64) -> Poly {
        Poly::monomial(0, n)
    }

    /// One monomial.
    pub fn monomial(set: u64, factor: i64) -> Poly {
        Poly(if factor == 0 { BTreeMap::new() } else { BTreeMap::from([(set, factor)]) })
    }

    /// One symbol.
    pub fn symbol(bit: u32) -> Poly {
        Poly::monomial(1 << bit, 1)
    }

    /// Whether it is 0.
    pub fn is_nothing(&self) -> bool {
        self.0.is_empty()
    }

    /// All its symbols.
    pub fn symbols(&self) -> u64 {
        self.0.keys().fold(0, |all, set| all | set)
    }

    /// Adds another, times a number.
    ///
    /// # Errors
    /// Past what a person would write.
    pub fn add(&mut self, other: &Poly, times: i64) -> Result<(), Past> {
        for (set, factor) in &other.0 {
            self.put(*set, factor.checked_mul(times).ok_or(Past)?)?;
        }
        Ok(())
    }

    fn put(&mut self, set: u64, factor: i64) -> Result<(), Past> {
        let own = self.0.entry(set).or_insert(0);
        *own = own.checked_add(factor).ok_or(Past)?;
        if *own == 0 {
            self.0.remove(&set);
        }
        if self.0.len() > TERMS { Err(Past) } else { Ok(()) }
    }

    /// A product within a determinant: squares, which fall out of the whole, are left out from the start.
    ///
    /// # Errors
    /// Past what a person would write.
    pub fn times_in_determinant(&self, other: &Poly) -> Result<Poly, Past> {
        let mut product = Poly::default();
        for (a, x) in &self.0 {
            for (b, y) in &other.0 {
                if a & b == 0 {
                    product.put(a | b, x.checked_mul(*y).ok_or(Past)?)?;
                }
            }
        }
        Ok(product)
    }

    /// A product of two that share no symbol.
    ///
    /// # Errors
    /// They share one, or past what a person would write.
    pub fn times(&self, other: &Poly) -> Result<Poly, Past> {
        if self.symbols() & other.symbols() != 0 { Err(Past) } else { self.times_in_determinant(other) }
    }

    /// Puts a quotient `above/below` in for a symbol and multiplies by `below`.
    ///
    /// # Errors
    /// Past what a person would write.
    pub fn put_in(&self, bit: u32, above: &Poly, below: &Poly) -> Result<Poly, Past> {
        let (mut with, mut without) = (Poly::default(), Poly::default());
        for (set, factor) in &self.0 {
            let (half, set) = if set >> bit & 1 == 1 { (&mut with, set & !(1 << bit)) } else { (&mut without, *set) };
            half.put(set, *factor)?;
        }
        let mut whole = with.times(above)?;
        whole.add(&without.times(below)?, 1)?;
        Ok(whole)
    }

    /// Every monomial with the symbols of `flipped` that it lacks and without those that it has: the polynomial in the reciprocals of
    /// these symbols, times all of them.
    pub fn in_reciprocals(&self, flipped: u64) -> Poly {
        Poly(self.0.iter().map(|(set, factor)| (set ^ flipped, *factor)).collect())
    }

    /// The value with these values of its symbols, modulo a prime.
    fn modulo(&self, values: &[u64]) -> u64 {
        let each = self.0.iter().map(|(set, factor)| {
            let mut x = factor.rem_euclid(PRIME as i64) as u64;
            let mut left = *set;
            while left != 0 {
                x = times_modulo(x, values[left.trailing_zeros() as usize]);
                left &= left - 1;
            }
            x
        });
        each.fold(0, |sum, x| (sum + x) % PRIME)
    }
}

const PRIME: u64 = (1 << 61) - 1;

fn times_modulo(a: u64, b: u64) -> u64 {
    (u128::from(a) * u128::from(b) % u128::from(PRIME)) as u64
}

/// The greatest whole number that divides all factors; its sign is that of the first monomial.
fn content(poly: &Poly) -> i64 {
    let mut found = 0u64;
    for factor in poly.0.values() {
        let (mut a, mut b) = (found, factor.unsigned_abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        found = a;
    }
    let minus = poly.0.values().next().is_some_and(|f| *f < 0);
    let found = found.min(i64::MAX as u64) as i64;
    if minus { -found } else { found }
}

/// A polynomial as a number times factors that cannot be taken apart further, each without a common number and its first monomial positive.
///
/// As no symbol is squared, no two factors share one. Two symbols x and y belong to different factors exactly where
/// P(0,0)·P(1,1) = P(0,1)·P(1,0) for all values of the others. That is tried at two places modulo a prime, and the factors found are
/// multiplied out and compared, so that a false guess costs a factor and never a right result.
pub fn factors(poly: &Poly) -> (i64, Vec<Poly>) {
    if poly.is_nothing() {
        return (0, Vec::new());
    }
    let number = content(poly);
    let common = poly.0.keys().fold(u64::MAX, |all, set| all & set);
    let rest = Poly(poly.0.iter().map(|(set, factor)| (set & !common, factor / number)).collect());
    let mut found: Vec<Poly> = (0..64).filter(|bit| common >> bit & 1 == 1).map(Poly::symbol).collect();
    if rest.0.len() > 1 {
        found.extend(apart(&rest).unwrap_or_else(|| vec![rest]));
    }
    (number, found)
}

/// The factors of a polynomial that no symbol and no number divides.
fn apart(poly: &Poly) -> Option<Vec<Poly>> {
    let symbols: Vec<usize> = (0..64).filter(|bit| poly.symbols() >> bit & 1 == 1).collect();
    let mut group: Vec<usize> = (0..symbols.len()).collect();
    for i in 0..symbols.len() {
        for j in 0..i {
            if group[i] == group[j] || !together(poly, symbols[i], symbols[j]) {
                continue;
            }
            let (from, to) = (group[i], group[j]);
            group.iter_mut().filter(|g| **g == from).for_each(|g| *g = to);
        }
    }
    let mut groups = group.clone();
    groups.sort_unstable();
    groups.dedup();
    if groups.len() == 1 {
        return None;
    }
    let mut found = Vec::new();
    for one in groups {
        let own = symbols.iter().zip(&group).filter(|(_, g)| **g == one).fold(0u64, |all, (bit, _)| all | 1 << bit);
        // The others at small numbers, at which the other factors are not 0.
        let factor = (1..6).find_map(|start| {
            let mut part = Poly::default();
            for (set, factor) in &poly.0 {
                let mut value = *factor;
                for (k, bit) in symbols.iter().enumerate() {
                    if own >> bit & 1 == 0 && set >> bit & 1 == 1 {
                        value = value.checked_mul(start + (k as i64 % 3))?;
                    }
                }
                part.put(set & own, value).ok()?;
            }
            let number = content(&part);
            (number != 0).then(|| Poly(part.0.iter().map(|(set, factor)| (*set, factor / number)).collect()))
        })?;
        found.push(factor);
    }
    let product = found.iter().try_fold(Poly::number(1), |all, one| all.times(one)).ok()?;
    // Symbol sets that share nothing add up, so the first monomial of a product is the product of the first ones: the signs agree.
    (product == *poly).then_some(found)
}

/// Whether two symbols stand in one factor.
fn together(poly: &Poly, x: usize, y: usize) -> bool {
    (1..=2u64).any(|place| {
        let step = place.wrapping_mul(0x9E37_79B9_7F4A_7C15);
        let mut values: Vec<u64> = (1..=64u64).map(|k| k.wrapping_mul(step) % PRIME).collect();
        let mut at = |a: u64, b: u64| {
            (values[x], values[y]) = (a, b);
            poly.modulo(&values)
        };
        let (both, neither, first, second) = (at(1, 1), at(0, 0), at(1, 0), at(0, 1));
        times_modulo(both, neither) != times_modulo(first, second)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sum(terms: &[(u64, i64)]) -> Poly {
        Poly(terms.iter().copied().collect())
    }

    #[test]
    fn a_product_comes_apart_again() {
        let (a, b, c) = (sum(&[(0b1, 1), (0b10, 1)]), sum(&[(0b1100, 1), (0, 2)]), Poly::symbol(5));
        let whole = a.times(&b).and_then(|p| p.times(&c)).expect("no symbol is shared");
        let mut three = Poly::default();
        three.add(&whole, -3).expect("small");
        let (number, mut found) = factors(&three);
        found.sort();
        let mut all = vec![a, b, c];
        all.sort();
        assert_eq!((number, found), (-3, all));
    }

    #[test]
    fn what_is_no_product_stays_whole() {
        // x·y + y·z + z·x
        let p = sum(&[(0b11, 1), (0b110, 1), (0b101, 1)]);
        assert_eq!(factors(&p), (1, vec![p]));
    }

    #[test]
    fn numbers_beyond_reason_are_past_and_not_wrong() {
        let big = Poly::number(i64::MAX);
        assert_eq!(big.times(&Poly::monomial(1, 2)), Err(Past));
        assert_eq!(big.clone().add(&big, 1), Err(Past));
    }

    #[test]
    fn reciprocals() {
        // 1/x + 1/y = (x + y)/(x·y)
        let p = sum(&[(0b1, 1), (0b10, 1)]);
        assert_eq!(p.in_reciprocals(0b11), sum(&[(0b1, 1), (0b10, 1)]));
    }
}
