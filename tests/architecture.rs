//! The arrows between the crates point down one list only, and what belongs at the edge stays there.

use std::path::Path;

/// From the bottom up: a crate may use those before it, and nobody behind it.
const ORDER: [&str; 13] = [
    "quantity",
    "plot",
    "manual",
    "notation",
    "circuit",
    "pencil",
    "analysis",
    "derivation",
    "drawing",
    "report",
    "argument",
    "workbench",
    "stagewright",
];
/// What only the program itself may use: protocols, files, clocks, threads of its own.
const EDGE: [&str; 9] =
    ["tower-lsp", "tokio", "serde_json", "serde", "clap", "tower-service", "futures", "tracing", "tracing-subscriber"];

/// The names under `[dependencies]` of a crate's manifest.
fn dependencies(name: &str) -> Vec<String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates").join(name).join("Cargo.toml");
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let mut inside = false;
    let mut found = Vec::new();
    for line in text.lines() {
        if line.starts_with('[') {
            inside = line == "[dependencies]";
        } else if let (true, Some(word)) = (inside, line.split(['.', ' ', '=']).next().filter(|w| !w.is_empty())) {
            found.push(word.to_string());
        }
    }
    found
}

#[test]
fn arrows_point_down() {
    for (i, name) in ORDER.iter().enumerate() {
        for used in dependencies(name) {
            if let Some(j) = ORDER.iter().position(|o| *o == used) {
                assert!(j < i, "{name} uses {used}, which stands above it");
            }
        }
    }
}

#[test]
fn every_crate_is_on_the_list() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    for entry in std::fs::read_dir(crates).expect("the crates are there") {
        let name = entry.expect("a folder").file_name().to_string_lossy().into_owned();
        assert!(ORDER.contains(&&*name), "{name} has no place in the order");
    }
}

#[test]
fn the_edge_is_the_program_alone() {
    for name in ORDER.iter().filter(|n| **n != "stagewright") {
        for used in dependencies(name) {
            assert!(!EDGE.contains(&&*used), "{name} uses {used}, which belongs to the program");
        }
    }
}

#[test]
fn analysis_sees_no_text_and_the_notation_no_ohms() {
    assert!(!dependencies("analysis").contains(&"notation".to_string()));
    assert!(!dependencies("pencil").iter().any(|d| ORDER.contains(&&**d)));
    assert!(!dependencies("notation").iter().any(|d| d == "circuit" || d == "analysis"));
    // What is worked out by hand must not lean on what it is held against.
    assert!(!dependencies("derivation").iter().any(|d| ORDER.contains(&&**d)));
    // A plot is told figures, and prints them.
    assert!(!dependencies("plot").iter().any(|d| d != "quantity" && ORDER.contains(&&**d)));
}

/// No crate below the program reads a file, a clock or the environment.
#[test]
fn only_the_program_touches_the_world() {
    for name in ORDER.iter().filter(|n| **n != "stagewright") {
        let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates").join(name).join("src");
        let mut folders = vec![source];
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(folder).expect("sources are there") {
                let path = entry.expect("a file").path();
                if path.is_dir() {
                    folders.push(path);
                    continue;
                }
                let text = std::fs::read_to_string(&path).expect("UTF-8 source");
                // Tests at the foot of a file may read what they like.
                let text = text.split("#[cfg(test)]").next().unwrap_or_default();
                for word in ["std::fs", "std::env::var", "SystemTime", "Instant::now", "std::net", "std::process"] {
                    assert!(!text.contains(word), "{} uses {word}", path.display());
                }
            }
        }
    }
}
