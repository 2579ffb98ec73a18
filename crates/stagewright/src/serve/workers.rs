//! The threads that compute, and the fence around everything that they do.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, Sender, never, select_biased, unbounded};

use super::bench::View;
use super::outbox::Outbox;
use super::owner::Event;
use super::schedule::Lane;
use super::work::{Context, Refusal, Work};

/// Expressions nest as deep as a person can be bothered to type; a thread's stack is cheap where it is not touched.
const STACK: usize = 16 << 20;

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
    urgent: Sender<Job<V>>,
    ordinary: Sender<Job<V>>,
    generation: Arc<AtomicU64>,
}

impl<V: View> Workers<V> {
    /// Starts one thread a core and one more. The first is kept free for what is latency-sensitive; of the others there are two at
    /// least, so that one long piece of work does not hold up all the rest.
    pub fn start(owner: Sender<Event<V>>, outbox: Outbox) -> Self {
        let (urgent, urgents) = unbounded();
        let (ordinary, ordinaries) = unbounded();
        let generation = Arc::new(AtomicU64::new(0));
        let count = thread::available_parallelism().map_or(2, |n| n.get()).max(2) + 1;
        for i in 0..count {
            let bench = Benchside { owner: owner.clone(), outbox: outbox.clone(), generation: generation.clone() };
            let urgents = urgents.clone();
            let ordinaries = if i == 0 { never() } else { ordinaries.clone() };
            thread::Builder::new()
                .name(format!("worker {i}"))
                .stack_size(STACK)
                .spawn(move || bench.work(urgents, ordinaries))
                .expect("the system gives the server its threads");
        }
        Self { urgent, ordinary, generation }
    }

    /// Says that the texts have changed: work that has not begun goes back at once instead of holding its view.
    pub fn overtake(&self) {
        self.generation.fetch_add(1, Ordering::AcqRel);
    }

    /// The generation of the texts.
    pub fn generation(&self) -> u64 {
        self.generation.load(Ordering::Acquire)
    }

    /// Hands work to the threads.
    pub fn hand(&self, job: Job<V>) {
        let lane = match job.work.line().lane {
            Lane::LatencySensitive => &self.urgent,
            Lane::Worker | Lane::Edit => &self.ordinary,
        };
        // The threads outlive this sender; were they gone, dropping the job answers that it broke off.
        let _ = lane.send(job);
    }
}

struct Benchside<V: View> {
    owner: Sender<Event<V>>,
    outbox: Outbox,
    generation: Arc<AtomicU64>,
}

impl<V: View> Benchside<V> {
    fn work(self, urgents: Receiver<Job<V>>, ordinaries: Receiver<Job<V>>) {
        loop {
            let job = select_biased! {
                recv(urgents) -> job => job,
                recv(ordinaries) -> job => job,
            };
            match job {
                Ok(job) => self.job(job),
                Err(_) => return,
            }
        }
    }

    fn job(&self, job: Job<V>) {
        let Job { mut work, view, context, generation } = job;
        if work.cancelled() {
            return work.refuse(Refusal::Cancelled);
        }
        if generation != self.generation.load(Ordering::Acquire) {
            drop(view);
            let _ = self.owner.send(Event::Overtaken(work, context.version));
            return;
        }
        let began = Instant::now();
        let done = catch_unwind(AssertUnwindSafe(|| work.run(&view, &context)));
        // The owner may be waiting for the last view to go before it can take in an edit.
        drop(view);
        let took = began.elapsed();
        match done {
            Ok(()) => {
                self.note(work.as_ref(), took, context.version);
                work.deliver();
            }
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
