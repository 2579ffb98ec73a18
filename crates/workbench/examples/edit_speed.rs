//! Milliseconds from an edit of a value to the hints of fifty lines and to the problems of the file, inside the workbench.
//!
//!     cargo run --release -p workbench --example edit_speed
//!
//! Designs of 4, 30 and 200 stages of ten parts each; the median and the 99th of a hundred in 400 edits, and the first look.

use std::fmt::Write;
use std::time::Instant;

use workbench::Workbench;

fn design(stages: usize) -> String {
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
    t
}

fn main() {
    let only: Option<usize> = std::env::args().nth(1).and_then(|a| a.parse().ok());
    for stages in [4, 30, 200].into_iter().filter(|s| only.is_none_or(|o| o == *s)) {
        let text = design(stages);
        let needle = format!("R{} 1k ", 10 * (stages / 2) + 4);
        let at = text.find(&needle).expect("the middle stage is there");
        let range = at.saturating_sub(600)..(at + 600).min(text.len());
        let mut bench = Workbench::new();
        let start = Instant::now();
        bench.set_text("a", text.clone());
        let first = bench.snapshot().hints("a", Some(range.clone())).len() + bench.snapshot().problems("a").len();
        let cold = start.elapsed().as_secs_f64() * 1e3;
        let mut times: Vec<f64> = (0..400)
            .map(|i| {
                let edited = text.replacen(&needle, &format!("R{} 1.{}k ", 10 * (stages / 2) + 4, i % 9 + 1), 1);
                let start = Instant::now();
                bench.set_text("a", edited);
                let snapshot = bench.snapshot();
                let n = snapshot.hints("a", Some(range.clone())).len() + snapshot.problems("a").len();
                assert!(n > 0);
                start.elapsed().as_secs_f64() * 1e3
            })
            .collect();
        times.sort_by(f64::total_cmp);
        println!(
            "{:5} lines, {:4} parts: first look {cold:7.2} ms ({first} hints and problems); an edit {:.2} ms, 99 % below {:.2} ms",
            text.lines().count(),
            stages * 10,
            times[200],
            times[395]
        );
    }
}
