//! Rank, supports of what is wrong, blocks, and the parts that a question needs.

mod networks;

use networks::{Network, Part, Rng, Spread, System, random_network};
use num_complex::Complex64;
use pencil::{
    At, Builder, Column, Deficiency, Domain, Excitation, Excited, Functional, Lane, Order, Parameter, Solver,
    Structure, Value, behind, generic_adjoint, generic_rank, generic_solution, restrict,
};

/// Ideal: both coefficients are 0.
fn ideal(plus: u32, minus: u32, out: u32) -> Part {
    Part::Amplifier { plus, minus, out, inverse_gain: 0.0, inverse_bandwidth: 0.0 }
}

fn real(plus: u32, minus: u32, out: u32) -> Part {
    Part::Amplifier { plus, minus, out, inverse_gain: 1e-5, inverse_bandwidth: 1e-8 }
}

/// A 1 V source at node 1 and further parts over `nodes` nodes.
fn driven(nodes: u32, parts: &[Part]) -> System {
    let mut net = Network { nodes, parts: vec![Part::Source(1, 0, 1.0)] };
    net.parts.extend(parts);
    net.system()
}

fn zeros(system: &System) -> Vec<Parameter> {
    let all = (0..system.values.len() as u32).map(Parameter);
    all.filter(|p| system.values[p.0 as usize] == 0.0).collect()
}

fn rank(system: &System, at: At) -> Result<(), Deficiency> {
    generic_rank(&system.pencil, at, &zeros(system))
}

/// Node k is unknown and equation k − 1; the equations of parts follow the nodes.
fn node(k: u32) -> u32 {
    k - 1
}

#[test]
fn a_sound_circuit_has_full_rank_everywhere() {
    let inverting = driven(3, &[Part::Resistor(1, 2, 1e4), Part::Resistor(2, 3, 1e4), ideal(0, 2, 3)]);
    assert_eq!(rank(&inverting, At::AnyFrequency), Ok(()));
    assert_eq!(rank(&inverting, At::Rest), Ok(()));
    // A resistor that leads nowhere is no fault.
    let dangling = driven(2, &[Part::Resistor(1, 2, 1e3)]);
    assert_eq!(rank(&dangling, At::Rest), Ok(()));
}

#[test]
fn a_floating_island_is_named_node_by_node() {
    let island = driven(3, &[Part::Resistor(1, 0, 1e3), Part::Resistor(2, 3, 1e3), Part::Capacitor(2, 3, 1e-9)]);
    for at in [At::AnyFrequency, At::Rest] {
        let fault = rank(&island, at).unwrap_err();
        assert_eq!(fault.undetermined, [[node(2), node(3)]]);
        assert_eq!(fault.dependent, [[node(2), node(3)]]);
    }
    // The pattern alone sees nothing: it has a perfect matching.
    assert!(Structure::of(&island.pencil).is_ok());
}

#[test]
fn a_node_between_two_capacitors_is_undetermined_at_rest_only() {
    let between = driven(2, &[Part::Capacitor(1, 2, 1e-6), Part::Capacitor(2, 0, 1e-6)]);
    assert_eq!(rank(&between, At::AnyFrequency), Ok(()));
    let fault = rank(&between, At::Rest).unwrap_err();
    assert_eq!(fault.undetermined, [[node(2)]]);
    assert_eq!(fault.dependent, [[node(2)]]);
}

#[test]
fn an_input_without_a_bias_return_moves_the_output_too() {
    let follower = driven(3, &[Part::Capacitor(1, 2, 1e-6), ideal(2, 3, 3), Part::Resistor(3, 0, 1e4)]);
    assert_eq!(rank(&follower, At::AnyFrequency), Ok(()));
    let fault = rank(&follower, At::Rest).unwrap_err();
    // The input, the output, and the amplifier's current (unknown 4, after the source's).
    assert_eq!(fault.undetermined, [vec![node(2), node(3), 4]]);
    assert_eq!(fault.dependent, [vec![node(2)]]);
}

