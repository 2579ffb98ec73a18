//! A plot as one SVG text: no script, no font, nothing from outside.

mod colour;
mod names;
mod paper;
#[cfg(test)]
mod tests;
pub(crate) mod width;

use std::fmt::Write;

use quantity::Style;

use crate::clip::{Rect, segment};
use crate::cover::Cover;
use crate::data::{Dash, Forbidden, Plot, Side};
use crate::extent;
use crate::line::Frame;
use crate::ruler::{Ruler, Tick};
use colour::{Colours, Role};
use names::Named;
use paper::{Anchor, Paper, escape, path, place};
use width::width;

/// Size of words on the sheet.
const SIZE: f64 = 12.0;
/// Height of a line of them, from above the letters to below.
const TALL: f64 = 13.0;
/// Size of the figures at ticks and of notes.
const SMALL: f64 = 11.0;
/// Size of the title.
const LARGE: f64 = 14.0;

/// How large a sheet is, and for which ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// In pixels, 240 at least.
    pub width: f64,
    /// In pixels, 160 at least.
    pub height: f64,
    /// Its colours.
    pub theme: Theme,
}

impl Default for Sheet {
    fn default() -> Sheet {
        Sheet { width: 640.0, height: 400.0, theme: Theme::Reader }
    }
}

/// Colours of a sheet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Theme {
    /// As the reader has set it, by CSS variables; light in print.
    #[default]
    Reader,
    /// On white.
    Light,
    /// On a dark ground.
    Dark,
}

/// Draws a plot.
pub fn svg(plot: &Plot, sheet: &Sheet) -> String {
    Drawing::new(plot, sheet).drawn()
}

/// A line of words with its place.
struct Word {
    rect: Rect,
    text: String,
}

/// A plot with its axes and where they lie.
struct Drawing<'a> {
    plot: &'a Plot,
    width: f64,
    height: f64,
    frame: Frame,
    /// The title in lines, and the notes.
    title: Vec<String>,
    notes: Vec<String>,
    /// Names stand behind the right edge.
    behind: bool,
    /// Names of places along the sheet stand in two rows.
    staggered: bool,
    cover: Cover,
    paper: Paper,
}

/// Words in lines that are not wider than this; a word that is stands alone and is cut.
fn wrapped(text: &str, size: f64, most: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let mut word = word.to_string();
        while width(&word, size) > most && word.chars().count() > 2 {
            word.pop();
            if width(&word, size) <= most - size {
                word.push('…');
                break;
            }
        }
        match lines.last_mut() {
            Some(line) if width(&format!("{line} {word}"), size) <= most => *line = format!("{line} {word}"),
            _ => lines.push(word),
        }
    }
    lines
}

/// What fits, with a mark where something was cut.
fn cut(text: &str, size: f64, most: f64) -> String {
    if width(text, size) <= most {
        return text.to_string();
    }
    let mut text = text.to_string();
    while !text.is_empty() && width(&text, size) + size > most {
        text.pop();
    }
    text + "…"
}

/// No axes are narrower than this, in pixels.
const NARROW: f64 = 40.0;

