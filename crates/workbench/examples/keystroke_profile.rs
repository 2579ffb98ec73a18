//! Where the milliseconds of a keystroke go: a value of the middle stage edited, the problems of the file and the hints of fifty lines.
//!
//!     cargo run --release -p workbench --example keystroke_profile [STAGES [whole]]
//!
//! The two designs of `edit_speed` with 200 stages (or as many as are said), the hints of the whole file with `whole`. Each stage of the
//! way is charged without what runs within it; figures are means of the faster half of 400 edits, and stand beside those of the first look.

use std::collections::BTreeMap;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

use workbench::{Workbench, meter};

#[allow(dead_code)]
#[path = "../../../tests/bench/design.rs"]
mod design;
mod designs;

/// In the order of the way; anything else that is measured follows them.
const WAY: [&str; 9] = [
    "text taken in",
    "layout and reading",
    "assembling",
    "presets",
    "network and plans",
    "solving",
    "readings",
    "hints",
    "problems",
];
const EDITS: usize = 400;

fn main() {
    let mut arguments = std::env::args().skip(1);
    let stages = arguments.next().map_or(200, |a| a.parse().expect("a number of stages"));
    let whole = arguments.next().is_some_and(|a| a == "whole");
    for (name, (text, needle)) in [("buffers", designs::buffers(stages)), ("filters", designs::filters(stages))] {
        profile(name, &text, &needle, whole);
    }
}

/// The time since it was first asked for.
fn clock() -> Duration {
    static BEGINNING: LazyLock<Instant> = LazyLock::new(Instant::now);
    BEGINNING.elapsed()
}

/// Milliseconds by the stages' names, and over all.
type Shares = (BTreeMap<&'static str, f64>, f64);

fn measured(run: impl FnOnce()) -> Shares {
    let start = Instant::now();
    meter::begin(clock);
    run();
    let spent = meter::end();
    let all = start.elapsed().as_secs_f64() * 1e3;
    (spent.into_iter().map(|(stage, time)| (stage, time.as_secs_f64() * 1e3)).collect(), all)
}

fn profile(name: &str, text: &str, needle: &str, whole: bool) {
    let at = text.find(needle).expect("the middle stage is there");
    let range = if whole { 0..text.len() } else { at.saturating_sub(600)..(at + 600).min(text.len()) };
    let mut bench = Workbench::new();
    let mut look = |text: String| {
        bench.set_text("a", text);
        let snapshot = bench.snapshot();
        let told = snapshot.problems("a").len() + snapshot.hints("a", Some(range.clone())).len();
        assert!(told > 0);
    };
    let first = measured(|| look(text.to_string()));
    let mut all: Vec<Shares> = (0..EDITS)
        .map(|i| {
            let edited = text.replacen(needle, &format!("{needle}.{}", i % 9 + 1), 1);
            measured(|| look(edited))
        })
        .collect();
    // What else the machine does makes some of them slow, and has no place in the shares.
    all.sort_by(|a, b| a.1.total_cmp(&b.1));
    let half = &all[..EDITS / 2];
    let mut mean: Shares = Default::default();
    for (stages, total) in half {
        for (stage, time) in stages {
            *mean.0.entry(stage).or_default() += time / half.len() as f64;
        }
        mean.1 += total / half.len() as f64;
    }
    println!("{name}, {} lines: a keystroke {:.3} ms, the first look {:.2} ms", text.lines().count(), mean.1, first.1);
    println!("{:20} {:>10} {:>7} {:>12} {:>7}", "", "an edit/ms", "share", "first/ms", "share");
    let more = mean.0.keys().chain(first.0.keys()).copied().filter(|s| !WAY.contains(s));
    let names: Vec<&str> = WAY.into_iter().chain(more).collect();
    let line = |stage: &str, edit: f64, cold: f64| {
        let share = |x: f64, all: f64| 100.0 * x / all;
        println!("{stage:20} {edit:10.3} {:6.1}% {cold:12.3} {:6.1}%", share(edit, mean.1), share(cold, first.1));
    };
    for stage in names {
        let time = |shares: &Shares| shares.0.get(stage).copied().unwrap_or(0.0);
        line(stage, time(&mean), time(&first));
    }
    let rest = |shares: &Shares| shares.1 - shares.0.values().sum::<f64>();
    line("between them", rest(&mean), rest(&first));
    println!();
}
