//! A stage's symbols, in their places: amplifiers in columns as the signal passes them, what leads to them at their left, what feeds
//! back above them, what hangs on a node below it.

use crate::block::{Block, hanging, lying, of_node, room};
use crate::geometry::{Area, Point, STEP, area, at, down, up};
use crate::grow::{Branch, Garden, Kid, Sub, Way};
use crate::model::{Circuit, Kind, Role};
use crate::reduce::Group;
use crate::shapes::{Band, Ladder};
use crate::symbol::{Beside, Face, Look, Pin, Stands, Symbol};

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

    /// An amplifier with what leads to its inputs and what feeds back, its input side at the origin.
    fn cell(&self, amp: usize, roots: &[usize], trees: &[Branch], special: &Special, flip: bool) -> Block {
        let (plus, minus, out) = self.pins(amp);
        let f = if flip { -1 } else { 1 };
        let mut block = Block::default();
        let rails = match &self.circuit.parts[amp].kind {
            Kind::Amplifier { rails, .. } => *rails,
            _ => None,
        };
        block.add(self.amplifier(amp, flip));
        for (i, node) in rails.iter().flatten().enumerate() {
            let (y, look) = match (i, self.circuit.nodes[*node].role) {
                (0, _) => (-40, Look::High),
                (_, Role::Ground) => (40, Look::Ground),
                _ => (40, Look::Low),
            };
            block.add(of_node(self.circuit, *node, look, at(40, y)));
        }
        let root = |node: usize| roots.iter().position(|r| *r == node);
        let follower = minus == out;
        let quiet = |b: &Branch| b.kids.is_empty() && b.shunts.is_empty() && b.ups.is_empty();
        // A signal comes to the non-inverting input from the left.
        let led =
            !self.garden.is_rail(plus) && plus != out && root(plus).is_none_or(|r| !quiet(&trees[r]) || trees[r].leads);
        let mut inner = -20;
        if follower {
            block.wire(out, &[at(0, -20 * f), at(-20, -20 * f)]);
        } else if self.garden.is_rail(minus) {
            block.take(self.end(minus, at(-20, -20 * f)));
            block.wire(minus, &[at(0, -20 * f), at(-20, -20 * f)]);
        } else {
            let tree = root(minus).map(|r| {
                let mut trees = trees.to_vec();
                if led && !flip {
                    // What goes to ground here lies to the left instead of hanging across the other input.
                    let legs = std::mem::take(&mut trees[r].shunts);
                    for e in legs {
                        let rail = self.garden.edges[e].other(minus);
                        trees[r].kids.push(Kid { way: Way::Edge(e), subs: vec![Sub::Rail(rail)] });
                    }
                }
                (r, trees)
            });
            let busy = tree.as_ref().is_some_and(|(r, t)| t[*r].kids.len() + t[*r].shunts.len() > 1);
            if !led && (busy || !special.bands.is_empty()) {
                inner = -40;
            }
            block.wire(minus, &[at(0, -20 * f), at(inner, -20 * f)]);
            match tree {
                Some((r, trees)) => {
                    let stack = if led { -f } else { 1 };
                    let start = Start { side: -1, stack, shunts: if flip { 80 } else { 40 }, kids: 0 };
                    self.append(&mut block, &trees, r, at(inner, -20 * f), start);
                }
                None => block.leaves.push((minus, at(inner, -20 * f))),
            }
        }
        let reach = block.bounds().map_or(0, |b| b.x0);
        if self.garden.is_rail(plus) {
            block.take(self.end(plus, at(-20, 20 * f)));
            block.wire(plus, &[at(0, 20 * f), at(-20, 20 * f)]);
        } else if plus != minus {
            match root(plus) {
                Some(r) => {
                    // Where something rises from further left to the output, it must pass to the left of what lies there.
                    let rises = trees.iter().enumerate().any(|(i, b)| i != r && b.node != minus && !b.feeds.is_empty());
                    let kids = if rises && !follower { (-20 - reach).max(0) + 20 } else { 0 };
                    let clear = up((-20 - reach).max(0)) + 20;
                    let ways = [(60, 0), (80, 0), (100, 0), (130, 0), (60, clear), (100, clear), (130, clear)];
                    let grown = |(shunts, least): (i32, i32)| {
                        let mut tree = Block::default();
                        let start = Start { side: -1, stack: f, shunts, kids: up(kids).max(least) };
                        self.append(&mut tree, trees, r, at(-20, 20 * f), start);
                        tree
                    };
                    // Straight into the input if there is a way; else the line comes in lower and turns up to it.
                    let straight = ways.into_iter().map(grown).find(|tree| block.fits(tree));
                    let mut tree = straight.unwrap_or_else(|| grown(ways[0]));
                    block.slide(&mut tree, 0, STEP * f, 60);
                    let y = tree.spots(plus).iter().map(|p| p.y).min_by_key(|y| (y - 20 * f).abs()).unwrap_or(20 * f);
                    tree.wire(plus, &[at(0, 20 * f), at(-20, 20 * f), at(-20, y)]);
                    block.take(tree);
                }
                None => {
                    block.wire(plus, &[at(0, 20 * f), at(-20, 20 * f)]);
                    block.leaves.push((plus, at(-20, 20 * f)));
                }
            }
        }
        if let Some(ladder) = &special.ladder {
            self.ladder(&mut block, ladder, minus, out);
        }
        let least = self.band_width(&special.bands, inner);
        self.feedback(&mut block, trees, (plus, minus, out), f, inner, rails.is_some(), least);
        self.bands(&mut block, &special.bands, minus, out, inner);
        block
    }

    #[allow(clippy::too_many_arguments)]
    /// What lies between a tree and the amplifier's own output: above it, the nearer the lower.
    fn feedback(
        &self,
        block: &mut Block,
        trees: &[Branch],
        (plus, minus, out): (usize, usize, usize),
        f: i32,
        inner: i32,
        rails: bool,
        least: i32,
    ) {
        let mut over: Vec<(Point, usize, Block, i32)> = Vec::new();
        let mut under: Vec<(Point, usize, Block, i32)> = Vec::new();
        for branch in trees {
            let spots = block.spots(branch.node);
            let anchor = if branch.node == minus {
                at(inner, -20 * f)
            } else {
                spots.into_iter().max_by_key(|p| (p.x, -p.y * f)).unwrap_or(at(inner, 0))
            };
            for e in &branch.feeds {
                let group = self.garden.edges[*e].from(branch.node);
                let (piece, w) = lying(self.circuit, &group, branch.node, out);
                let list = if branch.node == plus { &mut under } else { &mut over };
                list.push((anchor, branch.node, piece, w));
            }
        }
        over.sort_by_key(|(p, ..)| -p.x);
        // Where the string of a ladder hangs the output leads there.
        let mut xo = block.exits.first().map_or(110, |(_, p)| p.x).max(least);
        for (anchor, _, _, w) in over.iter().chain(&under) {
            xo = xo.max(anchor.x + w);
        }
        block.wire(out, &[at(90, 0), at(xo, 0)]);
        block.exits = vec![(out, at(xo, 0))];
        let first = if rails { 80 } else { 60 };
        if minus == out {
            let y = if rails { 70 } else { 60 } * -f;
            block.wire(out, &[at(-20, -20 * f), at(-20, y), at(xo, y), at(xo, 0)]);
        }
        for (list, side) in [(over, -f), (under, f)] {
            for (anchor, node, mut piece, w) in list {
                let middle = (inner + xo) / 2;
                let x = down(middle - w / 2).clamp(anchor.x.min(xo - w), xo - w);
                piece.shift(x, first * side);
                // The wires up to it and down from it need their room too; where there is none, they find their own way.
                let mut tries = 0;
                loop {
                    let mut whole = piece.clone();
                    if tries < 100 {
                        let y = whole.spots(node).iter().map(|p| p.y).max_by_key(|y| -side * y).unwrap_or(0);
                        whole.wire(node, &[anchor, at(anchor.x, y), at(x, y)]);
                        whole.wire(out, &[at(x + w, y), at(xo, y), at(xo, 0)]);
                    }
                    if block.fits(&whole) || tries > 1000 {
                        block.take(whole);
                        break;
                    }
                    tries += 1;
                    piece.shift(0, if tries == 100 { -99 * STEP * side } else { STEP * side });
                }
            }
        }
    }

    /// Half the width of the bands' middle, and the widths of what stands before and behind it.
    fn band_sizes(&self, bands: &[Band]) -> (i32, i32, i32) {
        let w = |e: Option<usize>| e.map_or(0, |e| lying(self.circuit, &self.garden.edges[e].group, 0, 0).1);
        let half = bands.iter().flat_map(|b| [w(b.left_bridge), w(b.right_bridge), w(b.bridge) / 2]).max().unwrap_or(0);
        let before = bands.iter().map(|b| w(b.before)).max().unwrap_or(0);
        let behind = bands.iter().map(|b| w(b.behind)).max().unwrap_or(0);
        (up(half.max(80)), before, behind)
    }

    /// How far to the right the output's line must stand.
    fn band_width(&self, bands: &[Band], inner: i32) -> i32 {
        let (half, _, behind) = self.band_sizes(bands);
        if bands.is_empty() { 0 } else { inner + 20 + 2 * half + behind }
    }

    /// The bands of a tone control, one above the other over the amplifier.
    fn bands(&self, block: &mut Block, bands: &[Band], minus: usize, out: usize, inner: i32) {
        let (half, before, _) = self.band_sizes(bands);
        let xo = block.exits.first().map_or(110, |(_, p)| p.x);
        let (xl, xc, xr) = (inner + 20, inner + 20 + half, inner + 20 + 2 * half);
        let xd = inner - 20 - before;
        let mut drivers: Vec<(usize, i32, i32)> = Vec::new();
        for band in bands.iter().rev() {
            let [l, r, w] = [band.nodes[band.left], band.nodes[1 - band.left], band.nodes[2]];
            let mut piece = Block::default();
            let Kind::Variable { preset, .. } = self.circuit.parts[band.part].kind else { continue };
            let ends = [band.left, 1 - band.left];
            piece.add(self.divider(band.part, preset, band.nodes, ends, at(xc - 30, 0), Face::Right, false));
            let lie = |piece: &mut Block, e: Option<usize>, from: usize, to: usize, x0: i32, x1: i32, y: i32| {
                let Some(e) = e else { return false };
                let (mut one, w) = lying(self.circuit, &self.garden.edges[e].from(from), from, to);
                let x = down((x0 + x1 - w) / 2);
                one.shift(x, y);
                one.wire(from, &[at(x0, y), at(x, y)]);
                one.wire(to, &[at(x + w, y), at(x1, y)]);
                piece.take(one);
                true
            };
            piece.wire(l, &[at(inner - 20, 0), at(xc - 30, 0)]);
            piece.wire(r, &[at(xc + 30, 0), at(xr, 0)]);
            if !lie(&mut piece, band.before, band.driver, l, xd, inner - 20, 0) {
                piece.wire(l, &[at(xd, 0), at(inner - 20, 0)]);
            }
            if !lie(&mut piece, band.behind, r, out, xr, xo, 0) {
                piece.wire(r, &[at(xr, 0), at(xo, 0)]);
            }
            if lie(&mut piece, band.bridge, l, r, xl, xr, -60) {
                piece.wire(l, &[at(xl, 0), at(xl, -60)]);
                piece.wire(r, &[at(xr, 0), at(xr, -60)]);
            }
            let mut y = 30;
            if lie(&mut piece, band.left_bridge, l, w, xl, xc, 50) {
                piece.wire(l, &[at(xl, 0), at(xl, 50)]);
                y = 50;
            }
            if lie(&mut piece, band.right_bridge, w, r, xc, xr, 50) {
                piece.wire(r, &[at(xr, 0), at(xr, 50)]);
                y = 50;
            }
            piece.wire(w, &[at(xc, 30), at(xc, y)]);
            if let Some(e) = band.wiper {
                let (mut one, h) = hanging(self.circuit, &self.garden.edges[e].from(w), w, minus);
                one.shift(xc, y);
                piece.take(one);
                y += h;
            }
            piece.wire(minus, &[at(xc, y), at(inner, y)]);
            piece.shift(0, -100 - y);
            block.slide(&mut piece, 0, -STEP, 1000);
            let row = piece.symbols[0].place.y;
            piece.wire(minus, &[at(inner, row + y), at(inner, -20)]);
            piece.wire(out, &[at(xo, row), at(xo, 0)]);
            block.take(piece);
            match drivers.iter_mut().find(|(d, ..)| *d == band.driver) {
                Some((_, top, _)) => *top = row,
                None => drivers.push((band.driver, row, row)),
            }
        }
        for (driver, top, bottom) in drivers {
            block.wire(driver, &[at(xd, top), at(xd, bottom)]);
            block.leaves.push((driver, at(xd, bottom)));
        }
    }

    /// A string that hangs from the output, with the selector that taps it below the amplifier.
    fn ladder(&self, block: &mut Block, ladder: &Ladder, minus: usize, out: usize) {
        let Kind::Selector { contacts, at: rest, .. } = &self.circuit.parts[ladder.part].kind else { return };
        let xs = 170;
        let mut y = 90;
        block.wire(out, &[at(xs, 0), at(xs, y)]);
        let mut places = vec![y; contacts.len()];
        for (i, tap) in ladder.taps.iter().enumerate() {
            places[*tap] = y;
            let node = contacts[*tap].1;
            block.wire(node, &[at(80, y), at(xs, y)]);
            let Some(e) = ladder.steps.get(i).copied().or(ladder.foot) else { break };
            let to = self.garden.edges[e].other(node);
            let (mut piece, h) = hanging(self.circuit, &self.garden.edges[e].from(node), node, to);
            piece.shift(xs, y);
            block.take(piece);
            y += h;
            if self.garden.is_rail(to) {
                block.take(self.end(to, at(xs, y)));
            }
        }
        let (top, bottom) = (places.iter().min().copied().unwrap_or(y), places.iter().max().copied().unwrap_or(y));
        let pole = down((top + bottom) / 2);
        let mut pins = vec![Pin { node: minus, at: at(20, pole) }];
        pins.extend(contacts.iter().zip(&places).map(|((_, n), y)| Pin { node: *n, at: at(80, *y) }));
        let part = &self.circuit.parts[ladder.part];
        block.add(Symbol {
            look: Look::Selector { positions: contacts.iter().map(|(p, _)| *p).collect(), rest: *rest },
            of: Stands::Part(ladder.part),
            place: at(20, pole),
            face: Face::Right,
            length: 60,
            flip: false,
            pins,
            name: part.name.clone(),
            value: part.value.clone(),
            room: 0,
            beside: Beside::Above,
            external: part.external,
            unfitted: part.unfitted,
        });
        block.wire(minus, &[at(-20, 20), at(-20, pole), at(20, pole)]);
        block.exits.push((out, at(xs, 0)));
    }

    fn amplifier(&self, amp: usize, flip: bool) -> Symbol {
        let part = &self.circuit.parts[amp];
        let (plus, minus, out) = self.pins(amp);
        let f = if flip { -1 } else { 1 };
        let mut pins = vec![
            Pin { node: plus, at: at(0, 20 * f) },
            Pin { node: minus, at: at(0, -20 * f) },
            Pin { node: out, at: at(90, 0) },
        ];
        if let Kind::Amplifier { rails: Some([p, n]), .. } = part.kind {
            pins.push(Pin { node: p, at: at(40, -40) });
            pins.push(Pin { node: n, at: at(40, 40) });
        }
        Symbol {
            look: Look::Amplifier,
            of: Stands::Part(amp),
            place: at(0, 0),
            face: Face::Right,
            length: 90,
            flip,
            pins,
            name: part.name.clone(),
            value: part.value.clone(),
            room: room(&part.kind),
            beside: Beside::Below,
            external: part.external,
            unfitted: part.unfitted,
        }
    }

    /// The symbol of ground or of a supply at a place.
    fn end(&self, node: usize, place: Point) -> Block {
        let look = match self.circuit.nodes[node].role {
            Role::High => Look::High,
            Role::Low => Look::Low,
            _ => Look::Ground,
        };
        let mut block = Block::default();
        block.add(of_node(self.circuit, node, look, place));
        block
    }

    /// Adds a tree whose root is at a place.
    fn append(&self, block: &mut Block, trees: &[Branch], root: usize, place: Point, start: Start) {
        let mut tree = self.tree(trees, root, start);
        tree.shift(place.x, place.y);
        block.take(tree);
    }

    /// A tree with its root at the origin.
    fn tree(&self, trees: &[Branch], root: usize, start: Start) -> Block {
        let branch = &trees[root];
        let side = start.side;
        let mut block = Block::default();
        let node = branch.node;
        let many = branch.kids.len() > 1;
        let mut x = side * if many { start.shunts.max(40) } else { start.shunts };
        let mut last = 0;
        for e in &branch.shunts {
            let rail = self.garden.edges[*e].other(node);
            let (mut piece, h) = hanging(self.circuit, &self.garden.edges[*e].from(node), node, rail);
            let mut end = self.end(rail, at(0, h));
            if self.circuit.nodes[rail].role == Role::High {
                end = Block::default();
            }
            piece.take(end);
            piece.shift(x, 0);
            block.slide(&mut piece, side * STEP, 0, 60);
            last = piece.spots(node).iter().map(|p| p.x).min_by_key(|p| (p - x).abs()).unwrap_or(x);
            x = last + side * 80;
            block.take(piece);
        }
        let mut x = side * if many { start.shunts.max(40) } else { start.shunts };
        for e in &branch.ups {
            let rail = self.garden.edges[*e].other(node);
            let (mut piece, h) = hanging(self.circuit, &self.garden.edges[*e].from(rail), rail, node);
            piece.take(self.end(rail, at(0, 0)));
            piece.wire(node, &[at(0, h), at(0, h + 20)]);
            piece.shift(x, -h - 20);
            block.slide(&mut piece, side * STEP, 0, 60);
            let here = piece.spots(node).iter().map(|p| p.x).min_by_key(|p| (p - x).abs()).unwrap_or(x);
            x = here + side * 80;
            if here.abs() > last.abs() {
                last = here;
            }
            block.take(piece);
        }
        block.wire(node, &[at(0, 0), at(last, 0)]);
        let mut level = 0;
        for (k, kid) in branch.kids.iter().enumerate() {
            let from = if k == 0 { side * (last.abs()).max(start.kids) } else { side * start.kids.min(0) };
            let mut piece = self.kid(trees, node, kid, side, start.stack);
            if k == 0 {
                piece.shift(from, 0);
                block.slide(&mut piece, side * STEP, 0, 60);
            } else {
                piece.shift(0, level + 40 * start.stack);
                block.slide(&mut piece, 0, STEP * start.stack, 200);
            }
            let entry = piece.leaves.pop().map_or(at_zero(), |(_, p)| p);
            level = entry.y;
            block.wire(node, &[at(0, 0), at(0, entry.y), entry]);
            block.take(piece);
        }
        if branch.leads && branch.kids.is_empty() || self.garden.left[node] && side < 0 {
            block.leaves.push((node, at(last, 0)));
            if self.garden.left[node] && side < 0 {
                block.whisker(node, at(last, 0), at(last - 150, 0));
            }
        }
        block
    }

    /// What grows from a node at the origin. The last of its leaves is the node itself, where the piece begins.
    fn kid(&self, trees: &[Branch], node: usize, kid: &Kid, side: i32, stack: i32) -> Block {
        let plain = Start { side, stack, shunts: 0, kids: 0 };
        let mut block = Block::default();
        match kid.way {
            Way::Edge(e) => {
                let edge = &self.garden.edges[e];
                let other = edge.other(node);
                let (left, right) = if side < 0 { (other, node) } else { (node, other) };
                let (mut piece, w) = lying(self.circuit, &edge.from(left), left, right);
                if side < 0 {
                    piece.shift(-w, 0);
                }
                block.take(piece);
                self.sub(&mut block, trees, kid.subs[0], at(side * w, 0), plain, (side * STEP, 0));
            }
            Way::Divider(part, by) => {
                let Kind::Variable { ccw, wiper, cw, preset } = self.circuit.parts[part].kind else { return block };
                let nodes = [ccw.unwrap_or(wiper), cw.unwrap_or(wiper), wiper];
                // What goes to ground is below.
                let ends = match by {
                    0 => [0, 1],
                    1 => [1, 0],
                    _ if self.garden.is_rail(nodes[1]) && !self.garden.is_rail(nodes[0]) => [0, 1],
                    _ => [1, 0],
                };
                let (x, y, wiper_side) = if by == 2 { (side * 30, -30, -side) } else { (0, 0, side) };
                let mut symbol = self.divider(part, preset, nodes, ends, at(x, y), Face::Down, wiper_side < 0);
                symbol.beside = match (by, side) {
                    (2, 1) => Beside::Right,
                    (2, _) => Beside::Left,
                    (_, 1) => Beside::LowRight,
                    _ => Beside::Right,
                };
                block.add(symbol);
                let others: Vec<usize> = (0..3).filter(|i| *i != by).collect();
                let aside = Start { side, stack, shunts: 80, kids: 0 };
                for (slot, pin) in others.iter().enumerate() {
                    let (place, start, slide) = if *pin == ends[0] {
                        (at(x, y), aside, (side * STEP, 0))
                    } else if *pin == ends[1] {
                        (at(x, y + 60), aside, (0, STEP))
                    } else {
                        (at(x + wiper_side * 30, y + 30), plain, (side * STEP, 0))
                    };
                    self.sub(&mut block, trees, kid.subs[slot], place, start, slide);
                }
            }
            Way::Pole(part) => {
                let Kind::Selector { pole, contacts, at: rest } = &self.circuit.parts[part].kind else { return block };
                let n = contacts.len() as i32;
                // Ground hangs down from its contact and needs room above the next.
                let above_others = contacts.iter().rev().skip(1).any(|(_, n)| self.garden.is_rail(*n));
                let pitch = if above_others { 2 * STEP } else { STEP };
                let mut pins = vec![Pin { node: *pole, at: at(0, 0) }];
                for (i, (_, contact)) in contacts.iter().enumerate() {
                    pins.push(Pin { node: *contact, at: at(side * 60, (2 * i as i32 - n + 1) * pitch) });
                }
                let places: Vec<Point> = pins[1..].iter().map(|p| p.at).collect();
                block.add(Symbol {
                    look: Look::Selector { positions: contacts.iter().map(|(p, _)| *p).collect(), rest: *rest },
                    of: Stands::Part(part),
                    place: at(0, 0),
                    face: if side < 0 { Face::Left } else { Face::Right },
                    length: 60,
                    flip: false,
                    pins,
                    name: self.circuit.parts[part].name.clone(),
                    value: self.circuit.parts[part].value.clone(),
                    room: 0,
                    beside: Beside::Above,
                    external: self.circuit.parts[part].external,
                    unfitted: self.circuit.parts[part].unfitted,
                });
                let order: Vec<usize> =
                    if stack < 0 { (0..places.len()).rev().collect() } else { (0..places.len()).collect() };
                for i in order {
                    let away = places[i].by(side * 40, 0);
                    if let Some(Sub::Rail(node)) = kid.subs.get(i) {
                        block.wire(*node, &[places[i], away]);
                    }
                    self.sub(&mut block, trees, kid.subs[i], away, plain, (0, STEP * stack));
                }
            }
        }
        block.leaves.push((node, at_zero()));
        block
    }

    /// What lies at the far end of a kid, moved on until it has room there.
    fn sub(&self, block: &mut Block, trees: &[Branch], sub: Sub, place: Point, start: Start, (dx, dy): (i32, i32)) {
        match sub {
            Sub::Branch(i) => {
                let mut tree = self.tree(trees, i, start);
                tree.shift(place.x, place.y);
                let from = place;
                let mut moved = 0;
                while !block.fits(&tree) && moved < 80 {
                    tree.shift(dx, dy);
                    moved += 1;
                }
                let to = from.by(dx * moved, dy * moved);
                tree.wire(trees[i].node, &[from, to]);
                block.take(tree);
            }
            Sub::Elsewhere(node) => block.leaves.push((node, place)),
            Sub::Rail(node) => block.take(self.end(node, place)),
        }
    }

    /// A potentiometer; `ends` tells which pin is at its place and which at its far end.
    #[allow(clippy::too_many_arguments)]
    fn divider(
        &self,
        part: usize,
        preset: bool,
        nodes: [usize; 3],
        ends: [usize; 2],
        place: Point,
        face: Face,
        flip: bool,
    ) -> Symbol {
        let p = &self.circuit.parts[part];
        let (fx, fy) = face.step(60, 0);
        let (wx, wy) = face.step(30, if flip { -30 } else { 30 });
        Symbol {
            look: Look::Divider { preset, clockwise: usize::from(ends[1] == 1) },
            of: Stands::Part(part),
            place,
            face,
            length: 60,
            flip,
            pins: vec![
                Pin { node: nodes[ends[0]], at: place },
                Pin { node: nodes[ends[1]], at: place.by(fx, fy) },
                Pin { node: nodes[2], at: place.by(wx, wy) },
            ],
            name: p.name.clone(),
            value: p.value.clone(),
            room: room(&p.kind),
            beside: match (face.level(), flip) {
                (true, false) => Beside::Above,
                (true, true) => Beside::Below,
                (false, false) => Beside::Left,
                (false, true) => Beside::Right,
            },
            external: p.external,
            unfitted: p.unfitted,
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

    /// What hangs between ground and supplies alone.
    fn alone(&mut self) {
        let mut row = Block::default();
        for i in 0..self.garden.edges.len() {
            let [a, b] = self.garden.edges[i].ends;
            if self.garden.used[i] || !self.garden.is_rail(a) || !self.garden.is_rail(b) {
                continue;
            }
            self.garden.used[i] = true;
            let rank = |n: usize| match self.circuit.nodes[n].role {
                Role::High => 0,
                Role::Signal => 1,
                Role::Ground => 2,
                Role::Low => 3,
            };
            let (top, bottom) = if rank(a) <= rank(b) { (a, b) } else { (b, a) };
            let (mut piece, h) = hanging(self.circuit, &self.garden.edges[i].from(top), top, bottom);
            let node = |node: usize, look: Look, place| {
                let mut block = Block::default();
                block.add(of_node(self.circuit, node, look, place));
                block
            };
            let lower = |n: usize| if rank(n) == 2 { Look::Ground } else { Look::Low };
            piece.take(if rank(top) >= 2 {
                // The same at both ends: the upper symbol hangs beside the part.
                let mut block = node(top, lower(top), at(-30, 0));
                block.wire(top, &[at(-30, 0), at(0, 0)]);
                block
            } else {
                node(top, Look::High, at(0, 0))
            });
            piece.take(node(bottom, lower(bottom), at(0, h)));
            row.slide(&mut piece, STEP, 0, 10_000);
            row.take(piece);
        }
        if let (Some(own), Some(b)) = (row.bounds(), self.field.bounds()) {
            row.shift(b.x0 - own.x0, up(b.y1 - own.y0 + 20));
        }
        self.field.take(row);
    }

    /// Where a node goes out to an edge: at the end of the line that leads there, where there is one.
    fn port(&self, node: usize, side: usize) -> Option<Point> {
        let ends: Vec<Point> = if side == 0 { &self.field.leaves } else { &self.field.exits }
            .iter()
            .filter(|(n, _)| *n == node)
            .map(|(_, p)| *p)
            .collect();
        let spots = if ends.is_empty() { self.field.spots(node) } else { ends };
        spots.into_iter().min_by_key(|p| (if side == 0 { p.x } else { -p.x }, p.y.abs()))
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

    /// Places what lies between nodes that have their places.
    fn links(&mut self) {
        for i in 0..self.garden.edges.len() {
            if self.garden.used[i] {
                continue;
            }
            self.garden.used[i] = true;
            let [a, b] = self.garden.edges[i].ends;
            let group: &Group = &self.garden.edges[i].group;
            let turned = group.turned();
            let level = [lying(self.circuit, group, a, b).0, lying(self.circuit, &turned, b, a).0];
            let upright = [hanging(self.circuit, group, a, b).0, hanging(self.circuit, &turned, b, a).0];
            self.settle(level.into_iter().chain(upright).collect());
        }
        for part in self.garden.devices.clone() {
            if self.garden.placed[part] {
                continue;
            }
            self.garden.placed[part] = true;
            let variants = self.variants(part);
            self.settle(variants);
        }
    }

    /// A last look: what came to lie over something else is taken out and given another place.
    fn mend(&mut self) {
        let (rest, symbols) = self.field.without_symbols();
        self.field = rest;
        let mut taken = vec![false; symbols.len()];
        let mut groups: Vec<(usize, Vec<usize>)> = Vec::new();
        let of_node = |s: &Symbol| matches!(s.of, Stands::Node(_));
        for (i, symbol) in symbols.iter().enumerate() {
            if of_node(symbol) || symbol.pins.len() != 2 {
                continue;
            }
            // Ground and supplies at its ends go with a part.
            let at_its_end = |s: &Symbol| of_node(s) && symbol.pins.contains(&s.pins[0]);
            let ends: Vec<usize> = (0..symbols.len()).filter(|k| !taken[*k] && at_its_end(&symbols[*k])).collect();
            for k in &ends {
                taken[*k] = true;
            }
            taken[i] = true;
            groups.push((2, std::iter::once(i).chain(ends).collect()));
        }
        for (i, symbol) in symbols.iter().enumerate().filter(|(i, _)| !taken[*i]) {
            let rank = if matches!(symbol.look, Look::Divider { .. } | Look::Selector { .. }) { 1 } else { 0 };
            groups.push((rank, vec![i]));
        }
        groups.sort_by_key(|(rank, members)| (*rank, members[0]));
        let mut homeless: Vec<usize> = Vec::new();
        for (rank, members) in groups {
            let mut group = Block::default();
            for i in &members {
                group.add(symbols[*i].clone());
            }
            let over = rank > 0 && (self.field.overlaps(&group) || self.field.runs_through(&group));
            match symbols[members[0]].of {
                Stands::Part(part) if over => homeless.push(part),
                _ => self.field.take(group),
            }
        }
        for part in homeless {
            let variants = self.variants(part);
            self.settle(variants);
        }
    }

    /// The ways in which a part by itself can stand.
    fn variants(&self, part: usize) -> Vec<Block> {
        let mut variants = Vec::new();
        match &self.circuit.parts[part].kind {
            Kind::Variable { ccw, wiper, cw, preset } if self.circuit.parts[part].kind.two_ends().is_none() => {
                let nodes = [ccw.unwrap_or(*wiper), cw.unwrap_or(*wiper), *wiper];
                for face in [Face::Right, Face::Down] {
                    for ends in [[0, 1], [1, 0]] {
                        for flip in [false, true] {
                            let mut block = Block::default();
                            block.add(self.divider(part, *preset, nodes, ends, at_zero(), face, flip));
                            variants.push(block);
                        }
                    }
                }
            }
            Kind::Selector { pole, .. } => {
                for side in [-1, 1] {
                    let subs = self.circuit.parts[part].kind.nodes()[1..].iter().map(|n| Sub::Elsewhere(*n)).collect();
                    let mut block = self.kid(&[], *pole, &Kid { way: Way::Pole(part), subs }, side, 1);
                    block.leaves.clear();
                    variants.push(block);
                }
            }
            kind => {
                if let Some([a, b]) = kind.two_ends() {
                    let (group, turned) = (Group::Part(part, false), Group::Part(part, true));
                    variants.push(lying(self.circuit, &group, a, b).0);
                    variants.push(lying(self.circuit, &turned, b, a).0);
                    variants.push(hanging(self.circuit, &group, a, b).0);
                    variants.push(hanging(self.circuit, &turned, b, a).0);
                }
            }
        }
        for block in &mut variants {
            let rails: Vec<Pin> =
                block.symbols.iter().flat_map(|s| &s.pins).filter(|p| self.garden.is_rail(p.node)).copied().collect();
            let mut ends = Block::default();
            for pin in rails {
                ends.take(self.end(pin.node, pin.at));
            }
            // Where a symbol would lie over the part itself, a short wire leads away from it.
            for symbol in ends.symbols {
                let mut end = Block::default();
                end.add(symbol);
                let pin = end.symbols[0].pins[0];
                for (dx, dy) in [(0, 0), (-20, 0), (20, 0), (-30, 0), (30, 0), (-40, 0), (40, 0)] {
                    let mut moved = end.clone();
                    moved.shift(dx, dy);
                    moved.wire(pin.node, &[pin.at, pin.at.by(dx, dy)]);
                    if !block.overlaps(&moved) && !block.runs_through(&moved) {
                        end = moved;
                        break;
                    }
                }
                block.take(end);
            }
        }
        variants
    }

    /// Finds the place for a piece of which all nodes have their places: near them, with nothing in the way.
    fn settle(&mut self, variants: Vec<Block>) {
        let bounds = self.field.bounds().unwrap_or(area(at_zero(), at_zero()));
        let mut found: Option<(i32, usize, i32, i32)> = None;
        let mut ways: Vec<(i32, usize, i32, i32)> = Vec::new();
        for (v, block) in variants.iter().enumerate() {
            let Some(own) = block.bounds() else { continue };
            let pins: Vec<(Point, Vec<Area>)> = block
                .symbols
                .iter()
                .flat_map(|s| &s.pins)
                .filter(|p| !self.garden.is_rail(p.node))
                .map(|p| (p.at, self.field.runs(p.node)))
                .collect();
            // Far from all that it is to be joined to nothing is looked for.
            let reach = pins.iter().flat_map(|(_, runs)| runs).copied().reduce(Area::with).unwrap_or(bounds).grown(400);
            let bounds = Area {
                x0: bounds.x0.max(reach.x0),
                y0: bounds.y0.max(reach.y0),
                x1: bounds.x1.min(reach.x1),
                y1: bounds.y1.min(reach.y1),
            };
            let mut y = down(bounds.y0 - (own.y1 - own.y0) - 60);
            while y <= bounds.y1 + 60 - own.y0 {
                let mut x = down(bounds.x0 - (own.x1 - own.x0) - 60);
                while x <= bounds.x1 + 60 - own.x0 {
                    let cost = pins.iter().map(|(p, runs)| {
                        let p = p.by(x, y);
                        let way = |r: &Area| {
                            let (dx, dy) = ((p.x - p.x.clamp(r.x0, r.x1)).abs(), (p.y - p.y.clamp(r.y0, r.y1)).abs());
                            dx + dy + if dx == 0 || dy == 0 { 0 } else { 15 }
                        };
                        runs.iter().map(way).min().unwrap_or(0)
                    });
                    ways.push((cost.sum(), v, x, y));
                    x += STEP;
                }
                y += STEP;
            }
        }
        // Only the nearest are worth a look.
        const MOST: usize = 3000;
        if ways.len() > MOST {
            ways.select_nth_unstable(MOST);
            ways.truncate(MOST);
        }
        ways.sort_unstable();
        let mut looked = 0;
        for (cost, v, x, y) in ways {
            if found.is_some_and(|(best, ..)| cost >= best) || looked > 150 {
                break;
            }
            let mut block = variants[v].clone();
            block.shift(x, y);
            if !self.field.fits(&block) || self.field.crowds(&block) {
                continue;
            }
            looked += 1;
            // What a straight way there would run into costs a detour each.
            let mut hits = 0;
            for pin in block.symbols.iter().flat_map(|s| &s.pins) {
                let nearest = self.field.nearest(pin.node, pin.at);
                let Some(spot) = nearest.filter(|s| *s != pin.at) else { continue };
                let corner = [at(pin.at.x, spot.y), at(spot.x, pin.at.y)];
                let ways = corner.map(|c| {
                    let mut probe = Block::default();
                    probe.wire(pin.node, &[pin.at, c, spot]);
                    i32::from(!self.field.fits(&probe)) * 160 + 50 * self.field.crossed(pin.node, &[pin.at, c, spot])
                });
                hits += ways[0].min(ways[1]);
            }
            let all = cost + hits;
            if found.is_none_or(|(best, ..)| all < best) {
                found = Some((all, v, x, y));
            }
        }
        let (v, x, y) = match found {
            Some((_, v, x, y)) => (v, x, y),
            // There is always room below.
            None => match variants.first().and_then(Block::bounds) {
                Some(own) => (0, down(bounds.x0), up(bounds.y1 - own.y0 + 40)),
                None => return,
            },
        };
        let mut block = variants[v].clone();
        block.shift(x, y);
        self.field.take(block);
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
