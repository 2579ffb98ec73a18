//! `compare`: two revisions of a design side by side.

use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode};

use serde_json::json;
use workbench::Workbench;
use workbench::compared::{Comparison, Effect, Turn, compare};

use super::output::{complain, finish, visible};
use super::{CLEAN, Compare, FAILED, Format, PROBLEMS, files};

/// Runs the command.
pub fn run(args: &Compare) -> ExitCode {
    match compared(args) {
        Ok(code) => code,
        Err(why) => {
            complain(&why);
            // A driver that fails stops all of git's difference.
            ExitCode::from(if args.driver { CLEAN } else { FAILED })
        }
    }
}

/// A revision: where its text stands, in which folder its includes are looked for, and how it is called.
struct Side {
    text: String,
    file: PathBuf,
    root: PathBuf,
}

impl Side {
    fn of(file: &Path) -> Result<Side, String> {
        Ok(Side { text: files::text(file)?, file: file.to_path_buf(), root: crate::includes::workspace(file) })
    }

    fn opened(&self) -> Workbench {
        let mut bench = Workbench::new();
        crate::includes::open_below(&mut bench, &self.file, &self.root, self.text.clone());
        bench
    }
}

fn compared(args: &Compare) -> Result<ExitCode, String> {
    // What was taken out of git is gone with this.
    let mut taken = None;
    let (old, new) = match (&args.git, args.driver, &args.files[..]) {
        (Some(rev), false, [file]) => {
            let new = Side::of(file)?;
            let folder =
                tempfile::tempdir().map_err(|e| format!("no temporary folder could be made: {}", files::reason(&e)))?;
            let old = revision(rev, file, folder.path())?;
            taken = Some(folder);
            (old, new)
        }
        (Some(_), false, _) => {
            return Err("with --git there is one design: its older state comes from the revision".into());
        }
        // path, old file, its hash, its mode, new file, its hash, its mode; a file that is renamed has two arguments more.
        (None, true, [path, old, _, _, new, ..]) => {
            let (old, new) = (driven(path, old)?, driven(path, new)?);
            (old, new)
        }
        (None, true, _) => return Err("--driver is for git, which gives seven arguments".into()),
        (None, false, [old, new]) => (Side::of(old)?, Side::of(new)?),
        _ => return Err("two designs are compared, the older one first; or one with --git REV".into()),
    };
    let (before, after) = (old.opened().snapshot(), new.opened().snapshot());
    let (a, b) = (old.file.to_string_lossy(), new.file.to_string_lossy());
    let found = compare((&before, &a), (&after, &b)).ok_or("the designs could not be read")?;
    drop(taken);
    let changed = !found.changes.is_empty() || !found.effects.is_empty();
    let worse = found.effects.iter().any(|e| e.turn == Turn::Worse);
    let code = match (args.driver, args.worse) {
        (true, _) => CLEAN,
        (_, true) => {
            if worse {
                PROBLEMS
            } else {
                CLEAN
            }
        }
        _ => {
            if changed {
                PROBLEMS
            } else {
                CLEAN
            }
        }
    };
    let mut page = String::new();
    if args.driver {
        page = format!("{}\n", args.files[0].display());
    }
    page += &match args.format {
        Format::Text => text(&found),
        Format::Json => json(&found),
    };
    Ok(finish(&page, code))
}

/// A file that git gives to its driver: a temporary one of no folder of its own, or none.
fn driven(path: &Path, file: &Path) -> Result<Side, String> {
    let text = if file == Path::new("/dev/null") { String::new() } else { files::text(file)? };
    Ok(Side { text, file: path.to_path_buf(), root: crate::includes::workspace(path) })
}

/// The design as it stood at a revision, with all designs of the repository at that time put below a folder.
fn revision(rev: &str, file: &Path, below: &Path) -> Result<Side, String> {
    if rev.starts_with('-') {
        return Err(format!("{rev} is no revision"));
    }
    let full = file.canonicalize().map_err(|e| format!("{} cannot be read: {}", file.display(), files::reason(&e)))?;
    let folder = full.parent().unwrap_or(Path::new("/")).to_path_buf();
    let top = git(&folder, &["rev-parse", "--show-toplevel"], None)
        .map_err(|_| format!("{} is in no repository of git", file.display()))?;
    let top = PathBuf::from(top.trim_end_matches(['\n', '\r'])).canonicalize().map_err(|e| files::reason(&e))?;
    let own = full.strip_prefix(&top).map_err(|_| format!("{} lies outside its repository", file.display()))?;
    let commit =
        git(&top, &["rev-parse", "--verify", "--quiet", "--end-of-options", &format!("{rev}^{{commit}}")], None)
            .map_err(|_| format!("there is no revision {rev} here"))?;
    let commit = commit.trim();
    // An index of its own, so that the repository's stays as it is.
    let index = below.join("index");
    git(&top, &["read-tree", commit], Some(&index))?;
    let tree = below.join("tree");
    std::fs::create_dir(&tree).map_err(|e| files::reason(&e))?;
    let listed = git(&top, &["ls-files", "-z", "--", "*.stage"], Some(&index))?;
    let wanted: Vec<&str> = listed.split('\0').filter(|name| !name.is_empty()).collect();
    let name = own.to_string_lossy().replace('\\', "/");
    if !wanted.contains(&&*name) {
        return Err(format!("{name} did not exist at {rev}"));
    }
    let prefix = format!("--prefix={}/", tree.display());
    for some in wanted.chunks(200) {
        let mut arguments = vec!["checkout-index", "--quiet", &prefix, "--"];
        arguments.extend(some);
        git(&top, &arguments, Some(&index))?;
    }
    let file = tree.join(own);
    Ok(Side { text: files::text(&file)?, file, root: tree })
}

