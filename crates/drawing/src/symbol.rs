//! The drawing symbols (shapes after IEC 60617): where their pins are, what room they take, which lines they consist of.

use crate::geometry::{Area, Point, area, at, up};

/// Height of designators and values.
pub const TEXT: i32 = 11;
/// Height of the names of nodes, rails and ports.
pub const SMALL: i32 = 10;
/// Height of the marks inside symbols.
pub const TINY: i32 = 8;

/// The room that a text takes at most, in a common upright face; the measure is from memory of such faces and errs to the wide side.
pub fn width(chars: usize, size: i32) -> i32 {
    (chars as i32 * size * 58 + 99) / 100 + 2
}

/// A symbol's shape.
#[derive(Clone, Debug, PartialEq)]
pub enum Look {
    /// A resistor.
    Resistor,
    /// A capacitor; a polar one has its + at the first pin.
    Capacitor {
        /// It must not be reversed.
        polar: bool,
    },
    /// An inductor.
    Inductor,
    /// A variable resistor with two ends.
    Adjustable {
        /// Set with a screwdriver.
        preset: bool,
    },
    /// A switch with two ends.
    Contact {
        /// How it stands at rest.
        closed: bool,
    },
    /// A potentiometer: pins are one end, the other end, the wiper.
    Divider {
        /// Set with a screwdriver.
        preset: bool,
        /// Which of the ends is the clockwise one.
        clockwise: usize,
    },
    /// A selector: pins are the pole and the contacts.
    Selector {
        /// The positions of the contacts.
        positions: Vec<u32>,
        /// At which it is drawn.
        rest: u32,
    },
    /// An amplifier: pins are +, −, the output, and the supplies where known.
    Amplifier,
    /// A source, + first.
    Source {
        /// Of current.
        current: bool,
    },
    /// The reference node.
    Ground,
    /// A positive supply.
    High,
    /// A negative supply.
    Low,
    /// A connection to the outside.
    Terminal,
    /// A connection to another place of the sheet, by name.
    Flag {
        /// The signal leaves here.
        out: bool,
    },
}

/// Where a symbol looks: from its first pin to its second, or outwards.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// To the right.
    Right,
    /// To the left.
    Left,
    /// Downwards.
    Down,
    /// Upwards.
    Up,
}

impl Face {
    /// A place along and across the face, as a place on the sheet; across is downwards or to the right.
    fn turn(self, along: f64, across: f64) -> (f64, f64) {
        match self {
            Face::Right => (along, across),
            Face::Left => (-along, across),
            Face::Down => (across, along),
            Face::Up => (across, -along),
        }
    }
    /// The same in whole units.
    pub fn step(self, along: i32, across: i32) -> (i32, i32) {
        match self {
            Face::Right => (along, across),
            Face::Left => (-along, across),
            Face::Down => (across, along),
            Face::Up => (across, -along),
        }
    }
    /// It lies.
    pub fn level(self) -> bool {
        matches!(self, Face::Right | Face::Left)
    }
}

/// Where a part's texts stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beside {
    /// Above, in one line.
    Above,
    /// Below, in one line.
    Below,
    /// To the right, in two lines.
    Right,
    /// To the left, in two lines.
    Left,
    /// To the right of the lower half, in two lines.
    LowRight,
}

/// A pin: a node, and where.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pin {
    /// The node.
    pub node: usize,
    /// Where wires begin.
    pub at: Point,
}

/// What a symbol stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stands {
    /// A part, by its number.
    Part(usize),
    /// A source, by its number.
    Source(usize),
    /// A node: ground, a rail, a connection.
    Node(usize),
}

/// A symbol in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Symbol {
    /// Its shape.
    pub look: Look,
    /// What it stands for.
    pub of: Stands,
    /// Its first pin, or an amplifier's middle of the input side.
    pub place: Point,
    /// Where it looks.
    pub face: Face,
    /// From first to second pin.
    pub length: i32,
    /// An amplifier with + above; a potentiometer with its wiper on the other side.
    pub flip: bool,
    /// Its pins.
    pub pins: Vec<Pin>,
    /// The first text.
    pub name: String,
    /// The second text; it has no say in the room that is kept.
    pub value: String,
    /// Characters that are kept for the second text.
    pub room: usize,
    /// Where the texts stand.
    pub beside: Beside,
    /// It stands outside.
    pub external: bool,
    /// It is not fitted.
    pub unfitted: bool,
}

