//! The threads that compute, and the fence around everything that they do.

use std::any::Any;
use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::Sender;

use super::bench::View;
use super::outbox::Outbox;
use super::owner::Event;
use super::schedule::Lane;
use super::work::{Context, Refusal, Work};

/// Expressions nest as deep as a person can be bothered to type; a thread's stack is cheap where it is not touched.
pub const STACK: usize = 16 << 20;

/// How long a batch waits while another has just been begun: most are done by then, and have worked out much that the next one wants.
const PATIENCE: Duration = Duration::from_millis(4);

/// What one turn of the owner has to be worked out, in the order in which somebody waits for it: one thread does it all. The figures of a
/// text hang on much that is common to them; two threads that began on it together would wait for one another at each of its pieces, and
/// on two cores a thread that is woken often has to wait for its turn as well. That was most of the slowest keys.
pub struct Batch<V: View>(Vec<Job<V>>);

impl<V: View> Batch<V> {
    /// Puts what is latency-sensitive first; else the order stays.
    pub fn new(mut jobs: Vec<Job<V>>) -> Self {
        jobs.sort_by_key(|job| job.work.line().lane != Lane::LatencySensitive);
        Self(jobs)
    }
}

/// A piece of work with all that it needs.
pub struct Job<V: View> {
    /// What to do.
    pub work: Box<dyn Work<V>>,
    /// On which texts.
    pub view: V,
    /// About which document.
    pub context: Context,
    /// The generation of the texts.
    pub generation: u64,
}

/// The threads. They end when this is dropped.
pub struct Workers<V: View> {
    hall: Arc<Hall<V>>,
    generation: Arc<AtomicU64>,
}

/// Where batches wait for threads, and threads for batches.
struct Hall<V: View> {
    waiting: Mutex<Waiting<V>>,
    /// One a thread, to wake it by.
    bells: Vec<Condvar>,
}

struct Waiting<V: View> {
    urgent: VecDeque<Batch<V>>,
    ordinary: VecDeque<Batch<V>>,
    /// Which threads have nothing to do.
    idle: Vec<bool>,
    /// When the batch that was begun last was begun.
    begun: Instant,
    closed: bool,
}

impl<V: View> Waiting<V> {
    /// What a thread that has nothing to do may begin. The last such thread is kept free for what is latency-sensitive.
    fn next(&mut self) -> Option<Batch<V>> {
        let free = self.idle.iter().filter(|idle| **idle).count();
        self.urgent.pop_front().or_else(|| if free > 1 { self.ordinary.pop_front() } else { None })
    }
}

impl<V: View> Hall<V> {
    fn waiting(&self) -> MutexGuard<'_, Waiting<V>> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Wakes the first thread that has nothing to do: work that follows work is done by the same thread, whose caches and whose share of the
    /// memory know it already.
    fn wake(&self, waiting: &Waiting<V>) {
        if let Some(first) = waiting.idle.iter().position(|idle| *idle) {
            self.bells[first].notify_one();
        }
    }

    /// Waits for the next batch; `None` when there will be no more.
    fn next(&self, thread: usize) -> Option<Batch<V>> {
        let mut waiting = self.waiting();
        waiting.idle[thread] = true;
        // A batch may have been kept waiting for this thread.
        self.wake(&waiting);
        loop {
            if waiting.closed {
                return None;
            }
            let first = waiting.idle.iter().position(|idle| *idle) == Some(thread);
            let alone = waiting.idle.iter().all(|idle| *idle);
            let patience = if alone { Duration::ZERO } else { PATIENCE.saturating_sub(waiting.begun.elapsed()) };
            if first && !patience.is_zero() {
                waiting = self.bells[thread].wait_timeout(waiting, patience).unwrap_or_else(PoisonError::into_inner).0;
                continue;
            }
            if first && let Some(batch) = waiting.next() {
                waiting.idle[thread] = false;
                waiting.begun = Instant::now();
                self.wake(&waiting);
                return Some(batch);
            }
            waiting = self.bells[thread].wait(waiting).unwrap_or_else(PoisonError::into_inner);
        }
    }
}

