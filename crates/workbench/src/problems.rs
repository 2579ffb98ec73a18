//! Everything there is to say about a file, at its place.

use std::collections::HashSet;
use std::ops::Range;
use std::sync::Arc;

use circuit::{Place, Weight};
use notation::layout::{Chunk as Lines, Layout};
use notation::tree::Fault;

use crate::astray::astray;
use crate::database::{Chunk, Desk, Document, Read, assembled, circuit_of, included, layout, network, reads, sound};
use crate::plain::{Edit, Fix, Problem, Severity};

/// The problems of a file at nominal values.
#[salsa::tracked(returns(clone))]
pub fn problems(db: &dyn Desk, document: Document) -> Arc<Vec<Problem>> {
    let _running = analysis::meter::stage("problems");
    Arc::new(gathered(db, document, Depth::NOMINAL))
}

/// The problems of a file with those that show over tolerance only, which take their time.
#[salsa::tracked(returns(clone))]
pub fn problems_over_tolerance(db: &dyn Desk, document: Document) -> Arc<Vec<Problem>> {
    if built(db, document).is_empty() {
        return problems(db, document);
    }
    Arc::new(gathered(db, document, Depth { tolerance: true, review: false }))
}

/// The requirements of a file that can be looked at over tolerance, where it states any.
pub(crate) fn built(db: &dyn Desk, document: Document) -> Vec<Chunk<'_>> {
    if !crate::over::stated(&crate::database::drawn(db, document)) {
        return Vec::new();
    }
    let (layout, text) = (layout(db, document), document.text(db));
    let limited = |all: &[crate::decided::Decided]| all.iter().any(|d| d.decision.is_some());
    let all = crate::decided::all(db, document);
    let all = all.iter().filter(|(.., decided)| limited(decided)).filter_map(|(b, e, _)| {
        let block = layout.blocks.get(*b as usize)?;
        Some(Chunk::new(db, block.kind, false, &text[block.entries.get(*e as usize)?.range.clone()]))
    });
    all.collect()
}

/// The problems of a file with what the reviewer's rules find.
#[salsa::tracked(returns(clone))]
pub fn problems_reviewed(db: &dyn Desk, document: Document, tolerance: bool) -> Arc<Vec<Problem>> {
    Arc::new(gathered(db, document, Depth { tolerance, review: true }))
}

/// How much is asked for.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Depth {
    /// What shows over tolerance only.
    tolerance: bool,
    /// What the reviewer's rules find.
    review: bool,
}

impl Depth {
    const NOMINAL: Depth = Depth { tolerance: false, review: false };
}

