//! The commands that answer and end. Each gets its arguments parsed and returns the program's exit code: 0 clean, 1 problems, 2 could not run.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};

/// `stagewright show`.
#[derive(Debug, Args)]
pub struct Show {
    /// The design.
    pub file: PathBuf,
    /// How to print it.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
}

/// `stagewright check`.
#[derive(Debug, Args)]
pub struct Check {
    /// Designs, or folders that are searched for them.
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,
    /// How to print what is found.
    #[arg(long, value_enum, default_value_t = CheckFormat::Text)]
    pub format: CheckFormat,
}

/// `stagewright read`.
#[derive(Debug, Args)]
pub struct Read {
    /// The design.
    pub file: PathBuf,
    /// Readings, each one argument, as they would stand under `require`.
    #[arg(required = true)]
    pub phrases: Vec<String>,
    /// How to print them.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Find the range over tolerance too.
    #[arg(long)]
    pub tolerance: bool,
}

/// Text for people, or JSON for programs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people.
    Text,
    /// For programs.
    Json,
}

/// What `check` prints.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum CheckFormat {
    /// For people.
    Text,
    /// For programs.
    Json,
    /// For tools that collect findings (SARIF 2.1.0, an OASIS standard).
    Sarif,
}

/// Prints a design as an editor shows it.
pub fn show(_: &Show) -> ExitCode {
    not_yet("show")
}

/// Prints problems and decided statements.
pub fn check(_: &Check) -> ExitCode {
    not_yet("check")
}

/// Prints readings.
pub fn read(_: &Read) -> ExitCode {
    not_yet("read")
}

fn not_yet(command: &str) -> ExitCode {
    eprintln!("stagewright {command} is not part of this build yet.");
    ExitCode::from(2)
}
