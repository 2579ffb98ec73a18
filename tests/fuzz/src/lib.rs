//! Any bytes as a design: what has to hold of whatever is read, and texts to try it with.
//!
//! A target takes bytes and panics if something does not hold that has to. The targets are run by three: by `tests/smoke.rs` for a
//! moment in `cargo test`, by the program `fuzz` for as long as one likes with the stable compiler, and by `libfuzzer/` with the nightly
//! one, where what the targets reach guides what is tried.

mod edits;
mod layouts;
mod pieces;
mod run;
mod seeds;
mod targets;

// What a text says is told in one place, that the tests of the notation use, too.
#[path = "../../../crates/notation/tests/laid/mod.rs"]
mod laid;
#[path = "../../../crates/notation/tests/show/mod.rs"]
mod show;

pub use run::{Find, Tally, run};
pub use seeds::{Seeds, corpus_seeds, workspace_seeds};
pub use targets::{LONGEST, TARGETS, Target, target};
