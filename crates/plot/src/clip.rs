//! Lines within a rectangle.

/// A rectangle from its left upper corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rect {
    pub x: f64,
    pub y: f64,
    pub w: f64,
    pub h: f64,
}

impl Rect {
    pub fn right(&self) -> f64 {
        self.x + self.w
    }

    pub fn bottom(&self) -> f64 {
        self.y + self.h
    }

    /// Whether two have a place in common.
    pub fn meets(&self, other: &Rect) -> bool {
        self.x < other.right() && other.x < self.right() && self.y < other.bottom() && other.y < self.bottom()
    }

    /// The same, wider on all sides.
    pub fn wider(&self, by: f64) -> Rect {
        Rect { x: self.x - by, y: self.y - by, w: self.w + 2.0 * by, h: self.h + 2.0 * by }
    }

    /// Whether another lies inside.
    pub fn holds(&self, other: &Rect) -> bool {
        other.x >= self.x && other.y >= self.y && other.right() <= self.right() && other.bottom() <= self.bottom()
    }
}

/// The part of a straight line that lies in a rectangle (Liang and Barsky, ACM Trans. Graphics 3, 1984).
pub(crate) fn segment(a: (f64, f64), b: (f64, f64), rect: &Rect) -> Option<[(f64, f64); 2]> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    // What is no number lies nowhere.
    if !(dx.is_finite() && dy.is_finite()) {
        return None;
    }
    let (mut from, mut to) = (0.0f64, 1.0f64);
    for (p, q) in [(-dx, a.0 - rect.x), (dx, rect.right() - a.0), (-dy, a.1 - rect.y), (dy, rect.bottom() - a.1)] {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            from = from.max(q / p);
        } else {
            to = to.min(q / p);
        }
    }
    let at = |t: f64| (a.0 + t * dx, a.1 + t * dy);
    (from <= to).then(|| [at(from), at(to)])
}

/// The runs of a broken line that lie in a rectangle.
pub(crate) fn runs(points: &[(f64, f64)], rect: &Rect) -> Vec<Vec<(f64, f64)>> {
    let mut found: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut open = false;
    for pair in points.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        if [a.0, a.1, b.0, b.1].iter().any(|v| !v.is_finite()) {
            open = false;
            continue;
        }
        match segment(a, b, rect) {
            Some([p, q]) => {
                match found.last_mut() {
                    Some(run) if open && run.last() == Some(&p) => run.push(q),
                    _ => found.push(vec![p, q]),
                }
                // What left the rectangle comes back as a new run.
                open = q == b;
            }
            None => open = false,
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_cut_at_the_edge() {
        let rect = Rect { x: 0.0, y: 0.0, w: 10.0, h: 10.0 };
        assert_eq!(segment((-5.0, 5.0), (5.0, 5.0), &rect), Some([(0.0, 5.0), (5.0, 5.0)]));
        assert_eq!(segment((-5.0, -5.0), (-1.0, 20.0), &rect), None);
        let runs = runs(&[(1.0, 1.0), (2.0, 20.0), (3.0, 1.0), (4.0, f64::NAN), (5.0, 5.0), (6.0, 5.0)], &rect);
        assert_eq!(runs.len(), 3, "{runs:?}");
    }
}
