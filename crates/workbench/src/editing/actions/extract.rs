//! Selected lines of a stage in a stage of their own, with the ports that they need. A stage may be copied with `use`, so that a piece
//! of a circuit taken out is a pattern too.
//!
//! The nodes keep their names, so nothing is connected otherwise; ports say who drives whom. That no reading and no verdict changes is
//! tried before it is offered. What an assumption costs is weighed between the ports of its part's stage, so that its figure may be another
//! one afterwards.

use std::collections::BTreeSet;

use argument::Verdict;
use notation::tree::{BlockKind, EntryTree, Heading, Pin, Ports, Word};

use super::place::Line;
use super::{ActionKind, Offer, Place, applied};
use crate::database::{Read, circuit_of};
use crate::desk::Snapshot;
use crate::editing::fresh::{fresh, words};
use crate::plain::{Edit, Severity};
use crate::trial::{HERE, Trial};

/// The stage that the selection is taken from, and what is taken.
struct Cut<'p> {
    block: usize,
    name: Word,
    inputs: Vec<String>,
    outputs: Vec<String>,
    /// The ports in the heading, in bytes of the file: all behind the colon.
    ports: std::ops::Range<usize>,
    taken: Vec<Line<'p>>,
    left: Vec<Line<'p>>,
}

/// The action, where whole entries of a stage are selected and some are left.
pub(super) fn offers<'a>(place: &'a Place<'a>) -> Vec<Offer<'a>> {
    let Some(cut) = cut(place) else { return Vec::new() };
    let words = words(place.text);
    let name = fresh(&cut.name.text, |name| words.contains(name));
    let count = cut.taken.len();
    let lines = if count == 1 { "this line".to_string() } else { format!("these {count} lines") };
    let title = format!("take {lines} into a stage of their own, {name}");
    let title = if count == 1 { title.replace("their own", "its own") } else { title };
    let edits = edits(place, &cut, &name);
    match refused(place, &edits) {
        Some(why) => vec![Offer::disabled(ActionKind::Extract, title, why)],
        None => vec![Offer::new(ActionKind::Extract, title, move || Some(edits.clone())).same()],
    }
}

fn cut<'p>(place: &'p Place) -> Option<Cut<'p>> {
    if place.range.is_empty() {
        return None;
    }
    // A selection that ends in column 0 does not touch that line.
    let touched = |l: &Line| {
        let (start, end) = (l.chunk.range.start, l.chunk.range.end);
        start < place.range.end && place.range.start < end
    };
    let first = place.lines().find(touched)?;
    if first.kind != Some(BlockKind::Stage) {
        return None;
    }
    let all = || place.lines().filter(|l| l.block == first.block);
    let (taken, left): (Vec<Line>, Vec<Line>) = all().partition(touched);
    let elsewhere = place.lines().any(|l| l.block != first.block && touched(&l));
    if left.is_empty() || elsewhere || all().any(|l| l.tree.fault.is_some()) {
        return None;
    }
    let chunk = place.layout.blocks.get(first.block)?.heading.as_ref()?;
    let Some(Read::Heading(h)) = place.reads.get(first.block)?.heading.as_deref() else { return None };
    let Heading::Stage { name: Some(name), ports: Some(Ports { inputs, outputs }) } = &h.tree else { return None };
    let words = |w: &[Word]| w.iter().map(|w| w.text.to_string()).collect::<Vec<_>>();
    let start = inputs.first().or(outputs.first())?.span.start as usize;
    let end = outputs.last().or(inputs.last())?.span.end as usize;
    Some(Cut {
        block: first.block,
        name: name.clone(),
        inputs: words(inputs),
        outputs: words(outputs),
        ports: chunk.range.start + start..chunk.range.start + end,
        taken,
        left,
    })
}

/// The names of the nodes that some entries touch, in the order written.
fn nodes(lines: &[Line]) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for word in lines.iter().flat_map(|l| notation::nodes_of(l.tree)) {
        if !all.iter().any(|n| *n == *word.text) {
            all.push(word.text.to_string());
        }
    }
    all
}

/// The nodes that amplifiers among some entries drive.
fn driven(lines: &[Line]) -> Vec<String> {
    let devices = lines.iter().filter_map(|l| match &l.tree.tree {
        EntryTree::Device(d) if &*d.element.part.class == "U" => Some(d),
        _ => None,
    });
    let out = |pin: &Pin| matches!(pin, Pin::Word(w) if &*w.text == "out");
    devices
        .flat_map(|d| d.terminals.iter().filter(move |t| out(&t.pin)).flat_map(|t| &t.nodes))
        .map(|w| w.text.to_string())
        .collect()
}

