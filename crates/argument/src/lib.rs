//! The designer's argument, decided: what the design must do, against what the exact circuit does.
//!
//! This crate takes readings and limits and gives verdicts. It sees no text and no places, and computes no response of its own.

pub mod assume;
pub mod formula;
pub mod require;
pub mod rules;
pub mod slip;
pub mod tolerance;

pub use require::{Decision, Verdict, decide};
pub use tolerance::{Over, over};
