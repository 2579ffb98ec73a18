//! Densities added up over a band, adaptively and several at once.
//!
//! The 15-point rule of Kronrod with the 7-point rule of Gauss in it, and the error estimate drawn from both, as in
//! Piessens, de Doncker-Kapenga, Überhuber and Kahaner, QUADPACK (Springer, 1983). The variable is the logarithm of the
//! frequency, in which responses are smooth; an interval is halved until its share is known. Beside sharp poles the intervals are
//! narrow from the start, so that no resonance drowns between points in what else there is.

use std::f64::consts::TAU;

use num_complex::Complex64;

/// Abscissae of the 15-point rule on −1 … 1, the non-negative ones.
const NODES: [f64; 8] = [
    0.991_455_371_120_812_6,
    0.949_107_912_342_758_5,
    0.864_864_423_359_769_1,
    0.741_531_185_599_394_4,
    0.586_087_235_467_691_1,
    0.405_845_151_377_397_2,
    0.207_784_955_007_898_47,
    0.0,
];

/// Their weights.
const WEIGHTS: [f64; 8] = [
    0.022_935_322_010_529_224,
    0.063_092_092_629_978_56,
    0.104_790_010_322_250_18,
    0.140_653_259_715_525_92,
    0.169_004_726_639_267_9,
    0.190_350_578_064_785_4,
    0.204_432_940_075_298_9,
    0.209_482_141_084_727_82,
];

/// Weights of the 7-point rule, which has every second of the abscissae.
const GAUSS: [f64; 4] =
    [0.129_484_966_168_869_7, 0.279_705_391_489_276_67, 0.381_830_050_505_118_9, 0.417_959_183_673_469_4];

/// The error that one interval may have, as a share of the whole of its own curve …
const OWN: f64 = 1e-8;
/// … or of all curves together, whichever is more.
const ALL: f64 = 1e-10;

/// Intervals a decade before any is halved: a resonance is met by its flanks, which fall as a power of the distance.
const A_DECADE: f64 = 2.0;

/// Poles below this Q are as broad as the first intervals, which see them.
const LEAST_Q: f64 = 5.0;

/// Points at most, after which the curves are held to be without an end.
const MOST: usize = 120_000;

/// Points in one call.
const BATCH: usize = 240;

/// Densities at frequencies (in hertz), by frequency: `width` curves at each.
pub type Densities<'a> = dyn FnMut(&[f64]) -> Result<Vec<f64>, String> + 'a;

#[derive(Clone, Copy)]
struct Interval {
    from: f64,
    to: f64,
    /// In the logarithm of the frequency; else in the frequency itself.
    log: bool,
}

impl Interval {
    /// The frequency at `t` (−1 … 1), and df/dt.
    fn at(&self, t: f64) -> (f64, f64) {
        let (mid, half) = ((self.from + self.to) / 2.0, (self.to - self.from) / 2.0);
        let x = mid + half * t;
        if self.log { (x.exp(), x.exp() * half) } else { (x, half) }
    }
}

/// The ends of the first intervals beside sharp poles (in rad/s), in the logarithm of the frequency in hertz: a few half widths on either
/// side, and ever more of them out to where the other intervals see by themselves.
fn beside(poles: &[Complex64]) -> Vec<f64> {
    let mut edges = Vec::new();
    for pole in poles.iter().filter(|p| p.im > 0.0 && p.norm() >= 2.0 * LEAST_Q * p.re.abs()) {
        let middle = (pole.im / TAU).ln();
        // On the axis itself the density has no sum; far below this width no digit of a frequency is left.
        let mut off = 3.0 * (pole.re.abs() / pole.im).max(1e-12);
        while off < 1.0 / A_DECADE {
            edges.extend([middle - off, middle + off]);
            off *= 8.0;
        }
    }
    edges
}

