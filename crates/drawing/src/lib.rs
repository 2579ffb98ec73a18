//! A circuit's parts and nodes to placed symbols and routed wires, and those to an SVG picture.
//!
//! This crate knows no text of a design and no values: [`model::Circuit`] comes in as plain data, and where everything stands hangs on
//! the topology and the names alone, so that a change of a value changes texts and nothing else.
//!
//! ```text
//! circuit → groups (series, parallel) → a stage's trees and columns → blocks of symbols → routed wires → rows of stages → sheet → SVG
//! ```

mod block;
mod geometry;
mod grow;
mod label;
mod model;
mod reduce;
mod route;
mod shapes;
mod sheet;
mod stage;
mod svg;
mod symbol;

pub use geometry::{Area, Point};
pub use model::{Circuit, Kind, Node, Part, Role, Source, Stage};
pub use sheet::{Frame, NodeWires, Sheet, draw};
pub use svg::{svg, svg_on_white};
pub use symbol::{Anchor, Label, Look, Shape, Stands, Symbol};