/// Asks git.
fn git(folder: &Path, arguments: &[&str], index: Option<&Path>) -> Result<String, String> {
    let mut command = Command::new("git");
    command.args(arguments).current_dir(folder);
    if let Some(index) = index {
        command.env("GIT_INDEX_FILE", index);
    }
    let done = command.output().map_err(|e| format!("git could not be started: {}", files::reason(&e)))?;
    if done.status.success() {
        String::from_utf8(done.stdout).map_err(|_| "git answered with what is no text".into())
    } else {
        let said = String::from_utf8_lossy(&done.stderr);
        Err(format!("git: {}", visible(said.lines().next().unwrap_or("it failed"))))
    }
}

/// The page: what was changed, then what follows, each change's own effects below it.
fn text(found: &Comparison) -> String {
    if found.changes.is_empty() && found.effects.is_empty() {
        let names: String = found.renamed.iter().map(|r| format!("{}\n", visible(r))).collect();
        return format!("{names}nothing of the circuit or its argument changed\n");
    }
    let mut out = String::new();
    for said in &found.renamed {
        out += &format!("{}\n", visible(said));
    }
    let at = |line: Option<u32>| line.map_or_else(String::new, |l| format!("  (line {})", l + 1));
    for change in &found.changes {
        out += &format!("{}{}\n", visible(&change.said), at(change.line));
    }
    if found.effects.is_empty() {
        return out + "\nnothing reads otherwise\n";
    }
    // What has the same cause stands together, in the order in which the causes come first.
    let mut causes: Vec<&[usize]> = Vec::new();
    for effect in &found.effects {
        if !causes.contains(&&effect.because[..]) {
            causes.push(&effect.because);
        }
    }
    for cause in causes {
        let names: Vec<&str> = cause.iter().map(|k| found.changes[*k].name.as_str()).collect();
        let head = match &names[..] {
            [] => "because of several of these together, or over tolerance".into(),
            [one] => format!("because of {one}"),
            [head @ .., last] => format!("because of {} and {last}, each by itself", head.join(", ")),
        };
        out += &format!("\n{}\n", visible(&head));
        for effect in found.effects.iter().filter(|e| e.because == cause) {
            out += &visible(&said(effect));
            out.push('\n');
        }
    }
    let count = |turn| found.effects.iter().filter(|e| e.turn == turn).count();
    let (worse, better) = (count(Turn::Worse), count(Turn::Better));
    out + &format!("\n{} read otherwise: {worse} worse, {better} better\n", found.effects.len())
}

/// `  stage preamp: 12.0 dB → 14.3 dB`; of a label of several figures those that changed.
fn said(effect: &Effect) -> String {
    let mark = match effect.turn {
        Turn::Worse => "- ",
        Turn::Better => "+ ",
        Turn::Other => "  ",
    };
    match (&effect.old, &effect.new) {
        (Some(old), Some(new)) => {
            let (a, b): (Vec<&str>, Vec<&str>) = (old.split(" · ").collect(), new.split(" · ").collect());
            let each = if a.len() == b.len() {
                let turned = a.iter().zip(&b).filter(|(a, b)| a != b).map(|(a, b)| format!("{a} → {b}"));
                turned.collect::<Vec<_>>().join(" · ")
            } else {
                format!("{old} → {new}")
            };
            format!("{mark}{}: {each}", effect.about)
        }
        (None, Some(new)) => format!("{mark}{}, new: {new}", effect.about),
        (Some(old), None) => format!("{mark}{}, no longer: {old}", effect.about),
        (None, None) => String::new(),
    }
}

fn json(found: &Comparison) -> String {
    let line = |line: Option<u32>| line.map(|l| l + 1);
    let changes: Vec<_> =
        found.changes.iter().map(|c| json!({ "name": c.name, "change": c.said, "line": line(c.line) })).collect();
    let turn = |turn| match turn {
        Turn::Worse => "worse",
        Turn::Better => "better",
        Turn::Other => "other",
    };
    let effects: Vec<_> = found
        .effects
        .iter()
        .map(|e| {
            let because: Vec<&str> = e.because.iter().map(|k| found.changes[*k].name.as_str()).collect();
            json!({ "about": e.about, "old": e.old, "new": e.new, "line": line(e.line), "turn": turn(e.turn), "because": because })
        })
        .collect();
    let page = json!({ "renamed": found.renamed, "changes": changes, "effects": effects });
    format!("{}\n", serde_json::to_string_pretty(&page).expect("strings and numbers are JSON"))
}
