//! The whole: stages in rows, joined where they stand side by side and by name where they do not.

use crate::block::{Block, Wire, of_node};
use crate::geometry::{Area, Point, area, at, down, up};
use crate::label::{self, Taken};
use crate::model::{Circuit, Role};
use crate::route::{Raster, Routed, Terminal};
use crate::stage::{Arranged, arrange};
use crate::symbol::{Beside, Face, Label, Look, Pin, SMALL, Stands, Symbol, width};

/// A stage's frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// The stage.
    pub stage: usize,
    /// Around it.
    pub area: Area,
}

/// A node's wires.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NodeWires {
    /// From corner to corner.
    pub lines: Vec<Vec<Point>>,
    /// Where three and more meet.
    pub dots: Vec<Point>,
    /// Its names, one a place.
    pub names: Vec<Label>,
}

/// A picture as plain data.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// To the right.
    pub width: i32,
    /// Downwards.
    pub height: i32,
    /// The frames of the stages.
    pub frames: Vec<Frame>,
    /// All symbols.
    pub symbols: Vec<Symbol>,
    /// By node.
    pub nodes: Vec<NodeWires>,
    /// How often one wire crosses another.
    pub crossings: usize,
    /// How often a wire bends.
    pub bends: usize,
    /// Nodes whose pieces are joined by name alone though they stand in one stage.
    pub apart: Vec<usize>,
    /// Nodes for whose name there was no room.
    pub nameless: Vec<usize>,
}

/// Rows are not made longer than this without need.
const ROW: i32 = 1400;
/// Between a frame and what stands outside it.
const GAP: i32 = 30;

/// Draws a circuit; with `only`, one stage of it.
pub fn draw(circuit: &Circuit, only: Option<usize>) -> Sheet {
    let mut drawer = Drawer { circuit, only, sheet: Sheet::default(), ports: Vec::new() };
    drawer.sheet.nodes = vec![NodeWires::default(); circuit.nodes.len()];
    let stages = drawer.stages();
    drawer.rows(stages);
    drawer.sheet
}

/// A port in its place on the sheet.
#[derive(Clone, Copy, Debug)]
struct Port {
    node: usize,
    at: Point,
    left: bool,
    stage: usize,
}

/// What stands outside at a port.
#[derive(Clone, Copy, Debug)]
struct Outside {
    source: Option<usize>,
    flag: bool,
    terminal: bool,
}

struct Drawer<'a> {
    circuit: &'a Circuit,
    only: Option<usize>,
    sheet: Sheet,
    ports: Vec<Port>,
}

/// A stage with its wires.
struct Done {
    stage: usize,
    arranged: Arranged,
    routed: Routed,
}

