//! What is tested across the crates: outside checks, protocol, editors, incremental equality, benchmarks.

#[path = "protocol/client.rs"]
pub mod client;
