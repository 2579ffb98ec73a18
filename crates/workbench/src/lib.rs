//! One incremental database over the crates below; hints, hovers, problems, symbols and tokens as plain data.
//!
//! This crate knows no protocol and no editor: places are byte offsets into the file's text, labels are text.

mod accept;
mod ask;
mod assumed;
mod astray;
mod at_rest;
mod bent;
mod clashes;
pub mod compared;
mod database;
mod decided;
mod definition;
mod derived;
mod desk;
mod drawn_out;
pub mod editing;
mod formulas;
mod from_included;
mod hand;
mod hints;
mod hover;
mod hover_part;
mod hover_statement;
mod hover_word;
mod latching;
mod leftmost;
mod line;
mod named_parts;
mod over;
mod over_text;
mod part_words;
mod parts_list;
mod plain;
mod plots;
mod preset;
mod problems;
mod proposals;
mod renumber;
mod review;
mod slips;
mod statement;
mod symbols;
mod tokens;
mod trial;
mod trim;
mod unfinished;
mod unstable;
mod ways;
mod written;

pub use accept::Conceded;
pub use analysis::tolerance::{Extreme, Found, Study, Weight};
pub use argument::{Over, Verdict as Held};
pub use ask::Answer;
pub use definition::{Definition, Where};
pub use derived::Derivation;
pub use desk::{Snapshot, Workbench, cancelled};
pub use editing::actions::{Action, ActionKind, Asking};
pub use editing::complete::{About, Completion, CompletionKind, Completions, Piece, Told};
pub use editing::lenses::{Lens, LensTitle, Lensed, Sheet};
pub use editing::signature::{Signature, SignaturePlace};
pub use named_parts::named_parts;
pub use over::Tolerance;
pub use plain::*;
pub use plot;
pub use plots::{Chosen, Refused};
pub use statement::{NeglectCost, Statement, Verdict};
pub use tokens::{Token, TokenKind};

pub use analysis::meter;
pub use analysis::{End, Kind, Place, Range, Reading, Status, Value};
pub use derivation::page;
pub use drawing;
pub use quantity::{Levels, Style, Unit};
pub use report;

/// Whether a problem of this name is a finding of the reviewer's rules, which are asked when there is time.
pub fn is_reviewed(id: &str) -> bool {
    argument::rules::find(id).is_some()
}

/// The names of the reviewer's rules.
pub fn reviewed_rules() -> impl Iterator<Item = &'static str> {
    argument::rules::RULES.iter().map(|r| r.id)
}

/// The files of the embedded library: name and text.
pub fn library() -> impl Iterator<Item = (&'static str, &'static str)> {
    circuit::library::VOLUMES.iter().map(|v| (v.file, v.text))
}
