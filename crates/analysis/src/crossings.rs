//! Every frequency at which a response's magnitude is 1 or its phase 180°, by its zeros and poles.
//!
//! log|T| and arg T are sums of one term a root, each monotone on either side of the root's own frequency. So over an
//! interval both have bounds, and so have their slopes: an interval whose bounds leave out the level holds no crossing, one
//! whose slope keeps its sign holds one at most and tells by its ends, and any other is halved. Nothing is sampled, so no
//! crossing falls between samples (interval bisection; Moore, *Interval Analysis*, 1966).

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use num_complex::Complex64;

use crate::factored::Factored;

/// What a crossing is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Of {
    /// ln|T| through 0.
    Size,
    /// arg T through an odd multiple of 180°.
    Turn,
}

/// Parts of an interval that are looked at before the search is given up.
const MOST: usize = 60_000;
/// An interval over which a curve moves by less than this is one point of it.
const STILL: f64 = 1e-10;

impl Factored {
    /// The value at `jω`.
    pub fn at(&self, omega: f64) -> Complex64 {
        Complex64::from_polar(self.log_size(omega).exp(), self.turn(omega))
    }

    /// Roots with the sign of their term.
    pub(crate) fn terms(&self) -> impl Iterator<Item = (f64, Complex64)> + '_ {
        self.zeros.iter().map(|z| (1.0, *z)).chain(self.poles.iter().map(|p| (-1.0, *p)))
    }

    fn log_size(&self, omega: f64) -> f64 {
        self.gain.abs().ln() + self.terms().map(|(sign, r)| sign * log_distance(omega, r)).sum::<f64>()
    }

    /// In radians, continuous but at roots on the axis.
    fn turn(&self, omega: f64) -> f64 {
        let start = if self.gain < 0.0 { PI } else { 0.0 };
        start + self.terms().map(|(sign, r)| sign * angle(omega, r)).sum::<f64>()
    }

    fn value(&self, of: Of, omega: f64) -> f64 {
        match of {
            Of::Size => self.log_size(omega),
            Of::Turn => self.turn(omega),
        }
    }

    /// Least and greatest over an interval.
    fn bounds(&self, of: Of, [a, b]: [f64; 2]) -> [f64; 2] {
        let mut sum = match of {
            Of::Size => [self.gain.abs().ln(); 2],
            Of::Turn => [if self.gain < 0.0 { PI } else { 0.0 }; 2],
        };
        for (sign, r) in self.terms() {
            let [low, high] = match of {
                Of::Size => {
                    let ends = [log_distance(a, r), log_distance(b, r)];
                    let nearest = log_distance(r.im.clamp(a, b), r);
                    [nearest, ends[0].max(ends[1])]
                }
                Of::Turn => {
                    let ends = [angle(a, r), angle(b, r)];
                    [ends[0].min(ends[1]), ends[0].max(ends[1])]
                }
            };
            add(&mut sum, sign, [low, high]);
        }
        sum
    }

    /// Least and greatest slope over ln ω in an interval.
    fn slopes(&self, of: Of, [a, b]: [f64; 2]) -> [f64; 2] {
        let mut sum = [0.0; 2];
        for (sign, r) in self.terms() {
            let square = |w: f64| (w - r.im) * (w - r.im) + r.re * r.re;
            let near = square(r.im.clamp(a, b));
            let far = square(a).max(square(b));
            let top = match of {
                Of::Size => {
                    // ω(ω − ω_r) has its only least at ω_r/2.
                    let of = |w: f64| w * (w - r.im);
                    let ends = [of(a), of(b)];
                    [of((0.5 * r.im).clamp(a, b)).min(ends[0]).min(ends[1]), ends[0].max(ends[1])]
                }
                Of::Turn => {
                    let ends = [-r.re * a, -r.re * b];
                    [ends[0].min(ends[1]), ends[0].max(ends[1])]
                }
            };
            // A quotient's bounds lie at those of its parts; a root on the axis within the interval bounds nothing.
            let over = |x: f64, d: f64| if x == 0.0 { 0.0 } else { x / d };
            let all = [over(top[0], near), over(top[0], far), over(top[1], near), over(top[1], far)];
            let low = all.iter().copied().fold(f64::INFINITY, f64::min);
            let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            add(&mut sum, sign, [low, high]);
        }
        sum
    }

    /// Where |T| = 1, in rad/s.
    ///
    /// # Errors
    /// Where the search does not end: a clause.
    pub fn unity(&self) -> Result<Vec<f64>, String> {
        self.crossings(Of::Size)
    }

    /// Where arg T = 180°, in rad/s.
    ///
    /// # Errors
    /// As [`Factored::unity`].
    pub fn reversal(&self) -> Result<Vec<f64>, String> {
        self.crossings(Of::Turn)
    }

    fn crossings(&self, of: Of) -> Result<Vec<f64>, String> {
        let Some((low, high)) = self.span() else { return Ok(Vec::new()) };
        // Roots on the axis are steps of the phase and poles or zeros of the magnitude: intervals end there.
        let mut edges = vec![low, high];
        edges.extend(self.terms().map(|(_, r)| r.im).filter(|w| *w > low && *w < high));
        edges.sort_by(f64::total_cmp);
        edges.dedup();
        let mut open: Vec<[f64; 2]> = edges.windows(2).rev().map(|e| [e[0], e[1]]).collect();
        let mut found: Vec<f64> = Vec::new();
        let mut looked = 0;
        while let Some(interval) = open.pop() {
            looked += 1;
            if looked > MOST {
                return Err(
                    "its loop gain stays too near to the point of oscillation to tell its crossings apart".into()
                );
            }
            // A hair inside, where a step at the end counts as it comes from within.
            let [a, b] = [interval[0] * (1.0 + 1e-15), interval[1] * (1.0 - 1e-15)];
            if a >= b {
                continue;
            }
            let bounds = self.bounds(of, interval);
            let levels: Vec<f64> = match of {
                Of::Size => vec![0.0],
                Of::Turn => odd_turns(bounds),
            };
            let levels: Vec<f64> = levels.into_iter().filter(|l| bounds[0] <= *l && *l <= bounds[1]).collect();
            if levels.is_empty() {
                continue;
            }
            let [least, most] = self.slopes(of, interval);
            let width = (b / a).ln();
            let still = least.abs().max(most.abs()) * width < STILL;
            if least > 0.0 || most < 0.0 || still {
                for level in levels {
                    let (x, y) = (self.value(of, a) - level, self.value(of, b) - level);
                    if still && x.abs().min(y.abs()) <= STILL {
                        found.push((a * b).sqrt());
                    } else if (x < 0.0) != (y < 0.0) {
                        found.push(self.meet(of, level, [a, b]));
                    }
                }
                continue;
            }
            let middle = (interval[0] * interval[1]).sqrt();
            if middle > interval[0] && middle < interval[1] {
                open.extend([[middle, interval[1]], [interval[0], middle]]);
            }
        }
        found.sort_by(f64::total_cmp);
        // One crossing at the border of two intervals is one.
        found.dedup_by(|a, b| (*a / *b).ln().abs() < 1e-9);
        Ok(found)
    }

    /// An interval beyond whose ends nothing happens any more: far from all roots, and with the magnitude on its way.
    fn span(&self) -> Option<(f64, f64)> {
        let sizes = || self.terms().map(|(_, r)| r.norm()).filter(|x| *x > 0.0);
        let (mut low, mut high) = (sizes().fold(f64::INFINITY, f64::min), sizes().fold(0.0, f64::max));
        if !(low.is_finite() && high > 0.0) {
            (low, high) = (1.0, 1.0);
        }
        (low, high) = (low * 1e-4, high * 1e4);
        let rises = |from: f64, to: f64| self.log_size(to) - self.log_size(from);
        for _ in 0..80 {
            // Below all roots the magnitude is flat, or falls or rises away from 1.
            let slope = rises(0.1 * low, low);
            let leaves = slope.abs() < 1e-3 || self.log_size(low).signum() != slope.signum();
            if leaves {
                break;
            }
            low *= 0.1;
        }
        for _ in 0..80 {
            let slope = rises(high, 10.0 * high);
            if slope.abs() < 1e-3 || self.log_size(high).signum() == slope.signum() {
                break;
            }
            high *= 10.0;
        }
        (low > 0.0 && high.is_finite()).then_some((low, high))
    }

    /// Bisection in ln ω; the values at the ends have different signs.
    fn meet(&self, of: Of, level: f64, [mut a, mut b]: [f64; 2]) -> f64 {
        let below = self.value(of, a) < level;
        for _ in 0..200 {
            let middle = (a * b).sqrt();
            if !(middle > a && middle < b) {
                break;
            }
            if (self.value(of, middle) < level) == below { a = middle } else { b = middle }
        }
        (a * b).sqrt()
    }
}