#[test]
fn an_ideal_integrator_has_no_output_at_rest_and_a_real_one_has() {
    let parts = |amplifier| [Part::Resistor(1, 2, 1e4), Part::Capacitor(2, 3, 1e-9), amplifier];
    let perfect = driven(3, &parts(ideal(0, 2, 3)));
    assert_eq!(rank(&perfect, At::AnyFrequency), Ok(()));
    assert_eq!(rank(&perfect, At::Rest).unwrap_err().undetermined, [[node(3)]]);
    assert_eq!(rank(&driven(3, &parts(real(0, 2, 3))), At::Rest), Ok(()));
}

#[test]
fn an_amplifier_without_feedback_is_named_with_its_output() {
    let open =
        driven(3, &[Part::Resistor(1, 2, 1e4), Part::Resistor(2, 0, 1e4), ideal(0, 2, 3), Part::Resistor(3, 0, 1e3)]);
    let fault = rank(&open, At::AnyFrequency).unwrap_err();
    assert_eq!(fault.undetermined, [vec![node(3), 4]]);
    // Its own row conflicts with what sets node 2.
    assert!(fault.dependent[0].contains(&4) && fault.dependent[0].contains(&node(2)));
}

#[test]
fn both_inputs_forced_is_a_conflict_of_the_amplifier_with_both_sources() {
    let forced = driven(3, &[Part::Source(2, 0, 0.5), ideal(1, 2, 3), Part::Resistor(3, 2, 1e3)]);
    let fault = rank(&forced, At::AnyFrequency).unwrap_err();
    // Rows: nodes 0..3, source 3, source 4, amplifier 5.
    assert_eq!(fault.dependent, [[3, 4, 5]]);
}

#[test]
fn two_outputs_tied_leave_both_currents_open() {
    let tied = driven(
        4,
        &[
            Part::Resistor(1, 2, 1e4),
            Part::Resistor(2, 3, 1e4),
            ideal(0, 2, 3),
            Part::Resistor(1, 4, 1e4),
            Part::Resistor(4, 3, 2e4),
            ideal(0, 4, 3),
        ],
    );
    let fault = rank(&tied, At::AnyFrequency).unwrap_err();
    assert_eq!(fault.undetermined, [[5, 6]]);
}

#[test]
fn loops_of_sources_and_inductors_are_conflicts() {
    let inductors = driven(2, &[Part::Inductor(1, 2, 1e-3), Part::Inductor(1, 2, 2e-3), Part::Resistor(2, 0, 50.0)]);
    assert_eq!(rank(&inductors, At::AnyFrequency), Ok(()));
    let fault = rank(&inductors, At::Rest).unwrap_err();
    assert_eq!((fault.undetermined, fault.dependent), (vec![vec![3, 4]], vec![vec![3, 4]]));

    let across = driven(1, &[Part::Inductor(1, 0, 1e-3), Part::Resistor(1, 0, 1e3)]);
    assert_eq!(rank(&across, At::AnyFrequency), Ok(()));
    assert_eq!(rank(&across, At::Rest).unwrap_err().dependent, [[1, 2]]);

    let parallel = driven(1, &[Part::Source(1, 0, 2.0)]);
    assert_eq!(rank(&parallel, At::AnyFrequency).unwrap_err().dependent, [[1, 2]]);
}

#[test]
fn an_open_input_is_named_alone() {
    let open = driven(4, &[Part::Resistor(1, 2, 1e4), Part::Resistor(2, 4, 1e4), ideal(3, 2, 4)]);
    let fault = rank(&open, At::AnyFrequency).unwrap_err();
    assert!(fault.undetermined[0].contains(&node(3)));
    assert_eq!(fault.dependent, [[node(3)]]);
}

