//! Answers: against closed forms, against one another, and where there is none.

mod networks;

use std::f64::consts::PI;

use networks::{Network, Part, Rng, Spread, System, filter_chain, random_network};
use num_complex::Complex64;
use pencil::{
    At, Builder, Column, Domain, Excitation, Functional, Injection, Lane, Order, Parameter, Pencil, Solver, Structure,
    Unsure, Value, generic_rank,
};

type Answer = Result<Complex64, Unsure>;

fn compiled(pencil: &Pencil, values: &[f64]) -> Solver {
    Solver::new(&Order::compile(pencil, &Structure::of(pencil).unwrap(), values))
}

fn solver(system: &System) -> Solver {
    compiled(&system.pencil, &system.values)
}

/// The voltage of a node.
fn voltage(node: u32) -> Functional {
    Functional::unknown(node - 1)
}

fn between(a: u32, b: u32) -> Functional {
    Functional::difference(Column::Unknown(a - 1), Column::Unknown(b - 1))
}

fn lane(s: Complex64, values: &[f64]) -> Lane<'_> {
    Lane { s, values }
}

fn j(omega: f64) -> Complex64 {
    Complex64::new(0.0, omega)
}

fn close(told: &Answer, truth: Complex64, relative: f64) {
    let told = told.as_ref().expect("a known answer");
    assert!((told - truth).norm() <= relative * truth.norm(), "{told} against {truth}");
}

fn bits(answers: &[Answer]) -> Vec<Option<(u64, u64)>> {
    answers.iter().map(|a| a.as_ref().ok().map(|z| (z.re.to_bits(), z.im.to_bits()))).collect()
}

/// A random network that has a unique solution for generic values.
fn sound_network(rng: &mut Rng, decades: f64) -> (Network, System) {
    loop {
        let stages = 2 + rng.below(7);
        let net = random_network(rng, stages, &Spread(decades));
        let system = net.system();
        let all = (0..system.values.len() as u32).map(Parameter);
        let zero: Vec<_> = all.filter(|p| system.values[p.0 as usize] == 0.0).collect();
        if generic_rank(&system.pencil, At::AnyFrequency, &zero).is_ok() {
            return (net, system);
        }
    }
}

/// Two resistors, two capacitors and a follower: the Sallen–Key low-pass of unit gain (Sallen and Key, IRE Trans. Circuit
/// Theory 2, 1955), H = 1 / (1 + s·C2·(R1 + R2) + s²·R1·R2·C1·C2).
fn low_pass(r1: f64, r2: f64, c1: f64, c2: f64) -> System {
    let mut net = Network { nodes: 4, parts: vec![Part::Source(1, 0, 1.0)] };
    net.add(Part::Resistor(1, 2, r1)).add(Part::Resistor(2, 3, r2));
    net.add(Part::Capacitor(2, 4, c1)).add(Part::Capacitor(3, 0, c2));
    net.add(Part::Amplifier { plus: 3, minus: 4, out: 4, inverse_gain: 0.0, inverse_bandwidth: 0.0 });
    net.system()
}

#[test]
fn a_second_order_low_pass_follows_its_closed_form() {
    let (r1, r2, c1, c2) = (12e3, 33e3, 10e-9, 2.2e-9);
    let system = low_pass(r1, r2, c1, c2);
    let points: Vec<Complex64> = (-3..9)
        .flat_map(|k| {
            let w = 10f64.powi(k);
            [j(w), j(-w), Complex64::new(w, 0.0), Complex64::new(-0.3 * w, 2.0 * w)]
        })
        .chain([j(0.0)])
        .collect();
    let lanes: Vec<Lane> = points.iter().map(|&s| lane(s, &system.values)).collect();
    let told = solver(&system).solve(&lanes, &system.excitation, &[voltage(4), between(3, 4)]);
    for (s, told) in points.iter().zip(told.chunks(2)) {
        let truth = 1.0 / (1.0 + s * c2 * (r1 + r2) + s * s * r1 * r2 * c1 * c2);
        close(&told[0], truth, 1e-13);
        assert_eq!(told[1], Ok(Complex64::new(0.0, 0.0)));
    }
}

