//! The embedded library of data sheets, written in the notation itself.

use std::collections::HashMap;
use std::ops::Range;
use std::sync::{Arc, LazyLock};

use notation::Name;
use notation::tree::{BlockKind, Heading};

use crate::assemble::FileBlock;
use crate::circuit::Sheet;
use crate::piece::{self, Piece};
use crate::sheets;

/// A file of the library.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Volume {
    /// The file's name: `classes.stage`.
    pub file: &'static str,
    /// Its text.
    pub text: &'static str,
}

/// The library's files: plain classes, and the types that several makers sell.
pub const VOLUMES: &[Volume] = &[
    Volume { file: "classes.stage", text: include_str!("../library/classes.stage") },
    Volume { file: "industry.stage", text: include_str!("../library/industry.stage") },
];

/// Where a sheet of the library stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Origin {
    /// In which file.
    pub volume: Volume,
    /// Its heading, in bytes of the file's text.
    pub heading: Range<usize>,
    /// The name in the heading, in bytes of the file's text.
    pub name: Range<usize>,
    /// The comment lines above the heading (what the type is, and where its figures come from), in bytes of the file's text.
    pub description: Option<Range<usize>>,
}

struct Entry {
    sheet: Arc<Sheet>,
    origin: Origin,
}

static SHEETS: LazyLock<HashMap<Name, Entry>> = LazyLock::new(|| {
    let mut sheets = HashMap::new();
    for volume in VOLUMES {
        read(*volume, &mut sheets);
    }
    sheets
});

/// The amplifier that lacks nothing.
pub fn ideal() -> Arc<Sheet> {
    static IDEAL: LazyLock<Arc<Sheet>> =
        LazyLock::new(|| Arc::new(Sheet { name: "ideal".into(), ideal: true, ..Sheet::default() }));
    IDEAL.clone()
}

/// The sheet of that name, if the library has it.
pub fn sheet(name: &str) -> Option<Arc<Sheet>> {
    SHEETS.get(name).map(|e| e.sheet.clone())
}

/// The sheet that a block of a file makes, as far as its entries can be read.
pub fn sheet_of(name: &str, block: &FileBlock) -> Sheet {
    sheets::sheet(name, block)
}

/// The names of all sheets, in no order.
pub fn names() -> impl Iterator<Item = &'static str> {
    SHEETS.keys().map(|k| &**k)
}

/// Where the sheet of that name stands, for those who want to read it.
///
/// ```
/// let origin = circuit::library::origin("tl072").expect("the library has it");
/// assert_eq!(origin.volume.file, "industry.stage");
/// assert_eq!(&origin.volume.text[origin.heading], "datasheet tl072: opamp");
/// assert_eq!(circuit::library::origin("ideal"), None);
/// ```
pub fn origin(name: &str) -> Option<Origin> {
    SHEETS.get(name).map(|e| e.origin.clone())
}

fn read(volume: Volume, sheets: &mut HashMap<Name, Entry>) {
    let text = volume.text;
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
        let start = chunk.range.start;
        let origin = Origin {
            volume,
            heading: chunk.range.clone(),
            name: start + name.span.start as usize..start + name.span.end as usize,
            description: chunk.description.clone(),
        };
        sheets.insert(name.text.clone(), Entry { sheet: Arc::new(sheets::sheet(&name.text, &file)), origin });
    }
}
