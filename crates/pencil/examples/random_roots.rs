//! Prints seeded random networks with this crate's roots as JSON, one a line, for an independent check.
//!
//! `cargo run --release -p pencil --example random_roots -- COUNT SEED DECADES`

#[path = "../tests/networks/mod.rs"]
mod networks;

use networks::{Rng, Spread, next_solvable};
use pencil::{Column, Value, roots};

fn main() {
    let mut arguments = std::env::args().skip(1);
    let mut number = |default: f64| arguments.next().map_or(default, |a| a.parse().expect("a number"));
    let (count, seed, decades) = (number(200.0) as usize, number(1.0) as u64, number(12.0));
    let mut rng = Rng::new(seed);
    for _ in 0..count {
        let (_, system) = next_solvable(&mut rng, &Spread(decades));
        // The stamps as they stand, so that the reference sums them in its own precision: resistances stay resistances.
        let stamps = system.pencil.stamps().iter().map(|s| {
            let (value, over) = match s.value {
                Value::Constant(c) => (c, false),
                Value::Parameter(p) => (system.values[p.0 as usize], false),
                Value::Reciprocal(p) => (system.values[p.0 as usize], true),
            };
            let dynamic = s.domain == pencil::Domain::Dynamic;
            let rows: Vec<String> = s.rows.iter().map(|(i, c)| format!("[{i},{c:?}]")).collect();
            let columns: Vec<String> = s
                .columns
                .iter()
                .filter_map(|(c, k)| match c {
                    Column::Unknown(j) => Some(format!("[{j},{k:?}]")),
                    Column::Given(_) => None,
                })
                .collect();
            format!("[{value:?},{over},{dynamic},[{}],[{}]]", rows.join(","), columns.join(","))
        });
        let stamps: Vec<String> = stamps.collect();
        let answer = match roots(&system.pencil, &system.values) {
            Ok(blocks) => {
                let all = blocks.iter().flat_map(|b| &b.roots);
                let all: Vec<String> = all.map(|r| format!("[{:?},{:?},{:?}]", r.s.re, r.s.im, r.error)).collect();
                format!("[{}]", all.join(","))
            }
            Err(why) => format!("{:?}", why.to_string()),
        };
        println!("{{\"unknowns\":{},\"stamps\":[{}],\"roots\":{answer}}}", system.pencil.unknowns(), stamps.join(","));
    }
}
