//! Pieces of a picture that are moved as one: symbols, the wires between them, and what room both take.

use crate::geometry::{Area, Point, STEP, area, at, down};
use crate::model::{Circuit, Kind};
use crate::reduce::Group;
use crate::symbol::{Beside, Face, Look, Pin, Stands, Symbol};

/// A wire of a node, through these points.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// The node.
    pub node: usize,
    /// From corner to corner.
    pub points: Vec<Point>,
}

/// Symbols and wires in their places relative to each other.
#[derive(Clone, Debug, Default)]
pub struct Block {
    /// The symbols.
    pub symbols: Vec<Symbol>,
    /// Wires that are meant to run so; they are drawn where nothing is in their way.
    pub wires: Vec<Wire>,
    /// Nodes that go on from here to what stands elsewhere, and where.
    pub leaves: Vec<(usize, Point)>,
    /// Where an output leaves its amplifier.
    pub exits: Vec<(usize, Point)>,
    areas: Vec<Area>,
    lines: Vec<Line>,
    /// Where wires will run to what is not there yet.
    whiskers: Vec<(usize, Point, Point)>,
}

/// A straight wire of a node, or a lead.
type Line = (Option<usize>, Point, Point);

/// Part of a block.
struct View {
    areas: Vec<Area>,
    lines: Vec<Line>,
    whiskers: Vec<Line>,
    pins: Vec<Pin>,
}

impl View {
    /// Whether a pin stands on a pin or wire of another node, or right beside it.
    fn touches(&self, other: &View) -> bool {
        self.pins.iter().any(|p| {
            let near = area(p.at, p.at).grown(STEP);
            let pins = other.pins.iter().any(|q| q.node != p.node && p.at.way(q.at) < 2 * STEP);
            pins || other.lines.iter().any(|(node, a, b)| node.is_some_and(|n| n != p.node) && area(*a, *b).meets(near))
        })
    }
}

/// Room between two symbols that have nothing to do with each other.
const APART: i32 = 4;

impl Block {
    /// Adds a symbol.
    pub fn add(&mut self, symbol: Symbol) {
        self.areas.extend(symbol.bodies());
        self.areas.extend(symbol.labels().iter().map(|l| l.room));
        if symbol.pins.len() == 2 {
            let (a, b) = (symbol.pins[0].at, symbol.pins[1].at);
            let toward = |p: Point, q: Point| p.by((q.x - p.x).signum() * 3, (q.y - p.y).signum() * 3);
            self.lines.push((None, toward(a, b), toward(b, a)));
        }
        self.symbols.push(symbol);
    }

    /// Adds a wire.
    pub fn wire(&mut self, node: usize, points: &[Point]) {
        let mut kept: Vec<Point> = Vec::new();
        for p in points {
            if kept.last() != Some(p) {
                kept.push(*p);
            }
        }
        if kept.len() < 2 {
            return;
        }
        for pair in kept.windows(2) {
            self.lines.push((Some(node), pair[0], pair[1]));
        }
        self.wires.push(Wire { node, points: kept });
    }

    /// Moves everything.
    pub fn shift(&mut self, dx: i32, dy: i32) {
        for symbol in &mut self.symbols {
            symbol.shift(dx, dy);
        }
        for wire in &mut self.wires {
            for p in &mut wire.points {
                *p = p.by(dx, dy);
            }
        }
        for (_, p) in self.leaves.iter_mut().chain(&mut self.exits) {
            *p = p.by(dx, dy);
        }
        for a in &mut self.areas {
            *a = a.by(dx, dy);
        }
        for (_, a, b) in &mut self.lines {
            *a = a.by(dx, dy);
            *b = b.by(dx, dy);
        }
        for (_, a, b) in &mut self.whiskers {
            *a = a.by(dx, dy);
            *b = b.by(dx, dy);
        }
    }

    /// Keeps a straight way free along which a wire will come; it takes no part in what the block measures.
    pub fn whisker(&mut self, node: usize, from: Point, to: Point) {
        self.whiskers.push((node, from, to));
    }

    /// Takes another one in.
    pub fn take(&mut self, other: Block) {
        self.symbols.extend(other.symbols);
        self.wires.extend(other.wires);
        self.leaves.extend(other.leaves);
        self.exits.extend(other.exits);
        self.areas.extend(other.areas);
        self.lines.extend(other.lines);
        self.whiskers.extend(other.whiskers);
    }

    /// Keeps room free of symbols.
    pub fn reserve(&mut self, room: Area) {
        self.areas.push(room);
    }