impl<'a> Drawing<'a> {
    fn new(plot: &'a Plot, sheet: &Sheet) -> Drawing<'a> {
        let (wide, high) = (sheet.width.clamp(240.0, 1e4).round(), sheet.height.clamp(160.0, 1e4).round());
        let style = Style::default();
        // Bold letters are wider.
        let title = wrapped(&plot.title, 1.12 * LARGE, wide - 24.0);
        let title: Vec<String> = title.into_iter().take(2).collect();
        let notes: Vec<String> = plot.notes.iter().flat_map(|n| wrapped(n, SMALL, wide - 24.0)).take(4).collect();
        let x = Ruler::of(&plot.x, extent::along(plot), ((wide - 120.0) / 62.0) as usize, false, style);
        let rows = (((high - 110.0) / 44.0) as usize).clamp(3, 9);
        let upright = |side: Side| {
            let over = (x.low, x.high);
            Ruler::of(plot.axis(side), extent::upwards(plot, side, over), rows, false, style)
        };
        let y = upright(Side::Left);
        let right = plot.right.as_ref().map(|_| upright(Side::Right));
        let widest = |r: &Ruler| r.ticks.iter().map(|t| width(&t.text, SMALL)).fold(0.0, f64::max);
        let left = (widest(&y) + 20.0).round();
        let top = 14.0 + 18.0 * title.len() as f64 + 16.0;
        let last = x.ticks.last().map_or(0.0, |t| 0.5 * width(&t.text, SMALL));
        let first = x.ticks.first().map_or(0.0, |t| 0.5 * width(&t.text, SMALL));
        let left = left.max(if x.named { first + 6.0 } else { 0.0 });
        let mut margin = (12.0 + last).max(right.as_ref().map_or(16.0, |r| widest(r) + 20.0));
        // What stands at both edges may need more room than was asked for.
        let wide = wide.max((left + margin + NARROW).ceil());
        // Names of places that do not fit beside each other stand in two rows.
        let inner = wide - left - margin;
        let close = |p: &[Tick]| {
            let gap = (x.share(p[1].at) - x.share(p[0].at)).abs() * inner;
            0.5 * (width(&p[0].text, SMALL) + width(&p[1].text, SMALL)) + 8.0 > gap
        };
        let staggered = x.named && x.ticks.windows(2).any(close);
        let foot = 24.0
            + if staggered { 16.0 } else { 0.0 }
            + if x.title.is_empty() { 0.0 } else { 16.0 }
            + 14.0 * notes.len() as f64
            + 6.0;
        let rect = |margin: f64| Rect {
            x: left,
            y: top,
            w: (wide - left - margin).max(NARROW),
            h: (high - top - foot).max(40.0),
        };
        let mut frame = Frame { x, y, right, rect: rect(margin) };
        let behind = names::behind(plot, &frame, &frame.curves(plot, 0.5));
        if behind {
            let longest = plot.curves.iter().map(|c| width(&c.name, SIZE)).fold(0.0, f64::max);
            margin = margin.max(longest + names::BEHIND + 8.0).min(0.45 * wide);
            frame.rect = rect(margin);
        }
        let paper = Paper::new(Colours::new(sheet.theme));
        let cover = Cover::new(wide, high, 3.0);
        Drawing { plot, width: wide, height: high, frame, title, notes, behind, staggered, cover, paper }
    }

    fn drawn(mut self) -> String {
        let curves = self.frame.curves(self.plot, 0.5);
        for run in curves.iter().flatten() {
            self.cover.line(run);
        }
        self.ground();
        self.bands();
        self.limits();
        self.axes();
        let words = self.curves(&curves);
        self.dots();
        self.words(words);
        self.written()
    }

    /// The lines at round figures.
    fn ground(&mut self) {
        let rect = self.frame.rect;
        let upright = |all: &[f64], ruler: &Ruler, frame: &Frame| {
            let inside = all.iter().filter(|v| (1e-6..=1.0 - 1e-6).contains(&ruler.share(**v)));
            inside.fold(String::new(), |mut text, v| {
                let x = place(frame.at_x(*v));
                let _ = write!(text, "M{x} {}V{}", place(rect.y), place(rect.bottom()));
                text
            })
        };
        let level = |all: &[f64], ruler: &Ruler, frame: &Frame| {
            let inside = all.iter().filter(|v| (1e-6..=1.0 - 1e-6).contains(&ruler.share(**v)));
            inside.fold(String::new(), |mut text, v| {
                let y = place(frame.at_y(*v, Side::Left));
                let _ = write!(text, "M{} {y}H{}", place(rect.x), place(rect.right()));
                text
            })
        };
        let f = &self.frame;
        let minor = upright(&f.x.minor, &f.x, f) + &level(&f.y.minor, &f.y, f);
        let major = upright(&f.x.lines, &f.x, f) + &level(&f.y.lines, &f.y, f);
        self.paper.open("grid");
        if !minor.is_empty() {
            self.paper.line(&minor, Role::Minor, 1.0, Dash::Solid);
        }
        if !major.is_empty() {
            self.paper.line(&major, Role::Grid, 1.0, Dash::Solid);
        }
        self.paper.close();
    }

    fn bands(&mut self) {
        if self.plot.bands.is_empty() {
            return;
        }
        self.paper.open("bands");
        let rect = self.frame.rect;
        for band in &self.plot.bands {
            let within = |x: f64, y: f64| {
                let y = self.frame.at_y(y, band.side).clamp(rect.y, rect.bottom());
                (self.frame.at_x(x).clamp(rect.x, rect.right()), y)
            };
            let sound = || band.points.iter().filter(|p| !p.1.is_nan() && !p.2.is_nan());
            let upper: Vec<(f64, f64)> = sound().map(|p| within(p.0, p.2)).collect();
            let lower: Vec<(f64, f64)> = sound().map(|p| within(p.0, p.1)).collect();
            let mut outline = crate::thin::thin(&upper, 0.5);
            let mut back = crate::thin::thin(&lower, 0.5);
            back.reverse();
            outline.extend(back);
            if outline.len() > 3 {
                self.paper.fill(&path(&outline), Role::Hue(band.hue as u8 % 6, 50), 0.22);
            }
        }
        self.paper.close();
    }

    /// The ends of a limit's line on the sheet.
    fn limit_line(&self, limit: &crate::data::Limit) -> Option<[(f64, f64); 2]> {
        let (mut from, mut to) = (self.frame.at_x(limit.over.0), self.frame.at_x(limit.over.1));
        if to - from < 24.0 {
            let middle = 0.5 * (from + to);
            (from, to) = (middle - 12.0, middle + 12.0);
        }
        let y = self.frame.at_y(limit.at, limit.side);
        segment((from, y), (to, y), &self.frame.rect)
    }

    fn limits(&mut self) {
        if self.plot.limits.is_empty() {
            return;
        }
        self.paper.open("limits");
        let rect = self.frame.rect;
        for limit in &self.plot.limits {
            let Some([a, b]) = self.limit_line(limit) else { continue };
            let down = if limit.forbidden == Forbidden::Below { 8.0 } else { -8.0 };
            let mut hatch = String::new();
            let count = ((b.0 - a.0) / 6.0).floor() as usize;
            for k in 0..=count {
                let x = a.0 + 6.0 * k as f64;
                if let Some([p, q]) = segment((x, a.1), (x - 6.0, a.1 + down), &rect) {
                    hatch.push_str(&path(&[p, q]));
                }
            }
            self.paper.line(&hatch, Role::Ink, 0.7, Dash::Solid);
            self.paper.line(&path(&[a, b]), Role::Ink, 1.6, Dash::Solid);
            self.cover.line(&[a, b]);
            self.cover.line(&[(a.0, a.1 + down), (b.0, b.1 + down)]);
        }
        self.paper.close();
    }

    fn axes(&mut self) {
        let rect = self.frame.rect;
        self.paper.open("axes");
        let outline =
            [(rect.x, rect.y), (rect.right(), rect.y), (rect.right(), rect.bottom()), (rect.x, rect.bottom())];
        let frame = format!("{}Z", path(&outline));
        self.paper.line(&frame, Role::Ink, 1.0, Dash::Solid);
        let mut strokes = String::new();
        let mut words: Vec<(Word, Anchor)> = Vec::new();
        // The figures at the sides: from the foot up, those that do not meet.
        for side in [Side::Left, Side::Right] {
            if side == Side::Right && self.frame.right.is_none() {
                continue;
            }
            let ruler = self.frame.axis(side).clone();
            for tick in ruler.ticks.iter().filter(|t| ruler.holds(t.at)) {
                let y = self.frame.at_y(tick.at, side);
                let w = width(&tick.text, SMALL);
                let (x, anchor, from, to) = match side {
                    Side::Left => (rect.x - 7.0 - w, Anchor::End, rect.x - 4.0, rect.x),
                    Side::Right => (rect.right() + 7.0, Anchor::Start, rect.right(), rect.right() + 4.0),
                };
                strokes.push_str(&path(&[(from, y), (to, y)]));
                let at = Rect { x, y: y - 0.5 * TALL, w, h: TALL };
                if self.cover.free(&at) {
                    self.cover.take(at);
                    words.push((Word { rect: at, text: tick.text.clone() }, anchor));
                }
            }
            let room = if self.frame.right.is_some() { 0.5 * (self.width - 36.0) } else { self.width - 24.0 };
            let title = cut(&ruler.title, SIZE, room);
            let w = width(&title, SIZE);
            let at = match side {
                Side::Left => Rect { x: 12.0, y: rect.y - 21.0, w, h: TALL },
                Side::Right => Rect { x: self.width - 12.0 - w, y: rect.y - 21.0, w, h: TALL },
            };
            if !title.is_empty() {
                self.cover.take(at);
                words.push((Word { rect: at, text: title }, Anchor::Start));
            }
        }
        // The figures below, by their rank.
        let ruler = self.frame.x.clone();
        let mut order: Vec<usize> = (0..ruler.ticks.len()).filter(|i| ruler.holds(ruler.ticks[*i].at)).collect();
        order.sort_by_key(|i| ruler.ticks[*i].rank);
        let row = |i: usize| if self.staggered { (i % 2) as f64 * 16.0 } else { 0.0 };
        for i in order {
            let tick = &ruler.ticks[i];
            let x = self.frame.at_x(tick.at);
            strokes.push_str(&path(&[(x, rect.bottom()), (x, rect.bottom() + 4.0)]));
            let w = width(&tick.text, SMALL);
            let at = Rect { x: x - 0.5 * w, y: rect.bottom() + 8.0 + row(i), w, h: TALL };
            let spaced = Rect { x: at.x - 3.0, w: at.w + 6.0, ..at };
            if self.cover.free(&spaced) && at.right() <= self.width - 1.0 && at.x >= 1.0 {
                self.cover.take(at);
                words.push((Word { rect: at, text: tick.text.clone() }, Anchor::Middle));
            }
        }
        let mut foot = rect.bottom() + 24.0 + if self.staggered { 16.0 } else { 0.0 };
        if !ruler.title.is_empty() {
            let title = cut(&ruler.title, SIZE, rect.w);
            let w = width(&title, SIZE);
            words.push((
                Word { rect: Rect { x: rect.x + 0.5 * (rect.w - w), y: foot, w, h: TALL }, text: title },
                Anchor::Middle,
            ));
            foot += 16.0;
        }
        self.paper.line(&strokes, Role::Ink, 1.0, Dash::Solid);
        for (word, anchor) in words {
            let size = if word.text == self.frame.x.title || word.rect.y < rect.y - 15.0 { SIZE } else { SMALL };
            self.word(&word, size, anchor);
        }
        for (i, note) in self.notes.clone().iter().enumerate() {
            self.paper.text((12.0, foot + 12.0 + 14.0 * i as f64), note, SMALL, Anchor::Start, false);
        }
        self.paper.close();
    }

    fn word(&mut self, word: &Word, size: f64, anchor: Anchor) {
        let x = match anchor {
            Anchor::Start => word.rect.x,
            Anchor::Middle => word.rect.x + 0.5 * word.rect.w,
            Anchor::End => word.rect.right(),
        };
        self.paper.text((x, word.rect.y + 0.8 * TALL), &word.text, size, anchor, false);
    }

    fn role(&self, curve: usize) -> Role {
        let c = &self.plot.curves[curve];
        let shade = (c.shade.unwrap_or(0.5).clamp(0.0, 1.0) * 100.0).round() as u8;
        Role::Hue(c.hue as u8 % 6, shade)
    }

    /// Draws the curves and answers where words stand: names, marks, limits.
    fn curves(&mut self, curves: &[names::Runs]) -> Vec<Word> {
        self.paper.open("curves");
        for (i, all) in curves.iter().enumerate() {
            let paths: String = all.iter().map(|run| path(run)).collect();
            if !paths.is_empty() {
                self.paper.line(&paths, self.role(i), 2.0, self.plot.curves[i].dash);
            }
            if self.plot.curves[i].dotted {
                let c = &self.plot.curves[i];
                let seen = c.points.iter().filter(|p| p.1.is_finite() && self.frame.axis(c.side).holds(p.1));
                let all: Vec<(f64, f64)> = seen
                    .filter(|p| self.frame.x.holds(p.0))
                    .map(|p| (self.frame.at_x(p.0), self.frame.at_y(p.1, c.side)))
                    .collect();
                for at in all {
                    self.paper.dot(at, 3.0, self.role(i));
                }
            }
        }
        self.paper.close();
        let mut words = Vec::new();
        let named: Vec<Named> = if self.behind {
            names::at_ends(self.plot, &self.frame, curves, &mut self.cover)
        } else {
            names::along(self.plot, &self.frame, curves, &mut self.cover)
        };
        let room = self.width - 3.0;
        for n in named {
            if let Some(lead) = n.lead {
                self.paper.line(&path(&lead), self.role(n.curve), 1.0, Dash::Solid);
            }
            let text = cut(&self.plot.curves[n.curve].name, SIZE, room - n.rect.x);
            words.push(Word { rect: n.rect, text });
        }
        words.extend(self.marks());
        words.extend(self.limit_names());
        words.extend(self.band_names());
        words
    }

    fn marks(&mut self) -> Vec<Word> {
        let rect = self.frame.rect;
        let mut words = Vec::new();
        let mut dots = Vec::new();
        let seen: Vec<_> = self
            .plot
            .marks
            .iter()
            .filter(|m| self.frame.x.holds(m.x) && self.frame.axis(m.side).holds(m.y))
            .map(|m| ((self.frame.at_x(m.x), self.frame.at_y(m.y, m.side)), m.text.clone()))
            .collect();
        if seen.is_empty() {
            return words;
        }
        self.paper.open("marks");
        for ((x, y), _) in &seen {
            let down = [(*x, *y), (*x, rect.bottom())];
            self.paper.line(&path(&down), Role::Ink, 0.8, Dash::Dotted);
            self.cover.line(&down);
            dots.push((*x, *y));
        }
        for (x, y) in dots {
            self.paper.dot((x, y), 3.2, Role::Ink);
        }
        self.paper.close();
        for ((x, y), text) in seen.into_iter().filter(|(_, text)| !text.is_empty()) {
            let w = width(&text, SIZE);
            // Beside the thin line at the foot, then higher up, then about the dot.
            let foot = rect.bottom() - TALL - 3.0;
            let rows = (0..12).map(|k| (foot - 15.0 * f64::from(k), f64::from(k)));
            let beside = rows.flat_map(|(y, far)| [(x + 4.0, y, far), (x - 4.0 - w, y, far + 0.5)]);
            let about = [(x + 6.0, y - TALL - 4.0, 4.0), (x - 6.0 - w, y - TALL - 4.0, 4.5), (x + 6.0, y + 4.0, 5.0)];
            let all = beside.chain(about).map(|(x, y, cost)| (Rect { x, y, w, h: TALL }, cost));
            if let Some(at) = self.cover.place(&rect.wider(-1.0), all) {
                words.push(Word { rect: at, text });
            }
        }
        words
    }

    fn limit_names(&mut self) -> Vec<Word> {
        let rect = self.frame.rect;
        let mut words = Vec::new();
        for limit in self.plot.limits.iter().filter(|l| !l.name.is_empty()) {
            let Some([a, b]) = self.limit_line(limit) else { continue };
            let w = width(&limit.name, SIZE);
            let below = limit.forbidden == Forbidden::Below;
            // On the forbidden side behind the hatching, or on the other one near the line.
            let (near, far) = if below { (a.1 - TALL - 3.0, a.1 + 11.0) } else { (a.1 + 3.0, a.1 - TALL - 11.0) };
            let middle = 0.5 * (a.0 + b.0 - w);
            let columns = [middle, a.0 + 3.0, b.0 - w - 3.0, b.0 + 6.0, a.0 - w - 8.0];
            let spread =
                (0..16).map(|k| rect.x + (rect.w - w) * f64::from(k) / 15.0).filter(|x| *x >= a.0 && *x + w <= b.0);
            let rows = [(far, 0.0), (near, 2.0), (a.1 - 0.5 * TALL, 5.0)];
            let all = columns.into_iter().chain(spread).enumerate().flat_map(|(k, x)| {
                rows.into_iter().map(move |(y, cost)| (Rect { x, y, w, h: TALL }, cost + 0.1 * k as f64))
            });
            if let Some(at) = self.cover.place(&rect.wider(-1.0), all) {
                words.push(Word { rect: at, text: limit.name.clone() });
            }
        }
        words
    }

    fn band_names(&mut self) -> Vec<Word> {
        let rect = self.frame.rect;
        let mut words = Vec::new();
        for band in self.plot.bands.iter().filter(|b| !b.name.is_empty()) {
            let w = width(&band.name, SIZE);
            let near = band.points.iter().step_by((band.points.len() / 24).max(1));
            let all = near.flat_map(|(x, low, high)| {
                let (x, low, high) =
                    (self.frame.at_x(*x), self.frame.at_y(*low, band.side), self.frame.at_y(*high, band.side));
                [(x - 0.5 * w, high - TALL - 3.0, 0.0), (x - 0.5 * w, low + 3.0, 0.5)]
            });
            let all: Vec<_> = all.map(|(x, y, cost)| (Rect { x, y, w, h: TALL }, cost)).collect();
            if let Some(at) = self.cover.place(&rect.wider(-1.0), all.into_iter()) {
                words.push(Word { rect: at, text: band.name.clone() });
            }
        }
        words
    }

    fn dots(&mut self) {
        let seen: Vec<_> = self
            .plot
            .dots
            .iter()
            .filter(|d| self.frame.x.holds(d.x) && self.frame.axis(d.side).holds(d.y))
            .map(|d| ((self.frame.at_x(d.x), self.frame.at_y(d.y, d.side)), d.hue, d.text.clone()))
            .collect();
        if seen.is_empty() {
            return;
        }
        self.paper.open("points");
        for (at, hue, _) in &seen {
            self.paper.dot(*at, 3.5, Role::Hue(*hue as u8 % 6, 50));
        }
        for ((x, y), _, text) in seen.into_iter().filter(|d| !d.2.is_empty()) {
            let w = width(&text, SIZE);
            let about =
                [(6.0, -TALL - 2.0), (-6.0 - w, -TALL - 2.0), (6.0, 2.0), (-6.0 - w, 2.0), (-0.5 * w, -TALL - 6.0)];
            let all =
                about.iter().enumerate().map(|(k, (dx, dy))| (Rect { x: x + dx, y: y + dy, w, h: TALL }, k as f64));
            if let Some(rect) = self.cover.place(&self.frame.rect.wider(-1.0), all) {
                self.word(&Word { rect, text }, SIZE, Anchor::Start);
            }
        }
        self.paper.close();
    }

    fn words(&mut self, words: Vec<Word>) {
        self.paper.open("words");
        for (i, line) in self.title.clone().iter().enumerate() {
            self.paper.text((12.0, 22.0 + 18.0 * i as f64), line, LARGE, Anchor::Start, true);
        }
        for word in words {
            self.word(&word, SIZE, Anchor::Start);
        }
        self.paper.close();
    }

    /// What is to be seen, in words.
    fn said(&self) -> String {
        let style = Style::default();
        let ends = |r: &Ruler| {
            let text = |x: f64| match (r.named, crate::figure::unit_in_title(r.unit)) {
                (true, _) => String::new(),
                (_, true) => quantity::decibels(x, style).map(|t| t.replace(" dB", "")).unwrap_or_default(),
                _ => quantity::computed(x, r.unit, style).unwrap_or_default(),
            };
            match (r.title.is_empty(), r.named) {
                (_, true) => r.ticks.iter().map(|t| &*t.text).collect::<Vec<_>>().join(", "),
                (true, _) => format!("from {} to {}", text(r.low), text(r.high)),
                (false, _) => format!("{} from {} to {}", r.title, text(r.low), text(r.high)),
            }
        };
        let mut said =
            vec![format!("Along the sheet: {}", ends(&self.frame.x)), format!("upwards: {}", ends(&self.frame.y))];
        said.extend(self.frame.right.as_ref().map(|r| format!("at the right edge: {}", ends(r))));
        let list = |head: &str, all: Vec<&str>| {
            let all: Vec<&str> = all.into_iter().filter(|n| !n.is_empty()).collect();
            (!all.is_empty()).then(|| format!("{head}: {}", all.join(", ")))
        };
        said.extend(list("curves", self.plot.curves.iter().map(|c| &*c.name).collect()));
        said.extend(list("marks", self.plot.marks.iter().map(|m| &*m.text).collect()));
        said.extend(list("limits", self.plot.limits.iter().map(|l| &*l.name).collect()));
        said.join("; ") + "."
    }

    fn written(self) -> String {
        let (w, h) = (place(self.width), place(self.height));
        let title = if self.plot.title.is_empty() { "plot" } else { &self.plot.title };
        let said = self.said();
        let Drawing { mut paper, .. } = self;
        let ground = paper.colours.of(Role::Paper);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"stage-plot\" role=\"img\" aria-label=\"{}\" width=\"{w}\" height=\"{h}\" \
             viewBox=\"0 0 {w} {h}\" font-family=\"sans-serif\">\n<title>{}</title>\n<desc>{}</desc>\n{}<path d=\"M0 0H{w}V{h}H0Z\" fill=\"{ground}\"/>\n{}</svg>\n",
            escape(title),
            escape(title),
            escape(&said),
            paper.colours.style(),
            paper.body
        )
    }
}
