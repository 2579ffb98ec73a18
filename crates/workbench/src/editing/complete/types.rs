//! Amplifiers' types: the file's own data sheets, those of included files, the library's.

use std::sync::Arc;

use circuit::{FileBlock, Sheet};
use notation::tree::{BlockKind, Heading};
use quantity::{Style, Unit};

use super::basket::{stop, text};
use super::{About, Basket, CompletionKind, Scene};
use crate::database::{BlockText, Desk, Document, Read, block_reads, block_text, included, layout};

/// The sheet that a block makes, if it is a data sheet.
#[salsa::tracked(returns(clone))]
pub(crate) fn sheet_of<'db>(db: &'db dyn Desk, key: BlockText<'db>) -> Option<Arc<Sheet>> {
    let reads = block_reads(db, key);
    let Some(Read::Heading(heading)) = reads.heading.as_deref() else { return None };
    let Heading::Datasheet { name: Some(name), .. } = &heading.tree else { return None };
    let pieces = reads.entries.iter().filter_map(|r| match &**r {
        Read::Entry(_, piece) => Some(piece),
        Read::Heading(_) => None,
    });
    let block = FileBlock { kind: key.kind(db), heading: Some(heading), entries: pieces.collect() };
    Some(Arc::new(circuit::library::sheet_of(&name.text, &block)))
}

/// The data sheets of a file and of those that it includes: each with its file, and with its text from heading to last entry.
pub(crate) fn written<'db>(db: &'db dyn Desk, document: Document) -> Vec<(Option<notation::Name>, BlockText<'db>)> {
    let including = included(db, document);
    let files = including.files.iter().map(|(_, name, other)| (Some(name.clone()), *other));
    let mut found = Vec::new();
    for (file, document) in std::iter::once((None, document)).chain(files) {
        let (layout, text) = (layout(db, document), document.text(db));
        let sheets = layout.blocks.iter().filter(|b| b.kind == Some(BlockKind::Datasheet));
        found.extend(sheets.map(|b| (file.clone(), block_text(db, b, text).1)));
    }
    found
}

/// The type that the file uses most, or a usual one.
pub(crate) fn usual(scene: &Scene) -> String {
    let own: Vec<_> =
        written(scene.db, scene.document).into_iter().filter_map(|(_, key)| sheet_of(scene.db, key)).collect();
    let known = |t: &&&notation::Name| circuit::library::sheet(t).is_some() || own.iter().any(|s| s.name == ***t);
    scene.known.types().iter().find(known).map_or_else(|| "audio_dual".to_string(), ToString::to_string)
}

/// Puts all types in, those that the file uses first.
pub(crate) fn types(scene: &Scene, out: &mut Basket) {
    let used = scene.known.types();
    let (whole, [input, output]) = (scene.cursor.ends(), scene.ports());
    let mut put = |sheet: &Sheet, from: String, rank: u32| {
        let rank = used.iter().position(|t| **t == sheet.name).map_or(rank, |i| i.min(50) as u32);
        let item = out.put(rank, CompletionKind::Type, &*sheet.name);
        item.detail([from, key_data(sheet)].iter().filter(|w| !w.is_empty()).cloned().collect::<Vec<_>>().join(" · "));
        item.about = About::Sheet(sheet.name.to_string());
        if whole {
            item.insert(vec![
                text(format!("{}: + ", sheet.name)),
                stop(1, &*input),
                text(", - "),
                stop(2, "fb"),
                text(", out "),
                stop(3, &*output),
            ]);
        }
    };
    for (file, key) in written(scene.db, scene.document) {
        if let Some(sheet) = sheet_of(scene.db, key).filter(|s| &*s.name != "ideal") {
            put(&sheet, file.map_or_else(|| "this file".to_string(), |f| f.to_string()), 60);
        }
    }
    let mut names: Vec<&str> = circuit::library::names().collect();
    names.sort_unstable();
    for sheet in names.iter().filter_map(|n| circuit::library::sheet(n)) {
        put(&sheet, String::new(), 70);
    }
    put(&circuit::library::ideal(), String::new(), 80);
}

/// What a type is chosen by: bandwidth, noise, supply.
fn key_data(sheet: &Sheet) -> String {
    if sheet.ideal {
        return "lacks nothing, and has no noise, offset or limit".to_string();
    }
    let style = Style::default();
    let exact = |x: f64, unit| quantity::exact(x, unit, style);
    let bandwidth = sheet.gain_bandwidth.nominal().and_then(|x| exact(x, Unit::Hertz));
    let noise = sheet.voltage_noise.nominal().and_then(|x| exact(x, Unit::VoltPerRootHertz));
    let supply = match (sheet.supply_range.min, sheet.supply_range.max) {
        (Some(a), Some(b)) => quantity::range(a, b, Unit::Volt, style),
        _ => None,
    };
    [bandwidth, noise, supply].into_iter().flatten().collect::<Vec<_>>().join(", ")
}
