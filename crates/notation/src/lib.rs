//! Text of the stage notation to tokens and trees with places; knows no electronics.
//!
//! A file is laid out into blocks of headings and entries ([`layout::lay_out`]); each heading and each entry is then read by
//! itself ([`read_heading`], [`read_entry`]), so that a keystroke costs one line. Reading is total: whatever the text, a tree
//! comes back that holds all its names, with a grade and at most one fault.
//!
//! [`mod@format`] gives a text its canonical layout.
//!
//! Figures stay as they are written: what `4k7` means is decided elsewhere.

pub mod format;
mod grammar;
mod heading_word;
pub mod layout;
mod line;
mod line_fault;
mod misplaced;
mod names;
pub mod near;
mod part;
mod read;
mod spoil;
pub mod token;
pub mod tree;
pub mod word;

pub use layout::lay_out;
pub use line::{code_of, is_blank};
pub use misplaced::{Misplaced, misplaced};
pub use names::{Names, names_of, nodes_of};
pub use part::{device_of, has_part_shape, next_free};
pub use read::{read_entry, read_heading, read_phrase};
pub use token::tokens;
pub use word::is_reserved_name;

/// A name or another piece of text that many hold: circuit, equations and readings take a design's names over, and sharing one
/// is a counter's step where a copy would be an allocation.
pub type Name = std::sync::Arc<str>;
