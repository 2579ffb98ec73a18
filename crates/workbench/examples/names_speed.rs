//! Milliseconds that names, folds, growing selections and a rename take behind an edit of a value, in files of about 40, 300 and 2,500 lines.
//!
//!     cargo run --release -p workbench --example names_speed
//!
//! The median and the 99th of a hundred in 200 edits; of renames, which read the whole file again, in 20.

use std::time::Instant;

use workbench::{Snapshot, Workbench};

#[allow(dead_code)]
#[path = "../../../tests/bench/design.rs"]
mod design;
#[allow(dead_code)]
mod designs;

/// What is measured: its name, how often, and the question.
type Question = (&'static str, usize, fn(&Snapshot, usize) -> usize);

fn main() {
    let questions: [Question; 6] = [
        ("highlight", 200, |s, at| s.highlighted("a", at).len()),
        ("references", 200, |s, at| s.occurrences("a", at).len()),
        ("linked places", 200, |s, at| s.linked("a", at).map_or(0, |l| l.ranges.len())),
        ("folds", 200, |s, _| s.folds("a").len()),
        ("selection", 200, |s, at| s.around("a", at).len()),
        ("rename", 20, |s, at| match s.rename("a", at, "R99999") {
            Ok(files) => files.into_iter().flatten().map(|f| f.edits.len()).sum(),
            Err(why) => panic!("{why}"),
        }),
    ];
    for stages in [3, 24, 200] {
        let (text, needle) = designs::filters(stages);
        let at = text.find(&needle).expect("the middle stage is there");
        let mut bench = Workbench::new();
        bench.set_text("a", text.clone());
        bench.snapshot().problems("a");
        println!("{} lines", text.lines().count());
        for (name, times, ask) in questions {
            let mut took: Vec<f64> = (0..times)
                .map(|i| {
                    bench.set_text("a", text.replacen(&needle, &format!("{needle}.{}", i % 9 + 1), 1));
                    let snapshot = bench.snapshot();
                    // What the hints at the same key have worked out already is not told twice.
                    snapshot.tokens("a", None);
                    let start = Instant::now();
                    std::hint::black_box(ask(&snapshot, at));
                    start.elapsed().as_secs_f64() * 1e3
                })
                .collect();
            took.sort_by(f64::total_cmp);
            println!("  {name:14} {:7.2} {:7.2} ms", took[took.len() / 2], took[took.len() * 99 / 100]);
        }
    }
}
