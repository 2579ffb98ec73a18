//! Random analog networks as pencils, for tests and examples: the nodal equations with branch currents, one row a part.
#![allow(dead_code, missing_docs)]

use num_complex::Complex64;
use pencil::{At, Builder, Column, Domain, Excitation, Parameter, Pencil, Value, generic_rank};

/// A part between nodes; node 0 is ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Part {
    /// Ohms, as a conductance stamp.
    Resistor(u32, u32, f64),
    /// Ohms, with a current and a row of its own; may be 0.
    Link(u32, u32, f64),
    Capacitor(u32, u32, f64),
    Inductor(u32, u32, f64),
    /// Volts.
    Source(u32, u32, f64),
    /// `(1/a0 + s/gbw)·out = plus − minus`; both coefficients 0 make it ideal.
    Amplifier {
        plus: u32,
        minus: u32,
        out: u32,
        inverse_gain: f64,
        inverse_bandwidth: f64,
    },
    /// `alpha·(va − vb) + beta·i = 0`: closed is (1, 0), open is (0, 1).
    Switch {
        a: u32,
        b: u32,
        alpha: f64,
        beta: f64,
    },
}

#[derive(Clone, Debug, Default)]
pub struct Network {
    pub nodes: u32,
    pub parts: Vec<Part>,
}

/// A network as a system: the unknowns are the node voltages (node k is unknown k − 1), then the branch currents.
#[derive(Clone, Debug)]
pub struct System {
    pub pencil: Pencil,
    pub values: Vec<f64>,
    pub excitation: Excitation,
    /// The row of each part that has one.
    pub rows: Vec<Option<u32>>,
}

/// Equations or unknowns of two nodes with signs; ground has none.
fn ends(a: u32, b: u32) -> Vec<(u32, f64)> {
    [(a, 1.0), (b, -1.0)].into_iter().filter(|e| e.0 != 0).map(|(n, k)| (n - 1, k)).collect()
}

fn unknowns(terms: &[(u32, f64)]) -> Vec<(Column, f64)> {
    terms.iter().map(|&(j, k)| (Column::Unknown(j), k)).collect()
}

impl Network {
    pub fn node(&mut self) -> u32 {
        self.nodes += 1;
        self.nodes
    }

    pub fn add(&mut self, part: Part) -> &mut Self {
        self.parts.push(part);
        self
    }

    pub fn system(&self) -> System {
        let has_row = |p: &Part| !matches!(p, Part::Resistor(..) | Part::Capacitor(..));
        let size = self.nodes + self.parts.iter().filter(|p| has_row(p)).count() as u32;
        let mut builder = Builder::new(size, 0);
        let (mut values, mut rows) = (Vec::new(), Vec::new());
        let mut excitation = Excitation::default();
        let mut next = self.nodes;
        for part in &self.parts {
            let mut parameter = |value: f64| {
                values.push(value);
                builder.parameter()
            };
            let one = Value::Constant(1.0);
            let row = has_row(part).then(|| {
                next += 1;
                next - 1
            });
            rows.push(row);
            let own = row.unwrap_or(0);
            match *part {
                Part::Resistor(a, b, ohms) => {
                    let value = Value::Reciprocal(parameter(ohms));
                    builder.stamp(value, Domain::Static, &ends(a, b), &unknowns(&ends(a, b)));
                }
                Part::Capacitor(a, b, farads) => {
                    let value = Value::Parameter(parameter(farads));
                    builder.stamp(value, Domain::Dynamic, &ends(a, b), &unknowns(&ends(a, b)));
                }
                Part::Link(a, b, x) | Part::Inductor(a, b, x) => {
                    let domain = if matches!(part, Part::Link(..)) { Domain::Static } else { Domain::Dynamic };
                    let value = Value::Parameter(parameter(x));
                    let current = [(Column::Unknown(own), 1.0)];
                    builder.stamp(one, Domain::Static, &ends(a, b), &current);
                    builder.stamp(one, Domain::Static, &[(own, 1.0)], &unknowns(&ends(a, b)));
                    builder.stamp(value, domain, &[(own, -1.0)], &current);
                }
                Part::Source(a, b, volts) => {
                    builder.stamp(one, Domain::Static, &ends(a, b), &[(Column::Unknown(own), 1.0)]);
                    builder.stamp(one, Domain::Static, &[(own, 1.0)], &unknowns(&ends(a, b)));
                    excitation.equations.push((own, Complex64::new(volts, 0.0)));
                }
                Part::Amplifier { plus, minus, out, inverse_gain, inverse_bandwidth } => {
                    let (a, t) = (parameter(inverse_gain), parameter(inverse_bandwidth));
                    let (out, current) = (ends(out, 0), [(Column::Unknown(own), 1.0)]);
                    builder.stamp(one, Domain::Static, &out, &current);
                    builder.stamp(one, Domain::Static, &[(own, -1.0)], &unknowns(&ends(plus, minus)));
                    builder.stamp(Value::Parameter(a), Domain::Static, &[(own, 1.0)], &unknowns(&out));
                    builder.stamp(Value::Parameter(t), Domain::Dynamic, &[(own, 1.0)], &unknowns(&out));
                }
                Part::Switch { a, b, alpha, beta } => {
                    let (p, q) = (parameter(alpha), parameter(beta));
                    let current = [(Column::Unknown(own), 1.0)];
                    builder.stamp(one, Domain::Static, &ends(a, b), &current);
                    builder.stamp(Value::Parameter(p), Domain::Static, &[(own, 1.0)], &unknowns(&ends(a, b)));
                    builder.stamp(Value::Parameter(q), Domain::Static, &[(own, 1.0)], &current);
                }
            }
        }
        System { pencil: builder.finish(), values, excitation, rows }
    }
}

