//! Files and folders are about to get other names: the `include` headings that name them follow.

use std::ops::Range;
use std::path::{Component, Path, PathBuf};

use tower_lsp::ls_types as lsp;
use workbench::Edit;

use super::elsewhere::{Changed, workspace_edit};
use super::uri::path_of;
use super::workspace::{Around, Errand};

/// The request.
#[derive(Debug)]
pub struct Moving {
    /// Addresses before and after, of files and of folders.
    pub moves: Vec<(String, String)>,
}

impl Errand for Moving {
    type Answer = Option<lsp::WorkspaceEdit>;
    const METHOD: &'static str = "workspace/willRenameFiles";
    fn compute(&self, around: &Around) -> Self::Answer {
        let path = |uri: &String| plain(Path::new(&path_of(uri)));
        let moves: Vec<(PathBuf, PathBuf)> = self.moves.iter().map(|(old, new)| (path(old), path(new))).collect();
        let mut changes = Vec::new();
        for known in around.designs().filter(|known| known.path.is_absolute()) {
            let edits = followed(known.path, &known.contents.includes, &moves);
            if let Some(document) = known.addressed().filter(|_| !edits.is_empty()) {
                let label = "includes follow their files".to_string();
                changes.push(Changed { document, text: known.text, edits, label });
            }
        }
        (!changes.is_empty()).then(|| workspace_edit(changes, &around.abilities))
    }
}

/// The edits of one file's `include` headings: what is named moves, or the file itself does, or both.
fn followed(path: &Path, includes: &[(Range<usize>, String)], moves: &[(PathBuf, PathBuf)]) -> Vec<Edit> {
    let path = plain(path);
    let own = moved(&path, moves);
    let (Some(folder), Some(new_folder)) = (path.parent(), own.parent()) else { return Vec::new() };
    let one = |(range, written): &(Range<usize>, String)| {
        if written.is_empty() || written.contains('\\') || Path::new(written).is_absolute() {
            return None;
        }
        let target = plain(&folder.join(written));
        let new_target = moved(&target, moves);
        if plain(&new_folder.join(written)) == new_target {
            return None;
        }
        let text = way(new_folder, &new_target)?;
        // A quoted text ends at the first mark and at the line's end.
        (!text.contains(['"', '\n', '\r', '\\'])).then(|| Edit { range: range.clone(), text })
    };
    includes.iter().filter_map(one).collect()
}

/// Where a path leads after the moves; of a folder in a folder the innermost counts.
fn moved(path: &Path, moves: &[(PathBuf, PathBuf)]) -> PathBuf {
    let fits = moves.iter().filter(|(old, _)| path.starts_with(old));
    match fits.max_by_key(|(old, _)| old.components().count()) {
        Some((old, new)) => match path.strip_prefix(old) {
            Ok(rest) if rest.as_os_str().is_empty() => new.clone(),
            Ok(rest) => new.join(rest),
            Err(_) => path.to_path_buf(),
        },
        None => path.to_path_buf(),
    }
}

/// A path without `.` and `..`, as it is written; no disk is asked.
fn plain(path: &Path) -> PathBuf {
    let mut out = PathBuf::new();
    for component in path.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir => drop(out.pop()),
            other => out.push(other),
        }
    }
    out
}

/// The way from a folder to a file, as an `include` writes it.
fn way(from: &Path, to: &Path) -> Option<String> {
    let (from, to): (Vec<_>, Vec<_>) = (from.components().collect(), to.components().collect());
    let same = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    if same == 0 {
        return None;
    }
    let up = std::iter::repeat_n("..".to_string(), from.len() - same);
    let down = to[same..].iter().map(|c| c.as_os_str().to_string_lossy().into_owned());
    Some(up.chain(down).collect::<Vec<_>>().join("/"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(file: &str, written: &str, moves: &[(&str, &str)]) -> Option<String> {
        let moves: Vec<_> = moves.iter().map(|(a, b)| (PathBuf::from(a), PathBuf::from(b))).collect();
        followed(Path::new(file), &[(0..1, written.to_string())], &moves).pop().map(|e| e.text)
    }

    #[test]
    fn an_include_follows_its_file() {
        let one = [("/w/shelf.stage", "/w/parts/shelf.stage")];
        assert_eq!(after("/w/weir.stage", "shelf.stage", &one).as_deref(), Some("parts/shelf.stage"));
        assert_eq!(after("/w/deep/weir.stage", "../shelf.stage", &one).as_deref(), Some("../parts/shelf.stage"));
        assert_eq!(after("/w/weir.stage", "other.stage", &one), None);
        let folder = [("/w/parts", "/w/stock")];
        assert_eq!(after("/w/weir.stage", "parts/a/shelf.stage", &folder).as_deref(), Some("stock/a/shelf.stage"));
        // What goes along with what it includes names it as before; a name that begins the same is another.
        assert_eq!(after("/w/parts/weir.stage", "a/shelf.stage", &folder), None);
        assert_eq!(after("/w/weir.stage", "parts2/shelf.stage", &folder), None);
    }

    #[test]
    fn a_file_that_moves_finds_what_it_includes() {
        let own = [("/w/weir.stage", "/w/deep/weir.stage")];
        assert_eq!(after("/w/weir.stage", "shelf.stage", &own).as_deref(), Some("../shelf.stage"));
        assert_eq!(after("/w/weir.stage", "./deep/shelf.stage", &own).as_deref(), Some("shelf.stage"));
        let both = [("/w/weir.stage", "/w/x/weir.stage"), ("/w/shelf.stage", "/w/x/shelf.stage")];
        assert_eq!(after("/w/weir.stage", "shelf.stage", &both), None);
        assert_eq!(after("/w/weir.stage", "", &own), None);
        // What cannot stand between quotes is left to the person.
        assert_eq!(after("/w/a.stage", "shelf.stage", &[("/w/shelf.stage", "/w/a \"b\".stage")]), None);
    }
}