impl Drawer<'_> {
    /// By stage: the nodes that come in at the left, and those that go out at the right.
    fn interfaces(&self) -> Vec<(Vec<usize>, Vec<usize>)> {
        let c = self.circuit;
        let mut touched: Vec<Vec<usize>> = vec![Vec::new(); c.nodes.len()];
        for part in &c.parts {
            for node in part.kind.nodes() {
                if touched[node].last() != Some(&part.stage) && !touched[node].contains(&part.stage) {
                    touched[node].push(part.stage);
                }
            }
        }
        let mut driver = vec![None; c.nodes.len()];
        for (s, stage) in c.stages.iter().enumerate() {
            for node in &stage.outputs {
                driver[*node].get_or_insert(s);
            }
        }
        let sourced = |node: usize| c.sources.iter().any(|s| s.plus == node || s.minus == node);
        let mut all = Vec::new();
        for (s, stage) in c.stages.iter().enumerate() {
            let (mut left, mut right) = (Vec::new(), Vec::new());
            let push = |list: &mut Vec<usize>, node: usize| {
                if touched[node].contains(&s) && c.nodes[node].role == Role::Signal && !list.contains(&node) {
                    list.push(node);
                }
            };
            for node in &stage.inputs {
                push(&mut left, *node);
            }
            for node in &stage.outputs {
                // A node that comes in and goes out is led to both sides only where another stage wants it.
                push(&mut right, *node);
            }
            for (node, stages) in touched.iter().enumerate() {
                if !stages.contains(&s) || stage.inputs.contains(&node) || stage.outputs.contains(&node) {
                    continue;
                }
                if stages.len() > 1 || sourced(node) {
                    let later = driver[node].is_none() && stages.iter().any(|t| *t > s) && !sourced(node);
                    push(if later { &mut right } else { &mut left }, node);
                }
            }
            // What a stage only hangs on goes on through it to the next that wants it.
            for node in left.clone() {
                let later = |t: &crate::model::Stage| t.inputs.contains(&node);
                if stage.outputs.is_empty() && c.stages[s + 1..].iter().any(later) && !right.contains(&node) {
                    right.push(node);
                }
            }
            all.push((left, right));
        }
        all
    }

    fn stages(&mut self) -> Vec<Done> {
        let interfaces = self.interfaces();
        let mut empty = vec![true; self.circuit.stages.len()];
        for part in &self.circuit.parts {
            empty[part.stage] = false;
        }
        let wanted = |s: usize| !empty[s] && self.only.is_none_or(|only| only == s);
        let mut all = Vec::new();
        for (stage, (left, right)) in interfaces.iter().enumerate().filter(|(s, _)| wanted(*s)) {
            let arranged = arrange(self.circuit, stage, left, right);
            let routed = wired(&arranged, &self.circuit.stages[stage].name);
            all.push(Done { stage, arranged, routed });
        }
        all
    }

    /// Puts the stages into rows and joins them.
    fn rows(&mut self, stages: Vec<Done>) {
        let widest = stages.iter().map(|d| d.arranged.frame.x1 - d.arranged.frame.x0).max().unwrap_or(0);
        let limit = (widest + 2 * GAP).max(ROW);
        let mut rows: Vec<Vec<Done>> = Vec::new();
        let mut used = 0;
        for done in stages {
            let w = done.arranged.frame.x1 - done.arranged.frame.x0 + 2 * GAP;
            if rows.is_empty() || used + w > limit {
                rows.push(Vec::new());
                used = 0;
            }
            used += w;
            if let Some(row) = rows.last_mut() {
                row.push(done);
            }
        }
        // In how many rows a node has ports, and whether a stage drives it.
        let n = self.circuit.nodes.len();
        let mut in_rows: Vec<Vec<usize>> = vec![Vec::new(); n];
        for (r, row) in rows.iter().enumerate() {
            for (node, _) in row.iter().flat_map(|d| d.arranged.left.iter().chain(&d.arranged.right)) {
                if in_rows[*node].last() != Some(&r) {
                    in_rows[*node].push(r);
                }
            }
        }
        let mut top = 0;
        for (r, row) in rows.into_iter().enumerate() {
            let bottom = self.row(r, row, &in_rows, top);
            top = up(bottom) + 30;
        }
        self.close();
    }

    /// One row, below `top`; returns where it ends.
    fn row(&mut self, r: usize, mut row: Vec<Done>, in_rows: &[Vec<usize>], top: i32) -> i32 {
        // What stands outside, at the first port of each node: the stage in the row, the side, the node, what, and the room for it.
        let mut decor: Vec<(usize, bool, usize, Outside, i32)> = Vec::new();
        let all: Vec<(usize, bool, usize)> = row
            .iter()
            .enumerate()
            .flat_map(|(k, d)| {
                let left = d.arranged.left.iter().map(move |(n, _)| (k, true, *n));
                left.chain(d.arranged.right.iter().map(move |(n, _)| (k, false, *n)))
            })
            .collect();
        for (i, (k, left, node)) in all.iter().enumerate() {
            if all[..i].iter().all(|(.., n)| n != node) {
                let count = all.iter().filter(|(.., n)| n == node).count();
                let (what, room) = self.outside(*node, *left, r, count, in_rows);
                decor.push((*k, *left, *node, what, room));
            }
        }
        // Each stage at the height at which the one before it drives it.
        let mut shifts: Vec<(i32, i32)> = Vec::new();
        let mut x = 0;
        for k in 0..row.len() {
            let here = &row[k].arranged;
            let dy = match k.checked_sub(1) {
                None => 0,
                Some(j) => {
                    let before = &row[j].arranged;
                    let joined = here.left.iter().find_map(|(node, p)| {
                        before.right.iter().find(|(other, _)| other == node).map(|(_, q)| q.y + shifts[j].1 - p.y)
                    });
                    joined.unwrap_or_else(|| before.frame.y0 + shifts[j].1 - here.frame.y0)
                }
            };
            let margin = |stage: usize, left: bool| {
                let own = decor.iter().filter(|(s, l, ..)| *s == stage && *l == left);
                own.map(|(.., room)| *room).max().unwrap_or(0)
            };
            let gap = match k.checked_sub(1) {
                None => margin(k, true),
                Some(j) => {
                    let lanes = (row[j].arranged.right.len() + here.left.len()) as i32 * 10;
                    margin(j, false) + margin(k, true) + 20 + lanes
                }
            };
            x += up(gap);
            shifts.push((x - here.frame.x0, dy));
            x += here.frame.x1 - here.frame.x0;
        }
        let highest = row.iter().zip(&shifts).map(|(d, (_, dy))| d.arranged.frame.y0 + dy).min().unwrap_or(0);
        let down_by = top + 40 - down(highest);
        let mut field = Block::default();
        let mut ports: Vec<Port> = Vec::new();
        for (done, (dx, dy)) in row.iter_mut().zip(&shifts) {
            let (dx, dy) = (*dx, dy + down_by);
            let frame = done.arranged.frame.by(dx, dy);
            field.reserve(frame.grown(-6));
            self.sheet.frames.push(Frame { stage: done.stage, area: frame });
            for (list, left) in [(&done.arranged.left, true), (&done.arranged.right, false)] {
                ports.extend(list.iter().map(|(node, p)| Port {
                    node: *node,
                    at: p.by(dx, dy),
                    left,
                    stage: done.stage,
                }));
            }
        }
        // What is outside: sources, connectors, names of other rows.
        let outer: Vec<(usize, Point)> = ports.iter().map(|p| (p.node, p.at)).collect();
        let mut named_outside: Vec<(usize, bool)> = Vec::new();
        for (i, port) in ports.iter().enumerate() {
            if ports[..i].iter().any(|p| p.node == port.node) {
                continue;
            }
            if let Some((.., what, _)) = decor.iter().find(|(_, _, node, ..)| *node == port.node) {
                self.around(port, &ports, *what, &mut field, &mut named_outside);
            }
        }
        let frames: Vec<Area> =
            self.sheet.frames[self.sheet.frames.len() - row.len()..].iter().map(|f| f.area).collect();
        let bounds = field.bounds().unwrap_or(area(at(0, 0), at(0, 0))).grown(60);
        let over = Area { x0: down(bounds.x0), y0: down(bounds.y0), x1: up(bounds.x1), y1: up(bounds.y1) };
        let mut raster = Raster::new(over);
        for frame in &frames {
            raster.block(frame.grown(1));
        }
        stand(&mut raster, &field);
        let mut terminals: Vec<Terminal> = outer.iter().map(|(node, at)| Terminal { node: *node, at: *at }).collect();
        for t in &terminals {
            raster.pin(t.node, t.at);
        }
        terminals.retain(|t| self.circuit.nodes[t.node].role == Role::Signal);
        for symbol in &field.symbols {
            terminals.extend(symbol.pins.iter().map(|p| Terminal { node: p.node, at: p.at }));
        }
        let grounds: Vec<usize> =
            terminals.iter().map(|t| t.node).filter(|n| self.circuit.nodes[*n].role != Role::Signal).collect();
        terminals.retain(|t| !grounds.contains(&t.node));
        // What goes through a stage is joined inside it.
        let mut joined: Vec<(usize, Point, Point)> = Vec::new();
        for (k, port) in ports.iter().enumerate() {
            let inside = ports[..k].iter().rev().find(|p| p.node == port.node && p.stage == port.stage);
            joined.extend(inside.map(|p| (port.node, p.at, port.at)));
        }
        let routed = raster.route(&field.wires, &terminals, &joined, &[]);
        self.sheet.crossings += routed.crossings;
        self.sheet.bends += routed.bends;
        let mut bottom = bounds.y1 - 60;
        // Names of what could not be joined here are shown at every port by its stage.
        for node in &routed.apart {
            named_outside.retain(|(n, _)| n != node);
        }
        for (done, (dx, dy)) in row.into_iter().zip(shifts) {
            self.keep(done, dx, dy + down_by, &named_outside);
        }
        let mut all = routed.wires;
        for wire in &all {
            bottom = wire.points.iter().map(|p| p.y).fold(bottom, i32::max);
        }
        self.dots(&field.symbols, &all, &ports);
        for wire in all.drain(..) {
            self.sheet.nodes[wire.node].lines.push(wire.points);
        }
        self.sheet.symbols.extend(field.symbols);
        self.ports.extend(ports);
        bottom
    }

    /// What stands outside at a node's first port in a row, and the room that it needs.
    fn outside(&self, node: usize, left: bool, r: usize, count: usize, in_rows: &[Vec<usize>]) -> (Outside, i32) {
        let c = self.circuit;
        let name = width(c.nodes[node].name.chars().count(), SMALL);
        let sourced = c.sources.iter().any(|s| s.plus == node || s.minus == node);
        let elsewhere = in_rows[node].iter().any(|row| *row != r);
        let source = match in_rows[node].first() == Some(&r) {
            true => {
                c.sources.iter().position(|s| s.plus == node || s.minus == node && c.nodes[s.plus].role != Role::Signal)
            }
            false => None,
        };
        let ends = !sourced && !elsewhere && (count == 1 || self.only.is_some());
        let mut room = if source.is_some() || sourced && left { 120 } else { 0 };
        if elsewhere || ends {
            room += 50 + name;
        }
        (Outside { source, flag: elsewhere, terminal: ends }, room)
    }

    /// Places what stands outside a frame at a node's first port in a row.
    fn around(&self, port: &Port, ports: &[Port], what: Outside, field: &mut Block, named: &mut Vec<(usize, bool)>) {
        let c = self.circuit;
        let node = port.node;
        let side = if port.left { -1 } else { 1 };
        if let Some(i) = what.source {
            let minus = c.sources[i].minus;
            let mate = ports.iter().find(|p| p.node == minus && p.left == port.left);
            self.source(i, port, mate.copied(), side, field);
            if c.sources[i].name == c.nodes[node].name {
                named.push((node, true));
            }
        }
        if what.flag || what.terminal {
            let look = if what.terminal { Look::Terminal } else { Look::Flag { out: !port.left } };
            let mut symbol = of_node(c, node, look, port.at.by(side * 20, 0));
            symbol.face = if port.left { Face::Left } else { Face::Right };
            let mut block = Block::default();
            block.wire(node, &[port.at, symbol.place]);
            block.add(symbol);
            let mut tries = 0;
            while !field.fits(&block) && tries < 400 {
                if tries == 0 {
                    block.wires.clear();
                }
                block.shift(0, 10);
                tries += 1;
            }
            field.take(block);
            named.push((node, true));
        }
    }

    fn source(&self, i: usize, port: &Port, mate: Option<Port>, side: i32, field: &mut Block) {
        let c = self.circuit;
        let source = &c.sources[i];
        let x = port.at.x + side * 40;
        let (y, floating) = match mate {
            Some(m) => (down((port.at.y + m.at.y) / 2 - 30), true),
            None => (port.at.y, c.nodes[source.minus].role == Role::Signal),
        };
        let top_first = mate.is_none_or(|m| m.at.y >= port.at.y);
        let (place, face) = if top_first { (at(x, y), Face::Down) } else { (at(x, y + 60), Face::Up) };
        let (_, fy) = face.step(60, 0);
        let mut block = Block::default();
        block.add(Symbol {
            look: Look::Source { current: source.current },
            of: Stands::Source(i),
            place,
            face,
            length: 60,
            flip: false,
            pins: vec![Pin { node: source.plus, at: place }, Pin { node: source.minus, at: place.by(0, fy) }],
            name: source.name.clone(),
            value: source.value.clone(),
            room: 8,
            beside: if side < 0 { Beside::Left } else { Beside::Right },
            external: false,
            unfitted: false,
        });
        if !floating {
            block.add(of_node(c, source.minus, Look::Ground, place.by(0, fy)));
        }
        let mut tries = 0;
        while !field.fits(&block) && tries < 100 {
            block.shift(side * 10, 0);
            tries += 1;
        }
        field.take(block);
    }

    /// Takes a stage over in its place, with the names of its nodes.
    fn keep(&mut self, mut done: Done, dx: i32, dy: i32, outside: &[(usize, bool)]) {
        done.arranged.block.shift(dx, dy);
        let mut wires = done.routed.wires;
        for wire in &mut wires {
            for p in &mut wire.points {
                *p = p.by(dx, dy);
            }
        }
        let frame = done.arranged.frame.by(dx, dy);
        let ports: Vec<Port> = done
            .arranged
            .left
            .iter()
            .chain(&done.arranged.right)
            .map(|(node, p)| Port { node: *node, at: p.by(dx, dy), left: true, stage: done.stage })
            .collect();
        let block = done.arranged.block;
        let mut taken = Taken::default();
        for symbol in &block.symbols {
            taken.areas.extend(symbol.bodies());
            taken.areas.extend(symbol.labels().iter().map(|l| l.room));
            if symbol.pins.len() == 2 {
                taken.lines.push((symbol.pins[0].at, symbol.pins[1].at));
            }
        }
        // The stage's own name.
        let name = &self.circuit.stages[done.stage].name;
        taken.areas.push(named(frame, name));
        for wire in &wires {
            taken.lines.extend(wire.points.windows(2).map(|w| (w[0], w[1])));
        }
        let mut nodes: Vec<usize> = block.symbols.iter().flat_map(|s| &s.pins).map(|p| p.node).collect();
        nodes.sort_unstable();
        nodes.dedup();
        for node in nodes {
            let n = &self.circuit.nodes[node];
            if n.role != Role::Signal || (n.unnamed && !done.routed.apart.contains(&node)) {
                continue;
            }
            let port = ports.iter().find(|p| p.node == node);
            if port.is_some() && outside.iter().any(|(o, at_port)| *o == node && *at_port) {
                continue;
            }
            let own: Vec<Wire> = wires.iter().filter(|w| w.node == node).cloned().collect();
            let pins: Vec<Point> =
                block.symbols.iter().flat_map(|s| &s.pins).filter(|p| p.node == node).map(|p| p.at).collect();
            if done.routed.apart.contains(&node) {
                // Each piece says whose it is.
                for (wires, pins) in pieces(&own, &pins) {
                    match label::place(&n.name, &wires, &pins, None, frame, &taken) {
                        Some(found) => {
                            taken.areas.push(found.room);
                            self.sheet.nodes[node].names.push(found);
                        }
                        None => self.sheet.nameless.push(node),
                    }
                }
                continue;
            }
            match label::place(&n.name, &own, &pins, port.map(|p| p.at), frame, &taken) {
                Some(found) => {
                    taken.areas.push(found.room);
                    self.sheet.nodes[node].names.push(found);
                }
                None => self.sheet.nameless.push(node),
            }
        }
        self.dots(&block.symbols, &wires, &ports);
        self.sheet.crossings += done.routed.crossings;
        self.sheet.bends += done.routed.bends;
        self.sheet.apart.extend(done.routed.apart);
        for wire in wires {
            self.sheet.nodes[wire.node].lines.push(wire.points);
        }
        self.sheet.symbols.extend(block.symbols);
    }

    /// Marks where three and more lines of a node meet.
    fn dots(&mut self, symbols: &[Symbol], wires: &[Wire], ports: &[Port]) {
        use std::collections::BTreeMap;
        let mut meeting: BTreeMap<(usize, Point), u32> = BTreeMap::new();
        let mut ways: BTreeMap<(usize, Point), u8> = BTreeMap::new();
        for wire in wires {
            for pair in wire.points.windows(2) {
                let (dx, dy) = ((pair[1].x - pair[0].x).signum(), (pair[1].y - pair[0].y).signum());
                for s in 0..=pair[0].way(pair[1]) / 10 {
                    let p = pair[0].by(dx * s * 10, dy * s * 10);
                    let bits = ways.entry((wire.node, p)).or_default();
                    let (ahead, back) = if dx != 0 { (1, 2) } else { (4, 8) };
                    let (ahead, back) = if dx + dy > 0 { (ahead, back) } else { (back, ahead) };
                    if p != pair[1] {
                        *bits |= ahead;
                    }
                    if p != pair[0] {
                        *bits |= back;
                    }
                }
            }
        }
        for (key, bits) in ways {
            *meeting.entry(key).or_default() += bits.count_ones();
        }
        for pin in symbols.iter().flat_map(|s| &s.pins) {
            *meeting.entry((pin.node, pin.at)).or_default() += 1;
        }
        for port in ports {
            *meeting.entry((port.node, port.at)).or_default() += 1;
        }
        for ((node, p), n) in meeting {
            if n > 2 && !self.sheet.nodes[node].dots.contains(&p) {
                self.sheet.nodes[node].dots.push(p);
            }
        }
    }

    /// Moves everything onto the sheet.
    fn close(&mut self) {
        let sheet = &mut self.sheet;
        let mut around: Option<Area> = None;
        let mut with = |a: Area| around = Some(around.map_or(a, |b: Area| b.with(a)));
        for frame in &sheet.frames {
            with(frame.area);
        }
        for symbol in &sheet.symbols {
            symbol.bodies().into_iter().for_each(&mut with);
            symbol.labels().iter().for_each(|l| with(l.room));
            symbol.pins.iter().for_each(|p| with(area(p.at, p.at)));
        }
        for node in &sheet.nodes {
            node.lines.iter().flatten().for_each(|p| with(area(*p, *p)));
            node.names.iter().for_each(|l| with(l.room));
        }
        let around = around.unwrap_or(area(at(0, 0), at(200, 60)));
        let (dx, dy) = (30 - down(around.x0), 60 - down(around.y0));
        for frame in &mut sheet.frames {
            frame.area = frame.area.by(dx, dy);
        }
        for symbol in &mut sheet.symbols {
            symbol.shift(dx, dy);
        }
        for node in &mut sheet.nodes {
            for p in node.lines.iter_mut().flatten().chain(&mut node.dots) {
                *p = p.by(dx, dy);
            }
            for name in &mut node.names {
                name.place = name.place.by(dx, dy);
                name.room = name.room.by(dx, dy);
            }
        }
        sheet.width = up(around.x1) + dx + 30;
        sheet.height = up(around.y1)
            + dy
            + 20
            + if self.circuit.notes.is_empty() { 0 } else { 10 + 16 * self.circuit.notes.len() as i32 };
    }
}

