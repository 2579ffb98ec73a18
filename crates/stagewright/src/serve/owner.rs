//! The one owner of the state: the open documents and the workbench. Everything else sends to it, and nothing here waits for an answer.
//!
//! A turn drains the queue first, applying edits at once and in order and keeping requests aside; then the workbench is told each
//! text that changed, once; then the newest texts are checked and the requests are handed to the workers, or refused where a newer
//! text of the same turn has overtaken them.

use std::collections::{BTreeSet, HashMap, HashSet};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

use std::str::FromStr;

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, unbounded};

use tower_lsp::ls_types::Uri;

use super::abilities::Abilities;
use super::bench::{Bench, View};
use super::check::{Check, Checked, Depth, METHOD as PUBLISH};
use super::document::{Change, Document};
use super::outbox::{Outbox, json};
use super::pages;
use super::progress::{Place, Progress, Running, Teller};
use super::schedule::{Lane, Overtaken};
use super::settings::{Builds, Settings, section};
use super::uri::path_of;
use super::work::{Cancel, Context, Opened, Reach, Refusal, Tell, Work};
use super::workers::{Batch, Broken, Job, Workers};
use super::workspace::{Around, AskedErrand, File, Workspace};
use crate::includes::innermost;

/// What the owner is told.
pub enum Event<V: View> {
    /// The client has said what it can do, and what it wishes.
    Begin(Abilities, serde_json::Value),
    /// What it wishes now.
    Settings(serde_json::Value),
    /// It wishes something else, which it has to be asked.
    AskSettings,
    /// A document was opened.
    Open {
        /// As the client names it.
        uri: String,
        /// The client's count.
        version: i32,
        /// All of it.
        text: String,
    },
    /// A document changed.
    Change {
        /// As the client names it.
        uri: String,
        /// The client's count, after the changes.
        version: i32,
        /// Each on the text that the one before it left.
        changes: Vec<Change>,
    },
    /// A document was saved.
    Save(String),
    /// A document was closed.
    Close(String),
    /// Files changed on disk: by their addresses.
    Disk(Vec<String>),
    /// Folders came to the client's workspace, and folders went: by their paths.
    Folders(Vec<PathBuf>, Vec<PathBuf>),
    /// The client is ready to be asked for something.
    Ready,
    /// A page is to be shown.
    Show(pages::Shown),
    /// The client asks something.
    Ask(Box<dyn Work<V>>),
    /// The client asks something of all designs.
    Errand(AskedErrand),
    /// A newer text overtook work on this version.
    Overtaken(Box<dyn Work<V>>, i32),
    /// A document was looked through.
    Checked(Checked),
    /// The client has been given the diagnostics of that name of a document's version.
    Pulled(String, i32, String),
    /// The client can take no more.
    End,
}

/// The client's side, as far as the owner asks anything of it.
pub trait Client: Send + 'static {
    /// Asks it to fetch its hints again. Does not wait.
    fn refresh_hints(&self);
    /// Asks it to fetch its lenses again. Does not wait.
    fn refresh_lenses(&self) {}
    /// Asks it to show a document. Does not wait.
    fn show_document(&self, _uri: tower_lsp::ls_types::Uri) {}
    /// Asks it to ask for diagnostics again. Does not wait.
    fn refresh_diagnostics(&self) {}
    /// Asks it to tell when designs on disk change. Does not wait.
    fn watch_files(&self) {}
    /// How it is asked for a place to show progress.
    fn place(&self) -> Place {
        Arc::new(|_| false)
    }
    /// Asks it to tell when its configuration changes. Does not wait.
    fn hear_settings(&self) {}
    /// Asks it for its configuration, which comes as an event. Does not wait.
    fn ask_settings(&self) {}
}

/// What work tells, on its way.
struct Told<V: View> {
    owner: Sender<Event<V>>,
    teller: Teller,
}

