//! Shares and points of a number of builds.

/// The share of some in all, and the interval that the true share lies in with 95 % confidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// How many.
    pub some: usize,
    /// Of how many.
    pub all: usize,
    /// 95 % confidence.
    pub interval: [f64; 2],
}

/// The normal distribution's 97.5 % point.
const Z: f64 = 1.959_963_984_540_054;

impl Share {
    /// The share of `some` in `all` with its score interval (Wilson, J. Amer. Statist. Assoc. 22, 1927).
    pub fn of(some: usize, all: usize) -> Share {
        let (n, p) = (all as f64, some as f64 / all as f64);
        let square = Z * Z / n;
        let middle = (p + 0.5 * square) / (1.0 + square);
        let half = Z / (1.0 + square) * (p * (1.0 - p) / n + 0.25 * square / n).sqrt();
        // None and all are their own ends.
        let low = if some == 0 { 0.0 } else { middle - half };
        let high = if some == all { 1.0 } else { middle + half };
        Share { some, all, interval: [low, high] }
    }

    /// Where none is missing, how large the share that was missed may be with 95 % confidence: more would have shown in so many (Clopper and
    /// Pearson, Biometrika 26, 1934, two-sided).
    pub fn most_missed(&self) -> f64 {
        1.0 - 0.025f64.powf(1.0 / self.all as f64)
    }

    /// As a number from 0 to 1.
    pub fn value(&self) -> f64 {
        self.some as f64 / self.all as f64
    }
}

/// The point below which this share of sorted values lies, straight between neighbours.
pub fn point(sorted: &[f64], share: f64) -> Option<f64> {
    let place = share * (sorted.len().checked_sub(1)?) as f64;
    let (low, high) = (sorted[place.floor() as usize], sorted[place.ceil() as usize]);
    // Equal ends may be without bound, where their difference is no number.
    Some(if low == high { low } else { low + (high - low) * place.fract() })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Brown, Cai and DasGupta, Statistical Science 16 (2001), give the interval's formula; these were worked out from it by hand.
    #[test]
    fn score_intervals() {
        let share = Share::of(10, 20);
        assert!((share.interval[0] - 0.299_298).abs() < 1e-5 && (share.interval[1] - 0.700_702).abs() < 1e-5);
        let none = Share::of(0, 10);
        assert!(none.interval[0] == 0.0 && (none.interval[1] - 0.277_533).abs() < 1e-5, "{none:?}");
        assert_eq!(Share::of(10, 10).interval[1], 1.0);
        // (1 − p)¹⁰⁰ = 0.025
        assert!((Share::of(100, 100).most_missed() - 0.036_217).abs() < 1e-6);
    }

    #[test]
    fn points_lie_between_neighbours() {
        assert_eq!(point(&[1.0, 2.0, 4.0], 0.5), Some(2.0));
        assert_eq!(point(&[1.0, 2.0, 4.0], 0.75), Some(3.0));
        assert_eq!(point(&[f64::INFINITY; 3], 0.4), Some(f64::INFINITY));
        assert_eq!(point(&[], 0.5), None);
    }
}
