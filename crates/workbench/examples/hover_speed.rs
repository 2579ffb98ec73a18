//! How long hovers take, with their plots, on every name and statement of the examples: the slowest of each file.

use std::time::Instant;

use workbench::Workbench;

fn main() {
    for (name, text) in [
        ("belfry-microphone", include_str!("../../../examples/belfry-microphone.stage")),
        ("bird-box-low-pass", include_str!("../../../examples/bird-box-low-pass.stage")),
        ("carillon-tone", include_str!("../../../examples/carillon-tone.stage")),
        ("river-listener", include_str!("../../../examples/river-listener.stage")),
        ("school-laboratory", include_str!("../../../examples/school-laboratory.stage")),
    ] {
        let mut bench = Workbench::new();
        bench.set_text("a", text.into());
        // As in an editor, where hints were shown before anyone points at something.
        let snapshot = bench.snapshot();
        snapshot.hints("a", None);
        snapshot.problems("a");
        for pictures in [false, true] {
            let mut all: Vec<(f64, &str)> = Vec::new();
            let mut at = 0;
            for line in text.split_inclusive('\n') {
                let word = line.find(|c: char| !c.is_whitespace()).unwrap_or(0);
                // A heading's name stands behind its word.
                let column = if word == 0 { line.find(' ').map_or(0, |b| b + 1) } else { word };
                let began = Instant::now();
                let found = match pictures {
                    true => snapshot.hover_with_picture("a", at + column),
                    false => snapshot.hover("a", at + column),
                };
                if found.is_some() {
                    all.push((began.elapsed().as_secs_f64() * 1e3, line.trim()));
                }
                at += line.len();
            }
            all.sort_by(|a, b| b.0.total_cmp(&a.0));
            let kind = if pictures { "with pictures" } else { "in characters" };
            println!("{name}, {kind}: {} hovers", all.len());
            for (ms, line) in all.iter().take(3) {
                println!("  {ms:6.1} ms  {line}");
            }
        }
    }
}
