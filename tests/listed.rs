//! What a reviewer at the next bench looks for, item by item: the rule that speaks, that it can be silenced where it is a judgement, that its
//! ways out leave it nothing to say, and that a design without the fault hears nothing of it. The designs are those of the rules' pages.

use std::collections::BTreeSet;

use manual::{Intent, Kind, Page};
use workbench::{Problem, Severity, Workbench};

/// Faults in the trade's words, each with the rules that tell them.
const LISTED: &[(&str, &[&str])] = &[
    ("an input without a way for its bias current", &["no-bias-return"]),
    (
        "feedback absent, at rest only, at one position only, or of no use",
        &["no-feedback", "no-dc-feedback", "feedback-lost"],
    ),
    ("feedback to the wrong input, or a circuit that swings or runs away", &["latching", "unstable"]),
    ("an input that is left open", &["open-input"]),
    ("too little loop gain at the band's edge at the highest gain", &["loop-gain-low"]),
    ("too little phase margin", &["phase-margin-low"]),
    ("slewing", &["slew-rate-low"]),
    ("clipping before the source's level at the lowest gain", &["clips-at-least-gain"]),
    ("an output that rests at a rail", &["rests-beyond-rails"]),
    ("more current than an output gives", &["output-current-low"]),
    ("an input out of its common-mode range", &["common-mode-range"]),
    ("offset beside swing at the highest gain", &["offset-large", "offset-beyond-rails"]),
    ("a corner that moves with the control", &["corner-moves"]),
    ("corners that add up over stages", &["corners-add-up"]),
    ("a source that its stage loads", &["source-loaded"]),
    ("a source's resistance in an inverting stage's gain", &["source-in-gain"]),
    ("a control without an end stop", &["no-end-stop"]),
    ("a wiper that opens the loop", &["wiper-opens-loop"]),
    ("direct current through a track", &["direct-current-in-track"]),
    ("a taper unsuited to its use", &["taper-unsuited"]),
    ("a feedback capacitor too small or too large", &["feedback-capacitor-small", "feedback-capacitor-large"]),
    ("a decompensated part below its minimum gain", &["below-minimum-gain"]),
    ("a cable without a build-out resistor", &["line-without-build-out"]),
    ("legs of a pair with unequal impedances", &["legs-unequal"]),
    ("an odd number of inversions to the hot leg", &["hot-leg-inverted"]),
    ("a phantom supply at a part that cannot stand it", &["input-beyond-rails"]),
    ("a capacitor the wrong way round", &["capacitor-reversed"]),
    ("a capacitor or a resistor over its rating", &["over-voltage", "over-power"]),
    ("an electrolytic where a film capacitor belongs", &["electrolytic-in-filter"]),
    ("half a rail without a filter", &["half-rail-unfiltered"]),
    ("an output capacitor without a bleed", &["output-without-bleed"]),
    ("a rail without decoupling", &["rail-undecoupled"]),
    ("a supply out of a part's range", &["supply-out-of-range"]),
    ("a resistor that makes most of the noise", &["resistor-noise"]),
    ("a value off its series", &["not-in-series"]),
    ("a value outside of the trade's range, m for M", &["unlikely-value"]),
    ("an amplifier of a package that nobody uses", &["unused-amplifier"]),
    ("a rail above extra-low voltage", &["extra-low-voltage"]),
    ("nodes that nothing ties, at any frequency or at rest", &["undetermined", "no-dc-path", "only-unfitted"]),
    ("outputs and sources that hold one node", &["outputs-tied", "held-twice", "output-held", "source-at-rail"]),
    ("inductors that short what is held", &["inductor-across-source", "inductor-loop", "both-ends-together"]),
    ("a node that leads nowhere, or crosses stages", &["node-used-once", "node-crosses-stages", "idle-port"]),
];

