//! What is said names the fault that is there: of an amplifier's inputs and output, and of a limit.

use workbench::{Answer, Style, Workbench};

fn bench(text: &str) -> Workbench {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.into());
    bench
}

#[test]
fn inputs_on_one_node_and_an_output_at_gnd_are_told_as_such() {
    for kind in ["tl072", "ideal"] {
        let text = format!(
            "stage a: in -> out\n  in -- R1 10k -- x -- R2 10k -- out\n  U1a {kind}: + x, - x, out out\n  out -- R3 10k -- gnd\n"
        );
        let problems = bench(&text).snapshot().problems("a.stage");
        let told = problems.iter().find(|p| p.id == "no-feedback").unwrap_or_else(|| panic!("{kind}: {problems:?}"));
        assert!(told.message.starts_with("U1a's + and - inputs share x"), "{}", told.message);
    }
    let text = "stage a: in -> out\n  in -- R1 10k -- out\n  U1a ideal: + in, - gnd, out gnd\n";
    let all = bench(text).snapshot().read("a.stage", "gain in -> out");
    let [Answer::Reading(found)] = all.as_slice() else { panic!("{all:?}") };
    let said = found.line(Style::default());
    assert!(!said.contains("U1a hold the same node"), "{said}");
}

#[test]
fn an_output_on_a_node_that_a_source_holds_is_told_with_who_holds_it() {
    let text = "design\n  source in 0.1 V\nstage a: in -> z\n  in -- R1 10k -- z -- R2 10k -- gnd\n  \
                in -- R3 10k -- f -- R4 10k -- gnd\n  U1a tl072: + gnd, - f, out in\n";
    let problems = bench(text).snapshot().problems("a.stage");
    assert!(!problems.iter().any(|p| p.id == "no-feedback"), "{problems:?}");
    let told = problems.iter().find(|p| p.id == "held-twice").unwrap_or_else(|| panic!("{problems:?}"));
    assert!(told.message.starts_with("U1a's output stands at in, which source in holds"), "{}", told.message);
}

#[test]
fn a_limit_without_its_unit_is_told_as_such_over_tolerance() {
    let text = "design\n  tolerance R 1 %\n  source in 0.1 V\nstage a: in -> z\n  in -- R1 1k -- z -- R2 10k -- gnd\n";
    let all = bench(text).snapshot().read_over_tolerance("a.stage", "impedance of z at 1 kHz > 800");
    let [(Answer::Wrong(fault), None)] = all.as_slice() else { panic!("{all:?}") };
    assert!(fault.message.starts_with("the limit 800 of what? ohm"), "{}", fault.message);
}
