//! The hand working of a stage, held against the solver before it is shown.

mod alone;
mod fix;
mod numbers;
mod taken;
mod words;

use std::sync::Arc;

use circuit::{Circuit, ControlId, ControlKind, Name, Neglect, NodeId, PartId, PartKind, Position, StageId};
use derivation::print::{Manner, plain};
use derivation::{Expr, Line, Page, Refusal, Section, Working, said};
use notation::tree::{BlockKind, EntryTree, FormulaEntry};

use crate::database::{Desk, Document, circuit_of};
use crate::hints::blank;
use alone::Alone;

pub(crate) use fix::fix;

/// A stage's derivation.
#[derive(Clone, Debug, PartialEq)]
pub struct Derivation {
    /// The stage's name.
    pub stage: Name,
    /// The whole.
    pub page: Page,
    /// The few lines that lead to the results, for a hover.
    pub short: Vec<Line>,
    /// Entries of `formula` that the file's hand model confirms.
    pub formulas: Vec<String>,
    /// Whether a working was found.
    pub found: bool,
}

/// Works a stage out; with `costs`, what each neglect costs stands beside it.
#[salsa::tracked(returns(clone))]
pub fn derived(db: &dyn Desk, document: Document, stage: u32, costs: bool) -> Arc<Derivation> {
    let circuit = circuit_of(db, document);
    let id = StageId(stage);
    let mut deriver = Deriver::new(db, document, &circuit, id);
    match deriver.unfit() {
        Some(why) => deriver.put("Working", vec![said(format!("Unknown: {why}."))]),
        None => deriver.derive(costs),
    }
    Arc::new(deriver.done)
}

/// Positions of the switches of one stage, more than this, are not worked out one by one.
const CASES: usize = 8;
/// A hover shows the whole working up to so many lines.
const SHORT: usize = 8;

struct Deriver<'a> {
    db: &'a dyn Desk,
    document: Document,
    circuit: &'a Circuit,
    id: StageId,
    neglects: Vec<Neglect>,
    done: Derivation,
}

/// A position of the switches: as a `when` clause names it, and where all controls stand.
struct Case {
    name: String,
    positions: Vec<Position>,
}

