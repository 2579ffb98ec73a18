//! Colour, where there is a terminal to show it. What a colour says a word or a mark says too.

use std::io::IsTerminal;

/// Whether to colour what goes to standard output: on a terminal, unless `NO_COLOR` is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Paint(bool);

/// What is painted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// A figure beside a line.
    Hint,
    /// A figure that is not known or not decided.
    Open,
    /// A warning.
    Warning,
    /// Something that cannot be meant.
    Error,
    /// What stands back: line numbers, comments.
    Faint,
    /// A file's name.
    Strong,
}

impl Paint {
    /// For standard output.
    pub fn stdout() -> Paint {
        Paint(std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|v| v.is_empty()))
    }

    /// Whether there is colour.
    pub fn colours(self) -> bool {
        self.0
    }

    /// For a file or a pipe, and for tests.
    pub fn none() -> Paint {
        Paint(false)
    }

    /// The text in that ink.
    pub fn ink(self, ink: Ink, text: &str) -> String {
        if !self.0 || text.is_empty() {
            return text.to_string();
        }
        let code = match ink {
            Ink::Hint => "36",
            Ink::Open => "35",
            Ink::Warning => "33",
            Ink::Error => "31",
            Ink::Faint => "2",
            Ink::Strong => "1",
        };
        format!("\x1b[{code}m{text}\x1b[0m")
    }
}