    /// Whether another one can stand here too.
    pub fn fits(&self, other: &Block) -> bool {
        let Some(around) = other.extent() else { return true };
        // Most of a large block lies far from what is to be fitted in.
        let (here, there) = (self.within(around.grown(3 * STEP)), other.within(around));
        let apart = |a: &Area| there.areas.iter().any(|b| a.meets(b.grown(APART)));
        if here.areas.iter().any(apart) {
            return false;
        }
        let through = |lines: &[Line], areas: &[Area]| {
            lines.iter().any(|(_, p, q)| {
                let line = area(*p, *q).grown(2);
                areas.iter().any(|a| a.meets(line))
            })
        };
        if through(&here.lines, &there.areas) || through(&there.lines, &here.areas) {
            return false;
        }
        let clash = |a: &[Line], b: &[Line]| a.iter().any(|x| b.iter().any(|y| in_the_way(*x, *y)));
        if clash(&here.lines, &there.lines)
            || clash(&here.lines, &there.whiskers)
            || clash(&there.lines, &here.whiskers)
        {
            return false;
        }
        let under = |a: &View, b: &View| {
            a.whiskers.iter().any(|(_, p, q)| {
                let line = area(*p, *q).grown(4);
                b.areas.iter().any(|x| x.meets(line))
            })
        };
        !under(&here, &there) && !under(&there, &here) && !here.touches(&there) && !there.touches(&here)
    }

    /// The box around everything, the ways that are kept free too.
    fn extent(&self) -> Option<Area> {
        let whiskers = self.whiskers.iter().map(|(_, a, b)| area(*a, *b));
        self.bounds().into_iter().chain(whiskers).reduce(Area::with)
    }

    /// What lies within an area.
    fn within(&self, around: Area) -> View {
        let line = |(_, a, b): &&Line| area(*a, *b).grown(1).meets(around.grown(1));
        let whiskers = self.whiskers.iter().map(|(node, a, b)| (Some(*node), *a, *b));
        let pins = self.symbols.iter().flat_map(|s| &s.pins).copied();
        View {
            areas: self.areas.iter().filter(|a| a.meets(around.grown(1))).copied().collect(),
            lines: self.lines.iter().filter(line).copied().collect(),
            whiskers: whiskers.filter(|w| line(&w)).collect(),
            pins: pins.filter(|p| around.grown(1).holds(p.at)).collect(),
        }
    }

    /// Moves another one from where it stands until it can stand here too.
    pub fn slide(&self, other: &mut Block, dx: i32, dy: i32, most: usize) -> bool {
        for _ in 0..most {
            if self.fits(other) {
                return true;
            }
            other.shift(dx, dy);
        }
        self.fits(other)
    }

    /// Whether symbols or texts of both lie over each other.
    pub fn overlaps(&self, other: &Block) -> bool {
        self.areas.iter().any(|a| other.areas.iter().any(|b| a.meets(*b)))
    }

    /// Whether a lead or wire of one runs through a symbol or text of the other.
    pub fn runs_through(&self, other: &Block) -> bool {
        let through = |a: &Block, b: &Block| {
            a.lines.iter().any(|(_, p, q)| b.areas.iter().any(|x| x.meets(area(*p, *q).grown(1))))
        };
        through(self, other) || through(other, self)
    }

    /// Takes everything but the symbols out.
    pub fn without_symbols(&mut self) -> (Block, Vec<Symbol>) {
        let old = std::mem::take(self);
        let mut rest = Block { leaves: old.leaves, exits: old.exits, whiskers: old.whiskers, ..Block::default() };
        for wire in &old.wires {
            rest.wire(wire.node, &wire.points);
        }
        (rest, old.symbols)
    }

    /// Whether a pin of one lies so near to a body or text of the other that no wire gets to it.
    pub fn crowds(&self, other: &Block) -> bool {
        let near = |a: &Block, b: &Block| {
            let mine: Vec<Point> = b.symbols.iter().flat_map(|s| &s.pins).map(|p| p.at).collect();
            let pins = a.symbols.iter().flat_map(|s| &s.pins).filter(|p| !mine.contains(&p.at));
            pins.into_iter().any(|p| b.areas.iter().any(|area| area.grown(STEP + 4).holds(p.at)))
        };
        near(self, other) || near(other, self)
    }

    /// How many wires of other nodes a wire crosses.
    pub fn crossed(&self, node: usize, points: &[Point]) -> i32 {
        let mut count = 0;
        for pair in points.windows(2) {
            let run = area(pair[0], pair[1]);
            for (other, a, b) in &self.lines {
                if other.is_none_or(|o| o == node) || (a.y == b.y) == (pair[0].y == pair[1].y) {
                    continue;
                }
                count += i32::from(area(*a, *b).grown(1).meets(run.grown(1)));
            }
        }
        count
    }

