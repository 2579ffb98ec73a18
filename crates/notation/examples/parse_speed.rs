//! Measures the parser: lines a second over the files given, from scratch and after one edit, and the time of single entries.
//!
//! `cargo run --release -p notation --example parse_speed -- crates/notation/tests/ok/*.stage`

use std::collections::HashSet;
use std::hint::black_box;
use std::ops::Range;
use std::time::{Duration, Instant};

use notation::tree::BlockKind;
use notation::{lay_out, read_entry, read_heading, tokens};

fn main() {
    let files: Vec<String> = std::env::args().skip(1).filter_map(|p| std::fs::read_to_string(p).ok()).collect();
    let start = Instant::now();
    black_box(read_entry(BlockKind::Stage, "a"));
    println!("building the parsers and the first entry: {:.2?}", start.elapsed());
    if !files.is_empty() {
        whole_files(&files);
        [2_500, 100_000].into_iter().for_each(|lines| grown(&files, lines));
    }
    let singles = [
        (BlockKind::Stage, "fb -- R3 1k -- C2 22u polar -- gnd"),
        (BlockKind::Stage, "mirror -- R5 10k || C4 22p -- sum"),
        (BlockKind::Stage, "U1a fet_dual: + in, - fb, out drive"),
        (BlockKind::Require, "gain in -> line at 1 kHz when low = 12 dB ± 0.5 dB"),
        (BlockKind::Formula, "gain in -> out = 1 + (R4 || Z(C4) + R5 || Z(C5)) / R3"),
        (BlockKind::Assume, "C3, C4 open below 20 kHz"),
        (BlockKind::Design, "supply vpos +12 V, vneg -12 V"),
        (BlockKind::Datasheet, "open loop gain typ 106 dB, min 94 dB"),
        (BlockKind::Stage, "fb -- R3 1k -- C2 22u pol"),
        (BlockKind::Require, "gian in -> out at 1 kHz < 3 dB"),
    ];
    for (kind, text) in singles {
        println!("{:8.2} µs  {text}", each(|| drop(black_box(read_entry(kind, text)))));
        if text.starts_with("fb -- R3 1k -- C2 22u polar") {
            println!("{:8.2} µs    of which its tokens", each(|| drop(black_box(tokens(text)))));
        }
    }
}

/// Mean time of a call in microseconds, over a fifth of a second.
fn each(mut call: impl FnMut()) -> f64 {
    let (start, mut count) = (Instant::now(), 0u32);
    while start.elapsed() < Duration::from_millis(200) {
        for _ in 0..50 {
            call();
        }
        count += 50;
    }
    start.elapsed().as_secs_f64() * 1e6 / f64::from(count)
}

fn whole_files(files: &[String]) {
    let lines: usize = files.iter().map(|f| f.lines().count()).sum();
    let mut entries = 0;
    for text in files {
        entries += lay_out(text).blocks.iter().map(|b| b.entries.len()).sum::<usize>();
    }
    let layout = each(|| {
        for text in files {
            black_box(lay_out(text));
        }
    });
    let all = each(|| files.iter().for_each(|text| from_scratch(text)));
    println!("{} files, {lines} lines, {entries} entries", files.len());
    println!("  layout alone      {layout:8.0} µs, {:6.2} µs a line", layout / lines as f64);
    println!(
        "  from scratch      {all:8.0} µs, {:6.2} µs an entry, {:.0} lines a second",
        all / entries as f64,
        lines as f64 * 1e6 / all
    );
    let edits: Vec<Edited> = files.iter().filter_map(|text| Edited::of(text)).collect();
    let one = each(|| edits.iter().for_each(Edited::read)) / edits.len().max(1) as f64;
    let lines: usize = edits.iter().map(|edit| edit.text.lines().count()).sum();
    println!(
        "  one edit a file   {one:8.2} µs, {:.0} lines a second are up to date again",
        lines as f64 / edits.len().max(1) as f64 * 1e6 / one
    );
}

/// Lays a file out and reads all that stands in it.
fn from_scratch(text: &str) {
    for block in lay_out(text).blocks {
        if let Some(heading) = &block.heading {
            black_box(read_heading(&text[heading.range.clone()]));
        }
        for entry in &block.entries {
            black_box(read_entry(block.kind.unwrap_or(BlockKind::Stage), &text[entry.range.clone()]));
        }
    }
}

/// The files one behind the other, over and over, as one file of so many lines: from scratch, and after one edit in its middle.
fn grown(files: &[String], lines: usize) {
    let text: Vec<&str> = files.iter().flat_map(|f| f.lines()).cycle().take(lines).collect();
    let text = text.join("\n");
    let all = few(|| from_scratch(&text));
    println!("one file of {lines} lines");
    println!("  from scratch      {:8.2} ms, {:.0} lines a second", all * 1e3, lines as f64 / all);
    let Some(edited) = Edited::of(&text) else { return };
    let one = few(|| edited.read());
    println!("  one edit          {:8.2} ms, {:.0} lines a second are up to date again", one * 1e3, lines as f64 / one);
}

/// The shortest time of a long call in seconds, of three.
fn few(mut call: impl FnMut()) -> f64 {
    let mut once = || {
        let start = Instant::now();
        call();
        start.elapsed().as_secs_f64()
    };
    (0..3).map(|_| once()).fold(f64::INFINITY, f64::min)
}

/// A file in which an entry was edited a moment ago: all other entries have their trees, found by their text.
struct Edited {
    text: String,
    known: HashSet<(BlockKind, String)>,
}

impl Edited {
    /// A digit goes into the middle of the entry in the middle.
    fn of(text: &str) -> Option<Edited> {
        let layout = lay_out(text);
        let entries: Vec<(BlockKind, Range<usize>)> = layout
            .blocks
            .iter()
            .flat_map(|b| b.entries.iter().map(|e| (b.kind.unwrap_or(BlockKind::Stage), e.range.clone())))
            .collect();
        let at = entries.get(entries.len() / 2)?.1.clone();
        let known = entries.iter().map(|(kind, range)| (*kind, text[range.clone()].to_string())).collect();
        let mut text = text.to_string();
        text.insert(text.floor_char_boundary((at.start + at.end) / 2), '1');
        Some(Edited { text, known })
    }

    /// Lays the file out and reads what has no tree.
    fn read(&self) {
        for block in lay_out(&self.text).blocks {
            let kind = block.kind.unwrap_or(BlockKind::Stage);
            for entry in block.entries {
                let key = (kind, self.text[entry.range].to_string());
                if !self.known.contains(&key) {
                    black_box(read_entry(kind, &key.1));
                }
            }
        }
    }
}