#[test]
fn a_missing_match_names_all_that_compete() {
    // Three equations in unknowns 0 and 1, and none with unknown 2.
    let mut builder = Builder::new(3, 0);
    for (row, column) in [(0, 0), (1, 0), (1, 1), (2, 1)] {
        let value = Value::Parameter(builder.parameter());
        builder.stamp(value, Domain::Static, &[(row, 1.0)], &[(Column::Unknown(column), 1.0)]);
    }
    let pencil = builder.finish();
    let fault = Structure::of(&pencil).unwrap_err();
    assert_eq!(fault.undetermined, [[2]]);
    assert_eq!(fault.dependent, [[0, 1, 2]]);
    assert_eq!(generic_rank(&pencil, At::AnyFrequency, &[]).unwrap_err().dependent, [[0, 1, 2]]);
}

/// Two buffered low-pass sections after one another: 1 –R– 2 –follower– 3 –R– 4, and a bystander 5 on node 1.
fn two_sections() -> System {
    driven(
        5,
        &[
            Part::Resistor(1, 2, 1e3),
            Part::Capacitor(2, 0, 1e-6),
            ideal(2, 3, 3),
            Part::Resistor(3, 4, 1e3),
            Part::Capacitor(4, 0, 2e-6),
            Part::Resistor(1, 5, 1e3),
            Part::Capacitor(5, 0, 1e-9),
        ],
    )
}

#[test]
fn blocks_come_in_solving_order() {
    let system = two_sections();
    let structure = Structure::of(&system.pencil).unwrap();
    let mut known = [false; 7];
    let mut count = 0;
    for block in structure.blocks() {
        for &j in &block.unknowns {
            known[j as usize] = true;
            count += 1;
        }
        for (&j, &i) in block.unknowns.iter().zip(&block.equations) {
            assert_eq!((structure.equation_of(j), structure.unknown_of(i)), (i, j));
        }
        for stamp in system.pencil.stamps() {
            for &(i, _) in stamp.rows.iter().filter(|(i, _)| block.equations.contains(i)) {
                for (column, _) in &stamp.columns {
                    let Column::Unknown(j) = *column else { unreachable!() };
                    assert!(known[j as usize], "equation {i} uses unknown {j} before it is known");
                }
            }
        }
    }
    assert_eq!(count, 7);
    assert!(structure.blocks().len() >= 4);
}

#[test]
fn a_part_holds_what_the_question_needs_and_no_more() {
    let system = two_sections();
    let structure = Structure::of(&system.pencil).unwrap();
    let excited = Excited { equations: &[5], givens: &[] };
    let first = restrict(&system.pencil, &structure, excited, &[node(2)]);
    assert_eq!(first.unknowns, [node(1), node(2)]);
    // An excitation downstream reaches nothing upstream.
    let backward = Excited { equations: &[node(4)], givens: &[] };
    let none = restrict(&system.pencil, &structure, backward, &[node(2)]);
    assert_eq!((none.pencil.unknowns(), none.unknown(node(2))), (0, None));
}

#[test]
fn behind_a_buffer_only_the_second_section_remains() {
    let system = two_sections();
    let structure = Structure::of(&system.pencil).unwrap();
    let excited = Excited { equations: &[5], givens: &[] };
    let second = behind(&system.pencil, &structure, node(3), excited, &[node(4)], &[], &zeros(&system))
        .expect("the follower's output is a cut");
    assert_eq!(second.unknowns, [node(4)]);
    let part = Structure::of(&second.pencil).unwrap();
    let solver = Solver::new(&Order::compile(&second.pencil, &part, &system.values));
    let omega = 700.0;
    let lane = Lane { s: Complex64::new(0.0, omega), values: &system.values };
    let gain = solver.solve(&[lane], &Excitation::given(second.cut()), &[Functional::unknown(0)])[0].clone().unwrap();
    let closed_form = 1.0 / Complex64::new(1.0, omega * 1e3 * 2e-6);
    assert!((gain - closed_form).norm() < 1e-15);
    // Node 5 hangs on node 1 beside node 3, so node 3 is no cut for it.
    assert!(behind(&system.pencil, &structure, node(3), excited, &[node(5)], &[], &[]).is_none());
    assert!(behind(&system.pencil, &structure, node(3), excited, &[node(4), node(5)], &[], &[]).is_none());
}

