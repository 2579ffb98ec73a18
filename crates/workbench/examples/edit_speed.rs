//! Milliseconds from an edit of a value to the hints of fifty lines (or of the whole file) and to the problems of the file, inside the workbench.
//!
//!     cargo run --release -p workbench --example edit_speed [STAGES [buffers|filters [whole]]]
//!
//! Two designs of 4, 30 and 200 stages of ten parts each: a chain of buffers, whose stages do not act back on one another, and
//! a chain of filters that do, so that all their equations hang together. The median and the 99th of a hundred in 400 edits, and the first look.

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
    let at = text.find(needle).expect("the middle stage is there");
    let whole = std::env::args().nth(3).is_some_and(|a| a == "whole");
    let range = if whole { 0..text.len() } else { at.saturating_sub(600)..(at + 600).min(text.len()) };
    let mut bench = Workbench::new();
    let start = Instant::now();
    bench.set_text("a", text.to_string());
    let first = bench.snapshot().hints("a", Some(range.clone())).len() + bench.snapshot().problems("a").len();
    let cold = start.elapsed().as_secs_f64() * 1e3;
    // Three times: the text taken in, the hints, the problems.
    let mut times: Vec<[f64; 4]> = (0..400)
        .map(|i| {
            let edited = text.replacen(needle, &format!("{needle}.{}", i % 9 + 1), 1);
            let start = Instant::now();
            let ms = |from: Instant| from.elapsed().as_secs_f64() * 1e3;
            bench.set_text("a", edited);
            let set = ms(start);
            let snapshot = bench.snapshot();
            let problems = snapshot.problems("a").len();
            let told = ms(start);
            let hints = snapshot.hints("a", Some(range.clone())).len();
            assert!(problems + hints > 0);
            let all = ms(start);
            [all, set, told - set, all - told]
        })
        .collect();
    times.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let [all, set, told, hints] = times[200];
    println!(
        "{name} {:5} lines, {:4} parts: first look {cold:7.2} ms ({first} hints and problems); an edit {all:.2} ms (text {set:.2}, problems {told:.2}, hints {hints:.2}), 99 % below {:.2} ms",
        text.lines().count(),
        stages * 10,
        times[395][0]
    );
}
