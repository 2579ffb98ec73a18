//! Nodes and pairs, the nearest first.

use notation::tree::BlockKind;

use super::{Basket, CompletionKind, Scene};

/// Where a part's end or a terminal is put to: the stage's own nodes, its ports, `gnd`, rails, other stages' ports, what is left.
pub(crate) fn ends(scene: &Scene, out: &mut Basket, rank: u32) {
    let known = &scene.known;
    let stage = known.stage();
    if let Some(stage) = stage {
        let name = stage.name.as_deref().unwrap_or_default();
        for port in stage.inputs.iter().chain(&stage.outputs) {
            let side = if stage.inputs.contains(port) { "input" } else { "output" };
            out.put(rank, CompletionKind::Node, &**port).detail(format!("{side} of {name}"));
        }
        for node in known.nodes(stage).filter(|n| &***n != "gnd" && !is_rail(scene, n)) {
            out.put(rank, CompletionKind::Node, &**node).detail(in_stage(name));
        }
    }
    ground(out, rank + 1);
    rails(scene, out, rank + 2);
    ports(scene, out, rank + 3);
    others(scene, out, rank + 4);
}

fn in_stage(name: &str) -> String {
    if name.is_empty() { String::new() } else { format!("in {name}") }
}

fn is_rail(scene: &Scene, name: &str) -> bool {
    scene.known.rails().any(|(rail, _)| **rail == *name)
}

/// `gnd`
pub(crate) fn ground(out: &mut Basket, rank: u32) {
    out.put(rank, CompletionKind::Rail, "gnd").detail("the reference node").page("gnd");
}

/// The rails with their voltages.
pub(crate) fn rails(scene: &Scene, out: &mut Basket, rank: u32) {
    for (rail, volts) in scene.known.rails() {
        out.put(rank, CompletionKind::Rail, &**rail).detail(&**volts).page("supply");
    }
}

/// The ports of the stages, the nearest stage first, and the nodes of sources.
pub(crate) fn ports(scene: &Scene, out: &mut Basket, rank: u32) {
    for block in scene.known.nearest() {
        let name = block.name.as_deref().unwrap_or_default();
        for (ports, side) in [(&block.outputs, "output"), (&block.inputs, "input")] {
            for port in ports.iter().filter(|p| &***p != "gnd" && !is_rail(scene, p)) {
                out.put(rank, CompletionKind::Node, &**port).detail(format!("{side} of {name}"));
            }
        }
    }
    let pairs: Vec<&str> = scene.known.pairs().map(|(n, _)| &**n).collect();
    for (node, level) in scene.known.sources().filter(|(n, _)| !pairs.contains(&&**n)) {
        out.put(rank, CompletionKind::Node, &**node).detail(format!("source of {level}"));
    }
}

/// The inner nodes of all stages; those of copies under the copy's name, which only a statement can say.
pub(crate) fn others(scene: &Scene, out: &mut Basket, rank: u32) {
    let known = &scene.known;
    for block in known.nearest() {
        let stage = block.name.as_deref().unwrap_or_default();
        if matches!(block.kind, Some(BlockKind::Stage) | None) {
            for node in known.nodes(block).filter(|n| &***n != "gnd" && !is_rail(scene, n)) {
                out.put(rank, CompletionKind::Node, &**node).detail(in_stage(stage));
            }
        }
    }
}

/// The inner nodes of copies.
fn copied(scene: &Scene, out: &mut Basket, rank: u32) {
    let known = &scene.known;
    for block in known.nearest().into_iter().filter(|b| b.kind == Some(BlockKind::Use)) {
        let (Some(copy), Some(pattern)) =
            (block.name.as_deref(), block.pattern.as_deref().and_then(|p| known.pattern(p)))
        else {
            continue;
        };
        // A node of another stage's, a rail and a source are the same node in both.
        let shared = |n: &str| {
            n == "gnd"
                || is_rail(scene, n)
                || known.sources().any(|(s, _)| **s == *n)
                || known.stages().any(|s| s.inputs.iter().chain(&s.outputs).any(|p| **p == *n))
        };
        for node in
            known.nodes(pattern).filter(|n| !shared(n) && !pattern.inputs.contains(n) && !pattern.outputs.contains(n))
        {
            out.put(rank, CompletionKind::Node, format!("{copy}.{node}")).detail(in_stage(copy));
        }
    }
}

/// The declared pairs.
pub(crate) fn pairs(scene: &Scene, out: &mut Basket, rank: u32) {
    for (pair, [hot, cold]) in scene.known.pairs() {
        out.put(rank, CompletionKind::Node, &**pair).detail(format!("{hot} minus {cold}")).page("balanced");
    }
}

/// What a statement can look at: pairs, ports, then what lies between.
pub(crate) fn places(scene: &Scene, out: &mut Basket) {
    pairs(scene, out, 0);
    ports(scene, out, 1);
    others(scene, out, 2);
    copied(scene, out, 3);
    rails(scene, out, 4);
}

/// The stages and copies of the circuit.
pub(crate) fn stages(scene: &Scene, out: &mut Basket, rank: u32) {
    for stage in scene.known.stages() {
        let Some(name) = &stage.name else { continue };
        out.put(rank, CompletionKind::Stage, &**name).detail(heading_ports(&stage.inputs, &stage.outputs));
    }
}

/// `in -> out`
pub(crate) fn heading_ports(inputs: &[notation::Name], outputs: &[notation::Name]) -> String {
    let list = |ports: &[notation::Name]| ports.iter().map(|p| &**p).collect::<Vec<_>>().join(", ");
    match outputs {
        [] => list(inputs),
        _ => format!("{} -> {}", list(inputs), list(outputs)),
    }
}
