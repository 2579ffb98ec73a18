//! Prints seeded random networks with this crate's answers as JSON, one a line, for an independent check.
//!
//! `cargo run --release -p pencil --example random_networks -- COUNT SEED DECADES`

#[path = "../tests/networks/mod.rs"]
mod networks;

use networks::{Part, Rng, Spread, next_solvable};
use num_complex::Complex64;
use pencil::{Column, Functional, Lane, Order, Solver, Structure};

fn main() {
    let mut arguments = std::env::args().skip(1);
    let mut number = |default: f64| arguments.next().map_or(default, |a| a.parse().expect("a number"));
    let (count, seed, decades) = (number(200.0) as usize, number(1.0) as u64, number(12.0));
    let mut rng = Rng::new(seed);
    for _ in 0..count {
        let (net, system) = next_solvable(&mut rng, &Spread(decades));
        let structure = Structure::of(&system.pencil).expect("a full rank has a matching");
        let order = Order::compile(&system.pencil, &structure, &system.values);
        let hertz = rng.between(1e-6, 1e10);
        let omega = 2.0 * std::f64::consts::PI * hertz;
        let lane = Lane { s: Complex64::new(0.0, omega), values: &system.values };
        let mut pairs: Vec<(u32, u32)> = (1..=net.nodes).map(|a| (a, 0)).collect();
        for part in &net.parts {
            match *part {
                Part::Amplifier { plus, minus, .. } => pairs.push((plus, minus)),
                Part::Resistor(a, b, _) | Part::Capacitor(a, b, _) | Part::Link(a, b, _) => pairs.push((a, b)),
                _ => {}
            }
        }
        pairs.retain(|p| p.0 != p.1);
        let wanted: Vec<Functional> = pairs
            .iter()
            .map(|&(a, b)| {
                let ends = [(a, 1.0), (b, -1.0)].into_iter().filter(|e| e.0 != 0);
                Functional { terms: ends.map(|(n, k)| (Column::Unknown(n - 1), k)).collect() }
            })
            .collect();
        let answers = Solver::new(&order).solve(&[lane], &system.excitation, &wanted);
        let parts: Vec<String> = net.parts.iter().map(json).collect();
        let pairs: Vec<String> = pairs.iter().map(|(a, b)| format!("[{a},{b}]")).collect();
        let answers: Vec<String> = answers
            .iter()
            .map(|a| match a {
                Ok(z) => format!("[{:?},{:?}]", z.re, z.im),
                Err(why) => format!("{:?}", why.to_string()),
            })
            .collect();
        println!(
            "{{\"nodes\":{},\"unknowns\":{},\"omega\":{omega:?},\"parts\":[{}],\"pairs\":[{}],\"answers\":[{}]}}",
            net.nodes,
            system.pencil.unknowns(),
            parts.join(","),
            pairs.join(","),
            answers.join(",")
        );
    }
}

fn json(part: &Part) -> String {
    match *part {
        Part::Resistor(a, b, x) | Part::Link(a, b, x) => format!("[\"R\",{a},{b},{x:?}]"),
        Part::Capacitor(a, b, x) => format!("[\"C\",{a},{b},{x:?}]"),
        Part::Inductor(a, b, x) => format!("[\"L\",{a},{b},{x:?}]"),
        Part::Source(a, b, x) => format!("[\"V\",{a},{b},{x:?}]"),
        Part::Amplifier { plus, minus, out, inverse_gain, inverse_bandwidth } => {
            format!("[\"A\",{plus},{minus},{out},{inverse_gain:?},{inverse_bandwidth:?}]")
        }
        Part::Switch { a, b, alpha, beta } => format!("[\"S\",{a},{b},{alpha:?},{beta:?}]"),
    }
}
