//! What `cargo test` alone leaves out, because it needs Python or an editor. Each is named there as ignored, and is run by
//! `tests/run` (or by `cargo test -p stagewright-tests --test with_tools -- --ignored`, which asks the same).

use std::path::Path;
use std::process::Command;

/// `tests/run` with the names of steps.
fn run(arguments: &[&str]) -> (bool, String) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("run");
    let done = Command::new(script).args(arguments).output().expect("tests/run can be started");
    (done.status.success(), String::from_utf8_lossy(&done.stdout).into_owned())
}

/// Runs one step, which must be there and pass. The release build is brought up to date first, since the editors run that.
fn step(name: &str) {
    let (passed, output) = run(&["release", name]);
    assert!(passed, "{output}");
    assert!(output.contains("2 passed, 0 failed"), "{output}");
}

#[test]
#[ignore = "needs Node, Neovim and Emacs: tests/run highlighting"]
fn the_grammars_colour_alike() {
    step("highlighting");
}

#[test]
#[ignore = "needs Node, tree-sitter and a C compiler: tests/run tree-sitter"]
fn the_tree_sitter_grammar_reads_the_notation() {
    step("tree-sitter");
}

#[test]
#[ignore = "needs Neovim: tests/run neovim"]
fn neovim_shows_what_the_program_says() {
    step("neovim");
}

#[test]
#[ignore = "needs Neovim 0.10: tests/run older-neovim"]
fn an_older_neovim_shows_what_the_program_says() {
    step("older-neovim");
}

#[test]
#[ignore = "needs Helix: tests/run helix"]
fn helix_shows_what_the_program_says() {
    step("helix");
}

#[test]
#[ignore = "needs Python and Node: tests/run conformance"]
fn all_that_is_announced_is_kept() {
    step("conformance");
}

#[test]
#[ignore = "needs Emacs: tests/run emacs"]
fn emacs_shows_what_the_program_says() {
    step("emacs");
}

#[test]
#[ignore = "needs VS Code and a browser: tests/run vscode"]
fn vscode_shows_what_the_program_says() {
    step("vscode");
}

#[test]
#[ignore = "needs Python with numerical references: tests/run, each step with -against- in its name"]
fn figures_agree_with_numerical_references() {
    let (_, list) = run(&["--list"]);
    let checks: Vec<&str> = list.lines().filter(|name| name.contains("-against-")).collect();
    assert!(!checks.is_empty(), "{list}");
    for check in checks {
        step(check);
    }
}
