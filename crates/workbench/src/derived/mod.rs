//! The hand working of a stage, held against the solver before it is shown.

mod alone;
mod fix;
mod numbers;
mod numeric;
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
use numeric::numeric;

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
    /// An entry of `assume` that they need besides, where the file does not say as much.
    pub assume: Option<String>,
    /// Whether a working was found.
    pub found: bool,
}

/// Works a stage out; the whole has what takes its time too: what each neglect costs, and the roots of what is past a hand derivation.
#[salsa::tracked(returns(clone))]
pub fn derived(db: &dyn Desk, document: Document, stage: u32, whole: bool) -> Arc<Derivation> {
    let circuit = circuit_of(db, document);
    let id = StageId(stage);
    let mut deriver = Deriver::new(db, document, &circuit, id, whole);
    match deriver.unfit() {
        Some(why) => deriver.put("Working", vec![said(format!("Unknown: {why}."))]),
        None => deriver.derive(),
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
    /// With what takes its time: costs and roots.
    whole: bool,
    done: Derivation,
}

/// A position of the switches: as a `when` clause names it, and where all controls stand.
struct Case {
    name: String,
    positions: Vec<Position>,
}

impl<'a> Deriver<'a> {
    fn new(db: &'a dyn Desk, document: Document, circuit: &'a Circuit, id: StageId, whole: bool) -> Deriver<'a> {
        let stage = &circuit.stages[id.at()];
        let names = |nodes: &[NodeId]| nodes.iter().map(|n| circuit.node_name(*n)).collect::<Vec<_>>().join(", ");
        let arrow = if stage.outputs.is_empty() { String::new() } else { format!(" → {}", names(&stage.outputs)) };
        let title = format!("stage {}: {}{arrow}", stage.name, names(&stage.inputs));
        let page = Page { title, sections: Vec::new() };
        let done = Derivation {
            stage: stage.name.clone(),
            page,
            short: Vec::new(),
            formulas: Vec::new(),
            assume: None,
            found: false,
        };
        Deriver { db, document, circuit, id, neglects: Vec::new(), whole, done }
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

    /// The circuit with the neglects of this stage, its amplifiers ideal, and what loads its outputs taken in.
    fn bent(&self, loads: &[PartId]) -> Circuit {
        let own = |id: &PartId| self.circuit.parts[id.at()].stage == self.id || loads.contains(id);
        let neglected = |n: &Neglect| match n {
            Neglect::Short(id) | Neglect::Open(id) | Neglect::Ideal(id) => own(id),
            Neglect::Undrawn(_) => false,
        };
        let mut all: Vec<Neglect> = self.neglects.iter().copied().filter(neglected).collect();
        for (i, part) in self.circuit.parts.iter().enumerate() {
            let id = PartId(i as u32);
            if matches!(part.kind, PartKind::Amplifier { .. }) && own(&id) && !all.contains(&Neglect::Ideal(id)) {
                all.push(Neglect::Ideal(id));
            }
        }
        let mut bent = self.circuit.neglecting(&all);
        loads.iter().for_each(|id| bent.parts[id.at()].stage = self.id);
        bent
    }

    /// The positions of the stage's switches; one where there are none, or too many.
    fn cases(&self, bent: &Circuit) -> Vec<Case> {
        let rest: Vec<Position> = bent.controls.iter().map(|c| c.rest).collect();
        let mut found = vec![Case { name: String::new(), positions: rest }];
        for (i, control) in bent.controls.iter().enumerate() {
            let id = ControlId(i as u32);
            let own = taken::parts(bent, self.id)
                .any(|p| matches!(&p.kind, PartKind::Switch { control, .. } if *control == id));
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

    fn derive(&mut self) {
        let (loads, left) = taken::loads(self.circuit, self.id, &self.neglects);
        let bent = self.bent(&loads);
        let mut start = words::neglected(self.db, self.document, self.circuit, self.id, self.whole);
        start.push(words::around(self.circuit, self.id, &loads, &left));
        self.put("Assumed", start);
        let Some(alone) = Alone::of(&bent, self.id, &taken::inputs(self.circuit, self.id)) else {
            self.put("Working", vec![said("Unknown: the stage by itself has no unique answer.")]);
            return;
        };
        let mut written = Vec::new();
        for case in self.cases(&bent) {
            let head =
                |what: &str| if case.name.is_empty() { what.to_string() } else { format!("{what}, {}", case.name) };
            let taken = match taken::taken(&bent, self.id, &case.positions) {
                Ok(taken) => taken,
                Err(why) => {
                    self.put(&head("Working"), vec![said(format!("Unknown: {why}."))]);
                    continue;
                }
            };
            self.plain(&taken, &case, &head, &mut written);
            if taken.network.outputs.is_empty() {
                continue;
            }
            match derivation::working(&taken.network) {
                Ok(working) => self.shown(&bent, &alone, &taken, &case, &working, &head, &mut written),
                Err(refusal) => self.refused(&alone, &taken, &case, refusal, &head),
            }
        }
        self.finish(written);
    }

    /// Outputs of which there is nothing to work out: one node with an input, or with `gnd`.
    fn plain(&mut self, taken: &taken::Taken, case: &Case, head: &dyn Fn(&str) -> String, written: &mut Vec<String>) {
        let name = |n: NodeId| self.circuit.node_name(n).to_string();
        let when = if case.name.is_empty() { String::new() } else { format!(" when {}", case.name) };
        let mut lines = Vec::new();
        for [output, other] in &taken.joined {
            lines.push(said(format!("{} and {} are one node:", name(*output), name(*other))));
            let over = Expr::over(voltage(&name(*output)), voltage(&name(*other)));
            lines.push(Line::Equation(vec![over, Expr::ONE]));
            written.push(format!("gain {} -> {}{when} = 1", name(*other), name(*output)));
        }
        lines.extend(
            taken.still.iter().map(|n| said(format!("{} lies at gnd or at a rail: no signal moves it.", name(*n)))),
        );
        self.done.found |= !lines.is_empty();
        self.done.short.extend(lines.iter().cloned());
        self.put(&head("Redrawn"), lines);
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
        let mut steps = working.steps.clone();
        let mut right = true;
        for outcome in &working.outcomes {
            for response in &outcome.responses {
                let text = plain(&response.expr, Manner::Notation);
                let entry = format!("gain {} -> {}{when} = {text}", name(response.input), name(outcome.output));
                let to = [(node(outcome.output), 1.0)];
                right &= confirmed_by(alone, &entry, (node(response.input), 1.0), &to, &case.positions);
                if working.differential.is_none() {
                    let what = Expr::over(voltage(&name(outcome.output)), voltage(&name(response.input)));
                    figures.extend(numbers::lines(bent, &what, response, &working.symbols, &case.positions));
                    // Factors of third order have no corner that a hand would name.
                    let lags = response.standard.above.iter().chain(&response.standard.below);
                    if self.whole && lags.into_iter().any(|l| l.shares.len() > 2) {
                        let (from, to) = (node(response.input), node(outcome.output));
                        let what = plain(&what, Manner::Text);
                        figures.extend(numeric(alone, &what, from, to, &case.positions, self.circuit.reference));
                    }
                    entries.push(entry);
                }
            }
            // Of what does not stand in the working nothing may arrive.
            let silent = taken.network.inputs.iter().filter(|i| outcome.responses.iter().all(|r| r.input != **i));
            right &= silent.copied().all(|i| alone.silent(node(i), node(outcome.output), &case.positions));
        }
        let apart = |x: usize, y: usize| Expr::Sum(vec![(false, voltage(&name(x))), (true, voltage(&name(y)))]);
        if let Some(both) = &working.differential {
            let text = plain(&both.response.expr, Manner::Notation);
            let ([a, b], [p, q]) = (both.inputs, both.outputs);
            let entry = format!("gain {} - {} -> {} - {}{when} = {text}", name(a), name(b), name(p), name(q));
            let to = [(node(p), 1.0), (node(q), -1.0)];
            right &= confirmed_by(alone, &entry, (node(a), 1.0), &to, &case.positions)
                && confirmed_by(alone, &entry, (node(b), -1.0), &to, &case.positions);
            let what = Expr::over(apart(p, q), apart(a, b));
            figures.extend(numbers::lines(bent, &what, &both.response, &working.symbols, &case.positions));
            entries.push(entry);
        }
        for outcome in &working.outcomes {
            for response in &outcome.responses {
                let over = Expr::over(voltage(&name(outcome.output)), voltage(&name(response.input)));
                steps.extend(numbers::special(bent, over, response, &working.symbols, &case.positions));
            }
        }
        // A difference stage whose ratios are equal.
        for outcome in &working.outcomes {
            let [first, second] = &outcome.responses[..] else { continue };
            if working.differential.is_some()
                || !alone.opposite([first, second].map(|r| node(r.input)), node(outcome.output), &case.positions)
            {
                continue;
            }
            let text = |r: &derivation::Response| plain(&r.expr, Manner::Notation);
            let (short, other) = if text(second).len() < text(first).len() { (second, first) } else { (first, second) };
            let (minus, size) = derivation::shape::unsigned(short.expr.clone());
            let (plus, less) = if minus { (other.input, short.input) } else { (short.input, other.input) };
            steps.push(said("With these values the two are equal and opposite:"));
            steps.push(Line::Equation(vec![
                voltage(&name(outcome.output)),
                Expr::product(vec![size, apart(plus, less)]),
            ]));
            let (a, b) = (name(short.input), name(other.input));
            entries.push(format!("gain {a} - {b} -> {}{when} = {}", name(outcome.output), text(short)));
        }
        if !right {
            // It must not come to this; where it does, a wrong line is worse than none.
            self.put(&head("Working"), vec![said("No working was found that the solver confirms.")]);
            return;
        }
        self.done.found = true;
        self.put(&head("Redrawn"), working.drawn.clone());
        self.put(&head("Working"), steps.clone());
        self.put(&head("In numbers"), figures);
        if !case.name.is_empty() {
            self.done.short.push(said(format!("{}:", case.name)));
        }
        if steps.len() <= SHORT {
            self.done.short.extend(steps);
        } else {
            let results = steps.iter().filter(|l| matches!(l, Line::Equation(_))).cloned().collect::<Vec<_>>();
            let more = steps[working.steps.len()..].iter().filter(|l| matches!(l, Line::Equation(_))).count();
            let last = more + working.outcomes.len() + usize::from(working.differential.is_some());
            self.done.short.extend(results.into_iter().rev().take(last).collect::<Vec<_>>().into_iter().rev());
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
                lines.push(said(format!(
                    "At its greatest gain that is up to {text} peak at {input}, where nothing but the swing counts."
                )));
            }
        }
        lines.extend(words::stated(self.db, self.document, self.circuit, self.id));
        lines
    }

    /// Past a hand derivation: poles, zeros and constant from the solver.
    fn refused(
        &mut self,
        alone: &Alone,
        taken: &taken::Taken,
        case: &Case,
        refusal: Refusal,
        head: &dyn Fn(&str) -> String,
    ) {
        let mut lines = match refusal {
            Refusal::NoAnswer => {
                vec![said(
                    "The equations of the stage by itself, its amplifiers ideal, have no unique answer: a loop is open, or a source meets a virtual earth.",
                )]
            }
            Refusal::Past => vec![said("This is past a hand derivation. From the solver, with the controls at rest:")],
        };
        // A hover says no more than that: roots take their time.
        if refusal == Refusal::Past && self.whole {
            let names: Vec<&str> = taken.network.parts.iter().map(|p| p.name.as_str()).collect();
            let mut stands = vec![numbers::Stand { name: String::new(), positions: case.positions.clone() }];
            stands.extend(
                numbers::stands(self.circuit, &case.positions, &names).into_iter().filter(|s| !s.name.is_empty()),
            );
            for output in &taken.network.outputs {
                for input in &taken.network.inputs {
                    let (from, to) = (taken.nodes[*input], taken.nodes[*output]);
                    let what = format!("V({})/V({})", self.circuit.node_name(to), self.circuit.node_name(from));
                    for stand in &stands {
                        let at = if stand.name.is_empty() { what.clone() } else { format!("{what} at {}", stand.name) };
                        lines.extend(numeric(alone, &at, from, to, &stand.positions, self.circuit.reference));
                    }
                }
            }
        }
        self.done.short.push(lines[0].clone());
        self.put(&head("Working"), lines);
    }

    /// The formulas: those that the file's hand model confirms, and why others do not stand there.
    fn finish(&mut self, written: Vec<String>) {
        let assumed = |n: &Neglect| if let Neglect::Ideal(id) = *n { Some(id) } else { None };
        let assumed: Vec<PartId> = self.neglects.iter().filter_map(assumed).collect();
        let unsaid = words::unsaid(self.circuit, self.id, &assumed);
        let more: Vec<Neglect> = unsaid.iter().copied().map(Neglect::Ideal).collect();
        let (formulas, others): (Vec<String>, Vec<String>) =
            written.into_iter().partition(|entry| value(entry).is_some_and(|formula| self.confirmed(&formula, &more)));
        let mut lines = Vec::new();
        if !formulas.is_empty() && !unsaid.is_empty() {
            let names: Vec<String> = unsaid.iter().map(|id| self.circuit.parts[id.at()].name.to_string()).collect();
            lines.push(said(format!("Right with {} ideal, which no assumption says yet:", derivation::listed(&names))));
            self.done.assume = Some(format!("{} ideal", names.join(", ")));
        }
        lines.extend(formulas.iter().cloned().map(Line::Notation));
        self.done.formulas = formulas;
        if !others.is_empty() {
            lines.push(said("Of the stage by itself; in the whole circuit, with what stands around it, the hand model goes another way:"));
            lines.extend(others.into_iter().map(Line::Notation));
        }
        self.put("As a formula", lines);
    }

    /// Whether a formula is right for the hand model of the whole file, with some more neglected.
    fn confirmed(&self, formula: &FormulaEntry, more: &[Neglect]) -> bool {
        let (Some(phrase), Some(value)) = (&formula.quantity, &formula.value) else { return false };
        let Ok(queries) = circuit::resolve::resolve(self.circuit, phrase) else { return false };
        let right = |q| crate::formulas::right(self.db, self.document, self.circuit, q, value, more);
        !queries.is_empty() && queries.iter().all(right)
    }
}

/// Whether the solver confirms what a formula says of the stage by itself.
fn confirmed_by(alone: &Alone, entry: &str, from: (NodeId, f64), to: &[(NodeId, f64)], positions: &[Position]) -> bool {
    let formula = value(entry);
    let value = formula.as_ref().and_then(|f| f.value.as_ref());
    value.is_some_and(|v| alone.confirms(v, from, to, positions))
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
