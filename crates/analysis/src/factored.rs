//! A response by its zeros and poles.

use std::f64::consts::TAU;

use num_complex::Complex64;
use pencil::{Excitation, Functional, Unsure, numerator, roots};

use crate::plan::{Gain, Local, Plan};
use crate::positions::Stand;
use crate::response::{Inputs, Response};

/// A pair of roots whose real part is so small a share of its size (a Q of a million and more) is told as one on the axis: parts that are
/// off by a millionth leave more.
pub const ON_AXIS: f64 = 5e-7;

/// `gain · Π(s − zero) / Π(s − pole)`; roots that are not real stand beside their conjugates.
#[derive(Clone, Debug, PartialEq)]
pub struct Factored {
    /// Its sign counts.
    pub gain: f64,
    /// In rad/s.
    pub zeros: Vec<Complex64>,
    /// In rad/s.
    pub poles: Vec<Complex64>,
}

impl Factored {
    /// A gain's zeros and poles, from the equations of its plan at these values: the numerators of V(B) and of V(A), whose
    /// common denominator falls out.
    ///
    /// # Errors
    /// Where nothing arrives, where a root is not known, or where roots and equations disagree: a clause.
    pub fn of_gain(local: &Local, values: &[f64]) -> Result<Factored, String> {
        let [a, b] = [&local.wanted[0], &local.wanted[1]];
        let pencil = local.solver.pencil();
        let (Some(zeros), Some(poles)) =
            (zeros(pencil, values, &local.excitation, b)?, zeros(pencil, values, &local.excitation, a)?)
        else {
            return Err("nothing arrives there".into());
        };
        Factored::fitted(zeros, poles, |omegas| {
            let lanes: Vec<pencil::Lane> =
                omegas.iter().map(|w| pencil::Lane { s: Complex64::new(0.0, *w), values }).collect();
            let all = local.solver.solve(&lanes, &local.excitation, &local.wanted[..2]);
            all.chunks(2)
                .map(|row| match row {
                    [Ok(a), Ok(b)] => Ok(b / a),
                    _ => Err("its equations have no answer beside its roots".to_string()),
                })
                .collect()
        })
    }

    /// The zeros and poles of a gain's plan with the controls at rest; `None` where it is no gain, where a number is missing or
    /// where they are not known.
    pub fn at_rest(plan: &Plan, inputs: &Inputs) -> Option<Factored> {
        Factored::at_position(plan, inputs, &inputs.hands.rest()).ok()
    }

    /// The same at a position.
    ///
    /// # Errors
    /// Why they are not known: a clause.
    pub fn at_position(plan: &Plan, inputs: &Inputs, stand: &Stand) -> Result<Factored, String> {
        let local = match plan {
            Plan::Gain(Gain::Way { local, .. }) => local,
            Plan::Gain(Gain::Unknown(why)) => return Err(why.clone()),
            Plan::Gain(Gain::One) => return Ok(Factored { gain: 1.0, zeros: Vec::new(), poles: Vec::new() }),
            _ => return Err("it is no gain".into()),
        };
        let clash = inputs.clash(&stand.positions);
        if let Some(why) = inputs.missing().or(stand.unknown.as_deref()).or(clash.as_deref()) {
            return Err(why.to_string());
        }
        Factored::of_gain(local, Response::new(local, inputs).values(stand).numbers())
    }

    /// What the zeros are, in words, and how the response ends; `None` where there is no finite zero. A zero at the pole of another stage that
    /// loads this one undoes that pole, and is as little this stage's own.
    pub fn zeros_told(&self, others: &[Complex64]) -> Option<String> {
        let mut zeros = self.zeros.clone();
        for pole in others {
            let near = |z: &Complex64| (z - pole).norm() <= 0.02 * pole.norm() && z.norm() > 0.0;
            let nearest = (0..zeros.len())
                .filter(|i| near(&zeros[*i]))
                .min_by(|a, b| (zeros[*a] - pole).norm().total_cmp(&(zeros[*b] - pole).norm()));
            nearest.map(|i| zeros.swap_remove(i));
        }
        if zeros.is_empty() {
            return None;
        }
        let mut said = Vec::new();
        match self.at_origin() {
            n if n > 1 => said.push(format!("{n} at the origin")),
            1 => said.push("one at the origin".into()),
            _ => {}
        }
        let mut finite: Vec<&Complex64> = zeros.iter().filter(|z| z.norm() > 0.0 && z.im >= 0.0).collect();
        finite.sort_by(|a, b| a.norm().total_cmp(&b.norm()));
        for z in finite.iter().take(4) {
            let f = crate::print::hertz(z.norm() / TAU);
            let side = if z.re > 1e-9 * z.norm() { " on the right" } else { "" };
            said.push(if z.im == 0.0 {
                format!("{f} real{side}")
            } else if z.re.abs() <= ON_AXIS * z.norm() {
                format!("a notch at {f}")
            } else {
                let q =
                    quantity::computed(0.5 * z.norm() / z.re.abs(), quantity::Unit::One, quantity::Style::default());
                format!("{f} with Q {}{side}", q.unwrap_or_default())
            });
        }
        if finite.len() > 4 {
            said.push(format!("{} more", finite.len() - 4));
        }
        let end = match self.at_infinity() {
            0 => "level far up".into(),
            n if n > 0 => format!("falling by {} dB a decade far up", 20 * n),
            n => format!("rising by {} dB a decade far up", -20 * n),
        };
        Some(format!("zeros: {}; {end}", said.join(", ")))
    }