/// What is said of a design, the reviewer's rules included.
fn said(text: &str) -> Vec<Problem> {
    let mut bench = Workbench::new();
    bench.set_text("a.stage", text.into());
    bench.snapshot().problems_reviewed("a.stage", true).to_vec()
}

/// The designs on a rule's page that show it.
fn broken<'p>(page: &'p Page, rule: &str) -> Vec<&'p str> {
    let examples = page.examples();
    let shows = examples.into_iter().filter(|e| matches!(&e.intent, Intent::Broken(ids) if ids.contains(&rule)));
    shows.map(|e| e.text).collect()
}

fn rules() -> BTreeSet<&'static str> {
    LISTED.iter().flat_map(|l| l.1).copied().collect()
}

/// Rules that may be conceded: all of the reviewer's, and what the page of `accept` lists besides.
fn concedable() -> BTreeSet<&'static str> {
    let page = manual::find("accept").expect("a page").text;
    rules().into_iter().filter(|id| page.contains(&format!("`{id}`"))).collect()
}

#[test]
fn there_are_fifty_rules_of_the_trade_and_each_has_a_page() {
    let rules = rules();
    assert!(rules.len() >= 50, "{}", rules.len());
    for id in &rules {
        assert!(manual::find(id).is_some_and(|p| p.kind == Kind::Rule), "no page speaks of {id}");
    }
    // None of the reviewer's is left out.
    let left: Vec<&str> = workbench::reviewed_rules().filter(|id| !rules.contains(id)).collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn each_is_told_and_silent_where_it_is_conceded() {
    let (mut shown, mut failures) = (0, Vec::new());
    for id in concedable() {
        for text in broken(manual::find(id).expect("a page"), id) {
            let all = said(text);
            let Some(problem) = all.iter().find(|p| p.id == id) else {
                failures.push(format!("{id} is not told of\n{text}"));
                continue;
            };
            // An error of the drawing stands; what is an error by its figures may be meant.
            if problem.severity == Severity::Error && !workbench::is_reviewed(id) {
                continue;
            }
            shown += 1;
            let Some(name) = problem.names.first() else {
                failures.push(format!("{id} names nobody: {}", problem.message));
                continue;
            };
            let entry = format!("  accept {} for {name}: \"it is meant\"\n", id.replace('-', " "));
            let conceded = match text.split_once('\n') {
                Some((first, rest)) if first.starts_with("design") => format!("{first}\n{entry}{rest}"),
                _ => format!("design\n{entry}{text}"),
            };
            let left: Vec<Problem> = said(&conceded);
            let amiss = |p: &&Problem| {
                p.id == id && p.names.contains(name)
                    || matches!(p.id, "nothing-to-accept" | "unknown-rule" | "unknown-name")
            };
            if let Some(p) = left.iter().find(amiss) {
                failures.push(format!("{id} conceded for {name}: {}", p.message));
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(shown >= 45, "{shown} designs were conceded");
}

#[test]
fn a_way_out_that_is_taken_leaves_nothing_of_it() {
    let (mut taken, mut failures) = (0, Vec::new());
    for id in rules() {
        for text in broken(manual::find(id).expect("a page"), id) {
            let all = said(text);
            for problem in all.iter().filter(|p| p.id == id) {
                for fix in &problem.fixes {
                    let mut edits = fix.edits.clone();
                    edits.sort_by_key(|e| std::cmp::Reverse(e.range.start));
                    let mut mended = text.to_string();
                    edits.iter().for_each(|e| mended.replace_range(e.range.clone(), &e.text));
                    taken += 1;
                    let left = said(&mended);
                    let same = |p: &&Problem| p.id == id && p.names == problem.names;
                    let worse = |p: &&Problem| p.severity == Severity::Error && !all.iter().any(|q| q.id == p.id);
                    if let Some(p) = left.iter().find(same).or(left.iter().find(worse)) {
                        failures.push(format!("{id}, {}: {}\n{mended}", fix.title, p.message));
                    }
                }
            }
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(taken >= 12, "{taken} ways out were taken");
}
