//! Milliseconds from an edit of a value to the hints of fifty lines (or of the whole file) and to the problems of the file, inside the workbench.
//!
//!     cargo run --release -p workbench --example edit_speed [STAGES [buffers|filters [whole]]]
//!
//! Two designs of 4, 30 and 200 stages of ten parts each: a chain of buffers, whose stages do not act back on one another, and
//! a chain of filters that do, so that all their equations hang together. The median and the 99th of a hundred in 400 edits, and the first look.

use std::fmt::Write;
use std::time::Instant;

use workbench::Workbench;

#[allow(dead_code)]
#[path = "../../../tests/bench/design.rs"]
mod design;

/// Filters whose amplifiers have an output resistance, so that each loads the one in front.
fn filters(stages: usize) -> (String, String) {
    let mut t = String::from(
        "design \"Long chain\"\n  band 20 Hz .. 20 kHz\n  supply vpos +12 V, vneg -12 V\n  source n0 5 mV\n",
    );
    for k in 1..=stages {
        let (i, o, p) = (k - 1, k, 10 * (k - 1));
        let r = |n: usize| format!("R{}", p + n);
        let c = |n: usize| format!("C{}", p + n);
        let _ = write!(
            t,
            "\nstage s{k}: n{i} -> n{o}\n  n{i} -- {} 1u -- a{k}\n  a{k} -- {} 100k -- gnd\n  a{k} -- {} 10k -- x{k} -- {} 10k -- p{k}\n  \
             x{k} -- {} 1n -- o{k}\n  p{k} -- {} 470p -- gnd\n  U{k}a fet_dual: + p{k}, - f{k}, out o{k}\n  o{k} -- {} 1k -- f{k}\n  \
             f{k} -- {} 10k -- gnd\n  o{k} -- {} 100 -- n{o}\n",
            c(1),
            r(1),
            r(2),
            r(3),
            c(2),
            c(3),
            r(4),
            r(5),
            r(6)
        );
    }
    (t, format!("R{} 1", 10 * (stages / 2) + 4))
}

fn buffers(stages: usize) -> (String, String) {
    (design::design(stages).text, format!("R{} 1", 5 * (stages / 2) + 3))
}

fn main() {
    let kind: Option<String> = std::env::args().nth(2);
    let only: Option<usize> = std::env::args().nth(1).and_then(|a| a.parse().ok());
    for (name, make) in [("buffers", buffers as fn(usize) -> (String, String)), ("filters", filters)] {
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
