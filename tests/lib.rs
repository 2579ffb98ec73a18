//! What is tested across the crates: outside checks, protocol, editors, incremental equality, benchmarks.