impl<V: View> Tell for Told<V> {
    fn checked(&self, found: Checked) {
        let _ = self.owner.send(Event::Checked(found));
    }
    fn pulled(&self, uri: &str, version: i32, name: String) {
        let _ = self.owner.send(Event::Pulled(uri.to_string(), version, name));
    }
    fn progress(&self, title: &str, cancel: Cancel) -> Progress {
        self.teller.begin(title, cancel)
    }
}

struct Owner<B: Bench, C: Client> {
    bench: B,
    client: C,
    outbox: Outbox,
    /// Its own door, for what comes back later.
    /// To itself, for what goes a way round.
    sender: Sender<Event<B::View>>,
    /// What the work tells goes through it.
    tell: Arc<dyn Tell>,
    workers: Workers<B::View>,
    abilities: Arc<Abilities>,
    settings: Arc<Settings>,
    /// What the client wished with its first message.
    begun: serde_json::Value,
    /// The folders that are open in the client.
    folders: Vec<PathBuf>,
    documents: HashMap<String, Document>,
    /// Documents whose newest text the workbench has not got yet.
    changed: BTreeSet<String>,
    /// Documents to look through, though their text did not change.
    recheck: BTreeSet<String>,
    /// What was asked in this turn, each with the version that it was asked of.
    asked: Vec<Asked<B::View>>,
    /// The designs in those folders.
    workspace: Workspace,
    /// Files that nobody has open, in the workbench because they include what somebody has: by their names there.
    above: HashMap<String, Arc<str>>,
    /// The documents as other documents' answers speak of them.
    open: Arc<[Opened]>,
    ended: bool,
}

/// How old a look at the folders may be where nobody tells of changes on disk, and nothing is written by it.
const GLANCE: Duration = Duration::from_secs(2);

/// A document as other documents' answers speak of it.
fn opened(d: &Document) -> Opened {
    Opened { uri: d.uri.clone(), path: d.path.clone(), version: d.version }
}

/// Work with the version that it was asked of, if its document was open then.
type Asked<V> = (Box<dyn Work<V>>, Option<i32>);

/// Starts the owner on a thread of its own.
pub fn start<B: Bench, C: Client>(
    bench: B,
    client: impl FnOnce(Sender<Event<B::View>>) -> C,
    outbox: Outbox,
    running: Running,
) -> Sender<Event<B::View>> {
    let (sender, events) = unbounded();
    let client = client(sender.clone());
    let owner = Owner {
        bench,
        sender: sender.clone(),
        tell: Arc::new(Told {
            owner: sender.clone(),
            teller: Teller { outbox: outbox.clone(), running, place: client.place() },
        }),
        client,
        outbox: outbox.clone(),
        workers: Workers::start(sender.clone(), outbox),
        abilities: Arc::default(),
        settings: Arc::default(),
        begun: serde_json::Value::Null,
        folders: Vec::new(),
        documents: HashMap::new(),
        changed: BTreeSet::new(),
        recheck: BTreeSet::new(),
        asked: Vec::new(),
        workspace: Workspace::default(),
        above: HashMap::new(),
        open: Arc::default(),
        ended: false,
    };
    thread::Builder::new()
        .name("owner".into())
        .spawn(move || owner.run(events))
        .expect("the system gives the server its threads");
    sender
}

impl<B: Bench, C: Client> Owner<B, C> {
    fn run(mut self, events: Receiver<Event<B::View>>) {
        while !self.ended {
            match self.next(&events) {
                Ok(event) => self.fenced("event", |owner| owner.take(event)),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return,
            }
            self.drain(&events);
            self.fenced("turn", |owner| owner.turn(&events));
        }
    }

    fn drain(&mut self, events: &Receiver<Event<B::View>>) {
        while let Ok(event) = events.try_recv() {
            self.fenced("event", |owner| owner.take(event));
        }
    }

