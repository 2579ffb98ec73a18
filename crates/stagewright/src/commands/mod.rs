//! The commands that answer and end. Each gets its arguments parsed and returns the program's exit code: 0 clean, 1 problems, 2 could not run.

mod check;
mod derive;
mod draw;
mod explain;
pub(crate) mod files;
mod format;
mod output;
mod paint;
mod parts;
mod plot;
mod read;
mod sarif;
mod show;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};

pub use output::{complain, finish, tell};
pub use paint::Paint;

/// Prints a design as an editor shows it.
pub fn show(args: &Show) -> ExitCode {
    show::run(args)
}

/// Prints problems and decided statements.
pub fn check(args: &Check) -> ExitCode {
    check::run(args)
}

/// Prints the hand working of stages.
pub fn derive(args: &Derive) -> ExitCode {
    derive::run(args)
}

/// Draws the circuit.
pub fn draw(args: &Draw) -> ExitCode {
    draw::run(args)
}

/// Prints a page of the manual.
pub fn explain(args: &Explain) -> ExitCode {
    explain::run(args)
}

/// Draws curves.
pub fn plot(args: &Plot) -> ExitCode {
    plot::run(args)
}

/// Prints the parts list.
pub fn parts(args: &Parts) -> ExitCode {
    parts::run(args)
}

/// Gives designs their canonical layout.
pub fn format(args: &Layout) -> ExitCode {
    format::run(args)
}

/// Prints readings.
pub fn read(args: &Read) -> ExitCode {
    read::run(args)
}

/// Everything is well.
const CLEAN: u8 = 0;
/// There are problems, or a reading is not known.
const PROBLEMS: u8 = 1;
/// The command could not do its work.
pub const FAILED: u8 = 2;

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
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// How to print what is found.
    #[arg(long, value_enum, default_value_t = CheckFormat::Text)]
    pub format: CheckFormat,
}

/// `stagewright format`.
#[derive(Debug, Args)]
pub struct Layout {
    /// Designs, or folders that are searched for them; - alone is a text on standard input, laid out on standard output.
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// Change nothing: show what would change, and exit 1 if anything would.
    #[arg(long)]
    pub check: bool,
}

/// `stagewright read`.
#[derive(Debug, Args)]
pub struct Read {
    /// The design.
    pub file: PathBuf,
    /// Readings, each one argument, as they would stand under `require`.
    #[arg(required = true, value_name = "PHRASE")]
    pub phrases: Vec<String>,
    /// How to print them.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Find the range over tolerance too.
    #[arg(long)]
    pub tolerance: bool,
}

/// `stagewright derive`.
#[derive(Debug, Args)]
pub struct Derive {
    /// The design.
    pub file: PathBuf,
    /// The stage; without one, all of them.
    #[arg(value_name = "STAGE")]
    pub stage: Option<String>,
    /// How to print it.
    #[arg(long, value_enum, default_value_t = DeriveFormat::Text)]
    pub format: DeriveFormat,
}

/// `stagewright parts`.
#[derive(Debug, Args)]
pub struct Parts {
    /// The design.
    pub file: PathBuf,
    /// How to print it.
    #[arg(long, value_enum, default_value_t = PartsFormat::Text)]
    pub format: PartsFormat,
    /// Write to this file instead; its name's end (.txt, .md, .csv) says how.
    #[arg(short, long, value_name = "OUT")]
    pub output: Option<PathBuf>,
}

/// How a parts list is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PartsFormat {
    /// Columns for a terminal.
    Text,
    /// A table of Markdown.
    Markdown,
    /// Comma-separated values (RFC 4180), a row a kind.
    Csv,
}

/// `stagewright plot`.
#[derive(Debug, Args)]
pub struct Plot {
    /// The design.
    pub file: PathBuf,
    /// What to draw, each one argument; several stand in one plot.
    #[arg(required = true, value_name = "PHRASE")]
    pub phrases: Vec<String>,
    /// Write to this file: a picture where its name ends in .svg or .png, else text in .txt.
    #[arg(short, long, value_name = "OUT")]
    pub output: Option<PathBuf>,
    /// The span of frequencies, as in --over 20Hz 20kHz.
    #[arg(long, num_args = 2, value_names = ["FROM", "TO"])]
    pub over: Option<Vec<String>>,
    /// Where the controls stand: a named setting, or what would stand behind `when`.
    #[arg(long, value_name = "SETTING")]
    pub setting: Option<String>,
    /// Draw the band about each response that 200 builds within tolerance hold to.
    #[arg(long)]
    pub tolerance: bool,
    /// What to write, where the file's name does not say it.
    #[arg(long, value_enum)]
    pub format: Option<PlotFormat>,
    /// Columns and rows of a text, pixels of a picture: 80x22.
    #[arg(long, value_name = "WxH", value_parser = size)]
    pub size: Option<(usize, usize)>,
    /// The characters of a text.
    #[arg(long, value_enum, default_value_t = Characters::Braille)]
    pub characters: Characters,
    /// The ground of a picture.
    #[arg(long, value_enum, default_value_t = Ground::Reader)]
    pub ground: Ground,
}

/// `80x22`
fn size(text: &str) -> Result<(usize, usize), &'static str> {
    let wrong = "a size is two numbers, as 80x22";
    let (w, h) = text.split_once(['x', '×']).ok_or(wrong)?;
    match (w.trim().parse(), h.trim().parse()) {
        (Ok(w @ 1..=10_000), Ok(h @ 1..=10_000)) => Ok((w, h)),
        (Ok(_), Ok(_)) => Err("a size is from 1 to 10000"),
        _ => Err(wrong),
    }
}

/// What `plot` writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PlotFormat {
    /// Characters.
    Text,
    /// A picture of lines (W3C's SVG).
    Svg,
    /// A picture of pixels.
    Png,
}

/// The characters that a plot in text is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Characters {
    /// Braille patterns, eight dots each.
    Braille,
    /// Quarter blocks.
    Blocks,
    /// Nothing beyond ASCII.
    Ascii,
}

/// The ground of a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Ground {
    /// As its reader has set it; light in a PNG.
    Reader,
    /// White.
    Light,
    /// Dark.
    Dark,
}

/// `stagewright draw`.
#[derive(Debug, Args)]
pub struct Draw {
    /// The design.
    pub file: PathBuf,
    /// The stage; without one, all of them.
    #[arg(value_name = "STAGE")]
    pub stage: Option<String>,
    /// Where the picture goes, NAME.svg or NAME.png; - is standard output, as SVG.
    #[arg(short, long, value_name = "FILE", required = true)]
    pub output: PathBuf,
}

/// `stagewright explain`.
#[derive(Debug, Args)]
pub struct Explain {
    /// A word of the notation, a quantity, or the name of a rule; without one, the contents.
    #[arg(value_name = "WORD", allow_hyphen_values = true)]
    pub words: Vec<String>,
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

/// What `derive` prints.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum DeriveFormat {
    /// For people.
    Text,
    /// For notes and pages.
    Markdown,
    /// A document that uses the package amsmath.
    Tex,
}
