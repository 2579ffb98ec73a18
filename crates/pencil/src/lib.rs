//! Linear systems (G + sC)x = b: structure, a fixed elimination order, and its replay over lanes, always checked.
//!
//! A [`Pencil`] is topology alone: rank-1 stamps whose values are parameters. [`generic_rank`] tells whether it has a
//! unique solution for generic values and names what is undetermined where it has none; [`Structure`] finds its blocks;
//! [`restrict`] and [`behind`] cut out the part that a question needs. [`Order`] chooses an elimination order once, and
//! [`Solver`] replays it at many points at once. Every answer is corrected against the stamps themselves and judged; one
//! that cannot be trusted is [`Unsure`], never a number.
//!
//! The crate knows no electronics.
//!
//! ```
//! use num_complex::Complex64;
//! use pencil::{Builder, Column, Domain, Excitation, Functional, Lane, Order, Solver, Structure, Value};
//!
//! // A given voltage behind 1 kΩ, and 100 nF from unknown 0 to ground: (g + sC) v = g·given.
//! let mut builder = Builder::new(1, 1);
//! let (r, c) = (builder.parameter(), builder.parameter());
//! let ends = [(Column::Unknown(0), 1.0), (Column::Given(0), -1.0)];
//! builder.stamp(Value::Reciprocal(r), Domain::Static, &[(0, 1.0)], &ends);
//! builder.stamp(Value::Parameter(c), Domain::Dynamic, &[(0, 1.0)], &[(Column::Unknown(0), 1.0)]);
//! let pencil = builder.finish();
//!
//! let structure = Structure::of(&pencil).expect("every unknown has its equation");
//! let values = [1e3, 100e-9];
//! let solver = Solver::new(&Order::compile(&pencil, &structure, &values));
//! let lane = Lane { s: Complex64::new(0.0, 1e4), values: &values };
//! let gain = solver.solve(&[lane], &Excitation::given(0), &[Functional::unknown(0)]);
//! assert!((gain[0].clone().unwrap() - 1.0 / Complex64::new(1.0, 1.0)).norm() < 1e-15);
//! ```

mod atoms;
mod deflate;
mod degree;
mod double;
mod eigen;
mod eliminate;
mod exact;
mod excitation;
mod field;
mod generic;
mod group;
mod judge;
mod lanes;
mod loaded;
mod loose;
pub mod meter;
mod numerator;
mod order;
mod parts;
mod pencil;
mod program;
mod question;
mod replay;
mod rescue;
mod residual;
mod restrict;
mod second;
mod solver;
pub mod spectrum;
mod structure;
mod sums;
mod tape;

pub use excitation::{Excitation, Functional, Injection, Lane, Unsure};
pub use generic::{At, Deficiency, generic_adjoint, generic_rank, generic_solution};
pub use numerator::{numerator, numerator_of};
pub use parts::{Alone, alone};
pub use pencil::{Builder, Column, Domain, Entry, Parameter, Pencil, Stamp, Value};
pub use program::Order;
pub use restrict::{Restricted, behind, restrict};
pub use solver::Solver;
pub use spectrum::{Root, Roots, roots};
pub use structure::{Block, Excited, Structure};
