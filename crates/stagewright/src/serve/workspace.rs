//! The designs in the client's folders: what they name and what they include, read off the main path.
//!
//! A thread of its own looks through the folders and answers what is asked of all of them at once ([`Errand`]), so that neither the owner nor
//! a worker ever waits for a disk. Who wants the files themselves takes them from [`Workspace::files`]: each is shared, and
//! stands under a new pointer when its text is another.
//!
//! Bounds: plain files whose names end in `.stage`, of at most [`files::LONGEST`] bytes each, [`MOST_FILES`] of them with [`MOST_BYTES`] bytes
//! together, in at most [`DEEPEST`] levels and [`MOST_ENTRIES`] names of files and folders. Links are not followed, so nothing outside of
//! the folders is read. Left alone are hidden folders, those that say by a `CACHEDIR.TAG` that what they hold is made anew, `target` and
//! `node_modules`. What is beyond these bounds is not in the index, and [`Files::whole`] is false then.

use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::fmt::Debug;
use std::ops::Range;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant, SystemTime};

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, unbounded};
use workbench::editing::index::{Contents, contents};

use super::abilities::Abilities;
use super::elsewhere::Addressed;
use super::position::Text;
use super::schedule::ERRANDS;
use super::work::{Opened, Refusal, Reply};
use crate::commands::files;
use crate::includes;

/// So many files are read.
const MOST_FILES: usize = 5_000;

/// So many bytes are kept, all files together.
const MOST_BYTES: u64 = 64 << 20;

/// So many levels of folders are looked through.
const DEEPEST: usize = 32;

/// So many names of files and folders are looked at.
const MOST_ENTRIES: usize = 200_000;

/// A design on disk.
#[derive(Debug)]
pub struct File {
    /// Where, as the client's folder has it.
    pub path: PathBuf,
    /// Where in truth, if a link leads to the client's folder: as included files are called.
    pub real: PathBuf,
    /// What it says.
    pub text: Arc<str>,
    /// The names that it makes, and what its headings include.
    pub contents: Contents,
    /// The files that it includes, as far as they are there, each with the place of its words.
    pub includes: Vec<(Range<usize>, PathBuf)>,
    /// When it was last written, and its length.
    stamp: (Option<SystemTime>, u64),
}

/// The designs of all folders.
#[derive(Debug, Default)]
pub struct Files {
    /// By their paths.
    pub by_path: BTreeMap<PathBuf, Arc<File>>,
    /// Nothing was left out for the bounds' sake.
    pub whole: bool,
}

impl Files {
    /// The files that include one (by its true path), over all steps, in the order of their paths.
    pub fn including(&self, path: &Path) -> Vec<Arc<File>> {
        let mut by_target: HashMap<&Path, Vec<&Arc<File>>> = HashMap::new();
        for file in self.by_path.values() {
            for (_, target) in &file.includes {
                by_target.entry(target).or_default().push(file);
            }
        }
        let mut found: BTreeMap<&Path, &Arc<File>> = BTreeMap::new();
        let mut waiting = vec![path];
        while let Some(target) = waiting.pop() {
            for file in by_target.get(target).into_iter().flatten() {
                if found.insert(&file.path, file).is_none() {
                    waiting.push(&file.real);
                }
            }
        }
        found.into_values().cloned().collect()
    }
}

/// What an errand is given.
pub struct Around {
    /// The designs on disk.
    pub files: Arc<Files>,
    /// The open documents, which go before the disk.
    pub open: Vec<(Opened, Text)>,
    /// What the client can do.
    pub abilities: Arc<Abilities>,
}

/// A design that is known: open, or on disk.
pub struct Known<'a> {
    /// Where.
    pub path: &'a Path,
    /// What it says.
    pub text: Text,
    /// The names that it makes, and what it includes.
    pub contents: Cow<'a, Contents>,
    /// The open document, where it is one.
    pub open: Option<&'a Opened>,
}

impl Known<'_> {
    /// The document, as a client is told of it.
    pub fn addressed(&self) -> Option<Addressed> {
        Addressed::of(self.path, self.open)
    }
}