#[test]
fn a_small_difference_keeps_its_digits() {
    // A follower of finite gain: the inputs differ by v/(1 + 1/a).
    let mut net = Network { nodes: 2, parts: vec![Part::Source(1, 0, 1.0)] };
    let a = 1e-9;
    net.add(Part::Amplifier { plus: 1, minus: 2, out: 2, inverse_gain: a, inverse_bandwidth: 0.0 });
    let system = net.system();
    let told = solver(&system).solve(&[lane(j(0.0), &system.values)], &system.excitation, &[between(1, 2)]);
    close(&told[0], Complex64::new(a / (1.0 + a), 0.0), 1e-14);
}

#[test]
fn a_leakage_counts_beside_a_conductance_that_swallows_it() {
    // 1 TΩ ladder over 1 mΩ: each diagonal sum loses the leakage altogether.
    let mut net = Network { nodes: 3, parts: vec![Part::Source(1, 0, 1.0)] };
    net.add(Part::Capacitor(1, 2, 1e-12)).add(Part::Resistor(2, 3, 1e-3)).add(Part::Resistor(3, 0, 1e13));
    let system = net.system();
    let omega = 2.0 * PI * 1e-6;
    let told =
        solver(&system).solve(&[lane(j(omega), &system.values)], &system.excitation, &[voltage(2), between(2, 3)]);
    let current = j(omega * 1e-12) / (1.0 + j(omega * 1e-12) * (1e13 + 1e-3));
    close(&told[0], current * (1e13 + 1e-3), 1e-13);
    close(&told[1], current * 1e-3, 1e-13);
}

#[test]
fn equal_arms_cancel_exactly_and_unequal_ones_do_not() {
    // A difference stage with both inputs tied together: nothing comes out when the arms are equal.
    let stage = |last: f64| {
        let mut net = Network { nodes: 4, parts: vec![Part::Source(1, 0, 1.0)] };
        net.add(Part::Resistor(1, 2, 3.3e3)).add(Part::Resistor(2, 4, 47e3));
        net.add(Part::Resistor(1, 3, 3.3e3)).add(Part::Resistor(3, 0, last));
        net.add(Part::Amplifier { plus: 3, minus: 2, out: 4, inverse_gain: 0.0, inverse_bandwidth: 0.0 });
        net.system()
    };
    let gain = |last: f64| {
        let system = stage(last);
        solver(&system).solve(&[lane(j(1e3), &system.values)], &system.excitation, &[voltage(4)])[0].clone()
    };
    assert_eq!(gain(47e3), Ok(Complex64::new(0.0, 0.0)));
    let next = f64::from_bits(47e3f64.to_bits() + 1);
    // By the change of the last resistor by one unit in its last place: (R4 − R2)/(R3 + R4).
    close(&gain(next), Complex64::new((next - 47e3) / (3.3e3 + next), 0.0), 1e-13);
}

#[test]
fn far_out_of_band_the_answer_is_tiny_or_nothing() {
    let mut net = Network { nodes: 1, parts: vec![Part::Source(1, 0, 1.0)] };
    for _ in 0..60 {
        let (from, to) = (net.nodes, net.node());
        net.add(Part::Resistor(from, to, 1e6)).add(Part::Capacitor(to, 0, 1e-6));
    }
    let system = net.system();
    let wanted: Vec<_> = (1..=61).map(voltage).collect();
    let told = solver(&system).solve(&[lane(j(2.0 * PI * 1e10), &system.values)], &system.excitation, &wanted);
    let per_section = 1.0 / (1e6 * 1e-6 * 2.0 * PI * 1e10);
    let mut expected = 1.0;
    for told in told {
        let told = told.unwrap().norm();
        if expected > 1e-249 {
            assert!((told / expected - 1.0).abs() < 1e-8, "{told:e} against {expected:e}");
        } else {
            assert!(told < 1e-248);
        }
        expected *= per_section;
    }
}

