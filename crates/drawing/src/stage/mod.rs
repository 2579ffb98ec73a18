//! A stage's symbols, in their places: amplifiers in columns as the signal passes them, what leads to them at their left, what feeds
//! back above them, what hangs on a node below it.

mod amplifier;
mod left_over;
mod trees;

use crate::block::{Block, hanging};
use crate::geometry::{Area, Point, STEP, area, at, down, up};
use crate::grow::{Branch, Garden};
use crate::model::{Circuit, Kind};
use crate::shapes::{Band, Ladder};
use crate::symbol::{Look, Stands};

/// A stage in its place.
#[derive(Debug)]
pub struct Arranged {
    /// Everything in it.
    pub block: Block,
    /// Where nodes come in at the left edge.
    pub left: Vec<(usize, Point)>,
    /// Where nodes go out at the right edge.
    pub right: Vec<(usize, Point)>,
    /// The frame.
    pub frame: Area,
}

/// Where a tree begins, and where it may.
#[derive(Clone, Copy)]
struct Start {
    /// −1: it grows to the left; 1: to the right.
    side: i32,
    /// Where further branches go: −1 up, 1 down.
    stack: i32,
    /// Nothing hangs on the root nearer than this.
    shunts: i32,
    /// Nothing goes on from the root nearer than this.
    kids: i32,
}

/// Arranges a stage.
pub fn arrange(circuit: &Circuit, stage: usize, left: &[usize], right: &[usize]) -> Arranged {
    let mut garden = Garden::new(circuit, stage, left, right);
    let columns = garden.columns();
    let mut hall = Hall { circuit, field: Block::default(), garden };
    let trees = hall.cells(&columns);
    hall.onwards(trees);
    hall.alone();
    hall.ports(left, right);
    hall.links();
    hall.mend();
    hall.edge(left, right)
}

/// Shapes around an amplifier that are drawn in their own way.
#[derive(Default)]
struct Special {
    bands: Vec<Band>,
    ladder: Option<Ladder>,
}

struct Hall<'a> {
    circuit: &'a Circuit,
    field: Block,
    garden: Garden<'a>,
}

/// Trees that grow onwards from nodes which have their places: by node.
type Onwards = Vec<(usize, Vec<Branch>)>;

