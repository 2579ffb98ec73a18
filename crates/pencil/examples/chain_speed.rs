//! Noise by transposed solutions, and builds at one frequency, of a chain of six amplifiers with their second-order low-passes.
//!
//! `cargo run --release -p pencil --example chain_speed` prints two times; with `-- --json` it prints the systems and the
//! answers too, one a line, for `tests/python/noise_against_numpy.py` and `tests/python/builds_against_numpy.py`.

#[path = "../tests/networks/mod.rs"]
mod networks;

use std::f64::consts::TAU;
use std::hint::black_box;

use networks::{Network, Part, Rng, System, least};
use num_complex::Complex64;
use pencil::{Column, Domain, Functional, Injection, Lane, Order, Solver, Stamp, Structure, Value};

/// J, at 25 °C.
const FOUR_KT: f64 = 4.0 * 1.380_649e-23 * 298.15;
const FREQUENCIES: u32 = 200;
const BUILDS: usize = 10_000;

/// Six second-order low-passes of a gain about 1.5, one behind the other, and the node at their end.
fn chain() -> (Network, u32) {
    let mut net = Network::default();
    let mut at = net.node();
    net.add(Part::Source(at, 0, 1.0));
    for k in 0..6 {
        let size = 1.0 + 0.3 * f64::from(k);
        let (x, p, f, o) = (net.node(), net.node(), net.node(), net.node());
        net.add(Part::Resistor(at, x, 4.7e3 * size)).add(Part::Resistor(x, p, 5.6e3 * size));
        net.add(Part::Capacitor(x, o, 1.5e-9)).add(Part::Capacitor(p, 0, 1e-9));
        net.add(Part::Resistor(o, f, 4.7e3)).add(Part::Resistor(f, 0, 10e3));
        net.add(Part::Amplifier {
            plus: p,
            minus: f,
            out: o,
            inverse_gain: 1e-5,
            inverse_bandwidth: 1.0 / (TAU * 10e6),
        });
        at = o;
    }
    (net, at)
}

/// What makes noise: where it stands in the equations, and its density squared (A²/Hz or V²/Hz).
fn makers(net: &Network, system: &System) -> Vec<(Injection, f64)> {
    let between = |a: u32, b: u32| Injection {
        equations: [(a, 1.0), (b, -1.0)].into_iter().filter(|e| e.0 != 0).map(|(n, k)| (n - 1, k)).collect(),
        givens: Vec::new(),
    };
    let mut found = Vec::new();
    for (part, row) in net.parts.iter().zip(&system.rows) {
        match *part {
            Part::Resistor(a, b, ohms) => found.push((between(a, b), FOUR_KT / ohms)),
            Part::Amplifier { plus, minus, .. } => {
                found.push((Injection::equation(row.expect("an amplifier has a row")), 5e-9f64.powi(2)));
                found.push((between(plus, 0), 0.5e-12f64.powi(2)));
                found.push((between(minus, 0), 0.5e-12f64.powi(2)));
            }
            _ => {}
        }
    }
    found
}