#[test]
fn switches_and_links_may_be_closed_open_and_nothing() {
    let divider = |alpha: f64, beta: f64, link: f64| {
        let mut net = Network { nodes: 4, parts: vec![Part::Source(1, 0, 1.0)] };
        net.add(Part::Resistor(1, 2, 1e3)).add(Part::Resistor(2, 0, 1e3));
        net.add(Part::Switch { a: 2, b: 3, alpha, beta }).add(Part::Link(3, 4, link));
        net.add(Part::Resistor(4, 0, 1e3));
        let system = net.system();
        solver(&system).solve(&[lane(j(0.0), &system.values)], &system.excitation, &[voltage(2), voltage(4)])
    };
    let closed = divider(1.0, 0.0, 0.0);
    close(&closed[0], Complex64::new(1.0 / 3.0, 0.0), 1e-15);
    assert_eq!(closed[0], closed[1]);
    let open = divider(0.0, 1.0, 5.0);
    close(&open[0], Complex64::new(0.5, 0.0), 1e-15);
    assert_eq!(open[1], Ok(Complex64::new(0.0, 0.0)));
}

#[test]
fn the_machine_and_the_company_of_a_lane_change_no_bit() {
    let mut rng = Rng::new(21);
    for _ in 0..40 {
        let (net, system) = sound_network(&mut rng, 9.0);
        let fast = solver(&system);
        let plain = fast.clone().without_vectors();
        let wanted: Vec<_> = (1..=net.nodes).map(voltage).chain([between(1, net.nodes)]).collect();
        let other: Vec<f64> = system.values.iter().map(|v| v * 1.25).collect();
        let lanes: Vec<Lane> = (0..19)
            .map(|k| {
                let w = rng.between(1e-3, 1e9);
                let s = if k % 5 == 4 { Complex64::new(-0.1 * w, w) } else { j(w) };
                lane(s, if k % 3 == 0 { &other } else { &system.values })
            })
            .collect();
        let together = bits(&fast.solve(&lanes, &system.excitation, &wanted));
        assert_eq!(together, bits(&plain.solve(&lanes, &system.excitation, &wanted)));
        for (k, alone) in lanes.iter().enumerate() {
            let alone = bits(&fast.solve(&[*alone], &system.excitation, &wanted));
            assert_eq!(alone, together[k * wanted.len()..(k + 1) * wanted.len()]);
        }
        let injections: Vec<_> = (0..system.pencil.unknowns()).map(Injection::equation).collect();
        let adjoint = bits(&fast.adjoint(&lanes, &voltage(net.nodes), &injections));
        assert_eq!(adjoint, bits(&plain.adjoint(&lanes, &voltage(net.nodes), &injections)));
    }
}

#[test]
fn the_adjoint_answers_as_forward_solutions_do() {
    let mut rng = Rng::new(31);
    let mut compared = 0;
    for _ in 0..40 {
        let (net, system) = sound_network(&mut rng, 6.0);
        let solver = solver(&system);
        let lanes = [lane(j(rng.between(1.0, 1e8)), &system.values)];
        let functional = between(net.nodes, 1 + rng.below(net.nodes - 1));
        let injections: Vec<_> = (0..system.pencil.unknowns()).map(Injection::equation).collect();
        let adjoint = solver.adjoint(&lanes, &functional, &injections);
        let sources: Vec<_> = (0..system.pencil.unknowns()).map(Excitation::equation).collect();
        let forward = solver.solve_many(&lanes, &sources, std::slice::from_ref(&functional));
        for (a, f) in adjoint.iter().zip(&forward) {
            close(a, f.clone().unwrap(), 1e-11);
            compared += 1;
        }
    }
    assert!(compared > 500);
}

