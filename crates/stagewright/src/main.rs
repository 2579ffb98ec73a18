//! The program `stagewright`.
fn main() {}
