//! Measures how the time grows with the text: each shape of text in three sizes, and the time of each against the one before. A time that
//! grows with the length alone grows fourfold; what grows with the square of it sixteenfold.
//!
//! `cargo run --release -p notation --example growth`

use std::hint::black_box;
use std::time::{Duration, Instant};

use notation::format::edits;
use notation::tree::BlockKind;
use notation::{lay_out, read_entry, tokens};

/// What is measured of a text.
type Reader = fn(&str);

/// A text's shape: its name, the block for its entries, and the text of a size in bytes.
type Shape = (&'static str, BlockKind, fn(usize) -> String);

const SHAPES: &[Shape] = &[
    ("a path in one line", BlockKind::Stage, |n| format!("n0{}", repeat(" -- R1 4k7 1% -- n1", n))),
    ("one word", BlockKind::Stage, |n| "x".repeat(n)),
    ("links alone", BlockKind::Stage, |n| repeat("-- ", n)),
    ("open parentheses", BlockKind::Let, |n| format!("x = {}", "(".repeat(n))),
    ("nested parentheses", BlockKind::Let, |n| format!("x = {}1{}", "(".repeat(n / 2), ")".repeat(n / 2))),
    ("a sum", BlockKind::Formula, |n| format!("gain a -> b = 1{}", repeat(" + R1", n))),
    ("terminals", BlockKind::Stage, |n| format!("U1a fet: + a{}", repeat(", out b", n))),
    ("quotes", BlockKind::Stage, |n| "\"".repeat(n)),
    ("many lines", BlockKind::Stage, |n| format!("stage a\n{}", repeat("  in -- R1 1k -- out\n", n))),
    ("one entry in many lines", BlockKind::Stage, |n| {
        format!("stage a\n  a -- R1 1k\n{}", repeat("    -- R1 1k\n", n))
    }),
    ("unindented lines", BlockKind::Stage, |n| format!("stage a\n{}", repeat("a -- R1 1k -- b\n", n))),
    ("headings", BlockKind::Stage, |n| repeat("stage a: in -> out\n", n)),
    ("comment lines", BlockKind::Stage, |n| repeat("# a remark\n", n)),
    ("remarks between lines", BlockKind::Stage, |n| {
        format!("stage a\n  a -- R1 1k\n{}", repeat("  # why\n    -- R1 1k\n", n))
    }),
    ("blank lines", BlockKind::Stage, |n| "\n".repeat(n)),
    ("blanks", BlockKind::Stage, |n| " ".repeat(n)),
];

fn repeat(piece: &str, size: usize) -> String {
    piece.repeat(size / piece.len())
}

fn main() {
    const SIZES: [usize; 3] = [64 << 10, 256 << 10, 1 << 20];
    println!("{:24} {:7} {:>12} {:>12} {:>12}", "", "", "64 KiB", "256 KiB", "1 MiB");
    for (name, kind, text) in SHAPES {
        let texts = SIZES.map(text);
        let readers: [(&str, Reader); 3] = [
            ("tokens", |t| drop(black_box(tokens(t)))),
            ("layout", |t| drop(black_box(lay_out(t)))),
            ("format", |t| drop(black_box(edits(t)))),
        ];
        for (what, reader) in readers {
            row(name, what, texts.each_ref().map(|t| fastest(|| reader(t))));
        }
        row(name, "entries", texts.each_ref().map(|t| fastest(|| entries(*kind, t))));
    }
}

/// Lays a text out and reads its entries; a text without a heading is one entry.
fn entries(kind: BlockKind, text: &str) {
    let layout = lay_out(text);
    if layout.blocks.first().is_none_or(|block| block.kind.is_none()) {
        black_box(read_entry(kind, text));
        return;
    }
    for block in layout.blocks {
        for entry in block.entries {
            black_box(read_entry(block.kind.unwrap_or(kind), &text[entry.range]));
        }
    }
}

fn row(name: &str, what: &str, times: [f64; 3]) {
    let ratio = |i: usize| times[i] / times[i - 1];
    let mark = if ratio(1).max(ratio(2)) > 8.0 { "  <- more than the length" } else { "" };
    println!("{name:24} {what:7} {:9.2} ms {:10.1} x  {:10.1} x{mark}", times[0], ratio(1), ratio(2));
}

/// The least of some times of a call, in milliseconds.
fn fastest(mut call: impl FnMut()) -> f64 {
    let (began, mut best) = (Instant::now(), f64::MAX);
    let mut rounds = 0;
    while rounds < 3 || (began.elapsed() < Duration::from_millis(60) && rounds < 20) {
        let start = Instant::now();
        call();
        best = best.min(start.elapsed().as_secs_f64() * 1e3);
        rounds += 1;
    }
    best
}