#[test]
fn givens_act_as_the_sources_that_they_replace() {
    // A bridge between two given voltages: g1·(v − a) + g2·(v − b) + sC·v = 0.
    let mut builder = Builder::new(1, 2);
    let (g1, g2, c) = (builder.parameter(), builder.parameter(), builder.parameter());
    for (g, given) in [(g1, 0), (g2, 1)] {
        let ends = [(Column::Unknown(0), 1.0), (Column::Given(given), -1.0)];
        builder.stamp(Value::Parameter(g), Domain::Static, &[(0, 1.0)], &ends);
    }
    builder.stamp(Value::Parameter(c), Domain::Dynamic, &[(0, 1.0)], &[(Column::Unknown(0), 1.0)]);
    let pencil = builder.finish();
    let values = [1e-3, 2e-3, 1e-6];
    let solver = compiled(&pencil, &values);
    let lanes = [lane(j(1e3), &values)];
    let (a, b) = (Complex64::new(1.0, 0.0), Complex64::new(0.0, -2.0));
    let bottom = Complex64::new(3e-3, 1e-3);
    let excitation = Excitation { equations: Vec::new(), givens: vec![a, b] };
    let fall = Functional { terms: vec![(Column::Given(1), 1.0), (Column::Unknown(0), -2.0)] };
    let told = solver.solve(&lanes, &excitation, &[Functional::unknown(0), fall.clone()]);
    let v = (1e-3 * a + 2e-3 * b) / bottom;
    close(&told[0], v, 1e-15);
    close(&told[1], b - 2.0 * v, 1e-15);
    let to_givens = solver.adjoint(&lanes, &fall, &[Injection::given(0), Injection::given(1)]);
    close(&to_givens[0], -2e-3 / bottom, 1e-15);
    close(&to_givens[1], 1.0 - 4e-3 / bottom, 1e-15);
}

#[test]
fn sensitivities_agree_with_closed_form_and_differences() {
    let (r1, r2, c1, c2) = (12e3, 33e3, 10e-9, 2.2e-9);
    let system = low_pass(r1, r2, c1, c2);
    let s = j(2.0 * PI * 1.3e3);
    let told = solver(&system).sensitivities(&[lane(s, &system.values)], &system.excitation, &voltage(4));
    let h = 1.0 / (1.0 + s * c2 * (r1 + r2) + s * s * r1 * r2 * c1 * c2);
    // Parameters in the order of the parts; the ideal amplifier's two come last.
    close(&told[0], -h * h * (s * c2 + s * s * r2 * c1 * c2), 1e-12);
    close(&told[1], -h * h * (s * c2 + s * s * r1 * c1 * c2), 1e-12);
    close(&told[2], -h * h * (s * s * r1 * r2 * c2), 1e-12);
    close(&told[3], -h * h * (s * (r1 + r2) + s * s * r1 * r2 * c1), 1e-12);

    let mut rng = Rng::new(41);
    let (net, out) = filter_chain(&mut rng, 30);
    let system = net.system();
    let solver = solver(&system);
    let wanted = voltage(out);
    let omega = 2.0 * PI * 50.0;
    let told = solver.sensitivities(&[lane(j(omega), &system.values)], &system.excitation, &wanted);
    let at = |values: &[f64]| {
        solver.solve(&[lane(j(omega), values)], &system.excitation, std::slice::from_ref(&wanted))[0].clone().unwrap()
    };
    for (p, told) in told.iter().enumerate() {
        let step = |sign: f64| {
            let mut values = system.values.clone();
            values[p] *= 1.0 + sign * 1e-5;
            at(&values)
        };
        let difference = (step(1.0) - step(-1.0)) / (2e-5 * system.values[p]);
        let told = told.clone().unwrap();
        let scale = difference.norm() + 1e-6 * at(&system.values).norm() / system.values[p];
        assert!((told - difference).norm() < 1e-5 * scale, "parameter {p}: {told} against {difference}");
    }
}