fn main() {
    let json = std::env::args().any(|a| a == "--json");
    let (net, out) = chain();
    let system = net.system();
    let (pencil, values) = (&system.pencil, &system.values);
    let structure = Structure::of(pencil).expect("a chain has a matching");
    let solver = Solver::new(&Order::compile(pencil, &structure, values));
    let wanted = Functional::unknown(out - 1);
    let about =
        format!("\"unknowns\":{},\"out\":{},\"stamps\":{}", pencil.unknowns(), out - 1, stamps(pencil.stamps()));

    let makers = makers(&net, &system);
    let injections: Vec<Injection> = makers.iter().map(|m| m.0.clone()).collect();
    let omegas: Vec<f64> =
        (0..FREQUENCIES).map(|k| TAU * 10.0 * 1e4f64.powf(f64::from(k) / f64::from(FREQUENCIES - 1))).collect();
    let lanes: Vec<Lane> = omegas.iter().map(|&w| Lane { s: Complex64::new(0.0, w), values }).collect();
    let densities = || -> Vec<f64> {
        let all = solver.adjoint(black_box(&lanes), &wanted, &injections);
        let one = |row: &[Result<Complex64, pencil::Unsure>]| {
            let powers = row.iter().zip(&makers).map(|(h, m)| h.as_ref().expect("it is solved").norm_sqr() * m.1);
            powers.sum::<f64>().sqrt()
        };
        all.chunks(makers.len()).map(one).collect()
    };
    let micro = 1e6
        * least(|| {
            black_box(densities());
        });
    if json {
        let makers: Vec<String> =
            makers.iter().map(|(i, white)| format!("[{},{white:?}]", pairs(&i.equations))).collect();
        println!(
            "{{\"what\":\"noise\",{about},\"microseconds\":{micro:?},\"values\":{values:?},\"makers\":[{}],\"omegas\":{omegas:?},\"answers\":{:?}}}",
            makers.join(","),
            densities()
        );
    } else {
        println!("noise density, {FREQUENCIES} frequencies, {} makers: {:.3} ms", makers.len(), micro / 1e3);
    }

    // Every resistor and capacitor within 1 %; an amplifier's two values stay, and a source has none.
    let mut rng = Rng::new(6);
    let varies: Vec<bool> = net
        .parts
        .iter()
        .flat_map(|part| match part {
            Part::Amplifier { .. } => vec![false; 2],
            Part::Source(..) => Vec::new(),
            _ => vec![true],
        })
        .collect();
    let mut off = |x: f64, varies: bool| if varies { x * (0.99 + 0.02 * rng.unit()) } else { x };
    let builds: Vec<Vec<f64>> =
        (0..BUILDS).map(|_| values.iter().zip(&varies).map(|(&x, &v)| off(x, v)).collect()).collect();
    let omega = TAU * 10e3;
    let lanes: Vec<Lane> = builds.iter().map(|values| Lane { s: Complex64::new(0.0, omega), values }).collect();
    let gains = || solver.solve(black_box(&lanes), &system.excitation, std::slice::from_ref(&wanted));
    let micro = 1e6
        * least(|| {
            black_box(gains());
        });
    if json {
        let answers: Vec<String> =
            gains().into_iter().map(|a| a.map_or("null".into(), |z| format!("[{:?},{:?}]", z.re, z.im))).collect();
        let sources: Vec<(u32, f64)> = system.excitation.equations.iter().map(|(i, v)| (*i, v.re)).collect();
        println!(
            "{{\"what\":\"builds\",{about},\"microseconds\":{micro:?},\"sources\":{},\"omega\":{omega:?},\"values\":{builds:?},\"answers\":[{}]}}",
            pairs(&sources),
            answers.join(",")
        );
    } else {
        println!("gain at one frequency, {BUILDS} builds: {:.3} ms", micro / 1e3);
    }
}

fn pairs(all: &[(u32, f64)]) -> String {
    format!("[{}]", all.iter().map(|(i, k)| format!("[{i},{k:?}]")).collect::<Vec<_>>().join(","))
}

/// Each as its value, whether it stands in C, its equations and its columns.
fn stamps(all: &[Stamp]) -> String {
    let one = |stamp: &Stamp| {
        let value = match stamp.value {
            Value::Constant(x) => format!("\"constant\",{x:?}"),
            Value::Parameter(p) => format!("\"parameter\",{}", p.0),
            Value::Reciprocal(p) => format!("\"reciprocal\",{}", p.0),
        };
        let column = |&(column, k): &(Column, f64)| match column {
            Column::Unknown(j) => (j, k),
            Column::Given(_) => unreachable!("chains are driven by sources"),
        };
        let columns: Vec<(u32, f64)> = stamp.columns.iter().map(column).collect();
        format!("[{value},{},{},{}]", stamp.domain == Domain::Dynamic, pairs(&stamp.rows), pairs(&columns))
    };
    format!("[{}]", all.iter().map(one).collect::<Vec<_>>().join(","))
}
