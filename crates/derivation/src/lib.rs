//! The hand working of a small network of two-terminal parts and ideal amplifiers, line by line.
//!
//! The way in is [`network::Network`] and [`working`]; what comes out, [`document::Working`], is plain data that [`mod@print`] puts into text,
//! TeX or the notation's own expressions. The algebra is exact: what does not fit is refused as past a hand derivation. Nothing here
//! knows a file, a unit or a reading.

pub mod document;
pub mod equal;
pub mod expr;
pub mod immittance;
mod kinds;
pub mod network;
mod outcome;
pub mod page;
pub mod poly;
pub mod print;
pub mod ratio;
mod redrawn;
pub mod shape;
pub mod special;
mod steps;
pub mod system;
mod unknowns;
pub mod written;

pub use document::{Differential, Figures, Line, Outcome, Page, Piece, Response, Section, Working, said};
pub use expr::Expr;
pub use immittance::Kind;
pub use network::{Amplifier, Network, Part};
pub use redrawn::listed;
pub use steps::working;
pub use system::Refusal;
