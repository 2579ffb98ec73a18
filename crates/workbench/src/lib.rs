//! One incremental database over the crates below; hints, hovers, problems and symbols as plain data.