impl<'a> Deriver<'a> {
    fn new(db: &'a dyn Desk, document: Document, circuit: &'a Circuit, id: StageId) -> Deriver<'a> {
        let stage = &circuit.stages[id.at()];
        let names = |nodes: &[NodeId]| nodes.iter().map(|n| circuit.node_name(*n)).collect::<Vec<_>>().join(", ");
        let arrow = if stage.outputs.is_empty() { String::new() } else { format!(" → {}", names(&stage.outputs)) };
        let title = format!("stage {}: {}{arrow}", stage.name, names(&stage.inputs));
        let page = Page { title, sections: Vec::new() };
        let done = Derivation { stage: stage.name.clone(), page, short: Vec::new(), formulas: Vec::new(), found: false };
        Deriver { db, document, circuit, id, neglects: Vec::new(), done }
    }

    fn put(&mut self, head: &str, lines: Vec<Line>) {
        if !lines.is_empty() {
            self.done.page.sections.push(Section { head: head.into(), lines });
        }
    }

    /// Why nothing can be worked out: a clause.
    fn unfit(&mut self) -> Option<String> {
        let stage = &self.circuit.stages[self.id.at()];
        let why = blank(self.db, self.document).or_else(|| self.circuit.doubled(self.id));
        if let Some(why) = why.or_else(|| stage.unread.as_ref().map(|w| w.to_string())) {
            return Some(why);
        }
        match crate::formulas::neglects(self.db, self.document, self.circuit) {
            Ok(all) => self.neglects = all,
            Err(why) => return Some(why),
        }
        if stage.outputs.iter().all(|n| taken::still(self.circuit, *n)) {
            return Some(format!("{} has no output, and so no gain to work out", stage.name));
        }
        if taken::inputs(self.circuit, self.id).is_empty() {
            return Some(format!("{} has no input that carries a signal", stage.name));
        }
        None
    }

    /// The circuit with the neglects of this stage, its amplifiers ideal.
    fn bent(&self) -> Circuit {
        let own = |id: &PartId| self.circuit.parts[id.at()].stage == self.id;
        let mut all: Vec<Neglect> = self.neglects.iter().copied().filter(|n| match n {
            Neglect::Short(id) | Neglect::Open(id) | Neglect::Ideal(id) => own(id),
            Neglect::Undrawn(_) => false,
        }).collect();
        for (i, part) in self.circuit.parts.iter().enumerate() {
            let id = PartId(i as u32);
            if matches!(part.kind, PartKind::Amplifier { .. }) && own(&id) && !all.contains(&Neglect::Ideal(id)) {
                all.push(Neglect::Ideal(id));
            }
        }
        self.circuit.neglecting(&all)
    }

    /// The positions of the stage's switches; one where there are none, or too many.
    fn cases(&self, bent: &Circuit) -> Vec<Case> {
        let rest: Vec<Position> = bent.controls.iter().map(|c| c.rest).collect();
        let mut found = vec![Case { name: String::new(), positions: rest }];
        for (i, control) in bent.controls.iter().enumerate() {
            let id = ControlId(i as u32);
            let own = taken::parts(bent, self.id).any(|p| matches!(&p.kind, PartKind::Switch { control, .. } if *control == id));
            let ControlKind::Steps { positions, .. } = &control.kind else { continue };
            if !own || found.len() * positions.len() > CASES {
                continue;
            }
            let each = found.iter().flat_map(|case| {
                positions.iter().map(|n| {
                    let mut at = case.positions.clone();
                    at[i] = Position::Step(*n);
                    let own = format!("{} {}", control.name, self.circuit.say(id, Position::Step(*n)));
                    let name = if case.name.is_empty() { own } else { format!("{}, {own}", case.name) };
                    Case { name, positions: at }
                })
            });
            found = each.collect();
        }
        found
    }

    fn derive(&mut self, costs: bool) {
        let bent = self.bent();
        let stage = &self.circuit.stages[self.id.at()];
        let mut start = words::neglected(self.db, self.document, self.circuit, self.id, costs);
        let inputs: Vec<String> = taken::inputs(self.circuit, self.id).iter().map(|n| self.circuit.node_name(*n).to_string()).collect();
        let mut by_itself = format!("The stage by itself: {} driven, nothing drawn from {}", derivation::listed(&inputs), {
            let outputs: Vec<String> = stage.outputs.iter().map(|n| self.circuit.node_name(*n).to_string()).collect();
            derivation::listed(&outputs)
        });
        let mut loaded: Vec<String> = Vec::new();
        for output in &stage.outputs {
            for load in words::loads(self.circuit, self.id, *output, &self.neglects) {
                if !loaded.contains(&load) {
                    loaded.push(load);
                }
            }
        }
        by_itself += &match loaded.len() {
            0 => ".".to_string(),
            n => format!(
                ". In the circuit {} {} on it, and that is left out here.",
                derivation::listed(&loaded),
                if n == 1 { "hangs" } else { "hang" }
            ),
        };
        start.push(said(by_itself));
        self.put("Assumed", start);
        let Some(alone) = Alone::of(&bent, self.id, &taken::inputs(self.circuit, self.id)) else {
            self.put("Working", vec![said("Unknown: the stage by itself has no unique answer.")]);
            return;
        };
        let mut written = Vec::new();
        for case in self.cases(&bent) {
            let head = |what: &str| if case.name.is_empty() { what.to_string() } else { format!("{what}, {}", case.name) };
            let taken = match taken::taken(&bent, self.id, &case.positions) {
                Ok(taken) => taken,
                Err(why) => {
                    self.put(&head("Working"), vec![said(format!("Unknown: {why}."))]);
                    continue;
                }
            };
            match derivation::working(&taken.network) {
                Ok(working) => self.shown(&bent, &alone, &taken, &case, &working, &head, &mut written),
                Err(refusal) => self.refused(&alone, &taken, &case, refusal, &head),
            }
        }
        self.finish(written);
    }

    /// A working that the solver confirms.
    #[allow(clippy::too_many_arguments)]
    fn shown(
        &mut self,
        bent: &Circuit,
        alone: &Alone,
        taken: &taken::Taken,
        case: &Case,
        working: &Working,
        head: &dyn Fn(&str) -> String,
        written: &mut Vec<String>,
    ) {
        let node = |n: usize| taken.nodes[n];
        let name = |n: usize| self.circuit.node_name(node(n)).to_string();
        let when = if case.name.is_empty() { String::new() } else { format!(" when {}", case.name) };
        let mut entries = Vec::new();
        let mut figures = Vec::new();
        let mut right = true;
        for outcome in &working.outcomes {
            for response in &outcome.responses {
                let text = plain(&response.expr, Manner::Notation);
                let entry = format!("gain {} -> {}{when} = {text}", name(response.input), name(outcome.output));
                right &= value(&entry).is_some_and(|f| {
                    f.value.as_ref().is_some_and(|v| {
                        alone.confirms(v, (node(response.input), 1.0), &[(node(outcome.output), 1.0)], &case.positions)
                    })
                });
                let what = Expr::over(voltage(&name(outcome.output)), voltage(&name(response.input)));
                figures.extend(numbers::lines(bent, &what, response, &working.symbols, &case.positions));
                entries.push(entry);
            }
        }
        if let Some(both) = &working.differential {
            let text = plain(&both.response.expr, Manner::Notation);
            let [a, b] = both.inputs;
            let [p, q] = both.outputs;
            let entry = format!("gain {} - {} -> {} - {}{when} = {text}", name(a), name(b), name(p), name(q));
            let to = [(node(p), 1.0), (node(q), -1.0)];
            right &= value(&entry).is_some_and(|f| {
                f.value.as_ref().is_some_and(|v| {
                    alone.confirms(v, (node(a), 1.0), &to, &case.positions) && alone.confirms(v, (node(b), -1.0), &to, &case.positions)
                })
            });
            let apart = |x: usize, y: usize| Expr::Sum(vec![(false, voltage(&name(x))), (true, voltage(&name(y)))]);
            figures.extend(numbers::lines(bent, &Expr::over(apart(p, q), apart(a, b)), &both.response, &working.symbols, &case.positions));
            entries.insert(0, entry);
        }
        if !right {
            // It must not come to this; where it does, a wrong line is worse than none.
            self.put(&head("Working"), vec![said("No working was found that the solver confirms.")]);
            return;
        }
        self.done.found = true;
        self.put(&head("Redrawn"), working.drawn.clone());
        self.put(&head("Working"), working.steps.clone());
        self.put(&head("In numbers"), figures);
        if !case.name.is_empty() {
            self.done.short.push(said(format!("{}:", case.name)));
        }
        let equations = working.steps.iter().filter(|l| matches!(l, Line::Equation(_))).count();
        if working.steps.len() <= SHORT {
            self.done.short.extend(working.steps.iter().cloned());
        } else {
            let last = working.outcomes.len() + usize::from(working.differential.is_some());
            let results = working.steps.iter().filter(|l| matches!(l, Line::Equation(_)));
            self.done.short.extend(results.skip(equations.saturating_sub(last)).cloned());
        }
        if written.is_empty() {
            let conditions = self.conditions(bent, taken, working, case);
            self.put("Conditions", conditions);
        }
        written.extend(entries);
    }

    fn conditions(&self, bent: &Circuit, taken: &taken::Taken, working: &Working, case: &Case) -> Vec<Line> {
        let mut lines = working.conditions.clone();
        for (out, line, peak) in words::swing(self.circuit, self.id) {
            lines.push(line);
            let outcome = working.outcomes.iter().find(|o| taken.nodes[o.output] == out);
            let Some([one]) = outcome.map(|o| &o.responses[..]) else { continue };
            if one.reactive || !peak.is_finite() {
                continue;
            }
            let most = numbers::most(bent, one, &case.positions);
            let input = self.circuit.node_name(taken.nodes[one.input]);
            if let Some(text) = quantity::computed(peak / most, quantity::Unit::Volt, quantity::Style::default()) {
                lines.push(said(format!("At its greatest gain that is up to {text} peak at {input}, where nothing but the swing counts.")));
            }
        }
        lines.extend(words::stated(self.db, self.document, self.circuit, self.id));
        lines
    }

    /// Past a hand derivation: poles, zeros and constant from the solver.
    fn refused(&mut self, alone: &Alone, taken: &taken::Taken, case: &Case, refusal: Refusal, head: &dyn Fn(&str) -> String) {
        let mut lines = match refusal {
            Refusal::NoAnswer => {
                vec![said("The equations of the stage by itself, its amplifiers ideal, have no unique answer: a loop is open, or a source meets a virtual earth.")]
            }
            Refusal::Past => vec![said("This is past a hand derivation. From the solver, with the controls at rest:")],
        };
        if refusal == Refusal::Past {
            for output in &taken.network.outputs {
                for input in &taken.network.inputs {
                    let (from, to) = (taken.nodes[*input], taken.nodes[*output]);
                    let what = format!("V({})/V({})", self.circuit.node_name(to), self.circuit.node_name(from));
                    lines.extend(numeric(alone, &what, from, to, case, self.circuit.reference));
                }
            }
        }
        self.done.short.push(lines[0].clone());
        self.put(&head("Working"), lines);
    }

    /// The formulas: those that the file's hand model confirms, and why others do not stand there.
    fn finish(&mut self, written: Vec<String>) {
        let mut lines = Vec::new();
        let mut others = Vec::new();
        for entry in written {
            let holds = value(&entry).is_some_and(|formula| self.confirmed(&formula));
            if holds {
                lines.push(Line::Notation(entry.clone()));
                self.done.formulas.push(entry);
            } else {
                others.push(entry);
            }
        }
        if !others.is_empty() {
            lines.push(said("Of the stage by itself; in the whole circuit, with what stands around it, the hand model goes another way:"));
            lines.extend(others.into_iter().map(Line::Notation));
        }
        self.put("As a formula", lines);
    }

    /// Whether a formula is right for the hand model of the whole file.
    fn confirmed(&self, formula: &FormulaEntry) -> bool {
        let (Some(phrase), Some(value)) = (&formula.quantity, &formula.value) else { return false };
        let Ok(queries) = circuit::resolve::resolve(self.circuit, phrase) else { return false };
        !queries.is_empty() && queries.iter().all(|q| crate::formulas::right(self.db, self.document, self.circuit, q, value))
    }
}

