//! Plain data to a plot, as a good data sheet prints it: [`Plot`] becomes one SVG text ([`svg`]) or lines for a terminal ([`text`]).
//!
//! This crate knows no circuit: it is told curves, limits and marks, and decides on ticks, colours and where words stand. Equal data give equal bytes.
//!
//! ```
//! use plot::{Axis, Curve, Glyphs, Plot};
//! use quantity::Unit;
//!
//! let low_pass = |f: f64| (f, -10.0 * (1.0 + (f / 1e3).powi(2)).log10());
//! let points = (0..=60).map(|k| low_pass(10f64.powf(1.0 + f64::from(k) / 15.0))).collect();
//! let plot = Plot {
//!     title: "gain in -> out".into(),
//!     curves: vec![Curve { points, ..Curve::default() }],
//!     ..Plot::new(Axis::frequency(), Axis::decibels("gain"))
//! };
//! assert!(plot::svg(&plot, &plot::Sheet::default()).starts_with("<svg"));
//! let lines = plot::text(&plot, 44, 10, Glyphs::Braille);
//! assert_eq!(lines.lines().count(), 10);
//! ```

mod clip;
mod cover;
mod data;
mod extent;
mod figure;
mod line;
mod ruler;
mod svg;
mod text;
mod thin;
mod ticks;

pub use data::{Axis, Band, Curve, Dash, Dot, Ends, Forbidden, Limit, Mark, Plot, Scale, Side};
pub use svg::{Sheet, Theme, svg};
pub use text::{Glyphs, text};
