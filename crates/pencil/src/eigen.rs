//! The eigenvalues of a real matrix to about 30 digits: balanced by powers of two, brought to Hessenberg form by reflections
//! (Householder, J. ACM 5, 1958) and iterated by double shifts (Francis, Computer J. 4, 1962; the form of Golub and Van Loan,
//! *Matrix Computations*, section 7.5).
//!
//! A cascade of equal sections has eigenvalues that 16 digits cannot tell apart; twice the working precision does.

use crate::double::{ComplexDouble, Double};

/// A square matrix, row by row.
#[derive(Clone, Debug)]
pub(crate) struct Square {
    pub size: usize,
    pub entries: Vec<Double>,
}

/// Below this share of its neighbours on the diagonal an entry below the diagonal is none.
const NOTHING: f64 = 2.5e-32;
/// Double steps for one eigenvalue before it is given up; 3 are usual.
const STEPS: usize = 90;

impl Square {
    /// A matrix of zeros.
    pub fn zero(size: usize) -> Square {
        Square { size, entries: vec![Double::ZERO; size * size] }
    }

    pub fn at(&self, i: usize, j: usize) -> Double {
        self.entries[i * self.size + j]
    }

    pub fn set(&mut self, i: usize, j: usize, value: Double) {
        self.entries[i * self.size + j] = value;
    }

    /// The largest modulus among the entries.
    pub fn largest(&self) -> f64 {
        self.entries.iter().map(|x| x.high.abs()).fold(0.0, f64::max)
    }

    /// Scales rows against columns by powers of two until they weigh the same (Parlett and Reinsch, Numer. Math. 13, 1969).
    pub fn balance(&mut self) {
        let n = self.size;
        for _ in 0..60 {
            let mut settled = true;
            for k in 0..n {
                let (mut column, mut row) = (0.0f64, 0.0f64);
                for j in (0..n).filter(|j| *j != k) {
                    column += self.at(j, k).high.abs();
                    row += self.at(k, j).high.abs();
                }
                if !(column > 0.0 && row > 0.0) {
                    continue;
                }
                let power = (0.5 * (row / column).log2()).round().clamp(-500.0, 500.0);
                if power.abs() < 1.0 {
                    continue;
                }
                let f = power.exp2();
                if column * f + row / f < 0.95 * (column + row) {
                    settled = false;
                    for j in 0..n {
                        self.set(j, k, self.at(j, k).shifted(f));
                    }
                    for j in 0..n {
                        self.set(k, j, self.at(k, j).shifted(1.0 / f));
                    }
                }
            }
            if settled {
                break;
            }
        }
    }

    /// Divides all entries by a power of two so that the largest is near 1; the answer is that power.
    fn normalise(&mut self) -> f64 {
        let largest = self.largest();
        if !(largest > 0.0 && largest.is_finite()) {
            return 1.0;
        }
        let scale = largest.log2().round().clamp(-1000.0, 1000.0).exp2();
        self.entries.iter_mut().for_each(|x| *x = x.shifted(1.0 / scale));
        scale
    }

    /// Makes all entries below the first subdiagonal 0 by a similarity.
    fn reduce(&mut self) {
        let n = self.size;
        for k in 0..n.saturating_sub(2) {
            let x: Vec<Double> = (k + 1..n).map(|i| self.at(i, k)).collect();
            if let Some(mirror) = Mirror::of(&x) {
                mirror.rows(self, k + 1, k, n);
                mirror.columns(self, k + 1, 0, n);
                for i in k + 2..n {
                    self.set(i, k, Double::ZERO);
                }
            }
        }
    }

    /// The eigenvalues; `None` where the iteration does not settle or an entry is not finite.
    pub fn eigenvalues(mut self) -> Option<Vec<ComplexDouble>> {
        if !self.largest().is_finite() {
            return None;
        }
        self.balance();
        let scale = self.normalise();
        self.reduce();
        let mut found = Vec::with_capacity(self.size);
        let mut end = self.size;
        let mut steps = 0;
        while end > 0 {
            let start = self.split(end);
            match end - start {
                1 => {
                    found.push(ComplexDouble::real(self.at(start, start)));
                    (end, steps) = (start, 0);
                }
                2 => {
                    found.extend(self.pair(start));
                    (end, steps) = (start, 0);
                }
                _ => {
                    steps += 1;
                    if steps > STEPS {
                        return None;
                    }
                    self.step(start, end, steps % 10 == 0);
                }
            }
        }
        found.iter_mut().for_each(|z| (z.re, z.im) = (z.re.shifted(scale), z.im.shifted(scale)));
        Some(found)
    }

