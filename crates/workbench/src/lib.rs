//! One incremental database over the crates below; hints, hovers, problems and symbols as plain data.
//!
//! This crate knows no protocol and no editor: places are byte offsets into the file's text, labels are text.

pub mod plain;

pub use plain::*;