impl Around {
    /// All designs: first those that are open, then the others in the order of their paths.
    pub fn designs(&self) -> impl Iterator<Item = Known<'_>> {
        let shown: HashSet<&Path> = self.open.iter().map(|(o, _)| Path::new(&*o.path)).collect();
        let open = self.open.iter().map(|(opened, text)| Known {
            path: Path::new(&*opened.path),
            text: text.clone(),
            contents: Cow::Owned(contents(text.as_str())),
            open: Some(opened),
        });
        let encoding = self.abilities.encoding;
        let closed = self.files.by_path.values().filter(move |f| !shown.contains(&*f.path));
        open.chain(closed.map(move |f| Known {
            path: &f.path,
            text: Text::new(f.text.clone(), encoding),
            contents: Cow::Borrowed(&f.contents),
            open: None,
        }))
    }
}

/// What a client may ask of all designs at once. One file a feature.
pub trait Errand: Debug + Send + 'static {
    /// The answer.
    type Answer: Send + 'static;
    /// The method's name in the protocol, which stands in the scheduling table.
    const METHOD: &'static str;
    /// The parameters, for the log.
    fn describe(&self) -> String {
        format!("{self:?}")
    }
    /// Computes the answer.
    fn compute(&self, around: &Around) -> Self::Answer;
}

/// An errand with its reply, whatever its answer is.
pub struct AskedErrand {
    run: Box<dyn FnOnce(&Around) + Send>,
    what: String,
    budget: u64,
}

impl AskedErrand {
    /// An errand to be put to the owner of the state.
    pub fn new<E: Errand>(errand: E, reply: Reply<E::Answer>) -> Self {
        let what = errand.describe();
        let budget = ERRANDS.iter().find(|(method, _)| *method == E::METHOD).map_or(0, |(_, budget)| *budget);
        let run = move |around: &Around| {
            if !reply.is_wanted() {
                return reply.send(Err(Refusal::Cancelled));
            }
            let answer = errand.compute(around);
            reply.send(Ok(answer));
        };
        Self { run: Box::new(run), what, budget }
    }
}

enum Order {
    Folders(Vec<PathBuf>),
    Changed,
    /// Somebody is about to ask. Where nobody tells of changes on disk, it is to be looked at first if that was longer ago than this.
    Look(Option<Duration>),
    Errand(Box<dyn FnOnce(Arc<Files>) -> Around + Send>, AskedErrand),
    Then(Box<dyn FnOnce() + Send>),
}

/// The owner's handle. The thread ends when this is dropped.
#[derive(Default)]
pub struct Workspace {
    orders: Option<Sender<Order>>,
    files: Arc<Mutex<Arc<Files>>>,
    folders: Vec<PathBuf>,
}

impl Workspace {
    /// The designs as they were last read.
    pub fn files(&self) -> Arc<Files> {
        self.files.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Looks through these folders, and no others.
    pub fn look_through(&mut self, folders: &[PathBuf]) {
        if self.folders != folders {
            self.folders = folders.to_vec();
            self.order(Order::Folders(folders.to_vec()));
        }
    }

    /// Something changed on disk.
    pub fn changed(&mut self) {
        if !self.folders.is_empty() {
            self.order(Order::Changed);
        }
    }

    /// Does something once the folders have been looked through; at once without folders. `at_most` says how old the look may be where nobody
    /// tells of changes.
    pub fn then(&mut self, at_most: Option<Duration>, what: impl FnOnce() + Send + 'static) {
        if self.folders.is_empty() {
            return what();
        }
        self.order(Order::Look(at_most));
        self.order(Order::Then(Box::new(what)));
    }

    /// Runs an errand with what the owner has of the open documents.
    pub fn run(
        &mut self,
        at_most: Option<Duration>,
        errand: AskedErrand,
        around: impl FnOnce(Arc<Files>) -> Around + Send + 'static,
    ) {
        if !self.folders.is_empty() {
            self.order(Order::Look(at_most));
        }
        self.order(Order::Errand(Box::new(around), errand));
    }

    fn order(&mut self, order: Order) {
        let files = self.files.clone();
        let orders = self.orders.get_or_insert_with(|| {
            let (send, orders) = unbounded();
            let reader = Reader { orders, files, folders: Vec::new(), stale: false, looked: None };
            thread::Builder::new()
                .name("workspace".into())
                .stack_size(16 << 20)
                .spawn(move || reader.run())
                .expect("the system gives the server its threads");
            send
        });
        let _ = orders.send(order);
    }
}

/// The folders are looked through when nothing has been told of them for so long, or when somebody asks: a start of the server, and a burst of
/// changes, go on undisturbed.
const QUIET: Duration = Duration::from_millis(400);

/// The thread that reads.
struct Reader {
    orders: Receiver<Order>,
    files: Arc<Mutex<Arc<Files>>>,
    folders: Vec<PathBuf>,
    /// The disk is known to say something else than what was read.
    stale: bool,
    /// When it was last looked at.
    looked: Option<Instant>,
}

impl Reader {
    fn run(mut self) {
        loop {
            let next = match self.stale {
                true => self.orders.recv_timeout(QUIET),
                false => self.orders.recv().map_err(|_| RecvTimeoutError::Disconnected),
            };
            // What breaks off here takes one answer with it.
            let done = match next {
                Ok(order) => catch_unwind(AssertUnwindSafe(|| self.take(order))),
                Err(RecvTimeoutError::Timeout) => catch_unwind(AssertUnwindSafe(|| self.read())),
                Err(RecvTimeoutError::Disconnected) => return,
            };
            if let Err(payload) = done {
                tracing::error!("looking through the folders broke off: {}", super::workers::said(payload.as_ref()));
            }
        }
    }

