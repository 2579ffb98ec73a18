//! What an editor does with the text: one file a feature, each a function of the database and a place.

pub(crate) mod complete;
pub(crate) mod signature;