/// A seeded stream of numbers (the xorshift* generator of Vigna, ACM Trans. Math. Softw. 42, 2016).
pub struct Rng(u64);

impl Rng {
    pub fn new(seed: u64) -> Self {
        Rng(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x2545_f491_4f6c_dd1d)
    }
    pub fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }
    /// Uniform from 0 to 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn below(&mut self, n: u32) -> u32 {
        (self.unit() * f64::from(n)) as u32
    }
    /// Uniform in the logarithm.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.unit())
    }
}

/// Element values over `decades` decades about 1 kΩ, 1 nF and 1 mH.
pub struct Spread(pub f64);

impl Spread {
    fn draw(&self, rng: &mut Rng, middle: f64) -> f64 {
        middle * 10f64.powf(self.0 * (rng.unit() - 0.5))
    }
    pub fn ohms(&self, rng: &mut Rng) -> f64 {
        self.draw(rng, 1e3)
    }
    pub fn farads(&self, rng: &mut Rng) -> f64 {
        self.draw(rng, 1e-9)
    }
    pub fn henries(&self, rng: &mut Rng) -> f64 {
        self.draw(rng, 1e-3)
    }
}

fn amplifier(rng: &mut Rng, plus: u32, minus: u32, out: u32) -> Part {
    let ideal = rng.below(3) == 0;
    let (inverse_gain, inverse_bandwidth) =
        if ideal { (0.0, 0.0) } else { (rng.between(1e-8, 1e-3), 1.0 / rng.between(1e3, 1e10)) };
    Part::Amplifier { plus, minus, out, inverse_gain, inverse_bandwidth }
}

/// The next random network that has one solution for generic values, its exact zeros kept, with its system.
pub fn next_solvable(rng: &mut Rng, spread: &Spread) -> (Network, System) {
    loop {
        let stages = 2 + rng.below(9);
        let net = random_network(rng, stages, spread);
        let system = net.system();
        let zero: Vec<_> =
            (0..system.values.len() as u32).map(Parameter).filter(|p| system.values[p.0 as usize] == 0.0).collect();
        if generic_rank(&system.pencil, At::AnyFrequency, &zero).is_ok() {
            return (net, system);
        }
    }
}

/// The least seconds that `run` took, over at least a third of a second.
pub fn least(mut run: impl FnMut()) -> f64 {
    let (mut best, begin) = (f64::INFINITY, std::time::Instant::now());
    while begin.elapsed().as_secs_f64() < 0.35 {
        let start = std::time::Instant::now();
        run();
        best = best.min(start.elapsed().as_secs_f64());
    }
    best
}

/// A chain of amplifier and passive stages with random parts across it.
pub fn random_network(rng: &mut Rng, stages: u32, spread: &Spread) -> Network {
    let mut net = Network::default();
    let mut at = net.node();
    net.add(Part::Source(at, 0, 1.0));
    for _ in 0..stages {
        let two = |rng: &mut Rng, net: &mut Network, a: u32, b: u32| {
            match rng.below(4) {
                0 => net.add(Part::Capacitor(a, b, spread.farads(rng))),
                1 => net.add(Part::Link(a, b, spread.ohms(rng))),
                _ => net.add(Part::Resistor(a, b, spread.ohms(rng))),
            };
        };
        match rng.below(6) {
            0 => {
                let (m, o) = (net.node(), net.node());
                two(rng, &mut net, at, m);
                two(rng, &mut net, m, o);
                net.add(Part::Resistor(m, o, spread.ohms(rng)));
                let part = amplifier(rng, 0, m, o);
                net.add(part);
                at = o;
            }
            1 => {
                let (x, p, f, o) = (net.node(), net.node(), net.node(), net.node());
                two(rng, &mut net, at, x);
                two(rng, &mut net, x, p);
                two(rng, &mut net, x, o);
                two(rng, &mut net, p, 0);
                net.add(Part::Resistor(o, f, spread.ohms(rng)));
                two(rng, &mut net, f, 0);
                net.add(Part::Resistor(p, 0, spread.ohms(rng)));
                let part = amplifier(rng, p, f, o);
                net.add(part);
                at = o;
            }
            2 => {
                let x = net.node();
                two(rng, &mut net, at, x);
                two(rng, &mut net, x, 0);
                at = x;
            }
            3 => {
                let (x, y) = (net.node(), net.node());
                net.add(Part::Resistor(at, x, spread.ohms(rng)));
                net.add(Part::Inductor(x, y, spread.henries(rng)));
                two(rng, &mut net, y, 0);
                net.add(Part::Resistor(y, 0, spread.ohms(rng)));
                at = y;
            }
            4 => {
                let x = net.node();
                two(rng, &mut net, at, x);
                let closed = rng.below(2) == 0;
                let y = net.node();
                let (alpha, beta) = if closed { (1.0, 0.0) } else { (0.0, 1.0) };
                net.add(Part::Switch { a: x, b: y, alpha, beta });
                net.add(Part::Resistor(y, 0, spread.ohms(rng)));
                two(rng, &mut net, x, y);
                at = y;
            }
            _ => {
                let o = net.node();
                let part = amplifier(rng, at, o, o);
                net.add(part);
                at = o;
            }
        }
        if rng.below(2) == 0 {
            let (a, b) = (1 + rng.below(net.nodes), rng.below(net.nodes + 1));
            if a != b {
                two(rng, &mut net, a, b);
            }
        }
    }
    net
}