    fn next(&self, events: &Receiver<Event<B::View>>) -> Result<Event<B::View>, RecvTimeoutError> {
        let times =
            |document: &Document| document.rests_at.into_iter().chain(document.review_at).chain(document.build_at);
        match self.documents.values().flat_map(times).min() {
            Some(at) => events.recv_deadline(at),
            None => events.recv().map_err(|_| RecvTimeoutError::Disconnected),
        }
    }

    fn fenced(&mut self, what: &'static str, work: impl FnOnce(&mut Self)) {
        if let Err(payload) = catch_unwind(AssertUnwindSafe(|| work(self))) {
            let broken = Broken { method: "the owner's own work", params: what.to_string(), document: None };
            broken.log(payload.as_ref(), &self.outbox);
        }
    }

    fn take(&mut self, event: Event<B::View>) {
        match event {
            Event::Begin(abilities, wishes) => {
                self.folders.clone_from(&abilities.folders);
                self.workspace.look_through(&self.folders);
                self.abilities = Arc::new(abilities);
                self.begun = section(&wishes).clone();
                self.wish(&serde_json::json!({}));
            }
            Event::Ready => {
                if self.abilities.watches_files {
                    self.client.watch_files();
                }
                if self.abilities.tells_configuration {
                    self.client.hear_settings();
                }
                if self.abilities.configuration {
                    self.client.ask_settings();
                }
            }
            Event::Settings(wishes) => self.wish(&wishes),
            Event::AskSettings if self.abilities.configuration => self.client.ask_settings(),
            Event::AskSettings => {}
            Event::Disk(uris) => {
                self.workspace.changed();
                // What the editor holds goes before the disk, so a file that is open is not read again.
                let open = |uri: &String| self.documents.values().any(|d| *d.path == *path_of(uri));
                if !uris.iter().all(open) {
                    self.read_again();
                }
            }
            Event::Folders(come, gone) => {
                self.folders.retain(|folder| !gone.contains(folder));
                self.folders.extend(come);
                self.workspace.look_through(&self.folders);
                self.read_again();
            }
            Event::Open { uri, version, text } => {
                let published = self.documents.remove(&uri).and_then(|document| document.published);
                let mut document = Document::new(&uri, version, text, self.abilities.encoding, self.settings.pause);
                document.published = published;
                self.above.remove(&*document.path);
                self.documents.insert(uri.clone(), document);
                self.changed.insert(uri);
            }
            Event::Change { uri, version, changes } => match self.documents.get_mut(&uri) {
                Some(document) => {
                    document.apply(version, &changes, self.abilities.encoding, Instant::now());
                    self.changed.insert(uri);
                }
                None => tracing::warn!(uri, "a change of a document that is not open"),
            },
            Event::Save(uri) => {
                if let Some(document) = self.documents.get_mut(&uri) {
                    document.settle();
                    self.recheck.insert(uri);
                }
            }
            Event::Close(uri) => self.close(&uri),
            Event::Ask(work) => {
                let version = self.documents.get(work.uri()).map(|document| document.version);
                match version {
                    // It comes back when it is known which files on disk belong to the document.
                    Some(version) if work.reach() == Reach::Family => {
                        let sender = self.sender.clone();
                        // A caret that moves asks often; an edit is to be made in what is there.
                        let age = if work.line().lane == Lane::LatencySensitive { GLANCE } else { Duration::ZERO };
                        let back = move || drop(sender.send(Event::Overtaken(work, version)));
                        self.workspace.then((!self.abilities.watches_files).then_some(age), back);
                    }
                    _ => self.asked.push((work, version)),
                }
            }
            Event::Errand(errand) => {
                let open = self.documents.values().map(|d| (opened(d), d.text.clone())).collect();
                let abilities = self.abilities.clone();
                let around = |files| Around { files, open, abilities };
                self.workspace.run((!self.abilities.watches_files).then_some(Duration::ZERO), errand, around);
            }
            Event::Overtaken(work, version) => self.asked.push((work, Some(version))),
            Event::Checked(checked) => self.publish(checked),
            Event::Show(page) => self.show(page),
            Event::Pulled(uri, version, name) => {
                if let Some(document) = self.documents.get_mut(&uri) {
                    document.pulled = Some((version, name));
                }
            }
            Event::End => self.ended = true,
        }
    }

