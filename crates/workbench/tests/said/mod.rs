//! What is said about a design, in a few words.
#![allow(dead_code)]

use std::collections::BTreeMap;

use workbench::{Answer, Reading, Workbench};

/// The hints, one a line.
pub fn hints(text: &str) -> String {
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    let hints = bench.snapshot().hints("a", None);
    hints.iter().map(|h| format!("{}: {}\n", h.line + 1, h.label)).collect()
}

/// A workbench with one document.
pub fn bench(text: &str) -> Workbench {
    let mut bench = Workbench::new();
    bench.set_text("a", text.into());
    bench
}

/// Files in a workbench: each with its name and text; `include` headings find one another by these names.
pub fn shelf<S: AsRef<str>>(files: &[(S, S)]) -> Workbench {
    let mut bench = Workbench::new();
    for (path, text) in files {
        bench.set_text(path.as_ref(), text.as_ref().to_string());
    }
    for (path, _) in files {
        let named = bench.included(path.as_ref()).into_iter().map(|written| {
            let there = files.iter().any(|(path, _)| path.as_ref() == written);
            (written.clone(), if there { Ok(written) } else { Err("is not there".into()) })
        });
        let named: BTreeMap<_, _> = named.collect();
        bench.set_included(path.as_ref(), named);
    }
    bench
}

/// The reading of a phrase.
pub fn reading(text: &str, phrase: &str) -> Reading {
    match &bench(text).snapshot().read("a", phrase)[..] {
        [Answer::Reading(r)] => (**r).clone(),
        other => panic!("{phrase}: {other:?}"),
    }
}

/// What a phrase reads as, in a few words.
pub fn read(text: &str, phrase: &str) -> String {
    let said = |a: &Answer| match a {
        Answer::Reading(r) => r.short(quantity::Style::default()),
        Answer::Wrong(fault) => format!("wrong: {}", fault.message),
    };
    bench(text).snapshot().read("a", phrase).iter().map(said).collect::<Vec<_>>().join(" | ")
}

/// The rules under which something is said about a design, notes left out.
pub fn rules(text: &str) -> Vec<&'static str> {
    let problems = bench(text).snapshot().problems("a");
    problems.iter().filter(|p| p.severity > workbench::Severity::Note).map(|p| p.id).collect()
}

/// A divider whose lower part is this, and one beside it that has nothing to do with it.
pub fn divider(part: &str) -> String {
    format!(
        "stage pad: in -> out\n  in -- R1 1k -- out\n  out -- {part} -- gnd\n\nstage beside: in -> far\n  in -- R8 1k -- far\n  far -- R9 1k -- gnd\n"
    )
}

/// What is said about a file over tolerance, with every way out of it asked for.
pub fn told_over_tolerance(text: &str) -> Vec<String> {
    let snapshot = bench(text).snapshot();
    let problems = snapshot.problems_over_tolerance("a");
    problems.iter().for_each(|p| drop(snapshot.ways_out("a", p)));
    problems.iter().map(|p| p.message.clone()).collect()
}

/// The lines below a reading over tolerance.
pub fn lines_over_tolerance(text: &str, phrase: &str) -> String {
    let snapshot = bench(text).snapshot();
    let all = snapshot.read_over_tolerance("a", phrase);
    let [(Answer::Reading(reading), Some(tolerance))] = all.as_slice() else { panic!("{phrase}: {all:?}") };
    tolerance.lines(reading).join("\n")
}