    /// The pins and the straight runs of wire of a node.
    pub fn runs(&self, node: usize) -> Vec<Area> {
        let pins = self.symbols.iter().flat_map(|s| &s.pins).filter(|p| p.node == node).map(|p| area(p.at, p.at));
        let along =
            self.wires.iter().filter(|w| w.node == node).flat_map(|w| w.points.windows(2)).map(|w| area(w[0], w[1]));
        pins.chain(along).collect()
    }

    /// Where a wire from a point would best meet a node: at a pin, or anywhere along a wire.
    pub fn nearest(&self, node: usize, from: Point) -> Option<Point> {
        let pins = self.symbols.iter().flat_map(|s| &s.pins).filter(|p| p.node == node).map(|p| p.at);
        let along = self.wires.iter().filter(|w| w.node == node).flat_map(|w| w.points.windows(2)).map(|pair| {
            let run = area(pair[0], pair[1]);
            at(from.x.clamp(run.x0, run.x1), from.y.clamp(run.y0, run.y1))
        });
        pins.chain(along).min_by_key(|p| (p.way(from), p.x, p.y))
    }

    /// The box around everything.
    pub fn bounds(&self) -> Option<Area> {
        let lines = self.lines.iter().map(|(_, a, b)| area(*a, *b));
        let pins = self.symbols.iter().flat_map(|s| &s.pins).map(|p| area(p.at, p.at));
        self.areas.iter().copied().chain(lines).chain(pins).reduce(Area::with)
    }

    /// All places where a node can be reached.
    pub fn spots(&self, node: usize) -> Vec<Point> {
        let pins = self.symbols.iter().flat_map(|s| &s.pins).filter(|p| p.node == node).map(|p| p.at);
        let wires = self.wires.iter().filter(|w| w.node == node).flat_map(|w| w.points.iter().copied());
        pins.chain(wires).collect()
    }
}

/// Two lines of different nodes that run along each other, or cross at a lead.
fn in_the_way(a: Line, b: Line) -> bool {
    if a.0.is_some() && a.0 == b.0 {
        return false;
    }
    let (ra, rb) = (area(a.1, a.2), area(b.1, b.2));
    let (level_a, level_b) = (a.1.y == a.2.y, b.1.y == b.2.y);
    if level_a == level_b {
        let (near, along) = if level_a {
            ((ra.y0 - rb.y0).abs(), ra.x0.max(rb.x0) < ra.x1.min(rb.x1))
        } else {
            ((ra.x0 - rb.x0).abs(), ra.y0.max(rb.y0) < ra.y1.min(rb.y1))
        };
        return near < STEP && along;
    }
    // A wire may cross a wire, but not a lead.
    (a.0.is_none() || b.0.is_none()) && ra.grown(1).meets(rb.grown(1))
}

/// How many characters are kept for a part's second text.
pub fn room(kind: &Kind) -> usize {
    match kind {
        Kind::Variable { .. } => 14,
        Kind::Switch(..) => 6,
        Kind::Amplifier { .. } => 18,
        Kind::Selector { .. } => 0,
        _ => 7,
    }
}

/// A part that has two ends, as a symbol; `turned`: its second end comes first.
pub fn two_ended(circuit: &Circuit, part: usize, turned: bool, face: Face, length: i32, origin: Point) -> Symbol {
    let p = &circuit.parts[part];
    let ends = p.kind.two_ends().unwrap_or([0, 0]);
    let look = match &p.kind {
        Kind::Capacitor(_, polar) => Look::Capacitor { polar: *polar },
        Kind::Inductor(_) => Look::Inductor,
        Kind::Variable { preset, .. } => Look::Adjustable { preset: *preset },
        Kind::Switch(_, closed) => Look::Contact { closed: *closed },
        _ => Look::Resistor,
    };
    let (dx, dy) = face.step(length, 0);
    let far = origin.by(dx, dy);
    let (place, face) = match (turned, face) {
        (false, _) => (origin, face),
        (true, Face::Right) => (far, Face::Left),
        (true, Face::Left) => (far, Face::Right),
        (true, Face::Down) => (far, Face::Up),
        (true, Face::Up) => (far, Face::Down),
    };
    let (first, second) = if turned { (far, origin) } else { (origin, far) };
    Symbol {
        look,
        of: Stands::Part(part),
        place,
        face,
        length,
        flip: false,
        pins: vec![Pin { node: ends[0], at: first }, Pin { node: ends[1], at: second }],
        name: p.name.clone(),
        value: p.value.clone(),
        room: room(&p.kind),
        beside: if face.level() { Beside::Above } else { Beside::Right },
        external: p.external,
        unfitted: p.unfitted,
    }
}

