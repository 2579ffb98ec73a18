//! A field of dots in characters.

use super::Glyphs;

/// Dots, as many across and down in each character as its kind has.
pub(crate) struct Dots {
    glyphs: Glyphs,
    columns: usize,
    rows: usize,
    /// By character: its dots, row by row from the left upper corner.
    cells: Vec<u8>,
}

impl Glyphs {
    /// Dots across and down in one character.
    pub(crate) fn fine(self) -> (usize, usize) {
        match self {
            Glyphs::Braille => (2, 4),
            Glyphs::Blocks => (2, 2),
            Glyphs::Ascii => (1, 2),
        }
    }
}

impl Dots {
    pub fn new(columns: usize, rows: usize, glyphs: Glyphs) -> Dots {
        Dots { glyphs, columns, rows, cells: vec![0; columns * rows] }
    }

    /// The field's size in dots.
    pub fn size(&self) -> (usize, usize) {
        let (across, down) = self.glyphs.fine();
        (self.columns * across, self.rows * down)
    }

    pub fn set(&mut self, x: usize, y: usize) {
        let (across, down) = self.glyphs.fine();
        let (column, row) = (x / across, y / down);
        if column < self.columns && row < self.rows {
            self.cells[row * self.columns + column] |= 1 << ((y % down) * across + x % across);
        }
    }

    /// A broken line; of what is drawn in dashes, so many dots of so many.
    pub fn line(&mut self, points: &[(f64, f64)], (drawn, of): (usize, usize)) {
        let mut passed = 0;
        let mut last = None;
        for pair in points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let steps = (b.0 - a.0).abs().max((b.1 - a.1).abs()).ceil().clamp(1.0, 1e5) as usize;
            for k in 0..=steps {
                let t = k as f64 / steps as f64;
                let at = (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
                let (wide, high) = self.size();
                let at = ((at.0.max(0.0) as usize).min(wide - 1), (at.1.max(0.0) as usize).min(high - 1));
                if last != Some(at) {
                    last = Some(at);
                    if passed % of < drawn {
                        self.set(at.0, at.1);
                    }
                    passed += 1;
                }
            }
        }
    }

    /// The character of a cell, if any dot is in it.
    pub fn glyph(&self, column: usize, row: usize) -> Option<char> {
        let cell = self.cells[row * self.columns + column];
        if cell == 0 {
            return None;
        }
        Some(match self.glyphs {
            Glyphs::Braille => {
                // Unicode numbers the dots down the left column, then the right one, and those of the fourth row last.
                const BITS: [u32; 8] = [0, 3, 1, 4, 2, 5, 6, 7];
                let bits = (0..8).filter(|i| cell & (1 << i) != 0).map(|i| 1 << BITS[i]).sum::<u32>();
                char::from_u32(0x2800 + bits).unwrap_or(' ')
            }
            // Left upper, right upper, left lower, right lower.
            Glyphs::Blocks => {
                [' ', '▘', '▝', '▀', '▖', '▌', '▞', '▛', '▗', '▚', '▐', '▜', '▄', '▙', '▟', '█'][usize::from(cell & 15)]
            }
            Glyphs::Ascii => [' ', '\'', '.', ':'][usize::from(cell & 3)],
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dots_stand_where_unicode_has_them() {
        let mut dots = Dots::new(1, 1, Glyphs::Braille);
        assert_eq!(dots.glyph(0, 0), None);
        dots.set(0, 0);
        assert_eq!(dots.glyph(0, 0), Some('⠁'));
        dots.set(1, 3);
        assert_eq!(dots.glyph(0, 0), Some('⢁'));
        for (x, y) in [(0, 1), (0, 2), (0, 3), (1, 0), (1, 1), (1, 2)] {
            dots.set(x, y);
        }
        assert_eq!(dots.glyph(0, 0), Some('⣿'));
        let mut blocks = Dots::new(1, 1, Glyphs::Blocks);
        blocks.set(0, 1);
        assert_eq!(blocks.glyph(0, 0), Some('▖'));
        blocks.set(1, 0);
        assert_eq!(blocks.glyph(0, 0), Some('▞'));
    }
}
