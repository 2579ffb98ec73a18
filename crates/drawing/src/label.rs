//! The names of nodes beside their wires, where nothing else stands.

use crate::block::Wire;
use crate::geometry::{Area, Point, area, at};
use crate::symbol::{Anchor, Label, SMALL, width};

/// What a name must keep clear of.
#[derive(Debug, Default)]
pub struct Taken {
    /// Bodies and texts.
    pub areas: Vec<Area>,
    /// Wires and leads.
    pub lines: Vec<(Point, Point)>,
}

impl Taken {
    fn free(&self, room: Area) -> bool {
        !self.areas.iter().any(|a| a.grown(1).meets(room))
            && !self.lines.iter().any(|(p, q)| area(*p, *q).grown(1).meets(room))
    }
}

/// A name at a place, if the place is free.
fn named(text: &str, place: Point, anchor: Anchor) -> Label {
    let w = width(text.chars().count(), SMALL);
    let x0 = match anchor {
        Anchor::Start => place.x,
        Anchor::Middle => place.x - w / 2,
        Anchor::End => place.x - w,
    };
    let room = Area { x0, y0: place.y - 8, x1: x0 + w, y1: place.y + 2 };
    Label { text: text.into(), more: String::new(), place, anchor, size: SMALL, room, class: "node" }
}

/// Finds a place for a node's name beside its wires or pins, within an area; `near`: as near to it as can be.
pub fn place(
    text: &str,
    wires: &[Wire],
    pins: &[Point],
    near: Option<Point>,
    within: Area,
    taken: &Taken,
) -> Option<Label> {
    let mut ways: Vec<(i32, Label)> = Vec::new();
    let w = width(text.chars().count(), SMALL);
    for wire in wires {
        for pair in wire.points.windows(2) {
            let span = area(pair[0], pair[1]);
            if span.y0 == span.y1 {
                let y = span.y0;
                let long = span.x1 - span.x0;
                let short = if long < w { 12 } else { 0 };
                let mut x = span.x0;
                while x <= span.x1 {
                    for (anchor, from) in [(Anchor::Start, x + 3), (Anchor::Middle, x), (Anchor::End, x - 3)] {
                        ways.push((short, named(text, at(from, y - 4), anchor)));
                        ways.push((short + 4, named(text, at(from, y + 11), anchor)));
                    }
                    x += 10;
                }
            } else {
                let mut y = span.y0;
                while y <= span.y1 {
                    ways.push((16, named(text, at(span.x0 + 4, y + 4), Anchor::Start)));
                    ways.push((18, named(text, at(span.x0 - 4, y + 4), Anchor::End)));
                    y += 10;
                }
            }
        }
    }
    for pin in pins {
        for (rank, dx, dy, anchor) in [
            (8, 3, -4, Anchor::Start),
            (8, -3, -4, Anchor::End),
            (9, 0, -4, Anchor::Middle),
            (10, 3, 11, Anchor::Start),
            (10, -3, 11, Anchor::End),
            (11, 0, 11, Anchor::Middle),
            (20, 6, 4, Anchor::Start),
            (20, -6, 4, Anchor::End),
            (40, 0, -14, Anchor::Middle),
            (41, 0, -28, Anchor::Middle),
            (42, 0, 20, Anchor::Middle),
        ] {
            ways.push((rank, named(text, pin.by(dx, dy), anchor)));
        }
    }
    if let Some(near) = near {
        for (rank, label) in &mut ways {
            let c = at((label.room.x0 + label.room.x1) / 2, (label.room.y0 + label.room.y1) / 2);
            *rank += c.way(near);
        }
    }
    ways.sort_by_key(|(rank, label)| (*rank, label.room.y0, label.room.x0));
    // What is far from all of these places is not asked again for each.
    let reach = ways.iter().map(|(_, l)| l.room).reduce(Area::with);
    let close = |a: Area| reach.is_some_and(|r| r.grown(4).meets(a.grown(2)));
    let taken = Taken {
        areas: taken.areas.iter().copied().filter(|a| close(*a)).collect(),
        lines: taken.lines.iter().copied().filter(|(p, q)| close(area(*p, *q))).collect(),
    };
    let inside = |room: Area| room.x0 > within.x0 && room.x1 < within.x1 && room.y0 > within.y0 && room.y1 < within.y1;
    ways.into_iter().map(|(_, label)| label).find(|label| inside(label.room) && taken.free(label.room))
}