    /// Shows a page: by the client's own hand, as a document, or as a message.
    fn show(&self, page: pages::Shown) {
        if self.abilities.shows_pages {
            return;
        }
        let address = Uri::from_str(&page.uri).ok();
        match address.filter(|_| self.abilities.shows_documents && self.abilities.asks_for_texts) {
            Some(uri) => self.client.show_document(uri),
            None => self.outbox.notify("window/showMessage", serde_json::json!({ "type": 3, "message": page.text })),
        }
    }

    /// Has the client fetch again what hangs on other files, where it can be asked.
    fn refresh(&self) {
        if self.abilities.refresh_hints {
            self.client.refresh_hints();
        }
        if self.abilities.refresh_lenses && self.settings.lenses {
            self.client.refresh_lenses();
        }
    }

    /// Goes by other wishes from now on. A client that has no configuration of this server says nothing, and what it began with stays.
    fn wish(&mut self, wishes: &serde_json::Value) {
        if wishes.is_null() {
            return;
        }
        let (settings, faults) = Settings::of(wishes, &self.begun);
        for fault in faults {
            self.outbox.show_warning(&fault);
        }
        if settings == *self.settings {
            return;
        }
        self.bench.set_style(settings.style);
        self.documents.values_mut().for_each(|document| document.pause = settings.pause);
        self.settings = Arc::new(settings);
        self.recheck.extend(self.documents.keys().cloned());
        if !self.documents.is_empty() {
            self.refresh();
        }
    }

    /// Has the open documents that include others read those from disk again.
    fn read_again(&mut self) {
        let including = self.documents.iter().filter(|(_, document)| self.bench.includes(&document.path));
        let including: Vec<String> = including.map(|(uri, _)| uri.clone()).collect();
        if !including.is_empty() {
            self.refresh();
        }
        self.changed.extend(including);
    }

    /// The innermost folder of the client's workspace that holds a file.
    fn folder(&self, path: &str) -> Option<&Path> {
        innermost(&self.folders, Path::new(path))
    }

    fn close(&mut self, uri: &str) {
        self.changed.remove(uri);
        self.recheck.remove(uri);
        let Some(document) = self.documents.remove(uri) else {
            return;
        };
        self.refresh_above(&[&document.path], &BTreeSet::new());
        self.workers.overtake();
        self.bench.close(&document.path);
        // Those that include it go on with what the disk holds.
        self.changed.extend(self.documents.keys().filter(|other| *other != uri).cloned());
        if document.published.is_some_and(|list| list != b"[]") {
            self.outbox
                .notify(PUBLISH, serde_json::json!({ "uri": uri, "version": document.version, "diagnostics": [] }));
        }
    }