impl Hall<'_> {
    fn pins(&self, part: usize) -> (usize, usize, usize) {
        match self.circuit.parts[part].kind {
            Kind::Amplifier { plus, minus, out, .. } => (plus, minus, out),
            _ => (0, 0, 0),
        }
    }

    /// Places the amplifiers with what leads to them; returns the trees that are still to be placed.
    fn cells(&mut self, columns: &[Vec<usize>]) -> Onwards {
        // Who is whose is settled for all of them before anything is placed.
        let mut roots = Vec::new();
        for (c, column) in columns.iter().enumerate() {
            for amp in column {
                let (plus, minus, out) = self.pins(*amp);
                let mut nodes = Vec::new();
                for node in [minus, plus] {
                    let taken = self.garden.is_rail(node) || node == out || self.garden.claimed[node];
                    let elsewhere = self.garden.column_of_output[node].is_some();
                    if !taken && !elsewhere && !nodes.contains(&node) {
                        nodes.push(node);
                    }
                }
                let special = if minus == out || self.garden.is_rail(minus) {
                    Special::default()
                } else {
                    Special { bands: self.garden.bands(minus, out), ladder: self.garden.ladder(minus, out) }
                };
                let trees = self.garden.grow(&nodes, Some((out, c)));
                self.garden.claimed[out] = true;
                roots.push((nodes, trees, special));
            }
        }
        let mut onwards: Onwards = Vec::new();
        for column in columns {
            for amp in column {
                let (_, _, out) = self.pins(*amp);
                if !self.garden.is_rail(out) {
                    onwards.push((out, self.garden.grow(&[out], None)));
                }
            }
        }
        let mut k = 0;
        for column in columns {
            let right = self.field.bounds().map_or(0, |b| b.x1);
            let mut x = None;
            for (row, amp) in column.iter().enumerate() {
                let (nodes, trees, special) = &roots[k];
                k += 1;
                let twin = column.get(row + 1).copied().is_some_and(|next| self.twins(*amp, next));
                let before = row > 0 && self.twins(column[row - 1], *amp);
                let (_, _, out) = self.pins(*amp);
                let mut cell = self.cell(*amp, nodes, trees, special, twin || special.ladder.is_some());
                if let Some(at) = onwards.iter().position(|(node, _)| *node == out) {
                    let (_, tree) = onwards.remove(at);
                    let start = Start { side: 1, stack: 1, shunts: 0, kids: 0 };
                    let from = cell.exits.first().map_or(at_zero(), |(_, p)| *p);
                    self.append(&mut cell, &tree, 0, from, start);
                }
                self.seat(&mut cell, right, &mut x);
                if before {
                    self.between(column[row - 1], *amp, &mut cell);
                }
                self.field.take(cell);
            }
        }
        onwards
    }

    /// Two amplifiers whose inverting inputs are joined by a part: both halves of something balanced.
    fn twins(&self, a: usize, b: usize) -> bool {
        let (a, b) = (self.pins(a).1, self.pins(b).1);
        a != b
            && self
                .garden
                .edges
                .iter()
                .enumerate()
                .any(|(i, e)| !self.garden.used[i] && (e.ends == [a, b] || e.ends == [b, a]))
    }

    /// Places what joins the inverting inputs of two halves, hanging between them; the lower one is moved down as need be.
    fn between(&mut self, above: usize, below: usize, cell: &mut Block) {
        let (a, b) = (self.pins(above).1, self.pins(below).1);
        let joins = |e: &crate::reduce::Edge| e.ends == [a, b] || e.ends == [b, a];
        let Some(i) = (0..self.garden.edges.len()).find(|i| !self.garden.used[*i] && joins(&self.garden.edges[*i]))
        else {
            return;
        };
        let input = |block: &Block, amp: usize| {
            let own = block.symbols.iter().find(|s| s.of == Stands::Part(amp));
            own.and_then(|s| s.pins.get(1)).map(|p| p.at)
        };
        let (Some(upper), Some(mut lower)) = (input(&self.field, above), input(cell, below)) else { return };
        let (mut piece, h) = hanging(self.circuit, &self.garden.edges[i].from(a), a, b);
        let missing = up((upper.y + h + 20 - lower.y).max(0));
        cell.shift(0, missing);
        self.field.slide(cell, 0, STEP, 400);
        lower = input(cell, below).unwrap_or(lower);
        let wide = piece.bounds().map_or(60, |b| b.x1);
        let top = down((upper.y + lower.y - h) / 2);
        let x = down(upper.x - 20 - wide);
        piece.shift(x, top);
        piece.wire(a, &[upper.by(-20, 0), at(x, upper.y), at(x, top)]);
        piece.wire(b, &[lower.by(-20, 0), at(x, lower.y), at(x, top + h)]);
        for _ in 0..20 {
            if self.field.fits(&piece) && cell.fits(&piece) {
                self.garden.used[i] = true;
                self.field.take(piece);
                return;
            }
            // Only the part itself moves on; the wires reach it.
            piece.shift(-STEP, 0);
        }
    }

    /// Gives an amplifier with its trees its seat: behind what drives it, at its height, below what stands there already.
    fn seat(&self, cell: &mut Block, right: i32, x: &mut Option<i32>) {
        // By leaf: where it may be joined, the likeliest first.
        let driven: Vec<(Point, Vec<Point>)> = cell
            .leaves
            .iter()
            .map(|(node, leaf)| {
                let exits = self.field.exits.iter().filter(|(n, _)| n == node).map(|(_, p)| *p);
                let mut spots = self.field.spots(*node);
                spots.sort_by_key(|p| (-p.x, p.y));
                (*leaf, exits.chain(spots).collect::<Vec<_>>())
            })
            .filter(|(_, spots)| !spots.is_empty())
            .collect();
        let bounds = cell.bounds().unwrap_or(area(at_zero(), at_zero()));
        let own = cell.symbols.iter().find(|s| s.look == Look::Amplifier).map_or(0, |s| s.place.x);
        match (*x, driven.as_slice()) {
            (None, [(leaf, spots)]) => {
                // Straight behind what drives it; a little further to the right if need be, else wherever there is room.
                let tries = spots.iter().find_map(|there| {
                    let mut tried = cell.clone();
                    tried.shift(there.x - leaf.x, there.y - leaf.y);
                    self.field.slide(&mut tried, STEP, 0, 5).then_some(tried)
                });
                *cell = tries.unwrap_or_else(|| {
                    let mut tried = cell.clone();
                    tried.shift(spots[0].x - leaf.x, spots[0].y - leaf.y);
                    if !self.field.slide(&mut tried, STEP, 0, 60) {
                        tried.shift(-60 * STEP, 0);
                        self.field.slide(&mut tried, 0, STEP, 400);
                    }
                    tried
                });
            }
            (None, []) if right == 0 => {}
            (None, []) => {
                cell.shift(up(right) + 60 - down(bounds.x0), 0);
                self.field.slide(cell, STEP, 0, 400);
            }
            (None, several) => {
                let sum: i32 = several.iter().map(|(leaf, spots)| spots[0].y - leaf.y).sum();
                let dy = down(sum / several.len() as i32);
                let dx = several.iter().map(|(leaf, spots)| spots[0].x - leaf.x).max().unwrap_or(0);
                let straight = several.iter().all(|(leaf, spots)| spots[0].y - leaf.y == dy);
                cell.shift(dx + if straight { 0 } else { 4 * STEP }, dy);
                if !self.field.slide(cell, STEP, 0, 60) {
                    cell.shift(-60 * STEP, 0);
                    self.field.slide(cell, 0, STEP, 400);
                }
            }
            (Some(seat), driven) => {
                // Amplifiers of one column stand one below the other.
                let dy = driven.first().map_or(100, |(leaf, spots)| spots[0].y - leaf.y);
                cell.shift(seat - own, dy);
                self.field.slide(cell, 0, STEP, 400);
            }
        }
        if x.is_none() {
            *x = cell.symbols.iter().find(|s| s.look == Look::Amplifier).map(|s| s.place.x);
        }
    }

    /// Places what grows onwards from nodes that have their places, and then from those that have none yet.
    fn onwards(&mut self, mut trees: Onwards) {
        let start = Start { side: 1, stack: 1, shunts: 0, kids: 0 };
        // What was tried once is not tried again: what cannot grow from there is linked.
        let mut tried = vec![false; self.circuit.nodes.len()];
        loop {
            for (node, tree) in std::mem::take(&mut trees) {
                let spots = self.field.spots(node);
                // What only goes out is at the right end of what leads to it.
                let leftwards = self.garden.right[node] && !self.garden.left[node] && spots.is_empty();
                let side = if leftwards { -1 } else { 1 };
                let mut piece = self.tree(&tree, 0, Start { side, ..start });
                match spots.into_iter().max_by_key(|p| (p.x, -p.y)) {
                    Some(from) => {
                        piece.shift(from.x, from.y);
                        let mut moved = 0;
                        while !self.field.fits(&piece) && moved < 200 {
                            piece.shift(0, STEP);
                            moved += 1;
                        }
                        piece.wire(node, &[from, from.by(0, moved * STEP)]);
                    }
                    None => {
                        if leftwards {
                            piece.exits.push((node, at_zero()));
                        } else {
                            piece.leaves.push((node, at_zero()));
                        }
                        if let Some(b) = self.field.bounds() {
                            let own = piece.bounds().map_or(0, |b| b.y0);
                            piece.shift(0, up(b.y1 - own + 30));
                        }
                    }
                }
                self.field.take(piece);
            }
            // A node that something still hangs on.
            let circuit = self.circuit;
            let pending = |hall: &Hall<'_>, node: usize| {
                hall.garden.edges.iter().enumerate().any(|(i, e)| {
                    !hall.garden.used[i]
                        && e.ends.contains(&node)
                        && e.ends[0] != e.ends[1]
                        && (hall.garden.is_rail(e.other(node))
                            || !hall.garden.claimed[e.other(node)] && !hall.garden.left[e.other(node)])
                }) || hall.garden.devices.iter().any(|d| {
                    let kind = &circuit.parts[*d].kind;
                    let enters = match kind {
                        Kind::Selector { pole, .. } => *pole == node,
                        _ => true,
                    };
                    !hall.garden.placed[*d] && enters && kind.nodes().contains(&node)
                })
            };
            let signal = |hall: &Hall<'_>, n: &usize| !hall.garden.is_rail(*n) && !tried[*n];
            let all: Vec<usize> = (0..circuit.nodes.len()).filter(|n| signal(self, n)).collect();
            let claimed = all.iter().copied().find(|n| self.garden.claimed[*n] && pending(self, *n));
            let ports =
                || all.iter().copied().find(|n| self.garden.left[*n] && !self.garden.claimed[*n] && pending(self, *n));
            let any = || all.iter().copied().find(|n| !self.garden.claimed[*n] && pending(self, *n));
            let Some(node) = claimed.or_else(ports).or_else(any) else { break };
            tried[node] = true;
            let tree = self.garden.grow(&[node], None);
            trees.push((node, tree));
        }
    }

    /// Keeps the lines to the ports free, where nothing stands in them yet.
    fn ports(&mut self, left: &[usize], right: &[usize]) {
        let Some(bounds) = self.field.bounds() else { return };
        let edges = [down(bounds.x0) - 300, up(bounds.x1) + 300];
        for (side, nodes) in [(0, left), (1, right)] {
            for node in nodes {
                let Some(from) = self.port(*node, side).filter(|_| !self.garden.is_rail(*node)) else { continue };
                let mut line = Block::default();
                line.wire(*node, &[from, at(edges[side], from.y)]);
                if self.field.fits(&line) {
                    self.field.whisker(*node, from, at(edges[side], from.y));
                }
            }
        }
    }

    /// Leads the ports to the edges and frames the whole.
    fn edge(mut self, left: &[usize], right: &[usize]) -> Arranged {
        let bounds = self.field.bounds().unwrap_or(area(at_zero(), at(100, 60)));
        let (x0, x1) = (down(bounds.x0) - 30, up(bounds.x1) + 30);
        let mut sides: [Vec<(usize, Point)>; 2] = [Vec::new(), Vec::new()];
        // What has no straight way out goes below everything, the nearer the higher, so that these ways do not cross.
        let mut blocked: Vec<(i32, usize, usize)> = Vec::new();
        for (side, nodes) in [(0, left), (1, right)] {
            for node in nodes {
                let Some(spot) = self.port(*node, side).filter(|_| !self.garden.is_rail(*node)) else { continue };
                let edge = if side == 0 { x0 } else { x1 };
                let mut line = Block::default();
                line.wire(*node, &[at(edge, spot.y), spot]);
                if side == 1 && !self.field.fits(&line) {
                    blocked.push((-spot.x, *node, side));
                    continue;
                }
                let mut y = spot.y;
                while sides[side].iter().any(|(_, p): &(usize, Point)| (p.y - y).abs() < 2 * STEP) {
                    y += STEP;
                }
                if spot.y == y {
                    self.field.take(line);
                }
                sides[side].push((*node, at(edge, y)));
            }
        }
        blocked.sort_unstable();
        let (mut above, mut below) = (down(bounds.y0) - STEP, up(bounds.y1) + STEP);
        for (minus_x, node, side) in blocked {
            let from = self.port(node, side).unwrap_or(at(-minus_x, 0));
            let cost = |y: i32| {
                let run = [from, at(from.x, y)];
                let mut line = Block::default();
                line.wire(node, &run);
                self.field.crossed(node, &run) + if self.field.fits(&line) { 0 } else { 4 }
            };
            let lane = if cost(above) < cost(below) { &mut above } else { &mut below };
            sides[side].push((node, at(x1, *lane)));
            *lane += if *lane < from.y { -2 * STEP } else { 2 * STEP };
        }
        let [left, right] = sides;
        let ys = left.iter().chain(&right).map(|(_, p)| p.y);
        let (low, high) = ys.fold((bounds.y0, bounds.y1), |(a, b), y| (a.min(y - 20), b.max(y + 20)));
        let frame = Area { x0, y0: down(low) - 40, x1, y1: up(high) + 20 };
        Arranged { block: self.field, left, right, frame }
    }
}

fn at_zero() -> Point {
    at(0, 0)
}
