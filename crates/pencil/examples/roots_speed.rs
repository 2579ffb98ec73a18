//! Microseconds for all roots, every check included, of chains of filter stages with single-pole amplifiers.
//!
//! `cargo run --release -p pencil --example roots_speed` prints a table;
//! with `-- --json` it prints the systems too, one a line, for `tests/python/roots_against_numpy.py`.

#[path = "../tests/networks/mod.rs"]
mod networks;

use std::hint::black_box;

use networks::{Rng, filter_chain, least};
use pencil::{Column, Entry, roots};

fn main() {
    let json = std::env::args().any(|a| a == "--json");
    if !json {
        println!("unknowns  roots  largest block  us");
    }
    for size in [10, 30, 100, 300] {
        let (net, _) = filter_chain(&mut Rng::new(u64::from(size)), size);
        let system = net.system();
        let (pencil, values) = (&system.pencil, &system.values);
        let found = roots(pencil, values).expect("a chain has roots");
        let micro = 1e6
            * least(|| {
                black_box(roots(black_box(pencil), black_box(values)).is_ok());
            });
        let all: Vec<_> = found.iter().flat_map(|b| &b.roots).collect();
        let largest = found.iter().map(|b| b.block.unknowns.len()).max().unwrap_or(0);
        if !json {
            println!("{:8}  {:5}  {largest:13}  {micro:.0}", pencil.unknowns(), all.len());
            continue;
        }
        let (g, c) = pencil.entries(values);
        let listed = |entries: &[Entry]| {
            let one = |e: &Entry| match e.1 {
                Column::Unknown(j) => Some(format!("[{},{j},{:?}]", e.0, e.2)),
                Column::Given(_) => None,
            };
            entries.iter().filter_map(one).collect::<Vec<_>>().join(",")
        };
        let roots: Vec<String> = all.iter().map(|r| format!("[{:?},{:?}]", r.s.re, r.s.im)).collect();
        println!(
            "{{\"unknowns\":{},\"microseconds\":{micro:?},\"g\":[{}],\"c\":[{}],\"roots\":[{}]}}",
            pencil.unknowns(),
            listed(&g),
            listed(&c),
            roots.join(",")
        );
    }
}