/// The ports of both stages: of the one that is left, and of the new one.
fn ports(place: &Place, cut: &Cut) -> [(Vec<String>, Vec<String>); 2] {
    let circuit = circuit_of(place.db, place.document);
    let rails: BTreeSet<&str> =
        circuit.supplies.iter().flat_map(|s| &s.rails).map(|(node, _)| circuit.node_name(*node)).collect();
    let (taken, left) = (nodes(&cut.taken), nodes(&cut.left));
    let (drives, drives_left) = (driven(&cut.taken), driven(&cut.left));
    let mut old = (Vec::new(), Vec::new());
    let mut new = (Vec::new(), Vec::new());
    // The stage's own ports stay whose they are; one that both touch is both's.
    for n in &cut.inputs {
        if left.contains(n) || !taken.contains(n) {
            old.0.push(n.clone());
        }
        if taken.contains(n) {
            new.0.push(n.clone());
        }
    }
    for n in &cut.outputs {
        match (taken.contains(n), left.contains(n)) {
            (true, true) if drives.contains(n) && !drives_left.contains(n) => {
                new.1.push(n.clone());
                old.0.push(n.clone());
            }
            (true, true) => {
                old.1.push(n.clone());
                new.0.push(n.clone());
            }
            (true, false) => new.1.push(n.clone()),
            (false, _) => old.1.push(n.clone()),
        }
    }
    // What nobody drives leads on from the side that has the signal.
    let first = cut.inputs.iter().any(|n| taken.contains(n)) && !cut.inputs.iter().any(|n| left.contains(n));
    for n in taken.iter().filter(|n| left.contains(n)) {
        let own = cut.inputs.contains(n) || cut.outputs.contains(n);
        if own || &**n == "gnd" || rails.contains(&**n) {
            continue;
        }
        let drives = drives.contains(n) || (first && !drives_left.contains(n));
        if drives && !drives_left.contains(n) {
            new.1.push(n.clone());
            old.0.push(n.clone());
        } else {
            old.1.push(n.clone());
            new.0.push(n.clone());
        }
    }
    [old, new]
}

/// Ports as a heading has them.
fn written((inputs, outputs): &(Vec<String>, Vec<String>)) -> String {
    let arrow = if outputs.is_empty() { "" } else { " -> " };
    format!("{}{arrow}{}", inputs.join(", "), outputs.join(", "))
}

fn edits(place: &Place, cut: &Cut, name: &str) -> Vec<Edit> {
    let text = place.text;
    let [old, new] = ports(place, cut);
    // With what ends it.
    let line_end = |at: usize| text[at..].find('\n').map_or(text.len(), |i| at + i + 1);
    let mut edits = Vec::new();
    if written(&old) != text[cut.ports.clone()] {
        edits.push(Edit { range: cut.ports.clone(), text: written(&old) });
    }
    let mut moved = String::new();
    for line in &cut.taken {
        // A comment above an entry speaks of it.
        let start = line.chunk.description.as_ref().map_or(line.chunk.range.start, |d| d.start);
        let range = crate::line::line_start(text, start)..line_end(line.chunk.range.end);
        moved.push_str(text[range.clone()].trim_end_matches(['\r', '\n']));
        moved.push('\n');
        edits.push(Edit { range, text: String::new() });
    }
    let last = place.layout.blocks[cut.block].entries.last().map_or(text.len(), |c| c.range.end);
    let at = line_end(last);
    let gap = if text[..at].ends_with('\n') { "\n" } else { "\n\n" };
    let block = format!("{gap}stage {name}: {}\n{moved}", written(&new));
    // What goes to the end of lines that go themselves comes in their place.
    match edits.iter_mut().find(|e| e.range.end == at && !e.range.is_empty()) {
        Some(edit) => edit.text = block,
        None => edits.push(Edit { range: at..at, text: block }),
    }
    edits
}

/// Why the lines cannot be taken out: what would read otherwise then.
fn refused(place: &Place, edits: &[Edit]) -> Option<String> {
    let mut trial = Trial::of(place.db, place.document);
    let now = told(&trial.holding(place.text.to_string()));
    let then = told(&trial.holding(applied(place.text, edits)));
    let new = then.problems.iter().find(|p| !now.problems.contains(p));
    if let Some((id, message)) = new {
        if *id == "assumption-fails" {
            return Some(
                "an assumption would not hold any more: it is weighed between the ports of its part's stage".into(),
            );
        }
        return Some(format!("the stages would not stand alone: {}", message.trim_end_matches('.')));
    }
    let statement = now.statements.iter().zip(&then.statements).find(|(a, b)| a != b);
    statement.map(|(a, _)| format!("{} would read otherwise", a.0))
}

/// What a text has to say about itself.
struct Told {
    problems: Vec<(&'static str, String)>,
    /// The requirements, each with its verdict and its figure.
    statements: Vec<(String, Option<Verdict>, Option<String>)>,
}

fn told(snapshot: &Snapshot) -> Told {
    let problems = snapshot.problems(HERE);
    let problems = problems.iter().filter(|p| p.severity > Severity::Note);
    let Some(document) = snapshot.document(HERE) else { return Told { problems: Vec::new(), statements: Vec::new() } };
    let decided = crate::decided::all(&snapshot.database, document);
    let one = |d: &crate::decided::Decided| {
        let phrase = d.reading.as_ref().map(|r| r.phrase.to_string()).unwrap_or_default();
        let value = d.decision.as_ref().and_then(|d| d.value);
        // The last digits are those of the order in which it was worked out.
        (phrase, d.decision.as_ref().map(|d| d.verdict.clone()), value.map(|v| format!("{v:.6e}")))
    };
    Told {
        problems: problems.map(|p| (p.id, p.message.clone())).collect(),
        statements: decided.iter().flat_map(|(.., all)| all.iter().map(one).collect::<Vec<_>>()).collect(),
    }
}
