//! Where words find room: what is taken already, and what is drawn there.

use crate::clip::Rect;

/// A sheet with words on it and lines under them.
pub(crate) struct Cover {
    cell: f64,
    columns: usize,
    rows: usize,
    /// By cell: how many lines pass.
    ink: Vec<u16>,
    /// Where words stand.
    taken: Vec<Rect>,
}

impl Cover {
    pub fn new(width: f64, height: f64, cell: f64) -> Cover {
        let (columns, rows) = ((width / cell).ceil() as usize + 1, (height / cell).ceil() as usize + 1);
        Cover { cell, columns, rows, ink: vec![0; columns * rows], taken: Vec::new() }
    }

    fn mark(&mut self, x: f64, y: f64) {
        if x >= 0.0 && y >= 0.0 {
            let (c, r) = ((x / self.cell) as usize, (y / self.cell) as usize);
            if c < self.columns && r < self.rows {
                self.ink[r * self.columns + c] = self.ink[r * self.columns + c].saturating_add(1);
            }
        }
    }

    /// A broken line passes here.
    pub fn line(&mut self, points: &[(f64, f64)]) {
        for pair in points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let length = (b.0 - a.0).abs().max((b.1 - a.1).abs());
            let steps = (length / self.cell * 2.0).ceil().clamp(1.0, 1e5) as usize;
            for k in 0..=steps {
                let t = k as f64 / steps as f64;
                self.mark(a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
            }
        }
    }

    /// Words stand here already.
    pub fn take(&mut self, rect: Rect) {
        self.taken.push(rect);
    }

    /// Whether words may stand here beside the others.
    pub fn free(&self, rect: &Rect) -> bool {
        let wide = rect.wider(1.5);
        !self.taken.iter().any(|t| t.meets(&wide))
    }

    /// How many cells with lines lie under a rectangle.
    pub fn ink(&self, rect: &Rect) -> usize {
        let clamp = |v: f64, most: usize| (v / self.cell).floor().clamp(0.0, (most - 1) as f64) as usize;
        let (from, to) = (clamp(rect.x, self.columns), clamp(rect.right(), self.columns));
        let (top, bottom) = (clamp(rect.y, self.rows), clamp(rect.bottom(), self.rows));
        let rows = (top..=bottom).flat_map(|r| (from..=to).map(move |c| (r, c)));
        rows.filter(|(r, c)| self.ink[r * self.columns + c] > 0).count()
    }

    /// Takes the first of the best places: inside, free of other words, over as few lines as may be. Each comes with what it costs by itself.
    pub fn place(&mut self, inside: &Rect, candidates: impl Iterator<Item = (Rect, f64)>) -> Option<Rect> {
        let mut best: Option<(Rect, f64)> = None;
        for (rect, cost) in candidates {
            if best.is_some_and(|b| b.1 <= cost) || !inside.holds(&rect) || !self.free(&rect) {
                continue;
            }
            let cost = cost + 4.0 * self.ink(&rect) as f64;
            if best.is_none_or(|b| cost < b.1) {
                best = Some((rect, cost));
            }
        }
        let (rect, _) = best?;
        self.take(rect);
        Some(rect)
    }
}