fn gathered(db: &dyn Desk, document: Document, depth: Depth) -> Vec<Problem> {
    let layout = layout(db, document);
    let reads = reads(db, document);
    let all = assembled(db, document);
    let astray = astray(db, document);
    let (mut found, mut cautions) = (Vec::new(), HashSet::new());
    for (b, (block, read)) in layout.blocks.iter().zip(reads.iter()).enumerate() {
        if read.silent && block.heading.iter().chain(&block.entries).all(|c| c.fault.is_none()) {
            continue;
        }
        if let (Some(lines), Some(Read::Heading(h))) = (&block.heading, read.heading.as_deref()) {
            // Where a line is misplaced, that is the one thing to say.
            let fault = lines.fault.as_ref().or(h.fault.as_ref());
            found.extend(fault.map(|f| problem(lines, Severity::Error, f, Vec::new())));
        }
        for (e, (lines, read)) in block.entries.iter().zip(&read.entries).enumerate() {
            let run = astray.iter().find(|r| r.holds(b, e));
            if let Some(missing) = run.and_then(|r| r.problem.as_ref()) {
                // Of all its lines the run has this to say; that the first of them stands below no heading is the same.
                let other = lines.fault.iter().filter(|f| f.id != "no-heading");
                found.extend(other.map(|f| problem(lines, Severity::Error, f, Vec::new())));
                found.extend((e == run.map_or(0, |r| r.entries.start)).then(|| missing.clone()));
            } else if let Some(fault) = &lines.fault {
                found.push(problem(lines, Severity::Error, fault, Vec::new()));
            } else if let (None, Read::Entry(_, piece)) = (run, &**read) {
                let told = piece.findings.iter().map(|(w, f)| problem(lines, severity(*w), f, Vec::new()));
                found.extend(told.inspect(|p| {
                    cautions.insert((p.range.start, p.id));
                }));
            }
        }
    }
    let whole = Lines { range: 0..document.text(db).len(), line: 0, description: None, fault: None };
    found.extend(layout.faults.iter().map(|f| problem(&whole, Severity::Error, f, Vec::new())));
    let held = crate::astray::names(&reads, &astray);
    let mut twice = 0;
    for finding in &all.findings {
        // What seems to be missing may stand in lines that belong to no block yet.
        if finding.names.iter().any(|n| held.contains(&**n)) {
            continue;
        }
        let place = Place { block: finding.block, entry: finding.entry, span: finding.fault.span };
        if let Some(lines) = lines_of(&layout, place) {
            let mut told = problem(lines, severity(finding.weight), &finding.fault, finding.names.clone());
            if finding.fault.id.starts_with("repeated-") {
                twice += 1;
            }
            if twice <= crate::renumber::LOOKED_FOR {
                told.fixes.extend(crate::renumber::fixes(&layout, document.text(db), finding, &told.range));
            }
            found.push(told);
        }
    }
    for (block, fault) in included(db, document).faults.iter().chain(&crate::from_included::faults(db, document)) {
        let place = Place { block: *block, entry: None, span: fault.span };
        if let Some(lines) = lines_of(&layout, place) {
            found.push(problem(lines, Severity::Error, fault, Vec::new()));
        }
    }
    if all.places.torn.is_none() {
        let amiss = found.iter().any(|p| p.severity == Severity::Error);
        for (i, untrimmed) in &crate::trim::trimmed(db, document).faults {
            // What the quantity lacks is said where it is lacking.
            let lines =
                all.places.trims.get(*i).and_then(|p| lines_of(&layout, *p)).filter(|_| !(untrimmed.unknown && amiss));
            let fault = lines.zip(untrimmed.fault.as_ref());
            found.extend(fault.map(|(l, f)| problem(l, Severity::Error, f, Vec::new())));
        }
    }
    for (block, entry, costs) in crate::assumed::all(db, document) {
        let place = Place { block, entry: Some(entry), span: Default::default() };
        if let (Some(lines), Ok(costs)) = (lines_of(&layout, place), &*costs) {
            let clause = crate::assumed::clause_span(db, document, block as usize, entry as usize);
            let faults = crate::assumed::failures(costs, clause, lines.range.len());
            found.extend(faults.map(|(f, names)| {
                let mut told = problem(lines, Severity::Warning, &f, names);
                told.fixes.extend(crate::assumed::value_fix(db, document, costs));
                told
            }));
        }
    }
    for (block, entry, formulas) in crate::formulas::all(db, document) {
        let place = Place { block, entry: Some(entry), span: Default::default() };
        let Some(lines) = lines_of(&layout, place) else { continue };
        // A right side that is no such quantity is told, and what it comes to is then not compared.
        let told = |f: &circuit::Finding| f.weight == Weight::Error && (f.block, f.entry) == (block, Some(entry));
        if all.findings.iter().any(told) {
            continue;
        }
        for (warning, fault) in crate::formulas::failures(db, document, block, entry, &formulas) {
            let weight = if warning { Severity::Warning } else { Severity::Error };
            found.push(problem(lines, weight, &fault, Vec::new()));
        }
    }
    for (block, entry, decided) in crate::decided::all(db, document) {
        let held = if depth.tolerance { crate::decided::held(db, document, block, entry) } else { Arc::default() };
        for (i, d) in decided.iter().enumerate() {
            let Some(lines) = lines_of(&layout, Place { block, entry: Some(entry), span: Default::default() }) else {
                continue;
            };
            let span = notation::tree::Span::new(0, lines.range.len());
            found.extend(d.refused.iter().map(|f| problem(lines, Severity::Error, f, Vec::new())));
            if let Some((weight, fault, names)) = crate::decided::failure(d, span) {
                found.push(problem(lines, severity(weight), &fault, names));
            }
            let held = held.get(i).and_then(Option::as_ref);
            if let Some((weight, fault, names)) = held.and_then(|h| crate::over::failure(d, h, span)) {
                found.push(problem(lines, severity(weight), &fault, names));
            }
        }
    }
    let silent = all.places.torn.is_some() || all.circuit.unknown.is_some();
    // Half a line makes half a circuit: what it lacks as a whole is said when the line is finished.
    let mut flaws = HashSet::new();
    if !silent {
        let sound = sound(db, document);
        // No circuit is known to come here; if one does, it is not passed over.
        if sound.is_none()
            && !all.circuit.parts.is_empty()
            && let Some(lines) = layout.blocks.iter().find_map(|b| b.heading.as_ref().or(b.entries.first()))
        {
            let message = "so much of the circuit is undetermined that its causes cannot be told apart: give its amplifiers feedback and its nodes a way to gnd, stage by stage";
            let span = notation::tree::Span::new(0, lines.range.len());
            let fault =
                Fault { id: "undetermined", span, message: message.into(), unfinished: false, fixes: Vec::new() };
            found.push(problem(lines, Severity::Error, &fault, Vec::new()));
        }
        let circuit_of = &all.circuit;
        for flaw in sound.iter().flat_map(|s| &s.flaws) {
            // Outputs that stand at one node were told by the drawing already; one and the same amplifier twice is a block that was
            // pasted, which is told as such.
            let told = |f: &&circuit::Finding| f.fault.id == flaw.id && flaw.names.iter().all(|n| f.names.contains(n));
            let pasted = flaw.names.iter().all(|name| *name == flaw.names[0]);
            if flaw.id == "outputs-tied" && (pasted || all.findings.iter().any(|f| told(&f))) {
                continue;
            }
            let part = flaw.part.and_then(|p| all.places.part_names.get(p.at()));
            let node = flaw.node.and_then(|n| all.places.nodes.get(n.at()));
            let Some(place) = part.or(node) else { continue };
            let Some(range) = range_of(&layout, *place) else { continue };
            let severity = if flaw.is_error() { Severity::Error } else { Severity::Warning };
            flaws.insert((range.start, flaw.id));
            // A pair that floats is tied by both of its legs.
            let floats = |s: &&circuit::Source| {
                let named = |n: circuit::NodeId| flaw.names.iter().any(|name| *name == *circuit_of.node_name(n));
                s.minus != circuit::GROUND && named(s.plus) && named(s.minus)
            };
            let pair = circuit_of.sources.iter().find(floats).filter(|_| flaw.id == "undetermined");
            let legs = pair.map(|s| [s.plus, s.minus].map(|n| circuit_of.node_name(n)));
            let tied =
                legs.and_then(|legs| crate::review::tied(db, document, &layout, document.text(db), legs, *place));
            found.push(Problem {
                range,
                severity,
                id: flaw.id,
                message: flaw.message.clone(),
                names: flaw.names.clone(),
                fixes: tied.into_iter().chain(crate::editing::actions::bias_return::fix(db, document, flaw)).collect(),
                unfinished: false,
            });
        }
    }
    if !silent {
        let place = |part: usize| range_of(&layout, *all.places.part_names.get(part)?);
        if let Some(sound) = sound(db, document).filter(|s| !s.clashes.is_empty()) {
            let (network, circuit) = (network(db, document), circuit_of(db, document));
            found.extend(crate::clashes::problems(&network, &sound, &circuit, place));
        }
        for flaw in crate::at_rest::cut(db, document).iter() {
            let Some(range) = flaw.part.and_then(|p| place(p.at())) else { continue };
            let (message, names) = (flaw.message.clone(), flaw.names.clone());
            let (severity, fixes, unfinished) = (Severity::Warning, Vec::new(), false);
            found.push(Problem { range, severity, id: flaw.id, message, names, fixes, unfinished });
        }
        let latching = crate::latching::latching(db, document);
        found.extend(crate::latching::problems(&all.circuit, &latching, place));
        let growing = crate::unstable::growing(db, document);
        // What latches is told as that.
        let told = |g: &&analysis::measure::Growth| {
            latching.iter().any(|l| l.amplifiers.iter().any(|p| g.amplifiers.contains(p)))
        };
        let starved = crate::unstable::starved(db, document);
        let growing = growing.iter().cloned().zip(starved.iter().cloned());
        let growing: Vec<_> = growing.filter(|(g, _)| !told(&g)).collect();
        found.extend(crate::unstable::problems(&all.circuit, &growing, place));
    }
    if depth.review {
        found.extend(crate::review::problems(db, document));
        crate::leftmost::follows_from_idle_amplifiers(&mut found);
    }
    // Most edits leave nothing to say, and then no name to look for.
    if found.iter().any(|p| p.names.is_empty()) {
        let nodes = all.circuit.nodes.iter().map(|n| &*n.name);
        let parts = all.circuit.parts.iter().map(|p| &*p.name);
        let names: HashSet<&str> = nodes.chain(parts).chain(all.circuit.stages.iter().map(|s| &*s.name)).collect();
        for p in found.iter_mut().filter(|p| p.names.is_empty()) {
            p.names = named(&p.message, &names);
        }
    }
    for (i, weight, fault) in crate::accept::silence(&all.circuit, &mut found) {
        // A rule that is silent for the moment may have something to say about it yet.
        let rule = &*all.circuit.accepted[i].rule;
        let later = (!depth.tolerance && rule == "requirement-tolerance")
            || (!depth.review && argument::rules::find(rule).is_some());
        if (silent || later) && fault.id == "nothing-to-accept" {
            continue;
        }
        let Some(place) = all.places.accepted.get(i) else { continue };
        let Some(lines) = lines_of(&layout, *place) else { continue };
        let mut told = problem(lines, severity(weight), &fault, vec![all.circuit.accepted[i].what.to_string()]);
        told.range = lines.range.start + place.span.start as usize..lines.range.start + place.span.end as usize;
        // The place of the rule's words is known here only.
        let rule = told.range.start..told.range.end - all.circuit.accepted[i].what.len() - " for ".len();
        told.fixes.iter_mut().flat_map(|f| &mut f.edits).for_each(|e| e.range = rule.clone());
        found.push(told);
    }
    let text = document.text(db);
    if found.iter().any(|p| p.id == "unknown-name") {
        let misdeclared = crate::astray::misdeclared(&layout, &reads, text);
        let waits = |told: &str| {
            let name = told.trim_matches(|c: char| c.is_whitespace() || matches!(c, '(' | ')'));
            held.contains(name) || misdeclared.contains(name)
        };
        found.retain(|p| p.id != "unknown-name" || !text.get(p.range.clone()).is_some_and(waits));
    }
    crate::leftmost::follows_from_lonely_nodes(&mut found, &flaws);
    crate::leftmost::one_an_entry(&mut found, &layout, &cautions);
    for p in &mut found {
        p.message = sentence(&p.message, &p.names);
    }
    found.sort_by_key(|p| (p.range.start, p.range.end));
    found
}

