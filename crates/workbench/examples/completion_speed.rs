//! Milliseconds from a key to the list of what can stand at the cursor, and to the signature there, inside the workbench.
//!
//!     cargo run --release -p workbench --example completion_speed
//!
//! Two designs of 4, 30 and 200 stages of ten parts each, as for `edit_speed`. A line is typed word by word in the middle stage; each key is taken in, then
//! answered. The median and the 99th of a hundred.

use std::time::Instant;

use workbench::Workbench;

#[allow(dead_code)]
#[path = "../../../tests/bench/design.rs"]
mod design;
mod designs;

const LINES: [&str; 4] = ["  out -- R9", "  out -- R9999 4k8", "  U9999a tl072: + ", "  out -- C9999 22"];

fn main() {
    for (name, make) in [("buffers", designs::buffers as fn(usize) -> (String, String)), ("filters", designs::filters)]
    {
        for stages in [4, 30, 200] {
            let (text, needle) = make(stages);
            measure(name, stages, &text, &needle);
        }
    }
}

fn measure(name: &str, stages: usize, text: &str, needle: &str) {
    let middle = text.find(needle).expect("the middle stage is there");
    let at = middle + text[middle..].find('\n').expect("a line's end") + 1;
    let mut bench = Workbench::new();
    bench.set_text("a", text.to_string());
    let _ = bench.snapshot().completions("a", at);
    let mut times: Vec<[f64; 3]> = Vec::new();
    for round in 0..20 {
        for line in LINES {
            for end in (1..=line.len()).filter(|end| line.is_char_boundary(*end)) {
                let mut edited = text.to_string();
                edited.insert_str(at, &format!("{}{}\n", &line[..end], "  # typed".repeat(round % 2)));
                let start = Instant::now();
                let ms = |from: Instant| from.elapsed().as_secs_f64() * 1e3;
                bench.set_text("a", edited);
                let snapshot = bench.snapshot();
                let items = snapshot.completions("a", at + end).items.len();
                let listed = ms(start);
                let signed = Instant::now();
                let signature = snapshot.signature("a", at + end);
                std::hint::black_box((items, signature));
                times.push([listed, ms(signed), items as f64]);
            }
        }
    }
    let of = |i: usize| {
        let mut one: Vec<f64> = times.iter().map(|t| t[i]).collect();
        one.sort_by(f64::total_cmp);
        (one[one.len() / 2], one[one.len() * 99 / 100])
    };
    let ((list, late), (signature, _), (items, _)) = (of(0), of(1), of(2));
    println!(
        "{name} {:5} lines, {:4} parts: a key and its list {list:.2} ms, 99 % below {late:.2} ms ({items:.0} items); the signature {signature:.2} ms",
        text.lines().count(),
        stages * 10
    );
}
