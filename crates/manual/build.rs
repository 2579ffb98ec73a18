//! Makes the list of pages out of the folder that holds them, so that none can be forgotten.

use std::fmt::Write;
use std::path::{Path, PathBuf};

/// The folders, in the order of the manual's contents, with the kind of their pages.
const FOLDERS: [(&str, &str); 6] = [
    ("guide", "Guide"),
    ("headings", "Heading"),
    ("entries", "Entry"),
    ("quantities", "Quantity"),
    ("words", "Word"),
    ("rules", "Rule"),
];

fn main() {
    let pages = Path::new(&std::env::var("CARGO_MANIFEST_DIR").expect("cargo sets it")).join("pages");
    println!("cargo::rerun-if-changed={}", pages.display());
    let mut list = String::from("&[\n");
    for (folder, kind) in FOLDERS {
        println!("cargo::rerun-if-changed={}", pages.join(folder).display());
        for page in pages_in(&pages.join(folder)) {
            writeln!(list, "    (Kind::{kind}, include_str!({:?})),", page.display().to_string())
                .expect("writing to a text does not fail");
        }
    }
    list.push_str("]\n");
    let out = Path::new(&std::env::var("OUT_DIR").expect("cargo sets it")).join("pages.rs");
    std::fs::write(out, list).expect("the build's own folder can be written");
}

/// The pages of a folder in the order of their names.
fn pages_in(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let mut found: Vec<PathBuf> = entries.map(|e| e.expect("a file").path()).collect();
    found.sort();
    for page in &found {
        assert!(page.extension().is_some_and(|e| e == "md"), "{} is no page: pages end in .md", page.display());
    }
    found
}