/// Where a text's reference lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// At its beginning.
    Start,
    /// In its middle.
    Middle,
    /// At its end.
    End,
}

/// A text in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// The text.
    pub text: String,
    /// A second text behind it in the same line, set off from it.
    pub more: String,
    /// Of its baseline.
    pub place: Point,
    /// Where the reference lies.
    pub anchor: Anchor,
    /// Its height.
    pub size: i32,
    /// The room that is kept for it.
    pub room: Area,
    /// Its class in the picture.
    pub class: &'static str,
}

/// A line of a symbol.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Straight lines.
    Line(Vec<(f64, f64)>),
    /// A lead: a straight line that is no part of the body.
    Lead(Vec<(f64, f64)>),
    /// A closed outline.
    Outline(Vec<(f64, f64)>),
    /// A filled outline.
    Solid(Vec<(f64, f64)>),
    /// A circle.
    Circle(f64, f64, f64),
    /// Half-circles one after another, from the first point to the second, this many; `true` turns them over.
    Arcs((f64, f64), (f64, f64), usize, bool),
}

impl Symbol {
    /// Moves it.
    pub fn shift(&mut self, dx: i32, dy: i32) {
        self.place = self.place.by(dx, dy);
        for pin in &mut self.pins {
            pin.at = pin.at.by(dx, dy);
        }
    }

    /// The length that a lying part needs for its texts above it.
    pub fn lying(name: &str, room: usize) -> i32 {
        up(width(name.chars().count() + 1 + room, TEXT) + 6).max(80)
    }

    fn spot(&self, along: f64, across: f64) -> (f64, f64) {
        let (dx, dy) = self.face.turn(along, across);
        (f64::from(self.place.x) + dx, f64::from(self.place.y) + dy)
    }

    fn part_of(&self, a: (i32, i32), b: (i32, i32)) -> Area {
        let (ax, ay) = self.face.step(a.0, a.1);
        let (bx, by) = self.face.step(b.0, b.1);
        area(self.place.by(ax, ay), self.place.by(bx, by))
    }

    /// The boxes of its body, its leads left out.
    pub fn bodies(&self) -> Vec<Area> {
        let c = self.length / 2;
        let p = self.place;
        match &self.look {
            Look::Resistor => vec![self.part_of((c - 18, -7), (c + 18, 7))],
            Look::Capacitor { .. } => vec![self.part_of((c - 12, -12), (c + 6, 12))],
            Look::Inductor => vec![self.part_of((c - 20, -6), (c + 20, 2))],
            Look::Adjustable { .. } => vec![self.part_of((c - 20, -12), (c + 20, 12))],
            Look::Contact { .. } => vec![self.part_of((c - 16, -12), (c + 16, 4))],
            Look::Source { .. } => vec![self.part_of((c - 14, -14), (c + 14, 14))],
            Look::Divider { .. } => {
                let side = if self.flip { -1 } else { 1 };
                vec![self.part_of((c - 18, -7), (c + 18, 7)), self.part_of((c - 4, 7 * side), (c + 4, 20 * side))]
            }
            Look::Selector { .. } => {
                let ys: Vec<i32> = self.pins.iter().map(|pin| pin.at.y).collect();
                let (top, bottom) = (ys.iter().min().copied().unwrap_or(p.y), ys.iter().max().copied().unwrap_or(p.y));
                let side = if self.face == Face::Left { -1 } else { 1 };
                vec![area(at(p.x + 8 * side, top - 7), at(p.x + 52 * side, bottom + 7))]
            }
            Look::Amplifier => {
                let mut all = vec![
                    area(p.by(10, -40), p.by(34, 40)),
                    area(p.by(34, -28), p.by(58, 28)),
                    area(p.by(58, -14), p.by(80, 14)),
                ];
                if self.pins.len() > 3 {
                    all.push(area(p.by(37, -40), p.by(43, -24)));
                    all.push(area(p.by(37, 24), p.by(43, 40)));
                }
                all
            }
            Look::Ground => vec![area(p.by(-10, 5), p.by(10, 20))],
            Look::High => vec![area(p.by(-10, -12), p.by(10, -5))],
            Look::Low => vec![area(p.by(-10, 5), p.by(10, 12))],
            Look::Terminal => vec![self.part_of((1, -5), (9, 5))],
            Look::Flag { .. } => vec![self.part_of((4, -4), (16, 4))],
        }
    }