    fn take(&mut self, order: Order) {
        match order {
            Order::Folders(folders) => {
                self.folders = folders;
                self.stale = true;
            }
            Order::Changed => self.stale = true,
            Order::Look(at_most) => {
                if self.stale || at_most.is_some_and(|age| self.looked.is_none_or(|at| at.elapsed() > age)) {
                    self.read();
                }
            }
            Order::Errand(around, errand) => {
                tracing::debug!(errand = errand.what, "asked of all designs");
                let files = self.files.lock().unwrap_or_else(PoisonError::into_inner).clone();
                let around = around(files);
                let began = Instant::now();
                (errand.run)(&around);
                let (took, budget) = (began.elapsed(), Duration::from_millis(errand.budget));
                if took > budget {
                    tracing::info!(errand = errand.what, ?took, ?budget, "over its budget");
                }
            }
            Order::Then(what) => what(),
        }
    }

    /// Reads what is there; a file that was not written since is kept as it is.
    fn read(&mut self) {
        self.stale = false;
        let before = self.files.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let read = look(&self.folders, &before);
        *self.files.lock().unwrap_or_else(PoisonError::into_inner) = Arc::new(read);
        self.looked = Some(Instant::now());
    }
}

/// Looks through folders.
pub fn look(folders: &[PathBuf], before: &Files) -> Files {
    let mut found = Files { by_path: BTreeMap::new(), whole: true };
    let mut bytes = 0;
    let mut entries = 0;
    for root in folders {
        let mut waiting = vec![(root.clone(), 0)];
        while let Some((folder, depth)) = waiting.pop() {
            let Ok(listed) = std::fs::read_dir(&folder) else { continue };
            let mut listed: Vec<_> = listed.flatten().take(MOST_ENTRIES - entries + 1).collect();
            entries += listed.len();
            if entries > MOST_ENTRIES {
                found.whole = false;
                return found;
            }
            listed.sort_by_key(std::fs::DirEntry::file_name);
            // The first folder is looked through first.
            for entry in listed.iter().rev() {
                if entry.file_type().is_ok_and(|t| t.is_dir()) && !passed_over(entry) {
                    if depth < DEEPEST {
                        waiting.push((entry.path(), depth + 1));
                    } else {
                        found.whole = false;
                    }
                }
            }
            for entry in listed {
                let path = entry.path();
                let design = path.extension().is_some_and(|e| e == "stage");
                if !design || !entry.file_type().is_ok_and(|t| t.is_file()) || found.by_path.contains_key(&path) {
                    continue;
                }
                if found.by_path.len() >= MOST_FILES {
                    found.whole = false;
                    return found;
                }
                let Ok(about) = entry.metadata() else { continue };
                if about.len() > files::LONGEST || bytes + about.len() > MOST_BYTES {
                    found.whole = false;
                    continue;
                }
                let stamp = (about.modified().ok(), about.len());
                if let Some(file) = read(root, &path, stamp, before) {
                    bytes += file.text.len() as u64;
                    found.by_path.insert(path, file);
                }
            }
        }
    }
    found
}

/// Whether a folder is left alone.
fn passed_over(folder: &std::fs::DirEntry) -> bool {
    let name = folder.file_name();
    let name = name.to_string_lossy();
    name.starts_with('.') || matches!(&*name, "target" | "node_modules") || folder.path().join("CACHEDIR.TAG").is_file()
}

fn read(root: &Path, path: &Path, stamp: (Option<SystemTime>, u64), before: &Files) -> Option<Arc<File>> {
    let known = before.by_path.get(path).filter(|f| f.stamp == stamp && stamp.0.is_some());
    let (text, contents) = match known {
        Some(file) => (file.text.clone(), None),
        None => {
            let text: Arc<str> = String::from_utf8(files::plain(path).ok()?).ok()?.into();
            let contents = contents(&text);
            (text, Some(contents))
        }
    };
    let named = contents.as_ref().or(known.map(|f| &f.contents))?;
    // What an include names may come and go without the file.
    let resolved =
        |(range, written): &(Range<usize>, String)| Some((range.clone(), includes::resolve(root, path, written).ok()?));
    let includes: Vec<_> = named.includes.iter().filter_map(resolved).collect();
    if let Some(file) = known.filter(|f| f.includes == includes) {
        return Some(file.clone());
    }
    let contents = named.clone();
    let real = path.canonicalize().unwrap_or_else(|_| path.to_path_buf());
    Some(Arc::new(File { path: path.to_path_buf(), real, text, contents, includes, stamp }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(files: &Files, root: &Path) -> Vec<String> {
        let own = |p: &PathBuf| p.strip_prefix(root).unwrap_or(p).to_string_lossy().into_owned();
        files.by_path.keys().map(own).collect()
    }

    #[test]
    fn designs_are_found_and_what_is_not_ours_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().canonicalize().unwrap();
        let write = |name: &str, text: &str| {
            let path = root.join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, text).unwrap();
        };
        for name in ["a.stage", "below/b.stage", ".hidden/c.stage", "target/d.stage", "node_modules/e.stage", "f.txt"] {
            write(name, "stage bell: in -> out\n");
        }
        write("made/CACHEDIR.TAG", "Signature: 8a477f597d28d172789f06886806bc55");
        write("made/g.stage", "stage bell: in -> out\n");
        std::fs::write(root.join("bytes.stage"), [0xff, 0xfe]).unwrap();
        let files = look(std::slice::from_ref(&root), &Files::default());
        assert_eq!(names(&files, &root), ["a.stage", "below/b.stage"]);
        assert!(files.whole);

        // A file that was not written since is the same one, a new text is another, and what is gone is gone.
        write("below/b.stage", "stage horn: in -> out\nstage drum: a -> b\n");
        std::fs::remove_file(root.join("a.stage")).unwrap();
        write("c.stage", "include \"below/b.stage\"\n");
        let again = look(std::slice::from_ref(&root), &files);
        assert_eq!(names(&again, &root), ["below/b.stage", "c.stage"]);
        let b = root.join("below/b.stage");
        assert!(!Arc::ptr_eq(&files.by_path[&b], &again.by_path[&b]));
        let third = look(std::slice::from_ref(&root), &again);
        assert!(Arc::ptr_eq(&third.by_path[&b], &again.by_path[&b]));
        let including = again.including(&b);
        assert_eq!(including.iter().map(|f| f.path.clone()).collect::<Vec<_>>(), [root.join("c.stage")]);
    }

    #[cfg(unix)]
    #[test]
    fn links_and_circles_of_folders_are_not_followed() {
        let outside = tempfile::tempdir().unwrap();
        std::fs::write(outside.path().join("far.stage"), "stage far: in -> out\n").unwrap();
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().canonicalize().unwrap();
        std::fs::write(root.join("near.stage"), "stage near: in -> out\n").unwrap();
        std::os::unix::fs::symlink(outside.path(), root.join("away")).unwrap();
        std::os::unix::fs::symlink(outside.path().join("far.stage"), root.join("far.stage")).unwrap();
        std::os::unix::fs::symlink(&root, root.join("round")).unwrap();
        let files = look(&[root.clone(), root.join("nowhere")], &Files::default());
        assert_eq!(names(&files, &root), ["near.stage"]);
    }
}