fn voltage(name: &str) -> Expr {
    Expr::Voltage(name.into())
}

/// An entry of `formula`, read back by the notation; `None` where anything in it is at fault.
fn value(entry: &str) -> Option<Arc<FormulaEntry>> {
    let read = notation::read_entry(BlockKind::Formula, entry);
    match read.tree {
        EntryTree::Formula(formula) if read.fault.is_none() => Some(Arc::new(formula)),
        _ => None,
    }
}

/// A response by its zeros and poles.
fn numeric(alone: &Alone, what: &str, from: NodeId, to: NodeId, case: &Case, reference: f64) -> Vec<Line> {
    let hertz = analysis::print::hertz;
    let size = alone.gain(from, to, &case.positions, reference);
    let Some(factored) = alone.factored(from, to, &case.positions) else {
        let known = size.and_then(|z| quantity::ratio_with_decibels(z.norm(), quantity::Style::default()));
        return known.map(|text| said(format!("{what} is {text} at {}.", hertz(reference)))).into_iter().collect();
    };
    let list = |roots: &[num_complex::Complex64]| {
        let mut all: Vec<_> = roots.iter().filter(|r| r.im >= 0.0).collect();
        all.sort_by(|a, b| a.norm().total_cmp(&b.norm()));
        let each = all.into_iter().map(|r| {
            let f = hertz(r.norm() / std::f64::consts::TAU);
            if r.norm() == 0.0 {
                "0 Hz".to_string()
            } else if r.im == 0.0 {
                let side = if r.re > 0.0 { ", on the right" } else { "" };
                format!("{f}{side}")
            } else {
                let q = -0.5 * r.norm() / r.re;
                let q = quantity::computed(q, quantity::Unit::One, quantity::Style::default());
                q.map_or_else(|| format!("a pair at {f} on the axis"), |q| format!("a pair at {f} with Q {q}"))
            }
        });
        let text = each.collect::<Vec<_>>().join(", ");
        if text.is_empty() { "none".to_string() } else { text }
    };
    let mut lines = vec![
        said(format!("{what}: poles {}; zeros {}.", list(&factored.poles), list(&factored.zeros))),
        said(format!("Its constant, before Π(s − zero)/Π(s − pole) with s in rad/s, is {:.6e}.", factored.gain).replace('-', "−")),
    ];
    if let Some(z) = size {
        let text = quantity::ratio_with_decibels(z.norm(), quantity::Style::default()).unwrap_or_else(|| "nothing".into());
        lines.push(said(format!("At {} it is {text}.", hertz(reference))));
    }
    lines
}

impl crate::Snapshot {
    /// The names of a file's stages that stand in its circuit, in the order written.
    pub fn stages(&self, path: &str) -> Vec<String> {
        let Some(document) = self.document(path) else { return Vec::new() };
        circuit_of(&self.database, document).stages.iter().map(|s| s.name.to_string()).collect()
    }

    /// The hand working of a stage, by its place among [`Snapshot::stages`].
    pub fn derivation(&self, path: &str, stage: usize) -> Option<Arc<Derivation>> {
        let document = self.document(path)?;
        let count = circuit_of(&self.database, document).stages.len();
        (stage < count).then(|| derived(&self.database, document, stage as u32, true))
    }

    /// The fix of a stage's heading that writes its formula, where the selection touches the heading's name.
    pub fn stage_fix(&self, path: &str, range: std::ops::Range<usize>) -> Option<crate::Fix> {
        fix(&self.database, self.document(path)?, range)
    }
}