    /// Its texts.
    pub fn labels(&self) -> Vec<Label> {
        let c = self.length / 2;
        let p = self.place;
        let one = |place: Point, anchor, chars: usize| {
            let w = width(chars, TEXT);
            let x0 = match anchor {
                Anchor::Start => place.x,
                Anchor::Middle => place.x - w / 2,
                Anchor::End => place.x - w,
            };
            let room = Area { x0, y0: place.y - 9, x1: x0 + w, y1: place.y + 3 };
            Label { text: self.name.clone(), more: self.value.clone(), place, anchor, size: TEXT, room, class: "name" }
        };
        let chars = self.name.chars().count();
        let two = |x: i32, y: i32, anchor| {
            let mut first = one(at(x, y - 2), anchor, chars.max(if self.value.is_empty() { 0 } else { self.room }));
            first.more = String::new();
            let mut second = first.clone();
            second.text = self.value.clone();
            second.class = "value";
            second.place.y += 13;
            second.room = second.room.by(0, 13);
            if self.room == 0 { vec![first] } else { vec![first, second] }
        };
        let small = |text: &str, place: Point, anchor, size: i32, class| {
            let w = width(text.chars().count(), size);
            let x0 = match anchor {
                Anchor::Start => place.x,
                Anchor::Middle => place.x - w / 2,
                Anchor::End => place.x - w,
            };
            let room = Area { x0, y0: place.y - size + 2, x1: x0 + w, y1: place.y + 2 };
            Label { text: text.into(), more: String::new(), place, anchor, size, room, class }
        };
        let (mx, my) = self.face.step(c, 0);
        let middle = p.by(mx, my);
        let clear = if matches!(self.look, Look::Source { .. }) { 19 } else { 15 };
        let around = |beside| match beside {
            Beside::Above => vec![one(middle.by(0, -17), Anchor::Middle, chars + 1 + self.room)],
            Beside::Below => vec![one(middle.by(0, 25), Anchor::Middle, chars + 1 + self.room)],
            Beside::Right => two(middle.x + clear, middle.y, Anchor::Start),
            Beside::Left => two(middle.x - clear, middle.y, Anchor::End),
            Beside::LowRight => two(middle.x + 12, middle.y + 27, Anchor::Start),
        };
        match &self.look {
            Look::Divider { clockwise, .. } => {
                let mut all = around(self.beside);
                let along = if *clockwise == 0 { 7 } else { self.length - 7 };
                let side = if self.flip { 1 } else { -1 };
                let (dx, dy) = self.face.step(along, 9 * side);
                let (anchor, dy) = match (self.face.level(), side) {
                    (true, s) => (Anchor::Middle, if s < 0 { dy + 2 } else { dy + 5 }),
                    (false, s) => (if s < 0 { Anchor::End } else { Anchor::Start }, dy + 3),
                };
                let dx = if self.face.level() { dx } else { dx - 5 * side };
                all.push(small("cw", p.by(dx, dy), anchor, TINY, "mark"));
                all
            }
            Look::Selector { positions, .. } => {
                let top = self.pins.iter().map(|pin| pin.at.y).min().unwrap_or(p.y);
                let side = if self.face == Face::Left { -1 } else { 1 };
                let mut all = vec![one(at(p.x + 30 * side, top - 12), Anchor::Middle, chars)];
                all[0].more = String::new();
                for (pin, n) in self.pins[1..].iter().zip(positions) {
                    let anchor = if side > 0 { Anchor::Start } else { Anchor::End };
                    all.push(small(&n.to_string(), pin.at.by(2 * side, -3), anchor, TINY, "mark"));
                }
                all
            }
            Look::Amplifier => {
                let mut all = vec![small(&self.name, p.by(42, 4), Anchor::Middle, TEXT, "name")];
                // The type stands on the side on which nothing feeds back, clear of the supply.
                let below = if self.pins.len() > 3 { 67 } else { 44 };
                let at_line = |n: i32| if self.flip { -below - 2 - 12 * n } else { below + 8 + 12 * n };
                if chars > 7 {
                    all = vec![small(&self.name, p.by(45, at_line(0)), Anchor::Middle, TEXT, "name")];
                }
                let mut kind =
                    small(&self.value, p.by(45, at_line(i32::from(chars > 7))), Anchor::Middle, SMALL, "value");
                // A type's name is no topology: another one must not move anything.
                kind.room.x0 = p.x + 45 - width(self.room, SMALL) / 2;
                kind.room.x1 = p.x + 45 + width(self.room, SMALL) / 2;
                all.push(kind);
                all
            }
            Look::Ground => Vec::new(),
            Look::High => vec![small(&self.name, p.by(0, -15), Anchor::Middle, SMALL, "node")],
            Look::Low => vec![small(&self.name, p.by(0, 22), Anchor::Middle, SMALL, "node")],
            Look::Terminal | Look::Flag { .. } => {
                let (gap, anchor) = match (&self.look, self.face) {
                    (Look::Terminal, Face::Left) => (-13, Anchor::End),
                    (Look::Terminal, _) => (13, Anchor::Start),
                    (_, Face::Left) => (-19, Anchor::End),
                    _ => (19, Anchor::Start),
                };
                vec![small(&self.name, p.by(gap, 4), anchor, SMALL, "node")]
            }
            _ => around(self.beside),
        }
    }

