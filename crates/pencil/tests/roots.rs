//! Roots of systems whose roots are known on paper, and what must hold for all.

#[path = "networks/mod.rs"]
mod networks;

use networks::{Network, Part, Rng, Spread, filter_chain, random_network};
use num_complex::Complex64;
use pencil::{At, Parameter, Roots, Unsure, generic_rank, roots};

fn found(net: &Network) -> Vec<Roots> {
    let system = net.system();
    roots(&system.pencil, &system.values).expect("its roots are found")
}

/// All finite roots by rising modulus.
fn all(net: &Network) -> Vec<Complex64> {
    let mut all: Vec<Complex64> = found(net).iter().flat_map(|b| b.roots.iter().map(|r| r.s)).collect();
    all.sort_by(|a, b| (a.norm(), a.im).partial_cmp(&(b.norm(), b.im)).expect("finite"));
    all
}

fn near(a: Complex64, b: Complex64, share: f64) -> bool {
    (a - b).norm() <= share * b.norm()
}

/// The greatest relative distance between two sets of roots, each root of one matched with the nearest left of the other.
fn apart(a: &[Complex64], b: &[Complex64]) -> f64 {
    assert_eq!(a.len(), b.len());
    let mut left = b.to_vec();
    let mut most = 0.0f64;
    for z in a {
        let distance = |w: &Complex64| (z - w).norm();
        let at = (0..left.len()).min_by(|i, j| distance(&left[*i]).total_cmp(&distance(&left[*j]))).expect("as many");
        let w = left.swap_remove(at);
        most = most.max(if w.norm() > 0.0 { (z - w).norm() / w.norm() } else { z.norm() });
    }
    most
}

/// A source at a new node.
fn driven() -> (Network, u32) {
    let mut net = Network::default();
    let at = net.node();
    net.add(Part::Source(at, 0, 1.0));
    (net, at)
}

/// A unity-gain low-pass section of equal resistors; a1/a0 and the bandwidth of its amplifier as given.
fn section(net: &mut Network, at: u32, ohms: f64, [c1, c2]: [f64; 2], amplifier: [f64; 2]) -> u32 {
    let (x, y, o) = (net.node(), net.node(), net.node());
    net.add(Part::Resistor(at, x, ohms)).add(Part::Resistor(x, y, ohms));
    net.add(Part::Capacitor(x, o, c1)).add(Part::Capacitor(y, 0, c2));
    let [inverse_gain, inverse_bandwidth] = amplifier;
    net.add(Part::Amplifier { plus: y, minus: o, out: o, inverse_gain, inverse_bandwidth });
    o
}

#[test]
fn one_capacitor_makes_one_root() {
    let (mut net, at) = driven();
    let x = net.node();
    net.add(Part::Resistor(at, x, 1e3)).add(Part::Capacitor(x, 0, 1e-6));
    assert!(near(all(&net)[0], Complex64::new(-1e3, 0.0), 1e-15), "{:?}", all(&net));
}

#[test]
fn a_section_has_the_pair_of_its_formula() {
    // ω₀ = 1/(R √(C₁C₂)), 2Q = √(C₁/C₂): here Q is 5.
    let (mut net, at) = driven();
    section(&mut net, at, 1e4, [100e-9, 1e-9], [0.0, 0.0]);
    let w0 = 1.0 / (1e4 * (100e-9f64 * 1e-9).sqrt());
    let pair = all(&net);
    let on_paper = Complex64::new(-w0 / 10.0, w0 * (1.0f64 - 0.01).sqrt());
    assert!(near(pair[1], on_paper, 4e-15) && near(pair[0], on_paper.conj(), 4e-15), "{pair:?} {on_paper}");
}

#[test]
fn ten_equal_sections_keep_their_digits() {
    // As a whole the matrix is defective: ten pairs on one spot.
    let (mut net, mut at) = driven();
    for _ in 0..10 {
        at = section(&mut net, at, 1e4, [20e-9, 10e-9], [0.0, 0.0]);
    }
    let w0 = 1.0 / (1e4 * (20e-9f64 * 10e-9).sqrt());
    let on_paper = Complex64::new(-1.0, 1.0) * (w0 / 2f64.sqrt());
    let roots = all(&net);
    assert_eq!(roots.len(), 20);
    assert!(roots.iter().all(|z| near(*z, on_paper, 1e-14) || near(*z, on_paper.conj(), 1e-14)), "{roots:?}");
}

#[test]
fn an_equal_pair_tells_how_few_digits_it_has() {
    // Two equal real roots: half a unit in a value's last place parts them by 1e-8.
    let (mut net, at) = driven();
    section(&mut net, at, 1e4, [10e-9, 10e-9], [0.0, 0.0]);
    let blocks = found(&net);
    let roots: Vec<_> = blocks.iter().flat_map(|b| &b.roots).collect();
    assert_eq!(roots.len(), 2);
    for r in roots {
        assert!(near(r.s, Complex64::new(-1e4, 0.0), 1e-7), "{r:?}");
        assert!((1e-9..1e-6).contains(&r.error), "{r:?}");
    }
}

