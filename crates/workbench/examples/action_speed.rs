//! Milliseconds of what an editor asks about actions and lenses, when the problems and hints of the text are known already.
//!
//!     cargo run --release -p workbench --example action_speed [STAGES]
//!
//! The designs of `edit_speed`: at a part in the middle, what an editor asks by itself (no search, no edits), what a person asks by hand,
//! the edits of one action, where the lenses stand, and what they say. The median and the worst of twenty.

use std::time::Instant;

use workbench::{ActionKind, Asking, Workbench};

#[allow(dead_code)]
#[path = "../../../tests/bench/design.rs"]
mod design;
mod designs;

fn main() {
    let only: Option<usize> = std::env::args().nth(1).and_then(|a| a.parse().ok());
    for (name, make) in [("buffers", designs::buffers as fn(usize) -> (String, String)), ("filters", designs::filters)]
    {
        for stages in [4, 30, 200].into_iter().filter(|s| only.is_none_or(|o| o == *s)) {
            let (text, needle) = make(stages);
            println!("{name} {stages}, {} lines", text.lines().count());
            measure(&text, &needle);
        }
    }
}

fn measure(text: &str, needle: &str) {
    let mut bench = Workbench::new();
    bench.set_text("a", text.to_string());
    let snapshot = bench.snapshot();
    snapshot.problems_reviewed("a", false);
    snapshot.hints("a", None);
    let at = text.find(needle).unwrap_or(0);
    let kinds = [ActionKind::QuickFix, ActionKind::Rewrite, ActionKind::Extract];
    let asking = |by_hand, edits| Asking { kinds: &kinds, by_hand, edits, budget: None };
    let count = snapshot.actions("a", at..at, &asking(false, false)).len();
    time(&format!("by itself, {count} offers"), || drop(snapshot.actions("a", at..at, &asking(false, false))));
    time("all their edits", || drop(snapshot.actions("a", at..at, &asking(false, true))));
    time("by hand", || drop(snapshot.actions("a", at..at, &asking(true, false))));
    let lenses = snapshot.lenses("a");
    time(&format!("{} lenses", lenses.len()), || drop(snapshot.lenses("a")));
    time("what thirty of them say", || lenses.iter().take(30).for_each(|l| drop(snapshot.lens_title("a", &l.about))));
}

fn time(what: &str, work: impl Fn()) {
    let once = || {
        let start = Instant::now();
        work();
        start.elapsed().as_secs_f64() * 1e3
    };
    let mut times: Vec<f64> = (0..20).map(|_| once()).collect();
    times.sort_by(f64::total_cmp);
    println!("  {what}: median {:.2} ms, worst {:.2} ms", times[10], times[19]);
}
