//! Texts to begin with, and what is made of them.

use std::path::Path;

use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};

use crate::pieces::PIECES;
use crate::targets::LONGEST;

/// Texts to begin with, and the drawing of new ones out of them: the same from the same seed.
pub struct Seeds {
    texts: Vec<Vec<u8>>,
    draw: SmallRng,
}

/// The corpus of this folder: what is made of it stays the same while the rest of the workspace changes.
pub fn corpus_seeds() -> Vec<Vec<u8>> {
    texts(&["corpus"])
}

/// The corpus and the designs of the workspace, whole and broken.
pub fn workspace_seeds() -> Vec<Vec<u8>> {
    texts(&[
        "corpus",
        "../../examples",
        "../outside",
        "../messages",
        "../editors/highlighting",
        "../../crates/notation/tests/ok",
        "../../crates/notation/tests/err",
        "../../crates/notation/tests/laid/before",
        "../../crates/circuit/library",
    ])
}

/// The texts of folders.
fn texts(folders: &[&str]) -> Vec<Vec<u8>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found: Vec<_> = folders
        .iter()
        .flat_map(|folder| std::fs::read_dir(root.join(folder)).unwrap_or_else(|e| panic!("{folder}: {e}")))
        .map(|file| file.expect("a file of the folder").path())
        .filter(|path| path.extension().is_some_and(|e| e == "stage" || e == "txt"))
        .collect();
    found.sort();
    found.iter().map(|path| std::fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))).collect()
}

impl Seeds {
    /// Draws out of texts, of which there is one at least.
    pub fn new(texts: Vec<Vec<u8>>, seed: u64) -> Seeds {
        assert!(!texts.is_empty());
        Seeds { texts, draw: SmallRng::seed_from_u64(seed) }
    }

    fn below(&mut self, end: usize) -> usize {
        self.draw.random_range(0..end.max(1))
    }

    /// A stretch of a text. Often some lines of it, since the sense of a text is in its lines.
    fn stretch(&mut self) -> Vec<u8> {
        let text = self.below(self.texts.len());
        let length = self.texts[text].len();
        let (at, size) = (self.below(length + 1), [1, 4, 20, 80, 300, 1200][self.below(6)]);
        let lines = self.below(3) > 0;
        let text = &self.texts[text];
        let mut range = at..(at + size).min(length);
        if lines {
            range.start = text[..range.start].iter().rposition(|b| *b == b'\n').map_or(0, |n| n + 1);
            range.end = text[range.end..].iter().position(|b| *b == b'\n').map_or(length, |n| range.end + n + 1);
        }
        text[range].to_vec()
    }

    /// A new input.
    pub fn input(&mut self) -> Vec<u8> {
        let mut out = match self.below(8) {
            0 => Vec::new(),
            1 | 2 => {
                let text = self.below(self.texts.len());
                self.texts[text].clone()
            }
            _ => self.stretch(),
        };
        // The first bytes tell some targets what to do.
        for _ in 0..self.below(40) {
            let byte = self.draw.random();
            out.insert(0, byte);
            if self.below(3) == 0 {
                break;
            }
        }
        for _ in 0..1 + self.below(12) {
            self.change(&mut out);
        }
        out.truncate(LONGEST);
        out
    }

    fn change(&mut self, out: &mut Vec<u8>) {
        let at = self.below(out.len() + 1);
        let end = (at + [1, 1, 2, 3, 8, 30, 200][self.below(7)]).min(out.len());
        match self.below(11) {
            0..=3 => {
                let piece = PIECES[self.below(PIECES.len())].as_bytes();
                out.splice(at..at, piece.iter().copied());
            }
            4 => {
                let piece = PIECES[self.below(PIECES.len())].as_bytes();
                out.splice(at..end, piece.iter().copied());
            }
            5 => drop(out.drain(at..end)),
            6 => {
                let again = out[at..end].to_vec();
                out.splice(at..at, again);
            }
            7 => {
                let other = self.stretch();
                out.splice(at..end, other);
            }
            8 => out.truncate(at),
            9 => {
                let byte = self.draw.random();
                if let Some(place) = out.get_mut(at) {
                    *place = byte;
                }
            }
            _ => {
                let again = out[at..end].repeat(1 + self.below(30));
                out.splice(at..at, again);
            }
        }
    }
}
