//! Designs on disk, for the commands that read them.

use std::path::{Path, PathBuf};

/// The ending of a design's name.
const ENDING: &str = "stage";

/// A file's text, or why it cannot be had.
pub fn text(path: &Path) -> Result<String, String> {
    let bytes = std::fs::read(path).map_err(|e| format!("{} cannot be read: {}", path.display(), reason(&e)))?;
    utf8(bytes, &path.to_string_lossy())
}

/// Bytes as a text, or why they are none; `name` is what they are called.
pub fn utf8(bytes: Vec<u8>, name: &str) -> Result<String, String> {
    String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        format!("{name} is not UTF-8 text: byte {at} is the first that is not. Save it as UTF-8.")
    })
}

/// What the system says, in words.
pub fn reason(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".into(),
        std::io::ErrorKind::PermissionDenied => "its permissions forbid it".into(),
        std::io::ErrorKind::IsADirectory => "it is a folder".into(),
        std::io::ErrorKind::StorageFull => "there is no space left".into(),
        _ => error.to_string(),
    }
}

/// The designs among these paths: a file as it is named, a folder with all that lies below it, in the order of their names.
/// Hidden folders and links to folders are left alone.
pub fn designs(paths: &[PathBuf]) -> Result<Vec<PathBuf>, String> {
    let mut found = Vec::new();
    for path in paths {
        if path.is_dir() {
            let before = found.len();
            below(path, &mut found)?;
            if found.len() == before {
                return Err(format!("{} holds no design: a design's name ends in .{ENDING}", path.display()));
            }
        } else {
            found.push(path.clone());
        }
    }
    Ok(found)
}

fn below(folder: &Path, found: &mut Vec<PathBuf>) -> Result<(), String> {
    let entries =
        std::fs::read_dir(folder).map_err(|e| format!("{} cannot be read: {}", folder.display(), reason(&e)))?;
    let mut entries: Vec<_> = entries.flatten().collect();
    entries.sort_by_key(|e| e.file_name());
    for entry in entries {
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        match entry.file_type() {
            Ok(t) if t.is_dir() && !hidden => below(&entry.path(), found)?,
            Ok(t) if !t.is_dir() && entry.path().extension().is_some_and(|e| e == ENDING) => found.push(entry.path()),
            _ => {}
        }
    }
    Ok(())
}

/// Lines of a text with the byte at which each begins; a place as line and column, both from 1, columns in characters.
pub struct Lines<'a> {
    text: &'a str,
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    /// Finds the lines.
    pub fn of(text: &'a str) -> Self {
        let starts =
            std::iter::once(0).chain(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1));
        Lines { text, starts: starts.collect() }
    }

    /// Line and column of a byte.
    pub fn place(&self, at: usize) -> (usize, usize) {
        let at = at.min(self.text.len());
        let line = self.starts.partition_point(|s| *s <= at).max(1);
        let start = self.starts[line - 1];
        (line, self.text[start..at].chars().count() + 1)
    }

    /// What stands in a byte's line in front of it.
    pub fn in_front(&self, at: usize) -> &'a str {
        let at = at.min(self.text.len());
        let line = self.starts.partition_point(|s| *s <= at).max(1);
        &self.text[self.starts[line - 1]..at]
    }

    /// A line's text, its number from 1.
    pub fn line(&self, number: usize) -> &'a str {
        let start = self.starts.get(number - 1).copied().unwrap_or(self.text.len());
        let end = self.starts.get(number).copied().unwrap_or(self.text.len());
        self.text[start..end].trim_end_matches(['\n', '\r'])
    }

    /// How many there are; an end of line at the file's end begins no further one.
    pub fn count(&self) -> usize {
        if self.text.ends_with('\n') { self.starts.len() - 1 } else { self.starts.len() }
    }
}

#[cfg(test)]
mod tests {
    use super::Lines;

    #[test]
    fn places_count_lines_and_characters_from_one() {
        let lines = Lines::of("a\nR1 4k7Ω x\r\n");
        assert_eq!(lines.place(0), (1, 1));
        assert_eq!(lines.place("a\nR1 4k7Ω".len()), (2, 8));
        assert_eq!(lines.line(2), "R1 4k7Ω x");
        assert_eq!(lines.count(), 2);
        assert_eq!(lines.place(9999), (3, 1));
    }
}
