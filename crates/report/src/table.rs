//! Rows under headings, in the three ways in which a reader or another program takes them.

use unicode_width::UnicodeWidthStr;

/// On which side of its column a cell stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// Rows of cells under headings; every row has as many cells as there are headings.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// The columns' names, and where their cells stand.
    pub heads: Vec<(&'static str, Align)>,
    /// The cells.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// The columns in which anything stands: an empty one tells nothing.
    fn used(&self) -> Vec<usize> {
        (0..self.heads.len()).filter(|c| self.rows.iter().any(|r| !r[*c].is_empty())).collect()
    }

    /// Columns of characters for a terminal, with a line under the headings and no blank at a line's end.
    pub fn text(&self) -> String {
        let used = self.used();
        let width = |c: usize| {
            let cells = self.rows.iter().map(|r| r[c].width());
            cells.chain([self.heads[c].0.width()]).max().unwrap_or(0)
        };
        let line = |cells: &[&str]| {
            let set: Vec<String> = used
                .iter()
                .map(|c| {
                    let blanks = " ".repeat(width(*c) - cells[*c].width());
                    match self.heads[*c].1 {
                        Align::Left => format!("{}{blanks}", cells[*c]),
                        Align::Right => format!("{blanks}{}", cells[*c]),
                    }
                })
                .collect();
            format!("{}\n", set.join("  ").trim_end())
        };
        let heads: Vec<&str> = self.heads.iter().map(|h| h.0).collect();
        let rules: Vec<String> = (0..heads.len()).map(|c| "─".repeat(width(c))).collect();
        let mut out = line(&heads);
        out += &line(&rules.iter().map(String::as_str).collect::<Vec<_>>());
        for row in &self.rows {
            out += &line(&row.iter().map(String::as_str).collect::<Vec<_>>());
        }
        out
    }

    /// A table of GitHub's Markdown.
    pub fn markdown(&self) -> String {
        let used = self.used();
        let line = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
        let mut out = line(used.iter().map(|c| self.heads[*c].0.to_string()).collect());
        out +=
            &line(used.iter().map(|c| if self.heads[*c].1 == Align::Right { "---:" } else { "---" }.into()).collect());
        for row in &self.rows {
            out += &line(used.iter().map(|c| row[*c].replace('|', "\\|").replace('\n', " ")).collect());
        }
        out
    }

    /// Comma-separated values (RFC 4180), with all columns: what reads them counts on each.
    pub fn csv(&self) -> String {
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        let heads = self.heads.iter().map(|h| h.0.to_string()).collect();
        for row in std::iter::once(&heads).chain(&self.rows) {
            writer
                .write_record(row.iter().map(|cell| harmless(cell)))
                .expect("rows are of one length and go to memory");
        }
        String::from_utf8(writer.into_inner().expect("memory takes all")).expect("strings went in")
    }
}

/// A text that a spreadsheet would take as a formula has a mark in front that says that it is none: a negative number is one.
fn harmless(cell: &str) -> String {
    let formula = cell.starts_with(['=', '@', '\t', '\r'])
        || cell.starts_with(['+', '-']) && !cell[1..].starts_with(|c: char| c.is_ascii_digit());
    if formula { format!("'{cell}") } else { cell.to_string() }
}