/// The integral of each of `width` curves from `low` to `high` (in hertz; `low` may be 0), each to about 1e-8 of itself or
/// 1e-10 of all together. Where the curves may be sharp is told by the poles (in rad/s) that they have in common.
///
/// # Errors
/// A curve's own, or that the sum has not settled after a great many points: it grows without end.
pub fn integrate(
    low: f64,
    high: f64,
    poles: &[Complex64],
    width: usize,
    densities: &mut Densities,
) -> Result<Vec<f64>, String> {
    let mut open = Vec::new();
    // The logarithm has no place for 0 Hz; the last billionth of the band is taken in the frequency itself.
    let start = if low > 0.0 { low } else { high * 1e-9 };
    if low <= 0.0 {
        open.push(Interval { from: 0.0, to: start, log: false });
    }
    let (a, b) = (start.ln(), high.ln());
    let count = (((b - a) / std::f64::consts::LN_10 * A_DECADE).ceil() as usize).clamp(1, 100);
    let edge = |k: usize| a + (b - a) * k as f64 / count as f64;
    let mut edges: Vec<f64> = (0..=count).map(edge).collect();
    edges.extend(beside(poles).into_iter().filter(|x| *x > a && *x < b));
    edges.sort_unstable_by(f64::total_cmp);
    edges.dedup();
    open.extend(edges.windows(2).map(|w| Interval { from: w[0], to: w[1], log: true }));
    let mut sums = vec![0.0; width];
    let mut spent = 0;
    while !open.is_empty() {
        spent += 15 * open.len();
        if spent > MOST {
            return Err("the density has no sum over this band that settles".into());
        }
        let mut rules = Vec::with_capacity(open.len());
        for batch in open.chunks(BATCH / 15) {
            rules.extend(apply(batch, width, densities)?);
        }
        let mut totals = sums.clone();
        for (rule, total) in rules.iter().flat_map(|r| r.iter().zip(0..width)).map(|(r, k)| (r.0, k)) {
            totals[total] += rule;
        }
        let all: f64 = totals.iter().sum();
        let mut next = Vec::new();
        for (interval, rule) in open.iter().zip(&rules) {
            let known = rule.iter().zip(&totals).all(|((_, error), total)| *error <= (OWN * total).max(ALL * all));
            if known {
                sums.iter_mut().zip(rule).for_each(|(sum, (share, _))| *sum += share);
            } else {
                let mid = (interval.from + interval.to) / 2.0;
                next.push(Interval { to: mid, ..*interval });
                next.push(Interval { from: mid, ..*interval });
            }
        }
        open = next;
    }
    Ok(sums)
}