/// Lets no wire run through symbols and texts, and keeps their pins.
fn stand(raster: &mut Raster, block: &Block) {
    for symbol in &block.symbols {
        for body in symbol.bodies() {
            raster.block(body.grown(4));
        }
        for label in symbol.labels() {
            raster.block(label.room.grown(1));
        }
        if symbol.pins.len() == 2 {
            raster.lead(symbol.pins[0].at, symbol.pins[1].at);
        }
        for pin in &symbol.pins {
            raster.pin(pin.node, pin.at);
        }
    }
}

/// The room that a stage's name takes in its frame.
fn named(frame: Area, name: &str) -> Area {
    area(at(frame.x0, frame.y0), at(frame.x0 + 12 + width(name.chars().count(), 12), frame.y0 + 20))
}

/// A node's wires and pins, by what hangs together.
fn pieces(wires: &[Wire], pins: &[Point]) -> Vec<(Vec<Wire>, Vec<Point>)> {
    let on = |wire: &Wire, p: Point| {
        wire.points.windows(2).any(|w| {
            let run = area(w[0], w[1]);
            run.x0 <= p.x && p.x <= run.x1 && run.y0 <= p.y && p.y <= run.y1
        })
    };
    let mut all: Vec<(Vec<Wire>, Vec<Point>)> = Vec::new();
    let mut put = |wires: Vec<Wire>, pins: Vec<Point>| {
        let mut joined = (wires, pins);
        let mut k = 0;
        while k < all.len() {
            let (w, p) = &all[k];
            let ends = |wires: &[Wire]| wires.iter().flat_map(|w| w.points.clone()).collect::<Vec<_>>();
            let touch = joined.0.iter().any(|a| ends(w).iter().chain(p).any(|q| on(a, *q)))
                || w.iter().any(|a| ends(&joined.0).iter().chain(&joined.1).any(|q| on(a, *q)))
                || p.iter().any(|q| joined.1.contains(q));
            if touch {
                let (w, p) = all.remove(k);
                joined.0.extend(w);
                joined.1.extend(p);
            } else {
                k += 1;
            }
        }
        all.push(joined);
    };
    for pin in pins {
        put(Vec::new(), vec![*pin]);
    }
    for wire in wires {
        put(vec![wire.clone()], Vec::new());
    }
    all
}

