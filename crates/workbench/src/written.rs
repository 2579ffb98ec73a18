//! Where a part's value is written.

use std::ops::Range;

use notation::tree::{Amount, Attribute, Element, EntryTree, Step};
use quantity::Series;

use crate::database::{Desk, Document, Read, layout, reads};

/// A figure behind a part's name.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Written {
    /// Its place in the file.
    pub range: Range<usize>,
    /// The series that the entry asks for.
    pub series: Option<Series>,
}

/// Where the figure of a part stands; `None` where its value is an expression, or where another file or a copy gives it.
pub(crate) fn written(db: &dyn Desk, document: Document, part: &str) -> Option<Written> {
    let (layout, reads) = (layout(db, document), reads(db, document));
    for (block, read) in layout.blocks.iter().zip(reads.iter()) {
        for (lines, read) in block.entries.iter().zip(&read.entries) {
            let Read::Entry(entry, _) = &**read else { continue };
            let found = elements(&entry.tree).find(|e| &*e.part.text == part);
            if let Some(element) = found {
                let Some(Amount::Figure(figure)) = &element.value else { return None };
                let at = |x: u32| lines.range.start + x as usize;
                let series = element.attributes.iter().find_map(|a| match a {
                    Attribute::Series(word) => Series::read(&word.text),
                    _ => None,
                });
                return Some(Written { range: at(figure.span.start)..at(figure.span.end), series });
            }
        }
    }
    None
}

fn elements(tree: &EntryTree) -> Box<dyn Iterator<Item = &Element> + '_> {
    match tree {
        EntryTree::Path(path) => Box::new(path.steps.iter().flat_map(|step| match step {
            Step::Parts(parts) => parts.iter().flatten().collect::<Vec<_>>(),
            _ => Vec::new(),
        })),
        EntryTree::Device(device) => Box::new(std::iter::once(&device.element)),
        _ => Box::new(std::iter::empty()),
    }
}
