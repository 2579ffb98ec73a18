//! Wires along the raster: the cheapest way between what belongs together, around symbols and texts, with few bends and crossings.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use crate::block::Wire;
use crate::geometry::{Area, Point, STEP, area, at};

/// What a bend costs, in steps of the raster.
const BEND: u32 = 4;
/// What a crossing costs.
const CROSSING: u32 = 14;
/// What a step beside something costs on top.
const NEAR: u32 = 1;

/// A place to be joined to a node's wires.
#[derive(Clone, Copy, Debug)]
pub struct Terminal {
    /// The node.
    pub node: usize,
    /// Where.
    pub at: Point,
}

/// The routed wires.
#[derive(Clone, Debug, Default)]
pub struct Routed {
    /// All of them.
    pub wires: Vec<Wire>,
    /// Nodes of which a part could not be joined to the rest.
    pub apart: Vec<usize>,
    /// How often one wire crosses another.
    pub crossings: usize,
    /// How often a wire bends.
    pub bends: usize,
}

#[derive(Clone, Copy, Default)]
struct Cell {
    /// Nothing runs here, but for a pin's own node.
    solid: bool,
    /// Something solid is next to it.
    near: bool,
    /// The node of a pin here, plus 1.
    pin: u32,
    /// The node of a wire that runs to the right or left, plus 1.
    level: u32,
    /// The node of a wire that runs up or down, plus 1.
    upright: u32,
    /// A wire ends, bends or branches here.
    knot: bool,
}

/// The raster of a sheet.
pub struct Raster {
    origin: Point,
    width: usize,
    height: usize,
    cells: Vec<Cell>,
    wires: Vec<Wire>,
}

