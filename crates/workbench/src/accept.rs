//! Concessions: what `accept` silences, and what is wrong with a concession.

use circuit::{Circuit, Weight};
use notation::tree::{Fault, Fix, Span};

use crate::database::{Desk, Document, assembled, layout};
use crate::plain::{Problem, Severity};
use crate::problems::lines_of;

/// A concession as the file has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conceded {
    /// The line, from 0.
    pub line: u32,
    /// The rule, as its problems are called.
    pub rule: String,
    /// For which part, node, stage or pair.
    pub what: String,
    /// Why.
    pub reason: String,
}

/// The rules about concessions that concede nothing.
const IDLE: [&str; 3] = ["unknown-rule", "unknown-name", "nothing-to-accept"];

/// The concessions of a file that have a say, in the order written.
pub(crate) fn conceded(db: &dyn Desk, document: Document) -> Vec<Conceded> {
    let (all, layout) = (assembled(db, document), layout(db, document));
    let problems = crate::problems::problems_reviewed(db, document, false);
    let one = |(a, place): (&circuit::Accepted, &circuit::Place)| {
        let lines = lines_of(&layout, *place)?;
        let idle = |p: &Problem| IDLE.contains(&p.id) && lines.range.contains(&p.range.start);
        (!problems.iter().any(idle)).then(|| Conceded {
            line: lines.line,
            rule: a.rule.to_string(),
            what: a.what.to_string(),
            reason: a.reason.to_string(),
        })
    };
    all.circuit.accepted.iter().zip(&all.places.accepted).filter_map(one).collect()
}

/// The rules that may be conceded beside all of the reviewer's: each is a judgement about a design, none an error of its drawing.
pub const RULES: &[&str] = &[
    "both-ends-together",
    "ground-name",
    "idle-port",
    "inductor-across-source",
    "inductor-loop",
    "no-bias-return",
    "no-dc-feedback",
    "no-dc-path",
    "no-feedback",
    "node-used-once",
    "not-in-series",
    "only-unfitted",
    "open-input",
    "requirement-tolerance",
    "two-voltages",
    "unlikely-value",
    "unlisted-position",
    "unstable",
];

/// Takes away what is conceded, and tells which concessions concede nothing, by their number.
pub fn silence(circuit: &Circuit, problems: &mut Vec<Problem>) -> Vec<(usize, Weight, Fault)> {
    let mut found = Vec::new();
    for (i, accepted) in circuit.accepted.iter().enumerate() {
        let fault =
            |id, message: String| Fault { id, span: Span::default(), message, unfinished: false, fixes: Vec::new() };
        let words = accepted.rule.replace('-', " ");
        let reviewed = argument::rules::find(&accepted.rule).is_some();
        if !reviewed && !RULES.contains(&&*accepted.rule) {
            let all = || RULES.iter().copied().chain(argument::rules::RULES.iter().map(|r| r.id));
            let begun = || all().find(|r| r.starts_with(&*accepted.rule));
            let near = notation::near::nearest(&accepted.rule, all()).or_else(begun);
            let near = near.map(|n| n.replace('-', " "));
            let hint = near.as_ref().map_or_else(
                || ": `explain accept` lists those that there are".into(),
                |n| format!(": did you mean {n}"),
            );
            let mut f = fault("unknown-rule", format!("there is no rule `{words}` to accept{hint}"));
            f.fixes.extend(near.map(|n| Fix { title: format!("write {n}"), edits: vec![(Span::default(), n)] }));
            found.push((i, Weight::Error, f));
            continue;
        }
        let what = &*accepted.what;
        let known = circuit.node(what).is_some()
            || circuit.stage(what).is_some()
            || circuit.parts.iter().any(|p| *p.name == *what)
            || circuit.pair(what).is_some();
        if !known {
            found.push((
                i,
                Weight::Error,
                fault("unknown-name", format!("there is no part, node or stage called {what}")),
            ));
            continue;
        }
        let before = problems.len();
        // An error of the drawing stands; what the reviewer judges can be conceded whatever its weight.
        let stands = |p: &Problem| p.severity == Severity::Error && !reviewed;
        problems.retain(|p| stands(p) || p.id != &*accepted.rule || !p.names.iter().any(|n| n == what));
        if problems.len() == before {
            let message = format!("`{words}` has nothing to say about {what}: there is nothing to accept");
            found.push((i, Weight::Note, fault("nothing-to-accept", message)));
        }
    }
    found
}