#[test]
fn fourteen_decades_apart() {
    let (mut net, at) = driven();
    let mut from = at;
    // Loaded by one another, far enough apart that each is its own product but for shares below 1e-13.
    let sizes = [(1e-3, 1e-12), (1e3, 1e-9), (1e9, 1e-3)];
    let mut on_paper = Vec::new();
    for (ohms, farads) in sizes {
        let x = net.node();
        net.add(Part::Resistor(from, x, ohms)).add(Part::Capacitor(x, 0, farads));
        on_paper.push(Complex64::new(-1.0 / (ohms * farads), 0.0));
        from = x;
    }
    on_paper.reverse();
    let roots = all(&net);
    // 1 kΩ beside 1 mΩ and 1 nF beside 1 mF leave corrections of 1e-6 and of 1e-12.
    assert!(apart(&roots, &on_paper) < 3e-3, "{roots:?}");
    // Vieta: the product of the roots is 1/(R₁C₁R₂C₂R₃C₃), exactly.
    let product: f64 = roots.iter().map(|z| z.re).product();
    let wanted: f64 = sizes.iter().map(|(r, c)| -1.0 / (r * c)).product();
    assert!((product / wanted - 1.0).abs() < 1e-14, "{product:e} {wanted:e}");
    // The sum of their inverses is −(R₁(C₁+C₂+C₃) + R₂(C₂+C₃) + R₃C₃).
    let inverses: f64 = roots.iter().map(|z| 1.0 / z.re).sum();
    let [(r1, c1), (r2, c2), (r3, c3)] = sizes;
    let wanted = -(r1 * (c1 + c2 + c3) + r2 * (c2 + c3) + r3 * c3);
    assert!((inverses / wanted - 1.0).abs() < 1e-14);
}

#[test]
fn roots_at_the_origin_and_at_infinity_are_counted_exactly() {
    // An integrator around an ideal amplifier: its root is the origin itself.
    let (mut net, at) = driven();
    let (m, o) = (net.node(), net.node());
    net.add(Part::Resistor(at, m, 3.3e3)).add(Part::Capacitor(m, o, 4.7e-9));
    net.add(Part::Amplifier { plus: 0, minus: m, out: o, inverse_gain: 0.0, inverse_bandwidth: 0.0 });
    assert_eq!(all(&net), [Complex64::new(0.0, 0.0)]);
    // A differentiator has none: its capacitor stands between what is held and what is held, and so in no block.
    let (mut net, at) = driven();
    let (m, o) = (net.node(), net.node());
    net.add(Part::Capacitor(at, m, 4.7e-9)).add(Part::Resistor(m, o, 3.3e3));
    net.add(Part::Amplifier { plus: 0, minus: m, out: o, inverse_gain: 0.0, inverse_bandwidth: 0.0 });
    assert!(found(&net).is_empty());
    // Three capacitors in a loop hold two voltages.
    let (mut net, at) = driven();
    let (x, y) = (net.node(), net.node());
    net.add(Part::Resistor(at, x, 1e3)).add(Part::Capacitor(x, 0, 1e-9)).add(Part::Capacitor(x, y, 1e-9));
    net.add(Part::Capacitor(y, 0, 2e-9)).add(Part::Resistor(y, 0, 1e4));
    let blocks = found(&net);
    assert_eq!(blocks.iter().map(|b| (b.roots.len(), b.infinite)).collect::<Vec<_>>(), [(2, 1)]);
    // A real amplifier's fast root beside a capacitor's that has gone to infinity: what is fast stays fast.
    let (mut net, at) = driven();
    let (m, o, p) = (net.node(), net.node(), net.node());
    net.add(Part::Capacitor(at, m, 4.7e-9)).add(Part::Resistor(m, o, 3.3e3)).add(Part::Resistor(o, p, 1e-3));
    net.add(Part::Amplifier { plus: 0, minus: m, out: o, inverse_gain: 0.0, inverse_bandwidth: 0.0 });
    net.add(Part::Capacitor(p, 0, 16e-9)).add(Part::Capacitor(p, m, 1e-12));
    let roots = all(&net);
    // −1/(r(C₂ + C₃) + R C₃)
    let on_paper = Complex64::new(-1.0 / (1e-3 * 16.001e-9 + 3.3e3 * 1e-12), 0.0);
    assert!(roots.len() == 1 && near(roots[0], on_paper, 1e-14), "{roots:?}");
}