/// The four ways: right, down, left, up.
const WAYS: [(i32, i32); 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

impl Raster {
    /// An empty raster over an area.
    pub fn new(over: Area) -> Raster {
        let width = ((over.x1 - over.x0) / STEP + 1).max(1) as usize;
        let height = ((over.y1 - over.y0) / STEP + 1).max(1) as usize;
        Raster {
            origin: at(over.x0, over.y0),
            width,
            height,
            cells: vec![Cell::default(); width * height],
            wires: Vec::new(),
        }
    }

    fn index(&self, p: Point) -> Option<usize> {
        let (x, y) = ((p.x - self.origin.x) / STEP, (p.y - self.origin.y) / STEP);
        let inside =
            p.x >= self.origin.x && p.y >= self.origin.y && (x as usize) < self.width && (y as usize) < self.height;
        inside.then(|| y as usize * self.width + x as usize)
    }

    fn point(&self, i: usize) -> Point {
        self.origin.by((i % self.width) as i32 * STEP, (i / self.width) as i32 * STEP)
    }

    /// Lets nothing run through an area.
    pub fn block(&mut self, over: Area) {
        let first = |v: i32, o: i32| (v - o).div_euclid(STEP) + 1;
        let last = |v: i32, o: i32| (v - o - 1).div_euclid(STEP);
        for y in first(over.y0, self.origin.y).max(0)..=last(over.y1, self.origin.y).min(self.height as i32 - 1) {
            for x in first(over.x0, self.origin.x).max(0)..=last(over.x1, self.origin.x).min(self.width as i32 - 1) {
                self.cells[y as usize * self.width + x as usize].solid = true;
            }
        }
    }

    /// Lets nothing run along a lead, its ends left out.
    pub fn lead(&mut self, a: Point, b: Point) {
        let inner = area(a, b);
        for i in 0..=(inner.x1 - inner.x0 + inner.y1 - inner.y0) / STEP {
            let p = if inner.x0 == inner.x1 {
                at(inner.x0, inner.y0 + i * STEP)
            } else {
                at(inner.x0 + i * STEP, inner.y0)
            };
            if p != a
                && p != b
                && let Some(i) = self.index(p)
            {
                self.cells[i].solid = true;
            }
        }
    }

    /// Keeps a pin for its node.
    pub fn pin(&mut self, node: usize, p: Point) {
        if let Some(i) = self.index(p) {
            self.cells[i].pin = node as u32 + 1;
            self.cells[i].knot = true;
        }
    }

    /// Marks what lies beside something solid.
    pub fn shade(&mut self) {
        for i in 0..self.cells.len() {
            if !self.cells[i].solid {
                continue;
            }
            let p = self.point(i);
            for (dx, dy) in WAYS {
                if let Some(j) = self.index(p.by(dx * STEP, dy * STEP)) {
                    self.cells[j].near = true;
                }
            }
        }
    }

    /// Whether a wire of a node may come to a cell, running so; `None`: not at all, else whether it crosses another.
    fn enter(&self, i: usize, node: u32, level: bool) -> Option<bool> {
        let c = &self.cells[i];
        if c.pin != node && (c.pin != 0 || c.solid) {
            return None;
        }
        let (along, across) = if level { (c.level, c.upright) } else { (c.upright, c.level) };
        if along != 0 && along != node {
            return None;
        }
        if across != 0 && across != node {
            return if c.knot { None } else { Some(true) };
        }
        Some(false)
    }

    /// Draws a wire if nothing is in its way.
    pub fn try_wire(&mut self, wire: &Wire) -> bool {
        let node = wire.node as u32 + 1;
        let mut run: Vec<(usize, bool, bool)> = Vec::new();
        for (k, pair) in wire.points.windows(2).enumerate() {
            let (a, b) = (pair[0], pair[1]);
            let (dx, dy) = ((b.x - a.x).signum(), (b.y - a.y).signum());
            if dx != 0 && dy != 0 {
                return false;
            }
            let n = a.way(b) / STEP;
            for s in 0..=n {
                if s == 0 && k > 0 {
                    // The corner itself takes both directions.
                }
                let end = s == 0 || s == n;
                let Some(i) = self.index(a.by(dx * s * STEP, dy * s * STEP)) else { return false };
                match self.enter(i, node, dx != 0) {
                    None => return false,
                    Some(true) if end => return false,
                    _ => run.push((i, dx != 0, end)),
                }
            }
        }
        for (i, level, end) in run {
            let c = &mut self.cells[i];
            if level {
                c.level = node;
            } else {
                c.upright = node;
            }
            c.knot |= end;
        }
        self.wires.push(wire.clone());
        true
    }

    /// Joins all that belongs to each node: first the wires that are meant to run so, then the cheapest ways. Short nodes come first,
    /// unless `first` names others. `joined` are places of a node that are joined elsewhere.
    pub fn route(
        mut self,
        meant: &[Wire],
        terminals: &[Terminal],
        joined: &[(usize, Point, Point)],
        first: &[usize],
    ) -> Routed {
        self.shade();
        for wire in meant {
            self.try_wire(wire);
        }
        let mut nodes: Vec<usize> = terminals.iter().map(|t| t.node).collect();
        nodes.sort_unstable();
        nodes.dedup();
        let mut by_node: Vec<(usize, Vec<Point>)> = nodes.into_iter().map(|n| (n, Vec::new())).collect();
        for t in terminals {
            if let Ok(k) = by_node.binary_search_by_key(&t.node, |(n, _)| *n) {
                by_node[k].1.push(t.at);
            }
        }
        by_node.sort_by_key(|(node, points)| {
            let around = points.iter().map(|p| area(*p, *p)).reduce(Area::with);
            let size = around.map_or(0, |a| a.x1 - a.x0 + a.y1 - a.y0);
            (first.iter().position(|f| f == node).unwrap_or(usize::MAX), size, *node)
        });
        let mut search = Search::new(self.cells.len());
        let mut apart = Vec::new();
        for (node, points) in by_node {
            let elsewhere: Vec<(Point, Point)> =
                joined.iter().filter(|(n, ..)| *n == node).map(|(_, a, b)| (*a, *b)).collect();
            if !self.join(node, &points, &elsewhere, &mut search) {
                apart.push(node);
            }
        }
        self.finish(apart)
    }

    /// Joins the places of one node.
    fn join(&mut self, node: usize, points: &[Point], joined: &[(Point, Point)], search: &mut Search) -> bool {
        let mut clusters: Vec<Vec<usize>> = Vec::new();
        let add = |all: &mut Vec<Vec<usize>>, cells: Vec<usize>| {
            let mut joined = cells;
            let mut k = 0;
            while k < all.len() {
                if all[k].iter().any(|i| joined.contains(i)) {
                    joined.extend(all.remove(k));
                } else {
                    k += 1;
                }
            }
            all.push(joined);
        };
        for p in points {
            if let Some(i) = self.index(*p) {
                add(&mut clusters, vec![i]);
            }
        }
        for (a, b) in joined {
            if let (Some(i), Some(j)) = (self.index(*a), self.index(*b)) {
                add(&mut clusters, vec![i, j]);
            }
        }
        let own: Vec<Wire> = self.wires.iter().filter(|w| w.node == node).cloned().collect();
        for wire in own {
            let cells = self.along(&wire);
            add(&mut clusters, cells);
        }
        let mut whole = true;
        while clusters.len() > 1 {
            match self.nearest(node as u32 + 1, &clusters, search) {
                Some(path) => {
                    let points = corners(path.iter().map(|i| self.point(*i)).collect());
                    let wire = Wire { node, points };
                    self.try_wire(&wire);
                    let cells = self.along(&wire);
                    let before = clusters.len();
                    add(&mut clusters, cells);
                    if clusters.len() >= before {
                        // A way that joins nothing would be looked for for ever.
                        return false;
                    }
                }
                None => {
                    whole = false;
                    // What cannot be reached stays by itself.
                    clusters.remove(0);
                }
            }
        }
        whole
    }

    fn along(&self, wire: &Wire) -> Vec<usize> {
        let mut cells = Vec::new();
        for pair in wire.points.windows(2) {
            let (dx, dy) = ((pair[1].x - pair[0].x).signum(), (pair[1].y - pair[0].y).signum());
            for s in 0..=pair[0].way(pair[1]) / STEP {
                cells.extend(self.index(pair[0].by(dx * s * STEP, dy * s * STEP)));
            }
        }
        cells
    }

    /// The cheapest way from the first cluster to any other, as cells.
    fn nearest(&self, node: u32, clusters: &[Vec<usize>], search: &mut Search) -> Option<Vec<usize>> {
        search.begin();
        let mut goal: Option<Area> = None;
        for i in clusters[1..].iter().flatten() {
            search.target[*i] = search.round;
            let p = self.point(*i);
            goal = Some(goal.map_or(area(p, p), |g| g.with(area(p, p))));
        }
        let goal = goal?;
        let guess = |p: Point| {
            let dx = (goal.x0 - p.x).max(p.x - goal.x1).max(0);
            let dy = (goal.y0 - p.y).max(p.y - goal.y1).max(0);
            ((dx + dy) / STEP) as u32
        };
        for i in &clusters[0] {
            let c = &self.cells[*i];
            // Where another wire crosses nothing may branch off.
            if c.level != 0 && c.level != node || c.upright != 0 && c.upright != node {
                continue;
            }
            for way in 0..4 {
                let key = i * 4 + way;
                if search.better(key, 0, usize::MAX) {
                    search.heap.push(Reverse((guess(self.point(*i)), 0, key)));
                }
            }
        }
        while let Some(Reverse((_, cost, key))) = search.heap.pop() {
            if search.cost(key) < cost {
                continue;
            }
            let (i, way) = (key / 4, key % 4);
            let c = &self.cells[i];
            let level = way % 2 == 0;
            let crossing =
                (if level { c.upright } else { c.level }) != 0 && (if level { c.upright } else { c.level }) != node;
            if search.target[i] == search.round && cost > 0 && !crossing {
                let mut path = vec![i];
                let mut at = key;
                while search.from[at] != usize::MAX {
                    at = search.from[at];
                    if path.last() != Some(&(at / 4)) {
                        path.push(at / 4);
                    }
                }
                path.reverse();
                return Some(path);
            }
            for turn in [0, 1, 3] {
                if turn != 0 && crossing {
                    continue;
                }
                let next_way = (way + turn) % 4;
                let mut step = if turn == 0 { 0 } else { BEND };
                if turn != 0 && cost == 0 {
                    continue;
                }
                let (dx, dy) = WAYS[next_way];
                let Some(j) = self.index(self.point(i).by(dx * STEP, dy * STEP)) else { continue };
                let Some(crosses) = self.enter(j, node, dx != 0) else { continue };
                step += 1 + if crosses { CROSSING } else { 0 } + if self.cells[j].near { NEAR } else { 0 };
                let next = j * 4 + next_way;
                if search.better(next, cost + step, key) {
                    search.heap.push(Reverse((cost + step + guess(self.point(j)), cost + step, next)));
                }
            }
        }
        None
    }

    fn finish(mut self, apart: Vec<usize>) -> Routed {
        self.tidy();
        let crossings = self.cells.iter().filter(|c| c.level != 0 && c.upright != 0 && c.level != c.upright).count();
        let bends = self.bends();
        Routed { wires: self.wires, apart, crossings, bends }
    }

    /// Takes away what leads nowhere and what runs twice: what remains are straight runs.
    fn tidy(&mut self) {
        let mut by_node: BTreeMap<usize, BTreeSet<(Point, bool)>> = BTreeMap::new();
        for wire in &self.wires {
            let steps = by_node.entry(wire.node).or_default();
            for pair in wire.points.windows(2) {
                let run = area(pair[0], pair[1]);
                let level = run.y0 == run.y1;
                let n = pair[0].way(pair[1]) / STEP;
                steps.extend((0..n).map(|s| {
                    (at(run.x0, run.y0).by(if level { s * STEP } else { 0 }, if level { 0 } else { s * STEP }), level)
                }));
            }
        }
        for cell in &mut self.cells {
            (cell.level, cell.upright) = (0, 0);
        }
        let far = |(p, level): (Point, bool)| if level { p.by(STEP, 0) } else { p.by(0, STEP) };
        self.wires.clear();
        for (node, mut steps) in by_node {
            let mut degree: BTreeMap<Point, i32> = BTreeMap::new();
            for step in &steps {
                *degree.entry(step.0).or_default() += 1;
                *degree.entry(far(*step)).or_default() += 1;
            }
            let is_pin = |raster: &Raster, p: Point| raster.index(p).is_some_and(|i| raster.cells[i].pin != 0);
            let mut loose: Vec<Point> =
                degree.iter().filter(|(p, n)| **n == 1 && !is_pin(self, **p)).map(|(p, _)| *p).collect();
            while let Some(p) = loose.pop() {
                let around = [(p, true), (p, false), (p.by(-STEP, 0), true), (p.by(0, -STEP), false)];
                let Some(step) = around.into_iter().find(|s| steps.contains(s)) else { continue };
                steps.remove(&step);
                for end in [step.0, far(step)] {
                    let n = degree.entry(end).or_default();
                    *n -= 1;
                    if *n == 1 && !is_pin(self, end) {
                        loose.push(end);
                    }
                }
            }
            let mut runs: Vec<(bool, Point, Point)> = Vec::new();
            for wanted in [true, false] {
                let mut own: Vec<(Point, bool)> = steps.iter().filter(|s| s.1 == wanted).copied().collect();
                own.sort_by_key(|(p, _)| if wanted { (p.y, p.x) } else { (p.x, p.y) });
                for step in own {
                    match runs.last_mut() {
                        Some((level, _, end)) if *level == wanted && *end == step.0 => *end = far(step),
                        _ => runs.push((wanted, step.0, far(step))),
                    }
                }
            }
            for (level, from, to) in runs {
                let (dx, dy) = ((to.x - from.x).signum(), (to.y - from.y).signum());
                for s in 0..=from.way(to) / STEP {
                    if let Some(i) = self.index(from.by(dx * s * STEP, dy * s * STEP)) {
                        if level {
                            self.cells[i].level = node as u32 + 1;
                        } else {
                            self.cells[i].upright = node as u32 + 1;
                        }
                    }
                }
                self.wires.push(Wire { node, points: vec![from, to] });
            }
        }
    }

    /// Where just two runs of a node meet at a corner.
    fn bends(&self) -> usize {
        let mut meeting: BTreeMap<(usize, Point), (usize, usize)> = BTreeMap::new();
        for wire in &self.wires {
            let level = wire.points[0].y == wire.points[1].y;
            for p in [wire.points[0], wire.points[1]] {
                let (a, b) = meeting.entry((wire.node, p)).or_default();
                if level {
                    *a += 1;
                } else {
                    *b += 1;
                }
            }
        }
        meeting.values().filter(|(a, b)| *a == 1 && *b == 1).count()
    }
}

/// Only the corners of a way.
fn corners(points: Vec<Point>) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::new();
    for p in points {
        if let [.., a, b] = kept[..]
            && ((a.x == b.x && b.x == p.x) || (a.y == b.y && b.y == p.y))
        {
            kept.pop();
        }
        kept.push(p);
    }
    kept
}

