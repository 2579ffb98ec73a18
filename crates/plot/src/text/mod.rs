//! A plot in characters, for a terminal or a hover: so many columns and rows, no colour.

mod dots;

use quantity::Style;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::clip::Rect;
use crate::data::{Dash, Forbidden, Plot, Side};
use crate::extent;
use crate::line::{Frame, height};
use crate::ruler::{Ruler, Tick};
use dots::Dots;

/// What a terminal can show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Glyphs {
    /// Braille patterns: eight dots a character.
    #[default]
    Braille,
    /// Quarter blocks: four dots a character.
    Blocks,
    /// ASCII alone: two places a character.
    Ascii,
}

impl Glyphs {
    fn style(self) -> Style {
        if self == Glyphs::Ascii { Style::ASCII } else { Style::default() }
    }

    /// The left edge without and with a figure, the right edge likewise, the foot, the foot at a figure, and the corner.
    fn frame(self) -> [char; 7] {
        if self == Glyphs::Ascii {
            ['|', '+', '|', '+', '-', '+', '+']
        } else {
            ['│', '┤', '│', '├', '─', '┬', '└']
        }
    }

    fn dot(self) -> char {
        if self == Glyphs::Ascii { 'o' } else { '●' }
    }

    fn hatch(self) -> char {
        if self == Glyphs::Ascii { '/' } else { '╱' }
    }

    fn limit(self) -> char {
        if self == Glyphs::Ascii { '=' } else { '━' }
    }
}

/// Draws a plot in exactly so many columns and rows (24 × 5 at least), each line ended.
pub fn text(plot: &Plot, columns: usize, rows: usize, glyphs: Glyphs) -> String {
    Screen::new(plot, columns.clamp(24, 1000), rows.clamp(5, 500), glyphs).drawn()
}

/// What the width of a text is in a terminal; control characters have none, and are not shown.
fn wide(text: &str) -> usize {
    UnicodeWidthStr::width(text)
}

/// What can be shown of a text in so many columns.
fn fitting(text: &str, most: usize, glyphs: Glyphs) -> String {
    let plain: String = text.chars().filter(|c| !c.is_control()).map(|c| ascii(c, glyphs)).collect();
    if wide(&plain) <= most {
        return plain;
    }
    let (mut out, mut used) = (String::new(), 0);
    for c in plain.chars() {
        let w = c.width().unwrap_or(0);
        if used + w + 1 > most {
            break;
        }
        out.push(c);
        used += w;
    }
    if most > 0 {
        out.push(if glyphs == Glyphs::Ascii { '~' } else { '…' });
    }
    out
}

/// A character as the terminal has it.
fn ascii(c: char, glyphs: Glyphs) -> char {
    match c {
        _ if glyphs != Glyphs::Ascii || c.is_ascii() => c,
        '−' | '–' => '-',
        'µ' | 'μ' => 'u',
        '×' => 'x',
        _ => '?',
    }
}

/// A character of the picture; the second cell of a wide one is empty.
#[derive(Clone, Copy, PartialEq)]
enum Cell {
    Free,
    Char(char),
    Behind,
}

struct Screen<'a> {
    plot: &'a Plot,
    columns: usize,
    rows: usize,
    glyphs: Glyphs,
    /// The field of dots: its left column, its upper row, its size in characters.
    left: usize,
    top: usize,
    w: usize,
    h: usize,
    frame: Frame,
    cells: Vec<Cell>,
    /// Names stand behind the right edge.
    behind: bool,
}