#[test]
fn an_order_for_other_values_gives_the_same_answers() {
    let mut rng = Rng::new(51);
    let mut compared = 0;
    for _ in 0..60 {
        let (net, system) = sound_network(&mut rng, 2.0);
        let kept = solver(&system);
        // Values moved by up to six decades each way: many of the kept pivots are unsuitable now.
        let values: Vec<f64> = system.values.iter().map(|v| v * 10f64.powf(12.0 * rng.unit() - 6.0)).collect();
        let wanted: Vec<_> = (1..=net.nodes).map(voltage).collect();
        let lanes = [lane(j(rng.between(1e-3, 1e9)), &values)];
        let own = compiled(&system.pencil, &values).solve(&lanes, &system.excitation, &wanted);
        let told = kept.solve(&lanes, &system.excitation, &wanted);
        for (told, own) in told.iter().zip(&own) {
            if let (Ok(_), Ok(own)) = (told, own) {
                close(told, *own, 1e-11);
                compared += 1;
            }
        }
    }
    assert!(compared > 500);
}

#[test]
fn a_singular_point_is_told_as_one() {
    // A lossless resonator driven by a current has no solution at s² = −1/LC; with L = C = 1 that is s = j, exactly.
    let mut builder = Builder::new(2, 0);
    let (l, c) = (builder.parameter(), builder.parameter());
    let (v, i) = ([(Column::Unknown(0), 1.0)], [(Column::Unknown(1), 1.0)]);
    builder.stamp(Value::Parameter(c), Domain::Dynamic, &[(0, 1.0)], &v);
    builder.stamp(Value::Constant(1.0), Domain::Static, &[(0, 1.0)], &i);
    builder.stamp(Value::Constant(1.0), Domain::Static, &[(1, 1.0)], &v);
    builder.stamp(Value::Parameter(l), Domain::Dynamic, &[(1, -1.0)], &i);
    let pencil = builder.finish();
    let values = [1.0, 1.0];
    let solver = compiled(&pencil, &values);
    let wanted = [Functional::unknown(0)];
    let lanes = [lane(j(1.0), &values), lane(j(1.0 + 1e-12), &values)];
    let told = solver.solve(&lanes, &Excitation::equation(0), &wanted);
    assert!(matches!(told[0], Err(Unsure::Singular { .. })), "{:?}", told[0]);
    // Beside it the answer is large and known: v = jω/(1 − ω²).
    let omega: f64 = 1.0 + 1e-12;
    let bottom = (1.0 - omega) * (1.0 + omega);
    close(&told[1], j(omega) / bottom, 1e-12);
}

#[test]
fn what_is_no_number_gives_no_answer() {
    let system = low_pass(1e3, 1e3, 1e-9, 1e-9);
    let solver = solver(&system);
    let wanted = [voltage(4)];
    for bad in [f64::NAN, f64::INFINITY, 0.0] {
        // Resistances are reciprocal parameters, so 0 is no more a number than the others.
        let mut values = system.values.clone();
        values[0] = bad;
        let told = solver.solve(&[lane(j(1.0), &values)], &system.excitation, &wanted);
        assert_eq!(told, [Err(Unsure::NotFinite)]);
    }
    let told = solver.solve(&[lane(j(f64::NAN), &system.values)], &system.excitation, &wanted);
    assert_eq!(told, [Err(Unsure::NotFinite)]);
    let excitation = Excitation { equations: vec![(4, j(f64::INFINITY))], givens: Vec::new() };
    assert_eq!(solver.solve(&[lane(j(1.0), &system.values)], &excitation, &wanted), [Err(Unsure::NotFinite)]);
    // Extreme numbers give an answer or none, never one that is no number.
    for scale in [1e-300, 1e-200, 1e200, 1e300] {
        let values: Vec<f64> = system.values.iter().map(|v| v * scale).collect();
        for omega in [1e-300, 1.0, 1e300] {
            let told = solver.solve(&[lane(j(omega), &values)], &system.excitation, &wanted);
            assert!(told.iter().all(|a| a.as_ref().map_or(true, |z| z.is_finite())));
        }
    }
}

