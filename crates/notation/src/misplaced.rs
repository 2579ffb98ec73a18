//! Entries that stand in a block of the wrong kind, as when a heading was deleted.

use std::ops::Range;

use crate::read::read_entry;
use crate::tree::{BlockKind, EntryTree, Grade};
use crate::word::heading_word;

/// A run of entries that cannot be read where they stand and are whole in a block of another kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Misplaced {
    /// Which entries of the block.
    pub entries: Range<usize>,
    /// The kind of block that they would be whole in.
    pub kind: BlockKind,
}

impl Misplaced {
    /// What to say about the run, once, in place of what each of its entries says.
    pub fn message(&self) -> String {
        let word = heading_word(self.kind);
        format!("These {} lines are `{word}` entries: is a heading missing?", self.entries.len())
    }

    /// A heading that makes them whole, as the fix puts it above them. Where a heading has a name, so has this one.
    pub fn heading(&self) -> &'static str {
        match self.kind {
            BlockKind::Stage => "stage unnamed",
            BlockKind::Datasheet => "datasheet unnamed: opamp",
            kind => heading_word(kind),
        }
    }
}

/// Runs of two entries or more of a block that are torn or open in it and all whole in a block of one other kind. Of each
/// entry it takes the text and the grade that it has where it stands.
///
/// ```
/// use notation::tree::BlockKind;
/// use notation::{misplaced, read_entry};
///
/// let entries = ["gain in -> out = 1 + R1/R2", "gain in -> out at 1 kHz < 3 dB", "noise of out < 10 uV"];
/// let graded = entries.map(|text| (text, read_entry(BlockKind::Formula, text).grade));
/// let found = misplaced(BlockKind::Formula, &graded);
/// assert_eq!((found[0].entries.clone(), found[0].kind), (1..3, BlockKind::Require));
/// assert_eq!(found[0].message(), "These 2 lines are `require` entries: is a heading missing?");
/// ```
pub fn misplaced(kind: BlockKind, entries: &[(&str, Grade)]) -> Vec<Misplaced> {
    use BlockKind::{Assume, Datasheet, Design, Formula, Let, Require, Stage};
    // The narrow grammars first: nearly any words and figures are a data sheet's line.
    const KINDS: [BlockKind; 7] = [Require, Formula, Stage, Assume, Design, Let, Datasheet];
    let mut out = Vec::new();
    let mut at = 0;
    while at < entries.len() {
        if entries[at].1 == Grade::Whole {
            at += 1;
            continue;
        }
        let fits = |other, e: &&(&str, Grade)| e.1 != Grade::Whole && whole(other, e.0);
        let length = |other| entries[at..].iter().take_while(|e| fits(other, e)).count();
        let others = KINDS.into_iter().filter(|k| *k != kind).map(|k| (k, length(k)));
        // Of equally long runs the first kind.
        let best = others.fold(None, |best: Option<(BlockKind, usize)>, next| match best {
            Some(b) if b.1 >= next.1 => Some(b),
            _ => Some(next),
        });
        let Some((kind, count)) = best.filter(|(_, count)| *count >= 2) else {
            at += 1;
            continue;
        };
        out.push(Misplaced { entries: at..at + count, kind });
        at += count;
    }
    out
}

/// Whether a text is a whole entry of a block of that kind.
fn whole(kind: BlockKind, text: &str) -> bool {
    let entry = read_entry(kind, text);
    entry.grade == Grade::Whole
        && match &entry.tree {
            // A name and a figure are half a path; what a data sheet tells has two words at least.
            EntryTree::Datum(datum) => datum.words.len() > 1,
            _ => true,
        }
}
