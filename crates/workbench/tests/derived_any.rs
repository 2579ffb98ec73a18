//! Workings of random networks: what is printed, read back as a formula of the file, is what the solver has.

use proptest::prelude::*;
use workbench::{Verdict, Workbench};

/// The parts of a two-terminal network: class and value. Without inductors, since at the resonance of a lossless pair there is no figure to
/// compare; `derivations_against_sympy.py` has them, where nothing is rounded.
fn arm() -> impl Strategy<Value = Vec<(char, u32)>> {
    proptest::collection::vec((prop_oneof![2 => Just('R'), 1 => Just('C')], 1..99u32), 1..4)
}

/// Lines for an arm: its parts in a row, or side by side.
fn lines(parts: &[(char, u32)], row: bool, a: &str, b: &str, count: &mut u32) -> String {
    let each = parts.iter().map(|(class, value)| {
        *count += 1;
        let unit = if *class == 'R' { "k" } else { "n" };
        format!("{class}{count} {value}{unit}")
    });
    let joint = if row { " -- " } else { " || " };
    format!("  {a} -- {} -- {b}\n", each.collect::<Vec<_>>().join(joint))
}

/// From node to node.
type Ways = &'static [(&'static str, &'static str)];

/// The arms of each kind of circuit, node to node, its amplifiers, and its ports.
const KINDS: &[(Ways, &str, &str)] = &[
    (&[("in", "sum"), ("sum", "out")], "  U1 ideal: + gnd, - sum, out out\n", "in -> out"),
    (&[("out", "fb"), ("fb", "gnd")], "  U1 ideal: + in, - fb, out out\n", "in -> out"),
    (&[("a", "sum"), ("b", "sum"), ("sum", "out")], "  U1 ideal: + gnd, - sum, out out\n", "a, b -> out"),
    (&[("p", "m"), ("m", "out"), ("q", "n"), ("n", "gnd")], "  U1 ideal: + n, - m, out out\n", "p, q -> out"),
    (
        &[("fp", "gp"), ("gp", "gn"), ("gn", "fn")],
        "  U1 ideal: + p, - gp, out fp\n  U2 ideal: + n, - gn, out fn\n",
        "p, n -> fp, fn",
    ),
    (&[("in", "out"), ("out", "gnd")], "", "in -> out"),
    (&[("in", "x"), ("x", "gnd"), ("x", "out"), ("out", "gnd")], "", "in -> out"),
    (&[("in", "sum"), ("sum", "out"), ("in", "n"), ("n", "gnd")], "  U1 ideal: + n, - sum, out out\n", "in -> out"),
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn the_written_formula_holds(kind in 0..KINDS.len(), arms in proptest::collection::vec((arm(), any::<bool>()), 4)) {
        let (ways, amplifiers, heading) = KINDS[kind];
        let mut count = 0;
        let mut text = format!("stage any: {heading}\n{amplifiers}");
        for ((a, b), (parts, row)) in ways.iter().zip(&arms) {
            text += &lines(parts, *row, a, b, &mut count);
        }
        let mut bench = Workbench::new();
        bench.set_text("a.stage", text.clone());
        let snapshot = bench.snapshot();
        let derived = snapshot.derivation("a.stage", 0).expect("it is there");
        let said = workbench::page::text(&derived.page);
        prop_assert!(derived.found || said.contains("past a hand derivation"), "{text}\n{said}");
        if let Some(fix) = snapshot.proposals("a.stage", 0..0, None).pop() {
            drop(snapshot);
            for edit in fix.edits.iter().rev() {
                text.replace_range(edit.range.clone(), &edit.text);
            }
            bench.set_text("a.stage", text.clone());
            for statement in bench.snapshot().statements("a.stage") {
                prop_assert_eq!(&statement.verdict, &Verdict::Holds, "{}\n{}", statement.text, text);
            }
        } else {
            prop_assert!(!derived.found, "{text}\n{said}");
        }
    }
}
