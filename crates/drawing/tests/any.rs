//! Whatever is joined to whatever: a picture comes out, and everything is in it once.

use drawing::{Circuit, Kind, Node, Part, Role, Stage, Stands, draw, svg};

/// A stream of numbers that is the same on every machine.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % n
    }
}

/// A circuit that nobody would draw: parts between any nodes, ground and supplies among them.
fn any(seed: u64) -> Circuit {
    let mut numbers = Numbers(seed);
    let mut circuit = Circuit::default();
    for (name, role) in [("gnd", Role::Ground), ("vp", Role::High), ("vn", Role::Low)] {
        circuit.nodes.push(Node { name: name.into(), unnamed: false, role });
    }
    let signals = 3 + numbers.below(10);
    for i in 0..signals {
        circuit.nodes.push(Node { name: format!("n{i}"), unnamed: numbers.below(4) == 0, role: Role::Signal });
    }
    let stages = 1 + numbers.below(3);
    for i in 0..stages {
        let mut port = || vec![3 + numbers.below(signals)];
        circuit.stages.push(Stage { name: format!("s{i}"), inputs: port(), outputs: port() });
    }
    for i in 0..2 + numbers.below(25) {
        let [a, b, c] = [(); 3].map(|()| match numbers.below(8) {
            0 => numbers.below(3),
            _ => 3 + numbers.below(signals),
        });
        let out = 3 + numbers.below(signals);
        let kind = match numbers.below(12) {
            0..=4 => Kind::Resistor([a, b]),
            5 | 6 => Kind::Capacitor([a, b], a > b),
            7 => Kind::Inductor([a, b]),
            8 => Kind::Variable { ccw: (a != b).then_some(a), wiper: b, cw: Some(c), preset: false },
            9 => Kind::Selector { pole: a, contacts: vec![(1, b), (2, c), (3, out)], at: 1 },
            10 => Kind::Switch([a, b], true),
            _ => Kind::Amplifier { plus: a, minus: b, out, rails: (a > c).then_some([1, 2]) },
        };
        let stage = numbers.below(stages);
        let (name, value) = (format!("P{i}"), "10 kΩ".into());
        circuit.parts.push(Part { name, value, stage, kind, external: false, unfitted: false });
    }
    circuit
}

#[test]
fn every_part_is_drawn_once_whatever_it_is_joined_to() {
    for seed in 0..60 {
        let circuit = any(seed);
        let sheet = draw(&circuit, None);
        let mut drawn: Vec<usize> = sheet
            .symbols
            .iter()
            .filter_map(|s| match s.of {
                Stands::Part(i) => Some(i),
                _ => None,
            })
            .collect();
        drawn.sort_unstable();
        assert_eq!(drawn, (0..circuit.parts.len()).collect::<Vec<_>>(), "{seed}");
        for symbol in &sheet.symbols {
            for pin in &symbol.pins {
                assert!(
                    pin.at.x >= 0 && pin.at.x <= sheet.width && pin.at.y >= 0 && pin.at.y <= sheet.height,
                    "{seed}"
                );
            }
        }
        assert_eq!(svg(&circuit, &sheet), svg(&circuit, &draw(&circuit, None)), "{seed}");
    }
}

/// A circuit without nodes, parts or stages, and a stage of one part that hangs on nothing.
#[test]
fn next_to_nothing_is_drawn_too() {
    let empty = Circuit::default();
    assert!(svg(&empty, &draw(&empty, None)).starts_with("<svg "));
    let node = |name: &str| Node { name: name.into(), unnamed: false, role: Role::Signal };
    let part = Part {
        name: "R1".into(),
        value: "1 Ω".into(),
        stage: 0,
        kind: Kind::Resistor([0, 0]),
        external: false,
        unfitted: true,
    };
    let stage = Stage { name: "one".into(), inputs: Vec::new(), outputs: Vec::new() };
    let lone = Circuit { nodes: vec![node("a")], parts: vec![part], stages: vec![stage], ..Circuit::default() };
    assert!(svg(&lone, &draw(&lone, None)).contains("part-R1"));
}