/// A symbol of a node: ground or a rail.
pub fn of_node(circuit: &Circuit, node: usize, look: Look, place: Point) -> Symbol {
    Symbol {
        look,
        of: Stands::Node(node),
        place,
        face: Face::Down,
        length: 0,
        flip: false,
        pins: vec![Pin { node, at: place }],
        name: circuit.nodes[node].name.clone(),
        value: String::new(),
        room: 0,
        beside: Beside::Right,
        external: false,
        unfitted: false,
    }
}

/// A group lying, its left end at the origin, with its width.
pub fn lying(circuit: &Circuit, group: &Group, left: usize, right: usize) -> (Block, i32) {
    match group {
        Group::Part(i, turned) => {
            let part = &circuit.parts[*i];
            let length = Symbol::lying(&part.name, room(&part.kind));
            let mut block = Block::default();
            block.add(two_ended(circuit, *i, *turned, Face::Right, length, at(0, 0)));
            (block, length)
        }
        Group::Series(all, mids) => {
            let mut whole = Block::default();
            let mut x = 0;
            for (k, one) in all.iter().enumerate() {
                let from = if k == 0 { left } else { mids[k - 1] };
                let to = mids.get(k).copied().unwrap_or(right);
                let (mut block, w) = lying(circuit, one, from, to);
                block.shift(x, 0);
                whole.take(block);
                x += w;
            }
            (whole, x)
        }
        Group::Parallel(all) => {
            let each: Vec<(Block, i32)> = all.iter().map(|g| lying(circuit, g, left, right)).collect();
            let w = each.iter().map(|(_, w)| *w).max().unwrap_or(0) + 2 * STEP;
            let mut whole = Block::default();
            let mut top = 0;
            for (k, (mut block, own)) in each.into_iter().enumerate() {
                let x = down((w - own) / 2);
                block.shift(x, if k == 0 { 0 } else { top - 4 * STEP });
                whole.slide(&mut block, 0, -STEP, 200);
                let y = block.spots(left).iter().map(|p| p.y).max().unwrap_or(0);
                block.wire(left, &[at(0, y), at(x, y)]);
                block.wire(right, &[at(w, y), at(x + own, y)]);
                top = y;
                whole.take(block);
            }
            whole.wire(left, &[at(0, 0), at(0, top)]);
            whole.wire(right, &[at(w, 0), at(w, top)]);
            (whole, w)
        }
    }
}

/// A group hanging, its upper end at the origin, with its height.
pub fn hanging(circuit: &Circuit, group: &Group, upper: usize, lower: usize) -> (Block, i32) {
    const LENGTH: i32 = 60;
    match group {
        Group::Part(i, turned) => {
            let mut block = Block::default();
            block.add(two_ended(circuit, *i, *turned, Face::Down, LENGTH, at(0, 0)));
            (block, LENGTH)
        }
        Group::Series(all, mids) => {
            let mut whole = Block::default();
            let mut y = 0;
            for (k, one) in all.iter().enumerate() {
                let from = if k == 0 { upper } else { mids[k - 1] };
                let to = mids.get(k).copied().unwrap_or(lower);
                let (mut block, h) = hanging(circuit, one, from, to);
                block.shift(0, y);
                whole.take(block);
                y += h;
            }
            (whole, y)
        }
        Group::Parallel(all) => {
            let each: Vec<(Block, i32)> = all.iter().map(|g| hanging(circuit, g, upper, lower)).collect();
            let h = each.iter().map(|(_, h)| *h).max().unwrap_or(0) + 2 * STEP;
            let mut whole = Block::default();
            let mut right = 0;
            for (k, (mut block, own)) in each.into_iter().enumerate() {
                let y = down((h - own) / 2);
                block.shift(if k == 0 { 0 } else { right + 7 * STEP }, y);
                whole.slide(&mut block, STEP, 0, 200);
                let x = block.spots(upper).iter().map(|p| p.x).min().unwrap_or(0);
                block.wire(upper, &[at(x, 0), at(x, y)]);
                block.wire(lower, &[at(x, h), at(x, y + own)]);
                right = x;
                whole.take(block);
            }
            whole.wire(upper, &[at(0, 0), at(right, 0)]);
            whole.wire(lower, &[at(0, h), at(right, h)]);
            (whole, h)
        }
    }
}