/// The first line (from 0) that is unfinished.
pub fn torn(db: &dyn Desk, document: Document) -> Option<u32> {
    let place = assembled(db, document).places.torn?;
    lines_of(&layout(db, document), place).map(|l| l.line)
}

fn severity(weight: Weight) -> Severity {
    match weight {
        Weight::Note => Severity::Note,
        Weight::Warning => Severity::Warning,
        Weight::Error => Severity::Error,
    }
}

/// The lines of a place's entry or heading.
pub(crate) fn lines_of(layout: &Layout, place: Place) -> Option<&Lines> {
    let block = layout.blocks.get(place.block as usize)?;
    match place.entry {
        Some(e) => block.entries.get(e as usize),
        None => block.heading.as_ref(),
    }
}

/// A place in the file's bytes.
pub(crate) fn range_of(layout: &Layout, place: Place) -> Option<Range<usize>> {
    let start = lines_of(layout, place)?.range.start;
    Some(start + place.span.start as usize..start + place.span.end as usize)
}

fn problem(lines: &Lines, severity: Severity, fault: &Fault, names: Vec<String>) -> Problem {
    let shift =
        |span: notation::tree::Span| lines.range.start + span.start as usize..lines.range.start + span.end as usize;
    let fix = |f: &notation::tree::Fix| Fix {
        title: f.title.clone(),
        edits: f.edits.iter().map(|(span, text)| Edit { range: shift(*span), text: text.clone() }).collect(),
    };
    Problem {
        range: shift(fault.span),
        severity,
        id: fault.id,
        message: fault.message.clone(),
        names,
        fixes: fault.fixes.iter().map(fix).collect(),
        unfinished: fault.unfinished,
    }
}

