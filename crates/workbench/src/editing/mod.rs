//! What an editor does with a design beside reading it: find names, rename them, tell what can stand at the cursor, and the like. One file a
//! feature.
//!
//! Everything here is plain data with byte offsets, like the rest of the crate. What needs text and trees alone asks for no circuit, so
//! that it answers at once and whatever else is wrong with the file.

pub(crate) mod actions;
pub(crate) mod complete;
pub(crate) mod family;
pub mod fold;
pub(crate) mod fresh;
pub mod index;
pub(crate) mod lenses;
pub mod links;
pub(crate) mod mentions;
pub mod names;
pub(crate) mod nest;
pub mod rename;
pub(crate) mod signature;
