//! Trees to a named circuit: nodes, parts, stages, controls, data sheets; its structural faults.
//!
//! The way in is [`piece::read`] for each entry, then [`assemble::assemble`] for a file. What comes out, [`circuit::Circuit`],
//! knows no text: the crates above compute with it, and [`assemble::Places`] tells those who must point at a line.

mod argued;
pub mod assemble;
pub mod assumption;
pub mod attribute;
mod blocks;
pub mod circuit;
mod copies;
pub mod curves;
pub mod datum;
pub mod decibels;
mod design;
pub mod device;
pub mod element;
mod env;
pub mod expr;
mod in_stage;
mod lets;
pub mod library;
pub mod limit;
mod off;
pub mod piece;
mod placed;
pub mod query;
pub mod resolve;
mod rested;
mod rules;
mod sheets;
mod standing;
mod supply;
pub mod taken;
mod worth;

pub use assemble::{Assembled, File, FileBlock, Finding, Included, Place, Places, assemble};
pub use assumption::{Allowed, Assumption, Neglect, allowed, assumption};
pub use circuit::*;
pub use limit::{LimitPiece, RequirePiece};
pub use piece::{Piece, PieceKind, Weight};
pub use query::{Measure, Point, Quantity, Query, Weighting, When};
pub use resolve::Refusal;
pub use standing::Standing;

pub use notation::Name;