/// Each curve's integral over each interval with its error.
fn apply(intervals: &[Interval], width: usize, densities: &mut Densities) -> Result<Vec<Vec<(f64, f64)>>, String> {
    let places: Vec<f64> = NODES.iter().flat_map(|x| if *x == 0.0 { vec![0.0] } else { vec![-x, *x] }).collect();
    let points: Vec<(f64, f64)> = intervals.iter().flat_map(|i| places.iter().map(|t| i.at(*t))).collect();
    let hertz: Vec<f64> = points.iter().map(|p| p.0).collect();
    let values = densities(&hertz)?;
    if values.iter().any(|x| !x.is_finite()) {
        return Err("the density is without bound inside the band".into());
    }
    let mut all = Vec::with_capacity(intervals.len());
    for i in 0..intervals.len() {
        let mut one = Vec::with_capacity(width);
        for c in 0..width {
            let y = |k: usize| values[(i * 15 + k) * width + c] * points[i * 15 + k].1;
            let (mut fine, mut coarse) = (0.0, 0.0);
            for k in 0..15 {
                fine += WEIGHTS[k / 2] * y(k);
                if (k / 2) % 2 == 1 {
                    coarse += GAUSS[k / 4] * y(k);
                }
            }
            let mean = fine / 2.0;
            let spread: f64 = (0..15).map(|k| WEIGHTS[k / 2] * (y(k) - mean).abs()).sum();
            let apart = (fine - coarse).abs();
            let error = if spread > 0.0 { spread * (200.0 * apart / spread).powf(1.5).min(1.0) } else { apart };
            one.push((fine, error));
        }
        all.push(one);
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn one(low: f64, high: f64, density: impl Fn(f64) -> f64) -> f64 {
        integrate(low, high, &[], 1, &mut |fs| Ok(fs.iter().map(|f| density(*f)).collect())).unwrap()[0]
    }

    fn near(x: f64, y: f64, tolerance: f64) {
        assert!((x / y - 1.0).abs() < tolerance, "{x} against {y}");
    }

    #[test]
    fn the_rules_are_exact_for_the_powers_they_are_made_for() {
        for power in [0, 2, 4, 8, 12, 22] {
            let sum = |weights: &[f64], step: usize| -> f64 {
                let term = |k: usize| {
                    let n = NODES[k * step + step - 1];
                    weights[k] * n.powi(power) * if n == 0.0 { 1.0 } else { 2.0 }
                };
                (0..weights.len()).map(term).sum()
            };
            let exact = 2.0 / f64::from(power + 1);
            near(sum(&WEIGHTS, 1), exact, 1e-14);
            if power <= 12 {
                near(sum(&GAUSS, 2), exact, 1e-14);
            }
        }
    }

    #[test]
    fn flat_and_one_over_f_have_their_closed_forms() {
        near(one(20.0, 20e3, |_| 2.0), 2.0 * 19_980.0, 1e-12);
        near(one(0.0, 20e3, |_| 2.0), 40e3, 1e-12);
        near(one(0.1, 1e6, |f| 1.0 / f), 1e7f64.ln(), 1e-12);
    }

    #[test]
    fn one_pole_passes_a_quarter_turn_of_its_corner() {
        // ∫ df / (1 + (f/fc)²) = fc·(atan(b/fc) − atan(a/fc))
        let f = |a: f64, b: f64| 1e3 * ((b / 1e3).atan() - (a / 1e3).atan());
        near(one(1.0, 1e9, |f| 1.0 / (1.0 + (f / 1e3).powi(2))), f(1.0, 1e9), 1e-9);
        near(one(0.0, 1e9, |f| 1.0 / (1.0 + (f / 1e3).powi(2))), f(0.0, 1e9), 1e-9);
    }

    #[test]
    fn a_sharp_resonance_is_found_wherever_it_stands() {
        // A band-pass of unit peak passes π·f₀/(2Q) from 0 Hz to infinity, whatever Q (partial fractions).
        for q in [1e1, 1e2, 1e3, 1e4, 1e5] {
            for f0 in [777.0, 1e3, 4321.0] {
                let sum = one(0.0, 1e12, |f| 1.0 / (1.0 + (q * (f / f0 - f0 / f)).powi(2)));
                near(sum, PI * f0 / (2.0 * q), 1e-7);
            }
        }
    }

    #[test]
    fn a_resonance_that_drowns_between_points_is_seen_where_a_pole_tells_of_it() {
        // A level floor of 1 with a peak of 1000 in it that is a millionth of its frequency wide: it adds 1000·π·f₀/(2Q).
        let (q, f0) = (1e6, 4321.0);
        let density = |f: f64| 1.0 + 1e3 / (1.0 + (q * (f / f0 - f0 / f)).powi(2));
        let pole = Complex64::from_polar(TAU * f0, PI / 2.0 + (0.5f64 / q).asin());
        let mut curve = |fs: &[f64]| Ok(fs.iter().map(|f| density(*f)).collect());
        let expected = 19_980.0 + 1e3 * PI * f0 / (2.0 * q);
        near(integrate(20.0, 20e3, &[pole], 1, &mut curve).unwrap()[0], expected, 1e-8);
        // Without it the floor is all that is seen, which shows that the check can fail.
        assert!((one(20.0, 20e3, density) / expected - 1.0).abs() > 1e-5);
    }

    #[test]
    fn a_density_without_a_sum_is_told() {
        let said = integrate(0.0, 1e3, &[], 1, &mut |fs| Ok(fs.iter().map(|f| 1.0 / f).collect()));
        assert!(said.is_err(), "{said:?}");
    }
}
