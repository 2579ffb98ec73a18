//! Designs on disk, for the commands that read them.

use std::cell::Cell;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// Bytes of the longest file that is read as a design.
pub const LONGEST: u64 = 16 << 20;

/// The ending of a design's name.
const ENDING: &str = "stage";

/// A file's text, or why it cannot be had.
pub fn text(path: &Path) -> Result<String, String> {
    let bytes = plain(path).map_err(|why| format!("{} {why}", path.display()))?;
    utf8(bytes, &path.to_string_lossy())
}

/// The bytes of a plain file; a pipe or a device would be waited for, perhaps for ever, and is none.
///
/// # Errors
/// A clause behind the file's name.
pub fn plain(path: &Path) -> Result<Vec<u8>, String> {
    let cannot = |e: std::io::Error| format!("cannot be read: {}", reason(&e));
    let about = std::fs::metadata(path).map_err(cannot)?;
    sized(&about)?;
    let file = open(path).map_err(cannot)?;
    // What was opened is what is asked now: something else may have come to stand under the name.
    sized(&file.metadata().map_err(cannot)?)?;
    let mut bytes = Vec::with_capacity(about.len() as usize);
    file.take(LONGEST + 1).read_to_end(&mut bytes).map_err(cannot)?;
    if bytes.len() as u64 > LONGEST {
        return Err(too_long(bytes.len() as u64));
    }
    Ok(bytes)
}

/// Opens a file without waiting for somebody at the other end of a pipe.
fn open(path: &Path) -> std::io::Result<std::fs::File> {
    let mut options = std::fs::OpenOptions::new();
    options.read(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.custom_flags(rustix::fs::OFlags::NONBLOCK.bits() as i32);
    }
    options.open(path)
}

/// Whether this is a plain file that may be a design; else a clause behind its name.
///
/// # Errors
/// What it is instead.
pub fn sized(about: &std::fs::Metadata) -> Result<(), String> {
    if !about.is_file() {
        return Err(format!("is {}, not a plain file: a design is a text on disk", kind(about.file_type())));
    }
    if about.len() > LONGEST {
        return Err(too_long(about.len()));
    }
    Ok(())
}

fn too_long(bytes: u64) -> String {
    format!("is {} megabytes long: a design of more than {} is not read", bytes >> 20, LONGEST >> 20)
}

/// What something on disk is, in words.
fn kind(of: std::fs::FileType) -> &'static str {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if of.is_fifo() {
            return "a pipe";
        }
        if of.is_socket() {
            return "a socket";
        }
        if of.is_char_device() || of.is_block_device() {
            return "a device";
        }
    }
    if of.is_dir() { "a folder" } else { "something else" }
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

/// Puts bytes in the place of what a file holds: all of them, or nothing. What is there and is no plain file (a pipe, a device) is written
/// to as it is.
///
/// # Errors
/// A sentence with the file's name.
pub fn write(path: &Path, bytes: &[u8]) -> Result<(), String> {
    put(path, bytes).map_err(|e| format!("{} cannot be written: {}", path.display(), reason(&e)))
}

fn put(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    // It is opened first: putting another file in its place asks the folder's permission only.
    let (target, kept) = match std::fs::OpenOptions::new().write(true).open(path) {
        Ok(mut there) => {
            let about = there.metadata()?;
            if !about.is_file() {
                return there.write_all(bytes);
            }
            // Through a link, what it points at is written; the link stays.
            (path.canonicalize()?, Some(about.permissions()))
        }
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => (path.to_path_buf(), None),
        Err(e) => return Err(e),
    };
    let folder = target.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    if kept.is_none() {
        use std::os::unix::fs::PermissionsExt;
        // As any new file: for everyone whom the user's mask lets.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(bytes)?;
    if let Some(permissions) = &kept {
        file.as_file().set_permissions(permissions.clone())?;
    }
    file.as_file().sync_all()?;
    // A link that points at nothing is left as it is.
    if kept.is_some() {
        file.persist(&target)?
    } else {
        file.persist_noclobber(&target)?
    };
    Ok(())
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
    /// The place told last, as byte, line and column: the next one often stands behind it in the same line, which may be long.
    last: Cell<(usize, usize, usize)>,
}

impl<'a> Lines<'a> {
    /// Finds the lines.
    pub fn of(text: &'a str) -> Self {
        let starts =
            std::iter::once(0).chain(text.bytes().enumerate().filter(|(_, b)| *b == b'\n').map(|(i, _)| i + 1));
        Lines { text, starts: starts.collect(), last: Cell::new((0, 1, 1)) }
    }

    /// Line and column of a byte.
    pub fn place(&self, at: usize) -> (usize, usize) {
        let at = at.min(self.text.len());
        let line = self.starts.partition_point(|s| *s <= at).max(1);
        let (known, column) = match self.last.get() {
            (byte, same, column) if same == line && byte <= at => (byte, column),
            _ => (self.starts[line - 1], 1),
        };
        let column = column + self.text[known..at].chars().count();
        self.last.set((at, line, column));
        (line, column)
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
