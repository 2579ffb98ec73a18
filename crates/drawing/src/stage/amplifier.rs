//! An amplifier with what leads to it at its left and what feeds back above it; bands and strings as everyone draws them.

use super::{Hall, Special, Start};
use crate::block::{Block, hanging, lying, of_node, room};
use crate::geometry::{Point, STEP, at, down, up};
use crate::grow::{Branch, Kid, Sub, Way};
use crate::model::{Kind, Role};
use crate::shapes::{Band, Ladder};
use crate::symbol::{Beside, Face, Look, Pin, Stands, Symbol};

impl Hall<'_> {
    /// An amplifier with what leads to its inputs and what feeds back, its input side at the origin.
    pub(super) fn cell(&self, amp: usize, roots: &[usize], trees: &[Branch], special: &Special, flip: bool) -> Block {
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
    pub(super) fn feedback(
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
    pub(super) fn band_sizes(&self, bands: &[Band]) -> (i32, i32, i32) {
        let w = |e: Option<usize>| e.map_or(0, |e| lying(self.circuit, &self.garden.edges[e].group, 0, 0).1);
        let half = bands.iter().flat_map(|b| [w(b.left_bridge), w(b.right_bridge), w(b.bridge) / 2]).max().unwrap_or(0);
        let before = bands.iter().map(|b| w(b.before)).max().unwrap_or(0);
        let behind = bands.iter().map(|b| w(b.behind)).max().unwrap_or(0);
        (up(half.max(80)), before, behind)
    }

    /// How far to the right the output's line must stand.
    pub(super) fn band_width(&self, bands: &[Band], inner: i32) -> i32 {
        let (half, _, behind) = self.band_sizes(bands);
        if bands.is_empty() { 0 } else { inner + 20 + 2 * half + behind }
    }

    /// The bands of a tone control, one above the other over the amplifier.
    pub(super) fn bands(&self, block: &mut Block, bands: &[Band], minus: usize, out: usize, inner: i32) {
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
    pub(super) fn ladder(&self, block: &mut Block, ladder: &Ladder, minus: usize, out: usize) {
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

    pub(super) fn amplifier(&self, amp: usize, flip: bool) -> Symbol {
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
}