impl<V: View> Workers<V> {
    /// Starts one thread a core and one more: one is kept free for what is latency-sensitive; of the others there are two at least, so
    /// that one long piece of work does not hold up all the rest.
    pub fn start(owner: Sender<Event<V>>, outbox: Outbox) -> Self {
        let generation = Arc::new(AtomicU64::new(0));
        let count = thread::available_parallelism().map_or(2, |n| n.get()).max(2) + 1;
        let waiting = Waiting {
            urgent: VecDeque::new(),
            ordinary: VecDeque::new(),
            idle: vec![false; count],
            begun: Instant::now(),
            closed: false,
        };
        let hall = Arc::new(Hall { waiting: Mutex::new(waiting), bells: (0..count).map(|_| Condvar::new()).collect() });
        for i in 0..count {
            let bench = Benchside { owner: owner.clone(), outbox: outbox.clone(), generation: generation.clone() };
            let hall = hall.clone();
            thread::Builder::new()
                .name(format!("worker {i}"))
                .stack_size(STACK)
                .spawn(move || {
                    while let Some(Batch(jobs)) = hall.next(i) {
                        jobs.into_iter().for_each(|job| bench.job(job));
                    }
                })
                .expect("the system gives the server its threads");
        }
        Self { hall, generation }
    }

    /// Says that the texts have changed: work that has not begun goes back at once instead of holding its view.
    pub fn overtake(&self) {
        self.generation.fetch_add(1, Ordering::AcqRel);
    }

    /// The generation of the texts.
    pub fn generation(&self) -> u64 {
        self.generation.load(Ordering::Acquire)
    }

    /// Hands work to the threads; it is as urgent as its first piece.
    pub fn hand(&self, batch: Batch<V>) {
        let mut waiting = self.hall.waiting();
        match batch.0.first().map(|job| job.work.line().lane) {
            Some(Lane::LatencySensitive) => waiting.urgent.push_back(batch),
            Some(Lane::Worker | Lane::Edit) => waiting.ordinary.push_back(batch),
            None => return,
        }
        self.hall.wake(&waiting);
    }
}

impl<V: View> Drop for Workers<V> {
    fn drop(&mut self) {
        self.hall.waiting().closed = true;
        self.hall.bells.iter().for_each(Condvar::notify_all);
    }
}

struct Benchside<V: View> {
    owner: Sender<Event<V>>,
    outbox: Outbox,
    generation: Arc<AtomicU64>,
}

impl<V: View> Benchside<V> {
    fn job(&self, job: Job<V>) {
        let Job { mut work, view, context, generation } = job;
        if work.cancel().is_set() {
            return work.refuse(Refusal::Cancelled);
        }
        if generation != self.generation.load(Ordering::Acquire) {
            drop(view);
            let _ = self.owner.send(Event::Overtaken(work, context.version));
            return;
        }
        let began = Instant::now();
        work.cancel().arm(Some(view.stop()));
        let done = catch_unwind(AssertUnwindSafe(|| work.run(&view, &context)));
        work.cancel().arm(None);
        // The owner may be waiting for the last view to go before it can take in an edit.
        drop(view);
        let took = began.elapsed();
        match done {
            Ok(()) => {
                self.note(work.as_ref(), took, context.version);
                work.deliver();
            }
            Err(payload) if V::overtaken(payload.as_ref()) && work.cancel().is_set() => work.refuse(Refusal::Cancelled),
            Err(payload) if V::overtaken(payload.as_ref()) => {
                let _ = self.owner.send(Event::Overtaken(work, context.version));
            }
            Err(payload) => {
                let broken =
                    Broken { method: work.line().method, params: work.describe(), document: Some(context.version) };
                broken.log(payload.as_ref(), &self.outbox);
                work.refuse(Refusal::Broke);
            }
        }
    }

    fn note(&self, work: &dyn Work<V>, took: Duration, version: i32) {
        let line = work.line();
        if took > Duration::from_millis(line.budget) {
            tracing::info!(method = line.method, version, ?took, budget = line.budget, "over its budget");
        }
        self.outbox.trace(|| format!("{} on version {version}: {took:.1?}", line.method));
    }
}

/// Work that broke off.
pub struct Broken<'a> {
    /// The method's name in the protocol.
    pub method: &'a str,
    /// Its parameters.
    pub params: String,
    /// The version of the document.
    pub document: Option<i32>,
}

impl Broken<'_> {
    /// Logs it where the program's log goes, and tells the client that there is something to report.
    pub fn log(&self, payload: &(dyn Any + Send), outbox: &Outbox) {
        let said = said(payload);
        tracing::error!(
            program = env!("CARGO_PKG_VERSION"),
            method = self.method,
            document = self.document,
            params = %self.params,
            "a piece of work broke off, the server goes on: {said}"
        );
        outbox.log_message(&format!(
            "stagewright {}: {} broke off ({said}). The server goes on; please report this line.",
            env!("CARGO_PKG_VERSION"),
            self.method
        ));
    }
}

/// What a panic said.
pub fn said(payload: &(dyn Any + Send)) -> &str {
    payload
        .downcast_ref::<&str>()
        .copied()
        .or_else(|| payload.downcast_ref::<String>().map(String::as_str))
        .unwrap_or("without a message")
}
