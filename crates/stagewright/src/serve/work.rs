//! A piece of work on a view of the texts, and the reply that somebody waits for.

use std::collections::HashMap;
use std::fmt::Debug;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Instant;

use workbench::Lensed;

use super::abilities::Abilities;
use super::bench::View;
use super::check::Checked;
use super::document::Touched;
use super::position::Text;
use super::progress::Progress;
use super::reviewed::Reviewed;
use super::schedule::{Line, line_of};
use super::settings::Settings;
use super::steady::Steady;
use super::tokens::Sent;

/// Why a request has no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The text changed; the client, which changed it, asks again.
    Overtaken,
    /// The client took the request back.
    Cancelled,
    /// The program broke off; the log says where.
    Broke,
}

type Sending<T> = Box<dyn FnOnce(Result<T, Refusal>) + Send>;

/// The way back to whoever asked. It is used exactly once: dropped unused, it says that the work broke off.
pub struct Reply<T> {
    send: Option<Sending<T>>,
    cancelled: Cancel,
}

impl<T> Reply<T> {
    /// A reply that goes through `send`, unless `cancelled` is set first.
    pub fn new(cancelled: Cancel, send: impl FnOnce(Result<T, Refusal>) + Send + 'static) -> Self {
        Self { send: Some(Box::new(send)), cancelled }
    }

    /// Whether anybody still waits for it.
    pub fn is_wanted(&self) -> bool {
        !self.cancelled.is_set()
    }

    /// Sends.
    pub fn send(mut self, answer: Result<T, Refusal>) {
        if let Some(send) = self.send.take() {
            send(answer);
        }
    }
}

impl<T> Drop for Reply<T> {
    fn drop(&mut self) {
        if let Some(send) = self.send.take() {
            send(Err(Refusal::Broke));
        }
    }
}

/// A flag that the asker sets and the worker looks at: a thread that computes cannot be stopped from outside. It has the view that is
/// computed on unwind, which happens where the computation looks whether it is still wanted.
#[derive(Clone, Default)]
pub struct Cancel(Arc<Flag>);

#[derive(Default)]
struct Flag {
    set: AtomicBool,
    stop: Mutex<Option<Stop>>,
}

/// Has what is computed on a view unwind.
pub type Stop = Box<dyn Fn() + Send>;

impl Cancel {
    /// Nobody waits any more.
    pub fn set(&self) {
        self.0.set.store(true, Ordering::Release);
        if let Ok(stop) = self.0.stop.lock() {
            stop.iter().for_each(|stop| stop());
        }
    }
    /// Whether nobody waits any more.
    pub fn is_set(&self) -> bool {
        self.0.set.load(Ordering::Acquire)
    }
    /// From now on `stop` stops the work that this is the flag of; nothing does without one.
    pub fn arm(&self, stop: Option<Stop>) {
        if let Ok(mut held) = self.0.stop.lock() {
            *held = stop;
        }
        // Set in the meantime, it has had nothing to stop.
        if self.is_set() {
            self.set();
        }
    }
}

/// What work may tell while it is being done, and behind it.
pub trait Tell: Send + Sync {
    /// A document was looked through.
    fn checked(&self, found: Checked);
    /// The client has been given the list of that name of a version.
    fn pulled(&self, uri: &str, version: i32, name: String);
    /// Begins to tell how far long work has come.
    fn progress(&self, title: &str, cancel: Cancel) -> Progress;
}

/// Nobody is told anything.
struct Nobody;

impl Tell for Nobody {
    fn checked(&self, _: Checked) {}
    fn pulled(&self, _: &str, _: i32, _: String) {}
    fn progress(&self, _: &str, _: Cancel) -> Progress {
        Progress::silent()
    }
}

