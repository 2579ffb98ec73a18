//! Text of the stage notation to tokens and trees with places; knows no electronics.

pub mod layout;
pub mod tree;
