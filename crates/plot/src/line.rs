//! A curve on a sheet: its points as places, and what is seen of them.

use crate::clip::{Rect, runs};
use crate::data::{Curve, Plot, Side};
use crate::ruler::Ruler;
use crate::thin::thin;

/// The three axes of a plot, and where they lie.
pub(crate) struct Frame {
    pub x: Ruler,
    pub y: Ruler,
    pub right: Option<Ruler>,
    /// Where the curves stand.
    pub rect: Rect,
}

impl Frame {
    /// The axis on a side; the left one where there is no other.
    pub fn axis(&self, side: Side) -> &Ruler {
        match side {
            Side::Right => self.right.as_ref().unwrap_or(&self.y),
            Side::Left => &self.y,
        }
    }

    pub fn at_x(&self, x: f64) -> f64 {
        self.rect.x + self.x.share(x) * self.rect.w
    }

    pub fn at_y(&self, y: f64, side: Side) -> f64 {
        // What lies below every sheet stands far under this one.
        let share = self.axis(side).share(y).clamp(-1e3, 1e3);
        self.rect.bottom() - share * self.rect.h
    }

    /// The runs of a curve that are seen, in columns of this width.
    pub fn runs(&self, points: &[(f64, f64)], side: Side, column: f64) -> Vec<Vec<(f64, f64)>> {
        let placed: Vec<(f64, f64)> = points
            .iter()
            .map(|(x, y)| (self.at_x(*x), if y.is_nan() { f64::NAN } else { self.at_y(*y, side) }))
            .collect();
        runs(&thin(&placed, column), &self.rect)
    }

    /// Each curve's visible runs.
    pub fn curves(&self, plot: &Plot, column: f64) -> Vec<Vec<Vec<(f64, f64)>>> {
        plot.curves.iter().map(|c: &Curve| self.runs(&c.points, c.side, column)).collect()
    }
}

/// The height at which runs pass a place, if they do.
pub(crate) fn height(runs: &[Vec<(f64, f64)>], x: f64) -> Option<f64> {
    let pairs = runs.iter().flat_map(|r| r.windows(2));
    let over = pairs.filter(|p| p[0].0 <= x && x <= p[1].0);
    over.map(|p| {
        let (a, b) = (p[0], p[1]);
        if b.0 > a.0 { a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0) } else { b.1 }
    })
    .next()
}
