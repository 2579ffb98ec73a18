//! A working put on its page: the lines, the numbers, the conditions, the formulas.

use std::sync::Arc;

use circuit::{Circuit, Neglect, NodeId, PartId, Position};
use derivation::print::{Manner, plain};
use derivation::{Expr, Line, Working, said};
use notation::tree::{BlockKind, EntryTree, FormulaEntry};
use quantity::Unit;

use crate::derived::alone::Alone;
use crate::derived::numeric::numeric;
use crate::derived::{Case, Deriver, numbers, taken, words};

/// A hover shows the whole working up to so many lines.
const SHORT: usize = 8;

impl Deriver<'_> {
    /// Outputs of which there is nothing to work out: one node with an input, or with `gnd`.
    pub(super) fn plain(
        &mut self,
        taken: &taken::Taken,
        case: &Case,
        head: &dyn Fn(&str) -> String,
        written: &mut Vec<String>,
    ) {
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
    pub(super) fn shown(
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
        let balanced = self.balanced(alone, taken, case, working);
        let working = balanced.as_ref().unwrap_or(working);
        let mut steps = working.steps.clone();
        let mut right = true;
        // What simpler forms of these values hold with.
        let mut only: Vec<Line> = Vec::new();
        let current = |n: usize| taken.network.current(n).is_some();
        let over = |output: usize, input: usize| {
            let given = if current(input) { Expr::Current(name(input)) } else { voltage(&name(input)) };
            Expr::over(voltage(&name(output)), given)
        };
        for outcome in &working.outcomes {
            for response in &outcome.responses {
                let text = plain(&response.expr, Manner::Notation);
                let word = if current(response.input) { "transimpedance" } else { "gain" };
                let entry = format!("{word} {} -> {}{when} = {text}", name(response.input), name(outcome.output));
                if value(&entry).is_none() {
                    // Longer than the notation reads: nobody would write it.
                    self.refused(alone, taken, case, derivation::Refusal::Past, head);
                    return;
                }
                let to = [(node(outcome.output), 1.0)];
                right &= confirmed_by(alone, &entry, (node(response.input), 1.0), &to, &case.positions);
                if working.differential.is_none() {
                    let what = over(outcome.output, response.input);
                    if balanced.is_some() && !current(response.input) {
                        // Its standard form divides by what is 0 here: the solver tells its poles.
                        let (from, to) = (node(response.input), node(outcome.output));
                        let text = plain(&what, Manner::Text);
                        figures.extend(numeric(alone, &text, from, to, &case.positions, self.circuit.reference));
                    } else {
                        let unit = if current(response.input) { Unit::Ohm } else { Unit::One };
                        let shown = (response, &working.symbols);
                        figures.extend(numbers::lines(bent, &what, shown, &case.positions, unit));
                    }
                    // Factors of third order have no corner that a hand would name.
                    let lags = response.standard.above.iter().chain(&response.standard.below);
                    if self.whole && !current(response.input) && lags.into_iter().any(|l| l.shares.len() > 2) {
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
            let shown = (&both.response, &working.symbols);
            figures.extend(numbers::lines(bent, &what, shown, &case.positions, Unit::One));
            entries.push(entry);
        }
        for outcome in &working.outcomes {
            for response in &outcome.responses {
                let what = over(outcome.output, response.input);
                steps.extend(numbers::special(bent, what, response, &working.symbols, &case.positions));
            }
        }
        // A difference stage whose ratios are equal.
        for outcome in &working.outcomes {
            let [first, second] = &outcome.responses[..] else { continue };
            if working.differential.is_some()
                || current(first.input)
                || current(second.input)
                || !alone.opposite([first, second].map(|r| node(r.input)), node(outcome.output), &case.positions)
            {
                continue;
            }
            let text = |r: &derivation::Response| plain(&r.expr, Manner::Notation);
            let (short, other) = if text(second).len() < text(first).len() { (second, first) } else { (first, second) };
            let (minus, size) = derivation::expr::unsigned(short.expr.clone());
            let (plus, less) = if minus { (other.input, short.input) } else { (short.input, other.input) };
            let balance = numbers::balance(bent, [first, second], &working.symbols, &case.positions);
            let (start, mut note) = match &balance {
                Some(rows) if rows.is_empty() => (said("The two are equal and opposite:"), None),
                Some(rows) => {
                    let start = numbers::with(rows, ", as here, the two are equal and opposite:");
                    (start, Some(numbers::in_words(rows)))
                }
                None => {
                    let just = "exactly these values";
                    (said(format!("With {just} the two are equal and opposite:")), Some(just.to_string()))
                }
            };
            steps.push(start);
            steps.push(Line::Equation(vec![
                voltage(&name(outcome.output)),
                Expr::product(vec![size, apart(plus, less)]),
            ]));
            let mut formula = text(short);
            if let Some((rows, ratio)) = numbers::equal(bent, [short, other], &working.symbols, &case.positions) {
                // A bare number would not follow the parts.
                let told = plain(&ratio, Manner::Notation);
                if told.contains(char::is_alphabetic) {
                    formula = told;
                    note = Some(numbers::in_words(&rows));
                }
                let (_, size) = derivation::expr::unsigned(ratio);
                steps.push(numbers::with(&rows, ", as here:"));
                steps.push(Line::Equation(vec![
                    voltage(&name(outcome.output)),
                    Expr::product(vec![size, apart(plus, less)]),
                ]));
            }
            let (a, b) = (name(short.input), name(other.input));
            let entry = format!("gain {a} - {b} -> {}{when} = {formula}", name(outcome.output));
            if let Some(note) = note {
                let (out, at) = (name(outcome.output), plain(&apart(plus, less), Manner::Text));
                only.push(said(format!("{note}: what V({out}) is of {at}, and the formula of that, hold only so.")));
                self.done.notes.push((entry.clone(), format!("with {note}")));
            }
            entries.push(entry);
        }
        if !right {
            // It must not come to this; where it does, a wrong line is worse than none.
            // Where parts are exactly in balance the solver has its own figures all the same.
            let mut lines = vec![said(
                "No working was found that the solver confirms at these values. From the solver, with the controls at rest:",
            )];
            lines.extend(self.roots(alone, taken, case));
            self.done.short.push(lines[0].clone());
            self.put(&head("Working"), lines);
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
            let mut conditions = self.conditions(bent, taken, working, case);
            conditions.extend(only);
            self.put("Conditions", conditions);
        } else {
            self.put(&head("Conditions"), only);
        }
        written.extend(entries);
    }

    /// The working with responses multiplied out, where parts in balance leave their standard form nothing to divide by: an integrator that
    /// balances two resistances has no constant in front. `None` where none is so.
    fn balanced(&self, alone: &Alone, taken: &taken::Taken, case: &Case, working: &Working) -> Option<Working> {
        if working.differential.is_some() {
            return None;
        }
        let mut own = working.clone();
        let mut changed = false;
        for outcome in &mut own.outcomes {
            let out = taken.nodes[outcome.output];
            for response in outcome.responses.iter_mut().filter(|r| r.reactive) {
                let from = (taken.nodes[response.input], 1.0);
                let name = |n: NodeId| self.circuit.node_name(n);
                let confirms = |e: &Expr| {
                    let word = if taken.network.current(response.input).is_some() { "transimpedance" } else { "gain" };
                    let entry = format!("{word} {} -> {} = {}", name(from.0), name(out), plain(e, Manner::Notation));
                    confirmed_by(alone, &entry, from, &[(out, 1.0)], &case.positions)
                };
                let flat = derivation::written::with_s(&response.ratio, &working.symbols);
                if confirms(&response.expr) || !confirms(&flat) {
                    continue;
                }
                for line in &mut own.steps {
                    if let Line::Equation(sides) = line {
                        sides.iter_mut().filter(|side| **side == response.expr).for_each(|side| *side = flat.clone());
                    }
                }
                response.expr = flat;
                changed = true;
            }
        }
        changed.then_some(own)
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
            let unit = if taken.network.current(one.input).is_some() { Unit::Ampere } else { Unit::Volt };
            if let Some(text) = quantity::computed(peak / most, unit, quantity::Style::default()) {
                lines.push(said(format!(
                    "At its greatest gain that is up to {text} peak at {input}, where nothing but the swing counts."
                )));
            }
        }
        lines.extend(words::stated(self.db, self.document, self.circuit, self.id));
        lines
    }

    /// The formulas: those that the file's hand model confirms, and why others do not stand there.
    pub(super) fn finish(&mut self, written: Vec<String>) {
        let assumed = |n: &Neglect| if let Neglect::Ideal(id) = *n { Some(id) } else { None };
        let assumed: Vec<PartId> = self.neglects.iter().filter_map(assumed).collect();
        let unsaid = words::unsaid(self.circuit, self.id, &self.leant, &assumed);
        let more: Vec<Neglect> = unsaid.iter().copied().map(Neglect::Ideal).collect();
        let (formulas, others): (Vec<String>, Vec<String>) =
            written.into_iter().partition(|entry| value(entry).is_some_and(|formula| self.confirmed(&formula, &more)));
        let mut lines = Vec::new();
        if !formulas.is_empty() && !unsaid.is_empty() {
            let names: Vec<String> = unsaid.iter().map(|id| self.circuit.parts[id.at()].name.to_string()).collect();
            lines.push(said(format!("Right with {} ideal, which no assumption says yet:", derivation::listed(&names))));
            self.done.ideal = unsaid;
        }
        let notes = std::mem::take(&mut self.done.notes);
        let noted = |entry: String| match notes.iter().find(|n| n.0 == entry) {
            Some((_, note)) => format!("{entry}    # {note}"),
            None => entry,
        };
        let formulas: Vec<String> = formulas.into_iter().map(noted).collect();
        let others: Vec<String> = others.into_iter().map(noted).collect();
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
        let Ok(queries) = circuit::resolve::resolve(self.written, phrase) else { return false };
        let right = |q| crate::formulas::right(self.db, self.document, self.written, q, value, more);
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
