//! Microseconds a frequency, every check included, on chains of filter stages with single-pole amplifiers.
//!
//! `cargo run --release -p pencil --example replay_speed` prints a table;
//! with `-- --json` it prints the systems too, one a line, for `tests/python/pencil_against_numpy.py`.

#[path = "../tests/networks/mod.rs"]
mod networks;

use std::hint::black_box;

use networks::{Rng, filter_chain, least};
use num_complex::Complex64;
use pencil::{At, Column, Entry, Functional, Lane, Order, Solver, Structure, generic_rank};

fn main() {
    let json = std::env::args().any(|a| a == "--json");
    if !json {
        println!(
            "unknowns  a frequency/us  with adjoint/us  portable/us  values differ/us  order/us  structure/us  rank/us"
        );
    }
    for size in [10, 30, 100, 300, 1000] {
        let (net, out) = filter_chain(&mut Rng::new(u64::from(size)), size);
        let system = net.system();
        let (pencil, values) = (&system.pencil, &system.values);
        let structure = Structure::of(pencil).expect("a chain has a matching");
        let order = Order::compile(pencil, &structure, values);
        let solver = Solver::new(&order);
        let wanted = [Functional::unknown(out - 1)];
        let count = 64;
        let omegas: Vec<f64> =
            (0..count).map(|k| 2.0 * std::f64::consts::PI * 10.0 * 1e5f64.powf(f64::from(k) / 63.0)).collect();
        let lanes: Vec<Lane> = omegas.iter().map(|&w| Lane { s: Complex64::new(0.0, w), values }).collect();
        let micro = 1e6 / f64::from(count);
        let forward = |solver: &Solver| {
            micro
                * least(|| {
                    black_box(solver.solve(black_box(&lanes), &system.excitation, &wanted));
                })
        };
        let each = forward(&solver);
        if json {
            let answers: Vec<String> = solver
                .solve(&lanes, &system.excitation, &wanted)
                .into_iter()
                .map(|a| a.map_or("null".into(), |z| format!("[{:?},{:?}]", z.re, z.im)))
                .collect();
            let (g, c) = pencil.entries(values);
            let sources: Vec<String> =
                system.excitation.equations.iter().map(|(i, v)| format!("[{i},{:?}]", v.re)).collect();
            println!(
                "{{\"unknowns\":{},\"out\":{},\"microseconds\":{each:?},\"g\":{},\"c\":{},\"sources\":[{}],\"omegas\":{omegas:?},\"answers\":[{}]}}",
                pencil.unknowns(),
                out - 1,
                list(&g),
                list(&c),
                sources.join(","),
                answers.join(",")
            );
            continue;
        }
        let both = micro
            * least(|| {
                black_box(solver.sensitivities(black_box(&lanes), &system.excitation, &wanted[0]));
            });
        let portable = forward(&solver.clone().without_vectors());
        let copies: Vec<Vec<f64>> = (0..8).map(|_| values.clone()).collect();
        let varied: Vec<Lane> =
            lanes.iter().enumerate().map(|(k, _)| Lane { s: lanes[k / 8].s, values: &copies[k % 8] }).collect();
        let samples = micro
            * least(|| {
                black_box(solver.solve(black_box(&varied), &system.excitation, &wanted));
            });
        let ordering = 1e6
            * least(|| {
                black_box(Order::compile(black_box(pencil), &structure, values));
            });
        let structuring = 1e6
            * least(|| {
                black_box(Structure::of(black_box(pencil)).is_ok());
            });
        let rank = 1e6
            * least(|| {
                black_box(generic_rank(black_box(pencil), At::AnyFrequency, &[]).is_ok());
            });
        println!(
            "{:8}  {each:14.3}  {both:15.3}  {portable:11.3}  {samples:16.3}  {ordering:8.0}  {structuring:12.0}  {rank:7.0}",
            pencil.unknowns()
        );
    }
}

fn list(entries: &[Entry]) -> String {
    let item = |&(i, column, value): &Entry| match column {
        Column::Unknown(j) => format!("[{i},{j},{value:?}]"),
        Column::Given(_) => unreachable!("chains are driven by sources"),
    };
    format!("[{}]", entries.iter().map(item).collect::<Vec<_>>().join(","))
}