/// A chain of ordinary filter stages with about `unknowns` unknowns: second-order low-pass and band-pass stages about
/// single-pole amplifiers, coupled stages and a passive ladder. Answers the network and its output node.
pub fn filter_chain(rng: &mut Rng, unknowns: u32) -> (Network, u32) {
    let mut net = Network::default();
    let mut at = net.node();
    net.add(Part::Source(at, 0, 1.0));
    let mut kind = 0;
    loop {
        let rows = net.parts.iter().filter(|p| !matches!(p, Part::Resistor(..) | Part::Capacitor(..)));
        let left = unknowns as i64 - i64::from(net.nodes) - rows.count() as i64;
        if left <= 0 {
            return (net, at);
        }
        let r = |rng: &mut Rng| rng.between(1e3, 1e5);
        let c = |rng: &mut Rng| rng.between(1e-10, 1e-7);
        let single_pole = |plus, minus, out| Part::Amplifier {
            plus,
            minus,
            out,
            inverse_gain: 1e-5,
            inverse_bandwidth: 1.0 / (2.0 * std::f64::consts::PI * 10e6),
        };
        match if left < 5 { 5 } else { kind % 5 } {
            0 => {
                let (x, p, f, o) = (net.node(), net.node(), net.node(), net.node());
                net.add(Part::Resistor(at, x, r(rng))).add(Part::Resistor(x, p, r(rng)));
                net.add(Part::Capacitor(x, o, c(rng))).add(Part::Capacitor(p, 0, c(rng)));
                net.add(Part::Resistor(o, f, 0.2 * r(rng))).add(Part::Resistor(f, 0, 1e4 + r(rng)));
                net.add(single_pole(p, f, o));
                at = o;
            }
            1 => {
                let (x, m, o) = (net.node(), net.node(), net.node());
                net.add(Part::Resistor(at, x, r(rng))).add(Part::Resistor(x, 0, r(rng)));
                net.add(Part::Capacitor(x, o, c(rng))).add(Part::Capacitor(x, m, c(rng)));
                net.add(Part::Resistor(m, o, 10.0 * r(rng))).add(single_pole(0, m, o));
                at = o;
            }
            2 => {
                let (x, m, o) = (net.node(), net.node(), net.node());
                net.add(Part::Capacitor(at, x, rng.between(1e-6, 1e-5)));
                net.add(Part::Resistor(x, m, r(rng))).add(Part::Resistor(m, o, r(rng)));
                net.add(Part::Capacitor(m, o, 0.1 * c(rng))).add(single_pole(0, m, o));
                at = o;
            }
            3 => {
                let (x, y) = (net.node(), net.node());
                net.add(Part::Resistor(at, x, rng.between(10.0, 1e3)));
                net.add(Part::Inductor(x, y, rng.between(1e-4, 1e-1)));
                net.add(Part::Capacitor(x, 0, c(rng))).add(Part::Capacitor(y, 0, c(rng)));
                net.add(Part::Resistor(y, 0, r(rng)));
                at = y;
            }
            4 => {
                let (x, f, o) = (net.node(), net.node(), net.node());
                net.add(Part::Capacitor(at, x, rng.between(1e-7, 1e-5)));
                net.add(Part::Resistor(x, 0, 10.0 * r(rng)));
                net.add(Part::Resistor(o, f, r(rng))).add(Part::Resistor(f, 0, r(rng)));
                net.add(Part::Capacitor(f, o, 0.01 * c(rng))).add(single_pole(x, f, o));
                at = o;
            }
            _ => {
                let x = net.node();
                net.add(Part::Resistor(at, x, rng.between(1e2, 1e4)));
                net.add(Part::Capacitor(x, 0, c(rng)));
                at = x;
            }
        }
        kind += 1;
    }
}
