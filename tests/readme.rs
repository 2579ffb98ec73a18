//! The README's commands are those that there are.

use std::path::Path;

#[test]
fn the_first_command_of_the_readme_runs_as_it_stands() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let readme = std::fs::read_to_string(root.join("README.md")).expect("the README is there");
    let block = readme.split("```sh\n").nth(1).and_then(|b| b.split("```").next()).expect("a block of commands");
    let first = block.lines().next().expect("a first command");
    let command = first.split('#').next().unwrap_or_default().trim();
    // Several members of the workspace have programs, so cargo wants to be told which.
    let file =
        command.strip_prefix("cargo run --release -p stagewright -- show ").unwrap_or_else(|| panic!("{command}"));
    assert!(root.join(file).is_file(), "{file} is not there");
    let manifest = std::fs::read_to_string(root.join("crates/stagewright/Cargo.toml")).expect("the package is there");
    assert!(manifest.contains("name = \"stagewright\""), "the package is called otherwise");
    // What follows `cargo` names one program: a second one in the package would need `--bin`, or a default.
    let programs = manifest.matches("[[bin]]").count();
    assert!(programs <= 1 || manifest.contains("default-run"), "{programs} programs, and none is the default");
}
