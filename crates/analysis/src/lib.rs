//! Circuit to numbers: equations, plans, and the readings that everything visible is made of.
//!
//! The way in: [`network::Network::of`] and [`soundness::Sound::of`] for a topology, [`plan::plan`] for a question,
//! [`response::Inputs::of`] for the numbers that it needs, [`answer::answer`] for its reading. Each hangs only on what it is
//! given, so each can be kept as long as that stands. This crate never sees a text or a place in one.

pub mod answer;
pub mod build;
mod carried;
pub mod clash;
pub mod compare;
mod corner;
mod crossings;
mod extreme;
pub mod factored;
mod landmarks;
pub mod latching;
pub mod measure;
pub mod network;
mod phase;
pub mod plan;
pub mod positions;
pub mod preset;
pub mod print;
pub mod reading;
pub mod response;
pub mod seen;
mod small;
pub mod soundness;
pub mod sweep;
pub mod tolerance;
pub mod transient;
pub mod values;

pub use answer::{answer, one_ratio};
pub use factored::Factored;
pub use network::Network;
pub use pencil::meter;
pub use plan::{Plan, plan};
pub use reading::{End, Inverts, Kind, Place, Range, Reading, Status, Value};
pub use response::Inputs;
pub use soundness::{Flaw, Sound};