    /// Where the last block of the active part begins; what is nothing below the diagonal is set to 0.
    fn split(&mut self, end: usize) -> usize {
        for k in (1..end).rev() {
            let around = self.at(k - 1, k - 1).high.abs() + self.at(k, k).high.abs();
            let below = self.at(k, k - 1).high.abs();
            // Two zeros on the diagonal weigh as much as the product that stands across it.
            let around = if around == 0.0 { self.at(k - 1, k).high.abs() } else { around };
            if below <= NOTHING * around || below < 1e-250 {
                self.set(k, k - 1, Double::ZERO);
                return k;
            }
        }
        0
    }

    /// The eigenvalues of a block of two.
    fn pair(&self, k: usize) -> [ComplexDouble; 2] {
        let (a, b, c, d) = (self.at(k, k), self.at(k, k + 1), self.at(k + 1, k), self.at(k + 1, k + 1));
        let half = (a - d).shifted(0.5);
        let under = half * half + b * c;
        if under.high >= 0.0 {
            let root = under.sqrt();
            let far = if half.high < 0.0 { half - root } else { half + root };
            let first = d + far;
            // The product of the two differences from d is −bc.
            let second = if far.is_zero() { d } else { d - b * c / far };
            return [ComplexDouble::real(first), ComplexDouble::real(second)];
        }
        let (re, im) = (d + half, (-under).sqrt());
        [ComplexDouble { re, im }, ComplexDouble { re, im: -im }]
    }

    /// One double step on rows and columns `start..end`.
    fn step(&mut self, start: usize, end: usize, exceptional: bool) {
        let last = end - 1;
        let (mut sum, mut product) = {
            let (a, b) = (self.at(last - 1, last - 1), self.at(last - 1, last));
            let (c, d) = (self.at(last, last - 1), self.at(last, last));
            (a + d, a * d - b * c)
        };
        if exceptional {
            // Shifts that no cycle repeats (the choice of Wilkinson's programs).
            let size = self.at(last, last - 1).abs() + self.at(last - 1, last - 2).abs();
            (sum, product) = (size * Double::new(1.5), size * size);
        }
        let (h00, h01, h10) = (self.at(start, start), self.at(start, start + 1), self.at(start + 1, start));
        let mut x = vec![
            h00 * h00 + h01 * h10 - sum * h00 + product,
            h10 * (h00 + self.at(start + 1, start + 1) - sum),
            h10 * self.at(start + 2, start + 1),
        ];
        for k in start..last {
            if let Some(mirror) = Mirror::of(&x) {
                let left = if k > start { k - 1 } else { start };
                mirror.rows(self, k, left, end);
                mirror.columns(self, k, start, end.min(k + 4));
                if k > start {
                    (k + 1..k + x.len()).for_each(|i| self.set(i, k - 1, Double::ZERO));
                }
            }
            x = (k + 1..end.min(k + 4)).map(|i| self.at(i, k)).collect();
        }
    }
}

/// A reflection that turns a vector into its first axis.
struct Mirror {
    v: Vec<Double>,
    /// 2/vᵀv
    weight: Double,
}

impl Mirror {
    /// `None` where there is nothing to turn.
    fn of(x: &[Double]) -> Option<Mirror> {
        let largest = x.iter().map(|e| e.high.abs()).fold(0.0, f64::max);
        if x.len() < 2 || x[1..].iter().all(|e| e.is_zero()) || !largest.is_finite() {
            return None;
        }
        let down = 1.0 / largest.log2().round().clamp(-1000.0, 1000.0).exp2();
        let mut v: Vec<Double> = x.iter().map(|e| e.shifted(down)).collect();
        let square = v.iter().fold(Double::ZERO, |s, e| s + *e * *e);
        let norm = square.sqrt();
        let first = v[0];
        v[0] = if first.high < 0.0 { first - norm } else { first + norm };
        // vᵀv = 2 (norm² + |x₀| norm)
        let weight = Double::new(1.0) / (square + first.abs() * norm);
        Some(Mirror { v, weight })
    }