#[test]
fn the_generic_solution_tells_what_a_source_reaches() {
    let system = two_sections();
    let zero = zeros(&system);
    let reached = |equation: u32| {
        let excited = Excited { equations: &[equation], givens: &[] };
        generic_solution(&system.pencil, At::AnyFrequency, &zero, excited).unwrap()
    };
    assert!(reached(5)[..5].iter().all(|x| *x));
    // A current into node 3 meets an ideal output: it moves the amplifier's current and nothing else.
    let from_output = reached(node(3));
    assert_eq!(from_output[..5], [false; 5]);
    assert!(from_output[6]);

    let adjoint =
        |unknown: u32| generic_adjoint(&system.pencil, At::AnyFrequency, &zero, &Functional::unknown(unknown)).unwrap();
    for equation in 0..7 {
        let forward = reached(equation);
        for unknown in 0..7 {
            assert_eq!(forward[unknown as usize], adjoint(unknown)[equation as usize]);
        }
    }
}

#[test]
fn parts_answer_as_the_whole_does() {
    let mut rng = Rng::new(11);
    let (mut cuts, mut tried) = (0, 0);
    for _ in 0..60 {
        let stages = 2 + rng.below(5);
        let net = random_network(&mut rng, stages, &Spread(4.0));
        let system = net.system();
        let zero = zeros(&system);
        if generic_rank(&system.pencil, At::AnyFrequency, &zero).is_err() {
            continue;
        }
        let structure = Structure::of(&system.pencil).unwrap();
        let whole = Solver::new(&Order::compile(&system.pencil, &structure, &system.values));
        let lane = Lane { s: Complex64::new(0.0, rng.between(1e2, 1e7)), values: &system.values };
        let equations: Vec<u32> = system.excitation.equations.iter().map(|e| e.0).collect();
        let excited = Excited { equations: &equations, givens: &[] };
        for wanted in 0..net.nodes {
            let truth = whole.solve(&[lane], &system.excitation, &[Functional::unknown(wanted)])[0].clone().unwrap();
            let part = restrict(&system.pencil, &structure, excited, &[wanted]);
            let told = match part.unknown(wanted) {
                None => Complex64::new(0.0, 0.0),
                Some(local) => {
                    let inner = Structure::of(&part.pencil).unwrap();
                    let solver = Solver::new(&Order::compile(&part.pencil, &inner, &system.values));
                    let sources = system.excitation.equations.iter();
                    let sources = sources.filter_map(|&(i, v)| Some((part.equation(i)?, v))).collect();
                    let excitation = Excitation { equations: sources, givens: Vec::new() };
                    solver.solve(&[lane], &excitation, &[Functional::unknown(local)])[0].clone().unwrap()
                }
            };
            assert!((told - truth).norm() <= 1e-11 * truth.norm(), "{told} against {truth}");
            for cut in (0..net.nodes).filter(|&c| c != wanted) {
                tried += 1;
                let Some(part) = behind(&system.pencil, &structure, cut, excited, &[wanted], &[], &zero) else {
                    continue;
                };
                let inner = Structure::of(&part.pencil).unwrap();
                let solver = Solver::new(&Order::compile(&part.pencil, &inner, &system.values));
                let local = part.unknown(wanted).unwrap();
                let after = solver.solve(&[lane], &Excitation::given(part.cut()), &[Functional::unknown(local)])[0]
                    .clone()
                    .unwrap();
                let before = whole.solve(&[lane], &system.excitation, &[Functional::unknown(cut)])[0].clone().unwrap();
                assert!((after * before - truth).norm() <= 1e-11 * truth.norm());
                cuts += 1;
            }
        }
    }
    assert!(cuts > 100, "{cuts} cuts of {tried} tried");
}
