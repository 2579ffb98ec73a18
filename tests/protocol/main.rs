//! The language server as a client sees it. One file a concern; the workbench is a toy (`toy.rs`), so that every answer is plain to see.

mod actions;
mod builds;
mod bursts;
mod closer;
mod completion;
mod definition;
mod diagnostics;
mod enclosing;
mod fence;
mod folders;
mod format;
mod framework;
mod hints;
mod includes;
mod lenses;
mod lifecycle;
mod names;
mod positions;
mod pull;
mod real;
mod requests;
mod reviewed;
mod sessions;
mod settings;
mod steady;
mod survey;
mod tokens;
mod toy;
mod typing;

use stagewright_tests::client;

/// A document that no disk holds.
pub const DOCUMENT: &str = "untitled:owl-box";
