//! Where the names of curves stand: behind their right ends, or along them where they do not end apart.

use super::width::width;
use super::{SIZE, TALL};
use crate::clip::Rect;
use crate::cover::Cover;
use crate::data::Plot;
use crate::line::{Frame, height};

/// A name with its place, and the line that leads from a curve to it where they stand apart.
pub(crate) struct Named {
    pub curve: usize,
    pub rect: Rect,
    pub lead: Option<[(f64, f64); 2]>,
}

/// A curve's visible runs.
pub(crate) type Runs = Vec<Vec<(f64, f64)>>;

/// The least distance between the base lines of two names.
const APART: f64 = 14.0;
/// From the sheet's edge to a name behind it.
pub(crate) const BEHIND: f64 = 12.0;

/// The curves that carry a name.
pub(crate) fn carriers(plot: &Plot) -> Vec<usize> {
    (0..plot.curves.len()).filter(|i| !plot.curves[*i].name.is_empty()).collect()
}

/// Whether all names stand behind the right edge: each curve ends there, and far enough from the others.
pub(crate) fn behind(plot: &Plot, frame: &Frame, curves: &[Runs]) -> bool {
    let all = carriers(plot);
    if all.is_empty() || plot.right.is_some() {
        return false;
    }
    let ends: Option<Vec<f64>> = all.iter().map(|i| end(&curves[*i], frame)).collect();
    let Some(mut ends) = ends else { return false };
    ends.sort_by(f64::total_cmp);
    // A family that comes together at its end is told apart where it is wide.
    let nearest = ends.windows(2).map(|p| p[1] - p[0]).fold(f64::INFINITY, f64::min);
    let all_fit = all.len() as f64 * APART <= frame.rect.h;
    all_fit && (nearest >= 5.0 || all.len() == 1)
}

/// The height at which a curve meets the right edge.
fn end(runs: &Runs, frame: &Frame) -> Option<f64> {
    let (x, y) = *runs.last()?.last()?;
    (frame.rect.right() - x < 1.0).then_some(y)
}

/// Names behind the right edge, each as near to its curve's end as the others leave it.
pub(crate) fn at_ends(plot: &Plot, frame: &Frame, curves: &[Runs], cover: &mut Cover) -> Vec<Named> {
    let mut all: Vec<(usize, f64)> =
        carriers(plot).into_iter().filter_map(|i| Some((i, end(&curves[i], frame)?))).collect();
    all.sort_by(|a, b| a.1.total_cmp(&b.1));
    let (top, bottom) = (frame.rect.y + 2.0, frame.rect.bottom() - 2.0);
    let mut at: Vec<f64> = all.iter().map(|a| a.1.clamp(top, bottom)).collect();
    // Down where the one above is too near, then up from the sheet's foot.
    for i in 1..at.len() {
        at[i] = at[i].max(at[i - 1] + APART);
    }
    let mut limit = bottom;
    for y in at.iter_mut().rev() {
        *y = y.min(limit);
        limit = *y - APART;
    }
    let edge = frame.rect.right();
    let one = |((curve, y), at): (&(usize, f64), &f64)| {
        let name = &plot.curves[*curve].name;
        let rect = Rect { x: edge + BEHIND, y: at - 0.5 * TALL, w: width(name, SIZE), h: TALL };
        Named { curve: *curve, rect, lead: Some([(edge, *y), (edge + BEHIND - 3.0, *at)]) }
    };
    let found: Vec<Named> = all.iter().zip(&at).map(one).collect();
    found.iter().for_each(|n| cover.take(n.rect));
    found
}

/// Names along their curves, where these stand apart from each other and from all else.
pub(crate) fn along(plot: &Plot, frame: &Frame, curves: &[Runs], cover: &mut Cover) -> Vec<Named> {
    let all = carriers(plot);
    let columns: Vec<f64> = (1..48).map(|k| frame.rect.x + frame.rect.w * f64::from(k) / 48.0).collect();
    // How far curves lie apart at a column: names stand best where each has room.
    let apart = |x: f64, own: usize| {
        let y = height(&curves[own], x)?;
        let others = (0..curves.len()).filter(|j| *j != own).filter_map(|j| height(&curves[j], x));
        Some((y, others.map(|o| (o - y).abs()).fold(f64::INFINITY, f64::min)))
    };
    let mut found = Vec::new();
    for own in all {
        let w = width(&plot.curves[own].name, SIZE);
        let mut candidates = Vec::new();
        for x in &columns {
            let Some((y, room)) = apart(*x, own) else { continue };
            // Away from where curves run together, and rather in the right half than at the sheet's edge.
            let crowded = 3.0 * (20.0 - room.min(20.0));
            let eccentric = 12.0 * ((x - frame.rect.x) / frame.rect.w - 0.62).abs();
            for (dy, far) in [(-TALL - 3.0, 0.0), (3.0, 1.0), (-TALL - 9.0, 6.0), (9.0, 7.0)] {
                for dx in [-0.5 * w, 4.0, -w - 4.0] {
                    let rect = Rect { x: x + dx, y: y + dy, w, h: TALL };
                    candidates.push((rect, crowded + eccentric + far));
                }
            }
        }
        if let Some(rect) = cover.place(&frame.rect.wider(-1.0), candidates.into_iter()) {
            found.push(Named { curve: own, rect, lead: None });
        }
    }
    found
}
