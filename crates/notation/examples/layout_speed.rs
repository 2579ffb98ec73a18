//! Measures the canonical layout: the files given, each from scratch, then a text of 100,000 lines and a line of a megabyte.
//!
//! `cargo run --release -p notation --example layout_speed -- examples/*.stage`

use std::hint::black_box;
use std::time::Instant;

use notation::format::{edits, edits_after_enter};

fn main() {
    black_box(edits("stage a\n  in -- R1 1k -- out\n"));
    for path in std::env::args().skip(1) {
        let Ok(text) = std::fs::read_to_string(&path) else { continue };
        let whole = each(|| drop(black_box(edits(&text))));
        let enter = each(|| drop(black_box(edits_after_enter(&text, text.len()))));
        println!("{whole:9.1} µs all, {enter:9.1} µs behind a new line, {:4} lines  {path}", text.lines().count());
    }
    let mut long = String::from("stage big: n0 -> out\n");
    for n in 0..100_000 {
        long += &format!(" n{n}--R{n} 1k -- n{} # {n}\n", n + 1);
    }
    let mut wide = String::from("stage wide: n0 -> out\n  n0");
    for n in 0.. {
        if wide.len() > 1_000_000 {
            break;
        }
        wide += &format!(" --R{n}  4k7 1% -- n{n}");
    }
    for (name, text) in [("100,000 lines", long), ("a line of a megabyte", wide)] {
        let start = Instant::now();
        let count = black_box(edits(&text)).len();
        println!("{:9.1} ms, {count} edits, {name}", start.elapsed().as_secs_f64() * 1e3);
    }
}

/// Mean time of a call in microseconds, over a fifth of a second.
fn each(mut call: impl FnMut()) -> f64 {
    let (start, mut count) = (Instant::now(), 0u32);
    while start.elapsed().as_millis() < 200 {
        call();
        count += 1;
    }
    start.elapsed().as_secs_f64() * 1e6 / f64::from(count)
}