fn add(sum: &mut [f64; 2], sign: f64, [low, high]: [f64; 2]) {
    if sign > 0.0 {
        sum[0] += low;
        sum[1] += high;
    } else {
        sum[0] -= high;
        sum[1] -= low;
    }
}

/// Odd multiples of π within bounds.
fn odd_turns([low, high]: [f64; 2]) -> Vec<f64> {
    let first = ((low - PI) / TAU).ceil() as i64;
    let last = ((high - PI) / TAU).floor() as i64;
    (first..=last.min(first + 64)).map(|k| PI + TAU * k as f64).collect()
}

/// ln|jω − r|
fn log_distance(omega: f64, r: Complex64) -> f64 {
    r.re.hypot(omega - r.im).ln()
}

/// arg(jω − r), continuous in ω: rising for a root on the left, falling for one on the right, a step for one on the axis.
fn angle(omega: f64, r: Complex64) -> f64 {
    let up = omega - r.im;
    if r.re < 0.0 {
        (up / -r.re).atan()
    } else if r.re > 0.0 {
        PI - (up / r.re).atan()
    } else if up < 0.0 {
        -FRAC_PI_2
    } else {
        FRAC_PI_2
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn real(x: f64) -> Complex64 {
        Complex64::new(x, 0.0)
    }

    #[test]
    fn three_lags_cross_where_the_algebra_says() {
        // 10 / (1 + s)³: |T| = 1 at ω² = 10^(2/3) − 1, 180° at √3.
        let lags = Factored { gain: 10.0, zeros: vec![], poles: vec![real(-1.0); 3] };
        let unity = lags.unity().unwrap();
        assert!(unity.len() == 1 && (unity[0] - (10f64.powf(2.0 / 3.0) - 1.0).sqrt()).abs() < 1e-14, "{unity:?}");
        let reversal = lags.reversal().unwrap();
        assert!(reversal.len() == 1 && (reversal[0] - 3f64.sqrt()).abs() < 1e-14, "{reversal:?}");
    }

    #[test]
    fn a_narrow_peak_is_not_missed() {
        // An integrator far below 1 at 1 rad/s, and a resonance of Q 10⁷ there that lifts it above for a ten-millionth.
        let peak = Complex64::new(-5e-8, 1.0);
        let t = Factored { gain: 1e-6, zeros: vec![], poles: vec![real(0.0), peak, peak.conj()] };
        let unity = t.unity().unwrap();
        assert_eq!(unity.len(), 3, "{unity:?}");
        assert!(unity.iter().all(|w| (t.at(*w).norm() - 1.0).abs() < 1e-6), "{unity:?}");
        assert!((unity[1] - 1.0).abs() < 1e-5 && (unity[2] - 1.0).abs() < 1e-5 && unity[2] > unity[1]);
    }

    #[test]
    fn a_phase_that_only_nears_the_turn_never_crosses_it() {
        let two = Factored { gain: 1e5, zeros: vec![], poles: vec![real(-1.0), real(-100.0)] };
        assert!(two.reversal().unwrap().is_empty());
        assert_eq!(two.unity().unwrap().len(), 1);
        let flat = Factored { gain: 0.5, zeros: vec![], poles: vec![real(-1.0)] };
        assert!(flat.unity().unwrap().is_empty());
    }

    #[test]
    fn a_phase_that_stays_at_the_turn_says_so_or_finds_it() {
        // Two ideal integrators: at 180° everywhere, |T| = 1 at 1 rad/s.
        let two = Factored { gain: 1.0, zeros: vec![], poles: vec![real(0.0); 2] };
        let unity = two.unity().unwrap();
        assert!(unity.len() == 1 && (unity[0] - 1.0).abs() < 1e-14);
        assert!(!two.reversal().unwrap().is_empty());
    }

    #[test]
    fn a_conditional_loop_has_all_three_of_its_reversals() {
        // Three poles low, two zeros between, two poles high: below, between and above.
        let zeros = vec![real(-10.0), real(-10.0)];
        let poles = vec![real(-0.01), real(-0.02), real(-0.03), real(-1e3), real(-2e3)];
        let t = Factored { gain: 1e9, zeros, poles };
        let reversal = t.reversal().unwrap();
        assert_eq!(reversal.len(), 3, "{reversal:?}");
        assert!(reversal.iter().all(|w| (t.at(*w).arg().abs() - PI).abs() < 1e-9));
    }
}
