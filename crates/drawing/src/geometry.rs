//! Points, boxes and directions on the sheet, in whole units; y grows downwards.

/// The raster that pins and wires stand on.
pub const STEP: i32 = 10;

/// A point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Point {
    /// To the right.
    pub x: i32,
    /// Downwards.
    pub y: i32,
}

/// A point.
pub fn at(x: i32, y: i32) -> Point {
    Point { x, y }
}

impl Point {
    /// Moved.
    pub fn by(self, dx: i32, dy: i32) -> Point {
        at(self.x + dx, self.y + dy)
    }
    /// The length of the way to another point along the raster.
    pub fn way(self, other: Point) -> i32 {
        (self.x - other.x).abs() + (self.y - other.y).abs()
    }
}

/// A box.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Area {
    /// Left.
    pub x0: i32,
    /// Top.
    pub y0: i32,
    /// Right.
    pub x1: i32,
    /// Bottom.
    pub y1: i32,
}

/// A box by two opposite corners.
pub fn area(a: Point, b: Point) -> Area {
    Area { x0: a.x.min(b.x), y0: a.y.min(b.y), x1: a.x.max(b.x), y1: a.y.max(b.y) }
}

impl Area {
    /// Moved.
    pub fn by(self, dx: i32, dy: i32) -> Area {
        Area { x0: self.x0 + dx, y0: self.y0 + dy, x1: self.x1 + dx, y1: self.y1 + dy }
    }
    /// Grown by a margin on every side.
    pub fn grown(self, m: i32) -> Area {
        Area { x0: self.x0 - m, y0: self.y0 - m, x1: self.x1 + m, y1: self.y1 + m }
    }
    /// Whether they share more than an edge.
    pub fn meets(self, other: Area) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }
    /// Whether a point lies strictly inside.
    pub fn holds(self, p: Point) -> bool {
        self.x0 < p.x && p.x < self.x1 && self.y0 < p.y && p.y < self.y1
    }
    /// The smallest box around both.
    pub fn with(self, other: Area) -> Area {
        Area {
            x0: self.x0.min(other.x0),
            y0: self.y0.min(other.y0),
            x1: self.x1.max(other.x1),
            y1: self.y1.max(other.y1),
        }
    }
}

/// Up to the raster.
pub fn up(x: i32) -> i32 {
    x.div_euclid(STEP) * STEP + if x.rem_euclid(STEP) == 0 { 0 } else { STEP }
}

/// Down to the raster.
pub fn down(x: i32) -> i32 {
    x.div_euclid(STEP) * STEP
}
