//! Where the time of a computation goes, stage by stage, for programs that measure.
//!
//! It stands in this crate because the solutions, which are one of the stages, are made here, and everything else stands above.
//! A thread that does not measure pays a look at a flag of its own. The clock is the measuring program's: none of the crates reads one.

use std::cell::RefCell;
use std::time::Duration;

/// A stopwatch with the names of what runs, the innermost last.
struct Clock {
    now: fn() -> Duration,
    since: Duration,
    running: Vec<&'static str>,
    spent: Vec<(&'static str, Duration)>,
}

thread_local! {
    static CLOCK: RefCell<Option<Clock>> = const { RefCell::new(None) };
}

impl Clock {
    /// Charges what passed since the last change to the innermost stage; what runs in none of them is nobody's.
    fn charge(&mut self) {
        let now = (self.now)();
        let passed = now.saturating_sub(self.since);
        self.since = now;
        let Some(&stage) = self.running.last() else { return };
        match self.spent.iter_mut().find(|s| s.0 == stage) {
            Some((_, spent)) => *spent += passed,
            None => self.spent.push((stage, passed)),
        }
    }
}

/// Begins to measure on this thread by a clock that tells the time since any fixed moment.
pub fn begin(now: fn() -> Duration) {
    CLOCK.set(Some(Clock { now, since: now(), running: Vec::new(), spent: Vec::new() }));
}

/// Ends it: what each stage took without the stages within it, in the order of their first appearance.
pub fn end() -> Vec<(&'static str, Duration)> {
    CLOCK.take().map(|clock| clock.spent).unwrap_or_default()
}

/// A stage that runs until this is dropped, also where a computation unwinds.
#[must_use]
pub struct Running(());

/// Begins a stage.
pub fn stage(name: &'static str) -> Running {
    CLOCK.with_borrow_mut(|clock| {
        if let Some(clock) = clock {
            clock.charge();
            clock.running.push(name);
        }
    });
    Running(())
}

impl Drop for Running {
    fn drop(&mut self) {
        CLOCK.with_borrow_mut(|clock| {
            if let Some(clock) = clock {
                clock.charge();
                clock.running.pop();
            }
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    thread_local! {
        static HAND: std::cell::Cell<u64> = const { std::cell::Cell::new(0) };
    }

    fn now() -> Duration {
        Duration::from_millis(HAND.get())
    }

    fn pass(milliseconds: u64) {
        HAND.set(HAND.get() + milliseconds);
    }

    #[test]
    fn a_stage_is_charged_without_what_runs_within_it() {
        drop(stage("before"));
        begin(now);
        {
            let _outer = stage("outer");
            pass(5);
            for _ in 0..3 {
                let _inner = stage("inner");
                pass(7);
            }
            pass(1);
        }
        pass(100);
        assert_eq!(end(), [("outer", Duration::from_millis(6)), ("inner", Duration::from_millis(21))]);
        assert!(end().is_empty());
    }
}
