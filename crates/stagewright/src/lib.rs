//! Stagewright: live readings for analog signal chains written in the stage notation.
//!
//! This crate is the program: its commands, and the language server. It alone knows the language server protocol, JSON-RPC, tokio and
//! the command line; what it shows comes from [`workbench`] as plain data.

pub mod commands;
pub mod includes;
pub mod picture;
pub mod serve;
