//! Diagnostics of all designs in the client's folders that are not open: those that are have their own.
//!
//! A thread of its own looks through one file after the other, each in a workbench of its own that is gone behind it, so that a large
//! repository takes time and no memory; what was found is kept by what the file and its includes say. It tells how far it has come, sends
//! each file's report at once to a client that takes partial results, and stops when the request is taken back.

use std::borrow::Cow;
use std::collections::{BTreeSet, HashMap};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use serde_json::{Value, json};
use tower_lsp::ls_types as lsp;
use workbench::Workbench;
use workbench::editing::index::contents;

use super::bench::{Bench, View};
use super::diagnostics::diagnostic;
use super::outbox::{Outbox, json as written};
use super::position::Text;
use super::pull::{Report, report};
use super::work::{Cancel, Context, Opened};
use super::workspace::{Around, Errand, File, Files};
use crate::includes::{innermost, resolve, workspace};

/// Asks for what the folders hold.
#[derive(Debug)]
pub struct Designs;

/// What the folders hold, and what is open.
pub struct Held {
    files: Arc<Files>,
    open: Vec<(Opened, Text)>,
    context: Context,
}

impl Errand for Designs {
    type Answer = Held;
    const METHOD: &'static str = "workspace/diagnostic";
    fn compute(&self, around: &Around) -> Held {
        Held { files: around.files.clone(), open: around.open.clone(), context: Context::closed(&around.abilities) }
    }
}

/// What was found in files before, by their paths. Cheap to clone.
#[derive(Clone, Default)]
pub struct Surveyed(Arc<Mutex<HashMap<PathBuf, Kept>>>);

/// A list that was found, with what the file and all that it includes said then, in one number.
type Kept = (u64, Arc<[u8]>);

/// The request.
pub struct Survey {
    /// The names of the reports that the client has, by the addresses of their files.
    pub previous: HashMap<String, String>,
    /// Where the client wants to hear how far it has come.
    pub progress: Option<Value>,
    /// Where the client wants to have each report at once.
    pub partial: Option<Value>,
    /// To the client.
    pub outbox: Outbox,
    /// What was found before.
    pub surveyed: Surveyed,
}

impl Survey {
    /// The reports of all files; none of them if they have been sent in parts.
    pub fn run(self, held: &Held, cancel: &Cancel) -> Value {
        let open: BTreeSet<&Path> = held.open.iter().map(|(opened, _)| Path::new(&*opened.path)).collect();
        let texts = Texts::of(held);
        let closed: Vec<&Arc<File>> = held.files.by_path.values().filter(|file| !open.contains(&*file.path)).collect();
        self.tell(
            json!({ "kind": "begin", "title": "Looking through the designs", "cancellable": true, "percentage": 0 }),
        );
        let mut items = Vec::new();
        let mut told = 0;
        for (i, file) in closed.iter().enumerate() {
            if cancel.is_set() {
                break;
            }
            let percent = 100 * i / closed.len();
            if percent > told {
                told = percent;
                let message = format!("{i} of {}", closed.len());
                self.tell(json!({ "kind": "report", "message": message, "percentage": percent }));
            }
            let Some(uri) = lsp::Uri::from_file_path(&file.path) else { continue };
            if let Some(list) = self.list(file, held, &texts, cancel) {
                self.report(uri.as_str(), &list, &mut items);
            }
        }
        // What the client still has of files that are gone.
        let there = |uri: &&String| {
            let path = PathBuf::from(super::uri::path_of(uri));
            held.files.by_path.contains_key(&path) || open.contains(&*path)
        };
        for uri in self.previous.keys().filter(|uri| !there(uri)) {
            self.report(uri, b"[]", &mut items);
        }
        self.tell(json!({ "kind": "end" }));
        json!({ "items": items })
    }

    fn tell(&self, value: Value) {
        if let Some(token) = &self.progress {
            self.outbox.progress(token, value);
        }
    }

