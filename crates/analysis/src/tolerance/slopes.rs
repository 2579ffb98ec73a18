//! How much each part matters at nominal values.

use num_complex::Complex64;

use super::spread::Spread;
use crate::build::{Scale, Seen};
use circuit::{NodeId, PartId};

/// What a reading's linear quantity changes by where each part is off, for one end of the reading: in its own unit for a
/// change of 1 (100 %) of the part.
#[derive(Clone, Debug, PartialEq)]
pub struct Slopes {
    /// Its nominal value.
    pub nominal: Complex64,
    /// For each freedom at its full amount.
    pub effects: Vec<Complex64>,
    /// Where the readings are magnitudes: what the effects are whatever their phase, from what is read a step to either side.
    sizes: Option<Vec<f64>>,
}

impl Slopes {
    /// From central differences: the readings with each part, then each rail, a little less and a little more.
    pub fn of(
        spread: &Spread,
        (parts, rails): (&[PartId], &[NodeId]),
        nominal: Complex64,
        step: f64,
        pairs: &[[Seen; 2]],
        (end, magnitudes): (usize, bool),
    ) -> Slopes {
        let each: Vec<Complex64> =
            pairs.iter().map(|[less, more]| (more.steer[end] - less.steer[end]) / (2.0 * step)).collect();
        let of = |part: PartId| parts.binary_search(&part).map_or(Complex64::default(), |i| each[i]);
        let rail = |rail| rails.iter().position(|r| *r == rail).map_or(Complex64::default(), |i| each[parts.len() + i]);
        let effect = |f: &super::spread::Freedom| match f.rail {
            Some((node, share)) => rail(node) * share,
            None => f.moves.iter().map(|(p, share)| of(*p) * share).sum(),
        };
        let effects = spread.freedoms.iter().map(effect).collect();
        // |g + hd|² + |g − hd|² = 2|g|² + 2h²|d|²
        let size = |[less, more]: &[Seen; 2]| {
            let squares = more.steer[end].norm_sqr() + less.steer[end].norm_sqr() - 2.0 * nominal.norm_sqr();
            (0.5 * squares).max(0.0).sqrt() / step
        };
        let sizes = magnitudes.then(|| {
            let each: Vec<f64> = pairs.iter().map(size).collect();
            let of = |part: PartId| parts.binary_search(&part).map_or(0.0, |i| each[i]);
            spread
                .freedoms
                .iter()
                .map(|f| f.moves.iter().map(|(p, s)| (of(*p) * s).powi(2)).sum::<f64>().sqrt())
                .collect()
        });
        Slopes { nominal, effects, sizes }
    }

    /// Whether the nominal value is a null, or next to one: less than what the parts are off by adds up to, whatever its phase. What is left of
    /// it then has a phase of its own, along which no effect has to lie.
    pub fn null(&self, scale: Scale) -> bool {
        let squares: f64 = match (&self.sizes, scale) {
            (Some(sizes), _) => sizes.iter().map(|x| x * x).sum(),
            (None, Scale::Real) => return false,
            _ => self.effects.iter().map(Complex64::norm_sqr).sum(),
        };
        self.nominal.norm() < squares.sqrt()
    }

    /// Whether what is read of a null are magnitudes alone, which have no slope.
    pub fn blunt(&self, scale: Scale) -> bool {
        self.sizes.is_some() && self.null(scale)
    }

    /// The effects along the direction in which the value grows fastest: the nominal one's own, or where that is nothing, that
    /// of the greatest effect.
    pub fn along(&self, scale: Scale) -> Vec<f64> {
        let most =
            self.effects.iter().copied().fold(Complex64::default(), |a, b| if b.norm() > a.norm() { b } else { a });
        let direction = match scale {
            Scale::Real => Complex64::new(1.0, 0.0),
            Scale::Size | Scale::Decibels if most.norm() > 0.0 && self.null(scale) => most / most.norm(),
            _ if self.nominal.norm() > 1e-9 * most.norm() => self.nominal / self.nominal.norm(),
            _ if most.norm() > 0.0 => most / most.norm(),
            _ => Complex64::new(1.0, 0.0),
        };
        let sign = match scale {
            Scale::Signed | Scale::Resistance if scale.value(self.nominal) < 0.0 => -1.0,
            Scale::Decibels => -1.0,
            _ => 1.0,
        };
        self.effects.iter().map(|e| sign * (direction.conj() * e).re).collect()
    }

    /// How high the value is where every freedom stands at the end that leads there, to first order; how low, where `highest` is not asked for.
    pub fn reach(&self, scale: Scale, highest: bool) -> f64 {
        let sign = if highest { 1.0 } else { -1.0 };
        match scale {
            // Effects that turn the same way add up; a dozen directions of half a turn miss none of them by more than a hundredth.
            Scale::Decibels => {
                let toward = |k: i32| Complex64::from_polar(1.0, std::f64::consts::PI * f64::from(k) / 12.0);
                let along = |k: i32| {
                    let d = toward(k).conj();
                    (self.nominal * d).re.abs() - sign * self.effects.iter().map(|e| (e * d).re.abs()).sum::<f64>()
                };
                let shares = (0..12).map(along);
                scale.value(shares.fold(0.0, f64::max).into())
            }
            Scale::Size => (self.nominal.norm() + sign * self.sum(scale)).max(0.0),
            _ => scale.value(self.nominal) + sign * self.sum(scale),
        }
    }

    fn sum(&self, scale: Scale) -> f64 {
        self.along(scale).iter().map(|x| x.abs()).sum()
    }

    /// Root of the sum of the squares of the effects.
    pub fn root_sum(&self, scale: Scale) -> f64 {
        match scale {
            // From nothing, every direction adds.
            Scale::Real if self.blunt(scale) => f64::NAN,
            _ if scale == Scale::Decibels || self.null(scale) => {
                self.effects.iter().map(Complex64::norm_sqr).sum::<f64>().sqrt()
            }
            _ => self.along(scale).iter().map(|x| x * x).sum::<f64>().sqrt(),
        }
    }
}