/// What a search notes, kept from one to the next so that nothing is cleared.
struct Search {
    round: u32,
    seen: Vec<u32>,
    costs: Vec<u32>,
    from: Vec<usize>,
    target: Vec<u32>,
    heap: BinaryHeap<Reverse<(u32, u32, usize)>>,
}

impl Search {
    fn new(cells: usize) -> Search {
        Search {
            round: 0,
            seen: vec![0; cells * 4],
            costs: vec![0; cells * 4],
            from: vec![usize::MAX; cells * 4],
            target: vec![0; cells],
            heap: BinaryHeap::new(),
        }
    }
    fn begin(&mut self) {
        self.round += 1;
        self.heap.clear();
    }
    fn cost(&self, key: usize) -> u32 {
        if self.seen[key] == self.round { self.costs[key] } else { u32::MAX }
    }
    fn better(&mut self, key: usize, cost: u32, from: usize) -> bool {
        if self.cost(key) <= cost {
            return false;
        }
        self.seen[key] = self.round;
        self.costs[key] = cost;
        self.from[key] = from;
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wires_go_around_and_cross_at_right_angles() {
        let mut raster = Raster::new(area(at(0, 0), at(200, 200)));
        raster.block(area(at(70, 70), at(130, 130)));
        let t = |node, x, y| Terminal { node, at: at(x, y) };
        let terminals = [t(1, 0, 100), t(1, 200, 100), t(2, 100, 0), t(2, 100, 200)];
        for t in terminals {
            raster.pin(t.node, t.at);
        }
        let routed = raster.route(&[], &terminals, &[], &[]);
        assert!(routed.apart.is_empty(), "{routed:?}");
        assert_eq!(routed.crossings, 1, "{routed:?}");
    }

    #[test]
    fn what_is_walled_in_is_told() {
        let mut raster = Raster::new(area(at(0, 0), at(200, 200)));
        raster.block(area(at(85, -20), at(115, 220)));
        let terminals = [Terminal { node: 1, at: at(20, 100) }, Terminal { node: 1, at: at(180, 100) }];
        assert_eq!(raster.route(&[], &terminals, &[], &[]).apart, [1]);
    }
}