impl<'a> Screen<'a> {
    fn new(plot: &'a Plot, columns: usize, rows: usize, glyphs: Glyphs) -> Screen<'a> {
        let style = glyphs.style();
        // A hover has its words beside the picture; a terminal's picture has its title over it.
        let titled = rows >= 14 && !plot.title.is_empty();
        let top = usize::from(titled);
        let named = !plot.x.names.is_empty();
        let foot = 2 + usize::from(named && rows >= 12);
        let h = rows - top - foot;
        let ticks = (h / 2 + 1).clamp(2, 8);
        let x = Ruler::of(&plot.x, extent::along(plot), ((columns - 10) / 10).max(2), false, style);
        let over = (x.low, x.high);
        let upright = |side| Ruler::of(plot.axis(side), extent::upwards(plot, side, over), ticks, true, style);
        let y = upright(Side::Left);
        let right = plot.right.as_ref().map(|_| upright(Side::Right));
        let widest = |r: &Ruler| r.ticks.iter().map(|t| wide(&with_unit(r, t, style))).max().unwrap_or(0);
        let left = widest(&y).min(columns / 3) + 1;
        let margin = match &right {
            Some(r) => widest(r).min(columns / 4) + 2,
            None => 0,
        };
        let (across, down) = glyphs.fine();
        let rect = |w: usize| Rect { x: 0.0, y: 0.0, w: (w * across) as f64 - 1.0, h: (h * down) as f64 - 1.0 };
        let w = columns - left - margin;
        let mut screen = Screen {
            plot,
            columns,
            rows,
            glyphs,
            left,
            top,
            w,
            h,
            frame: Frame { x, y, right, rect: rect(w) },
            cells: vec![Cell::Free; columns * rows],
            behind: false,
        };
        if screen.ends().is_some() {
            let names = plot.curves.iter().map(|c| wide(&c.name)).max().unwrap_or(0);
            screen.behind = true;
            screen.w = (columns - left).saturating_sub(names + 1).max(columns / 2);
            screen.frame.rect = rect(screen.w);
        }
        screen
    }

    /// The character row and the height at which a curve meets the right edge.
    fn end(&self, curve: usize) -> Option<(usize, f64)> {
        let c = &self.plot.curves[curve];
        let runs = self.frame.runs(&c.points, c.side, 1.0);
        let (x, y) = *runs.last()?.last()?;
        let (_, down) = self.glyphs.fine();
        (self.frame.rect.right() - x < 1.0).then_some((((y + 0.5) as usize / down).min(self.h - 1), y))
    }

    /// The rows of names behind the right edge; none where a curve ends elsewhere, or where a name would stand more than a row from its end.
    fn ends(&self) -> Option<Vec<(usize, usize)>> {
        let carriers = (0..self.plot.curves.len()).filter(|i| !self.plot.curves[*i].name.is_empty());
        if self.frame.right.is_some() {
            return None;
        }
        let mut ends: Vec<(usize, usize, f64)> = carriers
            .map(|i| {
                let (row, y) = self.end(i)?;
                Some((i, row, y))
            })
            .collect::<Option<_>>()?;
        ends.sort_by(|a, b| a.2.total_cmp(&b.2));
        // Curves that come together at their end are told apart elsewhere.
        let (_, down) = self.glyphs.fine();
        if ends.windows(2).any(|p| p[1].2 - p[0].2 < 0.4 * down as f64) {
            return None;
        }
        let mut rows: Vec<usize> = ends.iter().map(|e| e.1).collect();
        for i in (0..rows.len().saturating_sub(1)).rev() {
            rows[i] = rows[i].min(rows[i + 1].checked_sub(1)?);
        }
        for i in 1..rows.len() {
            rows[i] = rows[i].max(rows[i - 1] + 1);
        }
        let near = rows.iter().zip(&ends).all(|(row, end)| row.abs_diff(end.1) <= 1 && *row < self.h);
        (near && !ends.is_empty()).then(|| ends.iter().zip(rows).map(|(e, row)| (e.0, row)).collect())
    }

    fn drawn(mut self) -> String {
        self.edges();
        let mut dots = Dots::new(self.w, self.h, self.glyphs);
        for band in &self.plot.bands {
            for edge in [1, 2] {
                let points: Vec<(f64, f64)> =
                    band.points.iter().map(|p| (p.0, if edge == 1 { p.1 } else { p.2 })).collect();
                for run in self.frame.runs(&points, band.side, 1.0) {
                    dots.line(&run, (1, 3));
                }
            }
        }
        let mut lines = Vec::new();
        for c in &self.plot.curves {
            let dash = match c.dash {
                Dash::Solid => (1, 1),
                Dash::Dashed => (2, 4),
                Dash::Dotted => (1, 3),
            };
            let runs = self.frame.runs(&c.points, c.side, 1.0);
            for run in &runs {
                // A dot lies in the middle of its place.
                let run: Vec<(f64, f64)> = run.iter().map(|p| (p.0 + 0.5, p.1 + 0.5)).collect();
                dots.line(&run, dash);
            }
            lines.push(runs);
        }
        let drawn = |column: usize, row: usize| dots.glyph(column, row);
        for row in 0..self.h {
            for column in 0..self.w {
                if let Some(c) = drawn(column, row) {
                    self.put(self.left + column, self.top + row, c);
                }
            }
        }
        self.places();
        self.names(&lines);
        self.limits();
        self.crossings();
        self.written()
    }

    fn put(&mut self, column: usize, row: usize, c: char) {
        if column < self.columns && row < self.rows {
            self.cells[row * self.columns + column] = Cell::Char(c);
        }
    }

    fn write(&mut self, column: usize, row: usize, text: &str) {
        let mut at = column;
        for c in text.chars() {
            let w = c.width().unwrap_or(0);
            if w == 0 || at + w > self.columns {
                continue;
            }
            self.put(at, row, c);
            if w == 2 {
                self.cells[row * self.columns + at + 1] = Cell::Behind;
            }
            at += w;
        }
    }

    /// Whether a text fits on free cells of the field.
    fn free(&self, column: isize, row: isize, length: usize) -> bool {
        if column < self.left as isize || row < self.top as isize || row >= (self.top + self.h) as isize {
            return false;
        }
        let (column, row) = (column as usize, row as usize);
        column + length <= self.left + self.w
            && self.cells[row * self.columns + column..row * self.columns + column + length]
                .iter()
                .all(|c| *c == Cell::Free)
    }

    /// The first of some places at which a text fits.
    fn settle(&mut self, text: &str, places: impl Iterator<Item = (isize, isize)>) -> bool {
        let length = wide(text);
        let found = places.into_iter().find(|(c, r)| self.free(*c, *r, length));
        if let Some((column, row)) = found {
            self.write(column as usize, row as usize, text);
        }
        found.is_some()
    }

    /// The cell of a place on the sheet.
    fn cell(&self, x: f64, y: f64, side: Side) -> Option<(usize, usize)> {
        if !(self.frame.x.holds(x) && self.frame.axis(side).holds(y)) {
            return None;
        }
        let (across, down) = self.glyphs.fine();
        let column = ((self.frame.at_x(x) + 0.5).max(0.0) as usize / across).min(self.w - 1);
        let row = ((self.frame.at_y(y, side) + 0.5).max(0.0) as usize / down).min(self.h - 1);
        Some((self.left + column, self.top + row))
    }

    /// The axes with their figures.
    fn edges(&mut self) {
        let [plain, tick, plain_right, tick_right, foot, foot_tick, corner] = self.glyphs.frame();
        if self.top > 0 {
            let title = fitting(&self.plot.title, self.columns, self.glyphs);
            self.write(0, 0, &title);
        }
        let style = self.glyphs.style();
        for row in 0..self.h {
            self.put(self.left - 1, self.top + row, plain);
            if self.frame.right.is_some() {
                self.put(self.left + self.w, self.top + row, plain_right);
            }
        }
        for side in [Side::Left, Side::Right] {
            let Some(ruler) = (if side == Side::Left { Some(self.frame.y.clone()) } else { self.frame.right.clone() })
            else {
                continue;
            };
            let mut used: Vec<usize> = Vec::new();
            for tick_at in ruler.ticks.iter().rev().filter(|t| ruler.holds(t.at)) {
                let Some((_, row)) = self.cell(self.frame.x.low, tick_at.at, side) else { continue };
                if used.contains(&row) {
                    continue;
                }
                used.push(row);
                let label = with_unit(&ruler, tick_at, style);
                if side == Side::Left {
                    let label = fitting(&label, self.left - 1, self.glyphs);
                    self.write(self.left - 1 - wide(&label), row, &label);
                    self.put(self.left - 1, row, tick);
                } else {
                    self.put(self.left + self.w, row, tick_right);
                    let label = fitting(&label, self.columns - self.left - self.w - 1, self.glyphs);
                    self.write(self.left + self.w + 1, row, &label);
                }
            }
        }
        let base = self.top + self.h;
        self.put(self.left - 1, base, corner);
        for column in 0..self.w {
            self.put(self.left + column, base, foot);
        }
        if self.frame.right.is_some() {
            self.put(self.left + self.w, base, if self.glyphs == Glyphs::Ascii { '+' } else { '┘' });
        }
        // What is counted along the sheet stands first, where its unit alone does not tell.
        let title = self.frame.x.title.clone();
        let mut used: Vec<(usize, usize, usize)> = Vec::new();
        let told = title.is_empty() || self.frame.x.unit == quantity::Unit::Hertz;
        if !told {
            let title = fitting(&title, self.left, self.glyphs);
            used.push((base + 1, 0, wide(&title)));
            self.write(0, base + 1, &title);
        }
        let ruler = self.frame.x.clone();
        let mut order: Vec<usize> = (0..ruler.ticks.len()).filter(|i| ruler.holds(ruler.ticks[*i].at)).collect();
        order.sort_by_key(|i| ruler.ticks[*i].rank);
        let two = self.rows - base > 2;
        for i in order {
            let t = &ruler.ticks[i];
            let Some((column, _)) = self.cell(t.at, self.frame.y.low, Side::Left) else { continue };
            let label = fitting(&t.text, self.columns / 3, self.glyphs);
            let length = wide(&label);
            let start = column.saturating_sub(length / 2).min(self.columns - length);
            let rows = if two { vec![base + 1, base + 2] } else { vec![base + 1] };
            let clear =
                |row: usize| used.iter().all(|(r, from, to)| *r != row || start > *to || start + length < *from);
            if let Some(row) = rows.into_iter().find(|r| clear(*r)) {
                used.push((row, start, start + length));
                self.write(start, row, &label);
                self.put(column, base, foot_tick);
            }
        }
    }

    /// Marks and single points with their words.
    fn places(&mut self) {
        let marks = self.plot.marks.iter().map(|m| (m.x, m.y, m.side, &m.text));
        let dots = self.plot.dots.iter().map(|d| (d.x, d.y, d.side, &d.text));
        let all: Vec<_> =
            marks.chain(dots).filter_map(|(x, y, side, text)| Some((self.cell(x, y, side)?, text))).collect();
        for ((column, row), _) in &all {
            self.put(*column, *row, self.glyphs.dot());
        }
        for ((column, row), text) in all.into_iter().filter(|(_, t)| !t.is_empty()) {
            let text = fitting(text, self.w / 2, self.glyphs);
            let (c, r, n) = (column as isize, row as isize, wide(&text) as isize);
            let near = [
                (c + 2, r),
                (c - n - 1, r),
                (c + 1, r + 1),
                (c - n, r + 1),
                (c + 1, r - 1),
                (c - n, r - 1),
                (c - n / 2, r + 1),
                (c - n / 2, r - 1),
                (c + 1, r + 2),
                (c - n, r + 2),
                (c - n / 2, r + 2),
                (c - n / 2, r - 2),
            ];
            self.settle(&text, near.into_iter());
        }
    }

    fn names(&mut self, lines: &[Vec<Vec<(f64, f64)>>]) {
        let carriers: Vec<usize> = (0..lines.len()).filter(|i| !self.plot.curves[*i].name.is_empty()).collect();
        if self.behind {
            for (i, row) in self.ends().unwrap_or_default() {
                let start = self.left + self.w + 1;
                let name = fitting(&self.plot.curves[i].name, self.columns.saturating_sub(start), self.glyphs);
                self.write(start, self.top + row, &name);
            }
            return;
        }
        let (across, down) = self.glyphs.fine();
        for i in carriers {
            let name = fitting(&self.plot.curves[i].name, self.w / 2, self.glyphs);
            let n = wide(&name) as isize;
            let mut places = Vec::new();
            for column in (0..self.w).rev() {
                let x = (column * across) as f64 + 0.5;
                let Some(y) = height(&lines[i], x) else { continue };
                let row = ((y + 0.5).max(0.0) as usize / down).min(self.h - 1) as isize + self.top as isize;
                let others = (0..lines.len()).filter(|j| *j != i).filter_map(|j| height(&lines[j], x));
                let room = others.map(|o| (o - y).abs()).fold(f64::INFINITY, f64::min) / down as f64;
                let column = (column + self.left) as isize;
                let off_middle = (column - self.left as isize - (self.w as isize * 2) / 3).unsigned_abs();
                for (k, (c, r)) in
                    [(column - n / 2, row - 1), (column - n / 2, row + 1), (column + 2, row), (column - n - 1, row)]
                        .into_iter()
                        .enumerate()
                {
                    let crowded = ((2.0 - room.min(2.0)) * 100.0) as usize;
                    places.push((crowded + 2 * k + off_middle, (c, r)));
                }
            }
            places.sort_by_key(|p| p.0);
            self.settle(&name, places.into_iter().map(|p| p.1));
        }
    }

    /// Limits: a line, and a row of hatching on the forbidden side.
    fn limits(&mut self) {
        for limit in &self.plot.limits {
            let (x, side) = (&self.frame.x, limit.side);
            if limit.over.1 < x.low || limit.over.0 > x.high {
                continue;
            }
            let (from, to) = (limit.over.0.clamp(x.low, x.high), limit.over.1.clamp(x.low, x.high));
            let (Some((from, row)), Some((to, _))) = (self.cell(from, limit.at, side), self.cell(to, limit.at, side))
            else {
                continue;
            };
            let (from, to) = if to < from + 2 { (from.saturating_sub(1).max(self.left), to + 1) } else { (from, to) };
            let beyond = if limit.forbidden == Forbidden::Below { row as isize + 1 } else { row as isize - 1 };
            for column in from..=to.min(self.left + self.w - 1) {
                for (row, c) in [(row as isize, self.glyphs.limit()), (beyond, self.glyphs.hatch())] {
                    if self.free(column as isize, row, 1) {
                        self.put(column, row as usize, c);
                    }
                }
            }
        }
    }

    /// Where the lines of two figures cross, a faint dot.
    fn crossings(&mut self) {
        let dot = if self.glyphs == Glyphs::Ascii { return } else { '·' };
        let (x, y) = (self.frame.x.clone(), self.frame.y.clone());
        for across in x.lines.iter().filter(|v| x.holds(**v)) {
            for up in y.lines.iter().filter(|v| y.holds(**v)) {
                if let Some((column, row)) = self.cell(*across, *up, Side::Left)
                    && self.free(column as isize, row as isize, 1)
                {
                    self.put(column, row, dot);
                }
            }
        }
    }

    fn written(self) -> String {
        let mut out = String::new();
        for row in self.cells.chunks(self.columns) {
            for cell in row {
                match cell {
                    Cell::Free => out.push(' '),
                    Cell::Char(c) => out.push(*c),
                    Cell::Behind => {}
                }
            }
            out.push('\n');
        }
        out
    }
}

/// A figure at the side; the highest has the unit where the others have none.
fn with_unit(ruler: &Ruler, tick: &Tick, style: Style) -> String {
    let highest = ruler.ticks.iter().rev().find(|t| ruler.holds(t.at));
    if crate::figure::unit_in_title(ruler.unit) && highest.is_some_and(|h| h.at == tick.at) {
        format!("{} {}", tick.text, ruler.unit.symbol(style.ascii))
    } else {
        tick.text.clone()
    }
}
