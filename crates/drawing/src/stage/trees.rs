//! Trees of parts that grow from a node: what hangs on it, what goes on from it.

use super::{Hall, Start, at_zero};
use crate::block::{Block, hanging, lying, of_node, room};
use crate::geometry::{Point, STEP, at};
use crate::grow::{Branch, Kid, Sub, Way};
use crate::model::{Kind, Role};
use crate::symbol::{Beside, Face, Look, Pin, Stands, Symbol};

impl Hall<'_> {
    /// The symbol of ground or of a supply at a place.
    pub(super) fn end(&self, node: usize, place: Point) -> Block {
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
    pub(super) fn append(&self, block: &mut Block, trees: &[Branch], root: usize, place: Point, start: Start) {
        let mut tree = self.tree(trees, root, start);
        tree.shift(place.x, place.y);
        block.take(tree);
    }

    /// A tree with its root at the origin.
    pub(super) fn tree(&self, trees: &[Branch], root: usize, start: Start) -> Block {
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
    pub(super) fn kid(&self, trees: &[Branch], node: usize, kid: &Kid, side: i32, stack: i32) -> Block {
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
    pub(super) fn sub(
        &self,
        block: &mut Block,
        trees: &[Branch],
        sub: Sub,
        place: Point,
        start: Start,
        (dx, dy): (i32, i32),
    ) {
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
    pub(super) fn divider(
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
}