#[test]
fn an_order_may_be_chosen_at_any_values() {
    // Values that are no numbers, or at which the system is singular, spoil the choice of pivots and nothing else.
    let system = low_pass(12e3, 33e3, 10e-9, 2.2e-9);
    let structure = Structure::of(&system.pencil).unwrap();
    let lanes = [lane(j(2e4), &system.values)];
    let wanted = [voltage(4), voltage(2)];
    let truth = solver(&system).solve(&lanes, &system.excitation, &wanted);
    for odd in [f64::NAN, f64::INFINITY, 0.0, 1e-300, 1e300] {
        let values = vec![odd; system.values.len()];
        let kept = Solver::new(&Order::compile(&system.pencil, &structure, &values));
        for (told, truth) in kept.solve(&lanes, &system.excitation, &wanted).iter().zip(&truth) {
            close(told, truth.clone().unwrap(), 1e-12);
        }
    }
}

#[test]
fn threads_may_share_a_solver() {
    let system = low_pass(12e3, 33e3, 10e-9, 2.2e-9);
    let solver = solver(&system);
    let points: Vec<f64> = (0..64).map(|k| 10f64.powf(f64::from(k) / 8.0)).collect();
    let lanes: Vec<Lane> = points.iter().map(|&w| lane(j(w), &system.values)).collect();
    let wanted = [voltage(4)];
    let whole = bits(&solver.solve(&lanes, &system.excitation, &wanted));
    let halves: Vec<_> = std::thread::scope(|scope| {
        let run = |half: &[Lane]| bits(&solver.solve(half, &system.excitation, &wanted));
        let threads: Vec<_> = lanes.chunks(29).map(|half| scope.spawn(move || run(half))).collect();
        threads.into_iter().flat_map(|t| t.join().unwrap()).collect()
    });
    assert_eq!(whole, halves);
}

#[test]
fn coefficients_other_than_one_are_exact_too() {
    // 2·(x0/2 − g) = 0 and −7·p·(3·x0 + 0.1·x1 − g) = 0.
    let mut builder = Builder::new(2, 1);
    let p = builder.parameter();
    let given = (Column::Given(0), -1.0);
    builder.stamp(Value::Constant(1.0), Domain::Static, &[(0, 2.0)], &[(Column::Unknown(0), 0.5), given]);
    let mixed = [(Column::Unknown(0), 3.0), (Column::Unknown(1), 0.1), given];
    builder.stamp(Value::Parameter(p), Domain::Static, &[(1, -7.0)], &mixed);
    let pencil = builder.finish();
    let values = [0.3];
    let lanes = [lane(j(0.0), &values)];
    let told = compiled(&pencil, &values).solve(
        &lanes,
        &Excitation::given(0),
        &[
            Functional::unknown(0),
            Functional::unknown(1),
            Functional { terms: vec![(Column::Unknown(0), 0.1), (Column::Unknown(1), -0.3)] },
        ],
    );
    // x0 = 2, then 3·2 + 0.1·x1 = 1.
    close(&told[0], Complex64::new(2.0, 0.0), 1e-15);
    close(&told[1], Complex64::new(-50.0, 0.0), 1e-15);
    close(&told[2], Complex64::new(15.2, 0.0), 1e-15);
}

#[test]
fn a_system_without_unknowns_and_a_question_without_lanes_are_fine() {
    let pencil = Builder::new(0, 1).finish();
    let solver = compiled(&pencil, &[]);
    let wanted = [Functional { terms: vec![(Column::Given(0), 2.0)] }];
    let lanes = [lane(j(1.0), &[])];
    assert_eq!(solver.solve(&lanes, &Excitation::given(0), &wanted), [Ok(Complex64::new(2.0, 0.0))]);
    assert!(solver.solve(&[], &Excitation::given(0), &wanted).is_empty());
    assert!(solver.solve(&lanes, &Excitation::given(0), &[]).is_empty());
}

#[test]
fn a_topology_is_equal_to_itself_whatever_the_values() {
    let (a, b) = (low_pass(1e3, 1e3, 1e-9, 1e-9), low_pass(2e3, 5e3, 1e-6, 3e-9));
    assert_eq!(a.pencil, b.pencil);
    let mut set = std::collections::HashSet::new();
    set.insert(a.pencil);
    assert!(set.contains(&b.pencil));
}
