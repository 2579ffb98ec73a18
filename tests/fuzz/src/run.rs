//! Runs a target on made-up inputs, and makes what it finds small.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Once;
use std::time::{Duration, Instant};

use crate::{Seeds, Target};

/// An input that a target does not bear.
#[derive(Clone, Debug)]
pub struct Find {
    /// The input, as small as leaving parts of it out makes it.
    pub input: Vec<u8>,
    /// What the target said.
    pub said: String,
}

/// What a run came to.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    /// Inputs tried.
    pub tried: u64,
    /// The input that took longest, and how long.
    pub slowest: (Vec<u8>, Duration),
    /// The first input that the target did not bear; the run ends there.
    pub find: Option<Find>,
}

/// Tries inputs for as long as `on` says, which is given how many were tried. Before each, `about` is given the input.
pub fn run(target: Target, seeds: &mut Seeds, mut on: impl FnMut(u64) -> bool, mut about: impl FnMut(&[u8])) -> Tally {
    quiet();
    let mut tally = Tally::default();
    while on(tally.tried) {
        let input = seeds.input();
        about(&input);
        let began = Instant::now();
        let said = fails(target, &input);
        let took = began.elapsed();
        tally.tried += 1;
        if took > tally.slowest.1 {
            tally.slowest = (input.clone(), took);
        }
        if said.is_some() {
            let input = smaller(target, input);
            let said = fails(target, &input).unwrap_or_default();
            tally.find = Some(Find { input, said });
            break;
        }
    }
    tally
}

/// What the target says against an input.
fn fails(target: Target, input: &[u8]) -> Option<String> {
    SAID.set(Some(String::new()));
    let done = catch_unwind(AssertUnwindSafe(|| target(input)));
    let place = SAID.take().unwrap_or_default();
    let payload = done.err()?;
    let said =
        payload.downcast_ref::<String>().cloned().or_else(|| payload.downcast_ref::<&str>().map(|s| s.to_string()));
    Some(format!("{place}: {}", said.unwrap_or_default()))
}

thread_local! {
    /// The place of the last panic, while this thread keeps panics instead of printing them.
    static SAID: Cell<Option<String>> = const { Cell::new(None) };
}

/// From here on the panics of threads that run a target are kept with their places; those of others are printed as ever.
fn quiet() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let printing = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| match SAID.take() {
            Some(_) => SAID.set(Some(info.location().map(|place| place.to_string()).unwrap_or_default())),
            None => printing(info),
        }));
    });
}

/// Leaves out stretches for as long as the target still fails, long ones first.
fn smaller(target: Target, mut input: Vec<u8>) -> Vec<u8> {
    let mut size = input.len() / 2;
    while size > 0 {
        let mut at = 0;
        let mut any = false;
        while at < input.len() {
            let mut less = input.clone();
            less.drain(at..(at + size).min(input.len()));
            if fails(target, &less).is_some() {
                input = less;
                any = true;
            } else {
                at += size;
            }
        }
        if !any || size > 1 {
            size /= 2;
        }
    }
    input
}
