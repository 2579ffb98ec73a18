//! What an editor does with a design besides showing it. One file a feature; methods on [`crate::Snapshot`], plain data out.

pub(crate) mod actions;
pub(crate) mod lenses;