    /// Sends what was found out about the newest text, unless the client has it already.
    fn publish(&mut self, checked: Checked) {
        let Some(document) = self.documents.get_mut(&checked.uri) else {
            return;
        };
        // A list that knows nothing of the newest look of its kind comes too late.
        if document.version != checked.version || checked.reviewed_in < document.reviewed.of {
            return;
        }
        if let Some(found) = checked.found {
            let left = found.built.is_none();
            Arc::make_mut(&mut document.reviewed).take((checked.version, checked.depth), found);
            if left && (self.settings.builds == Builds::Pause || document.settled) {
                document.build(Instant::now());
            }
        }
        if checked.held && document.rests_at.is_none() {
            // The word came to rest while this was being found out.
            self.recheck.insert(checked.uri.clone());
        }
        document.said = checked.said.into();
        if document.steady.lock().is_ok_and(|mut steady| steady.take_late()) && self.abilities.refresh_hints {
            self.client.refresh_hints();
        }
        if self.abilities.pulls_diagnostics {
            // The client asks by itself behind an edit; what was found later it has to be told of.
            let other = |(version, name): &(i32, String)| {
                *version == checked.version && *name != super::pull::name_of(&checked.list)
            };
            if document.pulled.as_ref().is_some_and(other) {
                self.client.refresh_diagnostics();
            }
            return;
        }
        if document.published.as_ref() == Some(&checked.list) {
            return;
        }
        let mut params = br#"{"uri":"#.to_vec();
        params.extend(json(&checked.uri));
        params.extend(br#","version":"#);
        params.extend(json(&checked.version));
        params.extend(br#","diagnostics":"#);
        params.extend(&checked.list);
        params.push(b'}');
        self.outbox.notify_written(PUBLISH, &params);
        document.published = Some(checked.list);
    }

    /// Has the client fetch its hints again where a document that did not change shows figures of what did. Those that it shows already stay
    /// as they are until it asks.
    fn refresh_above(&self, paths: &[&str], changed: &BTreeSet<String>) {
        let above = |(uri, document): (&String, &Document)| {
            !changed.contains(uri) && self.bench.includes_one_of(&document.path, paths)
        };
        if !paths.is_empty() && self.documents.iter().any(above) {
            self.refresh();
        }
    }

    /// What follows from the events of a turn.
    fn turn(&mut self, events: &Receiver<Event<B::View>>) {
        self.rest();
        let mut changed = BTreeSet::new();
        while !self.changed.is_empty() {
            changed.extend(self.take_in());
            // A client asks for what it shows right behind the edit: that came while the text was taken in, and belongs to this turn.
            self.drain(events);
        }
        changed.retain(|uri| self.documents.contains_key(uri));
        let paths: Vec<&str> = changed.iter().filter_map(|uri| Some(&*self.documents.get(uri)?.path)).collect();
        self.refresh_above(&paths, &changed);
        if !self.asked.is_empty() {
            self.open = self.documents.values().map(opened).collect();
            self.take_in_above();
        }
        let mut jobs = Vec::new();
        for (work, version) in std::mem::take(&mut self.asked) {
            jobs.extend(self.job(work, version));
        }
        let mut check = std::mem::take(&mut self.recheck);
        if !changed.is_empty() {
            // A text that others include may change what is to be said of them; those that it does not are known already.
            check.extend(self.documents.keys().filter(|uri| !changed.contains(*uri)).cloned());
        }
        for uri in changed.iter().chain(check.iter().filter(|uri| !changed.contains(*uri))) {
            let work = Box::new(Check::new(uri, Depth::Typed));
            jobs.extend(self.job(work, None));
        }
        let now = Instant::now();
        if !changed.is_empty() {
            let others = self.documents.iter_mut().filter(|(uri, _)| !changed.contains(*uri));
            others.for_each(|(_, document)| document.review_later(now));
        }
        let due = self.documents.iter_mut().filter_map(|(uri, document)| Some((uri.clone(), document.due(now)?)));
        for (uri, depth) in due.collect::<Vec<_>>() {
            let work = Box::new(Check::new(&uri, depth));
            jobs.extend(self.job(work, None));
        }
        self.workers.hand(Batch::new(jobs));
    }

    /// Gives the workbench the texts that changed, and says which.
    fn take_in(&mut self) -> BTreeSet<String> {
        let changed = std::mem::take(&mut self.changed);
        // First the word that older views are of no use, then the texts: the workbench waits for those views to go.
        self.workers.overtake();
        for document in changed.iter().filter_map(|uri| self.documents.get(uri)) {
            self.bench.set_text(&document.path, document.text.as_str().to_string());
        }
        let open: HashSet<Arc<str>> = self.documents.values().map(|d| d.path.clone()).collect();
        for document in changed.iter().filter_map(|uri| self.documents.get(uri)) {
            let folder = self.folder(&document.path).map(Path::to_path_buf);
            self.bench.include(&document.path, folder.as_deref(), &|path| open.contains(path));
        }
        changed
    }

    /// Gives the workbench the files on disk that include what was asked about, where the answer looks at those too.
    fn take_in_above(&mut self) {
        let family = self.asked.iter().filter(|(work, _)| work.reach() == Reach::Family);
        let paths: BTreeSet<Arc<str>> =
            family.filter_map(|(work, _)| Some(self.documents.get(work.uri())?.path.clone())).collect();
        if paths.is_empty() || self.folders.is_empty() {
            return;
        }
        let files = self.workspace.files();
        let open: HashSet<Arc<str>> = self.documents.values().map(|d| d.path.clone()).collect();
        let real = |path: &str| Path::new(path).canonicalize().unwrap_or_else(|_| PathBuf::from(path));
        let name = |file: &File| file.real.to_string_lossy().into_owned();
        let shown = |file: &File| open.contains(&*name(file)) || open.contains(&*file.path.to_string_lossy());
        let mut wanted: Vec<Arc<File>> = paths.iter().flat_map(|path| files.including(&real(path))).collect();
        wanted.retain(|file| !shown(file) && !self.above.get(&name(file)).is_some_and(|t| Arc::ptr_eq(t, &file.text)));
        let closed = files.by_path.values().filter(|file| !shown(file));
        let there: HashSet<String> = closed.map(|file| name(file)).collect();
        let gone: Vec<String> = self.above.keys().filter(|path| !there.contains(*path)).cloned().collect();
        if wanted.is_empty() && gone.is_empty() {
            return;
        }
        self.workers.overtake();
        for path in gone {
            self.above.remove(&path);
            self.bench.close(&path);
        }
        for file in &wanted {
            self.bench.set_text(&name(file), file.text.to_string());
        }
        for file in wanted {
            let path = name(&file);
            let folder =
                self.folder(&path).or_else(|| self.folder(&file.path.to_string_lossy())).map(Path::to_path_buf);
            self.bench.include(&path, folder.as_deref(), &|path| open.contains(path));
            self.above.insert(path, file.text.clone());
        }
    }

    /// Lets words that were not touched for a while count as meant.
    fn rest(&mut self) {
        let now = Instant::now();
        let mut refresh = false;
        for (uri, document) in &mut self.documents {
            if document.rest(now) {
                self.recheck.insert(uri.clone());
                refresh |= document.steady.lock().is_ok_and(|mut steady| steady.take_held());
            }
        }
        if refresh && self.abilities.refresh_hints {
            self.client.refresh_hints();
        }
    }

    /// Work as the workers take it; `None` if the text that it was asked of is no more and the scheduling table has it refused then.
    fn job(&mut self, work: Box<dyn Work<B::View>>, version: Option<i32>) -> Option<Job<B::View>> {
        if work.cancel().is_set() {
            work.refuse(Refusal::Cancelled);
            return None;
        }
        let Some(document) = self.documents.get(work.uri()) else {
            work.deliver();
            return None;
        };
        let stale = version.is_some_and(|version| version != document.version);
        match work.line().overtaken {
            Overtaken::Refuse if stale => {
                work.refuse(Refusal::Overtaken);
                return None;
            }
            Overtaken::Drop if stale => return None,
            _ => {}
        }
        let context = Context {
            uri: document.uri.clone(),
            path: document.path.clone(),
            text: document.text.clone(),
            version: document.version,
            generation: self.workers.generation(),
            touched: document.touched.clone(),
            rests_at: document.rests_at,
            reviewed: document.reviewed.clone(),
            said: document.said.clone(),
            steady: document.steady.clone(),
            coloured: document.coloured.clone(),
            lenses: document.lenses.clone(),
            abilities: self.abilities.clone(),
            open: self.open.clone(),
            settings: self.settings.clone(),
            tell: self.tell.clone(),
        };
        Some(Job { work, view: self.bench.view(), generation: context.generation, context })
    }
}
