//! The data sheets that a file has, its own and those that it includes.

use notation::Name;
use std::sync::Arc;

use rustc_hash::{FxHashMap as HashMap, FxHashSet};

use notation::tree::{Heading, Word};

use crate::assemble::{Assembly, File, FileBlock, Place};
use crate::blocks::include_place;
use crate::circuit::Sheet;
use crate::datum::Key;
use crate::piece::{PieceKind, Weight};

/// Gathers the file's own data sheets.
pub(crate) fn datasheets(a: &mut Assembly, file: &File) {
    for (b, block) in file.blocks.iter().enumerate() {
        let Some(Heading::Datasheet { name: Some(name), kind }) = block.heading.map(|h| &h.tree) else { continue };
        let place = Place { block: b as u32, entry: None, span: name.span };
        if let Some(kind) = kind
            && &*kind.text != "opamp"
        {
            let place = Place { span: kind.span, ..place };
            a.find(
                Weight::Error,
                place,
                "unknown-datasheet-kind",
                format!("a data sheet describes an opamp; {} is no kind that this edition knows", kind.text),
                &[&name.text],
            );
        }
        let mut sheet = sheet(&name.text, block);
        sheet.unknown = of_no_opamp(&name.text, kind.as_ref()).or(sheet.unknown);
        repeated_data(a, b as u32, &name.text, block);
        if &*name.text == "ideal" {
            a.find(
                Weight::Error,
                place,
                "ideal-redefined",
                "ideal is the amplifier that lacks nothing: give this data sheet another name".into(),
                &["ideal"],
            );
            continue;
        }
        if a.sheets.contains_key(&name.text) {
            a.find(
                Weight::Error,
                place,
                "repeated-datasheet",
                format!("there are two data sheets called {}: give one another name", name.text),
                &[&name.text],
            );
            // Neither is sure to be the one that is meant.
            sheet.unknown = Some(format!("there are two data sheets called {}", name.text).into());
            a.sheets.insert(name.text.clone(), Arc::new(sheet));
            continue;
        }
        sheet.ideal = false;
        a.sheets.insert(name.text.clone(), Arc::new(sheet));
    }
    included_sheets(a, file);
}

/// Takes the data sheets of included files over; the file's own go before them.
fn included_sheets(a: &mut Assembly, file: &File) {
    let own: FxHashSet<Name> = a.sheets.keys().cloned().collect();
    let mut from: HashMap<Name, Name> = HashMap::default();
    for included in &file.includes {
        for block in &included.blocks {
            let Some(Heading::Datasheet { name: Some(name), kind }) = block.heading.map(|h| &h.tree) else { continue };
            if &*name.text == "ideal" {
                continue;
            }
            let mut sheet = sheet(&name.text, block);
            sheet.unknown = of_no_opamp(&name.text, kind.as_ref()).or(sheet.unknown);
            let place = include_place(file, included.block);
            if own.contains(&name.text) {
                let message = format!(
                    "{} has a data sheet {}, and so has this file: amplifiers take the one of this file",
                    included.name, name.text
                );
                a.find(Weight::Warning, place, "repeated-datasheet", message, &[&name.text]);
                continue;
            }
            if let Some(first) = from.insert(name.text.clone(), included.name.clone()) {
                let message = format!(
                    "{} and {} each have a data sheet {}: which one is meant is not said",
                    first, included.name, name.text
                );
                a.find(Weight::Error, place, "repeated-datasheet", message, &[&name.text]);
                sheet.unknown = Some(format!("two included files have a data sheet {}", name.text).into());
            }
            a.sheets.insert(name.text.clone(), Arc::new(sheet));
        }
    }
}

/// Why a sheet of another kind says nothing of an amplifier: what its data are of is not known.
fn of_no_opamp(name: &str, kind: Option<&Word>) -> Option<Name> {
    kind.filter(|k| &*k.text != "opamp")
        .map(|k| format!("{name} is a data sheet of {}, which is no kind", k.text).into())
}

/// A datum that is given twice: which of the two holds is not for a tool to say.
fn repeated_data(a: &mut Assembly, b: u32, name: &str, block: &FileBlock) {
    let mut seen: HashMap<&str, u32> = HashMap::default();
    for (e, piece) in block.entries.iter().enumerate() {
        let PieceKind::Datum(d) = &piece.kind else { continue };
        if d.key == Key::Unread || seen.insert(&d.words, e as u32).is_none() {
            continue;
        }
        let place = Place { block: b, entry: Some(e as u32), span: d.span };
        let message = format!("{name} gives its {} twice: take one of the two away", d.words);
        a.find(Weight::Error, place, "repeated-datum", message, &[name]);
    }
}

/// The sheet that a block's entries make.
pub(crate) fn sheet(name: &str, block: &FileBlock) -> Sheet {
    let mut sheet = Sheet { name: name.into(), ..Sheet::default() };
    let mut given: Vec<&str> = Vec::new();
    for piece in &block.entries {
        if let PieceKind::Datum(d) = &piece.kind {
            if d.key != Key::Unread && given.contains(&&*d.words) {
                sheet.unknown.get_or_insert(format!("{name} gives its {} twice", d.words).into());
            }
            given.push(&d.words);
            sheet.take(d);
        }
    }
    sheet.complete();
    sheet
}
