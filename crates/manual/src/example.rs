//! The blocks of notation in a page, and what each is there for.

use crate::page::Page;

/// A block of notation in a page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Example {
    /// What it is there for.
    pub intent: Intent,
    /// The design.
    pub text: &'static str,
}

/// What a block of notation is there for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Intent {
    /// Nothing is said about it, but for the rules named (``` ```stage may: ID, ID ```).
    Clean(Vec<&'static str>),
    /// Exactly these rules speak (``` ```stage broken: ID, ID ```).
    Broken(Vec<&'static str>),
    /// It is a file that the next block includes under this name (``` ```stage file: NAME ```).
    File(&'static str),
}

impl Page {
    /// Its blocks of notation, in the order of the page.
    pub fn examples(&self) -> Vec<Example> {
        let mut found = Vec::new();
        let mut rest = self.text;
        while let Some((_, block)) = rest.split_once("```stage") {
            let (info, body) = block.split_once('\n').unwrap_or((block, ""));
            let (text, below) = body.split_once("```").unwrap_or((body, ""));
            found.push(Example { intent: intent(info.trim()), text });
            rest = below;
        }
        found
    }
}

fn intent(info: &'static str) -> Intent {
    let list = |ids: &'static str| ids.split(',').map(str::trim).collect();
    match info.split_once(':') {
        Some(("broken", ids)) => Intent::Broken(list(ids)),
        Some(("may", ids)) => Intent::Clean(list(ids)),
        Some(("file", name)) => Intent::File(name.trim()),
        _ => Intent::Clean(Vec::new()),
    }
}