/// A stage's wires.
fn wired(arranged: &Arranged, name: &str) -> Routed {
    let mut first: Vec<usize> = Vec::new();
    let mut best: Option<Routed> = None;
    for _ in 0..3 {
        let frame = arranged.frame;
        let mut raster = Raster::new(frame);
        // Nothing runs along the frame; it is crossed at ports only.
        for edge in [
            area(at(frame.x0, frame.y0), at(frame.x0, frame.y1)),
            area(at(frame.x1, frame.y0), at(frame.x1, frame.y1)),
            area(at(frame.x0, frame.y0), at(frame.x1, frame.y0)),
            area(at(frame.x0, frame.y1), at(frame.x1, frame.y1)),
        ] {
            raster.block(edge.grown(1));
        }
        raster.block(named(frame, name));
        stand(&mut raster, &arranged.block);
        let mut terminals: Vec<Terminal> = Vec::new();
        for symbol in &arranged.block.symbols {
            // Ground and supplies are joined by their symbols.
            terminals.extend(symbol.pins.iter().map(|p| Terminal { node: p.node, at: p.at }));
        }
        let own: Vec<usize> = arranged
            .block
            .symbols
            .iter()
            .filter(|s| matches!(s.look, Look::Ground | Look::High | Look::Low))
            .flat_map(|s| s.pins.iter().map(|p| p.node))
            .collect();
        terminals.retain(|t| !own.contains(&t.node));
        for (node, p) in arranged.left.iter().chain(&arranged.right) {
            raster.pin(*node, *p);
            terminals.push(Terminal { node: *node, at: *p });
        }
        let routed = raster.route(&arranged.block.wires, &terminals, &[], &first);
        let better = best.as_ref().is_none_or(|b| routed.apart.len() < b.apart.len());
        let apart = routed.apart.clone();
        if better {
            best = Some(routed);
        }
        if apart.is_empty() {
            break;
        }
        for node in apart {
            first.retain(|n| *n != node);
            first.insert(0, node);
        }
    }
    best.unwrap_or_default()
}
