//! What is handed on beside a design, out of plain data: today the parts list ([`parts`]).
//!
//! This crate knows no circuit: it is told parts in words, groups them, and sets them in columns ([`table`]). Equal data give equal bytes.

pub mod parts;
pub mod table;