/// A message as a sentence: a capital where it does not begin with a name, and a mark at its end.
fn sentence(message: &str, names: &[String]) -> String {
    let mut text = message.trim_end().to_string();
    let first = text.split(' ').next().unwrap_or_default();
    // A node may be called by such a word, and keeps its name.
    let opens = ["the", "a", "no", "there", "nothing", "repeats", "with", "how", "what", "this", "these", "which"]
        .contains(&first);
    // `a is worked out from itself` speaks of a name: no article stands in front of these.
    let second = text.split(' ').nth(1).unwrap_or_default();
    let named = first == "a" && matches!(second, "is" | "has" | "and" | "cannot" | "names");
    if opens && !named && !names.iter().any(|n| n == first) {
        text[..1].make_ascii_uppercase();
    }
    if !text.ends_with(['.', '?', '!']) {
        // A guess at the end is a question.
        text.push(if text.rsplit(": ").next().is_some_and(|t| t.starts_with("did you mean")) { '?' } else { '.' });
    }
    text
}

/// The circuit's names that a message holds, in its order.
fn named(message: &str, names: &HashSet<&str>) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for word in message.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == '.')) {
        let word = word.trim_matches('.');
        // A node may be called by a word that sentences are made of.
        let plain = matches!(word, "in" | "out" | "to" | "at" | "of" | "on" | "no" | "one" | "a" | "the" | "is" | "it");
        if names.contains(word) && !plain && !found.iter().any(|f| f == word) {
            found.push(word.to_string());
        }
    }
    found
}