    fn report(&self, uri: &str, list: &[u8], items: &mut Vec<Value>) {
        let Report(mut item) = report(list, self.previous.get(uri).map(String::as_str));
        item["uri"] = json!(uri);
        item["version"] = Value::Null;
        match &self.partial {
            Some(token) => self.outbox.progress(token, json!({ "items": [item] })),
            None => items.push(item),
        }
    }

    /// What there is to say about a file, as JSON; nothing if it was taken back or broke off.
    fn list(&self, file: &Arc<File>, held: &Held, texts: &Texts, cancel: &Cancel) -> Option<Arc<[u8]>> {
        let says = texts.says(file);
        let kept = || self.surveyed.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, list)) = kept().get(&file.path).filter(|(said, _)| *said == says) {
            return Some(list.clone());
        }
        let path = file.path.to_string_lossy();
        let looked = catch_unwind(AssertUnwindSafe(|| looked_through(file, held, cancel)));
        let list: Arc<[u8]> = match looked {
            Ok(list) => list.into(),
            Err(payload) if workbench::cancelled(payload.as_ref()) => return None,
            Err(payload) => {
                tracing::error!(%path, "looking through a design broke off: {}", super::workers::said(payload.as_ref()));
                return None;
            }
        };
        kept().insert(file.path.clone(), (says, list.clone()));
        Some(list)
    }
}

/// All texts by their true paths, each with the files that it includes. What is open goes before the disk.
struct Texts<'a>(HashMap<&'a Path, (&'a str, Vec<Cow<'a, Path>>)>);

impl<'a> Texts<'a> {
    fn of(held: &'a Held) -> Self {
        let on_disk = held.files.by_path.values().map(|file| (&*file.real, (&*file.text, included(file).collect())));
        let folders = &held.context.abilities.folders;
        let open = held.open.iter().map(|(opened, text)| {
            let path = Path::new(&*opened.path);
            let root = innermost(folders, path).map_or_else(|| workspace(path), Path::to_path_buf);
            let named = contents(text.as_str()).includes;
            let there = named.iter().filter_map(|(_, written)| resolve(&root, path, written).ok().map(Cow::Owned));
            (path, (text.as_str(), there.collect()))
        });
        Self(on_disk.chain(open).collect())
    }

    /// What a file and all that it includes say, in one number.
    fn says(&self, file: &File) -> u64 {
        let mut hasher = DefaultHasher::new();
        let mut seen = BTreeSet::new();
        file.text.hash(&mut hasher);
        let mut waiting: Vec<Cow<Path>> = included(file).collect();
        while let Some(target) = waiting.pop() {
            if seen.contains(&target) {
                continue;
            }
            target.hash(&mut hasher);
            let known = self.0.get(&*target);
            known.map(|(text, _)| text).hash(&mut hasher);
            waiting.extend(known.iter().flat_map(|(_, includes)| includes.iter().cloned()));
            seen.insert(target);
        }
        hasher.finish()
    }
}

fn included(file: &File) -> impl Iterator<Item = Cow<'_, Path>> {
    file.includes.iter().map(|(_, target)| Cow::Borrowed(&**target))
}

fn looked_through(file: &File, held: &Held, cancel: &Cancel) -> Vec<u8> {
    let mut bench = Workbench::new();
    let path = file.path.to_string_lossy();
    for (opened, text) in &held.open {
        Bench::set_text(&mut bench, &opened.path, text.as_str().to_string());
    }
    Bench::set_text(&mut bench, &path, file.text.to_string());
    let folder = innermost(&held.context.abilities.folders, &file.path);
    let shown = |path: &str| held.open.iter().any(|(opened, _)| *opened.path == *path);
    Bench::include(&mut bench, &path, folder, &shown);
    let view = Bench::view(&bench);
    cancel.arm(Some(View::stop(&view)));
    let text = Text::new(file.text.clone(), held.context.text.encoding());
    let context = Context { path: path.as_ref().into(), text, ..held.context.clone() };
    let problems = View::reviewed(&view, &path);
    cancel.arm(None);
    let list: Vec<_> = problems.iter().map(|problem| diagnostic(problem, &context)).collect();
    written(&list)
}
