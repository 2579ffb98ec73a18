//! Values with units: prefixes, marking codes, preferred series, dimensions, and how a number is printed.
//!
//! This crate is the only one that looks inside a figure such as `4k7`, `22uF` or `18nV/√Hz`, and the only one that
//! turns a number into text that a person reads. It knows no circuit and depends on nothing.
//!
//! ```
//! use quantity::{Style, Unit, Want, computed, read};
//!
//! let (value, caution) = read("4k7", None, Want::ResistorValue).unwrap();
//! assert_eq!((value.value, value.unit), (4700.0, Unit::Ohm));
//! assert!(caution.is_none());
//!
//! let fault = read("20k", Some("Hz"), Want::Frequency).unwrap_err();
//! assert_eq!(fault.fixes, ["20 kHz"]);
//!
//! assert_eq!(computed(33_862.75, Unit::Hertz, Style::default()).as_deref(), Some("33.9 kHz"));
//! ```

mod caution;
mod composed;
mod decimal;
mod dimension;
mod fault;
mod figure;
mod level;
mod marking;
mod misfit;
mod misspelt;
mod near;
mod prefix;
mod print;
mod range;
mod read;
mod series;
mod spelling;
mod unit;
mod value;
mod want;
mod words;

pub use caution::Caution;
pub use composed::composed;
pub use dimension::Dimension;
pub use fault::{Fault, FaultKind};
pub use level::{
    DBU_REFERENCE, db, db_power, dbu, dbu_to_volts, dbv, dbv_to_volts, from_db, from_db_power, peak_of_rms,
    peak_to_peak_of_rms, rms_of_peak, rms_of_peak_to_peak,
};
pub use marking::{
    Colour, Tolerance, colour_bands, read_capacitor_mark, read_colour_bands, read_resistor_mark,
    read_small_capacitor_tolerance_letter, read_tolerance_letter, tolerance_letter,
};
pub use near::suggestions;
pub use prefix::Prefix;
pub use print::{
    Levels, Style, canonical, computed, dbu_with_volts, decibels, degrees, exact, ratio, ratio_with_decibels, share,
    written,
};
pub use range::range;
pub use read::read;
pub use series::{Pair, Series};
pub use spelling::{Spelling, spelled};
pub use unit::Unit;
pub use value::Quantity;
pub use want::Want;
pub use words::list;