#[test]
fn a_loop_that_grows_has_its_roots_on_the_right() {
    // A non-inverting gain of 4 in a Wien network: 3 is the edge.
    let (mut net, at) = driven();
    let (p, f, o, x) = (net.node(), net.node(), net.node(), net.node());
    net.add(Part::Resistor(at, x, 1e12)).add(Part::Resistor(x, p, 1e12));
    net.add(Part::Link(o, x, 1e4)).add(Part::Capacitor(x, p, 10e-9));
    net.add(Part::Resistor(p, 0, 1e4)).add(Part::Capacitor(p, 0, 10e-9));
    net.add(Part::Resistor(o, f, 30e3)).add(Part::Resistor(f, 0, 10e3));
    net.add(Part::Amplifier { plus: p, minus: f, out: o, inverse_gain: 0.0, inverse_bandwidth: 0.0 });
    let roots = all(&net);
    // s² + (3 − K) ω₀ s + ω₀² with K = 4
    let on_paper = Complex64::new(0.5, 0.75f64.sqrt()) * 1e4;
    assert!(near(roots[1], on_paper, 1e-6), "{roots:?}");
}

#[test]
fn scaling_impedances_leaves_them_and_scaling_frequencies_moves_them() {
    let mut rng = Rng::new(5);
    for size in [12, 25, 40] {
        let (net, _) = filter_chain(&mut rng, size);
        let scaled = |z: f64, t: f64| {
            let one = |p: &Part| match *p {
                Part::Resistor(a, b, x) => Part::Resistor(a, b, x * z),
                Part::Link(a, b, x) => Part::Link(a, b, x * z),
                Part::Capacitor(a, b, x) => Part::Capacitor(a, b, x / z * t),
                Part::Inductor(a, b, x) => Part::Inductor(a, b, x * z * t),
                Part::Amplifier { plus, minus, out, inverse_gain, inverse_bandwidth } => {
                    Part::Amplifier { plus, minus, out, inverse_gain, inverse_bandwidth: inverse_bandwidth * t }
                }
                other => other,
            };
            Network { nodes: net.nodes, parts: net.parts.iter().map(one).collect() }
        };
        let plain = all(&net);
        // Powers of two, which round nothing, and plain figures, which do.
        assert!(apart(&all(&scaled(1024.0, 1.0)), &plain) < 1e-15);
        assert!(apart(&all(&scaled(47.0, 1.0)), &plain) < 1e-11);
        let slower: Vec<Complex64> = all(&scaled(1.0, 4096.0)).iter().map(|s| s * 4096.0).collect();
        assert!(apart(&slower, &plain) < 1e-15);
    }
}

#[test]
fn a_cascade_has_the_roots_of_its_sections() {
    let (mut net, mut at) = driven();
    let mut alone: Vec<Complex64> = Vec::new();
    let mut rng = Rng::new(9);
    for _ in 0..6 {
        let (ohms, capacitors) = (rng.between(1e3, 1e5), [rng.between(1e-9, 1e-7), rng.between(1e-10, 1e-8)]);
        let amplifier = [1e-5, 1.0 / rng.between(1e6, 1e8)];
        at = section(&mut net, at, ohms, capacitors, amplifier);
        let (mut one, from) = driven();
        section(&mut one, from, ohms, capacitors, amplifier);
        alone.extend(all(&one));
    }
    assert!(apart(&all(&net), &alone) < 1e-14);
}

#[test]
fn random_networks_have_as_many_as_their_degree_or_say_why_not() {
    let mut rng = Rng::new(31);
    let (mut known, mut unsure) = (0, Vec::new());
    for round in 0..150 {
        let stages = 2 + rng.below(6);
        let system = random_network(&mut rng, stages, &Spread(6.0)).system();
        let zero: Vec<_> =
            (0..system.values.len() as u32).map(Parameter).filter(|p| system.values[p.0 as usize] == 0.0).collect();
        if generic_rank(&system.pencil, At::AnyFrequency, &zero).is_err() {
            continue;
        }
        match roots(&system.pencil, &system.values) {
            Ok(blocks) => {
                known += 1;
                for r in blocks.iter().flat_map(|b| &b.roots) {
                    assert!(r.s.is_finite() && r.error >= 0.0, "{r:?}");
                }
            }
            Err(why) => unsure.push((round, why)),
        }
    }
    assert!(known > 80 && unsure.is_empty(), "{known} known, {unsure:?}");
}

#[test]
fn what_has_no_answer_is_told() {
    // An amplifier without feedback: its output is nowhere.
    let (mut net, at) = driven();
    let o = net.node();
    net.add(Part::Amplifier { plus: at, minus: 0, out: o, inverse_gain: 0.0, inverse_bandwidth: 0.0 });
    net.add(Part::Resistor(o, 0, 1e3));
    let system = net.system();
    assert!(matches!(roots(&system.pencil, &system.values), Err(Unsure::Singular { .. })));
    let (mut net, at) = driven();
    let x = net.node();
    net.add(Part::Resistor(at, x, f64::NAN)).add(Part::Capacitor(x, 0, 1e-6));
    let system = net.system();
    assert_eq!(roots(&system.pencil, &system.values), Err(Unsure::NotFinite));
}
