//! How long a drawing takes: a stage of 30 parts, 200 stages of ten, one stage of 200 parts, and a string of 2,000.

use drawing::{Circuit, Kind, Node, Part, Role, Stage, draw, svg};

fn node(c: &mut Circuit, name: String, role: Role) -> usize {
    c.nodes.push(Node { name, unnamed: false, role });
    c.nodes.len() - 1
}

fn base() -> (Circuit, usize) {
    let mut c = Circuit::default();
    for (name, role) in [("gnd", Role::Ground), ("vp", Role::High), ("vn", Role::Low)] {
        node(&mut c, name.into(), role);
    }
    let input = node(&mut c, "in".into(), Role::Signal);
    (c, input)
}

fn part(c: &mut Circuit, stage: usize, kind: Kind) {
    let name = format!("R{}", c.parts.len());
    c.parts.push(Part { name, value: "10 kΩ".into(), stage, kind, external: false, unfitted: false });
}

/// Low-passes with gain, ten parts each, one behind the other.
fn filters(c: &mut Circuit, stage: usize, mut from: usize, count: usize) -> usize {
    let input = from;
    for _ in 0..count {
        let n = c.nodes.len();
        let [x, y, f, o] = ["x", "y", "f", "o"].map(|name| node(c, format!("{name}{n}"), Role::Signal));
        for ends in [[from, x], [x, y], [o, f], [f, 0], [o, 0], [y, 0]] {
            part(c, stage, Kind::Resistor(ends));
        }
        for ends in [[x, o], [y, 0], [o, f]] {
            part(c, stage, Kind::Capacitor(ends, false));
        }
        part(c, stage, Kind::Amplifier { plus: y, minus: f, out: o, rails: Some([1, 2]) });
        from = o;
    }
    c.stages.push(Stage { name: format!("s{stage}"), inputs: vec![input], outputs: vec![from] });
    from
}

fn time(what: &str, c: &Circuit) {
    let mut best = f64::MAX;
    for _ in 0..5 {
        let start = std::time::Instant::now();
        let picture = svg(c, &draw(c, None));
        assert!(!picture.is_empty());
        best = best.min(start.elapsed().as_secs_f64() * 1e3);
    }
    println!("{what}: {} parts in {best:.1} ms", c.parts.len());
}

fn main() {
    let (mut c, input) = base();
    filters(&mut c, 0, input, 3);
    time("one stage", &c);
    let (mut c, mut from) = base();
    for stage in 0..200 {
        from = filters(&mut c, stage, from, 1);
    }
    time("200 stages", &c);
    let (mut c, input) = base();
    filters(&mut c, 0, input, 20);
    time("one large stage", &c);
    let (mut c, input) = base();
    let mut from = input;
    for i in 0..2000 {
        let to = node(&mut c, format!("n{i}"), Role::Signal);
        part(&mut c, 0, Kind::Resistor([from, to]));
        from = to;
    }
    c.stages.push(Stage { name: "string".into(), inputs: vec![input], outputs: vec![from] });
    time("a string", &c);
}
