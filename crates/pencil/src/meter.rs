//! Where the time of a computation goes, stage by stage, for programs that measure.
//!
//! It stands in this crate because the solutions, which are one of the stages, are made here, and everything else stands above.
//! A thread that does not measure pays a look at a flag of its own.

use std::cell::RefCell;
use std::time::{Duration, Instant};

/// A stopwatch with the names of what runs, the innermost last.
struct Clock {
    since: Instant,
    running: Vec<&'static str>,
    spent: Vec<(&'static str, Duration)>,
}

thread_local! {
    static CLOCK: RefCell<Option<Clock>> = const { RefCell::new(None) };
}

impl Clock {
    /// Charges what passed since the last change to the innermost stage; what runs in none of them is nobody's.
    fn charge(&mut self) {
        let now = Instant::now();
        let passed = now - self.since;
        self.since = now;
        let Some(&stage) = self.running.last() else { return };
        match self.spent.iter_mut().find(|s| s.0 == stage) {
            Some((_, spent)) => *spent += passed,
            None => self.spent.push((stage, passed)),
        }
    }
}

/// Begins to measure on this thread.
pub fn begin() {
    CLOCK.set(Some(Clock { since: Instant::now(), running: Vec::new(), spent: Vec::new() }));
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

    #[test]
    fn a_stage_is_charged_without_what_runs_within_it() {
        let pause = || std::thread::sleep(Duration::from_millis(5));
        let _unmeasured = stage("before");
        begin();
        {
            let _outer = stage("outer");
            pause();
            for _ in 0..3 {
                let _inner = stage("inner");
                pause();
            }
        }
        pause();
        let spent = end();
        let names: Vec<_> = spent.iter().map(|s| s.0).collect();
        assert_eq!(names, ["outer", "inner"]);
        assert!(spent[0].1 >= Duration::from_millis(5) && spent[1].1 >= Duration::from_millis(15), "{spent:?}");
        assert!(spent[1].1 > spent[0].1, "{spent:?}");
        assert!(end().is_empty());
    }
}