    fn rows(&self, m: &mut Square, top: usize, left: usize, right: usize) {
        for j in left..right {
            let dot = self.v.iter().enumerate().fold(Double::ZERO, |s, (i, v)| s + *v * m.at(top + i, j));
            let dot = dot * self.weight;
            for (i, v) in self.v.iter().enumerate() {
                m.set(top + i, j, m.at(top + i, j) - *v * dot);
            }
        }
    }

    fn columns(&self, m: &mut Square, left: usize, top: usize, bottom: usize) {
        for i in top..bottom {
            let dot = self.v.iter().enumerate().fold(Double::ZERO, |s, (j, v)| s + *v * m.at(i, left + j));
            let dot = dot * self.weight;
            for (j, v) in self.v.iter().enumerate() {
                m.set(i, left + j, m.at(i, left + j) - *v * dot);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::field::Stream;

    /// The companion matrix of a monic polynomial, its constant first.
    fn companion(coefficients: &[f64]) -> Square {
        let n = coefficients.len();
        let mut m = Square::zero(n);
        for (i, c) in coefficients.iter().enumerate() {
            m.set(i, n - 1, Double::new(-c));
            if i > 0 {
                m.set(i, i - 1, Double::new(1.0));
            }
        }
        m
    }

    fn sorted(m: Square) -> Vec<(f64, f64)> {
        let all = m.eigenvalues().expect("it settles");
        let mut all: Vec<(f64, f64)> = all.iter().map(|z| (z.re.value(), z.im.value())).collect();
        all.sort_by(|a, b| a.partial_cmp(b).expect("finite"));
        all
    }

    #[test]
    fn roots_of_unity_and_of_whole_numbers() {
        // (s − 1)(s − 2) … (s − 6)
        let found = sorted(companion(&[720.0, -1764.0, 1624.0, -735.0, 175.0, -21.0]));
        for (k, (re, im)) in found.iter().enumerate() {
            assert!((re - (k + 1) as f64).abs() < 1e-24 && *im == 0.0, "{found:?}");
        }
        let eighth = sorted(companion(&[1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]));
        assert!(eighth.iter().all(|(re, im)| (re * re + im * im - 1.0).abs() < 1e-15), "{eighth:?}");
    }

    #[test]
    fn a_threefold_root_keeps_ten_digits() {
        // (s + 1)³
        let found = sorted(companion(&[1.0, 3.0, 3.0]));
        assert!(found.iter().all(|(re, im)| (re + 1.0).hypot(*im) < 1e-9), "{found:?}");
    }

    #[test]
    fn sums_and_products_of_random_matrices_are_kept() {
        let mut stream = Stream::new(11);
        let mut number = || (stream.next() >> 11) as f64 / (1u64 << 52) as f64 - 1.0;
        for size in [2, 3, 5, 12, 30] {
            let mut m = Square::zero(size);
            m.entries.iter_mut().for_each(|x| *x = Double::new(number()));
            let trace = (0..size).fold(Double::ZERO, |s, i| s + m.at(i, i));
            let mut square = Double::ZERO;
            for i in 0..size {
                for j in 0..size {
                    square = square + m.at(i, j) * m.at(j, i);
                }
            }
            let found = m.eigenvalues().expect("it settles");
            assert_eq!(found.len(), size);
            let sum = found.iter().fold(ComplexDouble::ZERO, |s, z| s.plus(*z));
            let squares = found.iter().fold(ComplexDouble::ZERO, |s, z| s.plus(z.times(*z)));
            let off = |a: ComplexDouble, b: Double| (a.re - b).value().hypot(a.im.value());
            assert!(off(sum, trace) < 1e-27 * size as f64, "{size}: {:e}", off(sum, trace));
            assert!(off(squares, square) < 1e-26 * size as f64, "{size}: {:e}", off(squares, square));
        }
    }
}
