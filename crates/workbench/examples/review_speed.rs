//! Milliseconds of the reviewer's rules behind an edit of a value, when the problems of a keystroke are known already.
//!
//!     cargo run --release -p workbench --example review_speed [STAGES [buffers|filters]]
//!
//! The designs of `edit_speed`; the median and the worst of twenty edits, and the first review.

use std::time::Instant;

use workbench::Workbench;

#[allow(dead_code)]
#[path = "../../../tests/bench/design.rs"]
mod design;
mod designs;

fn main() {
    let kind: Option<String> = std::env::args().nth(2);
    let only: Option<usize> = std::env::args().nth(1).and_then(|a| a.parse().ok());
    for (name, make) in [("buffers", designs::buffers as fn(usize) -> (String, String)), ("filters", designs::filters)]
    {
        if kind.as_ref().is_some_and(|k| k != name) {
            continue;
        }
        for stages in [4, 30, 200].into_iter().filter(|s| only.is_none_or(|o| o == *s)) {
            let (text, needle) = make(stages);
            measure(name, stages, &text, &needle);
        }
    }
}

fn measure(name: &str, stages: usize, text: &str, needle: &str) {
    let mut bench = Workbench::new();
    let mut review = |text: String| {
        bench.set_text("a", text);
        let snapshot = bench.snapshot();
        let known = snapshot.problems("a").len();
        let start = Instant::now();
        let found = snapshot.problems_reviewed("a", false).len() - known;
        (start.elapsed().as_secs_f64() * 1e3, found)
    };
    let (first, _) = review(text.to_string());
    let edited = |i: usize| text.replacen(needle, &format!("{needle}.{}", i % 9 + 1), 1);
    let mut times: Vec<(f64, usize)> = (0..20).map(|i| review(edited(i))).collect();
    times.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (median, worst) = (times[10], times[19]);
    println!(
        "{name} {stages}: first {first:.0} ms, median {:.1} ms, worst {:.1} ms, {} findings",
        median.0, worst.0, median.1
    );
}