    /// Its lines.
    pub fn shapes(&self) -> Vec<Shape> {
        let c = f64::from(self.length) / 2.0;
        let l = f64::from(self.length);
        let (px, py) = (f64::from(self.place.x), f64::from(self.place.y));
        let line = |points: &[(f64, f64)]| Shape::Line(points.iter().map(|(u, v)| self.spot(*u, *v)).collect());
        let outline = |points: &[(f64, f64)]| Shape::Outline(points.iter().map(|(u, v)| self.spot(*u, *v)).collect());
        let solid = |points: &[(f64, f64)]| Shape::Solid(points.iter().map(|(u, v)| self.spot(*u, *v)).collect());
        let here = |points: &[(f64, f64)]| Shape::Line(points.iter().map(|(u, v)| (px + u, py + v)).collect());
        let stub = |points: &[(f64, f64)]| Shape::Lead(points.iter().map(|(u, v)| (px + u, py + v)).collect());
        let body = [(c - 18.0, -7.0), (c + 18.0, -7.0), (c + 18.0, 7.0), (c - 18.0, 7.0)];
        let lead = |a: f64, b: f64| Shape::Lead(vec![self.spot(a, 0.0), self.spot(b, 0.0)]);
        let leads = |from: f64, to: f64| vec![lead(0.0, from), lead(to, l)];
        let mut all = match &self.look {
            Look::Resistor => {
                let mut all = leads(c - 18.0, c + 18.0);
                all.push(outline(&body));
                all
            }
            Look::Capacitor { polar } => {
                let mut all = leads(c - 4.0, c + 4.0);
                all.push(line(&[(c - 4.0, -12.0), (c - 4.0, 12.0)]));
                all.push(line(&[(c + 4.0, -12.0), (c + 4.0, 12.0)]));
                if *polar {
                    all.push(line(&[(c - 12.0, 8.0), (c - 6.0, 8.0)]));
                    all.push(line(&[(c - 9.0, 5.0), (c - 9.0, 11.0)]));
                }
                all
            }
            Look::Inductor => {
                let mut all = leads(c - 20.0, c + 20.0);
                all.push(Shape::Arcs(
                    self.spot(c - 20.0, 0.0),
                    self.spot(c + 20.0, 0.0),
                    4,
                    matches!(self.face, Face::Left | Face::Down),
                ));
                all
            }
            Look::Adjustable { preset } => {
                let mut all = leads(c - 18.0, c + 18.0);
                all.push(outline(&body));
                all.push(line(&[(c - 14.0, 12.0), (c + 14.0, -12.0)]));
                if *preset {
                    all.push(line(&[(c + 10.7, -15.0), (c + 17.3, -9.0)]));
                } else {
                    all.push(solid(&[(c + 16.0, -13.0), (c + 7.8, -10.2), (c + 11.2, -6.2)]));
                }
                all
            }
            Look::Contact { closed } => {
                let mut all = leads(c - 14.0, c + 14.0);
                all.push(line(&[(c - 14.0, 0.0), if *closed { (c + 15.0, -2.0) } else { (c + 11.0, -11.0) }]));
                all
            }
            Look::Divider { preset, .. } => {
                let mut all = leads(c - 18.0, c + 18.0);
                all.push(outline(&body));
                let side = if self.flip { -1.0 } else { 1.0 };
                all.push(Shape::Lead(vec![self.spot(c, 30.0 * side), self.spot(c, 15.0 * side)]));
                all.push(line(&[(c, 15.0 * side), (c, 8.0 * side)]));
                if *preset {
                    all.push(line(&[(c - 5.0, 9.0 * side), (c + 5.0, 9.0 * side)]));
                } else {
                    all.push(solid(&[(c, 7.5 * side), (c - 3.5, 15.0 * side), (c + 3.5, 15.0 * side)]));
                }
                all
            }
            Look::Selector { positions, rest } => {
                let side = if self.face == Face::Left { -1.0 } else { 1.0 };
                let mut all = vec![stub(&[(0.0, 0.0), (10.0 * side, 0.0)]), Shape::Circle(px + 12.0 * side, py, 2.0)];
                let mut arm = (44.0 * side, -10.0);
                for (pin, n) in self.pins[1..].iter().zip(positions) {
                    let (x, y) = (f64::from(pin.at.x), f64::from(pin.at.y));
                    all.push(Shape::Lead(vec![(x, y), (x - 10.0 * side, y)]));
                    all.push(Shape::Circle(x - 12.0 * side, y, 2.0));
                    if n == rest {
                        arm = (46.0 * side, y - py);
                    }
                }
                all.push(here(&[(13.5 * side, 0.0), arm]));
                all
            }
            Look::Amplifier => {
                let up = if self.flip { -1.0 } else { 1.0 };
                let mut all = vec![
                    Shape::Outline(vec![(px + 10.0, py - 40.0), (px + 80.0, py), (px + 10.0, py + 40.0)]),
                    stub(&[(0.0, -20.0), (10.0, -20.0)]),
                    stub(&[(0.0, 20.0), (10.0, 20.0)]),
                    stub(&[(80.0, 0.0), (90.0, 0.0)]),
                    here(&[(14.0, -20.0 * up), (21.0, -20.0 * up)]),
                    here(&[(14.0, 20.0 * up), (21.0, 20.0 * up)]),
                    here(&[(17.5, 20.0 * up - 3.5), (17.5, 20.0 * up + 3.5)]),
                ];
                if self.pins.len() > 3 {
                    all.push(stub(&[(40.0, -22.9), (40.0, -40.0)]));
                    all.push(stub(&[(40.0, 22.9), (40.0, 40.0)]));
                }
                all
            }
            Look::Source { current } => {
                let (cx, cy) = self.spot(c, 0.0);
                let mut all = leads(c - 14.0, c + 14.0);
                all.push(Shape::Circle(cx, cy, 14.0));
                if *current {
                    all.push(line(&[(c + 8.0, 0.0), (c - 5.0, 0.0)]));
                    all.push(solid(&[(c - 9.0, 0.0), (c - 1.0, -3.5), (c - 1.0, 3.5)]));
                } else {
                    // One period of a sine, by eight straight pieces.
                    let wave = (0..=16).map(|i| {
                        let t = f64::from(i) / 16.0;
                        (cx - 8.0 + 16.0 * t, cy - 5.0 * (t * std::f64::consts::TAU).sin())
                    });
                    all.push(Shape::Line(
                        wave.map(|(x, y)| ((x * 10.0).round() / 10.0, (y * 10.0).round() / 10.0)).collect(),
                    ));
                }
                all
            }
            Look::Ground => vec![
                stub(&[(0.0, 0.0), (0.0, 10.0)]),
                here(&[(-10.0, 10.0), (10.0, 10.0)]),
                here(&[(-6.5, 14.5), (6.5, 14.5)]),
                here(&[(-3.0, 19.0), (3.0, 19.0)]),
            ],
            Look::High => vec![stub(&[(0.0, 0.0), (0.0, -10.0)]), here(&[(-9.0, -10.0), (9.0, -10.0)])],
            Look::Low => vec![stub(&[(0.0, 0.0), (0.0, 10.0)]), here(&[(-9.0, 10.0), (9.0, 10.0)])],
            Look::Terminal => {
                let (x, y) = self.spot(4.0, 0.0);
                vec![Shape::Circle(x, y, 4.0)]
            }
            Look::Flag { out } => {
                // The head points the way of the signal.
                let (tip, tail) = if *out { (16.0, 7.0) } else { (7.0, 16.0) };
                vec![lead(0.0, 7.0), solid(&[(tip, 0.0), (tail, -4.0), (tail, 4.0)])]
            }
        };
        if self.unfitted {
            all.push(line(&[(c - 12.0, -11.0), (c + 12.0, 11.0)]));
            all.push(line(&[(c - 12.0, 11.0), (c + 12.0, -11.0)]));
        }
        all
    }
}
