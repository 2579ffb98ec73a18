//! What `include` headings name, on disk: relative to the including file, and never outside the workspace.

use std::collections::{BTreeMap, HashSet};
use std::path::{Component, Path, PathBuf};

use workbench::Workbench;

use crate::commands::files::{self, reason};

/// How many files a design includes at most, over all steps.
const MOST: usize = 1000;

/// The workspace of a file: the nearest folder above it that holds a `.git`, else its own folder.
pub fn workspace(file: &Path) -> PathBuf {
    let file = std::path::absolute(file).unwrap_or_else(|_| file.to_path_buf());
    let own = file.parent().unwrap_or(Path::new("/")).to_path_buf();
    own.ancestors().find(|folder| folder.join(".git").exists()).map_or(own.clone(), Path::to_path_buf)
}

/// The file that an `include` means, or why there is none: a clause behind the written path.
///
/// # Errors
/// For an absolute path, one that leaves `root` (by `..` or through a link), and what is no plain file.
pub fn resolve(root: &Path, from: &Path, written: &str) -> Result<PathBuf, String> {
    let path = Path::new(written);
    if written.is_empty() {
        return Err("names no file".into());
    }
    let rooted = |c: Component| matches!(c, Component::RootDir | Component::Prefix(_));
    if path.components().any(rooted) || written.contains('\\') || written.contains('\0') {
        return Err("is not relative to this file: write the way from here, with `/`".into());
    }
    let folder = from.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let missing = |e: std::io::Error| format!("cannot be read: {}", reason(&e));
    let root = root.canonicalize().map_err(missing)?;
    let outside = || format!("lies outside the workspace {}", root.display());
    // The way is followed without asking the disk first, so that nothing outside is ever looked at.
    let mut way = folder.canonicalize().map_err(missing)?;
    for step in path.components() {
        match step {
            Component::ParentDir if way == root || !way.pop() => return Err(outside()),
            Component::Normal(name) => way.push(name),
            _ => {}
        }
    }
    if !way.starts_with(&root) {
        return Err(outside());
    }
    let found = way.canonicalize().map_err(missing)?;
    if !found.starts_with(&root) {
        return Err(outside());
    }
    let about = found.metadata().map_err(missing)?;
    files::sized(&about)?;
    Ok(found)
}

/// Puts a file that a command was given into a workbench, with what it includes.
pub fn open(bench: &mut Workbench, file: &Path, text: String) {
    let own = file.to_string_lossy().into_owned();
    let canonical = file.canonicalize().unwrap_or_else(|_| file.to_path_buf());
    bench.set_text(&own, text);
    let key = |path: &Path| {
        if path == file || path == canonical { own.clone() } else { path.to_string_lossy().into_owned() }
    };
    load(bench, file, &workspace(file), &key, &|_| false);
}

/// Reads what a file includes, over all steps, into a workbench. `key` tells under which name a file on disk stands there, and
/// `shown` gives the text of a file that an editor has open; it goes before the disk.
pub fn load(
    bench: &mut Workbench,
    file: &Path,
    root: &Path,
    key: &dyn Fn(&Path) -> String,
    shown: &dyn Fn(&str) -> bool,
) -> Vec<PathBuf> {
    let mut waiting = vec![file.to_path_buf()];
    let mut seen: HashSet<PathBuf> = [file.canonicalize().unwrap_or_else(|_| file.to_path_buf())].into();
    let mut read = Vec::new();
    while let Some(from) = waiting.pop() {
        let own = key(&from);
        let mut named = BTreeMap::new();
        for written in bench.included(&own) {
            let found = resolve(root, &from, &written).and_then(|path| {
                let name = key(&path);
                if !seen.contains(&path) {
                    if read.len() >= MOST {
                        return Err(format!("is not read: this design includes {MOST} files already"));
                    }
                    if !shown(&name) {
                        let bytes = files::plain(&path)?;
                        let text = String::from_utf8(bytes).map_err(|_| "is not UTF-8 text".to_string())?;
                        bench.set_text(&name, text);
                    }
                    seen.insert(path.clone());
                    read.push(path.clone());
                    waiting.push(path);
                }
                Ok(name)
            });
            named.insert(written, found);
        }
        bench.set_included(&own, named);
    }
    read
}
