//! The embedded library of data sheets, written in the notation itself.

use std::collections::HashMap;
use std::sync::LazyLock;

use notation::tree::{BlockKind, Heading};

use crate::assemble::FileBlock;
use crate::blocks;
use crate::circuit::Sheet;
use crate::piece::{self, Piece};

/// The library's text.
pub const CLASSES: &str = include_str!("../library/classes.stage");

static SHEETS: LazyLock<HashMap<Box<str>, Sheet>> = LazyLock::new(|| read(CLASSES));

/// The sheet of that name, if the library has it.
pub fn sheet(name: &str) -> Option<Sheet> {
    SHEETS.get(name).cloned()
}

/// The names of all sheets, in no order.
pub fn names() -> impl Iterator<Item = &'static str> {
    SHEETS.keys().map(|k| &**k)
}

fn read(text: &str) -> HashMap<Box<str>, Sheet> {
    let mut sheets = HashMap::new();
    for block in notation::layout::lay_out(text).blocks {
        let Some(chunk) = &block.heading else { continue };
        let heading = notation::read_heading(&text[chunk.range.clone()]);
        let Heading::Datasheet { name: Some(name), .. } = &heading.tree else { continue };
        let pieces: Vec<Piece> = block
            .entries
            .iter()
            .map(|e| piece::read(&notation::read_entry(BlockKind::Datasheet, &text[e.range.clone()])))
            .collect();
        let file = FileBlock { kind: block.kind, heading: Some(&heading), entries: pieces.iter().collect() };
        sheets.insert(name.text.clone(), blocks::sheet(&name.text, &file));
    }
    sheets
}
