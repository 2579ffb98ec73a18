//! The embedded library of data sheets, written in the notation itself.

use notation::Name;
use std::collections::HashMap;
use std::sync::{Arc, LazyLock};

use notation::tree::{BlockKind, Heading};

use crate::assemble::FileBlock;
use crate::blocks;
use crate::circuit::Sheet;
use crate::piece::{self, Piece};

/// The library's text.
pub const CLASSES: &str = include_str!("../library/classes.stage");

static SHEETS: LazyLock<HashMap<Name, Arc<Sheet>>> = LazyLock::new(|| read(CLASSES));

/// The amplifier that lacks nothing.
pub fn ideal() -> Arc<Sheet> {
    static IDEAL: LazyLock<Arc<Sheet>> =
        LazyLock::new(|| Arc::new(Sheet { name: "ideal".into(), ideal: true, ..Sheet::default() }));
    IDEAL.clone()
}

/// The sheet of that name, if the library has it.
pub fn sheet(name: &str) -> Option<Arc<Sheet>> {
    SHEETS.get(name).cloned()
}

/// The names of all sheets, in no order.
pub fn names() -> impl Iterator<Item = &'static str> {
    SHEETS.keys().map(|k| &**k)
}

fn read(text: &str) -> HashMap<Name, Arc<Sheet>> {
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
        sheets.insert(name.text.clone(), Arc::new(blocks::sheet(&name.text, &file)));
    }
    sheets
}
