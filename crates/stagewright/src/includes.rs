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

/// The innermost of some folders that holds a file.
pub fn innermost<'a>(folders: &'a [PathBuf], file: &Path) -> Option<&'a Path> {
    let holding = folders.iter().filter(|folder| file.starts_with(folder));
    holding.max_by_key(|folder| folder.components().count()).map(PathBuf::as_path)
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

/// A design or a folder that the path of an `include` can go on with.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Neighbour {
    /// It is a folder; its name has the `/` behind it that goes on.
    pub folder: bool,
    /// As it is written.
    pub name: String,
}

/// How many of them are told at most.
const NEIGHBOURS: usize = 100;

/// The designs and folders beside a file, or where the path that is begun leads; nothing outside `root`, nothing hidden, and not the
/// file itself.
pub fn neighbours(root: &Path, from: &Path, begun: &str) -> Vec<Neighbour> {
    let way = begun.rfind('/').map_or("", |slash| &begun[..slash]);
    let normal = |c: Component| matches!(c, Component::Normal(_) | Component::ParentDir | Component::CurDir);
    if begun.starts_with('/') || begun.contains(['\\', '\0']) || !Path::new(way).components().all(normal) {
        return Vec::new();
    }
    let (Ok(root), Some(Ok(mut folder))) = (root.canonicalize(), from.parent().map(Path::canonicalize)) else {
        return Vec::new();
    };
    // The way is followed without asking the disk first, so that nothing outside is ever looked at.
    for step in Path::new(way).components() {
        match step {
            Component::ParentDir if folder == root || !folder.pop() => return Vec::new(),
            Component::Normal(name) => folder.push(name),
            _ => {}
        }
    }
    let inside = |path: &Path| path.canonicalize().is_ok_and(|path| path.starts_with(&root));
    if !folder.starts_with(&root) || !inside(&folder) {
        return Vec::new();
    }
    let own = from.canonicalize().ok();
    let one = |entry: std::io::Result<std::fs::DirEntry>| {
        let entry = entry.ok()?;
        let name = entry.file_name().into_string().ok().filter(|name| !name.starts_with('.') && !name.contains('"'))?;
        let path = entry.path();
        let folder = path.is_dir();
        let design = path.extension().is_some_and(|end| end == "stage") && path.is_file();
        let itself = own.is_some() && path.canonicalize().ok() == own;
        let name = if folder { format!("{name}/") } else { name };
        ((folder || design && !itself) && inside(&path)).then_some(Neighbour { folder, name })
    };
    let Ok(entries) = std::fs::read_dir(&folder) else { return Vec::new() };
    // A folder of very many files is not worth more than a look.
    let mut found: Vec<Neighbour> = entries.take(10_000).filter_map(one).collect();
    if folder != root && way.split('/').all(|step| step.is_empty() || step == "..") {
        found.push(Neighbour { folder: true, name: "../".into() });
    }
    found.sort();
    found.truncate(NEIGHBOURS);
    found
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
