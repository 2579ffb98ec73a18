//! What is left when amplifiers and trees stand: parts between nodes that have their places look for the nearest free one.

use super::{Hall, at_zero};
use crate::block::{Block, hanging, lying, of_node};
use crate::geometry::{Area, Point, STEP, area, at, down, up};
use crate::grow::{Kid, Sub, Way};
use crate::model::{Kind, Role};
use crate::reduce::Group;
use crate::symbol::{Face, Look, Pin, Stands, Symbol};

impl Hall<'_> {
    /// What hangs between ground and supplies alone.
    pub(super) fn alone(&mut self) {
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
    pub(super) fn port(&self, node: usize, side: usize) -> Option<Point> {
        let ends: Vec<Point> = if side == 0 { &self.field.leaves } else { &self.field.exits }
            .iter()
            .filter(|(n, _)| *n == node)
            .map(|(_, p)| *p)
            .collect();
        let spots = if ends.is_empty() { self.field.spots(node) } else { ends };
        spots.into_iter().min_by_key(|p| (if side == 0 { p.x } else { -p.x }, p.y.abs()))
    }

    /// Places what lies between nodes that have their places.
    pub(super) fn links(&mut self) {
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
    pub(super) fn mend(&mut self) {
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
    pub(super) fn variants(&self, part: usize) -> Vec<Block> {
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
    pub(super) fn settle(&mut self, variants: Vec<Block>) {
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
}
