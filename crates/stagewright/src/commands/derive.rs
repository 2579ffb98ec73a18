//! `derive`: the hand working of stages.

use std::process::ExitCode;
use std::sync::Arc;

use notation::near::nearest;
use workbench::{Derivation, Workbench, page};

use super::output::{complain, finish, visible};
use super::{CLEAN, Derive, DeriveFormat, FAILED, PROBLEMS, files};

/// Runs the command.
pub fn run(args: &Derive) -> ExitCode {
    let text = match files::text(&args.file) {
        Ok(text) => text,
        Err(why) => {
            complain(&why);
            return ExitCode::from(FAILED);
        }
    };
    let path = args.file.to_string_lossy();
    let mut bench = Workbench::new();
    crate::includes::open(&mut bench, &args.file, text);
    let snapshot = bench.snapshot();
    let stages = snapshot.stages(&path);
    let wanted: Vec<usize> = match &args.stage {
        None => (0..stages.len()).collect(),
        Some(name) => match stages.iter().position(|s| s == name) {
            Some(at) => vec![at],
            None => {
                complain(&not_found(name, &stages));
                return ExitCode::from(FAILED);
            }
        },
    };
    if wanted.is_empty() {
        complain(&format!("{path} has no stage."));
        return ExitCode::from(FAILED);
    }
    let all: Vec<Arc<Derivation>> = wanted.into_iter().filter_map(|at| snapshot.derivation(&path, at)).collect();
    let unfinished = snapshot.torn(&path).is_some();
    finish(&printed(&all, args.format), if unfinished { PROBLEMS } else { CLEAN })
}

fn printed(all: &[Arc<Derivation>], format: DeriveFormat) -> String {
    let each =
        |print: &dyn Fn(&page::Page) -> String| all.iter().map(|d| print(&d.page)).collect::<Vec<_>>().join("\n");
    match format {
        DeriveFormat::Text => each(&page::text).lines().map(|line| format!("{}\n", visible(line))).collect(),
        DeriveFormat::Markdown => each(&page::markdown),
        DeriveFormat::Tex => page::tex_document(&all.iter().map(|d| d.page.clone()).collect::<Vec<_>>()),
    }
}

/// What is said of a stage that is not there.
pub(super) fn not_found(name: &str, stages: &[String]) -> String {
    let there = match stages {
        [] => "the design has none".to_string(),
        all => format!("the stages are {}", all.join(", ")),
    };
    match nearest(name, stages.iter().map(String::as_str)) {
        Some(near) => format!("there is no stage {name}: did you mean {near}? {there}."),
        None => format!("there is no stage {name}: {there}."),
    }
}