    /// A response with these zeros and poles whose factor is read off the response itself, and held against it at two places
    /// more, in rad/s. What stands above and below alike is left out.
    ///
    /// # Errors
    /// Where the response does not have these roots.
    pub fn fitted(
        zeros: Vec<Complex64>,
        poles: Vec<Complex64>,
        response: impl Fn(&[f64]) -> Result<Vec<Complex64>, String>,
    ) -> Result<Factored, String> {
        let mut found = Factored { gain: 1.0, zeros, poles }.reduced();
        let sizes: Vec<f64> = found.zeros.iter().chain(&found.poles).map(|z| z.norm()).filter(|x| *x > 0.0).collect();
        let (low, high) =
            (sizes.iter().copied().fold(f64::INFINITY, f64::min), sizes.iter().copied().fold(0.0, f64::max));
        let middle = if low.is_finite() { low.sqrt() * high.sqrt() } else { 1.0 };
        // Beside the roots: at one of them the response is nothing or without limit, and tells no factor.
        let beside = |w: &f64| found.terms().all(|(_, r)| (Complex64::new(0.0, *w) - r).norm() > 1e-4 * w);
        let places = [1.37 * middle, 0.37 * low.min(middle), 2.7 * high.max(middle), 0.61 * middle];
        let places: Vec<f64> = places.into_iter().filter(beside).collect();
        let mut gain = None;
        for (omega, value) in places.iter().zip(response(&places)?) {
            let share = value / found.at(*omega);
            let one = *gain.get_or_insert(share.re);
            if (share - one).norm() > 1e-6 * one.abs() || !share.is_finite() {
                return Err("its zeros and poles do not hold against its equations".into());
            }
        }
        found.gain = gain.unwrap_or(0.0);
        Ok(found)
    }

    /// Zeros at the origin; below 0, so many poles.
    pub fn at_origin(&self) -> i64 {
        let count = |all: &[Complex64]| all.iter().filter(|z| z.norm() == 0.0).count() as i64;
        count(&self.zeros) - count(&self.poles)
    }

    /// Zeros at infinity: by so many powers the response falls far up; below 0 it rises.
    pub fn at_infinity(&self) -> i64 {
        self.poles.len() as i64 - self.zeros.len() as i64
    }

    /// At any place of the plane.
    pub fn value_at(&self, s: Complex64) -> Complex64 {
        // Paired by rank, so that no half of the product runs out of range.
        let (mut z, mut p) = (self.zeros.iter(), self.poles.iter());
        let mut value = Complex64::new(self.gain, 0.0);
        loop {
            match (z.next(), p.next()) {
                (None, None) => return value,
                (z, p) => {
                    value *= z.map_or(Complex64::new(1.0, 0.0), |z| s - z);
                    value /= p.map_or(Complex64::new(1.0, 0.0), |p| s - p);
                }
            }
        }
    }

    /// Takes away what stands above and below alike.
    fn reduced(mut self) -> Factored {
        let (mut k, share) = (0, 1e-9);
        while k < self.zeros.len() {
            let z = self.zeros[k];
            let same = |p: &Complex64| (p - z).norm() <= share * z.norm();
            match self.poles.iter().position(same) {
                Some(at) => {
                    self.poles.remove(at);
                    self.zeros.remove(k);
                }
                None => k += 1,
            }
        }
        self
    }
}

/// The zeros of a functional; none where it is 0 at every frequency.
///
/// # Errors
/// Where they are not known: a clause.
pub(crate) fn zeros(
    pencil: &pencil::Pencil,
    values: &[f64],
    excitation: &Excitation,
    functional: &Functional,
) -> Result<Option<Vec<Complex64>>, String> {
    match roots(&numerator(pencil, excitation, functional), values) {
        Ok(blocks) => Ok(Some(blocks.iter().flat_map(|b| b.roots.iter().map(|r| r.s)).collect())),
        Err(Unsure::Singular { .. }) => Ok(None),
        Err(why) => Err(reason(&why)),
    }
}

/// Why roots are not known: a clause.
pub(crate) fn reason(why: &Unsure) -> String {
    match why {
        Unsure::Unsettled { .. } => "its poles lie too close together to be told apart".into(),
        other => other.to_string(),
    }
}
