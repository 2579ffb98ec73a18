//! The plain data that crosses this crate's border. Offsets are bytes into the file's text.

use std::ops::Range;

/// One thing to say about a place in a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where.
    pub range: Range<usize>,
    /// How much it matters.
    pub severity: Severity,
    /// A stable name of the kind of problem in kebab case; `stagewright explain` takes it.
    pub id: &'static str,
    /// What to say.
    pub message: String,
    /// The parts, nodes or stages that it names.
    pub names: Vec<String>,
    /// Ways out, the preferred first.
    pub fixes: Vec<Fix>,
    /// Something is missing at the end of an entry, as while it is typed: an editor shows it faintly until another entry is edited.
    pub unfinished: bool,
}

/// How much a problem matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Worth knowing: nothing is wrong with the text (a line that this edition does not decide yet, say).
    Note,
    /// A figure or a name that is probably not what was meant.
    Warning,
    /// Something cannot be what was meant.
    Error,
}

/// One way out of a problem.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fix {
    /// `write 0R47`
    pub title: String,
    /// Replacements in the same file.
    pub edits: Vec<Edit>,
}

/// Ways out of a problem.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ways {
    /// The preferred first.
    pub fixes: Vec<Fix>,
    /// That a search found none: a clause.
    pub none: Option<String>,
    /// That a search was stopped before its end, and how far it came: a clause.
    pub stopped: Option<String>,
}

/// A replacement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edit {
    /// What goes.
    pub range: Range<usize>,
    /// What comes.
    pub text: String,
}

/// A short text beside a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hint {
    /// Names what the hint speaks of, stable while the text around it changes: `stage preamp`, `part C2`, `setting low`.
    /// A client that wants steady hints keeps the last good label under this key.
    pub key: String,
    /// Where it stands: right behind this byte (the end of the entry's text, in front of a comment).
    pub at: usize,
    /// The line, from 0.
    pub line: u32,
    /// The text, as [`crate`] prints it.
    pub label: String,
    /// What it speaks of.
    pub kind: HintKind,
    /// How sure it is.
    pub mark: Mark,
    /// A few lines more, plain text.
    pub tooltip: Option<String>,
}

/// What a hint speaks of; each kind can be turned off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum HintKind {
    /// A stage's heading: gain, corners, impedance.
    Stage,
    /// A part: the one figure that matters for it.
    Part,
    /// A source, supply or setting in `design`.
    Design,
    /// A statement (`require`, `assume`, `formula` …).
    Statement,
}

/// How sure a figure is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Mark {
    /// Follows from the text alone.
    Exact,
    /// Rests on a typical figure of a data sheet.
    Typical,
    /// Not known; the label says what is missing.
    Unknown,
    /// Not decided by this edition of the program.
    Undecided,
    /// A requirement that holds.
    Holds,
    /// A requirement that fails.
    Fails,
}

/// An entry or a heading of which something is missing, as while it is typed: figures may come to be others when it is whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unfinished {
    /// Its lines, from 0.
    pub lines: Range<u32>,
    /// The included file that it stands in, as the including one calls it; `None` for the file itself.
    pub file: Option<String>,
    /// It is a statement: no figure but its own hangs on it.
    pub alone: bool,
}

/// What a place in the text means.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hover {
    /// The words that it speaks of.
    pub range: Range<usize>,
    /// In Markdown.
    pub markdown: String,
    /// The same in plain text.
    pub plain: String,
    /// A plot as SVG, where pictures were asked for and there is one; the texts leave it out then.
    pub picture: Option<String>,
}

/// An entry of the outline.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Symbol {
    /// `preamp`, `R12`
    pub name: String,
    /// `12.0 dB`, `10 kΩ`
    pub detail: String,
    /// What it is.
    pub kind: SymbolKind,
    /// All that belongs to it.
    pub range: Range<usize>,
    /// Its name.
    pub selection: Range<usize>,
    /// What stands inside.
    pub children: Vec<Symbol>,
}

/// What an outline's entry is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SymbolKind {
    /// The design.
    Design,
    /// A stage or a copy of one.
    Stage,
    /// A part.
    Part,
    /// A setting.
    Setting,
    /// A block of statements, or a statement.
    Statement,
    /// A data sheet.
    Datasheet,
    /// A `let` name.
    Value,
}