/// The document that a piece of work is about, as it was when the view was taken.
#[derive(Clone)]
pub struct Context {
    /// As the client named it.
    pub uri: Arc<str>,
    /// Its name in the workbench.
    pub path: Arc<str>,
    /// Its text.
    pub text: Text,
    /// The client's count of its text.
    pub version: i32,
    /// The generation of all texts.
    pub generation: u64,
    /// What was last typed in it.
    pub touched: Option<Touched>,
    /// When the word that was last touched has rested.
    pub rests_at: Option<Instant>,
    /// What the reviewer's rules found last, where it stands now.
    pub reviewed: Arc<Reviewed>,
    /// What the diagnostics last sent say, in which lines.
    pub said: Arc<[(&'static str, u32)]>,
    /// The figures that the client last saw.
    pub steady: Arc<Mutex<Steady>>,
    /// The semantic tokens last sent.
    pub coloured: Arc<Mutex<Option<Sent>>>,
    /// What the lenses said last.
    pub lenses: Arc<Mutex<HashMap<Lensed, String>>>,
    /// What the client can do.
    pub abilities: Arc<Abilities>,
    /// What it wishes.
    pub settings: Arc<Settings>,
    /// Who is told what.
    pub tell: Arc<dyn Tell>,
    /// All documents that are open.
    pub open: Arc<[Opened]>,
}

/// A document that is open, as other documents' answers speak of it.
#[derive(Clone, Debug)]
pub struct Opened {
    /// As the client named it.
    pub uri: Arc<str>,
    /// Its name in the workbench.
    pub path: Arc<str>,
    /// The client's count of its text.
    pub version: i32,
}

/// Which texts an answer looks at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reach {
    /// The document, and what it includes.
    Document,
    /// Also the files of the client's folders that include it.
    Family,
}

impl Context {
    /// That of documents which are not open.
    pub fn closed(abilities: &Arc<Abilities>) -> Self {
        Self {
            uri: "".into(),
            path: "".into(),
            text: Text::new("", abilities.encoding),
            version: 0,
            generation: 0,
            touched: None,
            rests_at: None,
            reviewed: Arc::default(),
            said: Arc::default(),
            steady: Arc::default(),
            coloured: Arc::default(),
            lenses: Arc::default(),
            abilities: abilities.clone(),
            settings: Arc::default(),
            tell: Arc::new(Nobody),
            open: Arc::new([]),
        }
    }

    /// The lines of the entry that was last touched.
    pub fn touched_lines(&self) -> Option<Range<u32>> {
        self.touched.as_ref().map(|touched| touched.lines(&self.text))
    }
}

/// What a client may ask of a document. One file a feature.
pub trait Feature: Debug + Send + 'static {
    /// The answer; its default is that of a document that is not open.
    type Answer: Default + Send + 'static;
    /// The method's name in the protocol, which stands in the scheduling table.
    const METHOD: &'static str;
    /// Which texts the answer looks at.
    const REACH: Reach = Reach::Document;
    /// The document.
    fn uri(&self) -> &str;
    /// The parameters, for the log.
    fn describe(&self) -> String {
        format!("{self:?}")
    }
    /// Computes the answer. May unwind when a newer text overtakes the view.
    fn compute<V: View>(&self, view: &V, context: &Context) -> Self::Answer;
}

/// A piece of work, whatever its answer is.
pub trait Work<V: View>: Send {
    /// Its line in the scheduling table.
    fn line(&self) -> Line;
    /// Which texts it looks at.
    fn reach(&self) -> Reach {
        Reach::Document
    }
    /// The document that it is about.
    fn uri(&self) -> &str;
    /// The parameters, for the log.
    fn describe(&self) -> String;
    /// The flag by which it is taken back.
    fn cancel(&self) -> &Cancel;
    /// Computes and keeps the answer.
    fn run(&mut self, view: &V, context: &Context);
    /// Sends the answer that was kept, or that of a document that is not open.
    fn deliver(self: Box<Self>);
    /// Sends that there is none.
    fn refuse(self: Box<Self>, refusal: Refusal);
}

/// A request with its reply.
pub struct Request<F: Feature> {
    feature: F,
    answer: F::Answer,
    reply: Reply<F::Answer>,
}

impl<F: Feature> Request<F> {
    /// A request to be put to the owner of the state.
    pub fn new(feature: F, reply: Reply<F::Answer>) -> Self {
        Self { feature, answer: F::Answer::default(), reply }
    }
}

impl<F: Feature, V: View> Work<V> for Request<F> {
    fn line(&self) -> Line {
        line_of(F::METHOD)
    }
    fn reach(&self) -> Reach {
        F::REACH
    }
    fn uri(&self) -> &str {
        self.feature.uri()
    }
    fn describe(&self) -> String {
        self.feature.describe()
    }
    fn cancel(&self) -> &Cancel {
        &self.reply.cancelled
    }
    fn run(&mut self, view: &V, context: &Context) {
        self.answer = self.feature.compute(view, context);
    }
    fn deliver(self: Box<Self>) {
        self.reply.send(Ok(self.answer));
    }
    fn refuse(self: Box<Self>, refusal: Refusal) {
        self.reply.send(Err(refusal));
    }
}
